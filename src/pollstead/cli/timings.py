"""``pollstead timings``: what check-in times, line counts and samples say; values taken by a name. Thin."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import cyclopts

from pollstead.cli.county import Refused, facts_of, tell
from pollstead.cli.fact_options import By, Why
from pollstead.cli.options import AsJson
from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    import datetime as dt

    from pollstead.election.county import Election
    from pollstead.election.timings import TimingsRead
    from pollstead.record.event import Signed
    from pollstead.work.facts import FactsTaken
    from pollstead.work.timings import Looked, Said

app = cyclopts.App(
    name="timings",
    help=text(N_("Say what check-in times, line counts and timed samples tell; take values from them.")),
)

Pairs = tuple[str, ...]


@app.default
def timings(
    folder: Path,
    /,
    *files: Path,
    column: Annotated[
        Pairs,
        cyclopts.Parameter(help=text(N_("THEIRS=OURS: what their column holds, such as Scan=time."))),
    ] = (),
    same: Annotated[
        Pairs,
        cyclopts.Parameter(
            help=text(
                N_("THEIRS=OURS: which site or station type their word means, by id; blank leaves out.")
            )
        ),
    ] = (),
    say: Annotated[
        Pairs,
        cyclopts.Parameter(
            help=text(
                N_("FAULT=ANSWER, as listed: shift, as read, unknown, or leave out; may be given again.")
            )
        ),
    ] = (),
    day: Annotated[
        str, cyclopts.Parameter(help=text(N_("Date of rows that have none, such as 2028-11-07.")))
    ] = "",
    accept: Annotated[
        str,
        cyclopts.Parameter(help=text(N_("Values to take: all (those that are not too thin), or 1,3,5."))),
    ] = "",
    by: By = "",
    reason: Why = "",
    sheet: Annotated[
        Path | None,
        cyclopts.Parameter(help=text(N_("Print a sheet for timing with a stop watch into this PDF file."))),
    ] = None,
    paper: Annotated[str, cyclopts.Parameter(help=text(N_("letter or a4.")))] = "letter",
    as_json: AsJson = False,
) -> int:
    """Show what FILES say, together: values with intervals beside the facts, and what is too thin.

    Check-in times have the columns time and site or station, and no other: a file with a further one is
    refused, because no record of a voter may come in. Nothing of a row is kept. With --accept, --by and
    --reason the chosen values are written by one change; facts undo takes it back. Without FILES, what was
    taken before. Returns 1 where a file is refused or something is still open.
    """
    from pollstead.cli.timings_lines import as_object, tell_before, tell_looked

    try:
        election, _ = facts_of(folder)
        if paper not in ("letter", "a4"):
            raise ValueError(text(N_("--paper is letter or a4.")))
        if sheet is not None:
            return _sheet(election, sheet, paper)
        if not files:
            return tell_before(folder, election, as_json=as_json)
        reads = _read(election, files, column, day)
        looked = _look(folder, election, reads, _said(same, say))
        numbers = _numbers(accept, looked)
    except Refused as refused:
        return tell(refused)
    except (ValueError, OSError) as error:
        print(error, file=sys.stderr)
        return 2
    taken = None
    if numbers and looked.may_take:
        if not by or not reason.strip():
            print(
                text(N_('Say who takes the values and why: --by PERSON --reason "…". Nothing was taken.')),
                file=sys.stderr,
            )
            return 2
        taken = _take(folder, looked, numbers, by, reason)
        if taken is None:
            return 1
    if as_json:
        json.dump(as_object(looked, taken), sys.stdout, ensure_ascii=False, indent=2)
        print()
    else:
        tell_looked(looked, election)
        if taken is not None:
            from pollstead.cli.fact_desk import told

            told(folder, taken[0])
    blocked = looked.refused or bool(looked.unknown) or bool(looked.open_faults)
    if accept and taken is None and not as_json:
        print(text(N_("Nothing was taken.")), file=sys.stderr)
    return 1 if blocked or (accept and taken is None) else 0


def _read(election: Election, files: tuple[Path, ...], columns: Pairs, day: str) -> tuple[TimingsRead, ...]:
    from pollstead.intake.timings.clock import read_day
    from pollstead.intake.timings.read import read_timings, role_said

    said = {theirs: role_said(ours) for theirs, ours in (_pair(one, "--column") for one in columns)}
    date: dt.date = read_day(day) if day else election.election_day
    return tuple(
        read_timings(file.name, file.read_bytes(), zone_name=election.zone_name, day=date, said=said)
        for file in files
    )


def _look(folder: Path, election: Election, reads: tuple[TimingsRead, ...], said: Said) -> Looked:
    from pollstead.cli.standing import standing_of
    from pollstead.intake.counts.mapping_file import read_mappings
    from pollstead.work.timings import look
    from pollstead.work.timings_names import PlaceNames

    plan, _, _ = standing_of(folder)
    kept, _ = read_mappings(folder)
    uses = tuple(use for mapping in kept for use in mapping.names)
    return look(election, PlaceNames(election, plan, uses, dict(said.same)), reads, said)


def _said(same: Pairs, say: Pairs) -> Said:
    from pollstead.election.timings import Answer
    from pollstead.work.timings import Said

    answers = []
    for one in say:
        key, answer = _pair(one, "--say")
        try:
            answers.append((key, Answer(answer.replace("-", " "))))
        except ValueError:
            known = ", ".join(known.value for known in Answer)
            words = message(N_("An answer is one of {known}; not {word}."), known=known, word=answer)
            raise ValueError(fill(words)) from None
    return Said(same=tuple(_pair(one, "--same") for one in same), answers=tuple(answers))


def _pair(one: str, option: str) -> tuple[str, str]:
    theirs, sign, ours = one.rpartition("=")
    if not sign or not theirs.strip():
        raise ValueError(
            fill(message(N_("{option} wants THEIRS=OURS, got {word}."), option=option, word=one))
        )
    return theirs.strip(), ours.strip()


def _numbers(accept: str, looked: Looked) -> frozenset[int]:
    if not accept or accept == "none":
        return frozenset()
    if accept == "all":
        return frozenset(line.number for line in looked.lines if not line.thin)
    known = {str(line.number): line.number for line in looked.lines}
    asked = [part.strip() for part in accept.split(",")]
    wrong = [part for part in asked if part not in known]
    if wrong:
        words = message(N_("No value has the number {number}."), number=", ".join(wrong))
        raise ValueError(fill(words))
    return frozenset(known[part] for part in asked)


def _take(
    folder: Path, looked: Looked, numbers: frozenset[int], by: str, reason: str
) -> tuple[FactsTaken, Signed] | None:
    from pollstead.cli.fact_desk import desk_for, moment_now, person
    from pollstead.cli.fact_lines import print_notices
    from pollstead.work.facts import CannotChange, NotTaken
    from pollstead.work.timings import take

    people = person(by)
    try:
        with desk_for(folder, people, None) as desk:
            return take(folder, desk, looked, numbers, reason=reason, people=people, moment=moment_now())
    except NotTaken as error:
        print_notices(error.faults)
    except CannotChange as error:
        print(fill(error.said), file=sys.stderr)
    return None


def _sheet(election: Election, out: Path, paper: str) -> int:
    from pollstead.cli.warehouse_print import print_to
    from pollstead.show.packet.timing_sheet import timing_sheet

    return print_to(out, election, None, lambda given: timing_sheet(given._replace(paper=paper)))
