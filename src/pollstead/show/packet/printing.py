"""Print many sites: build what each says, have child processes set the pages, report what was made."""

from __future__ import annotations

import json
import queue
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

import msgspec
from msgspec.structs import replace

from pollstead.election.values import Value
from pollstead.plan.terms.version import SheetKind
from pollstead.show.packet.codes import qr_svg
from pollstead.show.packet.content import Print
from pollstead.show.packet.draft import day_of
from pollstead.show.packet.given import SiteGiven
from pollstead.show.packet.packet import BLANK_KINDS, expected, packet

PAGES_OF_A_CHILD = 300
"""A child process ends after so many pages, because the typesetter frees nothing it has set."""

SHEETS_OF_A_COUNTY_FILE = 120
"""Sheets in one file where sites are printed together; a whole county in one would fill the memory."""

Progress = Callable[[int, int], None]


class PrintFailed(Exception):
    """Pages could not be set; the message names the file and what the typesetter said."""


class PrintedSheet(Value, frozen=True, kw_only=True):
    """One sheet that went into a file; `day` is its operating day as ISO 8601, or "" for any."""

    serial: str
    kind: SheetKind
    key: str
    site: str
    day: str


class PrintedFile(Value, frozen=True, kw_only=True):
    """One PDF: where it is, what is in it."""

    path: str
    pages: int
    bytes: int
    sheets: tuple[PrintedSheet, ...]


class PrintReport(Value, frozen=True, kw_only=True):
    """All files of a print, its pages, milliseconds, and the most memory that one child process held."""

    files: tuple[PrintedFile, ...]
    milliseconds: int
    peak_memory_bytes: int

    @property
    def pages(self) -> int:
        """Pages of all files."""
        return sum(file.pages for file in self.files)


class _Task(NamedTuple):
    output: Path
    made: Print
    sheets: tuple[PrintedSheet, ...]


def print_packets(
    sites: Iterable[SiteGiven],
    folder: Path,
    *,
    count: int,
    kinds: tuple[SheetKind, ...] = tuple(SheetKind),
    paper: str = "letter",
    together: bool = False,
    workers: int = 2,
    progress: Progress | None = None,
) -> PrintReport:
    """Write ``SITE-packet.pdf`` and ``SITE-expected.pdf`` into `folder` for each of `count` sites.

    With `together`, files of many sites instead, ``county-packet-01.pdf`` and so on; expected lists
    are never in a file with blank sheets. `progress` is called with (files done, files in all) and
    may raise to stop. Raises ValueError as `packet` does and `PrintFailed` when pages cannot be set.
    """
    began = time.monotonic()
    folder.mkdir(parents=True, exist_ok=True)
    tasks = _together(sites, folder, kinds, paper) if together else _by_site(sites, folder, kinds, paper)
    done = _Done(count * _files_of(kinds), progress)
    files, peak = _set_all(tasks, max(1, workers), done)
    return PrintReport(
        files=tuple(sorted(files, key=lambda file: file.path)),
        milliseconds=round((time.monotonic() - began) * 1000),
        peak_memory_bytes=peak,
    )


def _files_of(kinds: tuple[SheetKind, ...]) -> int:
    return (SheetKind.EXPECTED in kinds) + any(kind is not SheetKind.EXPECTED for kind in kinds)


def _prints_of(
    given: SiteGiven, kinds: tuple[SheetKind, ...], paper: str
) -> tuple[Print | None, Print | None]:
    blank = packet(given, tuple(kind for kind in kinds if kind in BLANK_KINDS), paper)
    return blank, expected(given, paper) if SheetKind.EXPECTED in kinds else None


def _sheets(given: SiteGiven, made: Print) -> tuple[PrintedSheet, ...]:
    return tuple(
        PrintedSheet(serial=s.serial, kind=s.kind, key=s.key, site=given.site.id, day=day_of(s.key))
        for s in made.sheets
    )


def _by_site(
    sites: Iterable[SiteGiven], folder: Path, kinds: tuple[SheetKind, ...], paper: str
) -> Iterator[_Task]:
    for given in sites:
        names = (f"{given.site.id}-packet.pdf", f"{given.site.id}-expected.pdf")
        for name, made in zip(names, _prints_of(given, kinds, paper), strict=True):
            if made is not None:
                yield _Task(folder / name, made, _sheets(given, made))


def _together(
    sites: Iterable[SiteGiven], folder: Path, kinds: tuple[SheetKind, ...], paper: str
) -> Iterator[_Task]:
    waiting: dict[str, list[tuple[Print, tuple[PrintedSheet, ...]]]] = {"packet": [], "expected": []}
    numbers = dict.fromkeys(waiting, 0)

    def file(name: str) -> _Task:
        numbers[name] += 1
        parts, waiting[name] = waiting[name], []
        whole = replace(parts[0][0], sheets=tuple(s for made, _ in parts for s in made.sheets))
        sheets = tuple(sheet for _, found in parts for sheet in found)
        return _Task(folder / f"county-{name}-{numbers[name]:02d}.pdf", whole, sheets)

    for given in sites:
        for name, made in zip(waiting, _prints_of(given, kinds, paper), strict=True):
            if made is None:
                continue
            if waiting[name] and _held(waiting[name]) + len(made.sheets) > SHEETS_OF_A_COUNTY_FILE:
                yield file(name)
            waiting[name].append((made, _sheets(given, made)))
    for name, parts in waiting.items():
        if parts:
            yield file(name)


def _held(parts: list[tuple[Print, tuple[PrintedSheet, ...]]]) -> int:
    return sum(len(made.sheets) for made, _ in parts)


class _Done:
    """Counts files and tells the caller; what the caller raises stops the print."""

    def __init__(self, total: int, progress: Progress | None) -> None:
        self._total = total
        self._progress = progress
        self._count = 0

    def one_more(self) -> None:
        self._count += 1
        if self._progress is not None:
            self._progress(self._count, max(self._total, self._count))


class _Child:
    """One child process at a time, a new one after `PAGES_OF_A_CHILD` pages."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[str] | None = None
        self._pages = 0
        self.peak = 0

    def set(self, task: _Task) -> PrintedFile:
        """Have one file set; raises PrintFailed when that cannot be done."""
        if self._process is None or self._pages >= PAGES_OF_A_CHILD:
            self.end()
            self._process = subprocess.Popen(
                [sys.executable, "-m", "pollstead.show.packet.typesetting"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                text=True,
                encoding="utf-8",
            )
        answer = self._ask(self._process, task)
        if "error" in answer:
            raise PrintFailed(f"{task.output.name}: {answer['error']}")
        self._pages += answer["pages"]
        self.peak = max(self.peak, answer["peak"])
        return PrintedFile(
            path=str(task.output), pages=answer["pages"], bytes=answer["bytes"], sheets=task.sheets
        )

    def _ask(self, process: subprocess.Popen[str], task: _Task) -> dict[str, Any]:
        if process.stdin is None or process.stdout is None:
            raise PrintFailed("the typesetting process has no pipes")
        job = {
            "print": msgspec.to_builtins(task.made),
            "codes": {sheet.serial: qr_svg(sheet.serial) for sheet in task.made.sheets},
            "output": str(task.output),
            "timestamp": task.made.timestamp,
        }
        try:
            process.stdin.write(json.dumps(job) + "\n")
            process.stdin.flush()
            line = process.stdout.readline()
        except OSError as error:
            raise PrintFailed(f"{task.output.name}: the typesetting process ended: {error}") from error
        if not line:
            raise PrintFailed(f"{task.output.name}: the typesetting process ended without an answer")
        answer = json.loads(line)
        if not isinstance(answer, dict):
            raise PrintFailed(f"{task.output.name}: the typesetting process answered {line[:80]!r}")
        return answer

    def end(self) -> None:
        """Let the process finish and forget it."""
        if self._process is None:
            return
        process, self._process, self._pages = self._process, None, 0
        if process.stdin is not None:
            process.stdin.close()
        if process.stdout is not None:
            process.stdout.close()
        process.wait()


def _set_all(tasks: Iterator[_Task], workers: int, done: _Done) -> tuple[list[PrintedFile], int]:
    """Set every file with `workers` children; the caller's thread builds the tasks and hears progress."""
    todo: queue.Queue[_Task | None] = queue.Queue(maxsize=2 * workers)
    answers: queue.Queue[PrintedFile | BaseException | None] = queue.Queue()
    stop = threading.Event()
    children = [_Child() for _ in range(workers)]

    def work(child: _Child) -> None:
        try:
            while (task := todo.get()) is not None:
                if not stop.is_set():
                    answers.put(child.set(task))
        except BaseException as error:  # noqa: BLE001 - handed to the caller's thread, which raises it
            stop.set()
            answers.put(error)
            while todo.get() is not None:
                pass
        finally:
            child.end()
            answers.put(None)

    threads = [threading.Thread(target=work, args=(child,), daemon=True) for child in children]
    for thread in threads:
        thread.start()
    files: list[PrintedFile] = []
    failed: BaseException | None = None

    def take(answer: PrintedFile | BaseException) -> None:
        nonlocal failed
        if isinstance(answer, PrintedFile):
            files.append(answer)
            done.one_more()
        else:
            failed = failed or answer

    try:
        for task in tasks:
            while not answers.empty():
                heard = answers.get_nowait()
                if heard is not None:
                    take(heard)
            if stop.is_set():
                break
            todo.put(task)
    finally:
        if sys.exc_info()[0] is not None:
            stop.set()
        for _ in threads:
            todo.put(None)
    ended = 0
    while ended < workers:
        heard = answers.get()
        if heard is None:
            ended += 1
        else:
            take(heard)
    for thread in threads:
        thread.join()
    if failed is not None:
        raise failed
    return files, max((child.peak for child in children), default=0)
