"""The split of a fleet: least waits under brute force, a bound, people obeyed, shortages named."""

from __future__ import annotations

import itertools

import msgspec
import pytest
from tests.lines.conftest import NOTHING, PAPER, SIZES, a_site, county, fleet

from pollstead.plan.lines.split import split
from pollstead.plan.lines.split_compare import Why, facts_of, what_moved
from pollstead.plan.lines.split_fresh import by_load, fresh
from pollstead.plan.lines.split_tables import Tables, range_of, respond, uses
from pollstead.plan.terms.lines import StationChoice
from pollstead.plan.terms.part import Cancelled
from pollstead.plan.terms.split import FleetKind, Goal, NoSplit, SiteBound, SplitAnswer, SplitGiven

pytestmark = pytest.mark.full


def answered(given: SplitGiven, seed: int = 1) -> SplitAnswer:
    """The split, which must be there."""
    found = split(given, seed).value
    assert isinstance(found, SplitAnswer), found
    return found


@pytest.mark.parametrize("goal", [Goal.TOTAL, Goal.WORST])
def test_no_split_of_the_numbers_tried_is_better(goal: Goal) -> None:
    """Every combination of every number around the answer, tried by brute force on the same days."""
    given = county(check_in=7, mark=18, goal=goal)
    answer = answered(given)
    sites = sorted(given.sites, key=lambda site: site.key)
    around = [
        [(a, b, 0, 0) for a in (1, 2, 3) for b in range(max(1, one.counts[1] - 2), one.counts[1] + 3)]
        for one in answer.sites
    ]
    tables = [
        respond(site.lines, mine, 1, 0, given.days)[0] for site, mine in zip(sites, around, strict=True)
    ]
    limits = [kind.available for kind in given.fleet]
    best = None
    for picked in itertools.product(*tables):
        if sum(r.counts[0] for r in picked) > limits[0] or sum(r.counts[1] for r in picked) > limits[1]:
            continue
        total = sum(row.wait_ms for row in picked)
        value = total if goal is Goal.TOTAL else max(row.longest_ms for row in picked)
        best = value if best is None else min(best, value)
    assert answer.value == best
    assert answer.bound <= answer.value
    assert answer.best_of_tried


def test_a_blend_keeps_the_worst_site_near_the_least_and_then_makes_all_waits_least() -> None:
    """Between the two goals in both figures."""
    total, worst, blend = (
        answered(county(check_in=7, mark=18, goal=goal, within_ppm=50_000)) for goal in Goal
    )
    assert worst.worst_ms <= blend.worst_ms <= worst.worst_ms * 105 // 100 + 1
    assert total.wait_ms <= blend.wait_ms <= worst.wait_ms


def test_the_multipliers_prove_the_bound_by_hand() -> None:
    """Site by site the least of waiting plus price, less the price of the fleet."""
    given = county(check_in=7, mark=18)
    answer = answered(given)
    sites = sorted(given.sites, key=lambda site: site.key)
    proved = -sum(m * kind.available for m, kind in zip(answer.multipliers, given.fleet, strict=True))
    for site, one in zip(sites, answer.sites, strict=True):
        a, b = one.counts[0], one.counts[1]
        near = [(c, d, 0, 0) for c in range(max(1, a - 1), a + 2) for d in range(max(1, b - 1), b + 2)]
        rows, _, _ = respond(site.lines, near, 1, 0, given.days)
        proved += min(
            row.wait_ms + sum(m * u for m, u in zip(answer.multipliers, uses(site, row.counts), strict=True))
            for row in rows
        )
    assert proved >= answer.bound  # fewer numbers than were tried: their least is no less
    assert answer.value - answer.bound <= max(one.before.wait_ms for one in answer.sites if one.before)


def test_the_order_of_sites_and_the_number_of_threads_change_nothing() -> None:
    """Sites go by their seed keys."""
    given = county(check_in=7, mark=18)
    turned = msgspec.structs.replace(given, sites=given.sites[::-1])
    assert answered(given) == answered(turned) == split(given, 1, workers=2).value


def test_what_a_person_fixed_is_kept_and_so_is_what_takes_no_device() -> None:
    """The rest of the fleet goes around it."""
    sites = [a_site(name, voters, (2, 5, 0, 0)) for name, voters in SIZES.items()]
    sites[0] = a_site("S01", 300, (2, 5, 0, 0), fixed=StationChoice(mark=7))
    sites[1] = a_site("S02", 520, (2, 9, 0, 0), takes=((1, 0, 0, 0), NOTHING))
    given = county(mark=17, sites=tuple(sites))
    answer = answered(given)
    by_site = {one.site: one.counts for one in answer.sites}
    assert by_site["site/S01"][1] == 7
    assert by_site["site/S02"][1] == 9
    assert sum(counts[1] for site, counts in by_site.items() if site != "site/S02") <= 17


def test_bounds_of_the_room_hold() -> None:
    """A site with power for six stations gets no seventh, whatever its line says."""
    bound = SiteBound(name="power", unit="W", each=(100, 200, 0, 0), most=1_200)
    sites = [a_site(name, voters, (2, 5, 0, 0)) for name, voters in SIZES.items()]
    sites[2] = a_site("S03", 700, (2, 5, 0, 0), bounds=(bound,))
    answer = answered(county(sites=tuple(sites)))
    counts = answer.sites[2].counts
    assert counts[0] * 100 + counts[1] * 200 <= 1_200
    assert sum(counts) < sum(answered(county()).sites[2].counts)


def test_a_fleet_too_small_for_the_least_numbers_is_told_with_site_and_number() -> None:
    """A notice, no exception; also for a room that cannot hold a site's least."""
    given = county(check_in=3)
    found = split(given, 1).value
    assert isinstance(found, NoSplit)
    (notice,) = found.notices
    assert (notice.found, notice.wanted) == ("3", "4")
    assert "check-in computer short by 1" in notice.text.english()
    assert "S03 1" in notice.text.english()
    tight = SiteBound(name="room", unit="sq ft", each=(30, 30, 0, 0), most=50)
    sites = (*given.sites[:3], a_site("S04", 260, (2, 5, 0, 0), bounds=(tight,)))
    found = split(county(sites=sites), 1).value
    assert isinstance(found, NoSplit)
    assert [(n.subject, n.wanted, n.found) for n in found.notices] == [("site/S04", "60", "50")]


def test_a_site_with_far_more_than_the_fleet_holds_gets_down_to_what_there_is() -> None:
    """What sites have now may be more than there is; the split holds the fleet all the same."""
    sites = tuple(a_site(name, voters, (6, 20, 0, 0)) for name, voters in SIZES.items())
    given = county(check_in=8, mark=16, sites=sites)
    answer = answered(given)
    assert sum(one.counts[1] for one in answer.sites) <= 16
    assert answered(county(check_in=8, mark=16)).value == answer.value


def test_a_stay_cost_keeps_sites_as_they_are_where_little_is_saved() -> None:
    """With a great one nothing moves, where what sites have fits the fleet; the waits never get less."""
    free = answered(county(check_in=8, mark=20))
    some = answered(county(check_in=8, mark=20, stay_ms=3 * 60_000_000))
    much = answered(county(check_in=8, mark=20, stay_ms=10**10))
    assert free.changes >= some.changes >= much.changes == 0
    assert free.wait_ms <= some.wait_ms <= much.wait_ms


def test_the_worth_of_one_more_is_at_least_what_one_more_saves() -> None:
    """The price bounds the saving of one device; and a kind that is left over is worth nothing."""
    given = county(check_in=9, mark=16)
    answer = answered(given)
    more = msgspec.structs.replace(given, fleet=fleet(9, 17))
    saved = (answer.value - answered(more).value) // given.days
    price = {price.kind: price for price in answer.prices}["marking device"]
    slack = (answer.value - answer.bound) // given.days + 1
    assert 0 < saved <= price.worth_ms + slack
    plenty = answered(county(check_in=120, mark=120))
    assert [one.worth_ms for one in plenty.prices] == [0, 0]
    assert all(one.used < one.available for one in plenty.prices)


def test_only_the_office_s_own_choices_have_a_price() -> None:
    """A least number of its own and what it holds back; never the part of a floor that the law sets."""
    sites = [
        a_site(name, voters, (2, 5, 0, 0), floor=(1, 6, 0, 0), law_floor=(1, 1, 0, 0))
        for name, voters in SIZES.items()
    ]
    given = county(sites=tuple(sites), fleet=fleet(9, 26, held_back=1))
    kinds = {(price.policy, price.kind or price.site) for price in answered(given).policies}
    assert ("hold back", "marking device") in kinds
    assert {site for policy, site in kinds if policy == "least number"} <= {"site/S01", "site/S04"}
    assert any(policy == "least number" for policy, _ in kinds)
    by_law = tuple(msgspec.structs.replace(s, law_floor=(1, 6, 0, 0)) for s in sites)
    held = (fleet(9, 27)[0], FleetKind(id="marking device", owned=26, held_back=1, hold_back_is_policy=False))
    assert answered(msgspec.structs.replace(given, sites=by_law, fleet=held)).policies == ()


def test_an_accessible_station_s_least_number_is_never_priced() -> None:
    """Not even where the office asks for more than the law does."""
    takes = ((1, 0, 0, 0), NOTHING, (0, 0, 1, 0))
    kinds = (
        FleetKind(id="check-in computer", owned=4),
        FleetKind(id="booth", owned=0),
        FleetKind(id="ballot-marking device", owned=4),
    )
    sites = tuple(
        a_site(
            name,
            400,
            (2, 6, 2, 1),
            takes=takes,
            path=PAPER,
            floor=(1, 1, 2, 1),
            law_floor=(1, 1, 1, 1),
        )
        for name in ("S01", "S02")
    )
    answer = answered(SplitGiven(fleet=kinds, sites=sites, days=8))
    assert [one.counts[2] for one in answer.sites] == [2, 2]
    assert all(price.stage != "mark, accessible" for price in answer.policies)


def test_fresh_days_and_the_split_by_load() -> None:
    """The split by load uses the fleet, holds every bound, and on fresh days the split waits less."""
    given = county(check_in=8, mark=18)
    load = by_load(given)
    assert sum(c[0] for c in load.values()) == 8 and sum(c[1] for c in load.values()) == 18
    assert load["site/S03"][1] > load["site/S02"][1] > load["site/S04"][1]
    found = fresh(given, answered(given), 1, 48)
    assert found.split_ms == sum(site.split.wait_ms for site in found.sites) <= found.load_ms
    assert found.gain_ppm >= 0
    assert found.county.sites == 4 and found.areas == ()


def test_the_table_of_areas_and_languages_adds_up_to_the_county() -> None:
    """Voters of all areas together are the county's; sites without language assistance have a row."""
    places = {
        "S01": ("north", ()),
        "S02": ("north", ("es",)),
        "S03": ("south", ("es", "vi")),
        "S04": ("south", ()),
    }
    sites = tuple(
        a_site(name, SIZES[name], (2, 5, 0, 0), area=area, languages=spoken)
        for name, (area, spoken) in places.items()
    )
    given = county(check_in=8, mark=18, sites=sites)
    found = fresh(given, answered(given), 1, 16)
    assert [row.group for row in found.areas] == ["north", "south"]
    assert [(row.group, row.sites) for row in found.languages] == [("es", 2), ("vi", 1), ("", 2)]
    assert sum(row.voters for row in found.areas) == found.county.voters
    for row in found.areas:
        assert row.more_ms == row.split_ms - found.county.split_ms


def test_what_moved_says_why() -> None:
    """Its own voters, the fleet, the goal, or the others."""
    given = county(check_in=8, mark=18)
    before = answered(given)
    fewer = msgspec.structs.replace(given, fleet=fleet(8, 15))
    moves = what_moved(facts_of(fewer), answered(fewer), facts_of(given), before)
    assert moves and {move.why for move in moves} == {Why.THE_FLEET}
    assert all(sum(move.after) < sum(move.before) for move in moves)
    grown = msgspec.structs.replace(given, sites=(*given.sites[:3], a_site("S04", 620, (2, 5, 0, 0))))
    moves = what_moved(facts_of(grown), answered(grown), facts_of(given), before)
    why = {move.site: move.why for move in moves}
    assert why.pop("site/S04") is Why.ITS_VOTERS
    assert set(why.values()) == {Why.OTHERS}
    assert what_moved(facts_of(given), before, facts_of(given), before) == ()


def test_a_stop_is_heard() -> None:
    """Nothing half-done is given."""

    class Stop:
        def step(self, part: str, done: int, total: int) -> None:
            raise Cancelled

    with pytest.raises(Cancelled):
        split(county(), 1, watch=Stop())


def test_several_days_of_a_site_add_up() -> None:
    """Alike days count as often as they are there; the longest wait is that of the worst day."""
    site = a_site("S01", 300, (2, 4, 0, 0))
    (day,) = site.lines.days
    twice = msgspec.structs.replace(
        site.lines, days=(day, msgspec.structs.replace(day, date=day.date.replace(day=8)))
    )
    one, voters, passes = respond(site.lines, [site.has], 1, 0, 8)
    two, voters_twice, passes_twice = respond(twice, [site.has], 1, 0, 8)
    assert (two[0].wait_ms, voters_twice) == (2 * one[0].wait_ms, 2 * voters)
    assert (two[0].longest_ms, passes_twice) == (one[0].longest_ms, passes)


def test_numbers_are_tried_once() -> None:
    """A second look costs no work, and a table holds what was tried."""
    site = a_site("S01", 300, (2, 4, 0, 0))
    tables = Tables((site,), 1, 8)
    tables.try_([(0, [(2, 4, 0, 0), (2, 5, 0, 0)])])
    passes = tables.passes
    tables.try_([(0, [(2, 5, 0, 0)])])
    assert tables.passes == passes
    table = tables.table(0)
    assert (table.low, table.high) == ((2, 4, 0, 0), (2, 5, 0, 0))
    assert table.at((2, 9, 0, 0)) is None and table.at((2, 5, 0, 0)) is not None
    assert range_of(site, fleet(3, 4)).high == (3, 4, 0, 0)
