"""The arithmetic of the figures on cases small enough to count by hand."""

from __future__ import annotations

import math
from collections.abc import Mapping

import pytest
from bench.counts import score
from bench.counts.judge import (
    Told,
    ToldFault,
    ToldGroup,
    Verdict,
    best_chance,
    judge,
    says,
    says_all,
)
from bench.counts.naive import rule_of_nine
from bench.counts.night import Fault, Seeded
from bench.counts.plot import reliability_picture
from bench.counts.site_days import SiteDay, site_days
from bench.counts.slips import HandSlips
from hypothesis import given
from hypothesis import strategies as st


def verdict(rank: int, share: float, *, labels: tuple[str, ...] = ("a",), differs: bool = True) -> Verdict:
    """A night whose first group has this share and is right where `rank` is 1."""
    return Verdict(
        site="S01",
        labels=labels,
        differs=differs,
        told=differs,
        offered=differs,
        rank=rank,
        first_right=rank == 1,
        named=2,
        shares=((share, rank == 1),) if differs else (),
        bound=0.5,
        bound_named=0.75,
        milliseconds=2.0,
    )


def test_recall_counts_only_nights_with_a_difference() -> None:
    """Of four differing nights two have it first, three among three; the fifth has no difference."""
    singles = [
        verdict(1, 0.9),
        verdict(1, 0.8),
        verdict(3, 0.6),
        verdict(0, 0.4),
        verdict(0, 0, differs=False),
    ]
    doubles = [verdict(5, 0.5), verdict(6, 0.5), verdict(0, 0.5), verdict(1, 0.5)]
    found = score.figures(singles, doubles, [verdict(0, 0, differs=False)])
    assert found["single_top1"] == 0.5
    assert found["single_top3"] == 0.75
    assert found["double_top5"] == 0.5
    assert found["single_top1_bound"] == 0.75
    assert found["single_one_answer_bound"] == 0.5
    assert found["singles_without_a_difference"] == 1
    assert found["false_alarms"] == 0
    # The standard error of 0.5 of 4 is sqrt(0.25 / 4).
    assert found["single_top1_standard_error"] == 0.25


def test_a_clean_night_that_is_told_anything_is_a_false_alarm() -> None:
    """Told a difference, or offered an explanation: both count, each night once."""
    clean = [
        verdict(0, 0, differs=False),
        verdict(0, 0.3),
        verdict(0, 0, differs=False)._replace(offered=True),
    ]
    assert score.figures([verdict(1, 1)], [verdict(1, 1)], clean)["false_alarms"] == 2


def test_the_calibration_error_is_the_mean_distance_of_said_and_right() -> None:
    """Two bins by hand: 0.9 said, 1 of 2 right; 0.2 said, 0 of 2 right: (2 x 0.4 + 2 x 0.2) / 4 = 0.3."""
    bins = score.reliability([(0.9, True, 1), (0.9, False, 1), (0.2, False, 1), (0.2, False, 1)])
    assert [(one.low, one.answers, round(one.said, 9), one.right) for one in bins] == [
        (0.2, 2, 0.2, 0),
        (0.9, 2, 0.9, 0.5),
    ]
    assert math.isclose(score.calibration_error(bins), 0.3)


def test_a_share_of_one_falls_into_the_last_bin() -> None:
    """The top bin is closed above."""
    (one,) = score.reliability([(1.0, True, 1)])
    assert (one.low, one.high, one.right) == (0.9, 1.0, 1)


def test_a_sure_answer_that_is_right_has_no_calibration_error() -> None:
    """Said 1 and always right: 0; of nothing it is not a number."""
    assert score.calibration_error(score.reliability([(1.0, True, 3.0)])) == 0
    assert math.isnan(score.calibration_error(()))


def test_two_faults_come_as_often_as_the_binomial_law_says() -> None:
    """The weight of a night with two faults, against the two terms of the law themselves."""
    n, p = score.FIELDS, score.WRONG_PER_NUMBER
    terms = [math.comb(n, k) * p**k * (1 - p) ** (n - k) for k in (1, 2)]
    assert math.isclose(score.DOUBLE_PER_SINGLE, terms[1] / terms[0])


def test_doubles_weigh_as_often_as_they_come_whatever_number_was_drawn() -> None:
    """Four singles and two doubles: the doubles together weigh the ratio times four."""
    answers = score.first_answers([verdict(1, 0.9)] * 4, [verdict(0, 0.5)] * 2)
    assert math.isclose(sum(weight for _, _, weight in answers[4:]), 4 * score.DOUBLE_PER_SINGLE)


def test_the_top_of_the_result_is_the_worse_of_both() -> None:
    """Recall the lower, errors and time the higher; the bound goes with the lower recall."""
    one = dict.fromkeys((*score.HIGHER_IS_BETTER, *score.LOWER_IS_BETTER), 0.5)
    other = one | {"single_top1": 0.4, "single_top1_bound": 0.9, "ms_per_site": 7.0, "double_top5": 0.6}
    worst = score.worse_of((one, other))
    assert worst["single_top1"] == 0.4
    assert worst["single_top1_bound"] == 0.9
    assert worst["ms_per_site"] == 7.0
    assert worst["double_top5"] == 0.5


RIGHT = Fault("digit twice", (("check_ins", 84, 844),))
JAM = Fault(
    "jammed, fed again, counted twice",
    (("public_counter_close@device/x/1", 10, 11), ("report_count_close@device/x/1", 10, 11)),
)


def test_an_explanation_is_right_by_the_numbers_that_ought_to_be_written() -> None:
    """Another kind with the same correction is right; the same kind with another number is not."""
    assert says(ToldFault("digit added", frozenset({("check_ins", 84)})), RIGHT)
    assert not says(ToldFault("digit added", frozenset({("check_ins", 44)})), RIGHT)


def test_the_same_act_at_another_device_is_not_right() -> None:
    """A process fault may be said by its kind, but at its own device."""
    act = "ballot counted twice by a device"
    assert says(ToldFault(act, frozenset({("lifetime_counter_close@device/x/1", 3)})), JAM)
    assert not says(ToldFault(act, frozenset({("lifetime_counter_close@device/x/2", 3)})), JAM)


def test_two_faults_are_right_in_either_order_and_never_by_one() -> None:
    """Both have to be named."""
    told = (ToldFault("", JAM.correction), ToldFault("", RIGHT.correction))
    assert says_all(told, (RIGHT, JAM))
    assert says_all(told, (JAM, RIGHT))
    assert not says_all(told[:1], (JAM, RIGHT))
    assert not says_all((told[0], told[0]), (JAM, RIGHT))


class Stub:
    """A generator that knows three explanations of its one night, by odds 6, 3 and 1."""

    name = "stub"

    def draw(self, seed: int, index: int, faults: int) -> Seeded:
        """A first-day night whose check-ins were 84 and read as 844."""
        day = site_days(1)[0]
        numbers: Mapping[str, int] = HandSlips((day,)).draw(1, 0, 0).read
        fault = Fault("digit twice", (("check_ins", numbers["check_ins"], numbers["check_ins"] + 7),))
        return Seeded(day, numbers, {**numbers, "check_ins": numbers["check_ins"] + 7}, (fault,))

    def explanations(self, night: Seeded) -> tuple[tuple[Fault, float], ...]:
        """The seeded one twice, by two labels that say the same, and one other."""
        (fault,) = self.draw(1, 0, 1).faults
        other = Fault("other", (("ballots_reissued", 1, 2),))
        return (fault, 3.0), (fault._replace(label="same numbers"), 3.0), (other, 4.0)


def test_explanations_that_say_the_same_numbers_count_as_one_answer() -> None:
    """3 + 3 of 10 for one answer; all of it for two."""
    made = Stub()
    assert best_chance(made.draw(1, 0, 1), made, 1) == (0.6, 0.6)
    assert best_chance(made.draw(1, 0, 1), made, 2) == (0.6, 1.0)


def test_a_generator_that_does_not_know_its_own_fault_is_told_so() -> None:
    """A bound from odds that leave the truth out would be no bound."""
    made = Stub()
    night = made.draw(1, 0, 1)
    strange = night._replace(faults=(RIGHT,))
    with pytest.raises(ValueError, match="not among its own explanations"):
        best_chance(strange, made, 1)


def test_a_night_is_judged_by_the_first_group_that_holds_what_was_seeded() -> None:
    """Second group right: rank 2; the first names two corrections, so the bound is that of two answers."""
    made = Stub()
    night = made.draw(1, 0, 1)
    wrong = tuple((ToldFault("x", frozenset({("ballots_unused", n)})),) for n in (1, 2))
    right = ((ToldFault("y", night.faults[0].correction),),)

    def explainer(_: Seeded) -> Told:
        return Told((ToldGroup(wrong, 0.7), ToldGroup(right, 0.2)), differs=True)

    found = judge(night, made, explainer)
    assert (found.rank, found.first_right, found.named) == (2, False, 2)
    assert found.shares == ((0.7, False), (0.2, True))
    assert (found.bound, found.bound_named) == (0.6, 1.0)


def _night(key: str, was: int, read: int) -> Seeded:
    day: SiteDay = next(one for one in site_days(1) if one.kind == "hand-marked")
    numbers = dict(HandSlips((day,)).draw(1, 0, 0).read)
    # Whatever the drawn number is, both sides move alike: only the difference and the digits matter.
    other = {"check_ins": "ballots_issued"}[key]
    move = was - numbers[key]
    numbers[key] += move
    numbers[other] += move
    numbers["public_counter_close@" + day.devices[0]] += move
    for term in ("report_count_close@", "memory_count_close@", "lifetime_counter_close@"):
        numbers[term + day.devices[0]] += move
    numbers["ballots_unused"] -= move
    return Seeded(day, numbers, {**numbers, key: read}, (Fault("exchanged digits", ((key, was, read),)),))


def test_the_rule_of_nine_finds_a_swap_and_nothing_else() -> None:
    """1,243 read as 1,423 differs by 180 = 20 x 9; 1,243 read as 1,253 differs by 10 and is left alone."""
    found = rule_of_nine(_night("check_ins", 1243, 1423))
    assert found.groups[0].explanations[0][0].correction == frozenset({("check_ins", 1243)})
    nothing = rule_of_nine(_night("check_ins", 1243, 1253))
    assert nothing.differs and not nothing.groups
    assert not rule_of_nine(_night("check_ins", 1243, 1243)).differs


@given(st.integers(min_value=10, max_value=10**8), st.data())
def test_two_neighbors_exchanged_change_a_number_by_a_multiple_of_nine(
    number: int, data: st.DataObject
) -> None:
    """10a + b and 10b + a differ by 9(a - b): the arithmetic behind the bookkeepers' rule."""
    digits = str(number)
    place = data.draw(st.integers(min_value=0, max_value=len(digits) - 2))
    other = digits[:place] + digits[place + 1] + digits[place] + digits[place + 2 :]
    assert (number - int(other)) % 9 == 0


def test_the_picture_has_a_mark_for_each_bin_and_says_what_it_is_not() -> None:
    """One circle for each bin and one in the legend; the caution stands in the picture itself."""
    bins = [{"said": 0.1, "right": 0.2, "answers": 5}, {"said": 0.9, "right": 0.8, "answers": 50}]
    picture = reliability_picture({"hand slips": bins})
    assert picture.count("<circle") == 3
    assert "not field accuracy" in picture
