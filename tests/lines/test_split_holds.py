"""What holds a number of a split: the reason named is the one that keeps it where it is."""

from __future__ import annotations

import msgspec
import pytest
from tests.lines.conftest import PAPER, a_site, county

from pollstead.plan.lines.split import split
from pollstead.plan.lines.split_holds import Hold, numbers_held
from pollstead.plan.lines.split_tables import within_bounds
from pollstead.plan.terms.lines import StationChoice
from pollstead.plan.terms.split import FleetKind, SiteBound, SplitAnswer, SplitGiven

pytestmark = pytest.mark.full


def holds(given: SplitGiven) -> tuple[SplitAnswer, dict[tuple[str, int], list[Hold]]]:
    """The split, and what holds each number by site and stage."""
    answer = split(given, 1).value
    assert isinstance(answer, SplitAnswer), answer
    found: dict[tuple[str, int], list[Hold]] = {}
    for one in numbers_held(given, answer):
        found.setdefault((one.site, one.stage), []).append(one.hold)
    return answer, found


def test_where_machines_are_short_the_machines_hold_the_numbers() -> None:
    """Every number above the least is held by the kind of device that it takes."""
    given = county(check_in=7, mark=18)
    answer, found = holds(given)
    assert all(price.worth_ms > 0 for price in answer.prices)
    for one in answer.sites:
        for stage in (0, 1):
            wanted = Hold.ONE if one.counts[stage] == 1 else Hold.DEVICES
            assert found[one.site, stage] == [wanted]


def test_a_person_a_room_and_a_kind_of_site_are_named_before_the_machines() -> None:
    """One site each; the room is named only where one more station would not fit."""
    given = county(check_in=7, mark=18)
    first, second, third, last = given.sites
    answer, _ = holds(given)
    counts = {one.site: one.counts for one in answer.sites}
    room = SiteBound(name="floor", unit="sq ft", each=(0, 10, 0, 0), most=10 * counts[first.id][1] + 9)
    lines = msgspec.structs.replace(second.lines, fixed=StationChoice(mark=counts[second.id][1]))
    most = msgspec.structs.replace(third.lines, ceiling=StationChoice(mark=counts[third.id][1]))
    sites = (
        msgspec.structs.replace(first, bounds=(room,)),
        msgspec.structs.replace(second, lines=lines),
        msgspec.structs.replace(third, lines=most),
        last,
    )
    again = msgspec.structs.replace(given, sites=sites)
    answer, found = holds(again)
    by_site = {one.site: one.counts for one in answer.sites}
    assert by_site == counts  # bounds at the numbers chosen change nothing
    assert found[first.id, 1] == [Hold.BOUND]
    assert found[second.id, 1] == [Hold.FIXED]
    assert Hold.MOST in found[third.id, 1]
    more = (by_site[first.id][0], by_site[first.id][1] + 1, 0, 0)
    assert within_bounds(sites[0], by_site[first.id]) and not within_bounds(sites[0], more)


def test_the_least_accessible_number_is_told_as_law_and_the_offices_own_least_as_its_own() -> None:
    """A floor above the law's is the office's; the accessible station's floor is the rule's."""
    site = a_site(
        "A",
        200,
        (2, 6, 1, 1),
        takes=((1, 0, 0, 0), (0, 0, 1, 0), (0, 0, 0, 1)),
        path=PAPER,
        floor=(3, 1, 1, 1),
        law_floor=(1, 1, 1, 1),
    )
    owned = (("check-in computer", 3), ("ballot-marking device", 1), ("scanner", 1))
    kinds = tuple(FleetKind(id=kind, owned=count) for kind, count in owned)
    answer, found = holds(SplitGiven(fleet=kinds, sites=(site,), days=16))
    assert [one.counts for one in answer.sites] == [(3, 6, 1, 1)]
    assert [found[site.id, stage] for stage in range(4)] == [
        [Hold.LEAST],
        [Hold.NO_DEVICE],
        [Hold.LAW_LEAST],
        [Hold.ONE],
    ]
