"""The two generators of faults: clean nights balance, labels are right, odds are the generator's own."""

from __future__ import annotations

import ast
import math
from functools import cache
from pathlib import Path

import pytest
from bench.counts import by_ear, clean, day_run, labels, omissions, slips
from bench.counts.night import Generator, Seeded, change_of, residuals
from bench.counts.process import Process
from bench.counts.site_days import SiteDay, site_days, swapped
from bench.counts.slips import HandSlips
from hypothesis import given, settings
from hypothesis import strategies as st

NAMES = (HandSlips.name, Process.name)
BENCH = Path(slips.__file__).parent


@cache
def generator(name: str) -> Generator:
    """A generator over Larkmoor's site-days, those with two sheets per ballot after the others."""
    days = site_days(1) + site_days(2)
    return HandSlips(days) if name == HandSlips.name else Process(days)


nights = st.integers(min_value=0, max_value=2 * 84 - 1)
seeds = st.integers(min_value=0, max_value=10**9)


@given(seed=seeds, index=nights, name=st.sampled_from(NAMES))
@settings(max_examples=40, deadline=None)
def test_a_clean_night_meets_every_row_of_the_real_balance(seed: int, index: int, name: str) -> None:
    """No difference anywhere, no number below zero, and every number that the rows ask for is there."""
    night = generator(name).draw(seed, index, 0)
    assert set(residuals(night.day, night.read)) == {0}
    assert night.truth == night.read and not night.faults
    assert min(night.read.values()) >= 0
    assert set(night.read) == set(night.day.keys)


@given(seed=seeds, index=nights, name=st.sampled_from(NAMES), faults=st.sampled_from((1, 2)))
@settings(max_examples=50, deadline=None)
def test_the_labels_say_exactly_what_was_changed(seed: int, index: int, name: str, faults: int) -> None:
    """The faults' changes are all that differs, and what ought to be written closes every row."""
    night = generator(name).draw(seed, index, faults)
    changes = sorted(change for fault in night.faults for change in fault.changes)
    assert changes == list(change_of(night.truth, night.read))
    assert len(night.faults) == faults
    mended = dict(night.read)
    for fault in night.faults:
        assert fault.changes
        mended |= dict(fault.correction)
    assert set(residuals(night.day, mended)) == {0}


@given(seed=seeds, index=nights, name=st.sampled_from(NAMES))
@settings(max_examples=40, deadline=None)
def test_a_seeded_fault_is_among_the_explanations_that_its_generator_knows(
    seed: int, index: int, name: str
) -> None:
    """Each explanation leaves the night as it was read; the seeded one is there with odds above zero."""
    made = generator(name)
    night = made.draw(seed, index, 1)
    if not night.differs:
        return
    known = made.explanations(night)
    assert dict(known)[night.faults[0]] > 0
    for fault, odds in known:
        assert odds >= 0
        assert all(night.read[key] == written for key, _, written in fault.changes)
        assert set(residuals(night.day, {**night.read, **dict(fault.correction)})) == {0}


@pytest.mark.parametrize("name", NAMES)
def test_a_seed_gives_the_same_night_again_and_another_seed_another(name: str) -> None:
    """Nights follow from seed, number and count of faults alone, not from what was drawn before."""
    made = generator(name)
    night = made.draw(3, 17, 2)
    made.draw(4, 5, 1)
    assert made.draw(3, 17, 2) == night
    assert made.draw(4, 17, 2).read != night.read


@pytest.mark.parametrize("name", NAMES)
def test_the_bound_is_what_the_likeliest_explanation_really_reaches(name: str) -> None:
    """If the odds are the generator's own, the mean chance of the likeliest is how often it is right.

    The tolerance is four standard errors of the difference, from the chances themselves.
    """
    chances, hits = [], 0
    made = generator(name)
    for index in range(150):
        night = made.draw(11, index, 1)
        if not night.differs:
            continue
        odds: dict[frozenset[tuple[str, int]], float] = {}
        for fault, weight in made.explanations(night):
            odds[fault.correction] = odds.get(fault.correction, 0.0) + weight
        likeliest = max(odds, key=lambda one: odds[one])
        chances.append(odds[likeliest] / sum(odds.values()))
        hits += likeliest == night.faults[0].correction
    error = math.sqrt(sum(chance * (1 - chance) for chance in chances))
    assert abs(hits - sum(chances)) <= 4 * error
    assert error > 0


def _odds_over(key_moves: dict[str, int], night: Seeded, log_odds: object, most: int) -> list[float]:
    """exp(log odds) of the night with each multiple of a move that keeps the rows."""
    assert callable(log_odds)
    base = log_odds(night.day, night.read)
    found = []
    for times in range(-most, most + 1):
        moved = {key: value + times * key_moves.get(key, 0) for key, value in night.read.items()}
        found.append(math.exp(log_odds(night.day, moved) - base))
    return found


def test_the_odds_of_curbside_ballots_are_the_binomial_law() -> None:
    """Over all numbers of curbside voters the odds add up as that law says, by exact binomial numbers."""
    night = generator(HandSlips.name).draw(1, 20, 0)
    voters = night.read["ballots_issued"] - night.read["ballots_spoiled"]
    curbside = night.read["check_ins_added"]
    odds = _odds_over({"check_ins_added": 1, "check_ins": -1}, night, clean.log_odds, voters)
    exact = (
        math.comb(voters, curbside) * clean.CURBSIDE**curbside * (1 - clean.CURBSIDE) ** (voters - curbside)
    )
    assert math.isclose(sum(odds), 1 / exact, rel_tol=1e-9)


def test_the_odds_of_spoiled_ballots_are_those_of_failures_before_success() -> None:
    """Each voter may spoil again and again: a negative binomial law, by exact binomial numbers."""
    index = next(place for place, day in enumerate(site_days(1)) if not day.on_demand)
    night = generator(Process.name).draw(1, index, 0)
    spoiled = night.read["ballots_spoiled"]
    voters = night.read["ballots_issued"] - spoiled
    move = {"ballots_spoiled": 1, "ballots_issued": 1, "ballots_reissued": 1, "ballots_unused": -1}
    odds = _odds_over(move, night, day_run.log_odds, min(300, night.read["ballots_unused"]))
    share = day_run.SPOILS
    exact = math.comb(voters + spoiled - 1, spoiled) * share**spoiled * (1 - share) ** voters
    assert math.isclose(sum(odds), 1 / exact, rel_tol=1e-9)


def test_every_omission_happens_on_some_night() -> None:
    """No label is dead: each can happen on a day of one of the site kinds."""
    days: list[SiteDay] = [*site_days(1), *site_days(2)]
    days += [swapped(day) for day in site_days(1)[:3]]
    possible: set[str] = set()
    for place, day in enumerate(days):
        form = dict.fromkeys(day.keys, 40)
        form |= {key: 0 for key in day.keys if place % 2 and key.startswith("public_counter_open")}
        possible |= {label for label in omissions.WEIGHTS if any(omissions.ways(label, day, form))}
    assert possible == set(omissions.WEIGHTS)


def test_an_exchanged_device_and_its_spare_both_count() -> None:
    """The site-day after an exchange has one device more, and its clean nights balance."""
    day = next(one for one in site_days(1) if one.kind == "hand-marked")
    more = swapped(day)
    assert len(more.devices) == len(day.devices) + 1
    assert math.isclose(sum(day_run.device_shares(more)), 1)
    form = day_run.form_of(day_run.run_day(more, __import__("random").Random(1)))
    assert set(residuals(more, form)) == {0}


@pytest.mark.parametrize(
    ("way", "was", "written"),
    [
        ("heard as another", 15, 50),
        ("heard as another", 340, 314),
        ("carried wrong", 199, 299),
        ("digits in another order", 1234, 4231),
        ("cut off", 804, 80),
        ("run on", 7, 70),
    ],
)
def test_a_number_heard_wrong_is_among_the_ways(way: str, was: int, written: int) -> None:
    """Examples by hand of what each way of copying by ear makes of a number."""
    day = site_days(1)[0]
    form = dict.fromkeys(day.keys, was)
    assert written in [number for number, _ in by_ear.heard(way, day, form, "check_ins", {})]


def test_a_line_of_another_site_is_one_of_its_numbers_and_no_device_has_one() -> None:
    """The other sites' numbers of that line, each once; a device's line has no twin at another site."""
    day = site_days(1)[0]
    form = dict.fromkeys(day.keys, 5)
    others = {"S08": {"check_ins": 811}, "S09": {"check_ins": 902, day.keys[-1]: 7}}
    found = [n for n, _ in by_ear.heard(by_ear.ANOTHER_SITE, day, form, "check_ins", others)]
    assert found == [811, 902]
    device_line = next(key for key in day.keys if "@" in key)
    assert not list(by_ear.heard(by_ear.ANOTHER_SITE, day, form, device_line, others))


def test_a_night_knows_the_numbers_of_the_other_sites_of_its_day() -> None:
    """Not its own; the other 39 sites on election day, and each of those forms balances."""
    index = next(place for place, day in enumerate(site_days(1)) if day.kind == "hand-marked")
    night = generator(Process.name).draw(1, index, 0)
    assert night.day.site not in night.elsewhere
    assert len(night.elsewhere) == 39
    by_site = {day.site: day for day in site_days(1) if day.date == night.day.date}
    for site, numbers in night.elsewhere.items():
        assert set(residuals(by_site[site], numbers)) == {0}


@pytest.mark.parametrize(
    ("label", "was", "written"),
    [
        ("handwriting", 17, 77),
        ("display", 8, 9),
        ("keypad", 5, 2),
        ("exchanged digits", 2730, 2370),
        ("digit left out", 848, 84),
        ("digit twice", 84, 844),
        ("counted off by a few", 9, 8),
        ("nothing written, zero", 12, 0),
    ],
)
def test_a_slip_of_the_hand_is_among_the_results(label: str, was: int, written: int) -> None:
    """Examples by hand of what each mechanism makes of a number."""
    day = site_days(1)[0]
    key = "check_ins" if label == "display" else "ballots_unused"
    numbers = dict.fromkeys(day.keys, was)
    assert written in [number for number, _ in slips._results(label, day, numbers, key)]


def _imports(module: str) -> set[str]:
    tree = ast.parse((BENCH / f"{module}.py").read_text(encoding="utf-8"))
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
            found |= {f"{node.module}.{name.name}" for name in node.names} | {str(node.module)}
        elif isinstance(node, ast.Import):
            found |= {name.name for name in node.names}
    return found


def test_the_generators_share_no_code_with_one_another_or_with_the_explainer() -> None:
    """Only the site-days and the values of a night are common; nothing of the explainer is known to them."""
    first, second = ("slips", "clean"), ("process", "day_run", "omissions", "by_ear")
    for mine, theirs in ((first, second), (second, first)):
        for module in mine:
            imported = _imports(module)
            assert not imported & {f"bench.counts.{other}" for other in theirs}
            assert not any(
                "explain" in name or "fault_odds" in name or "reading_errors" in name for name in imported
            )
    for module in ("site_days", "night"):
        assert not any("explain" in name or "fault_odds" in name for name in _imports(module))


def test_the_table_of_labels_names_kinds_that_the_explainer_has() -> None:
    """Each label of the table is an omission, each kind one of the explainer's."""
    from pollstead.election.fault_odds import FaultKind

    assert set(labels.KINDS_OF) <= set(omissions.WEIGHTS)
    kinds = {kind.value for kind in FaultKind}
    assert {kind for found in labels.KINDS_OF.values() for kind in found} <= kinds
