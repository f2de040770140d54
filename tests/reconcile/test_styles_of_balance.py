"""Ballot styles in the balance: a row for each style, sums to the totals, sheets that differ by style."""

from __future__ import annotations

import datetime as dt
import itertools

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pollstead.election.county import Election, Precinct
from pollstead.election.rules import CountyRules, RuleSetting
from pollstead.election.station_type import (
    Counter,
    CountUnit,
    OpeningValue,
    SiteKind,
    StationType,
    StationUse,
    VoterStep,
)
from pollstead.election.style_sheets import StyleSheets
from pollstead.reconcile.counts.balance import BalanceLine, LineState, Reading, evaluate
from pollstead.reconcile.counts.equations import Balance, CountingDevice, build_balance
from pollstead.reconcile.counts.styles import StylesHere, styles_here
from pollstead.reconcile.counts.terms import key_of, split_key, style_of

DEVICE = "device/scanner/1"
DEVICES = (CountingDevice(id=DEVICE, station="station/S01/scanner/1", station_type="scanner"),)


def scanner(unit: CountUnit, opening: OpeningValue = OpeningValue.ZERO) -> StationType:
    """A scanner whose public counter counts sheets or ballots."""
    counter = Counter(id="public", name="public counter", unit=unit, opening=opening)
    return StationType(id="scanner", name="Scanner", step=VoterStep.CAST, counters=(counter,))


def site(
    unit: CountUnit,
    styles: StylesHere,
    steps: tuple[str, ...] = ("ballots by style", "spoiled"),
    opening: OpeningValue = OpeningValue.ZERO,
) -> Balance:
    """A site with one scanner that counts by style."""
    kind = SiteKind(id="k", name="k", uses=(StationUse(station_type="scanner"),), balance=steps)
    return build_balance("S01", kind, (scanner(unit, opening),), DEVICES, CountyRules(), styles=styles)


def played(sheets: dict[str, int], cast: dict[str, int], spoiled: dict[str, int]) -> dict[str, int]:
    """A day told from the voters' side: so many ballots of each style cast and spoiled, 40 left of each."""
    values: dict[str, int] = {"check_ins_cancelled": 0}
    names = ("received", "unused", "spoiled", "issued", "reissued")
    totals = dict.fromkeys((f"ballots_{name}" for name in names), 0)
    moved = 0
    for style, n in sheets.items():
        one = {
            "ballots_received": cast[style] + spoiled[style] + 40,
            "ballots_unused": 40,
            "ballots_spoiled": spoiled[style],
            "ballots_issued": cast[style] + spoiled[style],
            "ballots_reissued": spoiled[style],
        }
        for term, value in one.items():
            values[key_of(term, "", style)] = value
            totals[term] += value
        values[key_of("style_count_close", DEVICE, style)] = cast[style] * n
        moved += cast[style] * n
    values |= totals
    values["check_ins"] = totals["ballots_issued"] - totals["ballots_spoiled"]
    values[key_of("public_counter_open", DEVICE)] = 0
    values[key_of("public_counter_close", DEVICE)] = moved
    return values


def lines_of(balance: Balance, values: dict[str, int]) -> tuple[BalanceLine, ...]:
    """The balance evaluated."""
    return evaluate(balance.equations, [Reading(key=k, value=v) for k, v in values.items()])


def test_a_key_of_a_style_is_taken_apart_and_an_old_key_is_what_it_was() -> None:
    """The style stands within the term; keys without one are as they have always been."""
    assert key_of("ballots_unused", "site/S01", "E07") == "ballots_unused%E07"
    assert key_of("style_count_close%E07", DEVICE) == f"style_count_close%E07@{DEVICE}"
    assert split_key(f"style_count_close%E07@{DEVICE}") == ("style_count_close", DEVICE)
    assert style_of(f"style_count_close%E07@{DEVICE}") == "E07"
    assert key_of("ballots_unused", "site/S01") == "ballots_unused"
    assert style_of("ballots_unused") == ""


@pytest.mark.parametrize("unit", [CountUnit.SHEETS, CountUnit.BALLOTS])
@pytest.mark.parametrize("sheets", [{"E01": 1, "E02": 1}, {"E01": 2, "E02": 2}, {"E01": 1, "E02": 2}])
def test_a_day_told_by_style_balances_style_by_style_and_in_total(
    unit: CountUnit, sheets: dict[str, int]
) -> None:
    """Also where ballots of two styles have different numbers of sheets."""
    usual = sheets["E01"]
    kind = SiteKind(
        id="k",
        name="k",
        uses=(StationUse(station_type="scanner"),),
        balance=("ballots by style", "spoiled", "paper counted by hand"),
    )
    rules = CountyRules(settings=(RuleSetting(rule="sheets-per-ballot", value=usual),))
    here = StylesHere(sheets=tuple(sheets.items()))
    balance = build_balance("S01", kind, (scanner(unit),), DEVICES, rules, styles=here)
    counted = sheets if unit is CountUnit.SHEETS else dict.fromkeys(sheets, 1)
    values = played(counted, {"E01": 120, "E02": 77}, {"E01": 3, "E02": 1})
    values[key_of("paper_in_box", DEVICE)] = 120 * sheets["E01"] + 77 * sheets["E02"]
    lines = lines_of(balance, values)
    assert {line.state for line in lines} == {LineState.ZERO}
    told = {(line.equation, line.subject) for line in lines}
    assert {("I1-style", f"site/S01/style/{style}") for style in sheets} <= told
    assert {"I1", "I3", "I4-paper", "I4-styles", "I1-styles"} <= {name for name, _ in told}


def test_a_counter_of_ballots_says_nothing_of_sheets_where_styles_differ_and_are_not_counted() -> None:
    """No row is made that could not be right: paper in the box needs the counts by style then."""
    here = StylesHere(sheets=(("E01", 1), ("E02", 2)), typed=frozenset({"ballots_unused"}))
    balance = site(CountUnit.BALLOTS, here, ("ballots by style", "paper counted by hand"))
    assert "I4-paper" not in {e.id for e in balance.equations}


def test_styles_that_only_some_numbers_were_typed_of_bring_sums_and_no_row_that_waits_for_ever() -> None:
    """Somebody counted the unused ballots by style: they must add up, and nothing else is asked."""
    here = StylesHere(sheets=(("E01", 1), ("E02", 1)), typed=frozenset({"ballots_unused"}))
    balance = site(CountUnit.SHEETS, here)
    by_style = [e for e in balance.equations if any(style_of(key) for _, key in e.terms)]
    assert [(e.id, e.subject) for e in by_style] == [("I1-styles", "site/S01/number/ballots_unused")]


def test_a_style_that_was_not_counted_is_missing_and_never_zero() -> None:
    """Two of three styles typed: the sum names the third as not read."""
    here = StylesHere(sheets=(("E01", 1), ("E02", 1), ("E03", 1)), typed=frozenset({"ballots_unused"}))
    balance = site(CountUnit.SHEETS, here)
    values = {"ballots_unused": 40, "ballots_unused%E01": 20, "ballots_unused%E02": 20}
    (line,) = (one for one in lines_of(balance, values) if one.equation == "I1-styles")
    assert line.state is LineState.NOT_READ
    assert line.missing == ("ballots_unused%E03",)


@given(
    st.dictionaries(st.sampled_from(["E01", "E02", "E03"]), st.integers(0, 500), min_size=1),
    st.data(),
)
def test_any_number_that_is_left_out_is_named_missing_whatever_the_others_are(
    cast: dict[str, int], data: st.DataObject
) -> None:
    """Missing is not zero: a row with an unread number shows no difference and names just that number."""
    sheets = dict.fromkeys(sorted(cast), 1)
    balance = site(CountUnit.SHEETS, StylesHere(sheets=tuple(sheets.items())))
    values = played(sheets, cast, dict.fromkeys(sheets, 0))
    gone = data.draw(st.sampled_from(sorted(k for e in balance.equations for _, k in e.terms)))
    lines = lines_of(balance, {key: value for key, value in values.items() if key != gone})
    for line, equation in zip(lines, balance.equations, strict=True):
        if gone in [key for _, key in equation.terms]:
            assert (line.state, line.missing, line.difference) == (LineState.NOT_READ, (gone,), None)
        else:
            assert line.state is LineState.ZERO


def test_two_styles_of_one_precinct_exchanged_balance_in_total_and_not_by_style() -> None:
    """Ten ballots of one style were handed out as the other: every total is zero, both styles are not."""
    sheets = {"E01": 1, "E02": 1}
    balance = site(CountUnit.SHEETS, StylesHere(sheets=tuple(sheets.items())))
    values = played(sheets, {"E01": 100, "E02": 50}, {"E01": 0, "E02": 0})
    values["ballots_unused%E01"] += 10
    values["ballots_unused%E02"] -= 10
    told = {(line.equation, line.subject): line.difference for line in lines_of(balance, values)}
    assert told[("I1", "site/S01")] == 0
    assert told[("I1-style", "site/S01/style/E01")] == -10
    assert told[("I1-style", "site/S01/style/E02")] == 10
    assert all(told[key] == 0 for key in told if key[0] != "I1-style")


def test_the_styles_of_a_site_are_those_of_its_precincts_with_their_sheets() -> None:
    """A site without precincts of its own, such as a vote center, has all styles of the county."""
    election = Election(
        county="Larkmoor County",
        name="General",
        election_day=dt.date(2028, 11, 7),
        zone_name="America/New_York",
        precincts=(
            Precinct(id="1", site="S01", styles=("E02", "E01")),
            Precinct(id="2", site="S02", styles=("E03",)),
        ),
        style_sheets=(StyleSheets(style="E02", sheets=2),),
    )
    asked = styles_here(election, "S01", (), asked=True)
    assert asked == StylesHere(sheets=(("E01", 1), ("E02", 2)))
    assert asked.mixed
    assert [s for s, _ in styles_here(election, "S09", (), asked=True).sheets] == ["E01", "E02", "E03"]
    typed = styles_here(election, "S01", ("ballots_unused%E09", "check_ins"), asked=False)
    assert typed == StylesHere(sheets=(("E09", 1),), typed=frozenset({"ballots_unused"}))
    assert styles_here(election, "S01", ("check_ins",), asked=False).sheets == ()


def test_a_report_that_carries_over_is_read_by_style_at_opening_too() -> None:
    """A counter that need not begin at zero has an opening count of each style."""
    here = StylesHere(sheets=(("E01", 1),))
    zero = {line.key for line in site(CountUnit.SHEETS, here).lines}
    carried = {line.key for line in site(CountUnit.SHEETS, here, opening=OpeningValue.CARRIED_OVER).lines}
    assert carried - zero == {key_of("style_count_open", DEVICE, "E01")}


def test_the_lines_to_read_stand_term_by_term_and_within_it_style_by_style() -> None:
    """All styles of one number are counted in one go."""
    here = StylesHere(sheets=(("E01", 1), ("E02", 1)))
    names = [line.name.partition("%")[0] for line in site(CountUnit.SHEETS, here).lines]
    assert [name for name, _ in itertools.groupby(names)] == list(dict.fromkeys(names))
    assert msgspec.json.encode(site(CountUnit.SHEETS, here))  # Plain values, so that a bundle may carry them.
