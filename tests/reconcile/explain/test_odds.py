"""The odds in use: what ships, what a county puts in its place, and what it may not put there."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from pollstead.election.fault_odds import USUAL_ODDS, FaultKind, FaultOdds
from pollstead.election.next_acts import USUAL_ACTS, ActCost, LookAgain, act_costs
from pollstead.intake.folder import read_folder
from pollstead.reconcile.explain.odds import NEVER, USUAL, odds_of

SMALL = Path(__file__).parents[3] / "small"
PRICED_BY_DIGITS = frozenset(
    (
        FaultKind.DIGITS_SWAPPED,
        FaultKind.DIGIT_MISREAD,
        FaultKind.DIGIT_DROPPED,
        FaultKind.DIGIT_ADDED,
        FaultKind.PAIR_MISREAD,
    )
)


def test_every_kind_has_odds_and_says_where_they_come_from() -> None:
    """One line for each kind that no reading error prices, each with a source or our own guess."""
    assert {line.kind for line in USUAL_ODDS} == {k.value for k in FaultKind if k not in PRICED_BY_DIGITS}
    assert all(line.source for line in USUAL_ODDS)


def test_a_cost_is_the_logarithm_of_the_odds() -> None:
    """2 % is -ln 0.02 = 3.912 nats; one of a size, 65 %, is 0.431; each further one, 35 %, 1.050."""
    assert USUAL.of(FaultKind.MISCOUNTED) == round(-1000 * math.log(0.02))
    assert USUAL.size(FaultKind.MISCOUNTED, 1) == round(-1000 * math.log(0.65))
    assert USUAL.size(FaultKind.MISCOUNTED, 3) == round(-1000 * math.log(0.65)) + 2 * 1050


def test_a_countys_line_takes_the_place_of_ours() -> None:
    """What a county says never happens costs too much to be told; the others stay."""
    own = odds_of((FaultOdds(kind="miscounted by hand", per_million=0),))
    assert own.of(FaultKind.MISCOUNTED) == NEVER
    assert own.of(FaultKind.OTHER_SITE) == USUAL.of(FaultKind.OTHER_SITE)


def test_acts_of_looking_again_are_ordered_as_the_trade_would() -> None:
    """A report is read again before a screen is looked at, envelopes before spoiled before unused ballots."""
    costs = [line.intrusiveness for line in USUAL_ACTS]
    assert costs == sorted(costs) and len({line.act for line in USUAL_ACTS}) == len(LookAgain)
    assert act_costs((ActCost(act="look at the screen again", intrusiveness=7),))[LookAgain.SECOND_LOOK] == 7


def test_both_tables_are_read_and_what_is_wrong_in_them_is_named(tmp_path: Path) -> None:
    """A right line counts; each fault is told with its row and what is expected."""
    for file in SMALL.glob("*.[ct]*"):
        (tmp_path / file.name).write_bytes(file.read_bytes())
    odds, acts = tmp_path / "fault_odds.csv", tmp_path / "next_acts.csv"
    odds.write_text("kind,per_million,more_per_thousand,source\nmiscounted by hand,9000,200,our log\n")
    acts.write_text("act,intrusiveness\nlook at the screen again,3\n")
    read = read_folder(tmp_path)
    assert read.election is not None and not read.faults
    assert read.election.fault_odds == (
        FaultOdds(kind="miscounted by hand", per_million=9000, more_per_thousand=200, source="our log"),
    )
    assert read.election.next_acts == (ActCost(act="look at the screen again", intrusiveness=3),)
    odds.write_text("kind,per_million\nmischief,5\nanother site,2000000\n")
    acts.write_text("act,intrusiveness\nopen the box,3\n")
    told = [f.text.english() for f in read_folder(tmp_path).faults if f.place]
    assert any("kind must be one of" in text for text in told)
    assert any("per_million must be 0 to 999,999" in text for text in told)
    assert any("act must be one of" in text for text in told)


@pytest.mark.parametrize("value", [0, 10_001])
def test_an_act_costs_something(value: int) -> None:
    """An intrusiveness of nothing would put an act before every other."""
    with pytest.raises(ValueError, match="intrusiveness"):
        ActCost(act="look at the screen again", intrusiveness=value)
