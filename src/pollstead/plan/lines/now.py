"""The wait now at every site: reports weigh many possible states, which then go on to the last voter.

Sequential Monte Carlo (Gordon, Salmond and Smith 1993): states of the site's own model, moved on from report
to report, kept where they fit. Silence is no report of an empty line: it lets the states spread.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Any

import numpy as np

from pollstead.plan.lines.now_cloud import (
    FOUR,
    LONGEST_AFTER_CLOSE_MS,
    Cloud,
    Model,
    Played,
    quarters_between,
)
from pollstead.plan.lines.now_filter import Heard, hear
from pollstead.plan.lines.now_kernel import LAST_OUT, LONGEST, LONGEST_OTHERS
from pollstead.plan.lines.now_moves import Stand, best_moves
from pollstead.plan.terms.lines import Stage, StationCounts
from pollstead.plan.terms.now import (
    Band,
    Known,
    LineReport,
    LittleCheck,
    NowAnswer,
    NowGiven,
    NowSite,
    Point,
    WaitNow,
)

if TYPE_CHECKING:
    Ints = np.ndarray[Any, np.dtype[np.int64]]

STATES = 512
"""Of 256 too few saw the lines that came; with 1,024 an update of 600 sites would take 50 s on two cores."""
MINUTE_MS, HALF_HOUR_MS = 60_000, 1_800_000
LOW, HIGH = 0.1, 0.9
LEAST_BINDING_MS = MINUTE_MS


def run(given: NowGiven, seed: int, workers: int = 1, states: int = STATES) -> NowAnswer:
    """Estimate every site and rank the moves; the same for any number of `workers` (threads).

    Raises ValueError for workers < 1.
    """
    if workers < 1:
        raise ValueError(f"workers must be >= 1, got {workers}")
    with ThreadPoolExecutor(workers) as pool:
        stands = list(pool.map(lambda site: estimate(site, given, seed, states), given.sites))
        moves = best_moves(stands, given, pool)
    return NowAnswer(sites=tuple(stand.answer for stand in stands), moves=moves)


def estimate(site: NowSite, given: NowGiven, seed: int, states: int = STATES) -> Stand:
    """One site at the moment of `given`."""
    now_ms = given.now_ms
    reports = tuple(sorted((r for r in site.reports if r.at_ms <= now_ms), key=lambda r: (r.at_ms, r.event)))
    lines = [r for r in reports if r.counts_a_line]
    age_ms = now_ms - lines[-1].at_ms if lines else None
    bare = WaitNow(site=site.site, known=Known.NEVER_TOLD, age_ms=age_ms, little=little(site, reports))
    if site.closed_ms is not None and site.closed_ms <= now_ms:
        return Stand(site, _known(bare, Known.CLOSED))
    if now_ms < site.day.open_ms and not lines:
        return Stand(site, _known(bare, Known.NOT_OPEN))
    if age_ms is None or age_ms > given.stale_ms:
        return Stand(site, _known(bare, Known.NEVER_TOLD if age_ms is None else Known.STALE))
    cloud = Cloud(Model(site), states, seed)
    now_ms = max(now_ms, cloud.now_ms)
    points, odd = follow(cloud, reports, now_ms)
    stand = Stand(site, bare, cloud)
    stand.probes = _probes(site, now_ms)
    ahead = [now_ms, *quarters_between(cloud.model, now_ms, site.day.close_ms)]
    stand.base = cloud.copy().go(_end(site, now_ms), stand.probes, ahead, ahead=True)
    stand.answer = _answer(stand, bare, now_ms, points, ahead, tuple(odd))
    return stand


def follow(cloud: Cloud, reports: tuple[LineReport, ...], now_ms: int) -> tuple[list[Point], list[str]]:
    """Move the states through all reports until now: lines by quarter hour, reports that do not fit."""
    points: list[Point] = []
    odd: list[str] = []
    heard = Heard(cloud)
    for report in reports:
        _go(cloud, min(max(report.at_ms, cloud.now_ms), now_ms), points)
        if not hear(cloud, report, heard):
            odd.append(report.event)
    _go(cloud, now_ms, points)
    return points, odd


def _go(cloud: Cloud, until_ms: int, points: list[Point]) -> None:
    if until_ms <= cloud.now_ms:
        return
    grid = [at for at in quarters_between(cloud.model, cloud.now_ms, until_ms) if at < until_ms]
    played = cloud.go(until_ms, grid=grid)
    lines = played.inline.sum(axis=1)
    points += [Point(at_ms=at, in_line=band(lines[:, n])) for n, at in enumerate(grid)]


def band(values: Ints) -> Band:
    """The middle and the 80 % interval of equally likely values."""
    low, middle, high = np.quantile(values, (LOW, 0.5, HIGH), method="nearest").tolist()
    return Band(low=int(low), middle=int(middle), high=int(high))


def little(site: NowSite, reports: tuple[LineReport, ...]) -> LittleCheck | None:
    """Little's law from the last line told and the check-ins of about the last half hour before it.

    Little 1961, "A proof for the queuing formula: L = lambda W". None where a number is missing.
    """
    last = next((r for r in reversed(reports) if _line_of(r) is not None and r.check_ins is not None), None)
    if last is None or last.check_ins is None:
        return None
    start = site.day.open_ms if site.opened_ms is None else max(site.opened_ms, site.day.open_ms)
    before = [(start, 0)] if last.at_ms > start else []
    before += [(r.at_ms, r.check_ins) for r in reports if r.check_ins is not None and r.at_ms < last.at_ms]
    far = [one for one in before if last.at_ms - one[0] >= HALF_HOUR_MS] or before[:1]
    if not far or last.check_ins <= far[-1][1]:
        return None
    line = _line_of(last)
    return LittleCheck(
        in_line=line or 0, check_ins=last.check_ins - far[-1][1], from_ms=far[-1][0], at_ms=last.at_ms
    )


def _line_of(report: LineReport) -> int | None:
    if report.in_line is not None:
        return report.in_line
    told = [one for one in report.by_stage if one is not None]
    return sum(told) if told else None


def _known(bare: WaitNow, known: Known) -> WaitNow:
    return WaitNow(site=bare.site, known=known, age_ms=bare.age_ms, little=bare.little)


def _end(site: NowSite, now_ms: int) -> int:
    return max(site.day.close_ms, now_ms) + LONGEST_AFTER_CLOSE_MS


def _probes(site: NowSite, now_ms: int) -> list[int]:
    close = site.day.close_ms
    asked = {now_ms, now_ms + HALF_HOUR_MS, now_ms + 2 * HALF_HOUR_MS}
    asked |= set(range(now_ms - now_ms % 900_000 + 900_000, close, 900_000))
    return sorted(at for at in asked if at < close or at == now_ms)


def _answer(
    stand: Stand, bare: WaitNow, now_ms: int, points: list[Point], grid: list[int], odd: tuple[str, ...]
) -> WaitNow:
    base, cloud = stand.played(), stand.states()
    waits = base.probe_waits.sum(axis=2)
    by_moment = {at: band(waits[:, n]) for n, at in enumerate(stand.probes)}
    lines = base.inline.sum(axis=1)
    ahead = [
        Point(at_ms=at, in_line=band(lines[:, n]), wait_ms=by_moment.get(at)) for n, at in enumerate(grid)
    ]
    a, b, c, d = cloud.open_now()
    return WaitNow(
        site=bare.site,
        known=Known.ESTIMATED,
        age_ms=bare.age_ms,
        wait=by_moment[now_ms],
        in_line=band(cloud.queue.sum(axis=1)),
        in_30=by_moment.get(now_ms + HALF_HOUR_MS),
        in_60=by_moment.get(now_ms + 2 * HALF_HOUR_MS),
        longest=band(base.sums[:, LONGEST]),
        longest_others=band(base.sums[:, LONGEST_OTHERS]),
        stopped=tuple(
            stage
            for stage, here, wanted in zip(FOUR, cloud.model.here.tolist(), (a, b, c, d), strict=True)
            if here == 1 and wanted == 0 and cloud.doors_open
        ),
        last_out=band(base.sums[:, LAST_OUT]),
        binding=binding(base),
        open_stations=StationCounts(check_in=a, mark=b, mark_accessible=c, cast=d),
        points=(*points, *ahead),
        little=bare.little,
        odd_reports=odd,
    )


def binding(base: Played) -> Stage | None:
    """The stage that makes most of the wait of somebody who joins now; None where nobody waits a minute."""
    by_stage = base.probe_waits[:, 0, :].mean(axis=0)
    if float(by_stage.sum()) < LEAST_BINDING_MS:
        return None
    return (Stage.CHECK_IN, Stage.MARK, Stage.CAST)[int(by_stage.argmax())]
