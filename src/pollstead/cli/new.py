"""``pollstead new``: a county folder from the tables a county has. Thin: parse, ask, call, print."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TextIO

import cyclopts

from pollstead.election.words import N_, Message, message
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    from pollstead.intake.making import Making, Question
    from pollstead.intake.telling import Told

app = cyclopts.App(name="new", help=text(N_("Make a county folder, also from tables as you have them.")))


def _option(name: str, words: str) -> cyclopts.Parameter:
    return cyclopts.Parameter(name=name, help=text(words), negative=())


@app.default
def new(
    folder: Path,
    /,
    *,
    tables: Annotated[
        tuple[Path, ...],
        _option("--from", N_("A table of places, precincts, voters or machines; repeat.")),
    ] = (),
    maps: Annotated[
        tuple[str, ...], _option("--map", N_("FILE:our_column=their column; overrules the proposal."))
    ] = (),
    wheres: Annotated[
        tuple[str, ...], _option("--where", N_("FILE:column=value; take only these rows."))
    ] = (),
    fill_down: Annotated[
        tuple[str, ...], _option("--fill-down", N_("FILE:column; a blank cell means the same as above."))
    ] = (),
    county: Annotated[str, _option("--county", N_("Name of the county."))] = "",
    name: Annotated[str, _option("--name", N_("Name of the election."))] = "",
    election_day: Annotated[str, _option("--election-day", N_("Election day, such as 2026-11-03."))] = "",
    zone: Annotated[str, _option("--zone", N_("Time zone, such as America/New_York."))] = "",
    kind: Annotated[str, _option("--kind", N_("Kind of site: A, B, C, D or E."))] = "",
    past_election: Annotated[
        str, _option("--past-election", N_("Date of the election the past ballots are from."))
    ] = "",
    opens: Annotated[str, _option("--opens", N_("Opening time on election day, such as 07:00."))] = "",
    closes: Annotated[str, _option("--closes", N_("Closing time on election day, such as 20:00."))] = "",
    same: Annotated[tuple[str, ...], _option("--same", N_("A=B; these two places are one building."))] = (),
    different: Annotated[
        tuple[str, ...], _option("--different", N_("A=B; these two places are different buildings."))
    ] = (),
    yes: Annotated[bool, _option("--yes", N_("Accept what is proposed."))] = False,
    by: Annotated[str, _option("--by", N_("With a workbook of ours: id of the person who makes it."))] = "",
) -> int:
    """Make FOLDER with one table for each list you have; say what each further list would add.

    With --from naming one workbook that `facts workbook` made, everything in it is taken.

    Returns 1 where a question stays open, a table cannot be read or FOLDER holds something already.
    """
    from pollstead.intake.making import Making
    from pollstead.intake.options import Options
    from pollstead.work.clock import date_everywhere

    if len(tables) == 1 and tables[0].suffix.lower() == ".xlsx":
        from pollstead.intake.workbook_in import is_county_workbook

        if is_county_workbook(tables[0]):
            return _from_workbook(folder, tables[0], by)
    try:
        options = Options.parse(
            tables=tables,
            maps=maps,
            wheres=wheres,
            fill_down=fill_down,
            county=county,
            name=name,
            election_day=election_day,
            zone=zone,
            kind=kind,
            past_election=past_election,
            opens=opens,
            closes=closes,
            same=same,
            different=different,
            yes=yes,
        )
    except ValueError as error:
        print(error, file=sys.stderr)
        return 2
    making = Making(folder, options, date_everywhere())
    try:
        return _make(making)
    except ValueError as error:
        print(error, file=sys.stderr)
        return 1


def _from_workbook(folder: Path, file: Path, by: str) -> int:
    """Make the folder of a workbook of ours, whole; it is recorded who made it."""
    from pollstead.cli.facts import import_

    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        words = N_(
            "{folder} already holds something. Take changes in by: pollstead facts import {folder} {file}"
        )
        print(fill(message(words, folder=str(folder), file=str(file))), file=sys.stderr)
        return 1
    if not by:
        print(
            text(N_("Say who makes the county: --by PERSON, an id of the tab people.")),
            file=sys.stderr,
        )
        return 2
    reason = fill(message(N_("New county from {file}"), file=file.name))
    return import_(folder, file, accept="all", by=by, reason=reason, quiet=True)


def _make(making: Making) -> int:
    interactive = _is_terminal(sys.stdin) and _is_terminal(sys.stdout)
    while True:
        told = making.look()
        _print(told)
        if making.faults:
            return 1
        questions = making.questions
        if not questions:
            break
        if not interactive:
            print(text(N_("Not made: these questions are open.")), file=sys.stderr)
            for question in questions:
                print(f"  {fill(question.text)}\n      {fill(question.settle)}", file=sys.stderr)
            return 1
        if not _ask(making, questions[0]):
            print(text(N_("Not made.")), file=sys.stderr)
            return 1
    _print(making.write())
    return 1 if making.faults else 0


def _is_terminal(stream: TextIO | None) -> bool:
    """Whether a person is there; a program started without input or output has None in its place."""
    return stream is not None and stream.isatty()


def _ask(making: Making, question: Question) -> bool:
    """Ask one question until the answer can be read; False where the person gives up with Ctrl-D."""
    while True:
        print(fill(question.text))
        if question.proposal:
            print(fill(message(N_("Press Enter for {proposal}."), proposal=question.proposal)))
        try:
            answer = input("> ").strip()
            making.answer(question, answer)
            return True
        except EOFError:
            return False
        except ValueError as error:
            print(error)


def _print(told: tuple[Told, ...]) -> None:
    for line in told:
        words: Message = line.text
        print("  " * line.depth + fill(words))
