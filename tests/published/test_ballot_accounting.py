"""Ballot accounting sums that were published, evaluated as equations of this project.

Sources, read:
- Elections Canada, training manual for deputy returning officers of advance polls, descriptions of
  figures 25 and 26 (events log, pages 4-5 and 6-7),
  elections.ca/emp/trng/droap/man1/longdesc/fig25_e.html and fig26_e.html: 105 electors + 1 spoiled +
  394 unused = 500 ballots; 100 on the list + 5 added + 1 spoiled + 394 unused = 500 ballots.
- "Ballot count reconciliation", a precinct official's worksheet of the election of 6 November 2012,
  jgkhome.name/WakeBOE/Ballot_Count_Reconciliation_2012-11-06.txt: delivered 2001, left 1166, used 835;
  provisional 31, spoiled 16, challenged 0, extended hours 0, emergency bin 0; tabulator total 788.
- U.S. Election Assistance Commission, Election Management Guidelines and checklist of ballot accounting:
  ballots received = issued + unused; issued = cast + spoiled + provisional + left without voting; voters
  signed in regularly = cast on tabulators + emergency bin, provisional ones counted apart. The identities are
  published, the numbers put into them here are not.
The equations in which the figures stand are our own.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pollstead.election.rules import CountyRules
from pollstead.election.station_type import (
    Counter,
    CountUnit,
    SiteKind,
    StationType,
    StationUse,
    VoterStep,
)
from pollstead.reconcile.counts.balance import LineState, Reading, evaluate
from pollstead.reconcile.counts.equations import Balance, CountingDevice, build_balance

BOX = StationType(id="box", name="Ballot box", step=VoterStep.CAST)
SCANNER = StationType(
    id="scanner",
    name="Scanner",
    step=VoterStep.CAST,
    counters=(Counter(id="public", name="public counter", unit=CountUnit.BALLOTS),),
)
DEVICE = CountingDevice(id="device/scanner/1", station="station/S01/scanner/1", station_type="scanner")


def _site(
    kind: str, station_type: StationType, steps: tuple[str, ...], devices: tuple[CountingDevice, ...]
) -> Balance:
    site_kind = SiteKind(id=kind, name=kind, uses=(StationUse(station_type=station_type.id),), balance=steps)
    return build_balance("S01", site_kind, (station_type,), devices, CountyRules())


HAND_COUNTED = _site("hand-counted", BOX, ("spoiled", "curbside"), ())
SCANNED = _site("scanned", SCANNER, ("spoiled", "provisional", "auxiliary bin"), (DEVICE,))

# Figure 25: electors on the record 105, spoiled 1, unused 394, given at the beginning of the day 500.
FIGURE_25 = {
    "ballots_received": 500,
    "ballots_in_box": 105,
    "ballots_spoiled": 1,
    "ballots_unused": 394,
}
# Figure 26: ticked on the list 100, added 5; the same 500 ballots.
FIGURE_26 = {
    "check_ins": 100,
    "check_ins_added": 5,
    "ballots_spoiled": 1,
    "ballots_unused": 394,
    "ballots_received": 500,
}
WORKSHEET_2012 = {
    "ballots_received": 2001,
    "ballots_unused": 1166,
    "provisional_issued": 31,
    "ballots_spoiled": 16,
    "ballots_auxiliary": 0,
    "public_counter_close@device/scanner/1": 788,
    "public_counter_open@device/scanner/1": 0,
}


def _difference(balance: Balance, equation: str, values: dict[str, int]) -> int | None:
    rows = [e for e in balance.equations if e.id == equation]
    (line,) = evaluate(rows, [Reading(key=k, value=v) for k, v in values.items()])
    assert line.state is not LineState.NOT_READ, line.missing
    return line.difference


def _figure_26(values: dict[str, int]) -> dict[str, int]:
    """The figure counts voters, not ballots in the box: both are one number where I2 and I3 hold."""
    return {
        "ballots_received": values["ballots_received"],
        "ballots_in_box": values["check_ins"] + values["check_ins_added"],
        "ballots_spoiled": values["ballots_spoiled"],
        "ballots_unused": values["ballots_unused"],
    }


def test_record_of_electors_spoiled_and_unused_make_the_ballots_received() -> None:
    """105 + 1 + 394 = 500: the equation of blank ballots is zero."""
    assert _difference(HAND_COUNTED, "I1", FIGURE_25) == 0


def test_list_added_spoiled_and_unused_make_the_ballots_received() -> None:
    """100 + 5 + 1 + 394 = 500: the equation of blank ballots is zero."""
    assert _difference(HAND_COUNTED, "I1", _figure_26(FIGURE_26)) == 0


def test_the_list_and_the_added_entries_are_the_ballots_issued() -> None:
    """100 + 5 voters and one ballot issued again make 106 issued, 105 of them cast: I2 and I3 are zero."""
    issued = {
        "check_ins": 100,
        "check_ins_added": 5,
        "check_ins_cancelled": 0,
        "ballots_issued": 106,
        "ballots_reissued": 1,
        "ballots_spoiled": 1,
        "ballots_in_box": 105,
    }
    assert _difference(HAND_COUNTED, "I2", issued) == 0
    assert _difference(HAND_COUNTED, "I3", issued) == 0


def test_the_2012_worksheet_balances_with_the_tabulator() -> None:
    """2001 - 1166 = 835 and 835 - (31 + 16) = 788, the tabulator's total: the equation is zero."""
    assert _difference(SCANNED, "I1", WORKSHEET_2012) == 0


@pytest.mark.parametrize("step", (-1, 1))
@pytest.mark.parametrize("key", sorted(FIGURE_25))
def test_any_count_of_figure_25_off_by_one_is_a_difference_of_one(key: str, step: int) -> None:
    """Change one published count by one: the difference is one."""
    found = _difference(HAND_COUNTED, "I1", {**FIGURE_25, key: FIGURE_25[key] + step})
    assert found is not None and abs(found) == 1


@pytest.mark.parametrize("step", (-1, 1))
@pytest.mark.parametrize("key", sorted(FIGURE_26))
def test_any_count_of_figure_26_off_by_one_is_a_difference_of_one(key: str, step: int) -> None:
    """Change one published count by one: the difference is one."""
    changed = _figure_26({**FIGURE_26, key: FIGURE_26[key] + step})
    found = _difference(HAND_COUNTED, "I1", changed)
    assert found is not None and abs(found) == 1


@pytest.mark.parametrize("step", (-1, 1))
@pytest.mark.parametrize("key", sorted(WORKSHEET_2012))
def test_any_count_of_the_2012_worksheet_off_by_one_is_a_difference_of_one(key: str, step: int) -> None:
    """Change one published count by one: the difference is one."""
    found = _difference(SCANNED, "I1", {**WORKSHEET_2012, key: WORKSHEET_2012[key] + step})
    assert found is not None and abs(found) == 1


# The same worksheet by box and ballot style: delivered, left at the end, used.
BOXES_2012 = ((400, 0, 400), (100, 0, 100), (501, 464, 37), (500, 202, 298), (500, 500, 0))


def test_the_2012_worksheet_balances_box_by_box() -> None:
    """Delivered minus left is used in each row, and the rows add up to 2001, 1166 and 835."""
    for delivered, left, used in BOXES_2012:
        row = {
            "ballots_received": delivered,
            "ballots_in_box": used,
            "ballots_spoiled": 0,
            "ballots_unused": left,
        }
        assert _difference(HAND_COUNTED, "I1", row) == 0
    assert tuple(map(sum, zip(*BOXES_2012, strict=True))) == (2001, 1166, 835)


EVERY_STEP = _site("all", SCANNER, ("spoiled", "fled", "provisional", "auxiliary bin"), (DEVICE,))


@settings(max_examples=40)
@given(
    cast=st.integers(0, 3000),
    emergency=st.integers(0, 50),
    spoiled=st.integers(0, 60),
    provisional=st.integers(0, 90),
    left=st.integers(0, 9),
    unused=st.integers(0, 2000),
)
def test_the_published_identities_make_every_row_zero_and_one_ballot_more_makes_it_one(
    cast: int, emergency: int, spoiled: int, provisional: int, left: int, unused: int
) -> None:
    """Received = issued + unused, issued = cast + spoiled + provisional + left, signed in = cast + emergency.

    Their *issued* has provisional ballots and those of voters who left in it; a ballot in the emergency bin
    is cast and not yet counted. Who left was signed in: the checklist's regular voters are those who cast.
    """
    issued = cast + emergency + spoiled + provisional + left
    received = issued + unused
    signed_in_and_cast = cast + emergency
    counted = {
        "ballots_received": received,
        "ballots_unused": unused,
        "ballots_spoiled": spoiled,
        "ballots_reissued": spoiled,
        "ballots_fled": left,
        "ballots_auxiliary": emergency,
        "provisional_issued": provisional,
        "provisional_envelopes": provisional,
        "provisional_entries": provisional,
        "ballots_issued": issued - provisional,
        "check_ins": signed_in_and_cast + left,
        "check_ins_cancelled": 0,
        "public_counter_open@device/scanner/1": 0,
        "public_counter_close@device/scanner/1": cast,
    }
    for row in ("I1", "I2", "I3", "I6-envelopes", "I6-entries"):
        assert _difference(EVERY_STEP, row, counted) == 0
        terms = next(e for e in EVERY_STEP.equations if e.id == row).terms
        for coefficient, key in terms:
            assert _difference(EVERY_STEP, row, {**counted, key: counted[key] + 1}) == coefficient
            assert abs(coefficient) == 1
