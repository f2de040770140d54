"""One version of the canvass as a value: the whole county table, its differences, explanations, who has what.

A version is frozen under the digest of its canonical bytes (RFC 8785); what changes later is another version,
and the two are compared row by row. Nothing here decides anything: the canvassing body does.
"""

from __future__ import annotations

import enum
from collections.abc import Iterable

from pollstead.election.canonical import digest_of
from pollstead.election.values import Value
from pollstead.reconcile.counts.balance import BalanceLine, LineState
from pollstead.reconcile.counts.county_shapes import CountyRow, CountyTable
from pollstead.reconcile.counts.totals import Ledger
from pollstead.reconcile.counts.uploads import UploadState


class RowState(enum.StrEnum):
    """How a row of the county table stands."""

    DIFFERENCE = "difference"
    TWO_VALUES = "two values"
    NOT_READ = "a number is not read yet"
    NOT_COMPARED = "nothing to compare with yet"
    EQUAL = "equal"


class WorkState(enum.StrEnum):
    """What becomes of a difference at the office."""

    OPEN = "open"
    LOOKING = "somebody looks"
    WAITING = "waits for an answer"
    EXPLAINED = "explained"
    RECORDED = "recorded unexplained"


WORK_STATES = {
    "open": WorkState.OPEN,
    "looking": WorkState.LOOKING,
    "waiting": WorkState.WAITING,
    "explained": WorkState.EXPLAINED,
    "recorded_unexplained": WorkState.RECORDED,
}
"""The coded words of ``canvass.work``."""

DONE = frozenset({WorkState.EXPLAINED, WorkState.RECORDED})


class VersionRow(Value, frozen=True, kw_only=True):
    """One quantity of a site and way of voting (`site` "" for the county), of one ballot style where named.

    `own` is what the site counted, None while a number is missing or two people's differ; the differences are
    the site's number minus the other, None where they cannot be taken. `missing` are keys of numbers that
    nobody read; `events` the entries that the row stands on.
    """

    site: str
    name: str
    mode: str
    quantity: str
    style: str
    unit: str
    own: int | None
    received: int | None
    canvass: int | None
    received_difference: int | None
    canvass_difference: int | None
    state: RowState
    missing: tuple[str, ...]
    events: tuple[str, ...]

    @property
    def key(self) -> str:
        """What tells it apart: site, way of voting, quantity and style."""
        return "/".join(filter(None, (self.site or "county", self.mode, self.quantity, self.style)))

    @property
    def size(self) -> int:
        """The largest difference without its sign; 0 where nothing differs."""
        return max(abs(self.received_difference or 0), abs(self.canvass_difference or 0))

    @property
    def numbers(self) -> str:
        """A digest of what a decision about the row stands on: when it changes, the row is open again."""
        return digest_of([self.key, self.own, self.received, self.canvass, self.state.value])


class VersionMachine(Value, frozen=True, kw_only=True):
    """One machine: its memory devices, how often its count was taken, its own count and what was taken."""

    site: str
    device: str
    mode: str
    memory: tuple[str, ...]
    state: UploadState
    own: int | None
    taken: tuple[tuple[str, int, str], ...]
    difference: int | None


class Explanation(Value, frozen=True, kw_only=True):
    """An explanation that a named person saved; it `stands` until a later one took its place."""

    site: str
    event: str
    person: str
    utc_ms: int
    stands: bool


class Work(Value, frozen=True, kw_only=True):
    """The last word on who has a row and how far it is. `numbers` is what it was said on."""

    key: str
    who: str
    state: WorkState
    numbers: str
    person: str
    utc_ms: int
    event: str


class CanvassVersion(Value, frozen=True, kw_only=True):
    """The whole canvass at one moment. `strangers` are memory devices of no list, each with its count."""

    county: str
    election: str
    rows: tuple[VersionRow, ...]
    totals: tuple[VersionRow, ...]
    machines: tuple[VersionMachine, ...]
    strangers: tuple[tuple[str, int], ...]
    explanations: tuple[Explanation, ...]
    work: tuple[Work, ...]

    @property
    def digest(self) -> str:
        """The digest over the whole table, its numbers, explanations and worklist."""
        return digest_of(self)

    def by_difference(self) -> tuple[VersionRow, ...]:
        """The rows: the largest difference first, then what misses a number, then the others."""
        order = tuple(RowState)
        return tuple(sorted(self.rows, key=lambda row: (order.index(row.state), -row.size)))

    def work_on(self, row: VersionRow) -> Work | None:
        """The last word on a row; None where nobody has it."""
        return next((one for one in self.work if one.key == row.key), None)

    def state_of(self, row: VersionRow) -> WorkState:
        """How far a row is: done only while the numbers that it was said on are still the same."""
        work = self.work_on(row)
        if work is None:
            return WorkState.OPEN
        return WorkState.OPEN if work.state in DONE and work.numbers != row.numbers else work.state

    def worklist(self) -> tuple[VersionRow, ...]:
        """The rows with something to do, by difference; those that are done come last."""
        asked = (RowState.DIFFERENCE, RowState.TWO_VALUES)
        rows = [row for row in self.by_difference() if row.state in asked or self.work_on(row) is not None]
        return tuple(sorted(rows, key=lambda row: self.state_of(row) in DONE))


class RowChange(Value, frozen=True, kw_only=True):
    """One row of two versions that differs: None where a version has no such row."""

    key: str
    before: VersionRow | None
    after: VersionRow | None


class VersionChange(Value, frozen=True, kw_only=True):
    """What differs between two versions; of explanations and work, how many words."""

    rows: tuple[RowChange, ...]
    machines: tuple[str, ...]
    explanations: int
    work: int

    @property
    def nothing(self) -> bool:
        """Whether the two are equal."""
        return not (self.rows or self.machines or self.explanations or self.work)


def make_version(
    table: CountyTable,
    *,
    county: str,
    election: str,
    explanations: Iterable[Explanation] = (),
    work: Iterable[Work] = (),
) -> CanvassVersion:
    """The version of a county table; the order of what is given is no matter."""
    return CanvassVersion(
        county=county,
        election=election,
        rows=tuple(_row(row) for row in table.rows),
        totals=tuple(_row(row) for row in table.totals),
        machines=tuple(
            VersionMachine(
                site=one.machine.site,
                device=one.machine.device,
                mode=one.machine.mode,
                memory=one.machine.memory,
                state=one.state,
                own=_own(line),
                taken=tuple((upload.memory, upload.count, upload.event) for upload in one.taken),
                difference=line.difference,
            )
            for one, line in zip(table.machines, table.uploaded, strict=True)
        ),
        strangers=tuple((upload.memory, upload.count) for upload in table.strangers),
        explanations=tuple(sorted(explanations, key=lambda one: (one.utc_ms, one.event))),
        work=tuple(sorted(work, key=lambda one: one.key)),
    )


def change_between(before: CanvassVersion, after: CanvassVersion) -> VersionChange:
    """What differs between two versions."""
    old = {row.key: row for row in (*before.rows, *before.totals)}
    new = {row.key: row for row in (*after.rows, *after.totals)}
    keys = dict.fromkeys((*old, *new))
    machines_old = {one.device: one for one in before.machines}
    machines_new = {one.device: one for one in after.machines}
    return VersionChange(
        rows=tuple(
            RowChange(key=key, before=old.get(key), after=new.get(key))
            for key in keys
            if old.get(key) != new.get(key)
        ),
        machines=tuple(
            device
            for device in dict.fromkeys((*machines_old, *machines_new))
            if machines_old.get(device) != machines_new.get(device)
        ),
        explanations=len(set(before.explanations) ^ set(after.explanations)),
        work=len(set(before.work) ^ set(after.work)),
    )


def _row(row: CountyRow) -> VersionRow:
    lines = tuple(line for line in (row.own, row.received, row.canvass) if line is not None)
    return VersionRow(
        site=row.site,
        name=row.name,
        mode=row.mode,
        quantity=row.quantity,
        style=row.style,
        unit=row.unit,
        own=row.own.difference,
        received=row.value_of(Ledger.RECEIVING),
        canvass=row.value_of(Ledger.CANVASS),
        received_difference=row.received.difference if row.received is not None else None,
        canvass_difference=row.canvass.difference if row.canvass is not None else None,
        state=_state(row),
        missing=tuple(dict.fromkeys(key for line in lines for key in line.missing)),
        events=tuple(
            sorted(
                {
                    reading.event
                    for line in lines
                    for term in line.terms
                    for reading in term.readings
                    if reading.event
                }
            )
        ),
    )


def _state(row: CountyRow) -> RowState:
    states = {line.state for line in row.lines}
    if LineState.TWO_VALUES in states or row.own.state is LineState.TWO_VALUES:
        return RowState.TWO_VALUES
    if LineState.DIFFERENCE in states:
        return RowState.DIFFERENCE
    if LineState.NOT_READ in states or row.own.state is LineState.NOT_READ:
        return RowState.NOT_READ
    return RowState.EQUAL if states else RowState.NOT_COMPARED


def _own(line: BalanceLine) -> int | None:
    """What the machine itself counted, in the row's unit."""
    told = [term for term in line.terms if not term.key.startswith("uploaded/")]
    if any(len(term.values) != 1 for term in told):
        return None
    return sum(term.coefficient * term.values[0] for term in told)
