"""``pollstead facts``: facts out as a folder or workbook, back in, and undone. Thin: call, print."""

from __future__ import annotations

import datetime as dt
import json
import sys
from pathlib import Path
from typing import Annotated

import cyclopts

from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

app = cyclopts.App(
    name="facts", help=text(N_("Write a county's facts out as a folder or workbook; read a workbook back."))
)

Overwrite = Annotated[
    bool, cyclopts.Parameter(negative=(), help=text(N_("Replace the tables of a folder that is not empty.")))
]
Replace = Annotated[
    bool, cyclopts.Parameter(name="--overwrite", negative=(), help=text(N_("Replace a file that is there.")))
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
AsJson = Annotated[bool, cyclopts.Parameter(name="--json", negative=(), help=text(N_("Print JSON.")))]
Copy = Annotated[
    str, cyclopts.Parameter(name="--copy", help=text(N_("Name of the kept tables; see --list.")))
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
        help=text(N_("Undo although tables were changed since; they are kept too.")),
    ),
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
def workbook(folder: Path, out: Path, /, *, overwrite: Replace = False) -> int:
    """Write all facts of FOLDER as one XLSX workbook OUT: a tab for each table, notes and drop-downs.

    Returns 1 where a table of FOLDER cannot be read, because its rows would be lost.
    """
    import importlib.metadata

    from pollstead.cli.fact_bases import keep_snapshot
    from pollstead.cli.fact_lines import print_notices
    from pollstead.intake.fact_import import folder_facts
    from pollstead.intake.folder import read_folder
    from pollstead.intake.workbook_in import lock_beside
    from pollstead.intake.workbook_out import Origin, write_workbook

    held = folder_facts(folder)
    if held.unread or not held.rows:
        print_notices(held.unread or read_folder(folder).faults)
        print(text(N_("Not written: correct the faults first.")), file=sys.stderr)
        return 1
    if out.suffix.lower() != ".xlsx":
        print(text(N_("A workbook's name ends in .xlsx.")), file=sys.stderr)
        return 2
    if out.exists() and lock_beside(out):
        print(text(N_("Close the workbook in the other program first.")), file=sys.stderr)
        return 1
    keep_snapshot(folder)
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
    older_too: OlderToo = False,
    as_json: AsJson = False,
) -> int:
    """Show every difference between FOLDER and the workbook FILE, and take those you accept.

    A FOLDER that is not there yet is made. The tables before are kept, so that `facts undo` brings
    them back. Returns 1 where the workbook cannot be read, a line cannot be taken, or nobody said
    which lines to take; nothing is written then.
    """
    from pollstead.cli import fact_lines
    from pollstead.cli.fact_bases import snapshot_of
    from pollstead.intake.fact_import import NotTaken, Taking, look, take, unfinished

    halfway = unfinished(folder)
    if halfway is not None:
        return _halfway(folder)
    found = look(folder, file, lambda digest: snapshot_of(folder, digest))
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
    accepted: frozenset[int] | None
    asking = not accept and not as_json and sys.stdin.isatty() and sys.stdout.isatty()
    if asking and found.difference.lines:
        accepted = fact_lines.ask(found, older_too)
        if accepted is None:
            print(text(N_("Nothing was taken.")))
            return 0
    else:
        try:
            accepted = fact_lines.chosen(accept or "none", found, older_too)
        except ValueError as error:
            print(error, file=sys.stderr)
            return 2
        if not as_json:
            fact_lines.print_lines(found)
    taking: Taking | None = None
    try:
        if accepted:
            why = f"import of {file.name}"
            taking = take(folder, found, accepted, stamp=_stamp(), why=why)
    except NotTaken as error:
        if as_json:
            _print_json(fact_lines.report(found, file, accepted, None, error.faults))
        else:
            fact_lines.print_notices(error.faults)
            print(text(N_("Nothing was taken: these lines do not fit one another.")), file=sys.stderr)
        return 1
    except OSError as error:
        return _not_written(folder, error)
    if as_json:
        _print_json(fact_lines.report(found, file, accepted, taking, ()))
        return 0
    return _told(folder, len(accepted), taking, bool(found.difference.lines) and not accept and not asking)


@app.command
def undo(folder: Path, /, *, copy: Copy = "", listed: Listed = False, changed_too: ChangedToo = False) -> int:
    """Bring back the tables of FOLDER as they were before the last import, or those named by --copy.

    The tables as they are now are kept too, so that an undo can be undone. Returns 1 where nothing is
    kept, or tables were changed since the import and --changed-too is not given.
    """
    from pollstead.intake.folder import read_folder
    from pollstead.intake.kept_tables import bring_back, kept

    copies = kept(folder)
    if listed:
        for held in copies:
            print(f"{held.name}  {held.before[:16]} → {held.after[:16]}  {held.why}")
        if not copies:
            print(text(N_("No tables are kept.")))
        return 0
    named = [held for held in copies if held.name == copy] if copy else list(copies[:1])
    if not named:
        print(text(N_("No tables of that name are kept; see --list.")), file=sys.stderr)
        return 1
    chosen = named[0]
    digest = read_folder(folder).digest
    if digest != chosen.after and not chosen.unfinished and not changed_too:
        print(
            text(N_("Not undone: tables were changed since. Say --changed-too; they are kept too.")),
            file=sys.stderr,
        )
        return 1
    try:
        before = bring_back(folder, chosen, stamp=_stamp(), current=digest)
    except OSError as error:
        return _not_written(folder, error)
    print(fill(message(N_("The tables are those of {name} again."), name=chosen.name)))
    if before is not None:
        print(fill(message(N_("The tables before this undo are kept as {name}."), name=before.name)))
    return 0


def _told(folder: Path, count: int, taking: object, unsaid: bool) -> int:
    from pollstead.intake.fact_import import Taking

    if isinstance(taking, Taking):
        print(
            fill(
                message(
                    N_("{count} lines taken; {files} written; facts {digest}"),
                    count=count,
                    files=", ".join(taking.files) or text(N_("nothing")),
                    digest=taking.digest[:16],
                )
            )
        )
        if taking.copy is not None:
            print(
                fill(
                    message(
                        N_("The tables before are kept as {name}; undo by: pollstead facts undo {folder}"),
                        name=taking.copy.name,
                        folder=str(folder),
                    )
                )
            )
        return 0
    if unsaid:
        print(text(N_("Nothing was taken. Say which lines: --accept all, none or 1,3,5-8.")), file=sys.stderr)
        return 1
    print(text(N_("Nothing was taken.")))
    return 0


def _print_json(report: object) -> None:
    json.dump(report, sys.stdout, ensure_ascii=False, indent=2)
    print()


def _stamp() -> str:
    return dt.datetime.now(dt.UTC).strftime("%Y%m%dT%H%M%SZ")


def _halfway(folder: Path) -> int:
    print(
        fill(
            message(
                N_("An import stopped halfway. Bring back the tables by: pollstead facts undo {folder}"),
                folder=str(folder),
            )
        ),
        file=sys.stderr,
    )
    return 1


def _not_written(out: Path, error: OSError) -> int:
    reason = error.strerror or str(error)
    print(
        fill(message(N_("{out} cannot be written: {reason}"), out=str(out), reason=reason)), file=sys.stderr
    )
    return 1
