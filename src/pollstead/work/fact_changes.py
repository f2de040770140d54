"""Every change of facts in the record, and how it stands against the tables of this folder.

A change is written here when its cells are in the tables, when a later one that knew it took its
place, or when this computer noted that it wrote it. Anything else is open: the program was stopped
between event and tables, or the change was made on another laptop, or two people changed one cell
without knowing of each other. Nothing wins silently.
"""

from __future__ import annotations

import enum
from collections.abc import Iterable, Mapping

from pollstead.election.values import Value
from pollstead.intake.fact_edits import Edit, EditKind, edited, forced, row_cells
from pollstead.intake.row_names import place_of_row, row_index
from pollstead.intake.tab_rows import TabRows
from pollstead.intake.tabs import tab_named, tabs
from pollstead.record.event import Event, Signed
from pollstead.record.fold import causal_order
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds.changes import FactsChanged, FactsChangedPrivate
from pollstead.record.kinds.registry import body_of, parse_private
from pollstead.store.opening import Store
from pollstead.work.fact_cells import as_edit

UNDO = "undo"
ACCEPT = "accept"
SET_ASIDE = "set_aside"
BRING_BACK = "bring_back"

WRITTEN_KEY = "facts.written/"
"""Where this store notes, by the id of a change, that the tables here were written."""


class Change(Value, frozen=True, kw_only=True):
    """One change as the record holds it, numbered from 1 in the order of causes and clocks.

    `known` is False where its private part is not here or was redacted: then `cells` and `reason`
    are empty. `knew` are the ids of the changes that it was made in knowledge of.
    """

    number: int
    event: str
    act: str
    subject: str
    author: str
    device: str
    utc_ms: int
    offset_min: int
    before: str
    after: str
    undoes: str
    accepts: str
    tables: tuple[str, ...]
    count: int
    known: bool
    reason: str
    cells: tuple[Edit, ...]
    knew: frozenset[str]
    written: bool


class Standing(enum.StrEnum):
    """How a change stands against the tables here."""

    IN_TABLES = "in the tables"
    REPLACED = "replaced by a later change"
    UNDONE = "undone"
    DECIDED = "decided on"
    CHANGED_SINCE = "tables changed since"
    NOT_WRITTEN = "recorded, not yet in the tables"
    ELSEWHERE = "made on another computer, not in these tables"
    CLASH = "made on another computer, other value here"
    NOT_HERE = "made on another computer, its cells are not here"


OPEN = frozenset({Standing.NOT_WRITTEN, Standing.ELSEWHERE, Standing.CLASH, Standing.NOT_HERE})
"""The standings that somebody must decide on."""


class CellStanding(Value, frozen=True, kw_only=True):
    """One cell of a change beside what the tables hold now; `now` is None where the row is not there."""

    edit: Edit
    now: str | None
    state: str  # "done", "open" or "other"


class StandingChange(Value, frozen=True, kw_only=True):
    """A change with its standing; `cells` are those not in the tables as the change says."""

    change: Change
    standing: Standing
    cells: tuple[CellStanding, ...]
    undone_by: str = ""

    @property
    def is_open(self) -> bool:
        """Whether somebody must decide."""
        return self.standing in OPEN


def changes(store: Store) -> tuple[Change, ...]:
    """Every change of facts in the record of `store`."""
    signed = causal_order(store.events.of_kinds(FactsChanged.kind))
    sides = store.sides.fields_of(one.event.private for one in signed if one.event.private)
    knew = _knowledge(signed)
    found: list[Change] = []
    for one in signed:
        body = body_of(one.event)
        if isinstance(body, FactsChanged):
            written = store.settings.get(WRITTEN_KEY + one.id) is not None
            found.append(_change(len(found) + 1, one, body, sides, knew[one.id], written))
    return tuple(found)


def _change(
    number: int,
    signed: Signed,
    body: FactsChanged,
    sides: Mapping[str, FrozenObject],
    knew: frozenset[str],
    written: bool,
) -> Change:
    event = signed.event
    private = _private(event, sides)
    return Change(
        number=number,
        event=signed.id,
        act=body.act,
        subject=event.subject,
        author=event.people[0].person if event.people else "",
        device=event.device,
        utc_ms=event.utc_ms,
        offset_min=event.offset_min,
        before=body.before,
        after=body.after,
        undoes=body.undoes,
        accepts=body.accepts,
        tables=body.tables,
        count=body.cells,
        known=private is not None,
        reason=private.reason if private is not None else "",
        cells=tuple(map(as_edit, private.cells)) if private is not None else (),
        knew=knew,
        written=written,
    )


def _private(event: Event, sides: Mapping[str, FrozenObject]) -> FactsChangedPrivate | None:
    fields = sides.get(event.private)
    if fields is None:
        return None
    try:
        private = parse_private(event.kind, fields)
    except ValueError:
        # Written by a later version: told as cells that are not here, never guessed at.
        return None
    return private if isinstance(private, FactsChangedPrivate) else None


def _knowledge(ordered: tuple[Signed, ...]) -> dict[str, frozenset[str]]:
    """For each change, the changes it knew: earlier ones of its device, those named, and what they knew."""
    knew: dict[str, frozenset[str]] = {}
    last_of: dict[str, str] = {}
    for signed in ordered:
        parents = [name for name in signed.event.after if name in knew]
        if signed.event.device in last_of:
            parents.append(last_of[signed.event.device])
        knew[signed.id] = frozenset(parents).union(*(knew[parent] for parent in parents))
        last_of[signed.event.device] = signed.id
    return knew


def standings(
    found: tuple[Change, ...], rows: tuple[TabRows, ...], own_device: str
) -> tuple[StandingChange, ...]:
    """How each change stands against `rows`, in the same order.

    Changes not yet in the tables are laid over the rows one after another, so that the second of two
    that build on each other is seen as open and not as a clash.
    """
    overlay = rows
    result: list[StandingChange] = []
    decided = _decisions(found, rows)
    for change in found:
        cells = _cells_now(overlay, change.cells)
        rest = tuple(cell for cell in cells if cell.state != "done")
        by = decided.get(change.event)
        if by is not None:
            standing = Standing.UNDONE if by.act == UNDO else Standing.DECIDED
            result.append(StandingChange(change=change, standing=standing, cells=rest, undone_by=by.event))
            continue
        later = [other for other in found if change.event in other.knew]
        left = tuple(cell for cell in rest if not any(_touches(other, cell.edit) for other in later))
        standing = _standing(change, rest, left, own_device)
        result.append(StandingChange(change=change, standing=standing, cells=left))
        if not change.written and standing is not Standing.CLASH:
            overlay, _ = edited(overlay, [forced(cell.edit) for cell in rest if cell.state == "open"])
    return tuple(result)


def _standing(
    change: Change, rest: tuple[CellStanding, ...], left: tuple[CellStanding, ...], own_device: str
) -> Standing:
    own = change.device == own_device
    if not change.known and not change.written and not own and change.count:
        return Standing.NOT_HERE
    if not left:
        return Standing.REPLACED if rest else Standing.IN_TABLES
    if change.written:
        return Standing.CHANGED_SINCE
    if own:
        return Standing.NOT_WRITTEN
    return Standing.CLASH if any(cell.state == "other" for cell in left) else Standing.ELSEWHERE


def _decisions(found: tuple[Change, ...], rows: tuple[TabRows, ...]) -> dict[str, Change]:
    """By the id of a change, the one that took it back, set it aside or accepted it, in these tables."""
    decided: dict[str, Change] = {}
    for change in found:
        named = change.undoes or change.accepts
        if named and (change.written or _is_in(rows, change)):
            decided[named] = change
    # What took back an undo brings the first change back.
    for change in reversed(found):
        if change.event in decided and change.undoes and decided[change.event].act == UNDO:
            decided.pop(change.undoes, None)
    return decided


def _is_in(rows: tuple[TabRows, ...], change: Change) -> bool:
    return all(cell.state == "done" for cell in _cells_now(rows, change.cells))


def _touches(change: Change, edit: Edit) -> bool:
    """Whether a change is about the same cell, or about the whole row that the cell is in."""
    whole_row = (EditKind.ADDED, EditKind.REMOVED)
    return any(
        other.table == edit.table
        and other.row == edit.row
        and (
            other.column == edit.column
            if other.kind is EditKind.VALUE and edit.kind is EditKind.VALUE
            else other.kind in whole_row or edit.kind in whole_row or other.kind is edit.kind
        )
        for other in change.cells
    )


def _cells_now(rows: tuple[TabRows, ...], edits: Iterable[Edit]) -> tuple[CellStanding, ...]:
    held = {one.tab: one.rows for one in rows}
    known = {tab.name for tab in tabs()}
    indexes: dict[str, dict[str, list[int]]] = {}
    found = []
    for edit in edits:
        if edit.table not in known:
            found.append(CellStanding(edit=edit, now=None, state="other"))
            continue
        if edit.table not in indexes:
            indexes[edit.table] = row_index(tab_named(edit.table), held.get(edit.table, ()))
        found.append(_cell_now(edit, indexes[edit.table], held.get(edit.table, ())))
    return tuple(found)


def _cell_now(edit: Edit, index: Mapping[str, list[int]], rows: tuple[tuple[str, ...], ...]) -> CellStanding:
    tab = tab_named(edit.table)
    places = place_of_row(index, edit.row)
    row = rows[places[0]] if places else None
    if edit.kind is EditKind.ADDED:
        return CellStanding(edit=edit, now=None, state="done" if row is not None else "open")
    if edit.kind is EditKind.REMOVED:
        if row is None:
            return CellStanding(edit=edit, now=None, state="done")
        same = row_cells(tab, row) == edit.cells
        return CellStanding(edit=edit, now=edit.row, state="open" if same else "other")
    if edit.kind is EditKind.ORDER:
        named = set(edit.order_after)
        order = sorted((index[name][0], name) for name in named if name in index)
        now = tuple(name for _, name in order)
        state = {edit.order_after: "done", edit.order_before: "open"}.get(now, "other")
        return CellStanding(edit=edit, now=" ; ".join(now), state=state)
    names = [cell.name for cell in tab.cells]
    if row is None or edit.column not in names:
        return CellStanding(edit=edit, now=None, state="other")
    value = row[names.index(edit.column)]
    state = "done" if value == edit.after else "open" if value == edit.before else "other"
    return CellStanding(edit=edit, now=value, state=state)
