"""Custody: one place and one custodian; open legs; two words kept; what is not back, and who had it last."""

from __future__ import annotations

import datetime as dt
import itertools
import json
import re
from pathlib import Path
from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.reconcile.conftest import DAY

from pollstead.cli.not_back import not_back_object
from pollstead.election.county import Person
from pollstead.election.instants import OperatingDay
from pollstead.reconcile.counts.memory import MemoryState
from pollstead.reconcile.custody.legs import Leg, LegKind, legs_of
from pollstead.reconcile.custody.near_sites import CAMPUS, NAME, near_to
from pollstead.reconcile.custody.not_back import NotBackList, not_back
from pollstead.reconcile.custody.places import held_thing, held_things
from pollstead.reconcile.custody.receiving import Sort, site_lines
from pollstead.reconcile.day import reconcile_day
from pollstead.record.event import Means, Part
from pollstead.record.event import Person as Someone
from pollstead.record.fold import fold
from pollstead.record.kinds import custody, days
from pollstead.record.write import Moment

CART = "cart/LM-CART-07"
NIGHT = OperatingDay(date=DAY, zone_name="America/New_York").at_wall_clock(23 * 60 + 50).utc_ms
PEOPLE = tuple(
    Person(id=f"P{n:03d}", name=f"Person {n}", role=role, site=site)
    for n, role, site in (
        (1, "site lead", "S01"),
        (2, "deputy lead", "S01"),
        (3, "site lead", "S02"),
        (11, "warehouse manager", ""),
    )
)


def hand(
    record: Any, body: Any, thing: str, *, giver: str = "", to: str = "", at: int, site: str = "S01"
) -> Any:
    """One event about a thing at a minute, with giver and receiver."""
    people = [Someone(person="person/P099", means=Means.NAME_ONLY, part=Part.AUTHOR)]
    for who, part in ((giver, Part.GIVER), (to, Part.RECEIVER)):
        people += [Someone(person=f"person/{who}", means=Means.NAME_ONLY, part=part)] if who else []
    record.count += 1
    return record.recorder.record(
        body,
        subject=thing,
        people=tuple(people),
        moment=Moment(utc_ms=at * 60_000, offset_min=0, uncertainty_ms=0),
        site=f"site/{site}" if site else "",
        day=DAY.isoformat(),
        salt=record.count.to_bytes(32, "big"),
    )


def held(record: Any, thing: str = CART) -> Any:
    """Where a thing is by the whole record."""
    return held_things(legs_of(record.fold()))[thing]


def sent(start: str, end: str, expected: int | None = None) -> custody.ThingSent:
    """A thing sent from one place to another, expected at a minute."""
    moment = None if expected is None else expected * 60_000
    return custody.ThingSent(from_place=start, to_place=end, expected_utc_ms=moment, seals="intact")


def came(place: str, start: str = "") -> days.ThingReceived:
    """A thing received at a place."""
    return days.ThingReceived(place=place, state="received", from_place=start, seals="intact")


def test_a_thing_has_one_place_and_one_custodian_through_joined_hand_offs(record: Any) -> None:
    """Warehouse to driver to site: after each leg there is one place, and the receiver has it."""
    hand(record, sent("place/warehouse", "site/S01", 500), CART, giver="P011", to="P020", at=400)
    on_its_way = held(record)
    assert on_its_way.places == ("site/S01",) and on_its_way.custodians == ("person/P020",)
    assert on_its_way.open_leg is not None
    hand(record, came("site/S01"), CART, giver="P020", to="P001", at=480)
    there = held(record)
    assert there.places == ("site/S01",) and there.custodians == ("person/P001",)
    assert there.open_leg is None and not there.differs


def test_two_places_at_once_are_both_kept(record: Any) -> None:
    """Two tables take in one thing and neither gave it on: both stand, nothing is chosen, nothing refused."""
    hand(record, came("receiving/1"), "memory/LM-M-1", giver="P001", to="P011", at=600)
    hand(record, came("receiving/2"), "memory/LM-M-1", giver="P003", to="P012", at=601)
    both = held(record, "memory/LM-M-1")
    assert both.differs and both.places == ("receiving/1", "receiving/2")
    hand(record, came("receiving/2", "receiving/1"), "memory/LM-M-1", giver="P011", to="P012", at=602)
    assert held(record, "memory/LM-M-1").places == ("receiving/2",)


@pytest.mark.parametrize(("minute", "overdue"), [(514, False), (516, True)])
def test_an_open_leg_is_overdue_after_its_time_and_the_rule_s_minutes(
    record: Any, minute: int, overdue: bool
) -> None:
    """Expected at minute 500 with 15 minutes of grace: overdue from minute 515 on."""
    hand(record, sent("place/warehouse", "site/S01", 500), CART, giver="P011", to="P020", at=400)
    assert held(record).overdue(minute * 60_000, 15) is overdue


def test_a_withdrawn_hand_off_falls_away(record: Any) -> None:
    """What was received by mistake and taken back leaves the thing where it was."""
    hand(record, sent("place/warehouse", "site/S01", 500), CART, giver="P011", to="P020", at=400)
    wrong = hand(record, came("site/S02"), CART, giver="P020", to="P003", at=480)
    record.correct(wrong, None)
    assert held(record).open_leg is not None and held(record).places == ("site/S01",)


STEPS = st.lists(
    st.tuples(st.sampled_from(["sent", "received"]), st.sampled_from("ABCD")), min_size=1, max_size=12
)


@settings(max_examples=60, deadline=None)
@given(steps=STEPS)
def test_joined_legs_give_exactly_one_place(steps: list[tuple[str, str]]) -> None:
    """Whatever the way, where each giver is the one who had it there is one place and one custodian."""
    legs = []
    place, holder = "place/start", "person/H0"
    for n, (kind, end) in enumerate(steps, start=1):
        after = f"person/H{n}"
        legs.append(
            Leg(
                event=f"{n:064d}",
                thing=CART,
                kind=LegKind(kind),
                site="",
                day="",
                from_place=place if kind == "sent" else "",
                to_place=f"place/{end}",
                state="received",
                givers=(holder,),
                receivers=(after,),
                utc_ms=n,
            )
        )
        place, holder = f"place/{end}", after
    now = held_thing(CART, tuple(legs))
    assert len(now.places) == 1 and now.custodians == (holder,)
    assert (now.open_leg is not None) == (steps[-1][0] == "sent")


def test_merging_in_another_order_gives_the_same_custody(record: Any) -> None:
    """The legs are those of the set of events, not of the order in which they came."""
    hand(record, sent("place/warehouse", "site/S01", 500), CART, giver="P011", to="P020", at=400)
    hand(record, came("site/S01"), CART, giver="P020", to="P001", at=480)
    hand(record, came("receiving/1"), CART, giver="P001", to="P011", at=1300)
    events = record.journal.events
    wanted = held_things(legs_of(fold(events)))
    for order in itertools.permutations(events):
        assert held_things(legs_of(fold(list(order)))) == wanted


def test_each_hand_off_answers_the_custody_questions(record: Any) -> None:
    """Who, what, when, where, from whom, to whom, how the seals were: each leg answers all seven.

    After the EAC's Chain of Custody Best Practices, v1.1 (2021), as noted down; not quoted.
    """
    hand(record, sent("place/warehouse", "site/S01", 500), CART, giver="P011", to="P020", at=400)
    hand(record, came("site/S01", "place/warehouse"), CART, giver="P020", to="P001", at=480)
    for leg in legs_of(record.fold()):
        assert [question for question, answered in leg.answers().items() if not answered] == []
    bare = hand(record, days.ThingReceived(place="receiving/1", state="received"), CART, at=900)
    last = next(leg for leg in legs_of(record.fold()) if leg.event == bare.id)
    lacking = {question for question, answered in last.answers().items() if not answered}
    assert lacking == {"from whom", "to whom", "seals"}


class Night:
    """A county of two sites with one scanner each, closed, on closing night."""

    def __init__(self, county: Any, record: Any) -> None:
        self.record = record
        self.election = msgspec.structs.replace(county.election(), people=PEOPLE)
        self.plan = county.plan({"ballot-scanner": 1})
        self.issued = county.lists(self.election, self.plan)
        for site in ("S01", "S02"):
            record.follow(self.issued.of(site, DAY), "P001" if site == "S01" else "P003")
            record.write(days.SiteClosed(at_min=1205), f"site/{site}", "P001", site=site)

    def days(self) -> Any:
        """The sites reconciled."""
        return reconcile_day(self.election, self.plan, self.issued, self.record.fold(), DAY).sites

    def list(self, now_ms: int = NIGHT) -> NotBackList:
        """What is not back."""
        things = held_things(legs_of(self.record.fold()))
        return not_back(self.election, self.days(), things, DAY, now_ms)

    def receive(self, line: Any, table: str = "receiving/1") -> None:
        """A table takes one thing in."""
        hand(
            self.record,
            came(table, f"site/{line.site}"),
            line.thing,
            giver="P001",
            to="P011",
            at=NIGHT // 60_000 - 60,
            site=line.site,
        )


@pytest.fixture
def night(county: Any, record: Any) -> Night:
    """Closing night."""
    return Night(county, record)


def test_a_memory_device_left_in_its_machine_is_named_with_who_had_it_last(night: Night) -> None:
    """All but one came: it stands alone on the list, at its machine; the lead and the deputy are called."""
    missing = None
    for day in night.days():
        for line in site_lines(day, {}):
            if line.sort is Sort.MEMORY_DEVICE and day.site == "S01" and missing is None:
                missing = line
                continue
            night.receive(line)
    assert missing is not None
    found = night.list()
    assert [one.line.thing for one in found.things] == [missing.thing]
    one = found.things[0]
    assert one.last_place == missing.device and one.last_people == ("person/P001",)
    assert one.call[:2] == ("person/P001", "person/P002") and one.overdue
    assert (found.sites_complete, found.sites) == (1, 2)
    night.receive(missing)
    assert night.list().things == () and night.list().sites_complete == 2


@pytest.mark.parametrize("state", ["travels_inside", "to_follow", "not_found"])
def test_what_people_say_of_a_thing_stays_on_the_list_until_it_is_here(night: Night, state: str) -> None:
    """A word is no thing: the forms said to follow are still not back, with the word beside them."""
    forms = next(x for x in site_lines(night.days()[0], {}) if x.sort is Sort.FORMS)
    inside = "device/scanner/S01-1" if state == "travels_inside" else ""
    body = custody.ThingStated(state=state, inside=inside)  # type: ignore[arg-type]
    hand(night.record, body, forms.thing, at=NIGHT // 60_000 - 50)
    one = next(x for x in night.list().things if x.line.thing == forms.thing)
    assert one.line.state is MemoryState(state.replace("_", " "))


def test_memory_devices_come_first_then_age_times_weight(night: Night) -> None:
    """Whatever the age, a memory device stands above everything else; below, the order falls."""
    found = night.list()
    first = [one.line.sort is Sort.MEMORY_DEVICE for one in found.things]
    assert first == sorted(first, reverse=True) and first[0]
    rest = [one.weight for one in found.things if one.line.sort is not Sort.MEMORY_DEVICE]
    assert rest == sorted(rest, reverse=True)


def test_a_stolen_box_is_an_overdue_leg_with_what_it_holds(night: Night) -> None:
    """A cart sent, expected, never received: where it left, who drove, and the things inside it are named."""
    now = NIGHT // 60_000
    hand(night.record, sent("site/S01", "receiving/1", now - 60), CART, giver="P001", to="P020", at=now - 90)
    hand(night.record, custody.ThingStated(state="travels_inside", inside=CART), "keys/S02/1107", at=now - 80)
    one = next(x for x in night.list().things if x.line.thing == CART)
    assert one.overdue and one.on_its_way
    assert one.last_people == ("person/P020",) and one.last_place == "site/S01"
    assert one.holds == ("keys/S02/1107",)


def test_silence_is_named_by_the_time_things_are_due(county: Any, record: Any) -> None:
    """No site has said anything: before the rule's minutes nobody is asked, after them each is named."""
    election = msgspec.structs.replace(county.election(), people=PEOPLE)
    plan = county.plan({"ballot-scanner": 1})
    report = reconcile_day(election, plan, county.lists(election, plan), record.fold(), DAY)
    closing = OperatingDay(date=DAY, zone_name=election.zone_name).at_wall_clock(20 * 60).utc_ms
    due = closing + election.rules.whole("receiving-due") * 60_000
    assert not_back(election, report.sites, {}, DAY, due - 1).silent == ()
    silent = not_back(election, report.sites, {}, DAY, due + 1).silent
    assert [one.site for one in silent] == ["S01", "S02"]
    assert silent[0].call == ("person/P001", "person/P002")


def test_near_names_and_one_campus_are_told_and_others_are_not(county: Any) -> None:
    """Kiln Road School and Mill Road School sound alike; two rooms have one address; a library is neither."""
    names = (
        ("S01", "Kiln Road School", "1 Kiln Road"),
        ("S02", "Mill Road School", "9 Mill Road"),
        ("S03", "Harbor Lane Library", "22 Harbor Lane"),
        ("S04", "Ferry Gym", "4 Ferry Way"),
        ("S05", "Old Chapel Room", "4 Ferry Way"),
    )
    base = county.election().sites[0]
    sites = tuple(msgspec.structs.replace(base, id=i, name=n, address=a) for i, n, a in names)
    election = msgspec.structs.replace(county.election(), sites=sites)
    found = {site.id: [(near.site, near.why) for near in near_to(election, site.id)] for site in sites}
    assert {site: near for site, near in found.items() if near} == {
        "S01": [("S02", NAME)],
        "S02": [("S01", NAME)],
        "S04": [("S05", CAMPUS)],
        "S05": [("S04", CAMPUS)],
    }


def test_each_operating_day_has_its_own_box(night: Night) -> None:
    """Ballots of an early day, received then, are not election day's ballots."""
    early = msgspec.structs.replace(night.days()[0], date=DAY - dt.timedelta(days=3))
    line = next(x for x in site_lines(early, {}) if x.sort is Sort.BALLOTS)
    things = held_things(legs_of(night.record.fold()))
    today = next(x for x in site_lines(night.days()[0], things) if x.sort is Sort.BALLOTS)
    assert line.thing != today.thing


def test_every_field_of_the_printed_list_is_documented_and_names_nobody(night: Night) -> None:
    """Each key of the JSON form stands on the formats page; people stand by id, never by name."""
    page = (Path(__file__).parents[2] / "docs" / "formats" / "json.md").read_text(encoding="utf-8")
    part = page.split("## pollstead not-back")[1].split("\n## ")[0]
    made = not_back_object(night.list())
    keys = [*made, *(f"things[].{key}" for key in made["things"][0])]
    for key in keys:
        assert key in ("things", "not_heard_from") or re.search(rf"`{re.escape(key)}(\[\])?`", part), key
    assert not any(person.name in json.dumps(made) for person in PEOPLE)
