"""A whole day: nothing dropped, no order of events matters, closings, lost minutes, days that follow."""

from __future__ import annotations

import datetime as dt
import random
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pollstead.election.notice import NoticeKind
from pollstead.election.station_type import Moment
from pollstead.reconcile.counts.balance import LineState
from pollstead.reconcile.counts.memory import MemoryState
from pollstead.reconcile.day import DayReport, SiteDay, reconcile_day
from pollstead.reconcile.issued import issued_lists
from pollstead.reconcile.observed import What, observations_of
from pollstead.reconcile.opening.states import ItemState
from pollstead.record.kinds import days

COUNTS = {"check-in-desk": 1, "ballot-scanner": 2}
DAY = dt.date(2028, 11, 7)
SCANNER, OTHER = "device/scanner/S01-1", "device/scanner/S01-2"
BOX = "closure/scanner/S01-1/box-door"

# A balanced day at S01: 100 voters at two scanners (60 and 38), one ballot in an auxiliary bin, one fled.
SITE_COUNTS = {
    "ballots_received": 200,
    "ballots_resupplied": 50,
    "ballots_auxiliary": 1,
    "ballots_spoiled": 4,
    "ballots_reissued": 4,
    "ballots_fled": 1,
    "ballots_unused": 143,
    "ballots_issued": 104,
    "check_ins": 97,
    "check_ins_added": 5,
    "check_ins_cancelled": 2,
    "provisional_issued": 3,
    "provisional_envelopes": 3,
    "provisional_entries": 3,
}
DEVICE_COUNTS = {SCANNER: 60, OTHER: 38}


def close_site(record: Any, times: int = 1, **changed: int) -> None:
    """Both people count everything at closing; `changed` overrules a site's number."""
    for term, value in {**SITE_COUNTS, **changed}.items():
        for _ in range(times):
            record.number("site/S01", term, value, "P001", "P002", source="hand")
    for device, moved in DEVICE_COUNTS.items():
        lifetime = 1000 + int(device[-1])
        for term, value in (
            ("public_counter_close", moved),
            ("report_count_close", moved),
            ("lifetime_counter_close", lifetime + moved),
        ):
            record.number(device, term, value, "P001", "P002")


class Site:
    """The county, its plan and lists, and the report of a day."""

    def __init__(self, county: Any, record: Any) -> None:
        self.county, self.record = county, record
        self.plan = county.plan(COUNTS)
        self.election = county.election()
        self.lists = county.lists(self.election, self.plan)

    def day(self, events: list[Any] | None = None, date: dt.date = DAY) -> DayReport:
        return reconcile_day(self.election, self.plan, self.lists, self.record.fold(events), date)

    def site(self, date: dt.date = DAY) -> SiteDay:
        return self.day(date=date).site("S01")

    def line(self, equation: str, subject: str = "site/S01", date: dt.date = DAY) -> Any:
        return next(x for x in self.site(date).lines if (x.equation, x.subject) == (equation, subject))


@pytest.fixture
def site(county: Any, record: Any) -> Site:
    """A county whose lists are issued; nothing recorded yet."""
    return Site(county, record)


def test_a_day_as_it_should_be_balances(site: Site) -> None:
    """Opening as expected, a balanced closing: all equations that can be read are zero, no notice."""
    site.record.follow(site.lists.lists[0])
    site.record.write(days.SiteOpened(at_min=420), "site/S01", "P001", "P002")
    close_site(site.record)
    report = site.site()
    assert {x.state for x in report.lines if not x.waits_for_receiving} == {LineState.ZERO}
    assert {x.equation for x in report.lines if x.waits_for_receiving} == {"I4-memory"}
    assert report.notices == ()


def test_one_spoiled_ballot_not_written_is_a_difference_of_one(site: Site) -> None:
    """The spoiled ballot is missing from I1 and I3; the words are neutral and say who decides."""
    site.record.follow(site.lists.lists[0])
    close_site(site.record, ballots_spoiled=3)
    assert site.line("I1").difference == 1
    assert site.line("I3").difference == 1
    assert site.line("I2").state is LineState.ZERO
    notice = next(n for n in site.site().notices if n.rule == "balance.I1")
    assert notice.kind is NoticeKind.DIFFERENCE
    assert notice.text.english() == (
        "Every blank ballot has one place. Difference of 1. Counted twice: write the difference and travel."
    )
    assert "canvassing body" in notice.who_decides


def test_counted_once_asks_to_count_once_more(site: Site) -> None:
    """Before the county's number of counts is reached the notice asks for another count, by name."""
    site.record.follow(site.lists.lists[0])
    for term, value in SITE_COUNTS.items():
        site.record.number("site/S01", term, value - (term == "ballots_spoiled"), "P001", source="hand")
    for device, moved in DEVICE_COUNTS.items():
        site.record.number(device, "public_counter_close", moved, "P001")
    notice = next(n for n in site.site().notices if n.rule == "balance.I1")
    assert notice.text.english() == "Every blank ballot has one place. Difference of 1."
    assert notice.remedy is not None
    assert notice.remedy.english().startswith("Count once more: ")
    assert "Spoiled ballots" in notice.remedy.english()


def test_a_closing_number_not_read_is_named_after_the_site_closed(site: Site) -> None:
    """Missing is not zero: nothing is said before closing; then the number is named."""
    site.record.follow(site.lists.lists[0])
    close_site(site.record)
    event = next(
        e
        for e in site.record.journal.events
        if e.event.kind == "count.read" and e.event.body["term"] == "ballots_unused"
    )
    site.record.correct(event, None, "P001")
    assert site.line("I1").missing == ("ballots_unused",)
    assert not [n for n in site.site().notices if n.rule.startswith("balance.")]
    site.record.write(days.SiteClosed(at_min=1205), "site/S01")
    notice = next(n for n in site.site().notices if n.rule == "balance.I1")
    assert (
        notice.text.english() == "Every blank ballot has one place. Not read yet: Unused ballots at closing."
    )


def test_a_corrected_count_keeps_the_old_number_in_the_report(site: Site) -> None:
    """The balance takes the correction; the wrong reading and the correction are both in the report."""
    close_site(site.record, ballots_unused=134)
    wrong = next(
        e
        for e in site.record.journal.events
        if e.event.kind == "count.read" and e.event.body["term"] == "ballots_unused"
    )
    right = site.record.correct(
        wrong, days.CountRead(term="ballots_unused", value=143, source="hand"), "P002"
    )
    report = site.site()
    values = [r.value for r in report.readings if r.key == "ballots_unused"]
    assert values == [143]
    assert {wrong.id, right.id} <= report.observations()


@pytest.mark.parametrize(("at_min", "late"), [(420, 0), (432, 12), (415, -5), (1480, 1060)])
def test_late_doors_are_lost_minutes(site: Site, at_min: int, late: int) -> None:
    """Minutes after the set hour; early is no difference."""
    site.record.write(days.SiteOpened(at_min=at_min), "site/S01")
    report = site.site()
    assert report.opened.late_min == late
    notices = [n for n in report.notices if n.rule == "opening-time"]
    assert [n.text.english() for n in notices] == ([f"The doors opened {late} min late."] if late > 0 else [])


def test_two_minutes_for_one_opening_are_both_kept(site: Site) -> None:
    """Two people write different minutes: no single number of lost minutes, both values shown."""
    site.record.write(days.SiteOpened(at_min=420), "site/S01", "P001")
    site.record.write(days.SiteOpened(at_min=424), "site/S01", "P002")
    assert site.site().opened.values == (420, 424)
    assert site.site().opened.late_min is None


def test_a_seal_put_on_at_opening_is_expected_at_closing(site: Site) -> None:
    """The number written when the box was sealed is what closing is compared with."""
    site.record.seal(BOX, "0310001", "P001", "P002", step="applied")
    site.record.seal(BOX, "0310010", "P001", "P002", step="closing")
    item = next(r for r in site.site().results if r.subject == BOX)
    assert item.moment is Moment.CLOSING
    assert (item.state, item.expected) == (ItemState.VALUE_DIFFERS, "0310001")
    assert item.expected_from is not None
    assert any(o.detail == "applied" for o in site.site().recorded)


def test_a_seal_cut_and_put_on_again_during_the_day_is_what_closing_expects(site: Site) -> None:
    """After a paper jam the box is sealed anew; closing compares with the newer number."""
    site.record.seal(BOX, "0310001", "P001", "P002", step="applied")
    site.record.seal(BOX, "0310002", "P001", "P002", step="resealed")
    site.record.seal(BOX, "0310002", "P001", "P002", step="closing")
    # One for the night, after the closing reading, changes nothing.
    site.record.seal(BOX, "0310003", "P001", "P002", step="resealed")
    item = next(r for r in site.site().results if r.subject == BOX)
    assert (item.state, item.expected) == (ItemState.MATCH, "0310002")


def test_an_unreturned_memory_device_is_a_difference(site: Site) -> None:
    """Two machines, one memory device each travels; one is packed, nobody speaks of the other."""
    site.record.write(
        days.MemoryDevicePacked(state="in_case", inside="case/S01"), "memory/LM-M-S011A", "P001", "P002"
    )
    site.record.write(days.SiteClosed(at_min=1205), "site/S01")
    report = site.site()
    assert [(m.device, m.short) for m in report.memory] == [(SCANNER, 0), (OTHER, 1)]
    (notice,) = [n for n in report.notices if n.rule == "balance.I9"]
    assert notice.subject == OTHER
    assert notice.wanted == "LM-M-S012A, LM-M-S012B"


@pytest.mark.parametrize(("state", "short"), [("in_case", 0), ("to_follow", 1), ("not_found", 1)])
def test_memory_devices_are_matched_by_id(site: Site, state: str, short: int) -> None:
    """Said to be in the case is back; to follow and not found are still out, with that word."""
    body = days.MemoryDevicePacked(state=state, inside="")  # type: ignore[arg-type]
    site.record.write(body, "memory/LM-M-S011A", "P001", "P002")
    machine = next(m for m in site.site().memory if m.device == SCANNER)
    assert machine.short == short
    assert machine.lines[0].state.value == state.replace("_", " ").replace("in case", "in the case")


def test_the_right_number_of_wrong_memory_devices_is_not_enough(site: Site) -> None:
    """A stranger's memory device makes the count right and the ids wrong: both are said."""
    for memory in ("LM-M-S011A", "LM-M-S099A"):
        site.record.write(
            days.MemoryDevicePacked(state="in_case", inside="case/S01"), f"memory/{memory}", "P001"
        )
    site.record.write(days.SiteClosed(at_min=1205), "site/S01")
    report = site.site()
    stranger = next(m for m in report.memory if m.device == "")
    assert [line.id for line in stranger.lines] == ["LM-M-S099A"]
    assert stranger.lines[0].state is MemoryState.IN_CASE
    assert len([n for n in report.notices if n.rule == "balance.I9"]) == 2


def test_opening_counters_of_the_next_day_are_those_of_the_last_closing(county: Any, record: Any) -> None:
    """I10: a vote center's counter carries over; one more ballot overnight is a difference of one."""
    import msgspec

    from pollstead.election.station_type import OpeningValue

    county.dates = (DAY - dt.timedelta(days=1), DAY)
    county.types = tuple(
        msgspec.structs.replace(
            t,
            counters=tuple(
                msgspec.structs.replace(c, opening=OpeningValue.CARRIED_OVER) if c.id == "public" else c
                for c in t.counters
            ),
        )
        for t in county.types
    )
    site = Site(county, record)
    before = county.dates[0]
    record.number(SCANNER, "public_counter_close", 412, "P001", "P002", day=before)
    record.number("site/S01", "ballots_unused", 88, "P001", "P002", source="hand", day=before)
    record.number(SCANNER, "public_counter_open", 413, "P001", "P002")
    record.number("site/S01", "ballots_received", 88, "P001", "P002", source="hand")
    assert site.line("I10-public", SCANNER).difference == 1
    assert site.line("I10-ballots").difference == 0
    item = next(r for r in site.site().results if r.subject == f"{SCANNER}/public")
    assert (item.state, item.expected) == (ItemState.VALUE_DIFFERS, "412")
    assert "I10-public" not in {x.equation for x in site.site(before).lines}


def _busy_day(site: Site) -> None:
    """A day with everything: an opening, corrections, two values, strangers, unknown kinds."""
    record = site.record
    record.follow(site.lists.lists[0])
    close_site(record, ballots_spoiled=3)
    wrong = next(e for e in record.journal.events if e.event.subject == "closure/scanner/S01-1/lid")
    record.correct(wrong, None, "P001")
    record.number("site/S01", "ballots_unused", 134, "P002", source="hand")
    record.number("site/S01", "a_number_of_another_version", 7, "P002", source="hand")
    record.serial("station/S01/extra", "LM-S-0999", "P001")
    record.write(days.DeviceOutOfService(state="out", why="paper_jam"), SCANNER)
    record.write(days.MemoryDevicePacked(state="not_found"), "memory/LM-M-S011A")
    record.write(days.ThingReceived(place="site/receiving", state="received"), "case/S01")
    record.write(days.ReportSeen(report="close_report", state="posted"), SCANNER)
    record.serial("station/S77/x/1/y", "LM-S-0001", "P001", site="S77")
    record.write(days.SiteClosed(at_min=1210), "site/S01")


def test_every_observation_of_the_day_is_in_the_report(site: Site) -> None:
    """Nothing is silently dropped, whatever it is about; what was seen at no site of the plan too."""
    _busy_day(site)
    report = site.day()
    shown = {o.event for o in report.elsewhere}
    for one in report.sites:
        shown |= one.observations()
    seen = {o.event for o in observations_of(site.record.fold()) if o.day == DAY.isoformat()}
    assert shown == seen
    assert len(seen) == len(site.record.journal.events)
    assert [o.site for o in report.elsewhere] == ["S77"]


@pytest.mark.full
@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=st.integers(0, 1000))
def test_the_order_in_which_events_arrive_does_not_matter(site: Site, seed: int) -> None:
    """A shuffled record, some events doubled, gives the same report."""
    if not site.record.journal.events:
        _busy_day(site)
    events = list(site.record.journal.events)
    rng = random.Random(seed)
    shuffled = [*events, *rng.choices(events, k=5)]
    rng.shuffle(shuffled)
    assert site.day(shuffled) == site.day(events)


def test_an_issued_list_reads_back_as_it_was(site: Site) -> None:
    """The lines of the event's private part give the same list; without them a notice says so."""
    from pollstead.record.fold import fold

    expected = site.lists.lists[0]
    event = site.record.issue(expected)
    found = issued_lists(site.record.fold())
    assert found.lists == (expected,)
    assert found.event_of("S01", DAY) == event.id
    without = issued_lists(fold(site.record.journal.events))
    assert without.lists == ()
    assert [n.text.english() for n in without.notices] == [
        "The lines of this expected list are not given here."
    ]


def test_two_lists_that_do_not_know_each_other_are_said(site: Site) -> None:
    """Two devices issued a list for one day: the later is used and a notice names it."""
    import msgspec

    first = site.lists.lists[0]
    other = msgspec.structs.replace(first, items=first.items[:3])
    site.record.issue(first)
    events = list(site.record.journal.events)
    second = type(site.record)("tablet/2")
    second.header, second.clock = site.record.header, site.record.clock + 60_000
    second.issue(other)
    site.record.journal.sides.update(second.journal.sides)
    found = issued_lists(site.record.fold([*events, *second.journal.events]))
    assert found.lists == (other,)
    assert len(found.notices) == 1


def test_an_observation_of_an_unknown_kind_is_kept(site: Site) -> None:
    """A kind of a later version stands in the report as it is."""
    from pollstead.record.event import Event, Means, Part, Person
    from pollstead.record.frozen_json import FrozenObject
    from pollstead.record.write import sign_event

    site.record.serial("station/S01/extra", "LM-S-0999", "P001")
    last = site.record.journal.events[-1]
    event = Event(
        v=1,
        kind="weather.noted",
        subject="site/S01",
        site="site/S01",
        day=DAY.isoformat(),
        body=FrozenObject({"sky": "rain"}),
        utc_ms=last.event.utc_ms + 1,
        offset_min=-300,
        uncertainty_ms=0,
        people=(Person(person="person/P001", means=Means.CODE, part=Part.AUTHOR),),
        device=site.record.recorder.device,
        n=last.event.n + 1,
        prev=last.id,
        after=(),
        private="",
    )
    signed = sign_event(site.record.header, site.record.recorder._key, event)
    report = site.day([*site.record.journal.events, signed]).site("S01")
    (kept,) = [o for o in report.recorded if o.what is What.OTHER]
    assert kept.kind == "weather.noted"


def test_a_device_exchanged_during_the_day_counts_beside_the_old_one(site: Site) -> None:
    """The amended list names both devices of the station: both counters enter the balance."""
    import msgspec

    first = site.lists.lists[0]
    station = "station/S01/ballot-scanner/1"
    spare = tuple(
        msgspec.structs.replace(
            item, subject=item.subject.replace(SCANNER, "device/scanner/SPARE"), device="device/scanner/SPARE"
        )
        for item in first.items
        if item.station == station and item.what == "counter"
    )
    amended = msgspec.structs.replace(first, items=(*first.items, *spare))
    site.lists = msgspec.structs.replace(site.lists, lists=(amended, *site.lists.lists[1:]))
    cast = {key for _, key in next(e for e in _equations(site) if e.id == "I3").terms}
    assert f"public_counter_close@{SCANNER}" in cast
    assert "public_counter_close@device/scanner/SPARE" in cast
    assert f"public_counter_close@{OTHER}" in cast


def _equations(site: Site) -> Any:
    balance = site.site().balance
    assert balance is not None
    return balance.equations


def test_a_seal_of_another_site_read_here_names_that_site(site: Site) -> None:
    """A machine of S02 stands at S01: its closure is on no list here, and its number belongs to S02."""
    there = next(
        i for i in site.lists.lists[1].items if i.what == "seal" and i.moment is Moment.OPENING and i.value
    )
    site.record.seal(there.subject, there.value, "P001", "P002")
    item = next(r for r in site.site().results if r.subject == there.subject)
    assert item.state is ItemState.NOT_EXPECTED
    (told,) = item.diagnoses
    assert told.hypotheses[0].words[0].english().endswith("at site S02.")


def test_a_correction_written_on_another_device_with_an_earlier_clock_still_corrects(site: Site) -> None:
    """The office's clock may be behind the tablet's: a correction follows what it corrects all the same."""
    from pollstead.record.kinds.registry import body_object

    wrong = site.record.number("site/S01", "ballots_unused", 134, "P001", source="hand")
    office = type(site.record)("desk/office")
    office.header, office.clock = site.record.header, site.record.clock - 3_600_000
    office.write(
        days.EntryCorrected(
            corrects=wrong.id,
            of_kind="count.read",
            value=body_object(days.CountRead(term="ballots_unused", value=143, source="hand")),
        ),
        "site/S01",
        private=days.CorrectionPrivate(reason="read again"),
    )
    site.record.journal.sides.update(office.journal.sides)
    report = site.day([*site.record.journal.events, *office.journal.events]).site("S01")
    assert [r.value for r in report.readings if r.key == "ballots_unused"] == [143]
