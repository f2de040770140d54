"""People overrule any number of the plan: honoured, beside what was computed, and nothing else moves."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pollstead.election.county import Election, FixedValue
from pollstead.plan.difference import compare
from pollstead.plan.fixing import FIELDS, need_row, packing_row
from pollstead.plan.terms.version import Decisions, PlanVersion, SitePlan

Planner = Callable[..., PlanVersion]
SITE = "S01"


def fix(table: str, row: str, field: str, value: object, reason: str = "agreed by phone") -> FixedValue:
    """One decision."""
    return FixedValue(table=table, row=row, field=field, value=str(value), reason=reason)


@pytest.fixture(scope="module")
def bare(county: Election) -> Election:
    """The small county without what its tables fix already."""
    return msgspec.structs.replace(county, fixed=())


@pytest.fixture(scope="module")
def first(bare: Election, plan_of: Planner) -> PlanVersion:
    """The plan that nobody overruled."""
    return plan_of(bare)


@pytest.fixture(scope="module")
def again(bare: Election, first: PlanVersion, plan_of: Planner) -> Callable[..., PlanVersion]:
    """Plan once more, after the first, with decisions."""

    def plan(*cells: FixedValue, election: Election | None = None) -> PlanVersion:
        return plan_of(election or bare, Decisions(fixed=cells), previous=first)

    return plan


def every_cell(county: Election, site: SitePlan) -> Iterator[FixedValue]:
    """One decision for each kind of cell of a site, each equal to what was computed."""
    day, count, need, line = site.demand[0], site.counts[0], site.seal_needs[0], site.packing[0]
    step = site.run_sheet[0]
    steps = county.station_type(step.station_type).set_up
    own = next(s for s in steps if f"{step.station_type}/{s.id}" == step.id)
    part = next(p for s in site.stations for p in s.parts if p.device)
    station = next(s.id for s in site.stations for p in s.parts if p.device == part.device)
    yield fix("stations", f"{site.site}/{count.station_type}", "count", count.count)
    yield fix("voters", f"{site.site}/{day.date.isoformat()}", "p50", day.voters.p50)
    yield fix("devices", part.device, "site", site.site)
    yield fix("devices", part.device, "station", station)
    yield fix("packing", packing_row(site.site, line), "quantity", line.quantity)
    yield fix("seal_needs", need_row(site.site, need), "quantity", need.quantity)
    yield fix("seal_needs", need_row(site.site, need), "extra", 0)
    yield fix("sites", site.site, "kind", site.kind)
    yield fix("set_up", f"{site.site}/{step.id}", "minutes", own.minutes)
    yield fix("set_up", f"{site.site}/{step.id}", "people", step.people)


MARKS = {"fixed", "reason", "computed", "kind_reason", "overruled", "decisions", "reasons", "parent"}


def plain(value: Any) -> Any:
    """A version without the marks of decisions and the sentences that tell them."""
    if isinstance(value, dict):
        return {key: plain(one) for key, one in value.items() if key not in MARKS}
    return [plain(one) for one in value] if isinstance(value, list | tuple) else value


def test_a_value_equal_to_the_computed_one_changes_nothing_but_the_mark(
    bare: Election, first: PlanVersion, again: Callable[..., PlanVersion]
) -> None:
    """For every field of every plan table: the same plan, with the decision told once."""
    unmarked = plain(msgspec.to_builtins(again()))
    tried = set()
    for cell in every_cell(bare, first.site(SITE)):
        version = again(cell)
        assert plain(msgspec.to_builtins(version)) == unmarked, cell
        (told,) = version.overruled
        assert (told.table, told.row, told.field, told.site) == (cell.table, cell.row, cell.field, SITE)
        assert told.computed == told.value and told.reason == "agreed by phone", told
        assert not told.cost, told
        tried.add((cell.table, cell.field))
    assert tried >= set(FIELDS) - {("set_up", "crew")}


def other_sites(version: PlanVersion) -> list[SitePlan]:
    """The plans of all sites but the one decided about."""
    return [site for site in version.sites if site.site != SITE]


def test_what_people_fix_at_one_site_moves_nothing_at_another(
    bare: Election, first: PlanVersion, again: Callable[..., PlanVersion]
) -> None:
    """Another number in each table of one site: the other sites' plans stay the same, machines too."""
    before = again()
    for cell in every_cell(bare, first.site(SITE)):
        if cell.field in ("kind", "site", "station"):
            continue
        raised = fix(cell.table, cell.row, cell.field, int(cell.value) + 1)
        version = again(raised)
        assert other_sites(version) == other_sites(before), raised
        assert version.site(SITE) != before.site(SITE), raised
        (told,) = version.overruled
        assert told.value == str(int(cell.value) + 1) and told.computed == cell.value, told


def test_each_decision_is_honored_in_its_own_row_and_what_follows_from_it(
    first: PlanVersion, again: Callable[..., PlanVersion]
) -> None:
    """Voters scale the day, minutes stretch the run sheet, seals change the county's need."""
    site = first.site(SITE)
    day, need, line = site.demand[0], site.seal_needs[0], site.packing[0]
    step = site.run_sheet[0]
    twice = again(fix("voters", f"{SITE}/{day.date.isoformat()}", "p50", 2 * day.voters.p50)).site(SITE)
    assert twice.demand[0].voters.p50 == 2 * day.voters.p50 == 2 * (twice.demand[0].computed or 0)
    assert twice.demand[0].fixed and twice.demand[0].reason == "agreed by phone"
    assert sum(c.count for c in twice.counts) > sum(c.count for c in site.counts)

    version = again(
        fix("seal_needs", need_row(SITE, need), "extra", 7),
        fix("packing", packing_row(SITE, line), "quantity", 0),
        fix("set_up", f"{SITE}/{step.id}", "minutes", 90),
    )
    mine = version.site(SITE)
    assert mine.seal_needs[0].quantity == need.quantity + 7 and mine.seal_needs[0].computed == need.quantity
    stock = {s.seal_kind: s.needed for s in version.seal_stock}
    had = {s.seal_kind: s.needed for s in first.seal_stock}
    assert stock[need.seal_kind] == had[need.seal_kind] + 7
    assert mine.packing[0].quantity == 0 and mine.packing[0].fixed
    longer = next(s for s in mine.run_sheet if s.id == step.id)
    assert longer.ends_min - longer.starts_min >= 90 and longer.fixed
    said = [m.english() for told in version.overruled for m in told.cost]
    assert "Against the computed number: +7." in said
    assert any("min; without it" in words for words in said)


def test_a_machine_fixed_to_a_station_stands_there_and_its_neighbor_makes_room(
    first: PlanVersion, again: Callable[..., PlanVersion]
) -> None:
    """Two machines of one kind: one is sent to the other's station, and only these two move."""
    places = {
        p.device: (s.id, p.part) for site in first.sites for s in site.stations for p in s.parts if p.device
    }
    one, other = next(
        (a, b)
        for a in places
        for b in places
        if places[a][1] == places[b][1]
        and places[a][0].split("/")[:3] == places[b][0].split("/")[:3]
        and a < b
    )
    version = again(fix("devices", one, "station", places[other][0]))
    now = {p.device: s.id for site in version.sites for s in site.stations for p in s.parts if p.device}
    assert now[one] == places[other][0] and now[other] == places[one][0]
    assert {d for d in now if now[d] != places[d][0]} <= {
        d for d in places if places[d][0] in (places[one][0], places[other][0])
    }
    (told,) = version.overruled
    assert told.computed == places[one][0] and told.cost


def test_another_kind_of_site_is_planned_for_this_plan_alone(
    bare: Election, first: PlanVersion, again: Callable[..., PlanVersion]
) -> None:
    """The kind that a person chose shapes the stations; the facts keep theirs."""
    kind = next(k.id for k in bare.site_kinds if k.id != first.site(SITE).kind)
    version = again(fix("sites", SITE, "kind", kind))
    assert version.site(SITE).kind == kind and version.site(SITE).kind_reason == "agreed by phone"
    (told,) = version.overruled
    assert told.computed == first.site(SITE).kind
    assert other_sites(version) == other_sites(again())


@pytest.mark.parametrize(
    ("table", "row", "field", "value"),
    [
        ("stations", "S01/nothing", "count", "2"),
        ("stations", "S01/x", "width", "2"),
        ("chairs", "S01", "count", "2"),
        ("voters", "S01/2028-11-07", "p50", "-3"),
        ("voters", "S01/2028-11-07", "p50", "many"),
        ("voters", "S01/2029-01-01", "p50", "30"),
        ("voters", "S01/2028-11-07", "p50", "1000001"),
        ("devices", "device/none/0001", "site", "S01"),
        ("packing", "S01/no such thing", "quantity", "2"),
        ("set_up", "S01/nothing/step", "minutes", "2"),
        ("set_up", "S01", "crew", "0"),
        ("seal_needs", "S01/none/opening", "quantity", "2"),
        ("sites", "S01", "kind", "no-such-kind"),
        ("sites", "S99", "kind", "no-such-kind"),
    ],
)
def test_what_fits_nothing_is_named_and_changes_nothing(
    again: Callable[..., PlanVersion], table: str, row: str, field: str, value: str
) -> None:
    """An unknown table, row or field, or a value out of range, is an open item that names all four."""
    version = again(fix(table, row, field, value))
    named = [n for n in version.notices if n.rule == "fixed-value"]
    assert [n.subject for n in named] == [f"{table}/{row}"]
    words = named[0].text.english()
    assert row in words and field in words and value in words and table in words
    assert not version.overruled
    changed = {c.table for c in compare(again(), version)}
    assert changed <= {"fixed", "notices"}


@pytest.mark.full
@settings(max_examples=8, deadline=None)
@given(site=st.sampled_from(("S01", "S02", "S36")), step=st.integers(0, 3), count=st.integers(0, 40))
def test_whatever_number_of_stations_is_fixed_other_sites_keep_theirs_or_the_shortage_is_told(
    first: PlanVersion, again: Callable[..., PlanVersion], site: str, step: int, count: int
) -> None:
    """No other number moves; a machine leaves another site only where an open item says that some lack."""
    before = again()
    kind = first.site(site).counts[step % len(first.site(site).counts)].station_type
    version = again(fix("stations", f"{site}/{kind}", "count", count))
    short = any(n.rule in ("fleet-short", "device-missing") for n in version.notices)
    for plan in version.sites:
        if plan.site != site:
            assert plan.counts == before.site(plan.site).counts
            assert short or plan.stations == before.site(plan.site).stations
    mine = next(c for c in version.site(site).counts if c.station_type == kind)
    assert mine.count == count and mine.fixed
