"""A county's decks, made once for the same ballots, and a report over them compared and recorded."""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING

from pollstead.election.ballots import BallotContest, Choice, Contest
from pollstead.election.notice import Notice, Place
from pollstead.election.station_type import CountUnit
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.intake.notices import cannot_read
from pollstead.intake.records import nearest
from pollstead.plan.decks.blind_spots import Judged, Known, judge
from pollstead.plan.decks.faces import faces_of_rows
from pollstead.plan.decks.misread import run_mistakes
from pollstead.plan.decks.predetermined import added, predetermined
from pollstead.plan.decks.synthesis import run
from pollstead.plan.terms.decks import DeckSet, Results, Total
from pollstead.plan.terms.part import Reason, derive_seed
from pollstead.reconcile.decks.compare import Comparison, compare
from pollstead.reconcile.decks.runs import digest_of_decks
from pollstead.record.kinds.decks import MOST_CELLS, DeckCompared

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.intake.deck_report import ReportRow
    from pollstead.reconcile.decks.runs import DeckRun


class BallotRows(Value, frozen=True, kw_only=True):
    """All that decks follow from: the three tables, and whose they are."""

    county: str
    election: str
    contests: tuple[Contest, ...]
    choices: tuple[Choice, ...]
    ballots: tuple[BallotContest, ...]


class Made(Value, frozen=True, kw_only=True):
    """The decks of a county and why they are so large; `bound` says how near to the fewest ballots."""

    decks: DeckSet
    reasons: tuple[Reason, ...]
    bound: str


def decks_of(election: Election) -> Made:
    """The decks of a county; the same tables give the same decks, whatever else changes."""
    return _made(
        BallotRows(
            county=election.county,
            election=election.name,
            contests=election.contests,
            choices=election.choices,
            ballots=election.ballot_contests,
        )
    )


@functools.lru_cache(maxsize=4)
def _made(rows: BallotRows) -> Made:
    faces = faces_of_rows(rows.contests, rows.choices, rows.ballots)
    seed = derive_seed(0, "decks", f"{rows.county}/{rows.election}", "decks")
    outcome = run(faces, seed=seed)
    return Made(decks=DeckSet(faces=faces, decks=outcome.value), reasons=outcome.reasons, bound=outcome.bound)


@functools.lru_cache(maxsize=2)
def judged_of(decks: DeckSet) -> tuple[Judged, ...]:
    """What each deck would not show, found by trying every single mistake."""
    known: Known = {}
    return tuple(
        judge(face, deck.ballots, known=known) for face, deck in zip(decks.faces, decks.decks, strict=True)
    )


def results_of(decks: DeckSet) -> Results:
    """What a report over these decks must show, counted from the marks."""
    return added(
        predetermined(face, deck.ballots) for face, deck in zip(decks.faces, decks.decks, strict=True)
    )


def compared(
    decks: DeckSet, observed: tuple[Total, ...], counter: tuple[int, int] | None = None
) -> Comparison:
    """A report over these decks compared; raises ValueError as `compare` does.

    `counter` is by how much the lifetime counter must have moved, and by how much it did.
    """
    mistakes = run_mistakes(decks.faces, decks.decks)
    return compare(results_of(decks), observed, mistakes, counter=counter)


def counter_moves(election: Election, decks: DeckSet, station_type: str) -> int:
    """By how much a device's lifetime counter must move over these decks: ballots, or their sheets."""
    counter = election.station_type(station_type).counter("lifetime")
    if counter is None or counter.unit is not CountUnit.SHEETS:
        return decks.ballots
    usual = election.rules.whole("sheets-per-ballot")
    own = {row.style: row.sheets for row in election.style_sheets}
    return sum(
        len(deck.ballots) * own.get(face.style, usual)
        for face, deck in zip(decks.faces, decks.decks, strict=True)
    )


def event_of(
    decks: DeckSet,
    found: Comparison,
    *,
    again: str = "",
    lifetime_before: int | None = None,
    lifetime_after: int | None = None,
) -> DeckCompared:
    """The event that a comparison becomes; totals that match are told by their number alone."""
    shown = found.differences[:MOST_CELLS]
    return DeckCompared(
        result="differs" if found.differences else "matched",
        decks=decks.keys,
        digest=digest_of_decks(decks),
        ballots=decks.ballots,
        compared=found.compared,
        cells=tuple(one.cell.id for one in shown),
        expected=tuple(one.expected for one in shown),
        observed=tuple(one.observed for one in shown),
        again=again,
        lifetime_before=lifetime_before,
        lifetime_after=lifetime_after,
    )


def totals_of_rows(
    rows: tuple[ReportRow, ...], decks: DeckSet, file: str
) -> tuple[tuple[Total, ...], tuple[Notice, ...]]:
    """The numbers of a file as totals over these decks; a row that no such report has is a fault."""
    known = {total.cell.id: total.cell for total in results_of(decks).totals}
    made: dict[str, Total] = {}
    faults = []
    for row in rows:
        name = "/".join(filter(None, (row.contest, row.line, row.choice)))
        if name in made or name not in known:
            words = (
                N_("This number stands twice") if name in made else N_("No report over these decks has it")
            )
            faults.append(
                cannot_read(
                    "deck-report-line",
                    Place(file=file, row=row.row, column="line"),
                    message(words),
                    found=name,
                    wanted=nearest(name, tuple(known)),
                    remedy=message(
                        N_("Take the form that pollstead decks --form writes, and fill in count.")
                    ),
                )
            )
            continue
        made[name] = Total(cell=known[name], count=row.count)
    return tuple(made.values()), tuple(faults)


def observed_in(run: DeckRun, decks: DeckSet) -> tuple[Total, ...]:
    """What a comparison of the record observed: as it must be, but for the numbers that differ."""
    differing = dict(zip(run.cells, run.observed, strict=True))
    return tuple(
        Total(cell=total.cell, count=differing.get(total.cell.id, total.count))
        for total in results_of(decks).totals
    )
