"""What people fixed, read cell by cell: which tables there are, which values fit, and what fits nowhere.

A row is named as its table says below. What names an unknown table, row or field, or a value out of range,
is never used and becomes an open item.
"""

from __future__ import annotations

import re
from types import MappingProxyType
from typing import Final

from pollstead.election.county import FixedValue
from pollstead.election.notice import Notice
from pollstead.election.station_type import MOST_STATIONS
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.plan.stations.counts import TABLE as STATIONS
from pollstead.plan.terms.lines import MOST_VOTERS
from pollstead.plan.terms.overruled import fits_no_row
from pollstead.plan.terms.version import PackingLine, SealNeed

VOTERS, DEVICES, PACKING, SET_UP, SEAL_NEEDS, SITES = (
    "voters",
    "devices",
    "packing",
    "set_up",
    "seal_needs",
    "sites",
)
MOST_THINGS: Final = 1_000_000
_WHOLE = re.compile(r"[0-9]{1,9}")


class Cells(Value, frozen=True, kw_only=True):
    """The cells of one field that can be fixed: how a row is named, least and most; no bounds: an id."""

    row: str
    least: int | None = None
    most: int | None = None

    def fits(self, value: str) -> bool:
        """Whether a value is one of this field."""
        if self.least is None or self.most is None:
            return bool(value.strip())
        return bool(_WHOLE.fullmatch(value)) and self.least <= int(value) <= self.most


FIELDS: Final = MappingProxyType(
    {
        (STATIONS, "count"): Cells(row=N_("SITE/TYPE"), least=0, most=MOST_STATIONS),
        (VOTERS, "p50"): Cells(row=N_("SITE/DATE"), least=0, most=MOST_VOTERS),
        (DEVICES, "site"): Cells(row=N_("DEVICE")),
        (DEVICES, "station"): Cells(row=N_("DEVICE")),
        (PACKING, "quantity"): Cells(row=N_("SITE/ITEM, UNIT"), least=0, most=MOST_THINGS),
        (SET_UP, "minutes"): Cells(row=N_("SITE/TYPE/STEP"), least=0, most=24 * 60),
        (SET_UP, "people"): Cells(row=N_("SITE/TYPE/STEP"), least=1, most=MOST_STATIONS),
        (SET_UP, "crew"): Cells(row=N_("SITE"), least=1, most=MOST_STATIONS),
        (SEAL_NEEDS, "quantity"): Cells(row=N_("SITE/SEAL KIND/MOMENT"), least=0, most=MOST_THINGS),
        (SEAL_NEEDS, "extra"): Cells(row=N_("SITE/SEAL KIND/MOMENT"), least=0, most=MOST_THINGS),
        (SITES, "kind"): Cells(row=N_("SITE")),
    }
)
"""Every field of a plan table that people can fix."""


def packing_row(site: str, line: PackingLine) -> str:
    """How a line of the packing list is named: ``SITE/ITEM``, with its unit where it is not counted each."""
    return f"{site}/{line.item}" if line.unit == "each" else f"{site}/{line.item}, {line.unit}"


def need_row(site: str, need: SealNeed) -> str:
    """How a need of seals is named: ``SITE/SEAL KIND/MOMENT``."""
    return f"{site}/{need.seal_kind}/{need.moment.value}"


class FixedCells:
    """The fixed values of one plan, each asked for by its cell; it knows which were never asked for."""

    def __init__(self, fixed: tuple[FixedValue, ...]) -> None:
        self._cells: dict[tuple[str, str, str], FixedValue] = {}
        self._misfits: list[FixedValue] = []
        self._used: set[tuple[str, str, str]] = set()
        for value in fixed:
            cells = FIELDS.get((value.table, value.field))
            if cells is not None and cells.fits(value.value):
                self._cells[value.table, value.row, value.field] = value
            else:
                self._misfits.append(value)

    def of_table(self, table: str) -> tuple[FixedValue, ...]:
        """The fixed values of one table."""
        return tuple(value for (name, _, _), value in self._cells.items() if name == table)

    def find(self, table: str, row: str, field: str) -> FixedValue | None:
        """The decision about one cell, which then counts as used; None where there is none."""
        found = self._cells.get((table, row, field))
        if found is not None:
            self._used.add((table, row, field))
        return found

    def refuse(self, value: FixedValue) -> None:
        """A decision whose value names something that is not there: from now on it fits nothing."""
        del self._cells[value.table, value.row, value.field]
        self._misfits.append(value)

    def notices(self) -> list[Notice]:
        """An open item for each value that fits nothing, the stations' own apart (sizing names those)."""
        unused = [
            value for cell, value in self._cells.items() if cell not in self._used and value.table != STATIONS
        ]
        return [_fits_nothing(value) for value in (*self._misfits, *unused)]


def _fits_nothing(value: FixedValue) -> Notice:
    known = FIELDS.get((value.table, value.field))
    return fits_no_row(value, _wanted() if known is None else _wanted_of(value, known))


def _wanted() -> str:
    return ", ".join(f"{table} {field}" for table, field in FIELDS)


def _wanted_of(value: FixedValue, cells: Cells) -> str:
    if cells.least is None:
        return f"{value.table}, {cells.row}, {value.field}"
    return f"{value.table}, {cells.row}, {value.field}: {cells.least}–{cells.most}"
