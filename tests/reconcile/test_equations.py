"""The balance of the five kinds of site: what stands in each equation, and what a changed number does."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pollstead.election.rules import CountyRules
from pollstead.election.station_type import CountUnit, SiteKind, StationType, VoterStep
from pollstead.reconcile.counts.balance import LineState, Reading, evaluate, evaluate_rows, table_of
from pollstead.reconcile.counts.equations import Balance, CountingDevice, build_balance
from pollstead.reconcile.counts.rows import Step
from pollstead.reconcile.counts.terms import BY_ID, split_key

Shipped = Callable[[str], tuple[tuple[StationType, ...], SiteKind]]

KINDS = "abcde"


def balance_of(
    types: tuple[StationType, ...],
    kind: SiteKind,
    rules: CountyRules,
    per_type: int = 2,
    more: frozenset[Step] = frozenset(),
) -> Balance:
    """The balance of a site of this kind with so many counting devices of each type."""
    devices = tuple(
        CountingDevice(id=f"device/{t.id}/{n}", station=f"station/S01/{t.id}/{n}", station_type=t.id)
        for t in types
        if t.step in (VoterStep.CAST, VoterStep.MARK_AND_CAST) and t.counter("public")
        for n in range(1, per_type + 1)
    )
    return build_balance("S01", kind, types, devices, rules, more)


def balanced(balance: Balance, free: Callable[[str], int]) -> dict[str, int]:
    """A day that balances, made by playing it: free choices for what happened, the rest counted from them.

    This walks the day from the voters' side and never looks at the rows.
    """
    steps = {s.value for s in balance.steps}
    sheets = balance.sheets_per_ballot
    has = {line.key for line in balance.lines}
    devices = [line.device for line in balance.lines if line.term.id == "public_counter_open"]
    values: dict[str, int] = {}
    cast_ballots = 0
    for device in devices:
        ballots = free(f"cast {device}")
        line = next(x for x in balance.lines if x.key == f"public_counter_close@{device}")
        moved = ballots * (sheets if line.unit == "sheets" else 1)
        values[f"public_counter_open@{device}"] = free(f"open {device}")
        values[f"public_counter_close@{device}"] = values[f"public_counter_open@{device}"] + moved
        values[f"lifetime_counter_open@{device}"] = 5000 + free(f"life {device}")
        values[f"lifetime_counter_close@{device}"] = values[f"lifetime_counter_open@{device}"] + moved
        for twin in ("report_count_close", "memory_count_close"):
            values[f"{twin}@{device}"] = values[f"public_counter_close@{device}"]
        cast_ballots += ballots
    if "ballots_in_box" in has:
        values["ballots_in_box"] = free("box")
        cast_ballots += values["ballots_in_box"]
    aux = free("aux") if "auxiliary bin" in steps else 0
    apart = free("apart") if "held apart" in steps else 0
    spoiled = free("spoiled") if "spoiled" in steps else 0
    fled = free("fled") if "fled ballots held" in steps else 0
    left = free("left") if "voters who left" in steps else 0
    added = free("added") if "curbside" in steps else 0
    provisional = free("provisional") if "provisional" in steps else 0
    cancelled = free("cancelled")
    voters = cast_ballots + aux + apart + fled + left
    values |= {
        "ballots_auxiliary": aux,
        "ballots_held_apart": apart,
        "ballots_spoiled": spoiled,
        "ballots_reissued": spoiled,
        "ballots_fled": fled,
        "voters_left": left,
        "check_ins_added": added,
        "check_ins_cancelled": cancelled,
        "check_ins": voters + cancelled - added,
        "ballots_issued": voters + spoiled,
        "provisional_issued": provisional,
        "provisional_envelopes": provisional,
        "provisional_entries": provisional,
        "ballots_resupplied": free("resupplied"),
        "ballots_printed": free("printed"),
        "ballots_unused": free("unused"),
    }
    used = voters + spoiled + provisional + values["ballots_unused"]
    values["ballots_received"] = used - sum(
        values[name] for name in ("ballots_resupplied", "ballots_printed") if name in has
    )
    return {key: value for key, value in values.items() if key in has}


def from_seed(seed: int) -> Callable[[str], int]:
    """Small numbers that depend on the seed and the name alone."""
    import random

    return lambda name: random.Random(f"{seed} {name}").randint(0, 60)


@pytest.mark.parametrize("letter", KINDS)
def test_a_day_played_from_the_voters_side_balances(
    letter: str, shipped_kind: Shipped, rules_of: Callable[..., CountyRules]
) -> None:
    """Every equation of each kind of site is zero on a day whose numbers were made without the equations."""
    types, kind = shipped_kind(letter)
    balance = balance_of(types, kind, rules_of())
    values = balanced(balance, from_seed(7))
    lines = evaluate(balance.equations, [Reading(key=k, value=v) for k, v in values.items()])
    assert lines
    assert {line.state for line in lines} == {LineState.ZERO}


@pytest.mark.parametrize("letter", KINDS)
def test_ballots_held_apart_and_in_the_bin_enter_a_day_that_still_balances(
    letter: str, shipped_kind: Shipped, rules_of: Callable[..., CountyRules]
) -> None:
    """What the day brings is a whole-number term like any other; a site without paper has none of it."""
    types, kind = shipped_kind(letter)
    more = frozenset({Step.HELD_APART, Step.AUXILIARY, Step.RESUPPLY})
    balance = balance_of(types, kind, rules_of(), more=more)
    values = balanced(balance, from_seed(5))
    lines = evaluate(balance.equations, [Reading(key=k, value=v) for k, v in values.items()])
    assert {line.state for line in lines} == {LineState.ZERO}
    keys = {line.key for line in balance.lines}
    assert ({"ballots_held_apart", "ballots_auxiliary"} <= keys) == (letter != "e")


@pytest.mark.parametrize(
    ("letter", "there", "absent"),
    [
        ("a", {"I1", "I2", "I3", "I4-report", "I4-memory", "I5", "I6-envelopes"}, {"ballots_printed"}),
        ("b", {"I1", "I2", "I3", "I5", "I6-entries"}, {"ballots_printed", "ballots_in_box", "voters_left"}),
        ("c", {"I1", "I2", "I3", "I5"}, {"ballots_in_box", "voters_left", "ballots_transferred_out"}),
        ("d", {"I1", "I2", "I3", "I6-entries"}, {"ballots_auxiliary", "public_counter_close"}),
        ("e", {"I2", "I5", "I6-envelopes"}, {"ballots_received", "ballots_issued", "ballots_spoiled"}),
    ],
)
def test_each_kind_of_site_has_its_equations_and_no_empty_term(
    letter: str,
    there: set[str],
    absent: set[str],
    shipped_kind: Shipped,
    rules_of: Callable[..., CountyRules],
) -> None:
    """An absent step leaves no term: no paper terms where there is no paper, no counter where none is."""
    types, kind = shipped_kind(letter)
    balance = balance_of(types, kind, rules_of())
    assert there <= {equation.id for equation in balance.equations}
    terms = {split_key(line.key)[0] for line in balance.lines}
    assert not terms & absent
    assert ("ballots_printed" in terms) == (letter == "c")
    assert ("ballots_in_box" in terms) == (letter == "d")
    assert ("I1" in {e.id for e in balance.equations}) == (letter != "e")
    assert not balance.unknown_steps


@pytest.mark.full
@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_one_number_off_by_one_shows_in_exactly_the_equations_that_hold_it(
    data: st.DataObject, shipped_kind: Shipped, rules_of: Callable[..., CountyRules]
) -> None:
    """Any single +1 or -1 gives a difference of that times the coefficient, and no other difference."""
    letter = data.draw(st.sampled_from(KINDS))
    sheets = data.draw(st.integers(1, 3))
    types, kind = shipped_kind(letter)
    balance = balance_of(types, kind, rules_of(sheets_per_ballot=sheets), data.draw(st.integers(1, 3)))
    values = balanced(balance, from_seed(data.draw(st.integers(0, 10_000))))
    key = data.draw(st.sampled_from(sorted(values)))
    step = data.draw(st.sampled_from((-1, 1)))
    changed = {**values, key: values[key] + step}
    lines = evaluate(balance.equations, [Reading(key=k, value=v) for k, v in changed.items()])
    for equation, line in zip(balance.equations, lines, strict=True):
        coefficient = sum(c for c, k in equation.terms if k == key)
        assert line.difference == coefficient * step
        assert line.state is (LineState.DIFFERENCE if coefficient else LineState.ZERO)
    assert any(k == key for e in balance.equations for _, k in e.terms)


@pytest.mark.parametrize("letter", KINDS)
def test_a_number_not_read_is_missing_and_never_zero(
    letter: str, shipped_kind: Shipped, rules_of: Callable[..., CountyRules]
) -> None:
    """Leave out each number in turn: its equations are not evaluated and name it."""
    types, kind = shipped_kind(letter)
    balance = balance_of(types, kind, rules_of())
    values = balanced(balance, from_seed(3))
    for key in values:
        rest = [Reading(key=k, value=v) for k, v in values.items() if k != key]
        for equation, line in zip(balance.equations, evaluate(balance.equations, rest), strict=True):
            holds = any(k == key for _, k in equation.terms)
            assert (line.missing == (key,)) == holds
            assert (line.difference is None) == holds


def test_two_readings_of_one_number_give_every_possible_difference(
    shipped_kind: Shipped, rules_of: Callable[..., CountyRules]
) -> None:
    """Both values are kept; the line has no single difference and says which ones are possible."""
    types, kind = shipped_kind("a")
    balance = balance_of(types, kind, rules_of(), 1)
    values = balanced(balance, from_seed(1))
    readings = [Reading(key=k, value=v) for k, v in values.items()]
    readings.append(Reading(key="ballots_spoiled", value=values["ballots_spoiled"] + 9))
    line = next(x for x in evaluate(balance.equations, readings) if x.equation == "I1")
    assert line.state is LineState.TWO_VALUES
    assert line.difference is None
    assert line.possible == (-9, 0)
    assert evaluate(balance.equations, reversed(readings)) == evaluate(balance.equations, readings)


def test_two_sheets_per_ballot_enter_as_a_factor(
    shipped_kind: Shipped, rules_of: Callable[..., CountyRules]
) -> None:
    """With two sheets per ballot and counters in sheets, ballots weigh two and the unit is sheets."""
    types, kind = shipped_kind("a")
    balance = balance_of(types, kind, rules_of(sheets_per_ballot=2), 1)
    row = next(e for e in balance.equations if e.id == "I1")
    assert row.unit is CountUnit.SHEETS
    assert {k: c for c, k in row.terms}["ballots_received"] == 2
    assert {k: c for c, k in row.terms}["public_counter_close@device/ballot-scanner/1"] == -1


def test_the_fled_rule_decides_whether_fled_ballots_are_a_term(
    shipped_kind: Shipped, rules_of: Callable[..., CountyRules]
) -> None:
    """Held ballots are a term of I1 and I3; ballots that workers cast are in the counter already."""
    types, kind = shipped_kind("a")
    held = balance_of(types, kind, rules_of(fled_ballots="held, not cast"))
    cast = balance_of(types, kind, rules_of(fled_ballots="cast by workers"))
    assert "ballots_fled" in {line.key for line in held.lines}
    assert "ballots_fled" not in {line.key for line in cast.lines}


@pytest.mark.parametrize("letter", KINDS)
def test_the_table_for_the_small_interpreter_gives_the_same_differences(
    letter: str, shipped_kind: Shipped, rules_of: Callable[..., CountyRules]
) -> None:
    """The serialised rows, walked with indices alone, agree with `evaluate` on every line."""
    import json

    types, kind = shipped_kind(letter)
    balance = balance_of(types, kind, rules_of(sheets_per_ballot=2))
    values = balanced(balance, from_seed(11))
    values[sorted(values)[0]] += 3
    table = json.loads(json.dumps(table_of(balance)))
    walked = [sum(c * values[table["keys"][i]] for c, i in row["terms"]) for row in table["rows"]]
    lines = evaluate(balance.equations, [Reading(key=k, value=v) for k, v in values.items()])
    assert walked == [line.difference for line in lines]
    assert walked == list(evaluate_rows((e.terms for e in balance.equations), values))
    assert any(walked)


def test_every_term_of_the_registry_can_enter_some_equation() -> None:
    """A term that no equation uses would be a box that nobody can check."""
    from pollstead.reconcile.counts.rows import CAST_ELECTRONIC, CAST_ON_PAPER, ROWS
    from pollstead.reconcile.counts.terms import STYLE_COUNTS

    used = {part.term for row in ROWS for part in row.parts} - {CAST_ELECTRONIC, CAST_ON_PAPER}
    assert used | {"ballots_in_box", *(term.id for term in STYLE_COUNTS)} == set(BY_ID)


def test_a_step_that_no_balance_knows_is_named(
    shipped_kind: Shipped, rules_of: Callable[..., CountyRules]
) -> None:
    """A misspelled step is handed back, so that a person can correct the table."""
    import msgspec

    types, kind = shipped_kind("a")
    odd = msgspec.structs.replace(kind, balance=(*kind.balance, "spoilt"))
    assert balance_of(types, odd, rules_of()).unknown_steps == ("spoilt",)


@pytest.mark.parametrize(
    ("word", "equation", "out", "back"),
    [
        ("keys", "I11-keys", "keys_out", "keys_in"),
        ("credentials", "I11-credentials", "credentials_out", "credentials_in"),
        ("phones", "I11-phones", "phones_out", "phones_in"),
        ("tablets", "I11-tablets", "tablets_out", "tablets_in"),
        ("memory devices counted", "I9-counted", "memory_devices_out", "memory_devices_in"),
        ("curbside tally", "I2-curbside", "curbside_voters", "curbside_ballots"),
        ("provisional tally", "I2-provisional", "provisional_voters", "provisional_issued"),
    ],
)
def test_what_a_county_counts_apart_has_a_row_of_its_own_once_its_kind_of_site_names_it(
    word: str, equation: str, out: str, back: str, shipped_kind: Shipped, rules_of: Callable[..., CountyRules]
) -> None:
    """Twelve out and eleven back: a difference of 1; where nobody names the step nothing is asked."""
    import msgspec

    types, kind = shipped_kind("a")
    assert equation not in {e.id for e in balance_of(types, kind, rules_of()).equations}
    named = msgspec.structs.replace(kind, balance=(*kind.balance, word))
    balance = balance_of(types, named, rules_of())
    assert balance.unknown_steps == ()
    rows = [e for e in balance.equations if e.id == equation]
    (line,) = evaluate(rows, [Reading(key=out, value=12), Reading(key=back, value=11)])
    assert line.difference == 1
    (half,) = evaluate(rows, [Reading(key=out, value=12)])
    assert half.missing == (back,)
    assert half.waits_for_receiving is (equation.startswith(("I9", "I11")))
