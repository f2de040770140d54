"""The whole plan: what is planned, what is not and why, what people fixed, what is assumed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import msgspec
import pytest

from pollstead.election.county import Election, FixedValue, FleetTotal
from pollstead.election.notice import Grade, Notice, NoticeKind
from pollstead.election.rules import CountyRules, RuleSetting
from pollstead.election.words import message
from pollstead.intake.folder import Intake
from pollstead.plan.compose import compose
from pollstead.plan.seals.expected import expected_list
from pollstead.plan.terms.part import Cancelled, Effort
from pollstead.plan.terms.version import NO_DECISIONS, Decisions, PlanVersion, Told

Planner = Callable[..., PlanVersion]
KindCounty = Callable[[str], Intake]


@pytest.mark.parametrize("letter", list("ABCDE"))
def test_each_kind_of_site_is_planned_from_its_shipped_types(
    letter: str, county_of_kind: KindCounty, plan_of: Planner
) -> None:
    """Kinds A to E each give stations of every type, packing, run sheet, seal needs and expected lists."""
    intake = county_of_kind(letter)
    assert not intake.faults and intake.election is not None
    plan = plan_of(intake.election, told=Told(notices=intake.notices))
    [site] = plan.sites
    kind = intake.election.site_kind(site.kind)
    assert [c.station_type for c in site.counts] == [u.station_type for u in kind.uses]
    for count, use in zip(site.counts, kind.uses, strict=True):
        assert count.count >= (use.minimum if use.fixed is None else use.fixed)
        mine = [s for s in site.stations if s.station_type == count.station_type]
        assert [s.number for s in mine] == list(range(1, count.count + 1))
    assert site.packing and site.run_sheet and site.seal_needs
    for day in (dt.date(2028, 11, 6), dt.date(2028, 11, 7)):
        assert expected_list(intake.election, plan, "T1", day).items
    first, second = (
        {i.value for i in expected_list(intake.election, plan, "T1", d).items if i.what == "counter"}
        for d in (dt.date(2028, 11, 6), dt.date(2028, 11, 7))
    )
    if letter == "C":
        assert "carried over" in second and "carried over" not in first
    assert {a.field for a in site.assumptions} >= {"kind", "room", "outlets", "people"}


def test_a_fixed_number_is_honoured_and_its_cost_told(county: Election, plan_of: Planner) -> None:
    """A person's number stands, the computed one beside it, and the reason has both with their days."""
    site, count = next((s.site, c) for s in plan_of(county).sites for c in s.counts if not c.fixed and c.step)
    fixed = FixedValue(
        table="stations",
        row=f"{site}/{count.station_type}",
        field="count",
        value=str(count.count + 3),
        reason="A second entrance",
    )
    after = plan_of(county, Decisions(fixed=(fixed,)))
    [found] = [c for c in after.site(site).counts if c.station_type == count.station_type]
    assert (found.count, found.computed, found.fixed, found.reason) == (
        count.count + 3,
        count.count,
        True,
        "A second entrance",
    )
    [reason] = [r for r in after.site(site).reasons if r.field == f"stations {count.station_type}"]
    told = {f.name: f.value for f in reason.figures}
    cost = county.station_type(count.station_type).cost
    assert int(told["Fixed"]) - int(told["Computed"]) == 3
    difference = int(told["Cost of all stations of the site"]) - int(told["The same without fixed numbers"])
    mine = [c for c in after.site(site).counts if c.fixed and c.station_type != count.station_type]
    already = sum((c.count - (c.computed or 0)) * county.station_type(c.station_type).cost for c in mine)
    assert difference == 3 * cost + already


def test_a_fixed_value_moves_nothing_of_another_site(
    county: Election, planned: PlanVersion, plan_of: Planner
) -> None:
    """Other sites keep every station, serial, seal and packing line when the earlier version is at hand."""
    site = planned.sites[0]
    count = next(c for c in site.counts if not c.fixed and c.step)
    fixed = FixedValue(
        table="stations",
        row=f"{site.site}/{count.station_type}",
        field="count",
        value=str(count.count + 1),
        reason="Asked for",
    )
    after = plan_of(county, Decisions(fixed=(fixed,)), previous=planned)
    for other in planned.sites[1:]:
        assert after.site(other.site) == other


@pytest.mark.parametrize(
    ("row", "field", "value"),
    [
        ("S99/x", "count", "3"),
        ("", "count", "3"),
        ("{row}", "count", "many"),
        ("{row}", "colour", "3"),
        ("{row}", "count", "-1"),
        ("{row}", "count", "501"),
        ("{row}", "count", "²"),
    ],
)
def test_a_fixed_value_that_fits_nothing_is_an_open_item(
    row: str, field: str, value: str, county: Election, plan_of: Planner
) -> None:
    """A row, field or value that the plan does not have is named and changes nothing."""
    site = county.sites[0]
    assert site.kind is not None
    known = f"{site.id}/{county.site_kind(site.kind).uses[0].station_type}"
    fixed = FixedValue(table="stations", row=row.format(row=known), field=field, value=value, reason="r")
    plan = plan_of(county, Decisions(fixed=(fixed,)))
    assert any(n.rule == "fixed-value" and n.day == field for n in plan.notices)
    assert [c.count for c in plan.site(site.id).counts] == [
        c.count for c in plan_of(county).site(site.id).counts
    ]


def test_none_of_the_accessible_stations_is_a_rule_not_met(county: Election, plan_of: Planner) -> None:
    """A person may fix 0 accessible stations; the plan says which rule is not met and who decides."""
    site = county.sites[0]
    assert site.kind is not None
    uses = county.site_kind(site.kind).uses
    accessible = next(u.station_type for u in uses if county.station_type(u.station_type).accessible)
    fixed = FixedValue(
        table="stations", row=f"{site.id}/{accessible}", field="count", value="0", reason="Being repaired"
    )
    [notice] = [
        n for n in plan_of(county, Decisions(fixed=(fixed,))).notices if n.rule == "accessible-stations"
    ]
    assert (notice.kind, notice.subject) == (NoticeKind.RULE_NOT_MET, f"site/{site.id}")
    assert notice.who_decides == "counsel"


def test_fewer_than_the_kind_of_site_has_at_least_is_a_rule_not_met(
    county: Election, plan_of: Planner
) -> None:
    """Nothing fixed to cast with: the number is honored and the plan says what the kind asks for."""
    site = county.sites[0]
    assert site.kind is not None
    use = next(
        u for u in county.site_kind(site.kind).uses if county.station_type(u.station_type).step == "cast"
    )
    row = f"{site.id}/{use.station_type}"
    fixed = FixedValue(table="stations", row=row, field="count", value="0", reason="Being repaired")
    plan = plan_of(county, Decisions(fixed=(fixed,)))
    [notice] = [n for n in plan.notices if n.rule == "stations-minimum"]
    assert (notice.kind, notice.subject) == (NoticeKind.RULE_NOT_MET, f"site/{row}")
    assert (notice.found, notice.wanted) == ("0", str(use.minimum))
    assert not [n for n in plan_of(county).notices if n.rule == "stations-minimum"]


def test_a_site_whose_facts_contradict_is_not_planned_and_said(county: Election, plan_of: Planner) -> None:
    """A contradiction about one site leaves that site out, says so, and plans the others."""
    fault = Notice(
        kind=NoticeKind.FAULT,
        grade=Grade.CONTRADICTS,
        rule="hours-overlap",
        subject=f"site/{county.sites[0].id}",
        text=message("Opens twice"),
    )
    plan = plan_of(county, told=Told(notices=(fault,), leave_out=(county.sites[1].id,)))
    assert [s.site for s in plan.sites] == [s.id for s in county.sites[2:]]
    said = {n.subject for n in plan.notices if n.rule == "site-not-planned"}
    assert said == {f"site/{s.id}" for s in county.sites[:2]}
    assert fault in plan.notices


def test_a_device_whose_facts_contradict_stands_nowhere(county: Election, plan_of: Planner) -> None:
    """A serial that stands twice in the fleet is placed nowhere until the fault is corrected."""
    first = next(d for d in county.devices if d.state == "in service")
    fault = Notice(
        kind=NoticeKind.FAULT,
        grade=Grade.CONTRADICTS,
        rule="serial-twice",
        subject=first.id,
        text=message("Twice"),
    )
    plan = plan_of(county, told=Told(notices=(fault,)))
    placed = {p.device for s in plan.sites for st in s.stations for p in st.parts}
    assert first.id not in placed | {s.device for s in plan.spares}


def test_a_county_that_forbids_every_site_gets_an_empty_plan(county: Election, plan_of: Planner) -> None:
    """A contradiction that bears on all sites plans none and names each."""
    plan = plan_of(county, told=Told(leave_out=("*",)))
    assert plan.sites == ()
    assert len([n for n in plan.notices if n.rule == "site-not-planned"]) == len(county.sites)


def test_without_kinds_of_site_nothing_is_planned_and_said(county: Election, plan_of: Planner) -> None:
    """No kind of site, no stations: each site is named with what to do."""
    bare = msgspec.structs.replace(
        county,
        site_kinds=(),
        fixed=(),
        sites=tuple(msgspec.structs.replace(s, kind=None) for s in county.sites),
    )
    plan = plan_of(bare)
    assert plan.sites == ()
    assert all(n.remedy for n in plan.notices if n.rule == "site-not-planned")


def test_what_the_county_confirmed_is_no_assumption(county: Election, plan_of: Planner) -> None:
    """A rule that the county set leaves the list of assumptions; a default is in it."""
    settings = tuple(s for s in county.rules.settings if s.rule != "wait-limit")
    without = msgspec.structs.replace(county, rules=CountyRules(settings=settings))
    both = msgspec.structs.replace(
        county, rules=CountyRules(settings=(*settings, RuleSetting(rule="wait-limit", value=20)))
    )
    assert "rule/wait-limit" in {a.subject for a in plan_of(without).assumptions}
    plan = plan_of(both)
    assert "rule/wait-limit" not in {a.subject for a in plan.assumptions}
    assert all(s.waits is not None and s.waits.limit_ms == 20 * 60_000 for s in plan.sites)


def test_each_assumption_names_the_list_that_would_replace_it(planned: PlanVersion) -> None:
    """Every missing value says which table of the county folder would tell it."""
    every = [*planned.assumptions, *(a for s in planned.sites for a in s.assumptions)]
    assert every
    assert all(a.list_wanted.endswith((".csv", ".toml")) for a in every)
    assert len({(a.subject, a.field) for a in every}) == len(every)


def test_totals_equal_what_stands_at_the_sites(planned: PlanVersion) -> None:
    """Planned devices of each kind are exactly the places for serials of all stations."""
    parts = [p for s in planned.sites for st in s.stations for p in st.parts if p.by_serial]
    assert sum(t.planned for t in planned.totals) == len(parts)
    assert sum(t.short for t in planned.totals) == sum(1 for p in parts if not p.device)
    for reason in planned.reasons:
        if reason.field == "planned":
            [total] = [t for t in planned.totals if f"device/{t.kind}" == reason.subject]
            assert reason.figures[0].value == f"{total.planned:,}"


def test_a_fleet_known_by_totals_alone_is_planned(county: Election, plan_of: Planner) -> None:
    """Three lists are enough: places, voters and machine totals give stations without serials."""
    kinds = {d.kind for d in county.devices}
    totals = tuple(FleetTotal(kind=k, count=3) for k in sorted(kinds))
    bare = msgspec.structs.replace(county, devices=(), closure_seals=(), fleet_totals=totals)
    plan = plan_of(bare)
    assert all(p.serial == "" for s in plan.sites for st in s.stations for p in st.parts)
    assert {n.subject for n in plan.notices if n.rule == "fleet-short"} == {
        f"device/{t.kind}" for t in plan.totals if t.planned > 3
    }


def test_planned_voters_of_several_days_are_a_percentile_of_their_sum(
    county: Election, planned: PlanVersion
) -> None:
    """A site of four days packs for the 90th percentile of all days together, never for less than any day."""
    several = next(s for s in planned.sites if len(s.demand) > 1)
    voters = {
        int(p.value) for line in several.packing for w in line.why for p in w.params if p.name == "voters"
    }
    [packed] = voters
    assert max(d.voters.p90 for d in several.demand) < packed <= sum(d.voters.p90 for d in several.demand)


def test_no_number_to_be_entered_stands_in_a_packing_list(county: Election, planned: PlanVersion) -> None:
    """Serials, seal numbers and memory devices are told by the expected list alone."""
    secrets = {d.serial for d in county.devices} | {s.number for s in county.closure_seals}
    secrets |= {m for d in county.devices for m in d.memory_devices}
    for site in planned.sites:
        text = msgspec.json.encode(site.packing).decode()
        assert not [secret for secret in secrets if secret in text]


class _Stop:
    """A watch that stops at a part."""

    def __init__(self, part: str) -> None:
        self.part = part

    def step(self, part: str, done: int, total: int) -> None:
        """Raise at the part."""
        if part == self.part:
            raise Cancelled(part)


@pytest.mark.parametrize("part", ["demand", "stations", "seals", "supplies", "run sheets"])
def test_a_plan_can_be_stopped_in_every_part(
    part: str, county: Election, rule_of_thumb: Callable[..., Any]
) -> None:
    """Whoever watches can stop the work; nothing half-done comes back."""
    with pytest.raises(Cancelled):
        compose(county, "", NO_DECISIONS, 1, Effort.QUICK, _Stop(part), lines_run=rule_of_thumb)


def test_another_seed_gives_other_voters_and_the_same_seed_the_same(
    county: Election, planned: PlanVersion, plan_of: Planner
) -> None:
    """The root seed is part of the version."""
    assert plan_of(county) == planned
    other = plan_of(county, seed=2)
    assert other.seed == 2
    assert [s.demand for s in other.sites] != [s.demand for s in planned.sites]
