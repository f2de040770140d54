"""Print many sites: build what each says, have child processes set the pages, report what was made."""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import NamedTuple

from msgspec.structs import replace

from pollstead.election.values import Value
from pollstead.plan.terms.version import SheetKind
from pollstead.show.packet.content import Print
from pollstead.show.packet.draft import day_of
from pollstead.show.packet.given import SiteGiven
from pollstead.show.packet.packet import BLANK_KINDS, LettersLacking, expected, packet
from pollstead.show.packet.setting import SettingProcess

SHEETS_OF_A_COUNTY_FILE = 120
"""Sheets in one file where sites are printed together; a whole county in one would fill the memory."""
SHEETS_OF_A_LARGE_FILE = 40
"""The same in large type, whose sheets have more pages."""

Progress = Callable[[int, int], None]


class PrintedSheet(Value, frozen=True, kw_only=True):
    """One sheet that went into a file; `day` is its operating day as ISO 8601, or "" for any.

    `content` is the digest of what stands on it, `replaces` the serials whose place it takes.
    """

    serial: str
    kind: SheetKind
    key: str
    site: str
    day: str
    language: str = ""
    content: str = ""
    replaces: tuple[str, ...] = ()


class PrintedFile(Value, frozen=True, kw_only=True):
    """One PDF: where it is, what is in it."""

    path: str
    pages: int
    bytes: int
    sheets: tuple[PrintedSheet, ...]


class NotPrinted(Value, frozen=True, kw_only=True):
    """A site of which nothing was printed, and the letters of its words that no font here holds."""

    site: str
    letters: tuple[str, ...]


class PrintReport(Value, frozen=True, kw_only=True):
    """All files of a print, its pages, milliseconds, the most memory that one child process held.

    `not_printed` are the sites that were left out, in their order.
    """

    files: tuple[PrintedFile, ...]
    milliseconds: int
    peak_memory_bytes: int
    not_printed: tuple[NotPrinted, ...] = ()

    @property
    def pages(self) -> int:
        """Pages of all files."""
        return sum(file.pages for file in self.files)


class Task(NamedTuple):
    """One file to set: where it goes, what stands in it, which sheets these are."""

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
    large: bool = False,
    workers: int = 2,
    progress: Progress | None = None,
) -> PrintReport:
    """Write ``SITE-packet.pdf`` and ``SITE-expected.pdf`` into `folder` for each of `count` sites.

    With `together`, files of many sites instead, ``county-packet-01.pdf`` and so on; expected lists
    are never in a file with blank sheets. With `large`, the same sheets in large type, in files of their own,
    ``SITE-packet-large.pdf`` and so on. `progress` is called with (files done, files in all) and
    may raise to stop. A site whose words have letters that no font here holds is left out and told in
    the report; the others are printed. Raises ValueError as `packet` does for everything else and
    `PrintFailed` when pages cannot be set.
    """
    began = time.monotonic()
    folder.mkdir(parents=True, exist_ok=True)
    left_out: list[NotPrinted] = []
    done = Done(count * _files_of(kinds), progress)
    prints = _prints(sites, kinds, paper, large, left_out)
    end = "-large" if large else ""
    most = SHEETS_OF_A_LARGE_FILE if large else SHEETS_OF_A_COUNTY_FILE
    tasks = _together(prints, folder, end, most) if together else _by_site(prints, folder, end)
    files, peak = set_all(tasks, max(1, workers), done)
    return PrintReport(
        files=tuple(sorted(files, key=lambda file: file.path)),
        milliseconds=round((time.monotonic() - began) * 1000),
        peak_memory_bytes=peak,
        not_printed=tuple(left_out),
    )


def _files_of(kinds: tuple[SheetKind, ...]) -> int:
    return (SheetKind.EXPECTED in kinds) + any(kind is not SheetKind.EXPECTED for kind in kinds)


_Prints = tuple[SiteGiven, tuple[Print | None, Print | None]]


def _prints(
    sites: Iterable[SiteGiven],
    kinds: tuple[SheetKind, ...],
    paper: str,
    large: bool,
    left_out: list[NotPrinted],
) -> Iterator[_Prints]:
    """Each site with its packet and its expected list; both are there before either is set."""
    blank_kinds = tuple(kind for kind in kinds if kind in BLANK_KINDS)
    for given in sites:
        try:
            blank = packet(given, blank_kinds, paper, large=large)
            found = expected(given, paper, large=large) if SheetKind.EXPECTED in kinds else None
        except LettersLacking as lacking:
            left_out.append(NotPrinted(site=given.site.id, letters=lacking.letters))
        else:
            yield given, (blank, found)


def sheets_of(given: SiteGiven, made: Print) -> tuple[PrintedSheet, ...]:
    """The sheets of a print job as they are kept."""
    return tuple(
        PrintedSheet(
            serial=s.serial,
            kind=s.kind,
            key=s.key,
            site=given.site.id,
            day=day_of(s.key),
            language=made.language,
            content=s.content,
            replaces=s.replaced,
        )
        for s in made.sheets
    )


def _by_site(prints: Iterable[_Prints], folder: Path, end: str) -> Iterator[Task]:
    for given, both in prints:
        names = (f"{given.site.id}-packet{end}.pdf", f"{given.site.id}-expected{end}.pdf")
        for name, made in zip(names, both, strict=True):
            if made is not None:
                yield Task(folder / name, made, sheets_of(given, made))


def _together(prints: Iterable[_Prints], folder: Path, end: str, most: int) -> Iterator[Task]:
    waiting: dict[str, list[tuple[Print, tuple[PrintedSheet, ...]]]] = {"packet": [], "expected": []}
    numbers = dict.fromkeys(waiting, 0)

    def file(name: str) -> Task:
        numbers[name] += 1
        parts, waiting[name] = waiting[name], []
        whole = replace(parts[0][0], sheets=tuple(s for made, _ in parts for s in made.sheets))
        sheets = tuple(sheet for _, found in parts for sheet in found)
        return Task(folder / f"county-{name}{end}-{numbers[name]:02d}.pdf", whole, sheets)

    for given, both in prints:
        for name, made in zip(waiting, both, strict=True):
            if made is None:
                continue
            if waiting[name] and _held(waiting[name]) + len(made.sheets) > most:
                yield file(name)
            waiting[name].append((made, sheets_of(given, made)))
    for name, parts in waiting.items():
        if parts:
            yield file(name)


def _held(parts: list[tuple[Print, tuple[PrintedSheet, ...]]]) -> int:
    return sum(len(made.sheets) for made, _ in parts)


class Done:
    """Counts files and tells the caller; what the caller raises stops the print."""

    def __init__(self, total: int, progress: Progress | None) -> None:
        self._total = total
        self._progress = progress
        self._count = 0

    def one_more(self) -> None:
        """Count one file more; raises what the caller raises to stop."""
        self._count += 1
        if self._progress is not None:
            self._progress(self._count, max(self._total, self._count))


def set_all(tasks: Iterator[Task], workers: int, done: Done) -> tuple[list[PrintedFile], int]:
    """Set every file with `workers` children; the caller's thread builds the tasks and hears progress.

    Whatever stops the caller's thread, Ctrl-C too, ends the children at once.
    """
    todo: queue.Queue[Task | None] = queue.Queue(maxsize=2 * workers)
    answers: queue.Queue[PrintedFile | BaseException | None] = queue.Queue()
    stop = threading.Event()
    children = [SettingProcess() for _ in range(workers)]

    def work(child: SettingProcess) -> None:
        try:
            while (task := todo.get()) is not None:
                if not stop.is_set():
                    answers.put(_set(child, task))
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

    ended = 0
    try:
        for task in tasks:
            while not answers.empty():
                heard = answers.get_nowait()
                if heard is None:
                    ended += 1
                else:
                    take(heard)
            if stop.is_set():
                break
            todo.put(task)
        for _ in threads:
            todo.put(None)
        while ended < workers:
            heard = answers.get()
            if heard is None:
                ended += 1
            else:
                take(heard)
    except BaseException:
        stop.set()
        for child in children:
            child.stop()
        for _ in threads:
            todo.put(None)
        raise
    finally:
        for thread in threads:
            thread.join()
    if failed is not None:
        raise failed
    return files, max((child.peak for child in children), default=0)


def _set(child: SettingProcess, task: Task) -> PrintedFile:
    done = child.set(task.output, task.made)
    return PrintedFile(path=str(task.output), pages=done.pages, bytes=done.bytes, sheets=task.sheets)
