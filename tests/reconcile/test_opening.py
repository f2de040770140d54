"""Opening: expected against observed, item by item, with neutral notices and the county's own words."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import msgspec
import pytest

from pollstead.election.notice import NoticeKind
from pollstead.election.rules import CountyRules
from pollstead.election.station_type import Moment
from pollstead.reconcile.actions import Act, rule_digest, values_digest
from pollstead.reconcile.day import SiteDay, reconcile_day
from pollstead.reconcile.observed import observations_of
from pollstead.reconcile.opening.states import DeviceState, ItemResult, ItemState
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds import days, offices

COUNTS = {"check-in-desk": 1, "marking-booth": 2, "ballot-scanner": 2}
SCANNER = "device/scanner/S01-1"
OTHER = "device/scanner/S01-2"
PART = "station/S01/ballot-scanner/1/scanner"
LID = "closure/scanner/S01-1/lid"
DAY = dt.date(2028, 11, 7)


class Morning:
    """A county, its lists and a record at site S01, and the report of the day."""

    def __init__(self, county: Any, record: Any) -> None:
        self.county, self.record = county, record
        self.plan = county.plan(COUNTS)

    def report(self, site: str = "S01") -> SiteDay:
        election = self.county.election()
        issued = self.county.lists(election, self.plan)
        return reconcile_day(election, self.plan, issued, self.record.fold(), DAY).site(site)

    def expected(self, subject: str, site: str = "S01") -> str:
        election = self.county.election()
        lists = self.county.lists(election, self.plan).lists
        return next(
            i.value
            for one in lists
            if one.site == site
            for i in one.items
            if i.subject == subject and i.moment is Moment.OPENING
        )

    def item(self, subject: str, site: str = "S01") -> ItemResult:
        return next(
            r for r in self.report(site).results if r.subject == subject and r.moment is Moment.OPENING
        )

    def device(self, device: str) -> DeviceState:
        return next(d.state for d in self.report().devices if d.device == device)


@pytest.fixture
def morning(county: Any, record: Any) -> Morning:
    """Nothing read yet."""
    return Morning(county, record)


def test_nothing_is_seen_before_anybody_looks(morning: Morning) -> None:
    """All items are not seen, no device is ready, and nobody is told of a difference yet."""
    report = morning.report()
    assert {r.state for r in report.results} == {ItemState.NOT_SEEN}
    assert {d.state for d in report.devices} == {DeviceState.NOT_YET}
    assert report.notices == ()


def test_a_morning_as_expected_makes_every_device_ready(morning: Morning) -> None:
    """Two people read everything as expected: match everywhere, every device ready, no notice."""
    election = morning.county.election()
    for one in morning.county.lists(election, morning.plan).lists:
        morning.record.follow(one)
    report = morning.report()
    at_opening = report.at(Moment.OPENING)
    assert len(at_opening) > 15
    assert {r.state for r in at_opening} == {ItemState.MATCH}
    assert {d.state for d in report.devices if d.device.startswith("device/")} == {DeviceState.READY}
    assert report.notices == ()


def test_one_person_alone_waits_for_the_second(morning: Morning) -> None:
    """A right number by one person is not a match yet; the second person's own event makes it one."""
    morning.record.seal(LID, morning.expected(LID), "P001")
    assert morning.item(LID).state is ItemState.WAITING
    morning.record.seal(LID, morning.expected(LID), "P001")
    assert morning.item(LID).state is ItemState.WAITING, "the same person twice is one person"
    morning.record.seal(LID, morning.expected(LID), "P002")
    assert morning.item(LID).state is ItemState.MATCH
    assert morning.item(LID).people == ("person/P001", "person/P002")


def likeliest(item: ItemResult) -> str:
    """The first explanation of the first value that differs, in words."""
    return " ".join(said.english() for said in item.diagnoses[0].hypotheses[0].words)


def _swap(text: str) -> str:
    """The text with its last two different neighbors exchanged."""
    for i in range(len(text) - 2, -1, -1):
        if text[i] != text[i + 1]:
            return text[:i] + text[i + 1] + text[i] + text[i + 2 :]
    raise AssertionError("all characters are alike")


@pytest.mark.parametrize(
    ("case", "change", "words"),
    [
        (
            "one digit",
            lambda n: n[:-1] + ("7" if n[-1] != "7" else "9"),
            "One digit differs at position 7",
        ),
        ("neighbors exchanged", _swap, "Two neighbors changed places at positions"),
        (
            "letter O for zero",
            lambda n: n.replace("0", "O", 1),
            "One character differs at position 2: 0 read",
        ),
        ("one left out", lambda n: n[:2] + n[3:], "The 1 at position 3 was left out."),
        ("one too many", lambda n: n + "X", "A X too many after position 7."),
    ],
)
def test_a_mistyped_seal_says_what_it_is_close_to(
    morning: Morning, case: str, change: Any, words: str
) -> None:
    """Both people type the same wrong number: value differs, with both numbers and what it is close to."""
    wanted = morning.expected(LID)
    morning.record.seal(LID, change(wanted), "P001", "P002")
    item = morning.item(LID)
    assert item.state is ItemState.VALUE_DIFFERS, case
    assert likeliest(item).startswith(words)
    assert item.notice is not None
    assert (item.notice.kind, item.notice.wanted) == (NoticeKind.DIFFERENCE, wanted)
    assert item.notice.found == change(wanted)


def test_a_seal_that_differs_stops_its_device_and_no_other(morning: Morning) -> None:
    """The confirmed rule's word: that device out of service, the others go on, call the support contact."""
    election = morning.county.election()
    morning.record.follow(morning.county.lists(election, morning.plan).lists[0])
    first = next(
        e for e in morning.record.journal.events if e.event.subject == LID and e.event.kind == "seen.seal"
    )
    morning.record.correct(
        first,
        days.SealSeen(step="opening", state="intact"),
        "P001",
        "P002",
        fields=FrozenObject({"number": "9999999"}),
    )
    item = morning.item(LID)
    assert item.values == ("9999999",)
    assert len(item.observations) == 2, "the corrected reading stays beside the correction"
    assert item.observations[0].replaced_by == (item.observations[1].event,)
    assert item.observations[1].corrects == item.observations[0].event
    assert item.action is not None and item.action.act is Act.OUT_OF_SERVICE
    assert item.action.text.english() == (
        "scanner LM-S-0101 is out of service. The others go on. Call the support contact."
    )
    assert item.notice is not None and item.notice.who_decides == "election official"
    assert morning.device(SCANNER) is DeviceState.OUT_OF_SERVICE
    assert morning.device(OTHER) is DeviceState.READY


def test_two_people_who_differ_are_both_kept_and_read_again(morning: Morning) -> None:
    """Independent entries that differ: both values, no device stopped, read again together."""
    wanted = morning.expected(LID)
    morning.record.seal(LID, wanted, "P001")
    morning.record.seal(LID, "0000001", "P002")
    item = morning.item(LID)
    assert item.state is ItemState.VALUE_DIFFERS
    assert item.values == (wanted, "0000001")
    assert item.action is not None and item.action.act is Act.READ_AGAIN
    assert item.explanation is not None and "one of them matches" in item.explanation.english()
    assert morning.device(SCANNER) is DeviceState.NOT_YET


def test_an_unconfirmed_rule_calls_the_office(county: Any, record: Any) -> None:
    """Nobody confirmed the rule: the notice says call the office, until an event confirms its value."""
    county.rules = CountyRules()
    morning = Morning(county, record)
    record.seal(LID, "9999999", "P001", "P002")
    item = morning.item(LID)
    assert item.action is not None and item.action.act is Act.CALL_THE_OFFICE
    assert item.notice is not None and item.notice.remedy is not None
    assert item.notice.remedy.english().startswith("Call the office")
    assert morning.device(SCANNER) is DeviceState.NOT_YET
    setting = county.rules.setting("seal-differs")
    record.recorder.record(
        offices.RuleConfirmed(rule="seal-differs", level="directive", digest=rule_digest(setting)),
        subject="rules",
        people=record.journal.events[0].event.people[:1],
        moment=_moment(record),
    )
    assert morning.item(LID).action.act is Act.OUT_OF_SERVICE


def test_a_confirmation_of_another_value_does_not_count(county: Any, record: Any) -> None:
    """The rule's value changed since it was confirmed: it counts as unconfirmed."""
    county.rules = CountyRules()
    morning = Morning(county, record)
    record.seal(LID, "9999999", "P001", "P002")
    record.recorder.record(
        offices.RuleConfirmed(rule="seal-differs", level="directive", digest="a" * 64),
        subject="rules",
        people=record.journal.events[0].event.people[:1],
        moment=_moment(record),
    )
    assert morning.item(LID).action.act is Act.CALL_THE_OFFICE


def _moment(record: Any) -> Any:
    from pollstead.record.write import Moment as Written

    record.clock += 1000
    return Written(utc_ms=record.clock, offset_min=-300, uncertainty_ms=0)


def test_record_and_go_on_keeps_the_device_ready(
    county: Any, record: Any, rules_of: Callable[..., CountyRules]
) -> None:
    """Another county's value of the same rule: the difference is written down, the device goes on."""
    county.rules = rules_of(seal_differs="record and go on")
    morning = Morning(county, record)
    record.follow(county.lists(county.election(), morning.plan).lists[0])
    wrong = next(e for e in record.journal.events if e.event.subject == LID)
    record.correct(
        wrong,
        days.SealSeen(step="opening", state="intact"),
        "P001",
        "P002",
        fields=FrozenObject({"number": "9999999"}),
    )
    item = morning.item(LID)
    assert item.action is not None and item.action.act is Act.RECORD_AND_GO_ON
    assert item.notice is not None
    assert morning.device(SCANNER) is DeviceState.READY


def test_swapped_seals_name_each_other(morning: Morning) -> None:
    """Two closures whose seals are exchanged: each says where its number belongs."""
    door = "closure/scanner/S01-1/memory-door"
    lid_number, door_number = morning.expected(LID), morning.expected(door)
    morning.record.seal(LID, door_number, "P001", "P002")
    morning.record.seal(door, lid_number, "P001", "P002")
    for subject, other in ((LID, "door over the memory devices"), (door, "lid")):
        item = morning.item(subject)
        assert item.state is ItemState.VALUE_DIFFERS
        assert likeliest(item) == f"It belongs to {other} on the same device."


def test_a_serial_of_another_site_says_which(morning: Morning) -> None:
    """The right cart at the wrong site: the notice names the site that expects the serial."""
    there = morning.expected("station/S02/ballot-scanner/2/scanner", "S02")
    morning.record.serial(PART, there, "P001", "P002")
    item = morning.item(PART)
    assert item.state is ItemState.VALUE_DIFFERS
    assert likeliest(item) == "It belongs to scanner of Scanner 2, at site S02."


def test_a_serial_of_another_station_here_says_which(morning: Morning) -> None:
    """Two scanners of one site exchanged their places."""
    morning.record.serial(PART, morning.expected("station/S01/ballot-scanner/2/scanner"), "P001", "P002")
    assert "of Scanner 2, at this site" in likeliest(morning.item(PART))


def test_one_serial_at_two_sites_is_seen_twice(morning: Morning) -> None:
    """The expected serial is read here, and the same serial at another site too: seen twice."""
    mine = morning.expected(PART)
    morning.record.serial(PART, mine, "P001", "P002")
    morning.record.serial("station/S02/ballot-scanner/1/scanner", mine, "P003", "P004", site="S02")
    item = morning.item(PART)
    assert item.state is ItemState.SEEN_TWICE
    assert item.explanation is not None
    assert "station/S02/ballot-scanner/1/scanner (S02)" in item.explanation.english()
    assert item.notice is not None and "another place" in item.notice.text.english()


def test_a_withdrawn_reading_is_no_second_place(morning: Morning) -> None:
    """The other site's reading was a mistake and is withdrawn: the serial is seen once again."""
    mine = morning.expected(PART)
    morning.record.serial(PART, mine, "P001", "P002")
    wrong = morning.record.serial("station/S02/ballot-scanner/1/scanner", mine, "P003", site="S02")
    assert morning.item(PART).state is ItemState.SEEN_TWICE
    morning.record.correct(wrong, None, "P003")
    assert morning.item(PART).state is ItemState.MATCH


def test_a_thing_that_no_list_names_is_seen_but_not_expected(morning: Morning) -> None:
    """A fourth machine stands in the room."""
    morning.record.serial("device/scanner/X", "LM-S-0999", "P001", "P002")
    item = next(r for r in morning.report().results if r.subject == "device/scanner/X")
    assert item.state is ItemState.NOT_EXPECTED
    assert item.notice is not None
    assert item.notice.text.english() == (
        "serial LM-S-0999 was seen at device/scanner/X; no expected list names it there."
    )


def test_without_an_expected_list_what_was_seen_is_unknown(morning: Morning) -> None:
    """Nothing was issued: a reading is kept and nothing is said about it."""
    from pollstead.reconcile.issued import Issued

    morning.record.serial(PART, "LM-S-0101", "P001", "P002")
    election = morning.county.election()
    empty = Issued(lists=(), events=())
    report = reconcile_day(election, morning.plan, empty, morning.record.fold(), DAY).site("S01")
    assert [r.state for r in report.results] == [ItemState.UNKNOWN]
    assert not report.list_issued


def test_a_seal_that_is_not_there_differs_whatever_its_number(morning: Morning) -> None:
    """No seal on the closure: value differs, and the notice shows what was found."""
    morning.record.seal(LID, "", "P001", "P002", state="not_there")
    item = morning.item(LID)
    assert item.state is ItemState.VALUE_DIFFERS
    assert item.values == ("not there",)


def test_a_number_that_the_reader_may_not_see_is_unknown(morning: Morning) -> None:
    """Folded without private parts, a seal's number is unknown, never a difference."""
    from pollstead.record.fold import fold

    morning.record.seal(LID, "9999999", "P001", "P002")
    election = morning.county.election()
    issued = morning.county.lists(election, morning.plan)
    report = reconcile_day(election, morning.plan, issued, fold(morning.record.journal.events), DAY)
    item = next(r for r in report.site("S01").results if r.subject == LID and r.moment is Moment.OPENING)
    assert item.state is ItemState.UNKNOWN
    assert item.notice is None


def test_a_public_counter_that_is_not_zero_says_by_how_much(morning: Morning) -> None:
    """Counter 3 where 0 is expected: a difference of 3, by the rule on counters."""
    morning.record.number(SCANNER, "public_counter_open", 3, "P001", "P002")
    item = morning.item(f"{SCANNER}/public")
    assert item.state is ItemState.VALUE_DIFFERS
    assert item.explanation is not None
    assert item.explanation.english() == "The counter differs by 3."
    assert item.notice is not None and item.notice.rule.startswith("counter-not-as-expected.")


def test_both_counters_of_a_device_keep_their_own_notices(morning: Morning) -> None:
    """Public and lifetime counter differ: two notices with different keys."""
    morning.record.number(SCANNER, "public_counter_open", 3, "P001", "P002")
    morning.record.number(SCANNER, "lifetime_counter_open", 3, "P001", "P002")
    assert len({n.key for n in morning.report().notices}) == 2


@pytest.mark.parametrize(
    ("device_min", "shown", "clock", "date"),
    [
        (360, DAY, ItemState.MATCH, ItemState.MATCH),
        (480, DAY, ItemState.VALUE_DIFFERS, ItemState.MATCH),
        (360, DAY - dt.timedelta(days=1), ItemState.MATCH, ItemState.VALUE_DIFFERS),
    ],
)
def test_clock_and_date_of_a_device_are_two_items(
    morning: Morning, device_min: int, shown: dt.date, clock: ItemState, date: ItemState
) -> None:
    """The device's clock two hours ahead; or its date one day behind."""
    morning.record.clock_seen(SCANNER, device_min, 360, "P001", "P002", shown=shown)
    assert morning.item(f"{SCANNER}/clock").state is clock
    assert morning.item(f"{SCANNER}/date").state is date
    stopped = ItemState.VALUE_DIFFERS in (clock, date)
    assert (morning.device(SCANNER) is DeviceState.OUT_OF_SERVICE) == stopped


def test_not_seen_is_a_difference_once_the_doors_are_open(morning: Morning) -> None:
    """What nobody read before the doors opened becomes a notice then, and not before."""
    election = morning.county.election()
    morning.record.follow(morning.county.lists(election, morning.plan).lists[0])
    event = next(e for e in morning.record.journal.events if e.event.subject == LID)
    morning.record.correct(event, None, "P001")
    assert morning.item(LID).state is ItemState.NOT_SEEN
    assert morning.report().notices == ()
    morning.record.write(days.SiteOpened(at_min=420), "site/S01")
    (notice,) = morning.report().notices
    assert notice.subject == LID
    assert notice.text.english() == "lid of Scanner 1: not read before the doors opened."


def test_what_people_recorded_about_a_device_goes_before_the_rule(morning: Morning) -> None:
    """Out by an event, then back by a later one: the device's state follows what people recorded."""
    election = morning.county.election()
    morning.record.follow(morning.county.lists(election, morning.plan).lists[0])
    morning.record.write(days.DeviceOutOfService(state="out", why="paper_jam"), SCANNER)
    assert morning.device(SCANNER) is DeviceState.OUT_OF_SERVICE
    morning.record.write(days.DeviceOutOfService(state="back", why="cleared"), SCANNER)
    assert morning.device(SCANNER) is DeviceState.READY


def test_a_decision_on_a_difference_settles_it_until_the_values_change(morning: Morning) -> None:
    """A resolution names the values' digest; another reading opens the notice again by itself."""
    election = morning.county.election()
    morning.record.follow(morning.county.lists(election, morning.plan).lists[0])
    morning.record.seal(LID, "9999999", "P003")
    before = morning.item(LID)
    assert before.notice is not None and before.resolution == ""
    morning.record.write(
        offices.NoticeResolved(
            notice_key=before.notice.key, digest=values_digest(before.notice), resolution="explained"
        ),
        LID,
        private=offices.Words(words="read from the cut seal"),
    )
    assert morning.item(LID).resolution == "explained"
    assert morning.device(SCANNER) is DeviceState.READY
    morning.record.seal(LID, "8888888", "P004")
    assert morning.item(LID).resolution == ""
    assert morning.device(SCANNER) is not DeviceState.READY


def test_each_serial_of_a_swap_answers_its_own_line(county: Any, record: Any) -> None:
    """After a swap the list holds both serials: a reading counts for its own, an unknown one for the new."""
    from pollstead.reconcile.opening.compare import compare_list
    from pollstead.reconcile.opening.view import DayView

    plan = county.plan(COUNTS)
    election = county.election()
    old_list = county.lists(election, plan).of("S01", DAY)
    old = next(i for i in old_list.items if i.subject == PART and i.what == "serial")
    both = msgspec.structs.replace(
        old_list, items=(*old_list.items, msgspec.structs.replace(old, value="LM-S-0099"))
    )

    def states(*serials: str) -> list[ItemState]:
        made = type(record)()
        for serial in serials:
            made.serial(PART, serial, "P1")
            made.serial(PART, serial, "P2")
        view = DayView(election, DAY, (both,), observations_of(made.fold()))
        found = compare_list("S01", both, view).results
        return [r.state for r in found if r.subject == PART and r.what == "serial"]

    assert states(old.value) == [ItemState.MATCH, ItemState.NOT_SEEN]
    assert states(old.value, "LM-S-0099") == [ItemState.MATCH, ItemState.MATCH]
    assert states(old.value, "LM-S-0098") == [ItemState.MATCH, ItemState.VALUE_DIFFERS]
