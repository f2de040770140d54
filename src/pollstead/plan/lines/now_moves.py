"""What a move is worth: the same states once more from now, with a station more here and one fewer there.

The voters who come and the time each takes are the same with and without the move, so that their difference
is the move's. No move takes a station below what a rule asks for, none takes an accessible station, and none
puts more stations to work than stand at the site or are held back as spares. Where too few accessible
stations work, one is put to work whatever the general line is.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from pollstead.plan.lines.now_cloud import FOUR, LONGEST_AFTER_CLOSE_MS, Cloud, Played, Step
from pollstead.plan.lines.now_kernel import LONGEST, SUM_WAIT
from pollstead.plan.terms.lines import WHOLE_PPM, Stage
from pollstead.plan.terms.now import Band, Known, Move, MoveKind, NowGiven, NowSite, WaitNow

if TYPE_CHECKING:
    from concurrent.futures import Executor

    Ints = np.ndarray[Any, np.dtype[np.int64]]

MINUTE_MS = 60_000
WITH_PEOPLE = (0, 3)
"""Stages at which somebody works for each station: check-in, casting. A voting station needs nobody."""
MOST_SITES = 40
"""Moves are looked for at so many sites, those with the most waiting to come."""
MOST_GIVERS = 3
LEAST_SURE_PPM = 750_000
"""A move is shown where it saves waiting in three of four possible states or more."""
OFFICE = "office"


class Stand:
    """A site with its answer, its states now and how they go on when nothing is done."""

    def __init__(self, site: NowSite, answer: WaitNow, cloud: Cloud | None = None) -> None:
        self.site, self.answer, self.cloud = site, answer, cloud
        self.base: Played | None = None
        self.probes: list[int] = []

    def states(self) -> Cloud:
        """The states now; raises ValueError for a site that has none (closed, not open)."""
        if self.cloud is None:
            raise ValueError(f"{self.site.site} has no states at this moment")
        return self.cloud

    def played(self) -> Played:
        """How the states go on; raises ValueError for a site that has none."""
        if self.base is None:
            raise ValueError(f"{self.site.site} was not played on from this moment")
        return self.base

    def waiting_ms(self) -> float:
        """The waiting still to come, the mean over the states."""
        return float(self.played().sums[:, SUM_WAIT].mean())


class _Try:
    """A move before it is tried: stations more and fewer at the site, one fewer at the giver."""

    def __init__(
        self,
        stand: Stand,
        kind: MoveKind,
        stage: int,
        after_ms: int,
        effort_ms: int,
        giver: Stand | None = None,
        from_stage: int | None = None,
        giver_name: str = "",
    ) -> None:
        self.stand, self.kind, self.stage = stand, kind, stage
        self.after_ms, self.effort_ms = after_ms, effort_ms
        self.giver, self.from_stage, self.giver_name = giver, from_stage, giver_name


def best_moves(stands: list[Stand], given: NowGiven, pool: Executor) -> tuple[Move, ...]:
    """The moves that save waiting, the most for a minute of effort first."""
    told = [stand for stand in stands if stand.answer.known is Known.ESTIMATED]
    long = [stand for stand in told if _long(stand, given)]
    long = sorted(long, key=lambda stand: (-stand.waiting_ms(), stand.site.site))[:MOST_SITES]
    ways = _Ways(given)
    tries = [one for stand in long for one in _tries(stand, told, given, ways)]
    tries += [one for stand in told for one in _accessible_again(stand, given, ways)]
    moves = [
        move for move in pool.map(_worth, tries) if move.saved.middle > 0 and move.saves_ppm >= LEAST_SURE_PPM
    ]
    return tuple(sorted(moves, key=lambda move: (-move.per_minute, move.site, move.kind, move.giver)))


def _long(stand: Stand, given: NowGiven) -> bool:
    # Where no accessible station works, the few who need one wait for hours; that has a move of its own.
    longest = stand.answer.longest_others
    return longest is not None and longest.high > given.limit_ms


class _Ways:
    """How long it takes from one site to another, in milliseconds."""

    def __init__(self, given: NowGiven) -> None:
        self.usual = given.usual_travel_ms
        self.known = {(way.start, way.end): way.minutes * MINUTE_MS for way in given.travel}

    def between(self, start: str, end: str) -> int:
        """The way as told in either direction, else the usual one."""
        return self.known.get((start, end), self.known.get((end, start), self.usual))


def _tries(stand: Stand, told: list[Stand], given: NowGiven, ways: _Ways) -> list[_Try]:
    site, cloud = stand.site, stand.states()
    open_now, most, floor = cloud.open_now(), site.most.by_stage(), site.floor.by_stage()
    waits = stand.played().probe_waits.mean(axis=(0, 1))
    share = waits / max(1.0, float(waits.sum()))
    tries: list[_Try] = []
    for place, stage in enumerate((0, 1, 3)):
        if cloud.model.here[stage] != 1 or share[place] < 0.15:
            continue
        to_open = most[stage] > open_now[stage]
        if to_open:
            tries.append(_Try(stand, MoveKind.OPEN_STATION, stage, given.set_up_ms, given.set_up_ms))
        if to_open and stage in WITH_PEOPLE:
            for other in WITH_PEOPLE:
                has = cloud.model.here[other] == 1 and open_now[other] > max(1, floor[other])
                if other != stage and has:
                    tries.append(
                        _Try(
                            stand,
                            MoveKind.MOVE_STEP,
                            stage,
                            given.set_up_ms,
                            given.set_up_ms,
                            from_stage=other,
                        )
                    )
            for giver in _givers(stand, told, stage, given, ways):
                way = ways.between(giver.site.site, site.site)
                time = way + given.set_up_ms
                tries.append(
                    _Try(
                        stand,
                        MoveKind.MOVE_WORKER,
                        stage,
                        time,
                        time,
                        giver=giver,
                        giver_name=giver.site.site,
                    )
                )
        if given.spares[stage] > 0 and not to_open:
            way = ways.between(OFFICE, site.site)
            tries.append(
                _Try(stand, MoveKind.SEND_SPARE, stage, way + given.set_up_ms, 2 * way + given.set_up_ms)
            )
    return tries


def _accessible_again(stand: Stand, given: NowGiven, ways: _Ways) -> list[_Try]:
    """Where fewer accessible stations work than a rule asks for: open one that stands there, or send a spare.

    Few voters need one, so that it is a small part of all waiting; but they cannot vote elsewhere.
    """
    cloud, stage = stand.states(), FOUR.index(Stage.MARK_ACCESSIBLE)
    open_now = cloud.open_now()[stage]
    if cloud.model.here[stage] != 1 or open_now >= max(1, stand.site.floor.by_stage()[stage]):
        return []
    if stand.site.most.by_stage()[stage] > open_now:
        return [_Try(stand, MoveKind.OPEN_STATION, stage, given.set_up_ms, given.set_up_ms)]
    if given.spares[stage] == 0:
        return []
    way = ways.between(OFFICE, stand.site.site)
    return [_Try(stand, MoveKind.SEND_SPARE, stage, way + given.set_up_ms, 2 * way + given.set_up_ms)]


def _givers(stand: Stand, told: list[Stand], stage: int, given: NowGiven, ways: _Ways) -> list[Stand]:
    """The nearest sites that could do without a station of the stage: short waits, above every floor."""
    found = []
    for other in told:
        if other is stand or other.cloud is None:
            continue
        left = other.cloud.open_now()[stage] - 1
        wait = other.answer.wait
        spare = left >= max(1, other.site.floor.by_stage()[stage])
        if spare and wait is not None and 2 * wait.high < given.limit_ms:
            found.append(other)
    found.sort(key=lambda other: (ways.between(other.site.site, stand.site.site), other.site.site))
    return found[:MOST_GIVERS]


def _worth(one: _Try) -> Move:
    stand, now_ms = one.stand, one.stand.states().now_ms
    stands_there = one.kind is not MoveKind.SEND_SPARE
    more = [Step(one.stage, now_ms + one.after_ms, 1, within=stands_there)]
    if one.from_stage is not None:
        more.append(Step(one.from_stage, now_ms, -1))
    base, moved = stand.played().sums, played_with(stand, more).sums
    saved = (base[:, SUM_WAIT] - moved[:, SUM_WAIT]).astype(np.float64)
    cost = None
    if one.giver is not None:
        without = played_with(one.giver, [Step(one.stage, now_ms, -1)]).sums
        lost = (without[:, SUM_WAIT] - one.giver.played().sums[:, SUM_WAIT]).astype(np.float64)
        saved, cost = saved - lost, _minutes(lost)
    return Move(
        site=stand.site.site,
        kind=one.kind,
        stage=FOUR[one.stage],
        giver=one.giver_name,
        from_stage=None if one.from_stage is None else FOUR[one.from_stage],
        after_min=one.after_ms // MINUTE_MS,
        effort_min=one.effort_ms // MINUTE_MS,
        saved=_minutes(saved),
        saves_ppm=round(float((saved > 0).mean()) * WHOLE_PPM),
        cost=cost,
        longest_before=_minutes(base[:, LONGEST]),
        longest_after=_minutes(moved[:, LONGEST]),
    )


def played_with(stand: Stand, more: list[Step]) -> Played:
    """The site's states played on from now with these stations more or fewer."""
    cloud = stand.states().copy()
    end = max(stand.site.day.close_ms, cloud.now_ms) + LONGEST_AFTER_CLOSE_MS
    return cloud.go(end, stand.probes, more=more, ahead=True)


def _minutes(values_ms: Any) -> Band:
    """Mean and 80 % interval, in minutes."""
    low, high = np.quantile(values_ms, (0.1, 0.9), method="nearest").tolist()
    middle = float(np.mean(values_ms))
    return Band(low=round(low / MINUTE_MS), middle=round(middle / MINUTE_MS), high=round(high / MINUTE_MS))
