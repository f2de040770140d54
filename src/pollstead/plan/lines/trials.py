"""Trials of one site-day: candidates in, figures out, every voter's pass counted as a unit of work."""

from __future__ import annotations

from math import gcd
from typing import TYPE_CHECKING, Any

from pollstead.plan.lines import draws
from pollstead.plan.lines.by_hour import by_hour
from pollstead.plan.lines.intervals import exact_interval_ppm, nearest_rank
from pollstead.plan.lines.refused import fast_engine_refuses
from pollstead.plan.lines.told import DayCounts, counted_day, told_day
from pollstead.plan.lines.trusted import fast_engine_is_right
from pollstead.plan.lines.voters import cumulative_shares, slot_edges_ms
from pollstead.plan.terms.lines import (
    WHOLE_PPM,
    ArrivalDay,
    ByHour,
    RiskEstimate,
    SitePath,
    Stage,
    StationCounts,
    WaitFigures,
    WaitLimit,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import numpy as np

    from pollstead.plan.lines.engine import DrawnDays

    Ints = np.ndarray[Any, np.dtype[np.int64]]
    Flags = np.ndarray[Any, np.dtype[np.bool_]]

Counts = tuple[int, int, int, int]

FRESH_FROM = 1 << 20
"""Days from this number on are kept for the final figures; the search never draws them."""


FIRST_LOOK_DAYS = 64
"""Days of the first block; each block after it ends at twice the days."""

KEPT_BYTES = 64 << 20
"""Drawn voters that are kept for one site, its days together; beyond, days are drawn anew for each look."""


def blocks(days: int, first_day: int = 0) -> Iterator[int]:
    """Where the blocks of `days` days end, of which those before `first_day` are over: 64, 128, 256 …

    So the days that one look has drawn are whole blocks of the next, longer one.
    """
    end = FIRST_LOOK_DAYS
    while end < first_day + days:
        if end > first_day:
            yield end - first_day
        end *= 2
    yield days


def stride(draws_given: int) -> int:
    """The step by which days go through the demand draws, each in turn, so that a sorted list gets mixed.

    The number from 0.618 of the list's length on that shares no divisor with it.
    """
    step = max(1, draws_given * 618 // 1000)
    while gcd(step, draws_given) != 1:
        step += 1
    return step


def as_station_counts(counts: Counts) -> StationCounts:
    """Counts in the order of ``Stage`` as a value with names."""
    check_in, mark, accessible, cast = counts
    return StationCounts(check_in=check_in, mark=mark, mark_accessible=accessible, cast=cast)


def over_limit(rows: Ints, limit: WaitLimit) -> Flags:
    """For each of the engine's rows whether the day's longest wait passes the limit."""
    return rows[..., 0] > limit.limit_ms


def all_waits_ms(rows: Ints) -> Ints:
    """For each of the engine's rows the waits of all voters of the day added up."""
    from pollstead.plan.lines.engine import SUM_CAST, SUM_CHECK_IN, SUM_CURBSIDE

    waits: Ints = rows[..., [*range(SUM_CHECK_IN, SUM_CAST + 1), SUM_CURBSIDE]].sum(axis=-1)
    return waits


class Trials:
    """Simulated days of one site-day; asks the engine, keeps the count of voter passes.

    `key` is the seed of the site's draws, `kept_bytes` the room for drawn voters. Not a value: it counts its
    work.
    """

    def __init__(
        self, path: SitePath, day: ArrivalDay, limit: WaitLimit, key: int, kept_bytes: int = KEPT_BYTES
    ) -> None:
        import numpy as np

        self.path, self.day, self.limit, self.key = path, day, limit, key
        self.work_units = 0
        from pollstead.plan.lines.beside import chances_of, tables_of

        self._edges = np.array(slot_edges_ms(day), np.int64)
        self._cumulative = np.array(cumulative_shares(day), np.int64)
        self._tables, self._chances = tables_of(path), chances_of(path)
        self._curb_stations = 1 if path.curbside is None else path.curbside.stations
        self._threshold = draws.accessible_threshold(path.accessible_share_ppm)
        self._blocks: dict[tuple[int, int, int], DrawnDays] = {}
        self._room_bytes = kept_bytes
        self.fast_days = 0
        """Days times candidates so far that the compiled engine did."""
        self.reference_days = 0
        """Days times candidates so far that went to the event-by-event telling."""

    def _totals(self, first_day: int, days: int, turnout_ppm: int) -> Ints:
        import numpy as np

        given = self.day.totals
        step = stride(len(given))
        chosen = given[(np.arange(first_day, first_day + days) % len(given)) * step % len(given)]
        return np.asarray((chosen * turnout_ppm + WHOLE_PPM // 2) // WHOLE_PPM, np.int64)

    def rows(
        self,
        candidates: Sequence[Counts],
        first_day: int,
        days: int,
        late_ms: int = 0,
        turnout_ppm: int = WHOLE_PPM,
    ) -> Ints:
        """The engine's rows, int64 of shape (candidates, days, columns), for days `first_day` on.

        Days go in blocks whose voters are drawn once; the doors' opening changes no draw.
        """
        import numpy as np

        from pollstead.plan.lines.engine import COLUMNS

        slow = [c for c, counts in enumerate(candidates) if self._is_slow(counts)]
        if slow:
            rows = np.zeros((len(candidates), days, COLUMNS), np.int64)
            for c in slow:
                told = self.told(candidates[c], first_day, days, late_ms, turnout_ppm)
                rows[c] = [one.row for one in told]
            fast = [c for c in range(len(candidates)) if c not in slow]
            if fast:
                rows[fast] = self.rows([candidates[c] for c in fast], first_day, days, late_ms, turnout_ppm)
            return rows
        # In sorted order neighbours share most stages, which the engine then goes through once.
        order = sorted(range(len(candidates)), key=lambda c: candidates[c])
        tried = np.array([candidates[c] for c in order], np.int64).reshape(-1, 4)
        parts = []
        behind = 0
        for until in blocks(days, first_day % FRESH_FROM):
            drawn = self._drawn(first_day + behind, until - behind, turnout_ppm)
            parts.append(self._passed(drawn, tried, first_day + behind, late_ms, turnout_ppm))
            behind = until
        whole = np.concatenate(parts, axis=1)
        rows = np.empty_like(whole)
        rows[order] = whole
        return rows

    def _is_slow(self, counts: Counts) -> bool:
        """Whether the day has to be told event by event: a stated rule, or an engine that fails its test."""
        refused = fast_engine_refuses(self.path, self.day, counts)
        return refused is not None or not fast_engine_is_right()

    def _passed(self, drawn: DrawnDays, tried: Ints, first_day: int, late_ms: int, turnout_ppm: int) -> Ints:
        """The rows of drawn days; candidates so overloaded that a key has no room are told event by event."""
        import numpy as np

        from pollstead.plan.lines.beside import absences_of
        from pollstead.plan.lines.engine import COLUMNS, pass_days

        opens_ms, days = self.day.open_ms + late_ms, len(drawn.totals)
        rows = np.zeros((len(tried), days, COLUMNS), np.int64)
        listed = [(a, b, e, f) for a, b, e, f in tried.tolist()]
        away = absences_of(self.day, listed)
        fits = np.full(len(tried), drawn.has_room(opens_ms, tried, away))
        if not fits.all():
            fits[:] = [
                drawn.has_room(opens_ms, tried[c : c + 1], away.of(np.array([c]))) for c in range(len(tried))
            ]
        for c in np.flatnonzero(~fits).tolist():
            rows[c] = [one.row for one in self.told(listed[c], first_day, days, late_ms, turnout_ppm)]
        rows[fits], _ = pass_days(
            drawn,
            opens_ms,
            tried[fits],
            self.limit.limit_ms,
            absences=away.of(fits),
            curb_stations=self._curb_stations,
        )
        self.work_units += int(drawn.totals.sum()) * int(fits.sum())
        self.fast_days += days * int(fits.sum())
        return rows

    def told(
        self,
        counts: Counts,
        first_day: int,
        days: int,
        late_ms: int = 0,
        turnout_ppm: int = WHOLE_PPM,
    ) -> list[DayCounts]:
        """The days from `first_day` on, told event by event with one set of numbers; slow."""
        totals = self._totals(first_day, days, turnout_ppm).tolist()
        self.work_units += sum(totals)
        self.reference_days += days
        result = []
        for at, total in enumerate(totals):
            told, voters = told_day(self.path, self.day, self.key, first_day + at, total, counts, late_ms)
            result.append(counted_day(told, voters, self.day, self.limit.limit_ms))
        return result

    def by_hour(
        self,
        counts: Counts,
        first_day: int,
        days: int,
        late_ms: int = 0,
        turnout_ppm: int = WHOLE_PPM,
    ) -> ByHour:
        """What the days say by hour of arrival, and their lines at each quarter hour."""
        import numpy as np

        from pollstead.plan.lines.kernel_lines import LANES

        parts: list[tuple[Ints, Ints, Ints, Ints]] = []
        for at in range(0, days, LANES):
            group = (counts, first_day + at, min(LANES, days - at), late_ms, turnout_ppm)
            traced = self._traced(*group)
            if traced is None:
                parts += [
                    (np.array(one.voters), np.array(one.over), np.array(one.longest_ms), np.array(one.lines))
                    for one in self.told(*group)
                ]
            else:
                from pollstead.plan.lines.traced import counted_hours

                parts += [counted_hours(self.day, one, self.limit.limit_ms) for one in traced]
        voters, over, longest, lines = (np.stack(part) for part in zip(*parts, strict=True))
        return by_hour(self.day, voters, over, longest, lines)

    def _traced(
        self, counts: Counts, first_day: int, days: int, late_ms: int, turnout_ppm: int
    ) -> list[Ints] | None:
        """Up to sixteen days voter by voter; None where they have to be told event by event."""
        import numpy as np

        from pollstead.plan.lines.beside import absences_of
        from pollstead.plan.lines.engine import trace_days

        if self._is_slow(counts):
            return None
        drawn = self._draw(first_day, days, turnout_ppm)
        opens_ms, tried, away = (
            self.day.open_ms + late_ms,
            np.array([counts], np.int64),
            absences_of(self.day, [counts]),
        )
        if not drawn.has_room(opens_ms, tried, away):
            return None
        self.work_units += int(drawn.totals.sum())
        return trace_days(drawn, opens_ms, tried, self.limit.limit_ms, away, self._curb_stations)

    def _drawn(self, first_day: int, days: int, turnout_ppm: int) -> DrawnDays:
        """The voters of a block of days; kept for the next candidates while there is room."""
        block = (first_day, days, turnout_ppm)
        found = self._blocks.get(block)
        if found is None:
            found = self._draw(*block)
            if found.size <= self._room_bytes:
                self._room_bytes -= found.size
                self._blocks[block] = found
        return found

    def _draw(self, first_day: int, days: int, turnout_ppm: int) -> DrawnDays:
        import numpy as np

        from pollstead.plan.lines.engine import draw_days

        totals = self._totals(first_day, days, turnout_ppm)
        waiting = [draws.opening_line(n, self.day.opening_line_share_ppm) for n in totals.tolist()]
        return draw_days(
            self.key,
            first_day,
            totals,
            np.array(waiting, np.int64),
            self._edges,
            self._cumulative,
            self._tables,
            self._threshold,
            self._chances,
        )

    def one_day(self, counts: Counts, day: int, late_ms: int = 0, turnout_ppm: int = WHOLE_PPM) -> Ints:
        """One simulated day voter by voter, int64 of shape (7, voters): see ``engine.simulate_days``.

        For comparison with other simulations; nothing keeps it. Raises ValueError for a day that has to be
        told event by event.
        """
        traced = self._traced(counts, day, 1, late_ms, turnout_ppm)
        if traced is None:
            raise ValueError("such a day is told event by event alone, see Trials.told")
        return traced[0]

    def over(self, candidates: Sequence[Counts], first_day: int, days: int) -> list[tuple[int, int]]:
        """For each candidate: days whose longest wait passes the limit, and all waits added up in ms."""
        rows = self.rows(candidates, first_day, days)
        return [
            (int(a), int(b))
            for a, b in zip(
                over_limit(rows, self.limit).sum(axis=1), all_waits_ms(rows).sum(axis=1), strict=True
            )
        ]

    def figures(
        self,
        candidates: Sequence[Counts],
        first_day: int,
        days: int,
        late_ms: int = 0,
        turnout_ppm: int = WHOLE_PPM,
    ) -> list[WaitFigures]:
        """What the days say of each candidate, for people to read."""
        rows = self.rows(candidates, first_day, days, late_ms, turnout_ppm)
        voters = self.voters(first_day, days, turnout_ppm)
        return [
            figures_of(as_station_counts(c), r, voters, self.limit)
            for c, r in zip(candidates, rows, strict=True)
        ]

    def voters(self, first_day: int, days: int, turnout_ppm: int = WHOLE_PPM) -> int:
        """Voters of all these days together."""
        return int(self._totals(first_day, days, turnout_ppm).sum())


def figures_of(
    counts: StationCounts, rows: Ints, voters: int, limit: WaitLimit, risk: RiskEstimate | None = None
) -> WaitFigures:
    """What the rows of one candidate say (int64, shape (days, columns)), for people to read.

    `risk`: the share over the limit where it is known better than by the plain count of the rows.
    """
    from pollstead.plan.lines import engine

    days = len(rows)
    longest = sorted(rows[:, engine.LONGEST].tolist())
    if risk is None:
        over = int(over_limit(rows, limit).sum())
        low, high = exact_interval_ppm(over, days)
        risk = RiskEstimate(over=over, days=days, low_ppm=low, high_ppm=high)
    sums = [int(rows[:, column].sum()) for column in range(engine.SUM_CHECK_IN, engine.SUM_CAST + 1)]
    each = max(1, voters)
    binds = rows[:, engine.BINDING].tolist()
    curbside = int(rows[:, engine.SUM_CURBSIDE].sum())
    stages = list(Stage)
    most = max(range(5), key=lambda k: (binds.count(k), -k))
    return WaitFigures(
        counts=counts,
        risk=risk,
        mean_wait_ms=(sum(sums) + curbside) // each,
        mean_by_stage_ms=(sums[0] // each, sums[1] // each, sums[2] // each, sums[3] // each),
        mean_curbside_ms=curbside // each,
        p50_longest_ms=nearest_rank(longest, 50),
        p90_longest_ms=nearest_rank(longest, 90),
        p95_longest_ms=nearest_rank(longest, 95),
        over_limit_ppm=int(rows[:, engine.OVER].sum()) * WHOLE_PPM // each,
        left_ppm=int(rows[:, engine.LEFT].sum()) * WHOLE_PPM // each,
        last_out_ms=nearest_rank(sorted(rows[:, engine.LAST_OUT].tolist()), 50),
        binding=stages[most] if any(k >= 0 for k in binds) else None,
        waits_ms=sum(sums) + curbside,
    )
