"""Load-out: the order of stops, how far each thing is, overdue legs of earlier days, words on doors."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pollstead.election.county import Election
from pollstead.election.door_words import NOUNS, door_words, tidy_word
from pollstead.intake.folder import read_folder
from pollstead.reconcile.custody.legs import legs_of
from pollstead.reconcile.custody.loads import WAREHOUSE, Drive, LoadState, drives
from pollstead.reconcile.custody.not_back import not_back
from pollstead.reconcile.custody.places import held_things
from pollstead.record.event import Means, Part, Person
from pollstead.record.kinds import custody, days
from pollstead.record.write import Moment
from pollstead.work.loading import carts_of

SMALL = Path(__file__).resolve().parents[2] / "small"
HOUR = 3_600_000


@pytest.fixture(scope="module")
def county_facts() -> Election:
    """The small county with its table of stops."""
    found = read_folder(SMALL).election
    assert found is not None
    return found


def write(record: Any, body: Any, thing: str, at_ms: int, day: str = "2028-11-06") -> None:
    """One leg by the warehouse manager, with the two of the vehicle."""
    people = [Person(person="person/P011", means=Means.OWN_DEVICE, part=Part.AUTHOR)]
    people += [Person(person=f"person/P01{n}", means=Means.NAME_ONLY, part=Part.RECEIVER) for n in (0, 2)]
    record.count += 1
    record.recorder.record(
        body,
        subject=thing,
        people=tuple(people),
        moment=Moment(utc_ms=at_ms, offset_min=0, uncertainty_ms=0),
        site="site/S01",
        day=day,
        salt=record.count.to_bytes(32, "big"),
    )


def look(record: Any, facts: Election, now_ms: int = 0) -> tuple[Drive, ...]:
    """The drives by the whole record."""
    held = held_things(legs_of(record.fold()))
    return drives(facts, carts_of(facts), held, now_ms)


def test_stops_stand_in_the_order_of_driving_with_the_things_of_their_sites(county_facts: Election) -> None:
    """Each site's carts, cases and supply case stand at its stop and at no other; nothing is loaded yet."""
    first, second = drives(county_facts, carts_of(county_facts), {}, 0)
    assert [stop.site for stop in first.stops] == ["S02", "S01"]
    assert [stop.site for stop in second.stops] == ["S36"]
    for drive in (first, second):
        for stop in drive.stops:
            assert {thing.site for thing in stop.things} == {stop.site}
            assert f"box/{stop.site}" in {thing.thing for thing in stop.things}
    every = [thing.thing for drive in (first, second) for thing in drive.things]
    assert len(every) == len(set(every))
    homes = {d.cart for d in county_facts.devices if d.home}
    assert {thing.removeprefix("cart/") for thing in every if thing.startswith("cart/")} == homes
    assert first.count(LoadState.WAITS) == len(first.things)


def test_a_thing_goes_out_is_handed_over_and_comes_home(record: Any, county_facts: Election) -> None:
    """Each leg moves it one state on; a first stop's thing before a later stop's is told."""
    cart, at = "cart/cart-S01-S", 1_857_600_000_000

    def state() -> LoadState:
        found = next(t for d in look(record, county_facts) for t in d.things if t.thing == cart)
        return found.state

    steps = (
        (custody.ThingSent(from_place=WAREHOUSE, to_place="site/S01"), LoadState.LOADED),
        (days.ThingReceived(place="site/S01", state="received", from_place=WAREHOUSE), LoadState.AT_SITE),
        (custody.ThingSent(from_place="site/S01", to_place=WAREHOUSE), LoadState.COMING_BACK),
        (days.ThingReceived(place=WAREHOUSE, state="received", from_place="site/S01"), LoadState.BACK),
    )
    assert state() is LoadState.WAITS
    for number, (body, expected) in enumerate(steps):
        write(record, body, cart, at + number * HOUR)
        assert state() is expected
    drive = look(record, county_facts)[0]
    assert drive.later_waits("S02") and not drive.later_waits("S01")


def test_a_leg_of_an_earlier_day_is_told_as_overdue_on_election_day(
    record: Any, county_facts: Election
) -> None:
    """A cart that left on Monday and never arrived stands on Tuesday's list; Monday is no operating day."""
    left = 1_857_600_000_000
    body = custody.ThingSent(
        from_place=WAREHOUSE, to_place="site/S01", expected_utc_ms=left + HOUR, vehicle="V1"
    )
    write(record, body, "cart/cart-S01-S", left)
    held = held_things(legs_of(record.fold()))

    def told(now_ms: int) -> list[str]:
        found = not_back(county_facts, (), held, county_facts.election_day, now_ms)
        return [one.line.thing for one in found.things if one.overdue]

    grace_ms = county_facts.rules.whole("leg-grace") * 60_000
    assert told(left + HOUR + grace_ms) == []
    assert told(left + HOUR + grace_ms + 1) == ["cart/cart-S01-S"]
    [drive] = [d for d in look(record, county_facts, left + 9 * HOUR) if d.vehicle == "V1"]
    assert [thing.thing for thing in drive.things if thing.overdue] == ["cart/cart-S01-S"]


SITES = st.lists(st.from_regex(r"[A-Z]{1,2}[0-9]{1,3}", fullmatch=True), min_size=1, max_size=60, unique=True)


@settings(max_examples=60, deadline=None)
@given(sites=SITES)
def test_each_door_has_a_word_of_its_own_whatever_the_order(sites: list[str]) -> None:
    """No two sites share a word, and the order of the table changes none."""
    words = door_words(sites)
    assert len(set(words.values())) == len(sites)
    assert words == door_words(reversed(sites))
    for word in words.values():
        assert tidy_word(word.lower().replace("-", "  ")) == word


def test_a_new_site_leaves_the_cards_that_hang() -> None:
    """One more site among forty changes no other word, save where two fall on one."""
    sites = [f"S{n:02d}" for n in range(1, 41)]
    before, after = door_words(sites), door_words([*sites, "S41"])
    assert {site: after[site] for site in sites} == dict(before)
    assert len(set(NOUNS)) == len(NOUNS)
