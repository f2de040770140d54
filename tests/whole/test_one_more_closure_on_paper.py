"""One closure more on one station type changes the sheets on which it stands, and no other sheet."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from pollstead.election.canonical import digest_of
from pollstead.election.county import Election
from pollstead.election.instants import Instant
from pollstead.election.station_type import Closure, LineKind, Moment, SheetLine
from pollstead.intake.folder import read_folder
from pollstead.plan.compose import compose
from pollstead.plan.terms.part import Effort, NoWatch
from pollstead.plan.terms.version import NO_DECISIONS, PlanVersion, SheetKind
from pollstead.show.packet.given import SiteGiven
from pollstead.show.packet.packet import packet

pytestmark = pytest.mark.full

SMALL = Path(__file__).parents[2] / "small"
PRINTED = Instant(utc_ms=1_856_000_000_000)


def _with_hatch(county: Election) -> tuple[Election, str]:
    of = next(t for t in county.station_types if t.serial_parts() and t.closures and t.opening and t.closing)
    hatch = Closure(
        id="new-hatch",
        name="hatch at the back",
        part=of.serial_parts()[0].id,
        seal_kind=of.closures[0].seal_kind,
        checked=(Moment.OPENING, Moment.CLOSING),
    )
    line = SheetLine(kind=LineKind.CLOSURE, ref="new-hatch", words="Read the number at the hatch")
    changed = msgspec.structs.replace(
        of, closures=(*of.closures, hatch), opening=(*of.opening, line), closing=(*of.closing, line)
    )
    types = tuple(changed if t is of else t for t in county.station_types)
    return msgspec.structs.replace(county, station_types=types), of.id


def _planned(county: Election) -> PlanVersion:
    return compose(county, digest_of(county), NO_DECISIONS, 1, Effort.QUICK, NoWatch())


def _sheets(county: Election, plan: PlanVersion, site: str) -> dict[str, tuple[SheetKind, bytes]]:
    """What stands on each sheet, by key; the plan's digest is on every one, so it is given the same."""
    given = SiteGiven(
        election=county, plan=plan, digest="0" * 64, site=site, printed_at=PRINTED, language="en-US"
    )
    return {sheet.key: (sheet.kind, msgspec.json.encode(sheet)) for sheet in packet(given).sheets}


def test_one_more_closure_changes_its_own_sheets_and_no_other() -> None:
    """Opening, closing and seal sheets of sites that have the type change; every other sheet stays."""
    county = read_folder(SMALL).election
    assert county is not None
    more, type_id = _with_hatch(county)
    old, new = _planned(county), _planned(more)
    seen = set()
    for plan in old.sites:
        before, after = _sheets(county, old, plan.site), _sheets(more, new, plan.site)
        assert before.keys() == after.keys()
        changed = {after[key][0] for key in after if before[key] != after[key]}
        has_type = any(s.station_type == type_id for s in plan.stations)
        assert bool(changed - {SheetKind.COVER}) is has_type, plan.site
        assert changed <= {SheetKind.OPENING, SheetKind.CLOSING, SheetKind.SEALS, SheetKind.COVER}
        seen |= changed
    assert {SheetKind.OPENING, SheetKind.CLOSING} <= seen
