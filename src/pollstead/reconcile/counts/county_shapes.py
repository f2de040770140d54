"""The shapes of the county table: what sites counted, its rows, and the keys of its numbers."""

from __future__ import annotations

import datetime as dt

from pollstead.election.values import Value
from pollstead.reconcile.counts.balance import BalanceLine, LineState, Reading
from pollstead.reconcile.counts.equations import Balance
from pollstead.reconcile.counts.totals import Ledger, TypedTotal
from pollstead.reconcile.counts.uploads import MachineOut, MachineUploads, Upload

LEDGER_WORD = {Ledger.RECEIVING: "received", Ledger.CANVASS: "canvass"}
TOLD = (*(f"{word}/" for word in LEDGER_WORD.values()), "uploaded/", "before/")
"""How keys begin whose numbers were read after the sites had counted."""


class SiteCounts(Value, frozen=True, kw_only=True):
    """What one site counted on one of its days: its balance, its standing readings, its machines.

    `carried` are the devices whose public counter began the day where it had ended the day before.
    """

    site: str
    name: str
    date: dt.date
    mode: str
    balance: Balance | None
    readings: tuple[Reading, ...]
    machines: tuple[MachineOut, ...] = ()
    carried: tuple[str, ...] = ()


class CountyRow(Value, frozen=True, kw_only=True):
    """One quantity of one site and mode (`site` "" for the county), of one ballot style where one is named.

    `own` evaluates the site's own numbers: its difference is what the site counted. `received` and `canvass`
    compare them with what receiving and the canvass have; None where nobody typed it and nobody must.
    `per_ballot` is how many of `unit` one ballot is, 0 where that depends on the ballot style.
    """

    site: str
    name: str
    mode: str
    quantity: str
    style: str
    unit: str
    per_ballot: int
    own: BalanceLine
    received: BalanceLine | None
    canvass: BalanceLine | None

    @property
    def key(self) -> str:
        """What tells it apart: site, way of voting, quantity and style."""
        return "/".join(filter(None, (self.site or "county", self.mode, self.quantity, self.style)))

    @property
    def lines(self) -> tuple[BalanceLine, ...]:
        """The comparisons that there are."""
        return tuple(line for line in (self.received, self.canvass) if line is not None)

    @property
    def largest(self) -> int:
        """The largest difference of the row without its sign; 0 where nothing differs or nothing is there."""
        found = [abs(value) for line in self.lines for value in (line.difference or 0, *line.possible)]
        return max(found, default=0)

    @property
    def is_difference(self) -> bool:
        """Whether a comparison that has all its numbers is not zero, or two people's numbers differ."""
        return any(line.state in (LineState.DIFFERENCE, LineState.TWO_VALUES) for line in self.lines)

    @property
    def is_missing(self) -> bool:
        """Whether a number of it is missing."""
        return any(line.state is LineState.NOT_READ for line in self.lines)

    def value_of(self, ledger: Ledger) -> int | None:
        """What receiving or the canvass has, in the row's unit; None while missing or while two differ."""
        line = self.received if ledger is Ledger.RECEIVING else self.canvass
        if line is None:
            return None
        told = [term for term in line.terms if term.key.startswith(TOLD)]
        if not told or any(len(term.values) != 1 for term in told):
            return None
        return -sum(term.coefficient * term.values[0] for term in told)


class CountyTable(Value, frozen=True, kw_only=True):
    """The whole county: each site's rows, the county's own, each machine's uploads, what belongs to no list.

    `uploaded` compares each machine's count with what was read of its memory device, in the order of
    `machines`; `unplaced` are totals of a site, mode or quantity that the table does not know.
    """

    rows: tuple[CountyRow, ...]
    totals: tuple[CountyRow, ...]
    machines: tuple[MachineUploads, ...]
    uploaded: tuple[BalanceLine, ...]
    strangers: tuple[Upload, ...]
    unplaced: tuple[TypedTotal, ...]

    def by_difference(self) -> tuple[CountyRow, ...]:
        """The rows that differ, the largest first, then those that miss a number, then the others."""
        return tuple(
            sorted(self.rows, key=lambda row: (not row.is_difference, -row.largest, not row.is_missing))
        )


def place_key(site: str, date: dt.date, key: str) -> str:
    """The key of a site's number in the county's rows: day and site stand before it."""
    return f"{date.isoformat()}/{site}/{key}"


def total_key(ledger: Ledger, site: str, mode: str, quantity: str, style: str = "", day: str = "") -> str:
    """The key of what receiving or the canvass has, such as ``canvass/S01/early/check_ins%E07``.

    The county's own total has no site: ``canvass/county/early/check_ins``. A total of one operating day has
    that day behind it.
    """
    name = f"{quantity}%{style}" if style else quantity
    key = f"{LEDGER_WORD[ledger]}/{site or 'county'}/{mode}/{name}"
    return f"{key}/{day}" if day else key


def uploaded_key(device: str) -> str:
    """The key of what was read of a machine's memory devices at the central place."""
    return f"uploaded/{device}"


def before_key(device: str, mode: str) -> str:
    """The key of what a machine's counter held already when a way of voting began."""
    return f"before/{mode}/{device}"
