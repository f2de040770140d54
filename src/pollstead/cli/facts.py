"""``pollstead facts``: facts out as a folder or workbook, and back in. Thin: call, print."""

from __future__ import annotations

import datetime as dt
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import cyclopts

from pollstead.cli import fact_changes
from pollstead.cli.fact_options import By, Why
from pollstead.cli.options import AsJson
from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    from pollstead.intake.fact_import import Import
    from pollstead.intake.fact_writing import Prepared
    from pollstead.work.facts import FactsTaken

app = cyclopts.App(
    name="facts", help=text(N_("Write a county's facts out as a folder or workbook; read a workbook back."))
)

Overwrite = Annotated[
    bool, cyclopts.Parameter(negative=(), help=text(N_("Replace the tables of a folder that is not empty.")))
]
Replace = Annotated[
    bool, cyclopts.Parameter(name="--overwrite", negative=(), help=text(N_("Replace a file that is there.")))
]
Kind = Annotated[
    str,
    cyclopts.Parameter(
        name="--kind", help=text(N_("Kind of site (A, B, C, D or E) of a workbook to begin with."))
    ),
]
Accept = Annotated[
    str, cyclopts.Parameter(name="--accept", help=text(N_("Lines to take: all, none or 1,3,5-8.")))
]
OlderToo = Annotated[
    bool,
    cyclopts.Parameter(
        name="--older-too",
        negative=(),
        help=text(N_("Offer also lines where the folder has changed since the workbook was made.")),
    ),
]
Quiet = Annotated[
    bool, cyclopts.Parameter(name="--quiet", negative=(), help=text(N_("Do not print the differences.")))
]


@app.command
def export(folder: Path, out: Path, /, *, overwrite: Overwrite = False) -> int:
    """Write every table of FOLDER to the folder OUT; nothing is lost, and reading it back gives the same.

    Returns 1 where FOLDER has a fault, because rows that contradict one another would be lost.
    """
    from pollstead.cli.check import print_report
    from pollstead.intake.export import write_folder
    from pollstead.intake.folder import read_folder

    intake = read_folder(folder)
    if intake.election is None or intake.faults:
        print_report(intake)
        print(text(N_("Not written: correct the faults first.")), file=sys.stderr)
        return 1
    try:
        files = write_folder(intake.election, out, overwrite)
    except FileExistsError as error:
        print(error, file=sys.stderr)
        return 1
    except OSError as error:
        return _not_written(out, error)
    print(fill(message(N_("{count} files written to {out}"), count=len(files), out=str(out))))
    return 0


@app.command
def workbook(folder: Path, out: Path, /, *, overwrite: Replace = False, kind: Kind = "") -> int:
    """Write all facts of FOLDER as one XLSX workbook OUT: a tab for each table, notes and drop-downs.

    Where FOLDER is not there yet, the workbook is one to begin with: with --kind, station types stand in
    it and all other tabs wait for your rows. Returns 1 where a table of FOLDER cannot be read, because
    its rows would be lost.
    """
    import importlib.metadata

    from pollstead.cli.fact_desk import keep_facts
    from pollstead.cli.fact_lines import print_notices
    from pollstead.intake.fact_writing import first_facts, folder_facts
    from pollstead.intake.folder import read_folder
    from pollstead.intake.workbook_in import lock_beside
    from pollstead.intake.workbook_out import Origin, write_workbook

    held = folder_facts(folder)
    if not held.rows and not held.unread and kind:
        try:
            held = first_facts(kind)
        except ValueError as error:
            print(error, file=sys.stderr)
            return 2
    elif not held.rows and not held.unread:
        words = N_("{folder} holds no facts yet. For a workbook to begin with, say --kind A, B, C, D or E.")
        print(fill(message(words, folder=str(folder))), file=sys.stderr)
        return 1
    if held.unread:
        print_notices(held.unread or read_folder(folder).faults)
        print(text(N_("Not written: correct the faults first.")), file=sys.stderr)
        return 1
    if out.suffix.lower() != ".xlsx":
        print(text(N_("A workbook's name ends in .xlsx.")), file=sys.stderr)
        return 2
    if out.exists() and lock_beside(out):
        print(text(N_("Close the workbook in the other program first.")), file=sys.stderr)
        return 1
    if held.digest:
        keep_facts(folder)
    now = dt.datetime.now(dt.UTC)
    origin = Origin(
        facts=held.digest,
        made=now.strftime("%Y-%m-%d %H:%M UTC"),
        program=f"pollstead {importlib.metadata.version('pollstead')}",
    )
    try:
        write_workbook(held.rows, out, origin, text, overwrite)
    except FileExistsError:
        print(
            fill(message(N_("{out} is there already; name a new file, or say --overwrite."), out=str(out))),
            file=sys.stderr,
        )
        return 1
    except OSError as error:
        return _not_written(out, error)
    if not held.digest:
        command = f"pollstead new {folder} --from {out} --by PERSON"
        print(
            fill(
                message(
                    N_("{out} written. Fill it in, save it, then: {command}"), out=str(out), command=command
                )
            )
        )
        return 0
    print(
        fill(
            message(
                N_("{out} written: {count} rows of facts {digest}. Names and phones stand in it."),
                out=str(out),
                count=sum(len(tab.rows) for tab in held.rows),
                digest=held.digest[:16],
            )
        )
    )
    return 0


@app.command(name="import")
def import_(
    folder: Path,
    file: Path,
    /,
    *,
    accept: Accept = "",
    by: By = "",
    reason: Why = "",
    older_too: OlderToo = False,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> int:
    """Show every difference between FOLDER and the workbook FILE, and take those you accept.

    What is taken is recorded by one event: who, why, and each cell before and after; `facts undo` takes
    it back. A FOLDER that is not there yet is made. Returns 1 where the workbook cannot be read, a line
    cannot be taken, or nobody said which lines to take; 2 where nobody said who takes them and why.
    Nothing is written then.
    """
    from pollstead.cli import fact_lines
    from pollstead.cli.fact_desk import store_there, told
    from pollstead.intake.fact_import import look, prepare_lines
    from pollstead.work.fact_bases import snapshot_of
    from pollstead.work.facts import CannotChange, NotTaken, mend_tables

    if folder.is_dir():
        mend_tables(folder)
    with store_there(folder) as store:
        found = look(folder, file, lambda digest: snapshot_of(folder, store, digest))
    if not as_json:
        fact_lines.print_warnings(found, file)
        fact_lines.print_notices(found.workbook.facts.items)
    if found.faults:
        if as_json:
            _print_json(fact_lines.report(found, file, frozenset(), None, found.faults))
        else:
            fact_lines.print_notices(found.faults)
            print(text(N_("Nothing was taken: correct these first.")), file=sys.stderr)
        return 1
    if accept.strip().casefold() == "all" and found.older and not found.base_known and not older_too:
        print(
            text(N_("Not taken: an older workbook is taken by line numbers, or whole with --older-too.")),
            file=sys.stderr,
        )
        return 1
    asking = not accept and not as_json and sys.stdin.isatty() and sys.stdout.isatty()
    accepted: frozenset[int] | None
    if asking and found.difference.lines:
        accepted = fact_lines.ask(found, older_too)
        if accepted:
            by, reason = fact_lines.ask_who_and_why(by, reason)
        if accepted is None:
            print(text(N_("Nothing was taken.")))
            return 0
    else:
        try:
            accepted = fact_lines.chosen(accept or "none", found, older_too)
        except ValueError as error:
            print(error, file=sys.stderr)
            return 2
        if not as_json and not quiet:
            fact_lines.print_lines(found)
    taken: FactsTaken | None = None
    try:
        if accepted:
            if not by or not reason.strip():
                print(
                    text(N_('Say who takes the lines and why: --by PERSON --reason "…". Nothing was taken.')),
                    file=sys.stderr,
                )
                return 2
            taken = _take(folder, found, prepare_lines(folder, found, accepted), by, reason)
    except NotTaken as error:
        if as_json:
            _print_json(fact_lines.report(found, file, accepted, None, error.faults))
        else:
            fact_lines.print_notices(error.faults)
            print(text(N_("Nothing was taken: these lines do not fit one another.")), file=sys.stderr)
        return 1
    except CannotChange as error:
        print(fill(error.said), file=sys.stderr)
        return 1
    except OSError as error:
        _not_written(folder, error)
        return _recorded(folder)
    except ValueError as error:
        print(error, file=sys.stderr)
        return 1
    if as_json:
        _print_json(fact_lines.report(found, file, accepted, taken, ()))
        return 0
    if taken is not None:
        told(folder, taken, len(accepted))
        return 0
    if found.difference.lines and not accept and not asking:
        print(text(N_("Nothing was taken. Say which lines: --accept all, none or 1,3,5-8.")), file=sys.stderr)
        return 1
    print(text(N_("Nothing was taken.")))
    return 0


def _take(folder: Path, found: Import, ready: Prepared, by: str, reason: str) -> FactsTaken | None:
    from pollstead.cli.fact_desk import desk_for, moment_now, person
    from pollstead.work.facts import take_prepared

    if not ready.edits:
        return None
    people = person(by)
    with desk_for(folder, people, ready.election) as desk:
        return take_prepared(
            folder,
            found.folder,
            ready,
            act="import",
            reason=reason,
            people=people,
            desk=desk,
            moment=moment_now(),
        )


def _recorded(folder: Path) -> int:
    """Say that the change is kept where the tables could not be written; always 1."""
    from pollstead.cli.fact_desk import store_there
    from pollstead.work.fact_changes import Standing
    from pollstead.work.facts import own_device, pending

    with store_there(folder) as store:
        waiting = pending(folder, store, own_device(store)) if store is not None else ()
    for one in waiting:
        if one.standing is Standing.NOT_WRITTEN:
            print(
                fill(
                    message(
                        N_("The change is recorded, the tables are as before. Then: {command}"),
                        command=f"pollstead facts finish {folder} {one.change.event[:8]}",
                    )
                ),
                file=sys.stderr,
            )
    return 1


def _print_json(report: object) -> None:
    json.dump(report, sys.stdout, ensure_ascii=False, indent=2)
    print()


def _not_written(out: Path, error: OSError) -> int:
    reason = error.strerror or str(error)
    print(
        fill(message(N_("{out} cannot be written: {reason}"), out=str(out), reason=reason)), file=sys.stderr
    )
    return 1


fact_changes.add_to(app)
