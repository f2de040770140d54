"""Change the facts of a county folder: one signed event first, then its tables, all together.

The only way by which a person's change reaches the tables: an import, a bulk edit, a swap, a receipt.
The event is durable before the first table is touched. A program that is stopped in between leaves
the old tables with a change that `pending` names; `fact_waiting` ends it. Tables that were half
replaced are put back as they were by whoever comes next.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable
from pathlib import Path

from pollstead.election.words import N_, message
from pollstead.intake.fact_edits import Edit, edited, forced, reverse
from pollstead.intake.fact_writing import FolderFacts, NotTaken, Prepared, folder_facts, prepare
from pollstead.intake.kept_tables import EARLIER, KeptTables, kept
from pollstead.intake.tab_rows import TabRows
from pollstead.record.event import Person
from pollstead.record.write import Moment
from pollstead.store.desk import DEVICE_KEY, Desk
from pollstead.store.opening import Store
from pollstead.work.fact_changes import BRING_BACK, UNDO, Standing, StandingChange, changes, standings
from pollstead.work.fact_writing import (
    FACTS,
    Act,
    CannotChange,
    FactsTaken,
    OpenFacts,
    desk_of,
    mend_tables,
    open_facts,
)

__all__ = [
    "CannotChange",
    "FactsTaken",
    "NotTaken",
    "all_changes",
    "bring_back_tables",
    "change_facts",
    "desk_of",
    "mend_tables",
    "own_device",
    "pending",
    "take_prepared",
    "undo_change",
]


def change_facts(
    folder: Path,
    cells: Iterable[Edit],
    *,
    act: str,
    subject: str = FACTS,
    reason: str,
    people: tuple[Person, ...],
    desk: Desk,
    moment: Moment,
) -> FactsTaken:
    """Do these edits of `intake.fact_edits` to the tables of `folder` by one event.

    Every cell is read by the rules of its table. Raises NotTaken with every fault (table, row,
    column) where a cell does not fit, and CannotChange where nothing would change, no reason is
    given, or an earlier change is not finished; then nothing is written. OSError where the event is
    kept and the tables could not be replaced: `pending` then names it.
    """
    with open_facts(folder, desk) as facts:
        facts.check_nothing_waits()
        ready = facts.prepare(cells)
        return facts.write(ready, Act(act=act, subject=subject, reason=reason, people=people, moment=moment))


def take_prepared(
    folder: Path,
    held: FolderFacts,
    ready: Prepared,
    *,
    act: str,
    reason: str,
    people: tuple[Person, ...],
    desk: Desk,
    moment: Moment,
) -> FactsTaken:
    """As `change_facts`, for tables that were prepared from `held` before, as an import does.

    Raises CannotChange where the tables have changed since `held` was read.
    """
    with open_facts(folder, desk) as facts:
        facts.check_nothing_waits()
        if facts.held.rows != held.rows:
            raise CannotChange(
                message(N_("The tables were changed meanwhile. Look at the differences anew."))
            )
        return facts.write(ready, Act(act=act, reason=reason, people=people, moment=moment))


def undo_change(
    folder: Path,
    event: str,
    *,
    reason: str,
    people: tuple[Person, ...],
    desk: Desk,
    moment: Moment,
    changed_too: bool = False,
) -> FactsTaken:
    """Take one change back by a new event: each of its cells becomes what it was before.

    Raises NotTaken naming the cells that were changed since, unless `changed_too`: then these too
    become what they were. Raises ValueError where `event` is no change, CannotChange where its cells
    are not known here or it is not in the tables.
    """
    with open_facts(folder, desk) as facts:
        facts.check_nothing_waits()
        found = facts.standing(event)
        if found.is_open:
            raise CannotChange(message(N_("This change is not in the tables; set it aside instead.")))
        if found.standing in (Standing.UNDONE, Standing.DECIDED):
            raise CannotChange(message(N_("This change is undone or decided on already.")))
        if not found.change.before:
            raise CannotChange(
                message(N_("This change made the county. To take it back, delete the folder."))
            )
        if not found.change.known:
            raise CannotChange(message(N_("What this change did is not known here; it cannot be undone.")))
        back = [reverse(edit) for edit in found.change.cells]
        if changed_too:
            back = _fitting(facts.held.rows, back)
        ready = _as_kept(facts.prepare(back), facts, event)
        act = Act(
            act=UNDO,
            subject=found.change.subject,
            reason=reason,
            people=people,
            moment=moment,
            undoes=event,
        )
        return facts.write(ready, act)


def bring_back_tables(
    folder: Path,
    copy: KeptTables,
    *,
    reason: str,
    people: tuple[Person, ...],
    desk: Desk,
    moment: Moment,
) -> FactsTaken:
    """Make all tables those of `copy`, by an event that names each cell that differs."""
    with open_facts(folder, desk) as facts:
        facts.check_nothing_waits()
        earlier = folder_facts(folder / EARLIER / copy.name)
        if earlier.unread:
            raise NotTaken(earlier.unread)
        ready = prepare(folder, facts.held, earlier.rows)
        files = {name: _kept_file(folder, copy, name) for name in ready.files}
        act = Act(act=BRING_BACK, reason=reason, people=people, moment=moment)
        return facts.write(dataclasses.replace(ready, files=files), act)


def pending(folder: Path, store: Store, device: str) -> tuple[StandingChange, ...]:
    """The changes that are recorded and not in the tables as they say, in the order of causes.

    Those whose `is_open` holds wait for a person; the others tell that tables were edited since.
    `device` is this computer's own recording device, "" where it cannot write.
    """
    return tuple(
        one
        for one in all_changes(folder, store, device)
        if one.is_open or one.standing is Standing.CHANGED_SINCE
    )


def all_changes(
    folder: Path, store: Store, device: str, rows: Callable[[], tuple[TabRows, ...]] | None = None
) -> tuple[StandingChange, ...]:
    """Every change with its standing, in the order of causes; `rows` gives the tables where they are read."""
    found = changes(store)
    if not found:
        return ()
    return standings(found, folder_facts(folder).rows if rows is None else rows(), device)


def own_device(store: Store) -> str:
    """The recording device of the computer that this store belongs to, "" where it has none."""
    return (store.settings.get(DEVICE_KEY) or b"").decode()


def _as_kept(ready: Prepared, facts: OpenFacts, event: str) -> Prepared:
    """Where an undo gives the very facts that were kept before the change, the files as they were kept.

    A table that people wrote then comes back letter for letter, with its remarks and its own way to write.
    """
    copy = next((one for one in kept(facts.folder) if one.event == event), None)
    if copy is None or copy.before != ready.digest:
        return ready
    earlier = folder_facts(facts.folder / EARLIER / copy.name)
    rows, _ = edited(facts.held.rows, ready.edits)
    if earlier.rows != rows:
        return ready
    files = {name: _kept_file(facts.folder, copy, name) for name in ready.files}
    return dataclasses.replace(ready, files=files)


def _kept_file(folder: Path, copy: KeptTables, name: str) -> bytes | None:
    return (folder / EARLIER / copy.name / name).read_bytes() if name in copy.files else None


def _fitting(rows: tuple[TabRows, ...], back: list[Edit]) -> list[Edit]:
    """These edits whatever stands there now; those whose row came or went meanwhile are left out."""
    tries = [forced(edit) for edit in back]
    return [edit for edit in tries if not edited(rows, [edit])[1]]
