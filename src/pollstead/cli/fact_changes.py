"""``pollstead facts``: list the changes of facts, take one back, end what waits. Thin: call, print."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import cyclopts

from pollstead.cli.fact_options import By, Why
from pollstead.cli.options import AsJson
from pollstead.election.words import N_, message
from pollstead.intake.kept_tables import KEEP_COPIES, KEEP_DAYS
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    from pollstead.store.desk import Desk
    from pollstead.store.opening import Store
    from pollstead.work.fact_changes import StandingChange

Values = Annotated[
    bool,
    cyclopts.Parameter(
        name="--values",
        negative=(),
        help=text(N_("Show also what stands in columns about people and seals.")),
    ),
]
Copy = Annotated[
    str, cyclopts.Parameter(name="--copy", help=text(N_("Name of kept tables to bring back; see --list.")))
]
Listed = Annotated[
    bool,
    cyclopts.Parameter(name="--list", negative=(), help=text(N_("List the tables kept; change nothing."))),
]
ChangedToo = Annotated[
    bool,
    cyclopts.Parameter(
        name="--changed-too",
        negative=(),
        help=text(N_("Take back also cells that were changed since; the event keeps what stood there.")),
    ),
]
Keep = Annotated[int, cyclopts.Parameter(name="--keep", help=text(N_("How many copies to keep at least.")))]
Days = Annotated[
    int, cyclopts.Parameter(name="--days", help=text(N_("Copies of how many days to keep in any case.")))
]

_NOT_SAID = N_('Say who does it and why: --by PERSON --reason "…". Nothing was written.')


def add_to(app: cyclopts.App) -> None:
    """Offer these commands in `app`."""
    for command in (changes, pending, undo, finish, accept, prune):
        app.command(command)
    app.command(set_aside, name="set-aside")


def changes(folder: Path, /, *, values: Values = False, as_json: AsJson = False) -> int:
    """List every change of facts: number, when, who, what, why, and its cells.

    Of columns about people and seals only "changed" is said, unless --values is given.
    """
    from pollstead.cli import fact_change_lines

    found = _found(folder)
    if as_json:
        json.dump(fact_change_lines.report(found, values), sys.stdout, ensure_ascii=False, indent=2)
        print()
        return 0
    for one in found:
        fact_change_lines.print_change(one, values)
    if not found:
        print(text(N_("No change of facts is recorded.")))
    return 0


def pending(folder: Path, /, *, values: Values = False, as_json: AsJson = False) -> int:
    """List changes that are recorded and not in the tables; returns 1 where somebody must decide."""
    from pollstead.cli import fact_change_lines
    from pollstead.work.fact_changes import Standing

    found = tuple(one for one in _found(folder) if one.is_open or one.standing is Standing.CHANGED_SINCE)
    if as_json:
        json.dump(fact_change_lines.report(found, values), sys.stdout, ensure_ascii=False, indent=2)
        print()
    else:
        for one in found:
            fact_change_lines.print_change(one, values)
            fact_change_lines.print_remedy(one, folder)
        if not found:
            print(text(N_("Nothing waits: the tables say what the record says.")))
    return 1 if any(one.is_open for one in found) else 0


def undo(
    folder: Path,
    change: str = "",
    /,
    *,
    by: By = "",
    reason: Why = "",
    copy: Copy = "",
    listed: Listed = False,
    changed_too: ChangedToo = False,
) -> int:
    """Take a change of facts back by a new event; without CHANGE, the last that is in the tables.

    CHANGE is a number or the first digits of an id from `facts changes`. With --copy, all tables become
    those that were kept under that name. Returns 1 where a cell was changed since and --changed-too is
    not given; nothing is written then.
    """
    from pollstead.cli import fact_undo

    if listed:
        return fact_undo.print_kept(folder)
    if copy:
        return _done(folder, by, reason, lambda desk: fact_undo.bring_back(folder, copy, desk, by, reason))
    return _done(
        folder, by, reason, lambda desk: fact_undo.undo(folder, change, desk, by, reason, changed_too)
    )


def finish(folder: Path, change: str, /) -> int:
    """Write a change of this computer into the tables that was recorded and not yet written."""
    from pollstead.work import fact_waiting

    def act(desk: Desk) -> int:
        files = fact_waiting.finish(folder, named(folder, desk.store, change), desk=desk)
        print(fill(message(N_("{files} written."), files=", ".join(files) or text(N_("nothing")))))
        return 0

    return _done(folder, "office", "finish", act)


def accept(folder: Path, change: str, /, *, by: By = "", reason: Why = "") -> int:
    """Take a change that was made on another computer into the tables here."""
    from pollstead.cli.fact_desk import moment_now, person, told
    from pollstead.work import fact_waiting

    def act(desk: Desk) -> int:
        taken = fact_waiting.accept(
            folder,
            named(folder, desk.store, change),
            reason=reason,
            people=person(by),
            desk=desk,
            moment=moment_now(),
        )
        told(folder, taken)
        return 0

    return _done(folder, by, reason, act)


def set_aside(folder: Path, change: str, /, *, by: By = "", reason: Why = "") -> int:
    """Leave the tables as they are and record that a change not in them is not wanted."""
    from pollstead.cli.fact_desk import moment_now, person
    from pollstead.work import fact_waiting

    def act(desk: Desk) -> int:
        fact_waiting.set_aside(
            folder,
            named(folder, desk.store, change),
            reason=reason,
            people=person(by),
            desk=desk,
            moment=moment_now(),
        )
        print(text(N_("Set aside; the tables stay as they are.")))
        return 0

    return _done(folder, by, reason, act)


def prune(folder: Path, /, *, keep: Keep = KEEP_COPIES, days: Days = KEEP_DAYS) -> int:
    """Delete old copies of the tables, which hold names and phones; the record keeps every change.

    The last --keep copies stay, and all of the last --days days. Each change does the same with 20 copies
    and 30 days. Copies of the folder made before hold what they held.
    """
    from pollstead.intake.kept_tables import prune as prune_tables
    from pollstead.work.clock import now_ms

    if keep < 1 or days < 0:
        print(text(N_("--keep takes a number from 1, --days one from 0.")), file=sys.stderr)
        return 2
    gone = prune_tables(folder, now_ms(), keep=keep, days=days)
    print(fill(message(N_("{count} copies of earlier tables deleted."), count=len(gone))))
    return 0


def _found(folder: Path) -> tuple[StandingChange, ...]:
    from pollstead.cli.fact_desk import store_there
    from pollstead.work.facts import all_changes, mend_tables, own_device

    if folder.is_dir():
        mend_tables(folder)
    with store_there(folder) as store:
        return all_changes(folder, store, own_device(store)) if store is not None else ()


def named(folder: Path, store: Store, name: str) -> str:
    """The id of the change that a number or the first digits of an id name."""
    from pollstead.work.facts import all_changes, own_device

    found = all_changes(folder, store, own_device(store))
    events = [
        one.change.event
        for one in found
        if (name.isdecimal() and len(name) < 4 and one.change.number == int(name))
        or (len(name) >= 4 and one.change.event.startswith(name.lower()))
    ]
    if len(events) != 1:
        raise ValueError(
            fill(
                message(
                    N_("{name} names {count} changes. Give a number or 8 digits of an id; see: {command}"),
                    name=name,
                    count=len(events),
                    command=f"pollstead facts changes {folder}",
                )
            )
        )
    return events[0]


def _done(folder: Path, by: str, reason: str, act: Callable[[Desk], int]) -> int:
    """Do `act` at the folder's desk; what stands in the way is told, and 1 or 2 given."""
    from pollstead.cli.fact_desk import desk_for, person
    from pollstead.cli.fact_lines import print_notices
    from pollstead.work.facts import CannotChange, NotTaken, mend_tables

    if not by or not reason.strip():
        print(text(_NOT_SAID), file=sys.stderr)
        return 2
    try:
        if folder.is_dir():
            mend_tables(folder)
        with desk_for(folder, person(by), None) as desk:
            return act(desk)
    except NotTaken as error:
        print_notices(error.faults)
        print(text(N_("Nothing was written.")), file=sys.stderr)
    except CannotChange as error:
        print(fill(error.said), file=sys.stderr)
    except (ValueError, OSError) as error:
        print(error, file=sys.stderr)
    return 1
