"""Differences of the county table: what is named first when one thing was done to its totals."""

from __future__ import annotations

import msgspec
from tests.reconcile.test_county_table import CANVASS, UPLOADS, county, typed, uploaded

from pollstead.election.fault_odds import FaultKind
from pollstead.election.next_acts import ActCost, act_costs
from pollstead.reconcile.counts.balance import Reading
from pollstead.reconcile.counts.county import county_table
from pollstead.reconcile.counts.quantities import EARLY, ELECTION_DAY
from pollstead.reconcile.counts.shapes import TermLine
from pollstead.reconcile.counts.terms import BY_ID
from pollstead.reconcile.counts.totals import Ledger, TypedTotal
from pollstead.reconcile.explain.county import CountyExplained, explain_county
from pollstead.reconcile.explain.county_acts import CountyLook, county_acts
from pollstead.reconcile.explain.county_words import (
    by_ledger,
    county_act_words,
    county_outcome_words,
    county_sentence,
    county_words,
)
from pollstead.reconcile.explain.odds import USUAL


def canvass(**changed: int) -> tuple[TypedTotal, ...]:
    """The canvass with ballots cast of some places changed; the place as ``S01_election_day``."""
    found = []
    for one in CANVASS:
        name = f"{one.site}_{one.mode}"
        value = changed.get(name) if one.quantity == "ballots_cast" else None
        found.append(one if value is None else typed(one.ledger, one.site, one.mode, one.quantity, value))
    return tuple(found)


def told(totals: tuple[TypedTotal, ...], site: str, mode: str = ELECTION_DAY) -> CountyExplained:
    """What explains the ballots of a site in the canvass."""
    found = explain_county(county_table(county(), totals, UPLOADS), USUAL)
    return next(
        one
        for one in found
        if (one.row.site, one.row.mode, one.row.quantity) == (site, mode, "ballots_cast")
        and one.line.equation == "I13-canvass"
    )


def first(one: CountyExplained) -> FaultKind:
    """The kind of the likeliest explanation."""
    return one.explanations[0].faults[0].kind


def test_a_table_that_adds_up_has_nothing_to_explain() -> None:
    """Every ledger as the sites counted: no rows."""
    assert explain_county(county_table(county(), CANVASS, UPLOADS), USUAL) == ()


def test_a_day_that_was_left_out_and_one_that_was_taken_twice_are_named() -> None:
    """120 and 80 ballots on two early days: 80 in the canvass lacks the first, 280 has the second twice."""
    missed = told(canvass(S02_early=80), "S02", EARLY)
    assert first(missed) is FaultKind.UPLOAD_MISSED
    assert missed.explanations[0].faults[0].other == "2028-11-03"
    twice = told(canvass(S02_early=280), "S02", EARLY)
    assert first(twice) is FaultKind.UPLOAD_TWICE
    assert twice.explanations[0].faults[0].other == "2028-11-04"
    assert twice.fits >= 1 and 0 < twice.unknown < 1


def test_a_whole_site_missed_or_doubled() -> None:
    """Nothing of the site, or twice what it counted."""
    assert first(told(canvass(S01_election_day=0), "S01")) is FaultKind.UPLOAD_MISSED
    assert first(told(canvass(S01_election_day=800), "S01")) is FaultKind.UPLOAD_TWICE


def test_two_sites_in_each_others_place_and_one_with_anothers_total() -> None:
    """Both wrong: exchanged; one wrong and equal to the other's: the other's total was written."""
    both = told(canvass(S01_election_day=300, S02_election_day=400), "S01")
    assert first(both) is FaultKind.SITES_EXCHANGED
    assert both.explanations[0].faults[0].other == "S02"
    totals = canvass(S01_election_day=300)
    assert FaultKind.OTHER_SITE in {e.faults[0].kind for e in told(totals, "S01").explanations}


def test_a_slip_in_a_total_of_ballots_is_found_where_the_row_is_in_sheets() -> None:
    """Two sheets a ballot: 400 ballots written as 40 lacks a digit, although the row says 800 and 80."""
    table = county_table(county(sheets=2), canvass(S01_election_day=40), UPLOADS)
    one = next(o for o in explain_county(table, USUAL) if o.row.site == "S01")
    assert (one.counted, one.read) == (800, 80)
    assert first(one) is FaultKind.DIGIT_DROPPED


def test_the_words_name_what_to_look_at_and_never_how_likely() -> None:
    """The same sentence as everywhere, and for each explanation the day, site or number it is about."""
    one = told(canvass(S02_early=80), "S02", EARLY)
    assert county_sentence(one).english() == "Difference of 120; one explanation fits."
    words = [county_words(one, e).english() for e in one.explanations]
    assert words[0] == "The number of 2028-11-03 may not have been taken in."
    assert not any("%" in said for said in words)


def test_what_both_ledgers_say_alike_is_said_once() -> None:
    """Receiving and canvass lack the same digit: one sentence of both; another number has its own."""

    def of(receiving: int) -> list[list[str]]:
        totals = (
            *canvass(S01_election_day=40),
            typed(Ledger.RECEIVING, "S01", ELECTION_DAY, "ballots_cast", receiving),
        )
        found = explain_county(county_table(county(), totals, UPLOADS), USUAL)
        here = tuple(o for o in found if o.row.site == "S01" and o.row.quantity == "ballots_cast")
        return [[ledger.value for ledger in ledgers] for ledgers, _ in by_ledger(here)]

    assert of(40) == [["receiving", "canvass"]]
    assert of(404) == [["receiving"], ["canvass"]]


def test_a_typing_slip_is_read_again_and_a_missing_part_is_looked_for_in_the_list() -> None:
    """The look that settles most comes first; each outcome leaves the explanations that show it."""
    slip = told(canvass(S01_election_day=40), "S01")
    read_again = county_acts(slip, act_costs())[0]
    assert read_again.look is CountyLook.TOTAL
    found = {o.value: [e.faults[0].kind for e in o.leaves] for o in read_again.outcomes}
    assert found == {40: [], 400: [FaultKind.DIGIT_DROPPED]}
    said = [county_outcome_words(o).english() for o in read_again.outcomes]
    assert said[1] == "If it is 400, one explanation is left:"
    missed = told(canvass(S02_early=80), "S02", EARLY)
    looked = county_acts(missed, act_costs())[0]
    assert looked.look is CountyLook.TAKEN_IN
    assert [o.leaves[0].faults[0].other for o in looked.outcomes if not o.as_before] == ["2028-11-03"]
    assert county_act_words(missed, looked).english().startswith("Look at the list")
    dear = act_costs((ActCost(act="look at the screen again", intrusiveness=9_000),))
    assert [a.intrusiveness for a in county_acts(missed, dear)] == [9_000], "the county says how much"


def test_every_explanation_is_left_by_just_one_outcome_of_a_look() -> None:
    """Outcomes part what fits: nothing is in two, and nothing is lost."""
    for one in (told(canvass(S02_early=n), "S02", EARLY) for n in (0, 80, 102, 210, 280, 400)):
        for act in county_acts(one, act_costs()):
            left = sorted(e.id for o in act.outcomes for e in o.leaves)
            assert left == sorted(e.id for e in one.explanations[: one.fits])
            assert sum(o.as_before for o in act.outcomes) == 1


def test_styles_one_row_off() -> None:
    """Three styles whose numbers stand one row lower each: one thing, not three slips."""
    day = county()[0]
    assert day.balance is not None
    numbers = {"A": 11, "B": 27, "C": 35}
    lines = tuple(
        TermLine(
            key=f"ballots_unused%{style}",
            term=BY_ID["ballots_unused"],
            device="",
            unit="ballots",
            style=style,
        )
        for style in numbers
    )
    readings = tuple(Reading(key=f"ballots_unused%{style}", value=n) for style, n in numbers.items())
    day = msgspec.structs.replace(
        day,
        balance=msgspec.structs.replace(day.balance, lines=(*day.balance.lines, *lines)),
        readings=(*day.readings, *readings),
    )
    total = typed(Ledger.CANVASS, "S01", ELECTION_DAY, "ballots_unused", 73)
    off = msgspec.structs.replace(total, styles=(("A", 27), ("B", 35), ("C", 35)))
    found = explain_county(county_table((day,), (off,), ()), USUAL)
    kinds = {one.row.style: first(one) for one in found if one.row.style and one.row.site}
    assert kinds == {"A": FaultKind.STYLE_ROW_SHIFTED, "B": FaultKind.STYLE_ROW_SHIFTED}


def test_a_memory_device_taken_twice_is_named_at_receiving() -> None:
    """The same memory device read twice: what was received is twice what the machine counted."""
    again = (*UPLOADS, msgspec.structs.replace(uploaded("S01", ELECTION_DAY, 400), mode=ELECTION_DAY))
    found = explain_county(county_table(county(), CANVASS, again), USUAL)
    received = [o for o in found if o.row.site == "S01" and o.line.equation == "I13-received"]
    assert [first(one) for one in received] == [FaultKind.UPLOAD_TWICE] * len(received)
