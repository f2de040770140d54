"""Waits that a real county's page posted, given to the estimate of the wait now: gaps, coarse steps, clocks.

Montgomery County, Maryland, early voting of 2020: tests/data/posted_waits names source, license and what is
in it. A posted wait is a center's word that stands until somebody changes it, not a measured wait. Voters by
center and stations are not known: the model of `a_site` is ours, with the county's 128,684 early ballots over
eleven centers and eight days (Election Administration and Voting Survey 2020) as its middle.
"""

from __future__ import annotations

import csv
import datetime as dt
import math
import os
import statistics
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from pollstead.election.county import Hours
from pollstead.election.instants import OperatingDay
from pollstead.plan.lines import now
from pollstead.plan.lines.now_cloud import Cloud, Model
from pollstead.plan.lines.now_filter import Heard, hear
from pollstead.plan.lines.now_words import STANDS_MS, STANDS_SHARE
from pollstead.plan.terms.demand import QuantileRow, SiteDayDemand
from pollstead.plan.terms.lines import ServiceLaw, SitePath, StageWork, StationCounts
from pollstead.plan.terms.now import Known, LineReport, NowGiven, NowSite, WaitNow
from pollstead.show.waits_words import about_min
from pollstead.show.web.pages.waits_count import MOST
from pollstead.work.waits import arrival_day

pytestmark = pytest.mark.full

PART = Path(__file__).resolve().parents[1] / "data" / "posted_waits" / "waits_5min.csv"
MINUTE_MS, HOUR_MS = 60_000, 3_600_000
OPENS_MIN, CLOSES_MIN = 7 * 60, 20 * 60
STALE_MS = 75 * MINUTE_MS
VOTERS = round(128_684 / 11 / 8)
NO_WAIT_MIN = 5
"""The page shows 5 minutes where hardly anybody waits: five of seven rows. Taken as 0 to 5."""
Series = dict[tuple[str, dt.date], list[LineReport]]


def day_of(date: dt.date) -> OperatingDay:
    """The operating day in the county's zone."""
    return OperatingDay(date=date, zone_name="America/New_York")


def posted(file: Path) -> Series:
    """The rows of each center and day as reports, moments from the UTC seconds; nothing left out."""
    found: Series = defaultdict(list)
    with file.open(encoding="utf-8", newline="") as opened:
        for row in csv.DictReader(opened):
            date = dt.date.fromisoformat(row["local_time"][:10])
            at_ms = 1000 * int(row["epoch_s"]) - day_of(date).start().utc_ms
            wait_ms = round(float(row["wait_minutes"])) * MINUTE_MS
            found[row["site_name"], date].append(
                LineReport(at_ms=at_ms, wait_ms=wait_ms, event=row["epoch_s"])
            )
    return {key: sorted(rows, key=lambda one: one.at_ms) for key, rows in sorted(found.items())}


def step(mean_s: int, cv_ppm: int = 500_000) -> StageWork:
    """A step with a line."""
    return StageWork(law=ServiceLaw(mean_ms=mean_s * 1000, cv_ppm=cv_ppm))


PATH = SitePath(check_in=step(85, 600_000), mark=step(300), cast=step(20))
COUNTS = StationCounts(check_in=3, mark=14, mark_accessible=0, cast=1)


def a_site(name: str, date: dt.date, reports: Iterable[LineReport] = ()) -> NowSite:
    """A center as planned: voters evenly over the day, give or take two in five."""
    quarters = (CLOSES_MIN - OPENS_MIN) // 15
    row = QuantileRow(p10=VOTERS * 6 // 10, p50=VOTERS, p90=VOTERS * 14 // 10)
    slot = QuantileRow(p10=row.p10 // quarters, p50=row.p50 // quarters, p90=row.p90 // quarters)
    demand = SiteDayDemand(
        site=name, date=date, opens_min=OPENS_MIN, closes_min=CLOSES_MIN, voters=row, slots=(slot,) * quarters
    )
    hours = Hours(date=date, opens_min=OPENS_MIN, closes_min=CLOSES_MIN)
    return NowSite(
        site=name,
        seed_key=name,
        path=PATH,
        day=arrival_day(day_of(date), demand, hours, 20_000),
        counts=COUNTS,
        floor=COUNTS,
        most=COUNTS,
        reports=tuple(reports),
    )


def estimate(site: NowSite, now_ms: int) -> WaitNow:
    """What the page says of one site at a moment."""
    given = NowGiven(
        sites=(site,),
        now_ms=now_ms,
        stale_ms=STALE_MS,
        limit_ms=30 * MINUTE_MS,
        set_up_ms=10 * MINUTE_MS,
        usual_travel_ms=25 * MINUTE_MS,
    )
    return now.run(given, 1).sites[0]


@dataclass(frozen=True)
class Ahead:
    """One look ahead in minutes: told now, told at the next reading, said by the plan alone, the estimate."""

    told: float
    planned: float
    next_told: float
    low: float
    middle: float
    high: float

    @property
    def held(self) -> bool:
        """Whether the 80 % range, rounded outward to the page's steps of 5, holds what was then told."""
        low = 0.0 if self.low <= NO_WAIT_MIN else self.low - 2.5
        return low <= self.next_told <= max(self.high + 2.5, NO_WAIT_MIN)

    @property
    def said(self) -> int:
        """The estimate as it is said: whole minutes below ten, then fives."""
        return about_min(round(self.middle * MINUTE_MS))

    def error(self, said: float) -> float:
        """How far a wait said beforehand is from what was then told; 5 stands for 0 to 5 in both."""
        return abs(max(said, NO_WAIT_MIN) - max(self.next_told, NO_WAIT_MIN))


def looks_ahead(
    series: Series, every_min: int, words: tuple[float, int] = (STANDS_SHARE, STANDS_MS)
) -> list[Ahead]:
    """Read each page every so many minutes, and say before each reading what it will be.

    Numbers that the product refuses to take (`MOST`) are not read. `words`: how likely told waits stand, and
    how long.
    """
    made = []
    for (name, date), rows in series.items():
        readings: list[LineReport] = []
        for row in rows:
            due = not readings or row.at_ms - readings[-1].at_ms >= every_min * MINUTE_MS - 60_000
            if due and (row.wait_ms or 0) <= MOST["wait_min"] * MINUTE_MS:
                readings.append(row)
        cloud = Cloud(Model(a_site(name, date)), now.STATES, 1, words)
        heard = Heard(cloud)
        moments = [one.at_ms for one in readings[1:]]
        alone = cloud.copy().go(moments[-1] + 3 * HOUR_MS, moments).probe_waits.sum(axis=2)
        planned = (np.median(alone, axis=0) / MINUTE_MS).tolist()
        for one, following, plan in zip(readings, readings[1:], planned, strict=False):
            if one.at_ms > cloud.now_ms:
                cloud.go(one.at_ms)
            hear(cloud, one, heard)
            played = cloud.copy().go(following.at_ms + 3 * HOUR_MS, [following.at_ms])
            low, middle, high = np.quantile(played.probe_waits.sum(axis=2)[:, 0], (0.1, 0.5, 0.9)) / MINUTE_MS
            told, then = ((report.wait_ms or 0) / MINUTE_MS for report in (one, following))
            made.append(Ahead(told, plan, then, low, middle, high))
    return made


def mean_miss(looks: list[Ahead], said: Callable[[Ahead], float]) -> float:
    """The mean distance in minutes from what was then told."""
    return sum(one.error(said(one)) for one in looks) / len(looks)


def said(looks: list[Ahead]) -> dict[str, float]:
    """Figures of all looks, and of those before which the page changed."""
    moved = [one for one in looks if one.told != one.next_told]
    more = [one.error(one.said) - one.error(one.told) for one in looks]
    found = {"looks": len(looks), "moved": len(moved)}
    for words, some in (("", looks), ("moved ", moved)):
        found |= {
            f"{words}held": sum(one.held for one in some) / len(some),
            f"{words}estimate": mean_miss(some, lambda one: one.said),
            f"{words}unrounded": mean_miss(some, lambda one: one.middle),
            f"{words}last": mean_miss(some, lambda one: one.told),
            f"{words}plan": mean_miss(some, lambda one: one.planned),
            f"{words}width": statistics.fmean(one.high - one.low for one in some),
        }
    return found | {
        "more": statistics.fmean(more),
        "error of more": statistics.stdev(more) / len(more) ** 0.5,
    }


def fitted(series: Series) -> tuple[float, int]:
    """How likely told waits stand, and how long, from these centers alone.

    The length from how often two readings half an hour apart differ (a constant chance of a change); the
    share is the one of four with the least mean miss.
    """
    shares = (0.2, 0.5, 0.8, 0.95)
    looks = {share: looks_ahead(series, 30, (share, STANDS_MS)) for share in shares}
    some = looks[shares[0]]
    stays = sum(one.told == one.next_told for one in some) / len(some)
    best = min(shares, key=lambda share: mean_miss(looks[share], lambda one: one.said))
    return best, round(-30 * MINUTE_MS / math.log(stays))


@pytest.fixture(scope="module")
def part() -> Series:
    """The part of the data that stands beside the tests."""
    return posted(PART)


def test_half_hourly_readings_are_held_by_the_range_and_come_as_near_as_the_last_number(part: Series) -> None:
    """The 80 % range holds the next reading at least so often; the middle is about as near as the last one.

    The page repeats itself until somebody changes it: docs/waiting.md says how much is left between both.
    """
    found = said(looks_ahead(part, 30))
    assert found["looks"] > 100
    assert found["held"] >= 0.85
    assert found["width"] < 30
    assert found["estimate"] < 0.4 * found["plan"]
    assert found["more"] < 0.2
    assert found["moved estimate"] < 1.05 * found["moved last"]


def whole() -> Series:
    """Six centers, eight days, from the folder that POLLSTEAD_DATA names."""
    folder = os.environ.get("POLLSTEAD_DATA")
    if not folder:
        pytest.skip("absent: POLLSTEAD_DATA names no folder of open data")
    return posted(Path(folder) / "moco2020_waits" / "waits_5min.csv")


@pytest.mark.long
@pytest.mark.parametrize("first", [True, False])
def test_fitted_on_three_centers_the_other_three_are_told_as_well_as_by_the_last_number(
    first: bool, capsys: pytest.CaptureFixture
) -> None:
    """The first three by name and the last three, each fitted and held out; prints the figures."""
    series = whole()
    names = sorted({name for name, _ in series})
    fit_on = set(names[:3] if first else names[3:])
    words = fitted({key: rows for key, rows in series.items() if key[0] in fit_on})
    held_out = {key: rows for key, rows in series.items() if key[0] not in fit_on}
    for every_min in (30, 60):
        found = said(looks_ahead(held_out, every_min, words))
        with capsys.disabled():
            rounded = {name: round(float(figure), 3) for name, figure in found.items()}
            print("\nfitted on", sorted(fit_on), words, "ahead", every_min, rounded)
        assert found["held"] >= 0.85
        assert found["estimate"] < 0.7 * found["plan"]
        assert found["more"] < 0.2
        assert found["moved estimate"] < 1.05 * found["moved last"]


def test_a_page_that_begins_late_or_falls_silent_is_unknown(part: Series) -> None:
    """26 October: nothing before 13:27, a gap of 16 minutes is bridged, silence of 76 minutes is not."""
    name, date = "EXECUTIVE OFFICE BUILDING", dt.date(2020, 10, 26)
    rows = part[name, date]
    assert rows[0].at_ms // MINUTE_MS == 13 * 60 + 27
    early = estimate(a_site(name, date, rows), rows[0].at_ms - MINUTE_MS)
    assert (early.known, early.wait) == (Known.NEVER_TOLD, None)
    gaps = [(b.at_ms - a.at_ms, place) for place, (a, b) in enumerate(pairwise(rows))]
    widest, place = max(gaps)
    assert widest == 955_000
    bridged = estimate(a_site(name, date, rows[: place + 1]), rows[place + 1].at_ms)
    assert (bridged.known, bridged.age_ms) == (Known.ESTIMATED, widest)
    told = rows[place].wait_ms
    assert bridged.wait is not None and told is not None
    assert bridged.wait.low <= told + 5 * MINUTE_MS and bridged.wait.high >= told - 5 * MINUTE_MS
    silent = estimate(a_site(name, date, rows[: place + 1]), rows[place].at_ms + STALE_MS + MINUTE_MS)
    assert (silent.known, silent.wait) == (Known.STALE, None)


def test_the_day_on_which_clocks_went_back_is_told_in_time_that_passed(part: Series) -> None:
    """1 November: 07:04 by the wall is 8 h 4 min after midnight; read as 7:04 counts would be an hour old."""
    name, date = "EXECUTIVE OFFICE BUILDING", dt.date(2020, 11, 1)
    rows = part[name, date]
    day = day_of(date)
    assert day.slots_to_midnight() == 100
    assert rows[0].at_ms // MINUTE_MS == 8 * 60 + 4
    site = a_site(name, date, rows)
    assert (site.day.open_ms, site.day.close_ms) == (8 * HOUR_MS, 21 * HOUR_MS)
    moment = day.at_wall_clock(12 * 60).utc_ms - day.start().utc_ms
    assert moment == 13 * HOUR_MS
    found = estimate(site, moment)
    assert found.known is Known.ESTIMATED
    assert found.age_ms is not None and 0 <= found.age_ms < 6 * MINUTE_MS
    assert found.wait is not None and found.wait.middle <= NO_WAIT_MIN * MINUTE_MS
    assert rows[-1].at_ms < site.day.close_ms
    # Five minutes are posted the whole day: no row stands before opening or after closing.
    assert all(site.day.open_ms <= row.at_ms < site.day.close_ms for row in rows)


def test_a_sign_for_no_number_cannot_be_typed_and_does_no_lasting_harm(part: Series) -> None:
    """27 October, 07:00 to 07:25: 999 minutes. The page refuses it; in a record the next word ends it."""
    name, date = "ACTIVITY CENTER BOHRER PARK", dt.date(2020, 10, 27)
    rows = part[name, date]
    strange = [row for row in rows if row.wait_ms == 999 * MINUTE_MS]
    assert len(strange) == 6 and strange == rows[:6]
    assert MOST["wait_min"] < 999
    # Both of the next readings, 15 minutes at 07:30 and 07:35.
    found = estimate(a_site(name, date, rows[:8]), rows[7].at_ms)
    assert found.wait is not None and found.wait.low <= 15 * MINUTE_MS <= found.wait.high < HOUR_MS
    assert set(found.odd_reports) & {row.event for row in rows[:7]}
