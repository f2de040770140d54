"""What changed between two plan versions, told without any seal's number."""

from __future__ import annotations

from collections.abc import Callable

import msgspec

from pollstead.election.county import Election, FixedValue
from pollstead.plan.difference import TABLES, compare
from pollstead.plan.terms.version import Decisions, PlanVersion

Planner = Callable[..., PlanVersion]


def test_a_version_does_not_differ_from_itself(planned: PlanVersion) -> None:
    """Nothing changed, nothing told."""
    assert compare(planned, planned) == ()


def test_each_table_has_words_and_a_reader(planned: PlanVersion) -> None:
    """Two unlike plans differ in known tables alone, in their order, each change with a whole sentence."""
    bare = msgspec.structs.replace(
        planned, sites=planned.sites[1:], totals=(), spares=(), fixed=(), assumptions=(), notices=()
    )
    changes = compare(planned, bare)
    tables = list(dict.fromkeys(c.table for c in changes))
    assert tables == sorted(tables, key=TABLES.index)
    assert {"sites", "devices", "fleet", "assumptions"} <= set(tables)
    assert all(c.words.english().endswith(".") for c in changes)
    assert [c.row for c in changes if c.table == "sites"] == [f"site/{planned.sites[0].site}"]
    # A site that went is told once, not once more by each of its packing lines.
    assert "packing" not in tables


def test_a_re_sealed_device_is_named_without_its_number(
    county: Election, planned: PlanVersion, plan_of: Planner
) -> None:
    """Another number on a closure is a change that shows the closure and never the number."""
    placed = {p.device for s in planned.sites for st in s.stations for p in st.parts}
    seal = next(s for s in county.closure_seals if s.device in placed)
    changed = msgspec.structs.replace(seal, number=f"{seal.number}9")
    seals = tuple(changed if s is seal else s for s in county.closure_seals)
    after = plan_of(msgspec.structs.replace(county, closure_seals=seals))
    [change] = [c for c in compare(planned, after) if c.table == "seals"]
    assert (change.field, change.before, change.after) == (
        "number",
        "recorded",
        "recorded with another number",
    )
    assert not any(seal.number in c.words.english() for c in compare(planned, after))


def test_a_swapped_device_is_told_by_both_places(county: Election, plan_of: Planner) -> None:
    """A device that goes out of service leaves its station, and the spare in its place is told too."""
    site = county.sites[0]
    assert site.kind is not None
    types = [county.station_type(u.station_type) for u in county.site_kind(site.kind).uses]
    few = Decisions(
        fixed=tuple(
            FixedValue(
                table="stations", row=f"{site.id}/{t.id}", field="count", value="1", reason="Small room"
            )
            for t in types
            if t.serial_parts()
        )
    )
    before = plan_of(county, few)
    spare_kinds = {spare.kind for spare in before.spares}
    placed = {
        p.device: st.id
        for s in before.sites
        for st in s.stations
        for p in st.parts
        if p.device and s.site == site.id
    }
    broken = next(d for d in county.devices if d.id in placed and d.kind in spare_kinds)
    devices = tuple(
        msgspec.structs.replace(d, state="in repair") if d is broken else d for d in county.devices
    )
    after = plan_of(msgspec.structs.replace(county, devices=devices), few, previous=before)
    moved = {c.row: (c.before, c.after) for c in compare(before, after) if c.table == "devices"}
    assert moved.pop(broken.id) == (placed[broken.id], "-")
    assert list(moved.values()) == [("spares", placed[broken.id])]
