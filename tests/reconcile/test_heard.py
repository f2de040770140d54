"""Which expected calls came: late minutes, silence at the door, whom to call, in any order of events."""

from __future__ import annotations

import datetime as dt
import random
from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.reconcile.conftest import DAY, CountyMaker, RecordMaker, confirmed_rules

from pollstead.election.contacts import SiteContact
from pollstead.election.county import Person
from pollstead.reconcile.happening.incidents import incidents_of
from pollstead.reconcile.happening.site_lost import lost_of_site
from pollstead.reconcile.heard.silence import CallState, HeardList, heard_list
from pollstead.reconcile.heard.steps import DOOR_STEPS, Step, expected_calls
from pollstead.record.event import Means, Part
from pollstead.record.event import Person as Hand
from pollstead.record.fold import fold
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds import calls, days, heard, incidents
from pollstead.record.write import Moment

PEOPLE = (
    Person(id="P001", name="Ida", role="site lead", site="S01", phone="555-0001"),
    Person(id="P002", name="Tobin", role="deputy lead", site="S01", phone="555-0002"),
    Person(id="P003", name="Wren", role="custodian", phone="555-0003"),
    Person(id="P004", name="Odell", role="custodian", phone="555-0004"),
    Person(id="P005", name="Hale", role="custodian", phone="555-0003"),
)
ALL_RULES = {
    "heard_ready_call": "yes",
    "heard_counts": "hourly",
    "heard_way_call": "yes",
}


def at(minute: int) -> int:
    """A minute of the operating day in New York, as UTC ms: 07:00 there is 12:00 UTC in November."""
    start = dt.datetime(2028, 11, 7, 5, 0, tzinfo=dt.UTC)
    return round(start.timestamp() * 1000) + minute * 60_000


class Morning:
    """Two sites that open at 07:00, a record, and what has been heard by a minute."""

    def __init__(self, **rules: Any) -> None:
        maker = CountyMaker()
        maker.rules = confirmed_rules(**rules)
        self.plan = maker.plan({}, ("S01", "S02"))
        election = maker.election()
        sites = tuple(
            msgspec.structs.replace(site, openers=("P003", "P005", "P004")) for site in election.sites
        )
        contact = SiteContact(site="S01", person="P009", part="backup contact", other_phone="555-0009")
        self.election = msgspec.structs.replace(
            election, people=PEOPLE, sites=sites, site_contacts=(contact,)
        )
        self.record = RecordMaker()

    def said(self, body: Any, subject: str, minute: int, *, giver: str = "", site: str = "S01") -> Any:
        """One event typed at a minute; with `giver` it came by phone."""
        people = [Hand(person="person/P012", means=Means.NAME_ONLY, part=Part.AUTHOR)]
        if giver:
            people.append(Hand(person=f"person/{giver}", means=Means.NAME_ONLY, part=Part.GIVER))
        self.record.count += 1
        return self.record.recorder.record(
            body,
            subject=subject,
            people=tuple(people),
            moment=Moment(utc_ms=at(minute), offset_min=-300, uncertainty_ms=0),
            site=f"site/{site}",
            day=DAY.isoformat(),
            salt=self.record.count.to_bytes(32, "big"),
        )

    def opened(self, minute: int, at_min: int, **more: Any) -> Any:
        """Doors told open."""
        return self.said(days.SiteOpened(at_min=at_min, by_phone="read_back"), "site/S01", minute, **more)

    def heard(self, minute: int, events: Any = None) -> HeardList:
        """The list at a minute."""
        folded = fold(self.record.journal.events if events is None else events)
        return heard_list(self.election, self.plan, folded, DAY, at(minute))

    def site(self, minute: int, site: str = "S01") -> Any:
        """One site at a minute."""
        return next(one for one in self.heard(minute).sites if one.site == site)


def states(site: Any) -> dict[str, CallState]:
    """The state of each call by its key."""
    return {one.call.key: one.state for one in site.calls}


def test_silence_is_told_by_the_expected_minute_with_the_second_opener() -> None:
    """Nothing is overdue at 06:15; a minute later the crew is, and a second, independent opener is named."""
    morning = Morning()
    assert not morning.heard(375).silent
    silent = morning.site(376)
    assert states(silent)["crew_inside"] is CallState.OVERDUE and silent.late_min == 1
    parts = {one.person: one.parts for one in silent.callees}
    # P005 shares a phone with the first opener, so the second way in is P004.
    assert list(parts) == ["P001", "P002", "P004", "P009", "P003"]
    assert parts["P004"] == ("second opener",) and parts["P009"] == ("backup contact",)


def test_minutes_lost_count_from_the_due_opening_until_an_opening_is_told() -> None:
    """At 07:25 of a silent site 25 run; told open at 07:12 they are 12; told open at 06:58 none."""
    morning = Morning()
    silent = morning.site(445)
    assert (silent.lost_min, silent.lost_running) == (25, True)
    morning.opened(446, 432)
    assert (morning.site(447).lost_min, morning.site(447).lost_running) == (12, False)
    early = Morning()
    early.opened(421, 418)
    assert early.site(430).lost_min == 0


def test_minutes_lost_are_those_of_the_incidents_page_each_once() -> None:
    """Late until 07:12, stopped from 07:10 to 07:20: 20 minutes, not 22; what was not told yet is out."""
    morning = Morning()
    morning.opened(433, 432)
    stopped = incidents.IncidentReported(what="power", at_min=430, service="stopped")
    morning.said(stopped, f"incident/{DAY.isoformat()}/1", 441)
    morning.said(incidents.IncidentEnded(at_min=440), f"incident/{DAY.isoformat()}/1", 450)
    assert morning.site(440).lost_min == 12
    assert morning.site(460).lost_min == 20
    folded = fold(morning.record.journal.events)
    found = incidents_of(folded, DAY)
    same = lost_of_site(folded, DAY, "S01", found, hours=(420, 1200), told=(432,), now_min=460)
    assert same.site_min == 20


def test_two_openings_that_differ_give_no_minutes_lost() -> None:
    """07:02 and 07:12 are both kept; nobody's is chosen."""
    morning = Morning()
    morning.opened(423, 422, giver="P001")
    morning.opened(433, 432, giver="P002")
    assert morning.site(440).opened.values == (422, 432) and morning.site(440).lost_min is None


def test_a_word_by_phone_names_the_caller_and_who_typed_it() -> None:
    """Giver, author and read-back stand in the word; without a giver it is no word by phone."""
    morning = Morning()
    morning.said(
        heard.SiteHeard(step="crew_inside", at_min=340, by_phone="read_back"), "site/S01", 345, giver="P001"
    )
    word = morning.site(350).last
    assert (word.giver, word.author, word.read_back, word.at_min) == ("person/P001", "person/P012", True, 340)


def test_a_later_step_settles_the_earlier_ones() -> None:
    """Once the doors are open nobody asks whether the crew is inside; a 13:00 count settles that of 12:00."""
    morning = Morning(**ALL_RULES)
    morning.opened(425, 420)
    found = states(morning.site(430))
    assert found["crew_inside"] is found["ready_to_open"] is CallState.SETTLED
    assert found["opened"] is CallState.HEARD and found["count-0800"] is CallState.NOT_DUE
    count = days.CountRead(term="public_counters_at_1300", value=140, source="screen")
    morning.said(count, "site/S01", 785, giver="P001")
    found = states(morning.site(790))
    assert found["count-1200"] is CallState.SETTLED and found["count-1300"] is CallState.HEARD


def test_what_was_seen_in_the_morning_tells_the_crew_inside_and_the_evening_before_does_not() -> None:
    """A serial read at 06:00 settles the crew; one read at 21:00 the evening before does not."""
    seen = days.SerialSeen(serial="LM-S-0101")
    evening, morning = Morning(), Morning()
    evening.said(seen, "device/scanner/S01-1", -180)
    morning.said(seen, "device/scanner/S01-1", 360)
    assert states(evening.site(376))["crew_inside"] is CallState.OVERDUE
    assert states(morning.site(376))["crew_inside"] is CallState.SETTLED


def test_the_list_of_an_earlier_moment_knows_nothing_later() -> None:
    """Told at 07:05, withdrawn at 07:20: at 07:04 and at 07:21 nobody has told it, at 07:10 somebody has."""
    morning = Morning()
    told = morning.opened(425, 420)
    withdrawn = days.EntryCorrected(corrects=told.id, of_kind="site.opened", value=FrozenObject())
    morning.record.clock = at(439)
    morning.record.recorder.record(
        withdrawn,
        subject="site/S01",
        people=(Hand(person="person/P012", means=Means.NAME_ONLY, part=Part.AUTHOR),),
        moment=Moment(utc_ms=at(440), offset_min=-300, uncertainty_ms=0),
        site="site/S01",
        day=DAY.isoformat(),
        private=days.CorrectionPrivate(reason="another site"),
    )
    assert [states(morning.site(m))["opened"] for m in (424, 431, 441)] == [
        CallState.NOT_DUE,
        CallState.HEARD,
        CallState.OVERDUE,
    ]


def test_the_next_to_call_is_the_one_tried_least_and_a_wrong_phone_comes_last() -> None:
    """Lead, deputy, then the second opener; a wrong phone is not tried again before the others."""
    morning = Morning()
    for minute, person, result in ((377, "P001", "wrong_number"), (378, "P002", "no_answer")):
        body = calls.CallMade(purpose="not_heard", result=result, window="any", sites=("site/S01",))
        morning.said(body, f"person/{person}", minute)
    site = morning.site(380)
    assert site.next_call.person == "P004"
    assert [(one.person, one.result, one.by) for one in site.tries] == [
        ("P001", "wrong_number", "person/P012"),
        ("P002", "no_answer", "person/P012"),
    ]
    assert morning.site(377).next_call.person == "P002"


def test_openers_are_called_for_a_door_and_not_for_a_count() -> None:
    """After the opening was heard, lead, deputy and backup are called; openers are left alone."""
    morning = Morning(**ALL_RULES)
    morning.opened(425, 420)
    assert [one.person for one in morning.site(600).callees] == ["P001", "P002", "P009"]
    assert morning.site(600).overdue[0].call.step not in DOOR_STEPS


def test_rules_move_every_expected_minute_and_unconfirmed_ones_are_named() -> None:
    """90 min instead of 45; a rule that nobody confirmed is listed."""
    morning = Morning(heard_crew=90)
    assert morning.site(331).late_min == 1
    named = {one.rule for one in morning.heard(331).unconfirmed}
    assert "heard-crew" not in named and "heard-opened" in named


def test_a_count_is_expected_at_noon_every_hour_or_not_at_all() -> None:
    """Three values of one rule for a day from 07:00 to 20:00."""
    hours = Morning().election.sites[0].hours[0]

    def counts(how: str) -> list[int | None]:
        found = expected_calls(hours, confirmed_rules(heard_counts=how))
        return [one.hour_min for one in found if one.step is Step.COUNT]

    assert counts("none") == [] and counts("noon") == [720]
    assert counts("hourly") == list(range(480, 1200, 60))


def test_a_site_without_hours_has_no_expected_call_and_says_so() -> None:
    """Unknown hours make no deadline; the site stays on the list."""
    morning = Morning()
    sites = tuple(msgspec.structs.replace(site, hours=()) for site in morning.election.sites)
    morning.election = msgspec.structs.replace(morning.election, sites=sites)
    site = morning.site(900)
    assert site.hours is None and site.calls == () and site.lost_min is None


events = st.lists(
    st.tuples(
        st.sampled_from((*(s.value for s in Step), "seen", "call", "correct")),
        st.integers(-120, 1500),
        st.sampled_from(("S01", "S02")),
    ),
    max_size=12,
)


def put(morning: Morning, told: list[tuple[str, int, str]]) -> None:
    """Events of every sort, in any order of their clocks."""
    for what, minute, site in told:
        at_min, subject = max(0, minute), f"site/{site}"
        if what == "opened":
            morning.said(days.SiteOpened(at_min=at_min), subject, minute, site=site)
        elif what == "closed":
            morning.said(days.SiteClosed(at_min=at_min), subject, minute, site=site)
        elif what == "count":
            term = f"public_counters_at_{8 + minute % 10:02d}00"
            morning.said(days.CountRead(term=term, value=3, source="screen"), subject, minute, site=site)
        elif what == "seen":
            morning.said(
                days.SerialSeen(serial="LM-1"), f"device/scanner/{site}-1", minute, giver="P001", site=site
            )
        elif what == "call":
            body = calls.CallMade(purpose="not_heard", result="no_answer", window="any", sites=(subject,))
            morning.said(body, "person/P001", minute, site=site)
        elif what == "correct":
            wrong = next((e for e in morning.record.journal.events if e.event.kind == "site.opened"), None)
            if wrong is not None:
                morning.record.clock = at(minute)
                morning.record.correct(wrong, days.SiteOpened(at_min=at_min))
        else:
            body_heard = heard.SiteHeard(step=what, at_min=at_min, by_phone="read_back")  # type: ignore[arg-type]
            morning.said(body_heard, subject, minute, giver="P001", site=site)


@pytest.mark.full
@settings(max_examples=40, deadline=None)
@given(told=events, minute=st.integers(-60, 1600), seed=st.integers(0, 99))
def test_late_is_never_negative_heard_is_never_overdue_and_order_does_not_matter(
    told: list[tuple[str, int, str]], minute: int, seed: int
) -> None:
    """For any events and any moment, read in any order."""
    morning = Morning(**ALL_RULES)
    put(morning, told)
    found = morning.heard(minute)
    for site in found.sites:
        assert site.lost_min is None or site.lost_min >= 0
        for one in site.calls:
            assert one.late_min >= 0 and (one.late_min == 0 or one.state is CallState.OVERDUE)
            assert one.state is not CallState.HEARD or one.words
            assert one.state is not CallState.OVERDUE or (not one.words and at(minute) > one.due_ms)
        spoken = {word.key for one in site.calls for word in one.words}
        assert not spoken & {one.call.key for one in site.overdue}
    mixed = list(morning.record.journal.events)
    random.Random(seed).shuffle(mixed)
    assert morning.heard(minute, mixed) == found
    stakes = [site.stake for site in found.sites if site.overdue]
    assert stakes == sorted(stakes, reverse=True)


@pytest.mark.parametrize("minute", [376, 500])
def test_more_voters_come_first_at_equal_silence(minute: int) -> None:
    """Two silent sites: the one with more planned voters stands above."""
    morning = Morning()
    many = msgspec.structs.replace(
        morning.plan.sites[1].demand[0],
        voters=msgspec.structs.replace(morning.plan.sites[1].demand[0].voters, p50=110),
    )
    second = msgspec.structs.replace(morning.plan.sites[1], demand=(many,))
    morning.plan = msgspec.structs.replace(morning.plan, sites=(morning.plan.sites[0], second))
    assert [site.site for site in morning.heard(minute).silent] == ["S02", "S01"]
