"""A day by the hour from the compiled engine is the day told event by event, number for number."""

from __future__ import annotations

import datetime as dt

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pollstead.election.values import frozen_array
from pollstead.plan.lines.by_hour import by_hour
from pollstead.plan.lines.trials import Trials
from pollstead.plan.terms.lines import WHOLE_PPM, ArrivalDay, ServiceLaw, SitePath, StageWork, WaitLimit

pytestmark = pytest.mark.full

HOUR_MS = 3_600_000


def work(mean_s: int, limited: bool = True) -> StageWork:
    """A step with lognormal service."""
    return StageWork(law=ServiceLaw(mean_ms=mean_s * 1000, cv_ppm=600_000), limited=limited)


PATHS = (
    SitePath(
        check_in=work(90), mark=work(300), accessible=work(600), accessible_share_ppm=50_000, cast=work(20)
    ),
    SitePath(check_in=work(90), mark=work(240)),
    SitePath(check_in=work(80), mark=work(300, limited=False), cast=work(30)),
)


@settings(max_examples=25, deadline=None)
@given(
    path=st.sampled_from(PATHS),
    voters=st.integers(0, 160),
    minutes=st.integers(20, 400),
    opening_ppm=st.sampled_from((0, 50_000, 1_000_000)),
    counts=st.tuples(*(st.integers(1, 4) for _ in range(4))),
    late_min=st.sampled_from((0, 7, 60)),
    turnout_ppm=st.sampled_from((WHOLE_PPM, 1_200_000)),
    key=st.integers(0, 2**63 - 1),
)
def test_the_hours_and_lines_of_both_engines_are_equal(
    path: SitePath,
    voters: int,
    minutes: int,
    opening_ppm: int,
    counts: tuple[int, int, int, int],
    late_min: int,
    turnout_ppm: int,
    key: int,
) -> None:
    """The hours and lines of both engines are equal."""
    day = ArrivalDay(
        date=dt.date(2028, 11, 7),
        open_ms=7 * HOUR_MS,
        close_ms=7 * HOUR_MS + minutes * 60_000,
        slot_weights=frozen_array([3, 1] * 14, "int64")[: -(-minutes // 15)],
        totals=frozen_array([voters], "int64"),
        opening_line_share_ppm=opening_ppm,
    )
    limited = path.limited()
    a, b, c, d = (n if line else 0 for n, line in zip(counts, limited, strict=True))
    trials = Trials(path, day, WaitLimit(limit_ms=600_000, risk_ppm=50_000), key)
    quick = trials.by_hour((a, b, c, d), 5, 2, late_min * 60_000, turnout_ppm)
    told = trials.told((a, b, c, d), 5, 2, late_min * 60_000, turnout_ppm)
    plain = by_hour(
        day,
        np.array([one.voters for one in told], np.int64),
        np.array([one.over for one in told], np.int64),
        np.array([one.longest_ms for one in told], np.int64),
        np.array([one.lines for one in told], np.int64),
    )
    assert msgspec.json.encode(quick) == msgspec.json.encode(plain)
