"""``pollstead record``: check, head, export and import of the record. Thin: parse, call, print."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import cyclopts

from pollstead.cli import record_keys
from pollstead.cli.options import AsJson
from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    from pollstead.record.check import Report
    from pollstead.record.tree import Head
    from pollstead.store.opening import Store

app = cyclopts.App(name="record", help=text(N_("Check, compare, export and merge the record.")))

for command in (record_keys.key, record_keys.admit, record_keys.revoke, record_keys.protect):
    app.command(command)


@app.command
def verify(
    folder: Path,
    /,
    *,
    head: Annotated[
        tuple[Path, ...],
        cyclopts.Parameter(name="--head", help=text(N_("A head.json noted earlier; may be given again."))),
    ] = (),
    as_json: AsJson = False,
) -> int:
    """Name every event that was changed, removed, reordered or doubled."""
    from pollstead.store.exchange import check_store

    try:
        earlier = tuple(_read_head(path) for path in head)
        with _opened(folder) as store:
            report = check_store(store, earlier)
    except ValueError as error:
        return _cannot(error)
    if as_json:
        _print_json(_report_object(report))
    else:
        for trouble in report.troubles:
            print(f"{trouble.problem}: {fill(trouble.text)}")
        for remark in report.remarks:
            print(fill(message(N_("note: {words}"), words=fill(remark))))
        print(_head_line(report.head))
        if report.checks:
            print(text(N_("The record checks: nothing changed since it was signed.")))
        else:
            count = len(report.troubles)
            print(fill(message(N_("The record does not check: {count} problems."), count=count)))
    return 0 if report.checks else 1


@app.command
def head(folder: Path, /, *, as_json: AsJson = False) -> int:
    """Print how many events there are and the two roots over them."""
    try:
        with _opened(folder) as store:
            found = store.events.head()
    except ValueError as error:
        return _cannot(error)
    if as_json:
        _print_json(_head_object(found))
    else:
        print(_head_line(found))
    return 0


@app.command
def export(
    folder: Path,
    out: Path,
    /,
    *,
    private: Annotated[
        bool,
        cyclopts.Parameter(help=text(N_("Whether private parts (names, reasons, seal numbers) go along."))),
    ] = True,
) -> int:
    """Write the record as open text into a new folder, with a verifier that needs Python alone."""
    from pollstead.store.exchange import export_record

    try:
        with _opened(folder) as store:
            found = export_record(store, out, private=private)
    except ValueError as error:
        return _cannot(error)
    print(_head_line(found))
    print(
        fill(
            message(
                N_("Written to {out}. Check it with: python3 {script} {out}"),
                out=str(out),
                script=str(out / "verify.py"),
            )
        )
    )
    return 0


@app.command(name="import")
def import_(folder: Path, file: Path, /) -> int:
    """Merge an exported record (its folder or its events.jsonl) into the record of FOLDER."""
    from pollstead.store.exchange import export_folder, import_record
    from pollstead.store.opening import open_store

    try:
        export_folder(file)
        with open_store(folder) as store:
            done = import_record(store, file)
            found = store.events.head()
    except ValueError as error:
        return _cannot(error)
    for trouble in done.refused:
        print(fill(message(N_("not taken: {words}"), words=fill(trouble.text))))
    print(
        fill(
            message(
                N_("{read} events read, {new} were new; {sides} private parts came along."),
                read=done.read,
                new=done.new,
                sides=done.sides,
            )
        )
    )
    print(_head_line(found))
    return 0


@contextmanager
def _opened(folder: Path) -> Iterator[Store]:
    from pollstead.store.opening import open_store

    with open_store(folder, create=False) as store:
        yield store


def _cannot(error: Exception) -> int:
    print(str(error), file=sys.stderr)
    return 1


def _print_json(content: dict[str, Any]) -> None:
    print(json.dumps(content, indent=2, sort_keys=True, ensure_ascii=False))


def _head_object(found: Head) -> dict[str, Any]:
    return {"size": found.size, "root": found.root, "log_root": found.log_root}


def _head_line(found: Head) -> str:
    template = N_("{size} events, root {root}, log root {log_root}")
    return fill(message(template, size=found.size, root=found.root, log_root=found.log_root))


def _report_object(report: Report) -> dict[str, Any]:
    return {
        "checks": report.checks,
        "head": _head_object(report.head),
        "problems": [
            {
                "device": trouble.device,
                "event": trouble.event,
                "n": trouble.n,
                "problem": str(trouble.problem),
                "seq": trouble.seq,
                "words": fill(trouble.text),
            }
            for trouble in report.troubles
        ],
        "notes": [fill(remark) for remark in report.remarks],
    }


def _read_head(path: Path) -> Head:
    from pollstead.record.tree import read_head

    return read_head(path.read_bytes())
