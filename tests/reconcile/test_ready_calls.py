"""Calls before opening: what a yes is worth, when it counts no longer, and which calls to make first."""

from __future__ import annotations

import datetime as dt
import itertools
from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pollstead.election.contacts import MILLION, QUESTIONS, ReadyWeight, SiteContact
from pollstead.election.county import Person
from pollstead.election.instants import OperatingDay
from pollstead.reconcile.day import reconcile_day
from pollstead.reconcile.issued import Issued
from pollstead.reconcile.readiness.chance import BILLION, Cause, late_ppb
from pollstead.reconcile.readiness.ready import ReadyItem, ReadyList, ReadyState, ready_to_open
from pollstead.reconcile.readiness.weights import USUAL_WEIGHTS
from pollstead.reconcile.readiness.windows import window_at, windows_of
from pollstead.record.event import Means, Part
from pollstead.record.event import Person as Author
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds.body import Reason
from pollstead.record.kinds.calls import CallMade, PhoneCalled, ReadyEvidence, ReadyUnknown, SeenPrivate
from pollstead.record.kinds.days import CorrectionPrivate, EntryCorrected
from pollstead.record.write import Moment

COUNTS = {"check-in-desk": 1, "accessible-marker": 1, "ballot-scanner": 1}
DAY = dt.date(2028, 11, 7)  # a Tuesday; standard time (UTC-5) since Sunday, November 5
ZONE = "America/New_York"


def at(date: dt.date, hour: int) -> int:
    """An hour of a date on the county's clock."""
    return OperatingDay(date=date, zone_name=ZONE).at_wall_clock(hour * 60).utc_ms


EVENING = at(dt.date(2028, 11, 6), 18)
PEOPLE = (
    Person(id="P001", name="Ida Fenwright", role="site lead", site="S01", phone="555-0110"),
    Person(id="P002", name="Tobin Marsh-Oakley", role="deputy lead", site="S01", phone="555-0111"),
    Person(id="P009", name="Wren Castellan", role="warehouse manager", phone="555-0119"),
)


class Office:
    """An office with a telephone on the evening before."""

    def __init__(self, county: Any, record: Any, sites: tuple[str, ...] = ("S01", "S02")) -> None:
        self.record = record
        self.plan = county.plan(COUNTS, sites)
        self.election = msgspec.structs.replace(county.election(sites), people=PEOPLE)

    def call(
        self,
        person: str,
        result: Any = "answered_yes",
        purpose: Any = "opener_confirm",
        *,
        when: int = EVENING - 1000,
        phone: str = "555-0110",
        there: int | None = None,
        sites: tuple[str, ...] = (),
        questions: tuple[str, ...] = (),
    ) -> Any:
        body = CallMade(
            purpose=purpose,
            result=result,
            window="evening",
            sites=sites,
            there_by_min=there,
            questions=questions,
        )
        return self.write(body, f"person/{person}", PhoneCalled(phone=phone), when)

    def write(self, body: Any, subject: str, private: Any, when: int = EVENING - 1000) -> Any:
        return self.record.recorder.record(
            body,
            subject=subject,
            people=(Author(person="person/P010", means=Means.OWN_DEVICE, part=Part.AUTHOR),),
            moment=Moment(utc_ms=when, offset_min=-300, uncertainty_ms=0),
            private=private,
        )

    def change(self, **fields: Any) -> None:
        self.election = msgspec.structs.replace(self.election, **fields)

    def list(self, now_ms: int = EVENING) -> ReadyList:
        folded, issued = self.record.fold(), Issued(lists=(), events=())
        report = reconcile_day(self.election, self.plan, issued, folded, DAY)
        return ready_to_open(self.election, self.plan, issued, folded, report, now_ms=now_ms)

    def item(self, name: str, site: str = "S01", now_ms: int = EVENING) -> ReadyItem:
        found = next(one for one in self.list(now_ms).sites if one.site == site)
        return next(item for item in found.items if item.id == name)

    def risk(self, site: str = "S01") -> int:
        return next(one.risk_ppb for one in self.list().sites if one.site == site)


@pytest.fixture
def office(county: Any, record: Any) -> Office:
    """Nobody has called."""
    return Office(county, record)


def test_a_yes_is_good_with_who_and_when_and_takes_risk_away(office: Office) -> None:
    """A yes heard in this window is evidence by event, author and moment; the risk falls."""
    before = office.risk()
    assert office.item("opener-call/P001").state is ReadyState.UNKNOWN
    event = office.call("P001")
    item = office.item("opener-call/P001")
    assert item.state is ReadyState.GOOD
    assert (item.evidence[0].event, item.evidence[0].people) == (event.id, ("person/P010",))
    assert office.risk() < before


def test_a_changed_phone_opens_the_question_again(office: Office) -> None:
    """The number called is compared with the tables: another number, and the yes counts no longer."""
    office.call("P001")
    office.change(people=(msgspec.structs.replace(PEOPLE[0], phone="(555) 0110"), *PEOPLE[1:]))
    assert office.item("opener-call/P001").state is ReadyState.GOOD, "the same digits, spelt otherwise"
    office.change(people=(msgspec.structs.replace(PEOPLE[0], phone="555-0999"), *PEOPLE[1:]))
    item = office.item("opener-call/P001")
    assert (item.state, item.text.english()) == (ReadyState.UNKNOWN, "The phone changed after the last call.")


def test_a_contact_that_changed_after_the_call_opens_the_question_again(office: Office) -> None:
    """A yes from before the present contact took over is no evidence."""
    from pollstead.election.buildings import SiteAccess

    office.call("P001")
    office.change(site_access=(SiteAccess(site="S01", contact_since=dt.date(2028, 11, 7)),))
    assert office.item("opener-call/P001").state is ReadyState.UNKNOWN
    office.change(site_access=(SiteAccess(site="S01", contact_since=dt.date(2028, 11, 5)),))
    assert office.item("opener-call/P001").state is ReadyState.GOOD


def test_a_new_window_makes_an_old_yes_unknown_with_its_age(office: Office) -> None:
    """A yes of the week before was good until 17:00 on the evening before; then it is old."""
    office.call("P001", when=at(dt.date(2028, 11, 1), 10))
    assert office.item("opener-call/P001", now_ms=at(dt.date(2028, 11, 6), 16)).state is ReadyState.GOOD
    item = office.item("opener-call/P001")
    assert (item.state, item.old) == (ReadyState.UNKNOWN, True)
    assert item.evidence[0].utc_ms == at(dt.date(2028, 11, 1), 10)


def test_a_call_taken_back_counts_no_longer(office: Office) -> None:
    """Undo is a correction without a value; the question is as it was before the call."""
    before, event = office.list().sites, office.call("P001")
    office.write(
        EntryCorrected(corrects=event.id, of_kind="call.made", value=FrozenObject()),
        "person/P001",
        CorrectionPrivate(reason="Wrong row"),
    )
    assert office.list().sites == before


@pytest.mark.parametrize(
    ("result", "there", "state"),
    [
        ("answered_yes", 355, ReadyState.GOOD),  # 05:55; doors at 07:00 less 60 min of set-up is 06:00
        ("answered_yes", 365, ReadyState.BAD),
        ("answered_no", None, ReadyState.BAD),
        ("wrong_number", None, ReadyState.BAD),
        ("no_answer", None, ReadyState.UNKNOWN),
        ("left_message", None, ReadyState.UNKNOWN),
    ],
)
def test_each_answer_settles_what_it_says(office: Office, result: str, there: int | None, state: Any) -> None:
    """Yes in time is good; too late, no and a wrong number are bad; nobody reached leaves it unknown."""
    office.call("P001", result, there=there)
    assert office.item("opener-call/P001").state is state


def test_people_who_share_a_phone_or_a_key_are_one_way_in(office: Office) -> None:
    """Two people behind one phone fail together, so the door hangs on one way in."""
    assert office.item("openers").state is ReadyState.GOOD
    apart = office.risk()
    keys = tuple(SiteContact(site="S01", person=p, key="K-14") for p in ("P001", "P002"))
    office.change(site_contacts=keys)
    assert office.item("openers").text.english() == (
        "1 independent of 2 needed; some share a phone or a key."
    )
    assert office.risk() > apart
    office.change(site_contacts=())
    same = msgspec.structs.replace(PEOPLE[1], phone="5550110")
    office.change(people=(PEOPLE[0], same, PEOPLE[2]))
    assert office.item("openers").state is ReadyState.BAD


def test_one_person_for_three_sites_is_one_call(county: Any, record: Any) -> None:
    """Opener of three sites: one call asks for all three, and its yes settles all three."""
    office = Office(county, record, ("S01", "S02", "S03"))
    mine = [call for call in office.list().calls if call.person == "P001"]
    assert len(mine) == 1
    asked = next(ask for ask in mine[0].asks if ask.question == "opener-call")
    assert sorted(asked.sites) == ["S01", "S02", "S03"]
    office.call("P001", sites=tuple(f"site/{s}" for s in asked.sites))
    assert {office.item("opener-call/P001", s).state for s in asked.sites} == {ReadyState.GOOD}
    left = next(call for call in office.list().calls if call.person == "P001")
    assert "opener-call" not in {ask.question for ask in left.asks}


def test_the_list_ranks_again_after_a_call(office: Office) -> None:
    """The worth of what is left is the fall of risk x voters; what was settled is worth nothing more."""
    first = office.list()
    assert first.calls == tuple(sorted(first.calls, key=lambda c: (-c.worth_micro, c.minutes, c.key)))
    warehouse = next(call for call in first.calls if call.person == "P009")
    office.call(
        "P009",
        purpose="delivery",
        phone="555-0119",
        sites=("site/S01", "site/S02"),
    )
    after = next(call for call in office.list().calls if call.person == "P009")
    assert after.worth_micro < warehouse.worth_micro
    stakes = sum(site.stake_micro for site in first.sites)
    fell = stakes - sum(site.stake_micro for site in office.list().sites)
    assert fell > 0


def test_what_was_seen_counts_until_it_is_taken_back(office: Office) -> None:
    """Somebody saw the cart: good; taken back: not known again; not so: bad."""
    for body, private, state in (
        (ReadyEvidence(question="delivery", result="good"), SeenPrivate(seen="in the gym"), ReadyState.GOOD),
        (ReadyUnknown(question="delivery"), Reason(reason="that was another cart"), ReadyState.UNKNOWN),
        (ReadyEvidence(question="delivery", result="bad"), SeenPrivate(seen="no cart"), ReadyState.BAD),
    ):
        office.write(body, "site/S01", private)
        assert office.item("delivery").state is state
    assert office.item("delivery", "S02").state is ReadyState.UNKNOWN


def test_windows_begin_on_the_county_clock_across_the_change_of_time(office: Office) -> None:
    """E-7 is October 31 in daylight time (UTC-4), E-1 17:00 is standard time (UTC-5)."""
    first, week, evening = windows_of(office.election, DAY)
    assert (first.starts, week.starts) == (dt.date(2028, 10, 8), dt.date(2028, 10, 31))
    assert dt.datetime.fromtimestamp(week.starts_ms / 1000, dt.UTC).hour == 4
    assert dt.datetime.fromtimestamp(evening.starts_ms / 1000, dt.UTC).hour == 22
    assert window_at((first, week, evening), first.starts_ms - 1) is None


def test_a_site_taken_away_changes_no_other(county: Any, record: Any) -> None:
    """Each site's questions and risk are its own."""
    three = Office(county, record, ("S01", "S02", "S03")).list().sites
    two = Office(county, record, ("S01", "S03")).list().sites
    assert {s.site: s for s in two} == {s.site: s for s in three if s.site != "S02"}


def test_the_order_of_people_changes_nothing(office: Office) -> None:
    """The same people in another order give the same list."""
    first = office.list()
    office.change(people=tuple(reversed(PEOPLE)))
    assert office.list() == first


@pytest.mark.full
@settings(max_examples=8, deadline=None)
@given(
    before=st.lists(st.sampled_from(["answered_no", "no_answer", "left_message"]), max_size=2),
    person=st.sampled_from(["P001", "P002"]),
)
def test_good_evidence_never_raises_a_risk(before: list[str], person: str) -> None:
    """Whatever was heard before, a yes never makes the site look worse, and unknown never beats good."""
    from tests.reconcile.conftest import CountyMaker, RecordMaker

    office = Office(CountyMaker(), RecordMaker())
    phone = {"P001": "555-0110", "P002": "555-0111"}[person]
    for number, result in enumerate(before):
        office.call(person, result, when=EVENING - 9000 + number, phone=phone)
    risk = office.risk()
    office.call(person, phone=phone)
    assert office.risk() <= risk


def test_weights_never_reward_ignorance() -> None:
    """In each weight good <= old <= not known <= bad; one that does not is refused."""
    assert tuple(w.question for w in USUAL_WEIGHTS.items) == QUESTIONS
    with pytest.raises(ValueError, match="must not fall"):
        ReadyWeight(question="seals", good_ppm=2, old_ppm=2, unknown_ppm=1, bad_ppm=3)


CAUSES = st.lists(
    st.tuples(st.integers(0, MILLION), st.sampled_from(["", "door", "lead"]), st.sampled_from("ab")),
    max_size=7,
)


@settings(max_examples=60, deadline=None)
@given(causes=CAUSES)
def test_the_noisy_or_is_the_sum_over_every_combination_of_causes(causes: list[tuple[int, str, str]]) -> None:
    """Enumerated: each member occurs or not, independently; late when a single one or a whole group does."""
    members: dict[tuple[str, str], int] = {}
    for number, (ppm, group, member) in enumerate(causes):
        key = (group, member) if group else ("", str(number))
        members[key] = min(members.get(key, MILLION), ppm)
    keys = list(members)
    late = 0
    for occurs in itertools.product((False, True), repeat=len(keys)):
        weight = 1
        for key, happens in zip(keys, occurs, strict=True):
            weight *= members[key] if happens else MILLION - members[key]
        state = dict(zip(keys, occurs, strict=True))
        alone = any(state[key] for key in keys if not key[0])
        whole = any(
            all(state[key] for key in keys if key[0] == group)
            for group in ("door", "lead")
            if any(key[0] == group for key in keys)
        )
        late += weight * (alone or whole)
    exact = late * BILLION // MILLION ** len(keys)
    found = late_ppb(
        Cause(id=str(n), ppm=ppm, group=group, member=member if group else "")
        for n, (ppm, group, member) in enumerate(causes)
    )
    assert found == exact


def test_calls_to_play_leave_the_site_with_a_new_contact_open(office: Office) -> None:
    """Played on the evening before: yes everywhere, nobody where the contact changed after the last word."""
    from pollstead.election.buildings import SiteAccess
    from pollstead.work.calls_example import calls_to_play

    since = dt.date(2028, 8, 14)
    office.change(site_access=(SiteAccess(site="S02", contact_since=since),))
    for one in calls_to_play(office.election):
        office.write(one.body, one.subject, one.private)
    assert office.item("opener-call/P001", "S01").state is ReadyState.GOOD
    assert office.item("opener-call/P001", "S02").state is ReadyState.UNKNOWN
