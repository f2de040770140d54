"""Which number stands on a closure on which day: a device sealed anew after early voting has several."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from pollstead.election.county import ClosureSeal
from pollstead.plan.terms.version import Station

Numbers = dict[tuple[str, str, int], str]
"""Number by device, closure and position."""


class NumbersOnDays:
    """The rows of closure_seals, asked for a station: the number in force on its first day.

    A row without a day counts from the first test on. Of a device that is deployed again after early voting,
    only rows that count from a day after those of its earlier station are expected: its first seals are cut.
    """

    def __init__(self, rows: tuple[ClosureSeal, ...], stations: Iterable[Station]) -> None:
        self._rows = sorted(rows, key=lambda row: row.counts_from or dt.date.min)
        self._earlier: dict[str, dt.date] = {}
        for station in stations:
            if station.last_day is not None:
                for part in station.parts:
                    if part.device:
                        known = self._earlier.get(part.device, dt.date.min)
                        self._earlier[part.device] = max(known, station.last_day)

    def of_station(self, station: Station, first_date: dt.date | None) -> Numbers:
        """The numbers at a station; `first_date` is the first voting day of its site, None where unknown."""
        again = {part.device for part in station.parts if part.again}
        day = station.first_day or first_date or station.last_day
        found: Numbers = {}
        for row in self._rows:
            if row.counts_from is not None and day is not None and row.counts_from > day:
                continue
            if row.device in again and not self._after_early(row):
                continue
            found[row.device, row.closure, row.position] = row.number
        return found

    def latest(self) -> Numbers:
        """The newest number of each closure, whatever the day: for devices that stand nowhere."""
        return {(row.device, row.closure, row.position): row.number for row in self._rows}

    def _after_early(self, row: ClosureSeal) -> bool:
        return row.counts_from is not None and row.counts_from > self._earlier.get(row.device, dt.date.min)
