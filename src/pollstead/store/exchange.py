"""A record as open text: write it out with everything needed to check it, and read it back in.

Layout (docs/formats/record.md): ``header.json``, ``events.jsonl``, ``side/DIGEST.json``,
``head.json``, ``README.txt``, ``verify.py``. All text is UTF-8 with line feeds.
"""

from __future__ import annotations

import importlib.resources
import os
import shutil
import tempfile
from pathlib import Path
from typing import Any, Final

import msgspec

from pollstead.election.canonical import canonical_bytes
from pollstead.election.values import Value, require
from pollstead.record.check import Report, Row, check_record
from pollstead.record.event import DIGEST, Side, Signed, read_side, read_signed
from pollstead.record.header import Header, read_header
from pollstead.record.keys import Trust
from pollstead.record.problem import Problem, Trouble
from pollstead.record.tree import Head, head_of
from pollstead.store.opening import Store

LAYOUT: Final = "pollstead-record-1"
_README: Final = """\
The record of {county}, {election}{practice}.

events.jsonl   one event a line, in the order in which they arrived: its id, its text as it was
               signed, the signature and the link to the line before.
header.json    county, election, the office's public key.
side/          the private parts that were exported, each under its digest.
head.json      how many events there are, and the two roots over them.
verify.py      checks all of it with Python 3 alone:  python3 verify.py .

Compare head.json with a head that was printed or published at the time: a change after that head
was printed can be detected. A match shows that the numbers match; it does not show that what
people entered was so. Unofficial, staff use.
"""


class Imported(Value, frozen=True):
    """What an import brought: lines read, events that were new, private parts, events not accepted."""

    read: int
    new: int
    sides: int
    refused: tuple[Trouble, ...]


def export_record(store: Store, out: Path, *, private: bool = True) -> Head:
    """Write the record into the new folder `out`; without private parts when `private` is false.

    Raises ValueError when `out` exists and is not empty, or when there is no record.
    """
    header = _header(store)
    if out.exists() and (not out.is_dir() or any(out.iterdir())):
        what = "has files in it" if out.is_dir() else "is a file"
        raise ValueError(f"an export goes into a new or empty folder, {out} {what}")
    out.parent.mkdir(parents=True, exist_ok=True)
    # Written beside `out` and renamed at the end: no folder called so ever holds half a record.
    made = Path(tempfile.mkdtemp(prefix=f"{out.name}.part-", dir=out.parent))
    try:
        head = _write_export(store, header, made, private=private)
        if out.exists():
            out.rmdir()
        made.chmod(0o777 & ~_umask())
        made.rename(out)
    except BaseException:
        shutil.rmtree(made, ignore_errors=True)
        raise
    return head


def _umask() -> int:
    """The rights that this process gives to nobody; they can only be read by setting them."""
    kept = os.umask(0)
    os.umask(kept)
    return kept


def _write_export(store: Store, header: Header, out: Path, *, private: bool) -> Head:
    rows = store.events.rows()
    lines = [canonical_bytes(_line(row)) + b"\n" for row in rows]
    (out / "events.jsonl").write_bytes(b"".join(lines))
    (out / "header.json").write_bytes(header.to_bytes() + b"\n")
    sides = store.sides.all()
    folder = out / "side"
    folder.mkdir(exist_ok=True)
    for digest, side in sides.items():
        if private and side is not None:
            (folder / f"{digest}.json").write_bytes(side.data + b"\n")
    head = head_of([row.id for row in rows])
    content: dict[str, Any] = {
        "layout": LAYOUT,
        "record": header.record_id,
        "redacted": sorted(digest for digest, side in sides.items() if side is None),
        **msgspec.to_builtins(head),
    }
    (out / "head.json").write_bytes(canonical_bytes(content) + b"\n")
    practice = " (PRACTICE)" if header.practice else ""
    readme = _README.format(county=header.county, election=header.election, practice=practice)
    (out / "README.txt").write_bytes(readme.encode("utf-8"))
    source = importlib.resources.files("pollstead.record") / "standalone" / "verify.py"
    (out / "verify.py").write_bytes(source.read_bytes())
    return head


def _line(row: Row) -> dict[str, Any]:
    """One line of events.jsonl; the event is text within the line so that its bytes stay as signed."""
    try:
        text = row.data.decode("utf-8")
    except UnicodeDecodeError as error:
        raise ValueError(
            f"event {row.id[:12]} at place {row.seq} was changed and is no text: check the record first"
        ) from error
    return {
        "arrival": row.arrival,
        "event": text,
        "id": row.id,
        "seq": row.seq,
        "signature": row.signature.hex(),
    }


class _Line(Value, frozen=True):
    """One line of events.jsonl."""

    arrival: str
    event: str
    id: str
    seq: int
    signature: str


def export_folder(source: Path) -> Path:
    """The folder of an exported record that `source` (it, or its events.jsonl) names; ValueError if none."""
    folder = source if source.is_dir() else source.parent
    for name in ("header.json", "events.jsonl"):
        if not source.exists() or not (folder / name).is_file():
            raise ValueError(
                f"{source} must be an exported record, its folder or its events.jsonl; "
                f"{folder / name if source.exists() else source} is not there"
            )
    return folder


def read_rows(folder: Path) -> tuple[Row, ...]:
    """The lines of an exported record, unread; raises ValueError naming the line that does not fit."""
    path = folder / "events.jsonl" if folder.is_dir() else folder
    rows = []
    for number, text in enumerate(path.read_bytes().splitlines(), 1):
        try:
            line = msgspec.json.decode(text, type=_Line)
            data, signature = line.event.encode("utf-8"), bytes.fromhex(line.signature)
        except (ValueError, RecursionError) as error:
            raise ValueError(
                f"{path.name}, line {number} must be a line of an exported record: {error}"
            ) from error
        rows.append(Row(seq=line.seq, id=line.id, data=data, signature=signature, arrival=line.arrival))
    return tuple(rows)


def import_record(store: Store, source: Path) -> Imported:
    """Merge an exported record (its folder, or its events.jsonl) into the store.

    All is checked first, together with what is here. Nothing is taken, and ValueError names the
    first trouble, when an id, a signature or a certificate does not check, or when one record is
    a practice one and the other is not. Events after a device's last accepted counter, and
    decisions of the office signed by a device of a site, are not taken and are named in the
    outcome. Gaps, forks, wrong clocks and events outside a device's scope are taken: a check names
    them from then on.
    """
    folder = export_folder(source)
    header = read_header((folder / "header.json").read_bytes().rstrip(b"\n"))
    here = store.header() or header
    if header.practice != here.practice:
        raise ValueError(
            "a practice record and a real one never mix: "
            f"here is {'practice' if here.practice else 'real'}, {source} is the other"
        )
    require(
        header == here,
        f"{source} is the record of {header.county}, {header.election} with another header than here",
    )
    rows = read_rows(folder)
    sides = _read_sides(folder)
    signed, refused = _accepted(here, rows, store)
    wanted = {one.event.private for one in signed}
    taken = tuple(side for digest, side in sides.items() if digest in wanted)
    store.begin_record(header)
    new = store.events.add(signed, taken)
    return Imported(read=len(rows), new=new, sides=len(taken), refused=refused)


_KEPT: Final = frozenset({Problem.OUT_OF_TIME, Problem.OUT_OF_SCOPE})
_LEFT_OUT: Final = frozenset({Problem.REVOKED, Problem.OFFICE_ONLY})


def _accepted(
    header: Header, rows: tuple[Row, ...], store: Store
) -> tuple[tuple[Signed, ...], tuple[Trouble, ...]]:
    """The events of the rows that are taken, and the troubles of those that are left out."""
    signed: dict[str, Signed] = {}
    for row in rows:
        one = read_signed(row.data, row.signature)
        require(
            one.id == row.id, f"event {row.id[:12]} at place {row.seq} was changed: its id is {one.id[:12]}"
        )
        signed[one.id] = one
    trust = Trust(header, [*store.events.all(), *signed.values()])
    refused = []
    for one in tuple(signed.values()):
        found = trust.check(one)
        if found is None or found.problem in _KEPT:
            continue
        require(found.problem in _LEFT_OUT, f"nothing was imported: {found.english()}")
        refused.append(found)
        del signed[one.id]
    return tuple(signed.values()), tuple(refused)


def _read_sides(folder: Path) -> dict[str, Side]:
    sides = {}
    for path in sorted((folder / "side").glob("*.json")) if (folder / "side").is_dir() else ():
        require(
            bool(DIGEST.fullmatch(path.stem)),
            f"a private part must be named by its digest, found {path.name}",
        )
        side = Side(digest=path.stem, data=path.read_bytes().rstrip(b"\n"))
        read_side(side)
        sides[side.digest] = side
    return sides


def check_store(store: Store, earlier: tuple[Head, ...] = ()) -> Report:
    """Check everything in the store, with heads noted before."""
    return check_record(_header(store), store.events.rows(), store.sides.all(), earlier)


def _header(store: Store) -> Header:
    header = store.header()
    if header is None:
        raise ValueError("there is no record here yet")
    return header
