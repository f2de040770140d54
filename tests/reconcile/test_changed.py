"""What a late change brings: lists, sheets void and new, calls; and what it leaves alone."""

from __future__ import annotations

import hashlib
from typing import Any

import hypothesis
import msgspec
import pytest
from hypothesis import strategies as st

from pollstead.election.county import Device, Election, Person
from pollstead.election.words import message
from pollstead.plan.seals.expected import expected_list
from pollstead.plan.terms.version import PlanVersion, SheetKind, Spare, Station
from pollstead.reconcile.changed.candidates import candidates
from pollstead.reconcile.changed.consequence import consequence
from pollstead.reconcile.changed.find import Thing, find
from pollstead.reconcile.changed.stand_ins import stand_ins
from pollstead.reconcile.changed.terms import Act, Change, Consequence, PlannedSheet, SheetInHand, State
from pollstead.reconcile.issued import Issued

COUNTS = {"ballot-scanner": 2, "check-in-desk": 1}
SITES = ("S01", "S02", "S03")
CREW = (
    Person(id="P001", name="Ida Fenwright", role="site lead", site="S01", phone="555-0110"),
    Person(id="P002", name="Tobin Oakley", role="deputy lead", site="S01"),
    Person(id="P005", name="Wren Castellan", role="warehouse manager", phone="555-0115"),
    Person(id="P006", name="Odell Briarly", role="driver", phone="555-0116"),
    Person(id="P007", name="Una Tolliver", role="driver", phone="555-0117"),
    Person(id="P008", name="Zelda Yarrow", role="reserve", phone="555-0118"),
)


def sheets_of(plan: PlanVersion) -> tuple[PlannedSheet, ...]:
    """A cover, opening and closing sheets and the expected list of each site, with contents that follow."""
    made = []
    for site in plan.sites:
        day = site.demand[0].date.isoformat()
        everything = hashlib.sha256(repr(site.stations).encode()).hexdigest()
        made.append(_sheet(site.site, SheetKind.COVER, "COVER", "", "cover"))
        for station in site.stations:
            for kind in (SheetKind.OPENING, SheetKind.CLOSING):
                # What stands on a blank sheet tells no device, so its words stay when one is swapped.
                key = f"{kind.name}/{day}/{station.id}"
                made.append(_sheet(site.site, kind, key, day, station.id, (station.id,)))
        made.append(_sheet(site.site, SheetKind.EXPECTED, f"EXPECTED/{day}", day, everything))
    return tuple(made)


def _sheet(
    site: str, kind: SheetKind, key: str, day: str, content: str, stations: tuple[str, ...] = ()
) -> PlannedSheet:
    return PlannedSheet(
        site=site,
        key=key,
        kind=kind,
        day=day,
        title=kind.value,
        about="",
        language="en-US",
        content=content,
        stations=stations,
    )


def state(election: Election, plan: PlanVersion) -> State:
    """Facts and plan with what follows from them."""
    lists = tuple(
        expected_list(election, plan, s.site, s.demand[0].date, plan_digest="0" * 64) for s in plan.sites
    )
    return State(election=election, plan=plan, digest="0" * 64, lists=lists, sheets=sheets_of(plan))


def swapped(plan: PlanVersion, station_id: str) -> PlanVersion:
    """The plan with another device at one station, with seals of its own."""

    def changed(station: Station) -> Station:
        if station.id != station_id:
            return station
        parts = tuple(
            msgspec.structs.replace(p, device=f"{p.device}-new", serial=f"{p.serial}-N") if p.device else p
            for p in station.parts
        )
        seals = tuple(msgspec.structs.replace(s, number=f"9{s.number[1:]}") for s in station.seals)
        return msgspec.structs.replace(station, parts=parts, seals=seals)

    sites = tuple(
        msgspec.structs.replace(site, stations=tuple(map(changed, site.stations))) for site in plan.sites
    )
    return msgspec.structs.replace(plan, sites=sites)


def in_hand(found: State, skip: frozenset[int] = frozenset()) -> tuple[SheetInHand, ...]:
    """Every sheet as printed, but those at some places of the list."""
    return tuple(
        SheetInHand(serial=f"SHEET-{number:03d}", sheet=sheet)
        for number, sheet in enumerate(found.sheets)
        if number not in skip
    )


def issued(found: State) -> Issued:
    """Every list as if issued."""
    return Issued(lists=found.lists, events=("",) * len(found.lists))


def swap(site: str = "S01") -> Change:
    """A swap at one site, in words."""
    words = message("A scanner is swapped.")
    return Change(
        act=Act.SWAP_DEVICE,
        sites=(site,),
        old_device="device/scanner/S01-1",
        new_device="device/scanner/S01-1-new",
        words=words,
        site_words=words,
    )


@pytest.fixture
def first(county: Any) -> State:
    """Three sites with two scanners and a check-in station each."""
    election = msgspec.structs.replace(county.election(SITES), people=CREW)
    return state(election, county.plan(COUNTS, SITES))


def _swap_at(first: State, site: int, number: int, skip: frozenset[int] = frozenset()) -> Consequence:
    name = SITES[site]
    plan = swapped(first.plan, f"station/{name}/ballot-scanner/{number}")
    return consequence(swap(name), first, state(first.election, plan), issued(first), in_hand(first, skip))


@hypothesis.given(
    site=st.integers(0, 2), number=st.integers(1, 2), skip=st.frozensets(st.integers(0, 30), max_size=12)
)
@hypothesis.settings(
    max_examples=25, deadline=None, suppress_health_check=[hypothesis.HealthCheck.function_scoped_fixture]
)
def test_a_swap_touches_nothing_outside_its_site(
    first: State, site: int, number: int, skip: frozenset[int]
) -> None:
    """Whatever was printed, lists, void, good and new sheets and calls are of the one site alone."""
    found = _swap_at(first, site, number, skip)
    name = SITES[site]
    assert found.sites == (name,)
    assert {day.site for day in found.site_days} == {name}
    assert {item.station for day in found.site_days for item in day.items} == {
        f"station/{name}/ballot-scanner/{number}"
    }
    sheets = [one.sheet for one in (*found.void, *found.prints, *found.good)]
    assert {sheet.site for sheet in sheets} <= {name}
    assert {call.site for call in found.calls} == {name}


@hypothesis.given(
    site=st.integers(0, 2), number=st.integers(1, 2), skip=st.frozensets(st.integers(0, 30), max_size=12)
)
@hypothesis.settings(
    max_examples=25, deadline=None, suppress_health_check=[hypothesis.HealthCheck.function_scoped_fixture]
)
def test_every_void_sheet_has_its_successor_or_a_reason_for_none(
    first: State, site: int, number: int, skip: frozenset[int]
) -> None:
    """A void sheet is taken the place of by exactly one new sheet that names it, or it says why by none."""
    found = _swap_at(first, site, number, skip)
    named = [serial for new in found.prints for serial in new.replaces]
    assert len(named) == len(set(named))
    for one in found.void:
        assert (one.successor is None) != (one.without is None)
        assert (one.serial in named) == (one.successor is not None)
    # Nothing is both void and good, and every sheet of the site is one of them.
    void, good = ({x.serial for x in side} for side in (found.void, found.good))
    assert not void & good
    held = {h.serial for h in in_hand(first, skip) if h.sheet.site == SITES[site]}
    assert void | good == held


@pytest.mark.parametrize(("site", "number"), [(0, 1), (1, 2), (2, 1)])
def test_undo_gives_back_the_content_of_the_old_lists(first: State, site: int, number: int) -> None:
    """There and back again, each expected thing is what it was, and the same sheets are made anew."""
    there = _swap_at(first, site, number)
    plan = swapped(first.plan, f"station/{SITES[site]}/ballot-scanner/{number}")
    after = state(first.election, plan)
    back = consequence(swap(SITES[site]), after, first, issued(after), in_hand(after))
    assert {(i.station, i.what, i.before, i.after) for d in there.site_days for i in d.items} == {
        (i.station, i.what, i.after, i.before) for d in back.site_days for i in d.items
    }
    assert [new.sheet.key for new in there.prints] == [new.sheet.key for new in back.prints]


def test_a_sheet_to_fill_in_is_void_though_nothing_on_it_changes(first: State) -> None:
    """The opening sheet of the swapped scanner tells no device, yet another one is now expected there."""
    found = _swap_at(first, 0, 1)
    assert [(v.sheet.kind, v.sheet.stations) for v in found.void] == [
        (SheetKind.CLOSING, ("station/S01/ballot-scanner/1",)),
        (SheetKind.EXPECTED, ()),
        (SheetKind.OPENING, ("station/S01/ballot-scanner/1",)),
    ]
    assert len(found.good) == 5  # the cover, and both sheets of the second scanner and of check-in


def test_a_sheet_that_is_no_longer_needed_has_no_successor(first: State) -> None:
    """A station that goes leaves its sheets void, with the reason; a site that goes, all of its sheets."""
    site = first.plan.site("S01")
    fewer = msgspec.structs.replace(site, stations=site.stations[1:])
    without = msgspec.structs.replace(first.plan, sites=(fewer, *first.plan.sites[1:]))
    found = consequence(swap(), first, state(first.election, without), issued(first), in_hand(first))
    gone = [v for v in found.void if v.successor is None]
    assert {v.sheet.stations for v in gone} == {("station/S01/ballot-scanner/1",)}
    assert all(v.without is not None and "nothing takes its place" in v.without.english() for v in gone)
    closed = msgspec.structs.replace(first.plan, sites=first.plan.sites[1:])
    found = consequence(swap(), first, state(first.election, closed), issued(first), in_hand(first))
    assert len(found.void) == 8 and not found.prints
    assert {v.without.english() for v in found.void if v.without} == {
        "The plan no longer has this site: nothing takes its place."
    }


def test_an_older_copy_that_still_fits_needs_no_third_one(first: State) -> None:
    """Of two printed copies one is void; it is not printed again, since the other one is good."""
    cover = next(s for s in first.sheets if s.kind is SheetKind.COVER and s.site == "S01")
    old = SheetInHand(serial="OLD", sheet=msgspec.structs.replace(cover, content="another cover"))
    plan = swapped(first.plan, "station/S01/ballot-scanner/1")
    found = consequence(swap(), first, state(first.election, plan), issued(first), (*in_hand(first), old))
    void = next(v for v in found.void if v.serial == "OLD")
    assert void.successor is None and void.without is not None and "is good" in void.without.english()
    assert not [new for new in found.prints if new.sheet.kind is SheetKind.COVER]


def test_people_are_called_once_each_with_every_role_and_reason(first: State) -> None:
    """Lead, deputy and both openers, the warehouse; a driver nobody names is an open item."""
    found = _swap_at(first, 0, 1)
    said = {call.name: [role.english() for role in call.roles] for call in found.calls}
    assert said == {
        "Ida Fenwright": ["site lead", "opens the building"],
        "Tobin Oakley": ["deputy", "opens the building"],
        "Wren Castellan": ["warehouse"],
        "driver": ["driver"],
    }
    assert {n.rule for n in found.notices} == {"call-without-phone", "call-person-not-told"}
    lead = next(call for call in found.calls if call.name == "Ida Fenwright")
    assert [why.english() for why in lead.why] == [
        "A scanner is swapped.",
        "Sheets void here: 3; new sheets that come: 3.",
    ]


def test_candidates_are_ranked_and_no_broken_device_can_be_chosen(first: State) -> None:
    """A tested spare comes first, one of another site last; what is broken or contradicted is barred."""
    devices = [
        Device(id=f"device/scanner/{name}", serial=name, kind="scanner", home=home, state=how)
        for name, home, how in (
            ("S01-1", "S01", "in service"),
            ("S02-1", "S02", "in service"),
            ("spare-a", "", "in service"),
            ("spare-b", "", "in service"),
            ("broken", "", "at repair"),
            ("doubtful", "", "in service"),
        )
    ]
    devices.append(Device(id="device/pad/1", serial="pad", kind="check-in computer"))
    plan = msgspec.structs.replace(
        first.plan, spares=(Spare(device="device/scanner/spare-a", kind="scanner", serial="spare-a"),)
    )
    election = msgspec.structs.replace(first.election, devices=tuple(devices))
    found = candidates(
        election,
        plan,
        "device/scanner/S01-1",
        contradicted=frozenset({"device/scanner/doubtful"}),
        tested=frozenset({"device/scanner/spare-b"}),
    )
    assert [c.serial for c in found] == ["spare-b", "spare-a", "S02-1", "broken", "doubtful"]
    assert [bool(c.blocked) for c in found] == [False, False, False, True, True]
    assert any("would keep" in words.english() for words in found[2].warnings)
    with pytest.raises(ValueError, match="no device"):
        candidates(election, plan, "device/scanner/none")


def test_reserves_of_the_same_party_stand_in_first(first: State) -> None:
    """Drivers and those who keep buildings are not asked; whoever is at another site is missed there."""
    people = (
        Person(id="P1", name="Gone", role="site lead", site="S01", party="party A"),
        Person(id="P2", name="Other", role="reserve", party="party B", phone="1"),
        Person(id="P3", name="Same", role="reserve", party="party A", phone="1"),
        Person(id="P4", name="Busy", role="site lead", site="S02", party="party A"),
        Person(id="P5", name="Wheel", role="driver"),
    )
    found = stand_ins(msgspec.structs.replace(first.election, people=people), "P1")
    assert [one.name for one in found] == ["Same", "Other", "Busy"]
    assert "one person short" in found[2].warnings[0].english()


def test_whatever_is_scanned_is_found(first: State) -> None:
    """Serial, tag, seal number, id and part of a name lead to the thing; a seal only by its whole number."""
    seal = first.plan.sites[0].stations[0].seals[0]
    cases = {
        "LM-S-0101": (Thing.DEVICE, "device/scanner/S01-1"),
        seal.number: (Thing.CLOSURE, seal.closure),
        "p002": (Thing.PERSON, "P002"),
        "fenwright": (Thing.PERSON, "P001"),
        "S03": (Thing.SITE, "S03"),
    }
    for typed, wanted in cases.items():
        hits = find(first.election, first.plan, typed)
        assert (hits[0].thing, hits[0].id) == wanted, typed
    assert find(first.election, first.plan, seal.number[:-1]) == ()
    assert find(first.election, first.plan, seal.number, seals=False) == ()
    assert find(first.election, first.plan, "  ") == ()
