"""The chart of test decks for a second person: what is marked on each ballot, what each report must show.

TEST stands on every page. Set as PDF/UA-1 in a child process that ends; the same bytes for the same chart.
"""

from __future__ import annotations

import string

import msgspec

from pollstead.election.county import Election
from pollstead.election.instants import Instant
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.plan.decks.predetermined import contest_cells, predetermined
from pollstead.plan.terms.decks import (
    BallotFace,
    BallotPurpose,
    Cell,
    Deck,
    DeckBallot,
    DeckSet,
    FaceContest,
    Line,
    Results,
)
from pollstead.show.cautions import Place, for_place
from pollstead.show.one_paper import Template, paper_or_refusal
from pollstead.show.packet.wording import Say
from pollstead.show.paper_head import PaperHead
from pollstead.show.words import is_right_to_left

TEMPLATE = Template("packet", "deck.typ", "paper")
WORDS = (
    ("mark", N_("What to mark")),
    (
        "how",
        N_(
            "A number is a position of the contest, counted from the top; mark nothing else. Write-in lines "
            "come after the choices: fill in the oval and write TEST on the line."
        ),
    ),
    ("dash", N_("– : mark nothing in this contest.")),
    ("ballot", N_("Ballot")),
    ("signs", N_("Marked by, when|Looked through by a second person, when")),
    ("totals", N_("What the report must show")),
    (
        "exact",
        N_(
            "Each number must be exactly this. Compare the device's report with it by two people; where one "
            "differs, stop and tell the office."
        ),
    ),
    ("position", N_("Position")),
    ("choice", N_("Choice")),
    ("total", N_("Total")),
)
LINE_WORDS = {
    Line.WRITE_INS: N_("Write-in votes, all lines"),
    Line.OVERVOTED: N_("Ballots overvoted here"),
    Line.UNDERVOTES: N_("Undervotes"),
    Line.BALLOTS: N_("Ballots read"),
    Line.BLANK: N_("Ballots without any mark"),
}
PURPOSES = {
    BallotPurpose.OVERVOTED: N_(
        "Ballot {ballot} has one mark too many on purpose: if the device gives it back, have it taken "
        "as it is."
    ),
    BallotPurpose.BLANK: N_("Ballot {ballot} stays blank on purpose."),
}


class ContestOnChart(Value, frozen=True, kw_only=True):
    """One contest: its letter in the table of marks, and a row for each number of the report."""

    letter: str
    title: str
    vote_for: str
    rows: tuple[tuple[str, str, str], ...]


class DeckOnChart(Value, frozen=True, kw_only=True):
    """One deck; `mark` is a name for the typesetter, `ballots` are rows of ballot and marks."""

    mark: str
    title: str
    lead: tuple[str, ...]
    letters: tuple[str, ...]
    widths: tuple[int, ...]
    special: str
    ballots: tuple[tuple[str, ...], ...]
    contests: tuple[ContestOnChart, ...]
    whole: tuple[tuple[str, str], ...]


class DeckChart(PaperHead, frozen=True, kw_only=True):
    """The chart; every word in the reader's language."""

    test: str
    blank: str
    decks: tuple[DeckOnChart, ...]
    cautions: tuple[str, ...]
    words: tuple[tuple[str, str], ...]


def deck_chart(
    election: Election, decks: DeckSet, now_ms: int, *, language: str, paper: str = "letter"
) -> DeckChart:
    """The chart of these decks, each beginning on a front page."""
    say = Say(language)
    at = Instant(utc_ms=now_ms).local(election.zone_name).strftime("%Y-%m-%d %H:%M")
    return DeckChart(
        title=say(N_("Chart of test decks")),
        county=f"{election.county}, {election.name}",
        as_of=f"{say(N_('As of'))} {at}",
        page=say(N_("page {page} of {pages}"), page="{page}", pages="{pages}"),
        unofficial=say(N_("Unofficial, staff use")),
        practice=say(N_("PRACTICE")) if election.practice else "",
        invented=say(N_("Invented data, for practice and show.")) if election.invented else "",
        language=language,
        right_to_left=is_right_to_left(language),
        paper=paper,
        timestamp=now_ms // 1000,
        test=say(N_("TEST: no votes of an election")),
        blank=say(N_("This page is blank on purpose.")),
        decks=tuple(
            _deck(number, face, deck, say)
            for number, (face, deck) in enumerate(zip(decks.faces, decks.decks, strict=True), start=1)
        ),
        cautions=tuple(say(caution.words) for caution in for_place(Place.DECKS)),
        words=tuple((name, say(english)) for name, english in WORDS),
    )


def deck_chart_pdf(chart: DeckChart) -> bytes:
    """The PDF, the same bytes for the same chart; raises `PrintFailed` as `paper_or_refusal` does."""
    return paper_or_refusal(TEMPLATE, msgspec.to_builtins(chart))


def letter_of(place: int) -> str:
    """A, B, … Z, AA, AB, … for the contests of a ballot, from 0."""
    letters = string.ascii_uppercase
    over, at = divmod(place, len(letters))
    return (letters[over - 1] if over else "") + letters[at]


def _deck(number: int, face: BallotFace, deck: Deck, say: Say) -> DeckOnChart:
    letters = tuple(letter_of(place) for place in range(len(face.contests)))
    report = predetermined(face, deck.ballots)
    title = (
        say(
            N_("Test deck, ballot style {style}, precinct {precinct}"),
            style=face.style,
            precinct=face.precinct,
        )
        if face.precinct
        else say(N_("Test deck, ballot style {style}"), style=face.style)
    )
    lead = say(
        N_("{ballots} ballots. Number them 1 to {ballots}, write TEST on each, and keep them apart."),
        ballots=len(deck.ballots),
    )
    return DeckOnChart(
        mark=str(number),
        title=title,
        lead=(lead,),
        letters=letters,
        widths=tuple(1 + min(contest.vote_for, contest.positions - 1) for contest in face.contests),
        special=" ".join(
            say(PURPOSES[ballot.purpose], ballot=ballot.number)
            for ballot in deck.ballots
            if ballot.purpose in PURPOSES
        ),
        ballots=tuple(_ballot(face, ballot) for ballot in deck.ballots),
        contests=tuple(
            _contest(letter, contest, report, say)
            for letter, contest in zip(letters, face.contests, strict=True)
        ),
        whole=tuple(
            (say(LINE_WORDS[line]), str(report.of(Cell(line=line)))) for line in (Line.BALLOTS, Line.BLANK)
        ),
    )


def _ballot(face: BallotFace, ballot: DeckBallot) -> tuple[str, ...]:
    """Its number, then the positions to mark in each contest."""
    cells = (" ".join(map(str, ballot.positions(contest.id))) or "–" for contest in face.contests)
    return (str(ballot.number), *cells)


def _contest(letter: str, contest: FaceContest, report: Results, say: Say) -> ContestOnChart:
    """Choices in the order of this face with their positions, then what else a report may print."""
    places = [
        (p, (p - 1 + contest.rotation) % len(contest.choices)) for p in range(1, len(contest.choices) + 1)
    ]
    rows = []
    for position, at in places:
        cell = Cell(line=Line.CHOICE, contest=contest.id, choice=contest.choices[at])
        rows.append((str(position), contest.names[at], str(report.of(cell))))
    first, last = len(contest.choices) + 1, contest.positions
    for cell in contest_cells(contest):
        if cell.line is Line.CHOICE:
            continue
        lines = (f"{first}–{last}" if last > first else str(first)) if cell.line is Line.WRITE_INS else ""
        rows.append((lines, say(LINE_WORDS[cell.line]), str(report.of(cell))))
    return ContestOnChart(
        letter=letter,
        title=contest.words,
        vote_for=say(N_("Vote for {count}"), count=contest.vote_for),
        rows=tuple(rows),
    )
