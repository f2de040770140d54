"""``pollstead demo``: the invented county of Larkmoor, from its tables to a reconciled day, then the app.

Copies `larkmoor/` of the checkout (or `small/`, three sites) into a folder, checks it, plans it, approves and
issues, prints the packets and plays the seeded days, saying each step and how long it took. Run from a
checkout: the tables and the days are not part of the installed package.
"""

from __future__ import annotations

import datetime as dt
import runpy
import shutil
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import cyclopts

from pollstead.cli.county import Refused, facts_of, refuse, tell, version_of
from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.reconcile.day import DayReport

CHECKOUT = Path(__file__).resolve().parents[3]
LARKMOOR = CHECKOUT / "larkmoor"
SMALL = CHECKOUT / "small"
DAY_SCRIPT = Path("day") / "seed_day.py"
USUAL_FOLDER = Path("demo")
USUAL_PORT = 8734
RUN = "./run exec pollstead"
MARK = ".demo"
"""A file that says: this folder was made here and may be made anew."""
MARK_BEGUN = ".demo-begun"
"""A file that says: this folder was begun here, finished or not."""

app = cyclopts.App(name="demo", help=text(N_("Make and plan the invented county of Larkmoor.")))


@app.default
def demo(
    *,
    folder: Annotated[
        Path | None,
        cyclopts.Parameter(
            help=text(N_("Where the demo county goes; demo/larkmoor or demo/small where none is given."))
        ),
    ] = None,
    small: Annotated[
        bool,
        cyclopts.Parameter(negative=(), help=text(N_("Three sites instead of forty."))),
    ] = False,
    serve: Annotated[
        bool, cyclopts.Parameter(help=text(N_("Serve the app at the end; --no-serve stops before.")))
    ] = True,
    fresh: Annotated[
        bool, cyclopts.Parameter(negative=(), help=text(N_("Make the folder anew; what was typed is lost.")))
    ] = False,
    port: Annotated[int, cyclopts.Parameter(help=text(N_("The port of the app.")))] = USUAL_PORT,
) -> int:
    """Make the demo county with its seeded day, then serve it on this computer.

    Returns 0 when done, 1 where something could not be done. A folder that is there is used again.
    """
    began = time.monotonic()
    source = SMALL if small else LARKMOOR
    folder = USUAL_FOLDER / source.name if folder is None else folder
    try:
        if fresh:
            _remove(folder)
        if folder.exists():
            _say(
                N_("{folder} is there already and is used again. To make it anew: --fresh"),
                folder=str(folder),
            )
            if not (folder / MARK).exists():
                refuse(
                    N_("{folder} was not finished by the demo. Use --fresh, or another --folder."),
                    folder=str(folder),
                )
        else:
            make(folder, source)
        print_summary(folder, time.monotonic() - began)
    except Refused as refused:
        return tell(refused)
    if not serve:
        return 0
    from pollstead.cli.serve import serve as serve_folder

    return serve_folder(folder, port=port)


def make(folder: Path, source: Path) -> None:
    """Make the whole demo folder from `source`; the mark that it is finished comes last."""
    play(folder, source, *prepare(folder, source))
    (folder / MARK).write_text("made by pollstead demo; --fresh makes it anew\n", encoding="utf-8")


def prepare(folder: Path, source: Path) -> tuple[Election, str]:
    """Copy the tables of `source` into a new folder, check and plan them; gives facts and plan digest."""
    from pollstead.cli.plan import plan_folder
    from pollstead.plan.terms.part import Effort, NoWatch

    if not (source / DAY_SCRIPT).exists():
        refuse(N_("The demo needs {source}, which only a checkout has."), source=str(source))
    folder.mkdir(parents=True)
    (folder / MARK_BEGUN).write_text("begun by pollstead demo\n", encoding="utf-8")
    with _step(N_("Copy the invented county of Larkmoor into {folder}"), folder=str(folder)):
        for table in sorted(source.iterdir()):
            if table.suffix in (".csv", ".toml"):
                shutil.copyfile(table, folder / table.name)
    with _step(N_("Check its tables")):
        election, intake = facts_of(folder)
    if intake.faults:
        refuse(N_("The tables have faults. See: pollstead check {folder}"), folder=str(folder))
    with _step(N_("Plan every site")):
        return election, plan_folder(folder, watch=NoWatch(), effort=Effort.QUICK)


def play(folder: Path, source: Path, election: Election, digest: str) -> None:
    """Approve and issue with the demo keys, print the packets, play the seeded days."""
    from pollstead.cli.print import print_folder
    from pollstead.plan.terms.part import NoWatch

    script: dict[str, Any] = runpy.run_path(str(source / DAY_SCRIPT), run_name="seed_day")
    plan = _plan(folder, digest)
    with _step(N_("Approve the plan, issue the expected lists (with demo keys)")):
        desk, tablets = script["office_part"](folder, election, plan, digest)
    try:
        with _step(N_("Print the packets")):
            print_folder(folder, watch=NoWatch())
            script["packets_printed"](desk, election, plan, digest)
        with _step(N_("Play the seeded days")):
            script["play"](desk, tablets, election, plan)
    finally:
        desk.close()
    shutil.copyfile(source / "day" / "README.md", folder / "WHAT-HAPPENED.md")


def _plan(folder: Path, digest: str) -> Any:
    from pollstead.cli.county import store_of

    with store_of(folder) as store:
        return version_of(store, digest)


def _remove(folder: Path) -> None:
    """Remove a folder that the demo made, or left half made; never another one, and never its own source."""
    if not folder.exists():
        return
    within = folder.resolve() in (LARKMOOR, SMALL, CHECKOUT, *CHECKOUT.parents)
    if within or not any((folder / mark).is_file() for mark in (MARK, MARK_BEGUN)):
        refuse(
            N_("{folder} is not a demo folder and stays as it is. Give another --folder."), folder=str(folder)
        )
    shutil.rmtree(folder)


def print_summary(folder: Path, seconds: float) -> None:
    """Say what came out and what to try next."""
    from pollstead.cli.county import store_of
    from pollstead.cli.reconcile import reports_of

    with store_of(folder) as store:
        events = store.events.count()
        reports = reports_of(store, None)
    sheets = sorted((folder / "packets").glob("*.pdf"))
    print()
    _say(
        N_("Larkmoor County (invented): {sites} sites, {files} PDF files, {events} events, {days} days."),
        sites=len({site.site for report in reports for site in report.sites}),
        files=len(sheets),
        events=events,
        days=len(reports),
    )
    _print_differences(reports)
    shown = _short(folder)
    print()
    print(text(N_("Try next, in the checkout:")))
    for command, words in (
        (f"{RUN} reconcile {shown}", N_("differences by site and what the county's rules say")),
        (f"{RUN} why {shown} site/S01", N_("where the numbers of a site come from")),
        (f"{RUN} record verify {shown}", N_("name any changed, removed or doubled event")),
    ):
        print(f"  {command}\n      {text(words)}")
    print(text(N_("Look at:")))
    for path, words in (
        (f"{shown}/packets", N_("the packets; expected lists are files apart")),
        (f"{shown}/WHAT-HAPPENED.md", N_("what was planted in the seeded day")),
    ):
        print(f"  {path}\n      {text(words)}")
    _say(N_("Done in {seconds} s."), seconds=f"{seconds:.1f}")
    print(text(N_("No election authority, laboratory or counsel has reviewed this tool.")))
    sys.stdout.flush()


def _short(folder: Path) -> str:
    """The folder as a person in the checkout would type it."""
    try:
        return folder.resolve().relative_to(CHECKOUT).as_posix()
    except ValueError:
        return str(folder)


def _print_differences(reports: tuple[DayReport, ...]) -> None:
    found: dict[tuple[dt.date, str], int] = {}
    for report in reports:
        for site in report.sites:
            if site.notices:
                found[(report.date, site.site)] = len(site.notices)
    for (date, name), count in found.items():
        _say(N_("  {date} {site}: {count} to look at"), date=date.isoformat(), site=name, count=count)


def _say(template: str, **params: int | str) -> None:
    print(fill(message(template, **params)), flush=True)


@contextmanager
def _step(template: str, **params: int | str) -> Iterator[None]:
    """Say a step, then how long it took."""
    print(fill(message(template, **params)), end=" ... ", flush=True)
    began = time.monotonic()
    yield
    _say(N_("{seconds} s"), seconds=f"{time.monotonic() - began:.1f}")


def main(arguments: list[str] | None = None, leave: Callable[[int], None] = sys.exit) -> None:
    """``python -m pollstead.cli.demo``."""
    from pollstead.cli.main import run

    leave(run(["demo", *(sys.argv[1:] if arguments is None else arguments)]))


if __name__ == "__main__":
    main()
