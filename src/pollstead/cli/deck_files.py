"""Files of ``pollstead decks``: chart, form, report, ballot definition."""

from __future__ import annotations

import csv
import io
import sys
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from pollstead.cli.county import refuse
from pollstead.election.words import N_, message
from pollstead.show.words import fill, spoken, text

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.election.notice import Notice
    from pollstead.plan.terms.decks import DeckSet
    from pollstead.reconcile.decks.compare import Comparison
    from pollstead.reconcile.decks.runs import DeckRun
    from pollstead.record.kinds.decks import DeckCompared

TABLES = ("contests", "choices", "ballot_contests")


class Told(NamedTuple):
    """What is told of a report: its file, the device, who compared, the counter, what was done."""

    file: Path
    device: str
    by: str
    second: str
    before: int | None
    after: int | None
    reason: str


def print_chart(path: Path, election: Election, decks: DeckSet, paper: str) -> int:
    """Set the chart into a file, whole or not at all."""
    from pollstead.show.packet.deck_chart import deck_chart, deck_chart_pdf
    from pollstead.show.packet.setting import PrintFailed
    from pollstead.work.clock import now_ms

    if paper not in ("letter", "a4"):
        print(text(N_("Give --paper letter or a4.")), file=sys.stderr)
        return 2
    try:
        made = deck_chart_pdf(deck_chart(election, decks, now_ms(), language=spoken(), paper=paper))
    except PrintFailed as error:
        print(fill(error.said), file=sys.stderr)
        return 1
    _write(path, made)
    print(fill(message(N_("{path}: the chart of {count} decks."), path=str(path), count=len(decks.faces))))
    return 0


def write_form(path: Path, decks: DeckSet) -> int:
    """Write a form with a row for each number of a report over these decks; no number stands in it."""
    from pollstead.plan.terms.decks import LINE_WORDS
    from pollstead.show.deck_words import cell_words
    from pollstead.work.decks import results_of

    stream = io.StringIO(newline="")
    out = csv.writer(stream, lineterminator="\n")
    out.writerow(("contest", "line", "choice", "words", "count"))
    for total in results_of(decks).totals:
        cell = total.cell
        out.writerow((cell.contest, LINE_WORDS[cell.line], cell.choice, fill(cell_words(decks, cell)), ""))
    _write(path, stream.getvalue().encode("utf-8"))
    print(fill(message(N_("{path}: fill in the column count."), path=str(path))))
    return 0


def take_definition(folder: Path, file: Path) -> int:
    """Read a ballot definition into the three tables of a folder that has none of them."""
    from pollstead.intake.ballot_definition import read_ballot_definition

    there = [f"{name}.csv" for name in TABLES if (folder / f"{name}.csv").exists()]
    if there:
        refuse(
            N_("{folder} has {tables} already. Move them away first; nothing was changed."),
            folder=str(folder),
            tables=", ".join(there),
        )
    read = read_ballot_definition(file.read_bytes(), file.name)
    if read.faults:
        return _tell_faults(read.faults)
    rows: dict[str, tuple[tuple[str, ...], list[tuple[object, ...]]]] = {
        "contests": (
            ("id", "words", "vote_for", "write_in_lines"),
            [(c.id, c.words, c.vote_for, c.write_in_lines) for c in read.contests],
        ),
        "choices": (
            ("contest", "id", "order", "words"),
            [(c.contest, c.id, c.order, c.words) for c in read.choices],
        ),
        "ballot_contests": (
            ("style", "precinct", "contest", "order", "rotation"),
            [(b.style, b.precinct, b.contest, b.order, b.rotation) for b in read.ballot_contests],
        ),
    }
    for name, (header, body) in rows.items():
        stream = io.StringIO(newline="")
        csv.writer(stream, lineterminator="\n").writerows((header, *body))
        _write(folder / f"{name}.csv", stream.getvalue().encode("utf-8"))
    words = N_(
        "{contests} contests and {styles} ballot styles were read. Look at them by: pollstead check {folder}"
    )
    styles = len({row.style for row in read.ballot_contests})
    print(fill(message(words, contests=len(read.contests), styles=styles, folder=str(folder))))
    return 0


def compare_report(
    folder: Path, election: Election, decks: DeckSet, styles: tuple[str, ...], told: Told
) -> int:
    """Compare a filled-in report of a device, and record it where two people are named."""
    from pollstead.cli.decks import devices_of
    from pollstead.intake.deck_report import read_deck_report
    from pollstead.work.decks import compared, counter_moves, event_of, totals_of_rows

    standing = devices_of(folder, election, decks)
    one = next((d for d in standing if told.device in (d.device, d.serial)), None)
    if one is None:
        refuse(
            N_("The plan has no counting device {device} at a site. Give --device with its id or serial."),
            device=told.device or "-",
        )
    if bool(told.by) != bool(told.second) or (told.by and told.by == told.second):
        refuse(N_("Two people compare a report: give --by and --second, two different ids."))
    mine = decks.only(styles or one.wanted)
    rows, faults = read_deck_report(told.file.read_bytes(), told.file.name)
    totals, more = totals_of_rows(rows, mine, told.file.name)
    if faults or more:
        return _tell_faults((*faults, *more))
    counter = None
    if told.before is not None and told.after is not None:
        counter = (counter_moves(election, mine, one.station_type), told.after - told.before)
    found = compared(mine, totals, counter)
    if found.missing:
        from pollstead.show.deck_words import cell_words

        for cell in found.missing:
            print(f"- {fill(cell_words(mine, cell))}", file=sys.stderr)
        refuse(N_("{count} numbers of the report are still to be typed."), count=len(found.missing))
    say_comparison(mine, found)
    if not told.by:
        print(text(N_("Not recorded: give --by and --second.")))
        return 0
    last = one.runs[-1] if one.runs else None
    if last is not None and not told.reason:
        refuse(N_("This device has an earlier comparison: say by --reason what was done since."))
    body = event_of(
        mine,
        found,
        again=last.event if last is not None else "",
        lifetime_before=told.before,
        lifetime_after=told.after,
    )
    return _record(folder, one.device, body, told, last)


def say_comparison(decks: DeckSet, found: Comparison) -> None:
    """Print what differs, exactly, and what would explain it."""
    from pollstead.show.deck_words import cell_words, mistake_words

    if not found.differences:
        print(fill(message(N_("All {count} numbers are as they must be."), count=found.compared)))
        return
    words = N_("{differ} of {count} numbers differ.")
    print(fill(message(words, differ=len(found.differences), count=found.compared)))
    for one in found.differences:
        line = N_("{where}: expected {expected}, observed {observed}")
        where = fill(cell_words(decks, one.cell))
        print("- " + fill(message(line, where=where, expected=one.expected, observed=one.observed)))
    if found.explanations:
        print(text(N_("Possible explanations, any of which gives exactly this report:")))
    else:
        print(text(N_("No single mistake of a definition gives this report: read it again first.")))
    for mistake in found.explanations:
        print(f"- {fill(mistake_words(decks, mistake))}")
    print(text(N_("The election official decides whether the device is used.")))


def _record(folder: Path, device: str, body: DeckCompared, told: Told, last: DeckRun | None) -> int:
    from pollstead.cli.fact_desk import moment_now
    from pollstead.record.event import Means, Part, Person
    from pollstead.record.kinds.body import Reason
    from pollstead.store.desk import open_desk

    def person(short: str, part: Part) -> Person:
        known = short if short.startswith("person/") else f"person/{short}"
        return Person(person=known, means=Means.NAME_ONLY, part=part)

    try:
        desk = open_desk(folder)
    except ValueError as error:
        refuse(N_("Compared, but not written into the record: {why}"), why=str(error))
    try:
        desk.recorder.record(
            body,
            subject=device,
            people=(person(told.by, Part.AUTHOR), person(told.second, Part.SECOND)),
            moment=moment_now(),
            after=(last.event,) if last is not None else (),
            private=Reason(reason=told.reason) if told.reason else None,
        )
    except ValueError as error:
        refuse(N_("Compared, but not written into the record: {why}"), why=str(error))
    finally:
        desk.close()
    print(text(N_("The comparison is in the record.")))
    return 0


def _tell_faults(faults: tuple[Notice, ...]) -> int:
    for fault in faults:
        place = f"{fault.place.english()}: " if fault.place is not None else ""
        found = f" ({fault.found})" if fault.found else ""
        print(f"{place}{fill(fault.text)}{found}", file=sys.stderr)
    return 1


def _write(file: Path, data: bytes) -> None:
    from pollstead.show.packet.typesetting import write_whole

    file.parent.mkdir(parents=True, exist_ok=True)
    write_whole(file, data)
