"""Print just the sheets of a change: one file of blank sheets, and apart from it one of expected lists."""

from __future__ import annotations

import time
from collections.abc import Iterable
from pathlib import Path

from msgspec.structs import replace

from pollstead.election.words import N_
from pollstead.show.packet.content import Print
from pollstead.show.packet.given import SiteGiven
from pollstead.show.packet.packet import BLANK_KINDS, Only, expected, packet
from pollstead.show.packet.printing import Done, PrintedSheet, PrintReport, Task, set_all, sheets_of

SHEETS, EXPECTED = "sheets", "expected"


def print_changed(
    sites: Iterable[tuple[SiteGiven, Only]], folder: Path, number: int, *, paper: str = "letter"
) -> PrintReport:
    """Write ``change-NNN-sheets.pdf`` and ``change-NNN-expected.pdf``, one pair for each language.

    Where nothing of one sort is to be printed, there is no file of it. Raises as `print_packets` does, and
    `LettersLacking` where a text has letters that no font here holds.
    """
    began = time.monotonic()
    folder.mkdir(parents=True, exist_ok=True)
    parts: dict[tuple[str, str], list[tuple[Print, tuple[PrintedSheet, ...]]]] = {}
    for given, only in sites:
        made = {
            SHEETS: packet(given, BLANK_KINDS, paper, only),
            EXPECTED: expected(given, paper, only),
        }
        for name, one in made.items():
            if one is not None:
                parts.setdefault((given.say.language, name), []).append((one, sheets_of(given, one)))
    languages = tuple(dict.fromkeys(language for language, _ in parts))
    tasks = []
    for (language, name), found in parts.items():
        title = _titles(found[0][0], name, number, language)
        whole = replace(
            found[0][0],
            title=title,
            sheets=tuple(sheet for one, _ in found for sheet in one.sheets),
            printed_before=tuple(sheet for one, _ in found for sheet in one.printed_before),
            order=tuple(dict.fromkeys(key for one, _ in found for key in one.order)),
        )
        more = f"-{language}" if len(languages) > 1 else ""
        output = folder / f"change-{number:03d}-{name}{more}.pdf"
        tasks.append(Task(output, whole, tuple(sheet for _, sheets in found for sheet in sheets)))
    files, peak = set_all(iter(tasks), 1, Done(len(tasks), None)) if tasks else ([], 0)
    return PrintReport(
        files=tuple(sorted(files, key=lambda file: file.path)),
        milliseconds=round((time.monotonic() - began) * 1000),
        peak_memory_bytes=peak,
    )


def _titles(made: Print, name: str, number: int, language: str) -> str:
    from pollstead.show.packet.wording import Say

    say = Say(language)
    if name == EXPECTED:
        return say(N_("Change {number}: expected lists"), number=number)
    return say(N_("Change {number}: new sheets"), number=number)
