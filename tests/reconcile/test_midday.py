"""Check-ins against counters while voters are there: who is inside is none, and the hour is named."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pollstead.election.county import Hours
from pollstead.election.rules import CountyRules, RuleSetting
from pollstead.election.station_type import Counter, CountUnit, SiteKind, StationType, StationUse, VoterStep
from pollstead.reconcile.counts.balance import Reading
from pollstead.reconcile.counts.equations import Balance, CountingDevice, build_balance
from pollstead.reconcile.counts.midday import CheckState, CrossChecks, cross_checks, hours_of
from pollstead.reconcile.heard.steps import count_hours
from pollstead.reconcile.observed import Observation, What

DAY = dt.date(2028, 11, 7)
SCANNER, SITE = "device/scanner/1", "site/S01"
OPEN = (Reading(key=f"public_counter_open@{SCANNER}", value=0),)


def balance(sheets: int = 1) -> Balance:
    """One scanner that counts sheets."""
    scanner = StationType(
        id="scanner",
        name="Scanner",
        step=VoterStep.CAST,
        counters=(Counter(id="public", name="public counter", unit=CountUnit.SHEETS),),
    )
    kind = SiteKind(id="k", name="k", uses=(StationUse(station_type="scanner"),), balance=("spoiled",))
    devices = (CountingDevice(id=SCANNER, station="station/S01/scanner/1", station_type="scanner"),)
    return build_balance("S01", kind, (scanner,), devices, rules(sheets=sheets))


def rules(at: str = "none", sheets: int = 1, play: int = 3, inside: int = 40) -> CountyRules:
    """The county's rules of the comparison."""
    values: dict[str, int | str] = {
        "cross-check-at": at,
        "cross-check-play": play,
        "cross-check-inside": inside,
        "sheets-per-ballot": sheets,
    }
    return CountyRules(settings=tuple(RuleSetting(rule=rule, value=value) for rule, value in values.items()))


def seen(term: str, value: int, subject: str = SITE) -> Observation:
    """A number of an hour as entered."""
    return Observation(
        event=f"{term}{subject}{value}",
        kind="count.read",
        what=What.COUNT,
        subject=subject,
        site="S01",
        day=DAY.isoformat(),
        detail=term,
        number=value,
        source="screen",
    )


def noted(
    hour: int, check_ins: int, counter: int, inside: int | None = None, **more: int
) -> list[Observation]:
    """What a site writes down at the full hour."""
    found = [
        seen(f"check_ins_at_{hour:02d}00", check_ins),
        seen(f"public_counter_at_{hour:02d}00", counter, SCANNER),
        *(seen(f"{term}_at_{hour:02d}00", value) for term, value in more.items()),
    ]
    return found if inside is None else [*found, seen(f"voters_inside_at_{hour:02d}00", inside)]


def checked(
    notes: list[Observation], of: CountyRules | None = None, sheets: int = 1, **more: Any
) -> CrossChecks:
    """The comparisons of the notes."""
    return cross_checks(balance(sheets), OPEN, notes, of or rules(sheets=sheets), opened_min=420, **more)


def test_voters_who_were_counted_inside_are_no_difference() -> None:
    """312 checked in, 298 counted, 14 inside: nothing is left open."""
    (check,) = checked(noted(11, 312, 298, inside=14)).checks
    assert (check.state, check.line.difference, check.low, check.high) == (CheckState.FITS, 14, -3, 3)


def test_where_nobody_counted_them_any_number_up_to_the_countys_most_may_be_inside() -> None:
    """43 more check-ins than counted fit, 44 do not; a counter ahead by more than the play never fits."""
    assert checked(noted(11, 330, 300)).checks[0].state is CheckState.FITS
    assert checked(noted(11, 343, 300)).checks[0].state is CheckState.FITS
    assert checked(noted(11, 344, 300)).checks[0].state is CheckState.DIFFERS
    assert checked(noted(11, 297, 300)).checks[0].state is CheckState.FITS
    assert checked(noted(11, 296, 300)).checks[0].state is CheckState.DIFFERS


def test_the_hour_in_which_a_difference_arose_is_named() -> None:
    """Right at eleven and at one, ten off from three on: it arose between one and three."""
    notes = [
        *noted(11, 300, 290, inside=10),
        *noted(13, 420, 405, inside=15),
        *noted(15, 540, 522, inside=8),
        *noted(17, 700, 682, inside=8),
    ]
    found = checked(notes)
    states = [check.state for check in found.checks]
    assert states == [CheckState.FITS, CheckState.FITS, CheckState.DIFFERS, CheckState.DIFFERS]
    assert found.arose == (13 * 60, 15 * 60)


def test_a_difference_that_went_away_arose_nowhere() -> None:
    """Off at eleven, since somebody read the wrong line; right again at one."""
    assert checked([*noted(11, 300, 200, inside=10), *noted(13, 420, 405, inside=15)]).arose is None


def test_one_that_was_there_at_the_first_comparison_arose_since_the_doors_opened() -> None:
    """There is no earlier comparison to name."""
    assert checked(noted(11, 300, 250, inside=10)).arose == (420, 11 * 60)


def test_an_hour_that_is_wanted_and_was_not_read_says_so_and_is_never_zero() -> None:
    """The county compares at noon; only the counter was read."""
    (check,) = checked([seen("public_counter_at_1200", 300, SCANNER)], wanted=(720,)).checks
    assert check.state is CheckState.NOT_READ
    assert check.line.missing == (f"check_ins_at_1200@{SITE}",)


def test_two_people_who_read_an_hour_differently_leave_it_open() -> None:
    """Both stand."""
    (check,) = checked([*noted(11, 300, 290), seen("check_ins_at_1100", 310)]).checks
    assert check.state is CheckState.TWO_VALUES


def test_cancelled_check_ins_the_bin_and_one_total_of_all_counters_enter_where_they_were_told() -> None:
    """310 - 4 = 290 + 2 in the bin + 14 inside."""
    notes = [
        seen("check_ins_at_1100", 310),
        seen("check_ins_cancelled_at_1100", 4),
        seen("public_counters_at_1100", 290),
        seen("ballots_auxiliary_at_1100", 2),
        seen("voters_inside_at_1100", 14),
    ]
    (check,) = checked(notes, rules(play=0)).checks
    assert (check.state, check.low, check.high) == (CheckState.FITS, 0, 0)


@given(st.integers(0, 900), st.integers(0, 40), st.sampled_from([1, 2]), st.integers(-30, 30))
def test_what_is_left_open_is_what_was_put_in_whatever_the_sheets(
    cast: int, inside: int, sheets: int, off: int
) -> None:
    """Played from the voters' side: `off` voters too many on the list are what is left open, in sheets."""
    notes = noted(15, cast + inside + max(off, 0), cast * sheets + max(-off, 0) * sheets, inside=inside)
    (check,) = checked(notes, rules(sheets=sheets, play=0), sheets).checks
    assert check.low == check.high == off * sheets
    assert (check.state is CheckState.FITS) == (off == 0)


@pytest.mark.parametrize(
    ("how", "minutes"),
    [
        ("none", ()),
        ("noon", (720,)),
        ("11:00, 15:00 and 19:00", (660, 900, 1140)),
        ("hourly", tuple(range(480, 1200, 60))),
    ],
)
def test_the_countys_rule_says_when_and_the_telephone_asks_for_these_hours(
    how: str, minutes: tuple[int, ...]
) -> None:
    """07:00 to 20:00; a comparison at which nobody calls would be none."""
    hours = Hours(date=DAY, opens_min=420, closes_min=1200)
    assert hours_of(how, hours) == minutes
    assert count_hours(hours, rules(how)) == minutes
    assert hours_of(how, Hours(date=DAY, opens_min=780, closes_min=800)) == ()
