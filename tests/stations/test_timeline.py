"""A device's way through the days: one place at a time, and no edge that leaves a step out."""

from __future__ import annotations

import datetime as dt

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pollstead.election.county import Device
from pollstead.plan.stations.edges import ORDER, DeviceState, Evidence, done, lacks, state_of
from pollstead.plan.stations.timeline import Between, DeviceTimeline, Stay

DAY = dt.date(2028, 11, 7)


def stay(site: str, first: int, last: int) -> Stay:
    """A stay of one device in November."""
    return Stay(
        device="device/scanner/1",
        site=site,
        station=f"station/{site}/scanner/1",
        from_day=DAY.replace(day=first),
        to_day=DAY.replace(day=last),
        opens_min=420,
        closes_min=1200,
    )


EVIDENCE = st.builds(
    Evidence,
    closed=st.booleans(),
    memory_out=st.booleans(),
    tested=st.booleans(),
    zero=st.booleans(),
    sealed=st.integers(0, 2),
    seals_wanted=st.just(2),
    holds_memory=st.booleans(),
)


@given(EVIDENCE)
def test_election_day_is_refused_until_every_step_is_done(evidence: Evidence) -> None:
    """What lacks is empty exactly where nothing was left out, and the state says how far it came."""
    missing = lacks(evidence, DeviceState.ELECTION_DAY)
    assert (missing == ()) == (state_of(evidence) is DeviceState.SEALED)
    assert len(missing) == sum(not done(evidence, state) for state in ORDER[1:-1])
    reached = ORDER.index(state_of(evidence))
    assert all(done(evidence, state) for state in ORDER[: reached + 1])


def test_what_lacks_is_named_in_order() -> None:
    """A device with early memory devices in it and counters not at zero names each step that lacks
    (common practice, no source; varies by county)."""
    told = [m.english() for m in lacks(Evidence(closed=True, seals_wanted=2), DeviceState.ELECTION_DAY)]
    assert told == [
        "Its memory devices of early voting are not recorded as out.",
        "No passed test after early voting is recorded, or its counters are not at zero.",
        "0 of 2 new seals are read by two people.",
    ]
    assert lacks(Evidence(), DeviceState.EARLY_CLOSED) == ()


@pytest.mark.parametrize(("second", "clashes"), [((5, 7), 0), ((4, 7), 1), ((1, 3), 1)])
def test_two_stays_that_share_a_day_clash(second: tuple[int, int], clashes: int) -> None:
    """A device can be at one place at a time: from the 1st to the 4th, and again from the 5th."""
    line = DeviceTimeline(
        device=Device(id="device/scanner/1", serial="LM-S-1", kind="scanner"),
        stays=(stay("A", 1, 4), stay("B", *second)),
    )
    assert len(line.clashes) == clashes


def test_the_time_between_is_compared_with_the_work() -> None:
    """50 min of driving, 20 of test and 4 of sealing are 74 min; 73 do not suffice."""
    work = Between(
        device="device/scanner/1",
        from_site="A",
        to_site="B",
        after=DAY,
        by=DAY,
        drive_min=50,
        test_min=20,
        seal_min=4,
        seals=2,
        available_min=74,
    )
    assert (work.minutes, work.enough) == (74, True)
    assert not msgspec.structs.replace(work, available_min=73).enough
