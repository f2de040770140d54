"""Reports over test decks: exact comparison, explanations that fit exactly, how a device stands."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import msgspec
import pytest
from tests.decks.conftest import contest_of, face_with

from pollstead.election.county import Election
from pollstead.election.station_type import CountUnit
from pollstead.election.style_sheets import StyleSheets
from pollstead.intake.folder import read_folder
from pollstead.plan.decks.mistakes import mistakes_on
from pollstead.plan.decks.predetermined import predetermined
from pollstead.plan.decks.synthesis import run
from pollstead.plan.terms.deck_places import faces_by_site
from pollstead.plan.terms.decks import Cell, DeckSet, Line, MistakeKind, Total
from pollstead.reconcile.decks.compare import compare
from pollstead.reconcile.decks.runs import DeckBook, DeckRun, DeckState, digest_of_decks
from pollstead.record.fold import fold
from pollstead.work.decks import compared, counter_moves, decks_of, results_of

FACES = (
    face_with(contest_of("mayor", 3, write_ins=1), contest_of("board", 4, 2), key="01"),
    face_with(contest_of("mayor", 3, write_ins=1, rotation=1), contest_of("board", 4, 2), key="02"),
)
DECKS = DeckSet(faces=FACES, decks=run(FACES, seed=5).value)


def test_a_report_as_it_must_be_matches_and_one_number_off_does_not() -> None:
    """One vote more for one choice: exactly that cell, with both numbers; no mistake of ours explains it."""
    right = results_of(DECKS).totals
    assert compared(DECKS, right).matched
    at = next(i for i, total in enumerate(right) if total.cell.line is Line.CHOICE)
    wrong = (*right[:at], Total(cell=right[at].cell, count=right[at].count + 1), *right[at + 1 :])
    found = compared(DECKS, wrong)
    assert [(d.cell, d.expected + 1) for d in found.differences] == [
        (right[at].cell, found.differences[0].observed)
    ]
    assert found.explanations == () and not found.matched


def test_every_single_mistake_is_among_the_explanations_of_its_own_report() -> None:
    """For each mistake on one deck: its report differs, and the mistake is one that gives exactly it."""
    deck = DECKS.only(("02",))
    tried = 0
    for one in mistakes_on(deck.faces[0], deck.decks[0].ballots):
        found = compared(deck, one.results.totals)
        assert found.differences and one.mistake in found.explanations
        tried += 1
    assert tried > 30


def test_numbers_that_a_report_does_not_print_are_not_compared_but_votes_must_be_there() -> None:
    """Without undervotes the comparison holds; without a choice's votes it is not done."""
    right = results_of(DECKS).totals
    short = tuple(total for total in right if total.cell.line is not Line.UNDERVOTES)
    assert compared(DECKS, short).matched and compared(DECKS, short).compared == len(right) - 2
    no_votes = tuple(total for total in right if total.cell.line is not Line.CHOICE)
    assert {cell.line for cell in compared(DECKS, no_votes).missing} == {Line.CHOICE}


def test_a_number_typed_twice_or_on_no_such_report_is_refused_by_name() -> None:
    """The caller's mistake is named by the cell."""
    right = results_of(DECKS)
    with pytest.raises(ValueError, match="ballots is typed twice"):
        compare(right, (right.totals[0], right.totals[0]))
    stray = Total(cell=Cell(line=Line.CHOICE, contest="mayor", choice="9"), count=1)
    with pytest.raises(ValueError, match="mayor/choice/9 is on no report"):
        compare(right, (stray,))


def test_a_counter_that_moved_otherwise_is_a_difference_without_an_explanation() -> None:
    """All totals right, one sheet too few on the lifetime counter."""
    found = compared(DECKS, results_of(DECKS).totals, (DECKS.ballots, DECKS.ballots - 1))
    assert [d.cell.line for d in found.differences] == [Line.LIFETIME] and found.explanations == ()


def test_a_rotation_that_is_ignored_on_one_of_two_styles_is_told_with_the_style() -> None:
    """The report over both decks, style 02 read as if its list were not rotated."""
    wrong = next(
        one
        for one in mistakes_on(FACES[1], DECKS.decks[1].ballots)
        if one.mistake.kind is MistakeKind.ROTATION and one.mistake.first == "0"
    )
    first = predetermined(FACES[0], DECKS.decks[0].ballots)
    observed = tuple(
        Total(cell=t.cell, count=t.count + (wrong.results.of(t.cell) or 0)) for t in first.totals
    )
    told = compared(DECKS, observed).explanations
    assert (MistakeKind.ROTATION, ("02",)) in [(mistake.kind, mistake.faces) for mistake in told]
    assert len(told) < 5


def a_run(at: int, *decks: str, matched: bool = True, people: int = 2, digest: str = "") -> DeckRun:
    """A comparison of these decks."""
    return DeckRun(
        event=f"{at:064d}",
        device="device/scanner/1",
        matched=matched,
        decks=decks,
        digest=digest or digest_of_decks(DECKS.only(decks)),
        ballots=1,
        compared=1,
        cells=(),
        expected=(),
        observed=(),
        again="",
        lifetime_before=None,
        lifetime_after=None,
        people=("person/A", "person/B")[:people],
        utc_ms=at,
    )


def test_the_last_comparison_of_each_deck_decides_how_a_device_stands() -> None:
    """Nothing is matched by default: not read, some, differs, one person, ballots changed, matched."""
    election = Election(county="T", name="G", election_day=dt.date(2028, 11, 7), zone_name="EST5EDT")
    book, both = DeckBook(election, DECKS, fold(())), ("01", "02")

    def state(*runs: DeckRun) -> DeckState:
        return book.state_of(both, runs)

    assert state() is DeckState.NOT_READ
    assert state(a_run(1, "01")) is DeckState.SOME
    assert state(a_run(1, "01", "02")) is DeckState.MATCHED
    assert state(a_run(1, "01"), a_run(2, "02", matched=False)) is DeckState.DIFFERS
    assert state(a_run(1, "01"), a_run(2, "02", matched=False), a_run(3, "02")) is DeckState.MATCHED
    assert state(a_run(1, "01", "02"), a_run(2, "02", matched=False)) is DeckState.DIFFERS
    assert state(a_run(1, "01", "02", people=1)) is DeckState.ONE_PERSON
    assert state(a_run(1, "01", "02", digest="0" * 64)) is DeckState.CHANGED


def test_a_site_needs_the_ballots_of_its_precincts_with_their_own_where_they_have_them() -> None:
    """S01 has styles 03, 04 and 05, and precinct 002 its own ballots of 04."""
    election = read_folder(Path(__file__).resolve().parents[2] / "small").election
    assert election is not None
    assert faces_by_site(election)["S01"] == ("03", "04", "04/002", "05")
    assert faces_by_site(election)["S02"] == ("06", "07")


def test_the_counter_moves_by_sheets_where_a_style_has_several() -> None:
    """Style 06 of two sheets: its 17 ballots move a counter of sheets by 34; style 07 keeps one."""
    election = read_folder(Path(__file__).resolve().parents[2] / "small").election
    assert election is not None
    kinds = [k for k in election.station_types if (c := k.counter("lifetime")) and c.unit is CountUnit.SHEETS]
    decks = decks_of(election).decks.only(("06", "07"))
    two = msgspec.structs.replace(election, style_sheets=(StyleSheets(style="06", sheets=2),))
    assert kinds and counter_moves(election, decks, kinds[0].id) == 34
    assert counter_moves(two, decks, kinds[0].id) == 51
