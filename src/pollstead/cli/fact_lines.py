"""The differences of a workbook on the command line: printed, asked about one by one, chosen by a list."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from itertools import groupby
from pathlib import Path
from typing import Any

from pollstead.election.notice import Notice
from pollstead.election.words import N_, message
from pollstead.intake.fact_difference import FactLine, LineKind, Side
from pollstead.intake.fact_import import Import
from pollstead.intake.tabs import children
from pollstead.show.words import fill, text
from pollstead.work.facts import FactsTaken

FORMAT = "pollstead facts import 1"
BLANK = N_("(blank)")


def chosen(accept: str, found: Import, older_too: bool) -> frozenset[int]:
    """The lines that ``--accept`` names: ``all``, ``none`` or numbers such as ``1,3,5-8``.

    ``all`` leaves out what the folder changed since, unless `older_too`. Raises ValueError saying
    what is expected.
    """
    word = accept.strip().casefold()
    if word == "none":
        return frozenset()
    if word == "all":
        return asked_about(found, older_too) - (
            frozenset() if older_too else found.difference.numbers(Side.BOTH)
        )
    numbers: set[int] = set()
    for part in word.split(","):
        first, dash, last = part.strip().partition("-")
        if not first.isdecimal() or (dash and not last.isdecimal()):
            raise ValueError(f"--accept takes all, none or numbers such as 1,3,5-8, got {accept!r}")
        numbers |= set(range(int(first), min(int(last or first), len(found.difference.lines) + 1) + 1))
    known = {line.number for line in found.difference.lines}
    strange = sorted(numbers - known)
    if strange:
        raise ValueError(f"--accept takes numbers from 1 to {len(known)}, got {strange[0]}")
    return frozenset(numbers)


def asked_about(found: Import, older_too: bool) -> frozenset[int]:
    """The numbers of the lines that a person is asked about: not what only the folder changed since."""
    sides = set(Side) if older_too else set(Side) - {Side.FOLDER}
    return found.difference.numbers(*sides)


def ask(found: Import, older_too: bool) -> frozenset[int] | None:
    """Ask about each line: yes, no, all that follow, quit; None where the person quits."""
    taken: set[int] = set()
    wanted = asked_about(found, older_too)
    lines = [line for line in found.difference.lines if line.number in wanted]
    for index, line in enumerate(lines):
        print(words_of(line))
        while True:
            try:
                answer = (
                    input(text(N_("Take it? y yes, n no, a all that follow, q quit: "))).strip().casefold()
                )
            except EOFError:
                return None
            if answer in ("y", "n", "a", "q"):
                break
        if answer == "q":
            return None
        if answer == "a":
            return frozenset(taken | {rest.number for rest in lines[index:]})
        if answer == "y":
            taken.add(line.number)
    return frozenset(taken)


def ask_who_and_why(by: str, reason: str) -> tuple[str, str]:
    """Who takes the lines and why, asked for where it was not said; "" where nothing is answered."""
    try:
        by = by or input(text(N_("Who takes these lines? Id of the person: "))).strip()
        reason = reason or input(text(N_("Why? One sentence: "))).strip()
    except EOFError:
        return by, reason
    return by, reason


def words_of(line: FactLine) -> str:
    """One difference on one line: number, row, field, old and new."""
    old, new = line.old or text(BLANK), line.new or text(BLANK)
    if line.kind is LineKind.VALUE:
        said = f"{line.row}, {line.field}: {old} → {new}"
    elif line.kind is LineKind.ORDER:
        said = fill(message(N_("{row}: the rows in another order: {new}"), row=line.row, new=new))
    else:
        added = line.kind is LineKind.ADDED
        template = N_("row added: {row}") if added else N_("row removed: {row}")
        said = fill(message(template, row=new if added else old))
        if children(line.tab):
            said += " " + text(N_("(with the rows that belong to it in other tabs)"))
    if line.side is not Side.WORKBOOK:
        said += f" [{text(line.side.value)}"
        if line.base is not None:
            said += "; " + fill(message(N_("before: {base}"), base=line.base or text(BLANK)))
        said += "]"
    return f"{line.number:5d}  {said}"


def print_lines(found: Import) -> None:
    """Every difference under its tab."""
    for tab, group in groupby(found.difference.lines, key=lambda line: line.tab):
        lines = list(group)
        print(fill(message(N_("{tab} ({count})"), tab=tab, count=len(lines))))
        for line in lines:
            print(words_of(line))
    if not found.difference.lines:
        print(text(N_("Nothing differs.")))


def print_warnings(found: Import, file: Path) -> None:
    """What a person should know before taking anything, on standard error."""
    lock = found.workbook.open_elsewhere
    if lock:
        _warn(
            N_("{file} is open in another program ({lock}). What is not saved there is not read."),
            file=file.name,
            lock=lock,
        )
    if found.older and not found.workbook.origin.facts:
        _warn(N_("{file} does not say which facts it was made from."), file=file.name)
    elif found.older:
        made = found.workbook.origin.made or "?"
        _warn(
            N_("{file} is older than the last change of the facts: it was made {made} from other facts."),
            file=file.name,
            made=made,
        )
    if found.older and not found.base_known:
        _warn(N_("Those facts are not kept here, so it is not known which side changed. Read every line."))
    later = len(found.difference.numbers(Side.FOLDER))
    if later:
        _warn(
            N_("{count} differences arose in the folder since; its values stay unless you say --older-too."),
            count=later,
        )


def _warn(template: str, **params: int | str) -> None:
    print(fill(message(template, **params)), file=sys.stderr)


def print_notices(notices: Iterable[Notice]) -> None:
    """Faults and open items with their place, on standard error."""
    for notice in notices:
        place = f"{notice.place.english()}: " if notice.place else ""
        print(f"  {place}{fill(notice.text)}", file=sys.stderr)
        if notice.found or notice.wanted:
            found = fill(message(N_("found {found}"), found=text(notice.found))) if notice.found else ""
            wanted = fill(message(N_("wanted {wanted}"), wanted=text(notice.wanted))) if notice.wanted else ""
            print("      " + "; ".join(filter(None, (found, wanted))), file=sys.stderr)
        if notice.remedy:
            print(f"      {fill(notice.remedy)}", file=sys.stderr)


def report(
    found: Import, file: Path, accepted: frozenset[int], taken: FactsTaken | None, faults: tuple[Notice, ...]
) -> dict[str, Any]:
    """The stable JSON form: what the workbook is, every difference, what was taken."""
    origin = found.workbook.origin
    return {
        "format": FORMAT,
        "file": str(file),
        "made_from": origin.facts,
        "made": origin.made,
        "program": origin.program,
        "snapshot": found.folder.digest,
        "older": found.older,
        "base_known": found.base_known,
        "open_elsewhere": found.workbook.open_elsewhere,
        "faults": [_notice(notice) for notice in faults],
        "items": [_notice(notice) for notice in found.workbook.facts.items],
        "differences": [
            {
                "number": line.number,
                "tab": line.tab,
                "row": line.row,
                "field": line.field,
                "kind": line.kind.value,
                "old": line.old,
                "new": line.new,
                "side": line.side.value,
                "before": line.base,
            }
            for line in found.difference.lines
        ],
        "accepted": sorted(accepted),
        "files": list(taken.files) if taken else [],
        "snapshot_after": taken.after if taken else found.folder.digest,
        "kept": taken.copy.name if taken and taken.copy else "",
        "event": taken.event.id if taken else "",
    }


def _notice(notice: Notice) -> dict[str, Any]:
    place = notice.place
    return {
        "rule": notice.rule,
        "text": notice.text.english(),
        "tab": place.file.removeprefix("tab ") if place else None,
        "row": place.row if place else None,
        "column": place.column if place else None,
        "found": notice.found,
        "wanted": notice.wanted,
        "remedy": notice.remedy.english() if notice.remedy else "",
    }
