"""Who changes facts at the command line, when, and with which desk; and what is told afterwards."""

from __future__ import annotations

import contextlib
import datetime as dt
import sys
from collections.abc import Iterator
from pathlib import Path

from pollstead.election.county import Election
from pollstead.election.words import N_, message
from pollstead.intake.kept_tables import KEEP_DAYS
from pollstead.record.event import Means, Part, Person
from pollstead.record.write import Moment
from pollstead.show.words import fill
from pollstead.store.desk import Desk
from pollstead.store.opening import Store
from pollstead.work.clock import now_ms
from pollstead.work.fact_bases import keep_snapshot, stale_plans, store_if_there
from pollstead.work.facts import FactsTaken, desk_of

# Nobody has compared this computer's clock with another one: its moments are taken as within a minute.
CLOCK_UNCERTAINTY_MS = 60_000


def person(by: str) -> tuple[Person, ...]:
    """The one who acts, by id alone: nobody is asked for a code here."""
    known = by if by.startswith("person/") else f"person/{by}"
    return (Person(person=known, means=Means.NAME_ONLY, part=Part.AUTHOR),)


def moment_now() -> Moment:
    """Now, by this computer's clock."""
    offset = dt.datetime.now().astimezone().utcoffset()
    return Moment(
        utc_ms=now_ms(),
        offset_min=0 if offset is None else int(offset.total_seconds() // 60),
        uncertainty_ms=CLOCK_UNCERTAINTY_MS,
    )


@contextlib.contextmanager
def desk_for(folder: Path, people: tuple[Person, ...], election: Election | None) -> Iterator[Desk]:
    """The folder's desk; its record begins for `election`, or for the facts in the folder where None."""
    from pollstead.intake.folder import read_folder

    election = read_folder(folder).election or election
    if election is None:
        raise ValueError(f"{folder} must have county.toml and sites.csv before a change can be recorded")
    desk = desk_of(folder, election, people, moment_now())
    try:
        yield desk
    finally:
        desk.close()


@contextlib.contextmanager
def store_there(folder: Path) -> Iterator[Store | None]:
    """The folder's store while it is needed; None, told on standard error, where it cannot be opened."""
    store = None
    try:
        store = store_if_there(folder)
    except (ValueError, OSError) as error:
        _no_store(folder, error)
    try:
        yield store
    finally:
        if store is not None:
            store.close()


def keep_facts(folder: Path) -> None:
    """Keep the facts in the folder's store, if it has one: a later import then knows which side changed."""
    from pollstead.intake.folder import read_folder

    election = read_folder(folder).election
    with store_there(folder) as store:
        if store is None or election is None:
            return
        try:
            keep_snapshot(store, election, now_ms())
        except (ValueError, OSError) as error:
            _no_store(folder, error)


def told(folder: Path, taken: FactsTaken, lines: int | None = None) -> None:
    """Say what was written, how to take it back, and which plan versions it leaves behind."""
    if lines is None:
        words = message(
            N_("{count} cells or rows changed; {files} written; facts {digest}"),
            count=taken.cells,
            files=", ".join(taken.files),
            digest=taken.after[:16],
        )
    else:
        words = message(
            N_("{count} lines taken; {files} written; facts {digest}"),
            count=lines,
            files=", ".join(taken.files),
            digest=taken.after[:16],
        )
    print(fill(words))
    if taken.before:
        command = f"pollstead facts undo {folder} {taken.event.id[:8]}"
        print(fill(message(N_("Take it back by: {command}"), command=command)))
    if taken.pruned:
        gone = N_("{count} copies of earlier tables, older than {days} days, were deleted.")
        print(fill(message(gone, count=len(taken.pruned), days=KEEP_DAYS)))
    tell_stale(folder, taken.after)


def tell_stale(folder: Path, digest: str) -> None:
    """Name the plan versions in use that were made from other facts."""
    with store_there(folder) as store:
        stale = stale_plans(store, digest) if store is not None else ()
    for plan in stale:
        words = (
            N_("Plan version {number}, the approved one, was made from other facts. Plan again: {command}")
            if plan.approved
            else N_("Plan version {number} was made from other facts. Plan again: {command}")
        )
        print(fill(message(words, number=plan.number, command=f"pollstead plan {folder}")))


def _no_store(folder: Path, error: Exception) -> None:
    words = N_("The store of {folder} cannot be opened: {why}")
    print(fill(message(words, folder=str(folder), why=str(error))), file=sys.stderr)
