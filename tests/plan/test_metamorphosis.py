"""One change in the facts changes what follows from it, and nothing else."""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from typing import Any

import msgspec

from pollstead.election.canonical import digest_of
from pollstead.election.county import Election
from pollstead.election.station_type import Closure, LineKind, Moment, SheetLine
from pollstead.plan.difference import compare
from pollstead.plan.seals.expected import expected_list
from pollstead.plan.terms.version import ExpectedItem, PlanVersion, SitePlan

Planner = Callable[..., PlanVersion]


def with_one_more_closure(county: Election) -> tuple[Election, str, str]:
    """The county after one station type got one more closure; the type and the device kind concerned."""
    station_type = next(t for t in county.station_types if t.serial_parts() and t.closures)
    part = station_type.serial_parts()[0]
    hatch = Closure(
        id="new-hatch",
        name="hatch at the back",
        part=part.id,
        seal_kind="hatch seal",
        checked=(Moment.OPENING,),
    )
    line = SheetLine(kind=LineKind.CLOSURE, ref="new-hatch", words="Read the number at the hatch")
    changed = msgspec.structs.replace(
        station_type,
        closures=(*station_type.closures, hatch),
        opening=(*station_type.opening, line),
    )
    types = tuple(changed if t is station_type else t for t in county.station_types)
    return msgspec.structs.replace(county, station_types=types), station_type.id, part.device_kind


def test_one_more_closure_changes_seals_and_nothing_else(
    county: Election, planned: PlanVersion, plan_of: Planner
) -> None:
    """Seal need, positions of seals and what is said about seals change; every other cell stays."""
    changed, type_id, _ = with_one_more_closure(county)
    after = plan_of(changed)
    changes = compare(planned, after)
    assert {change.table for change in changes} == {"seals", "seal needs", "notices"}
    hatches = {c.row for c in changes if c.table == "seals" and c.field == "policy"}
    stations = [s for p in after.sites for s in p.stations if s.station_type == type_id]
    spares = [seal for spare in after.spares for seal in spare.seals if "new-hatch" in seal.closure]
    assert len(hatches) == len(stations) + len(spares) > 0
    assert all("new-hatch" in row for row in hatches)
    needs = {c.row: int(c.after) for c in changes if c.table == "seal needs"}
    assert all("hatch seal, after test" in row for row in needs)
    assert sum(needs.values()) == len(stations)
    assert {c.row.split("|")[0] for c in changes if c.table == "notices"} <= {
        "seal-number-unknown",
        "seal-stock-unknown",
    }
    for old, new in zip(planned.sites, after.sites, strict=True):
        assert _without_seals(old) == _without_seals(new)


def _without_seals(plan: SitePlan) -> SitePlan:
    """A site's plan without anything that speaks of seals."""
    return msgspec.structs.replace(
        plan,
        stations=tuple(msgspec.structs.replace(s, seals=()) for s in plan.stations),
        seal_needs=(),
        reasons=tuple(r for r in plan.reasons if not r.field.startswith("seals ")),
    )


def test_one_more_closure_adds_one_line_for_each_station_to_the_expected_lists(
    county: Election, planned: PlanVersion, plan_of: Planner
) -> None:
    """The expected list of every site and day gains the hatch of each station of the type, and no more."""
    changed, type_id, _ = with_one_more_closure(county)
    after = plan_of(changed)
    added = 0
    for plan in planned.sites:
        for day in plan.demand:
            old = expected_list(county, planned, plan.site, day.date).items
            new = expected_list(changed, after, plan.site, day.date).items
            more = [item for item in new if "new-hatch" in item.subject]
            mine = [s for s in after.site(plan.site).stations if s.station_type == type_id]
            assert len(more) == len(mine)
            assert _same([item for item in new if item not in more]) == _same(old)
            added += len(more)
    assert added > 0


def _same(items: Any) -> list[ExpectedItem]:
    return sorted(items, key=lambda item: (item.subject, item.moment.value, item.what))


def renamed(county: Election) -> tuple[Election, dict[str, str]]:
    """The county with new ids for all sites, kinds of site and station types; the way back."""
    ids = [s.id for s in county.sites]
    ids += [k.id for k in county.site_kinds]
    ids += [t.id for t in county.station_types]
    # In another order than the old ids, so that nothing can lean on the order of ids.
    forth = {old: f"zq-{(7 * n + 3) % len(ids):03d}" for n, old in enumerate(dict.fromkeys(ids))}
    keyed = msgspec.structs.replace(
        county, sites=tuple(msgspec.structs.replace(s, seed_key=s.key) for s in county.sites)
    )

    def change(value: Any, field: str = "") -> Any:
        if isinstance(value, dict):
            return {name: change(inner, name) for name, inner in value.items()}
        if isinstance(value, (list, tuple)):
            return [change(inner, field) for inner in value]
        if isinstance(value, str) and field not in (
            "seed_key",
            "name",
            "words",
            "part",
            "item",
            "device_kind",
        ):
            return "/".join(forth.get(piece, piece) for piece in value.split("/"))
        return value

    plain = change(msgspec.to_builtins(keyed))
    return msgspec.convert(plain, type=Election), {new: old for old, new in forth.items()}


def test_new_names_for_sites_and_station_types_give_the_same_plan(county: Election, plan_of: Planner) -> None:
    """With seed keys kept, renaming every site, kind and station type renames the plan and nothing more."""
    changed, back = renamed(county)
    assert {s.id for s in changed.sites}.isdisjoint(s.id for s in county.sites)
    assert _shape(plan_of(changed), back) == _shape(plan_of(county), {})


def _shape(version: PlanVersion, back: dict[str, str]) -> Any:
    """A plan with its old ids, every list whose order is the order of ids sorted."""
    text = msgspec.json.encode(version).decode()
    text = re.sub(r"zq-\d{3}", lambda found: back[found[0]], text)
    plain = msgspec.json.decode(text)
    for name in ("sites", "assumptions", "notices", "reasons"):
        plain[name].sort(key=lambda row: msgspec.json.encode(row, order="sorted"))
    return plain


def test_the_order_of_rows_changes_no_plan(county: Election, planned: PlanVersion, plan_of: Planner) -> None:
    """Shuffled tables give the very same digest."""
    mixed = random.Random(20281107)
    tables = (
        "sites",
        "precincts",
        "history",
        "arrivals",
        "devices",
        "people",
        "seal_ranges",
        "closure_seals",
        "fixed",
    )
    shuffled = {name: mixed.sample(getattr(county, name), len(getattr(county, name))) for name in tables}
    changed = msgspec.structs.replace(county, **{name: tuple(rows) for name, rows in shuffled.items()})
    assert any(getattr(changed, name) != getattr(county, name) for name in tables)
    assert digest_of(plan_of(changed)) == digest_of(planned)
