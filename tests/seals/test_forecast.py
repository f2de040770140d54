"""Seals by date and in bags: what the event plan takes, when a kind runs short, which block goes where."""

from __future__ import annotations

import datetime as dt

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pollstead.election.county import Election, SealRange
from pollstead.election.rules import CountyRules, RuleSetting
from pollstead.election.seal_stock import SealBlock
from pollstead.election.station_type import Closure, IdentifiedBy, Moment, Part, StationType, VoterStep
from pollstead.plan.seals.blocks import bags
from pollstead.plan.seals.forecast import forecast, site_needs, with_spoiled
from pollstead.plan.seals.ledger import LedgerGiven, seal_ledger
from pollstead.plan.seals.policy import needs_by_day, needs_of
from pollstead.plan.terms.demand import QuantileRow, SiteDayDemand
from pollstead.plan.terms.part import Effort
from pollstead.plan.terms.version import PartOfStation, PlanVersion, SitePlan, Station

DAY = dt.date(2028, 11, 7)
LID = Closure(
    id="lid",
    name="lid",
    part="m",
    seal_kind="tag",
    checked=(Moment.OPENING,),
    cut=Moment.OPENING,
    resealed=(Moment.CLOSING,),
)
BIN = Closure(id="bin", name="bin", part="m", seal_kind="wire", applied=Moment.OPENING, cut=Moment.CLOSING)
MACHINE = StationType(
    id="machine",
    name="Machine",
    step=VoterStep.CAST,
    parts=(Part(id="m", name="machine", identified_by=IdentifiedBy.SERIAL, device_kind="machine"),),
    closures=(LID, BIN),
)
NO_SPOIL = CountyRules(settings=(RuleSetting(rule="seal-spoil", value=0),))


def site(name: str, stations: int, days: int) -> SitePlan:
    """A site with machines, open on so many days up to election day."""
    none = QuantileRow(p10=0, p50=0, p90=0)
    demand = tuple(
        SiteDayDemand(
            site=name,
            date=DAY - dt.timedelta(days=back),
            opens_min=420,
            closes_min=1200,
            voters=none,
            slots=(),
        )
        for back in reversed(range(days))
    )
    return SitePlan(
        site=name,
        name=name,
        kind="k",
        demand=demand,
        counts=(),
        waits=None,
        stations=tuple(
            Station(
                id=f"station/{name}/machine/{n}",
                station_type="machine",
                number=n,
                parts=(
                    PartOfStation(
                        part="m",
                        name="machine",
                        quantity=1,
                        device=f"device/machine/{name}{n}",
                        by_serial=True,
                    ),
                ),
            )
            for n in range(1, stations + 1)
        ),
    )


def planned(*sites: SitePlan) -> PlanVersion:
    """A plan version of these sites."""
    return PlanVersion(
        snapshot="0" * 64, decisions="0" * 64, seed=1, effort=Effort.QUICK, engines=(), sites=sites
    )


def county(rules: CountyRules = NO_SPOIL, **more: object) -> Election:
    """A county with the one station type."""
    return Election(
        county="Larkmoor",
        name="Invented",
        election_day=DAY,
        zone_name="America/Chicago",
        station_types=(MACHINE,),
        rules=rules,
        **more,  # type: ignore[arg-type]
    )


@given(st.integers(1, 6))
def test_needs_by_day_add_up_to_the_needs_of_each_moment(days: int) -> None:
    """Whatever the days, the dated needs are the undated ones, spread."""
    for closure in (LID, BIN):
        told = {moment: 0 for moment, _ in needs_by_day(closure, days)}
        for (moment, _), count in needs_by_day(closure, days).items():
            told[moment] += count
        assert told == dict(needs_of(closure, days))


def test_a_kind_runs_short_on_the_day_that_takes_the_last_seal() -> None:
    """Two machines on three days: 2 tags after test, 2 at each of three closings, 8 in all; 5 suffice until
    the second closing (5 − 2 − 2 − 2 = −1)."""
    found = forecast(county(), planned(site("A", 2, 3)), {"tag": 5, "wire": 99}, {})
    tags = [
        (line.date, line.moment, line.needed, line.left) for line in found.lines if line.seal_kind == "tag"
    ]
    days = [DAY - dt.timedelta(days=back) for back in (2, 1, 0)]
    assert tags == [
        (None, Moment.AFTER_TEST, 2, 3),
        (days[0], Moment.CLOSING, 2, 1),
        (days[1], Moment.CLOSING, 2, -1),
        (days[2], Moment.CLOSING, 2, -3),
    ]
    short = found.short("tag")
    assert short is not None and short.date == days[1]
    assert found.short("wire") is None


def test_a_station_that_stands_on_some_days_takes_seals_on_those_alone() -> None:
    """The machine of early voting is sealed on two evenings, not on the third."""
    plan = site("A", 1, 3)
    early = tuple(msgspec.structs.replace(s, last_day=DAY - dt.timedelta(days=1)) for s in plan.stations)
    needs = site_needs(msgspec.structs.replace(plan, stations=early), {"machine": MACHINE})
    assert sum(n for (kind, date, _), n in needs.items() if kind == "tag" and date is not None) == 2


def test_seals_on_closures_already_cover_the_needs_after_test() -> None:
    """One of two seals after test is on: one more is needed, and only that one may be spoiled."""
    half = CountyRules(settings=(RuleSetting(rule="seal-spoil", value=500_000),))
    found = forecast(county(half), planned(site("A", 2, 1)), {"tag": 9}, {"tag": 1})
    assert [line.needed for line in found.lines if line.seal_kind == "tag"] == [1 + 2, 3]
    assert [with_spoiled(n, half) for n in (0, 1, 2, 3)] == [0, 2, 3, 5]


def test_blocks_are_in_a_row_and_shared_by_nobody() -> None:
    """Each bag gets numbers in a row; a block that people gave stays, and the rest goes around it."""
    ranges = (SealRange(seal_kind="tag", series="LM", first="0001", last="0040"),)
    given_block = SealBlock(site="B", seal_kind="tag", first="0003", last="0004", reason="small bag")
    election = county(seal_ranges=ranges, seal_blocks=(given_block,))
    ledger = seal_ledger(LedgerGiven(ranges=ranges, blocks=(given_block,)))
    found = bags(election, planned(site("A", 3, 1), site("B", 2, 1)), ledger)
    told = {
        b.site: [(x.first, x.last, x.given) for x in b.blocks] for b in found.bags if b.seal_kind == "tag"
    }
    # A needs 3 at closing: 0001 to 0002 is too short, so 0005 to 0007.
    assert told == {"A": [("0005", "0007", False)], "B": [("0003", "0004", True)]}
    assert dict(found.left)["tag"] == 40 - 3 - 2


@pytest.mark.parametrize(("stock", "short"), [(5, 0), (4, 1), (0, 5)])
def test_a_bag_says_how_many_it_lacks(stock: int, short: int) -> None:
    """Five are wanted: a stock of four lacks one."""
    ranges = tuple(
        SealRange(seal_kind="tag", series="LM", first="01", last=f"{stock:02d}") for _ in [0] if stock
    )
    found = bags(county(), planned(site("A", 5, 1)), seal_ledger(LedgerGiven(ranges=ranges)))
    [bag] = [bag for bag in found.bags if bag.seal_kind == "tag"]
    assert (bag.needed, bag.short) == (5, short)


@given(st.lists(st.integers(0, 6), min_size=1, max_size=4), st.lists(st.integers(1, 9), max_size=4))
def test_no_number_goes_into_two_bags(needs: list[int], runs: list[int]) -> None:
    """Whatever the store looks like, what is given out and what is left is the store, each number once."""
    at, ranges = 1, []
    for length in runs:
        ranges.append(
            SealRange(seal_kind="tag", series="LM", first=f"{at:03d}", last=f"{at + length - 1:03d}")
        )
        at += length + 2
    plan = planned(*(site(f"S{n}", count, 1) for n, count in enumerate(needs)))
    found = bags(county(), plan, seal_ledger(LedgerGiven(ranges=tuple(ranges))))
    numbers = [
        n
        for bag in found.bags
        if bag.seal_kind == "tag"
        for b in bag.blocks
        for n in range(int(b.first), int(b.last) + 1)
    ]
    assert len(numbers) == len(set(numbers))
    assert set(numbers) <= {n for r in ranges for n in range(int(r.first), int(r.last) + 1)}
    assert len(numbers) + dict(found.left).get("tag", 0) == sum(runs)
    assert sum(bag.short for bag in found.bags if bag.seal_kind == "tag") == max(0, sum(needs) - sum(runs))
