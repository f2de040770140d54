"""How one change of facts is written: under a lock, the event first, then the tables all together."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from pollstead.election.county import Election
from pollstead.election.notice import Place
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.intake.fact_edits import Edit, edited
from pollstead.intake.fact_writing import FolderFacts, NotTaken, Prepared, folder_facts, prepare
from pollstead.intake.kept_tables import KeptTables, bring_back, prune, replace_tables, unfinished
from pollstead.intake.notices import cannot_read
from pollstead.intake.tabs import place_of
from pollstead.record.event import Person, Signed
from pollstead.record.kinds.changes import FactsChanged, FactsChangedPrivate
from pollstead.record.write import Moment
from pollstead.store.desk import Desk, begin_desk
from pollstead.store.file_lock import try_lock
from pollstead.work.fact_cells import as_cell
from pollstead.work.fact_changes import WRITTEN_KEY, Standing, StandingChange, changes, standings

FACTS: Final = "facts"
"""The subject of a change that is about no one thing."""

LOCK_NAME: Final = ".pollstead-facts.lock"

_RECORDED_TAB = "county"
_RECORDED_COLUMNS = ("county", "name", "practice")


class Act(Value, frozen=True, kw_only=True):
    """What is done, to what, why, by whom and when; for an undo or an acceptance also to which change."""

    act: str
    subject: str = FACTS
    reason: str
    people: tuple[Person, ...]
    moment: Moment
    undoes: str = ""
    accepts: str = ""


class FactsTaken(Value, frozen=True, kw_only=True):
    """What was done: the event, the digests of the facts, the files replaced, the copy of those before.

    `cells` counts the changes. `copy` is None where no table was there before. `pruned` are copies of
    earlier tables that were deleted for their age; the record keeps each change with its cells.
    """

    event: Signed
    before: str
    after: str
    files: tuple[str, ...]
    cells: int
    copy: KeptTables | None
    pruned: tuple[str, ...] = ()


class CannotChange(ValueError):
    """Facts cannot be changed now; `said` says why and what to do."""

    def __init__(self, said: Message) -> None:
        super().__init__(said.english())
        self.said = said


class OpenFacts:
    """The facts of a folder while its lock is held: read once, then changed by at most one act."""

    def __init__(self, folder: Path, desk: Desk) -> None:
        self.folder = folder
        self.desk = desk
        self.held: FolderFacts = folder_facts(folder)

    def standings(self) -> tuple[StandingChange, ...]:
        """Every change in the record beside these facts."""
        found = changes(self.desk.store)
        return standings(found, self.held.rows, self.desk.recorder.device) if found else ()

    def standing(self, event: str) -> StandingChange:
        """One change; raises ValueError where `event` is none."""
        for one in self.standings():
            if one.change.event == event:
                return one
        raise ValueError(f"event must be a change of facts in the record, got {event[:12]!r}")

    def check_nothing_waits(self) -> None:
        """Raise CannotChange where a change of this computer is recorded and not in the tables."""
        for one in self.standings():
            if one.standing is Standing.NOT_WRITTEN:
                raise CannotChange(
                    message(
                        N_(
                            "Change {number} is recorded and not yet in the tables. "
                            "Finish it or set it aside first."
                        ),
                        number=one.change.number,
                    )
                )

    def prepare(self, edits: Iterable[Edit]) -> Prepared:
        """The tables after these edits; raises NotTaken with every fault."""
        rows, faults = edited(self.held.rows, edits)
        if self.held.unread or faults:
            raise NotTaken((*self.held.unread, *faults))
        return prepare(self.folder, self.held, rows)

    def write(self, ready: Prepared, act: Act) -> FactsTaken:
        """The event, then the tables, then the note that they were written."""
        if not ready.edits and not (act.undoes or act.accepts):
            raise CannotChange(message(N_("Nothing would change: the tables hold these values already.")))
        _check_same_election(ready.edits, self.desk)
        signed = self.record(ready.edits, act, (self.held.digest, ready.digest))
        copy = self.replace(ready, signed.id, act.act, act.moment.utc_ms)
        self.note_written(signed.id)
        return FactsTaken(
            event=signed,
            before=self.held.digest,
            after=ready.digest,
            files=tuple(ready.files),
            cells=len(ready.edits),
            copy=copy if self.held.rows else None,
            pruned=prune(self.folder, act.moment.utc_ms),
        )

    def record(self, edits: Iterable[Edit], act: Act, digests: tuple[str, str]) -> Signed:
        """The event alone. It names the changes in these tables as known, and the one it is about."""
        if not act.reason.strip():
            raise CannotChange(message(N_("A reason is needed: why are the facts changed?")))
        cells = tuple(map(as_cell, edits))
        body = FactsChanged(
            act=act.act,
            tables=tuple(dict.fromkeys(cell.table for cell in cells)),
            cells=len(cells),
            before=digests[0],
            after=digests[1],
            undoes=act.undoes,
            accepts=act.accepts,
        )
        written = [change for change in changes(self.desk.store) if change.written]
        heads = {change.event for change in written}.difference(*(change.knew for change in written))
        return self.desk.recorder.record(
            body,
            subject=act.subject,
            people=act.people,
            moment=act.moment,
            after=tuple(heads | {act.undoes or act.accepts} - {""}),
            private=FactsChangedPrivate(reason=act.reason.strip(), cells=cells),
        )

    def replace(self, ready: Prepared, event: str, act: str, utc_ms: int) -> KeptTables | None:
        """The tables alone, for the change `event`; what was there is kept."""
        if not ready.files:
            return None
        return replace_tables(
            self.folder,
            ready.files,
            stamp=datetime.fromtimestamp(utc_ms / 1000, UTC).strftime("%Y%m%dT%H%M%SZ"),
            why=act,
            before=self.held.digest,
            after=ready.digest,
            event=event,
        )

    def note_written(self, event: str) -> None:
        """Note that the tables here say what the change says."""
        self.desk.store.settings.set(WRITTEN_KEY + event, b"1")


@contextlib.contextmanager
def open_facts(folder: Path, desk: Desk) -> Iterator[OpenFacts]:
    """The facts of `folder` for one act; half replaced tables are put back first.

    Raises CannotChange where another program is changing them just now.
    """
    with _locked(folder):
        _put_back(folder)
        yield OpenFacts(folder, desk)


def mend_tables(folder: Path) -> bool:
    """Put back tables that a stopped program left half replaced; whether there were any.

    Tables that another program is replacing right now are left alone.
    """
    if unfinished(folder) is None:
        return False
    try:
        with _locked(folder):
            return _put_back(folder)
    except CannotChange:
        return False


def desk_of(folder: Path, election: Election, people: tuple[Person, ...], moment: Moment) -> Desk:
    """The desk of a folder, its record begun where there is none; raises ValueError saying what is wrong."""
    folder.mkdir(parents=True, exist_ok=True)
    return begin_desk(
        folder,
        county=election.county,
        election=election.name,
        practice=election.practice,
        people=people,
        moment=moment,
    )


def _put_back(folder: Path) -> bool:
    copy = unfinished(folder)
    if copy is None:
        return False
    bring_back(folder, copy, stamp=copy.name, current="")
    return True


def _check_same_election(edits: tuple[Edit, ...], desk: Desk) -> None:
    """A record belongs to one election: its county, name and practice flag stay as they are."""
    for edit in edits:
        if edit.table == _RECORDED_TAB and edit.column in _RECORDED_COLUMNS:
            fault = cannot_read(
                "other-election",
                Place(file=place_of(edit.table), row=2, column=edit.column),
                message(
                    N_("The record of this folder is of {county}, {election}"),
                    county=desk.header.county,
                    election=desk.header.election,
                ),
                found=edit.after,
                wanted=edit.before or "",
                remedy=message(N_("Use another folder for another election.")),
            )
            raise NotTaken((fault,))


@contextlib.contextmanager
def _locked(folder: Path) -> Iterator[None]:
    handle = os.open(folder / LOCK_NAME, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        if not try_lock(handle):
            raise CannotChange(
                message(N_("Another program is changing the facts just now. Wait a moment, then try again."))
            )
        yield
    finally:
        os.close(handle)
