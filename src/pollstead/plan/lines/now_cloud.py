"""Many possible states of one site at a moment (particles), and how they go on until a later moment."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from pollstead.plan.lines import draws
from pollstead.plan.lines.laws import gap_table, law_table
from pollstead.plan.lines.now_kernel import SUMS, play
from pollstead.plan.lines.now_words import STANDS_MS, STANDS_SHARE, Words
from pollstead.plan.lines.trials import stride
from pollstead.plan.lines.voters import slot_edges_ms
from pollstead.plan.terms.lines import SLOT_MS, WHOLE_PPM, ServiceLaw, Stage, StageWork
from pollstead.plan.terms.part import derive_seed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pollstead.plan.terms.now import NowSite

    Ints = np.ndarray[Any, np.dtype[np.int64]]
    Floats = np.ndarray[Any, np.dtype[np.float64]]

FOUR = (Stage.CHECK_IN, Stage.MARK, Stage.MARK_ACCESSIBLE, Stage.CAST)
STAGES = len(FOUR)
LONGEST_AFTER_CLOSE_MS = 12 * 3_600_000
SHAPE_SPREAD = 0.15
"""Standard deviation of the log of a quarter hour's arrival rate about the planned shape. Our assumption."""
SHAPE_MEMORY = math.exp(-15 / 90)
"""How much of it is left after a quarter hour: a bus, a shift's end or rain lasts about 90 minutes."""
SERVICE_SPREAD = 0.15
"""Standard deviation of the log of a site's own mean service time about the planned one. Our assumption."""
MOST_INSIDE = 400


class Step:
    """A station more (`by` 1) or one fewer (-1) of a stage from `at_ms` on.

    `within`: somebody comes or goes (a break, an opening door) and no station does, so that no more work than
    stand there.
    """

    def __init__(self, stage: int, at_ms: int, by: int, *, within: bool = False) -> None:
        self.stage, self.at_ms, self.by, self.within = stage, at_ms, by, within


class Played:
    """What a stretch brought: sums (states, 4), probes' waits (states, n, 3), lines (states, 4, g)."""

    def __init__(self, sums: Ints, probe_waits: Ints, inline: Ints) -> None:
        self.sums, self.probe_waits, self.inline = sums, probe_waits, inline


class Model:
    """A site's model as arrays: quarter hours, service tables, which stages have a line."""

    def __init__(self, site: NowSite) -> None:
        self.site, self.day = site, site.day
        works: list[StageWork | None] = list(site.path.works())[:STAGES]
        self.here = np.array([0 if w is None else (1 if w.limited else 2) for w in works], np.int64)
        self.lines = [place for place in (0, 1, 3) if self.here[place] == 1]
        laws: list[ServiceLaw | None] = [None if w is None else w.law for w in works]
        self.means = np.array([0 if law is None else law.mean_ms for law in laws], np.float64)
        self.tables = np.stack([law_table(law) for law in laws])
        curb = 0 if site.path.curbside is None else site.path.curbside.share_ppm
        self.inside = (WHOLE_PPM - curb) / WHOLE_PPM
        special = site.path.accessible_share_ppm
        share = special if curb == 0 else min(WHOLE_PPM, special * WHOLE_PPM // max(1, WHOLE_PPM - curb))
        self.threshold = draws.accessible_threshold(share)
        failures = [None if w is None or not w.limited else w.failures for w in works]
        self.use_rates = np.array(
            [0 if f is None else draws.use_rate(f.mean_use_ms) for f in failures], np.int64
        )
        self.repairs = np.stack([law_table(None if f is None else f.repair) for f in failures])
        jams = site.path.jams
        self.jams = 0 if jams is None else draws.chance_threshold(jams.chance_ppm)
        self.jam_table = law_table(None if jams is None else jams.time)
        self.edges = np.array(slot_edges_ms(self.day), np.int64)
        weights = self.day.slot_weights[: self.day.slots].astype(np.float64)
        widths = np.diff(self.edges).astype(np.float64)
        self.shares = weights / weights.sum() / widths
        self.gaps = gap_table()
        busiest = float(self.shares.max()) * float(self.day.totals.max())
        counts = site.most.by_stage()
        self.station_room = max(
            8,
            *(count + 4 for count in counts),
            *(
                min(MOST_INSIDE, int(3 * busiest * mean) + 40)
                for mean, kind in zip(self.means, self.here, strict=True)
                if kind == 2
            ),
        )

    def quarter(self, at_ms: int) -> int:
        """The quarter hour of a moment, the first before opening and the last after closing."""
        found = int(np.searchsorted(self.edges, at_ms, side="right")) - 1
        return min(max(found, 0), len(self.shares) - 1)


class Cloud:
    """The states of one site at `now_ms`, all equally likely. It is moved on in place; `copy` keeps one.

    `total` is the log of the day's voters, `shape` the log of the present rate about the plan, `factors` the
    site's own service times about the planned ones, each per state. `words` are the share and the length of
    standing of told waits.
    """

    def __init__(
        self, model: Model, states: int, seed: int, words: tuple[float, int] = (STANDS_SHARE, STANDS_MS)
    ) -> None:
        self.model, self.states, self.seed = model, states, seed
        self.stretch = 0
        site, rng = model.site, self.chance("start")
        totals = np.sort(site.day.totals)
        chosen = totals[(np.arange(states) * stride(states) % states) * len(totals) // states]
        spread = site.doubt_ppm / WHOLE_PPM
        self.total = np.log(np.maximum(chosen, 0.5)) + rng.normal(0.0, spread, states)
        self.shape = rng.normal(0.0, SHAPE_SPREAD, states)
        self.factors = np.exp(rng.normal(0.0, SERVICE_SPREAD, (states, STAGES)))
        self.queue = np.zeros((states, STAGES), np.int64)
        waiting = model.inside * np.exp(self.total) * site.day.opening_line_share_ppm / WHOLE_PPM
        self.queue[:, 0] = np.round(waiting).astype(np.int64)
        self.free = np.zeros((states, STAGES, model.station_room), np.int64)
        self.stations = np.zeros((states, STAGES), np.int64)
        self.done = np.zeros(states, np.int64)
        self.words = Words(states, self.chance("words"), *words)
        self.now_ms = site.day.open_ms
        self.wanted = np.array(site.counts.by_stage(), np.int64)
        self.most = self.wanted.copy()
        steps = [Step(FOUR.index(one.stage), one.at_ms, one.by) for one in site.changes]
        self.steps = [*steps, *_absent(model)]
        self._take_steps(self.now_ms + 1)
        if site.opened_ms is not None and site.opened_ms > self.now_ms:
            self.steps += [Step(0, site.opened_ms, 1, within=True)] * int(self.wanted[0])
            self.wanted[0] = 0

    def copy(self) -> Cloud:
        """The same states once more, to be moved on apart."""
        other = object.__new__(Cloud)
        other.__dict__.update(self.__dict__)
        for name in ("total", "shape", "factors", "queue", "free", "stations", "done", "wanted", "most"):
            setattr(other, name, getattr(self, name).copy())
        other.words, other.steps = self.words.copy(), list(self.steps)
        return other

    def chance(self, purpose: str) -> np.random.Generator:
        """Random numbers for one purpose at this stretch, the same whatever else is asked."""
        words = f"{purpose} {self.stretch}"
        key = derive_seed(self.seed, "lines now", self.model.site.seed_key, words)
        return np.random.Generator(np.random.PCG64(key))

    def take(self, chosen: Ints) -> None:
        """Keep these states, some of them more than once."""
        for name in ("total", "shape", "factors", "queue", "free", "stations", "done"):
            setattr(self, name, getattr(self, name)[chosen].copy())
        self.words.take(chosen)

    def rates(self, until_ms: int) -> Floats:
        """Voters a millisecond by state and quarter hour; the shape wanders from quarter to quarter.

        Where a told wait stands, as many come as keep it.
        """
        model = self.model
        rng = self.chance("rates")
        first, last = model.quarter(self.now_ms), model.quarter(until_ms)
        logs = np.zeros((self.states, len(model.shares)))
        logs[:, first] = self.shape
        push = SHAPE_SPREAD * math.sqrt(1 - SHAPE_MEMORY**2)
        for quarter in range(first + 1, last + 1):
            logs[:, quarter] = SHAPE_MEMORY * logs[:, quarter - 1] + rng.normal(0.0, push, self.states)
        self.shape = logs[:, last].copy()
        inside = model.inside * np.exp(self.total) * (1 - model.day.opening_line_share_ppm / WHOLE_PPM)
        made: Floats = inside[:, None] * model.shares[None, :] * np.exp(logs)
        if not model.lines:
            return made
        return self.words.balanced(made, self.served_rate(), model.edges, self.now_ms)

    def served_rate(self) -> Floats:
        """Voters a millisecond whom the stations serve at most: the least of all stages with a line."""
        works = self.model.lines
        if not works:
            return np.zeros(self.states)
        takes = self.factors[:, works] * self.model.means[works]
        least: Floats = (np.maximum(self.wanted[works], 1) / takes).min(axis=1)
        return least

    def go(
        self,
        until_ms: int,
        probes: Sequence[int] = (),
        grid: Sequence[int] = (),
        more: Sequence[Step] = (),
        *,
        ahead: bool = False,
    ) -> Played:
        """Go on until a moment; `more` are stations that come or go meanwhile.

        `ahead`: nobody has told what happens then, so stations fail and ballots jam by the plan's chances.
        What failed until now is told (out of service, stations open) or not known.
        """
        model = self.model
        rates = self.rates(min(until_ms, model.day.close_ms))
        wanted = self.wanted.copy()
        self.steps += more
        as_rows = self._take_steps(until_ms)
        widths = np.diff(model.edges).astype(np.float64)
        begun = np.minimum(np.maximum(self.now_ms - model.edges[:-1], 0), widths)
        over = np.minimum(np.maximum(until_ms - model.edges[:-1], 0), widths)
        coming = float((rates * (over - begun)[None, :]).sum(axis=1).max())
        room = int(coming + 8 * math.sqrt(coming + 1)) + int(self.queue.sum(axis=1).max())
        room += int(self.stations.sum(axis=1).max()) + len(probes) + 64
        sums = np.zeros((self.states, SUMS), np.int64)
        waits = np.zeros((self.states, len(probes), 3), np.int64)
        inline = np.zeros((self.states, STAGES, len(grid) + 1), np.int64)
        key = np.uint64(draws.word(self.seed, self.stretch, 0, 7))
        play(
            key,
            self.now_ms,
            until_ms,
            model.edges,
            rates,
            model.gaps,
            model.tables,
            model.use_rates if ahead else np.zeros(STAGES, np.int64),
            model.repairs,
            model.jams if ahead else 0,
            model.jam_table,
            model.threshold,
            model.here,
            self.factors,
            self.queue,
            self.free,
            self.stations,
            wanted,
            np.array(as_rows, np.int64).reshape(-1, 3),
            self.done,
            np.array(probes, np.int64),
            np.array(grid, np.int64),
            sums,
            waits,
            inline,
            room,
        )
        self.now_ms = until_ms
        self.stretch += 1
        return Played(sums, waits, inline[:, :, :-1])

    def _take_steps(self, until_ms: int) -> list[tuple[int, int, int]]:
        """Take the steps before a moment into `wanted`; rows as the kernel has them."""
        rows = []
        self.steps.sort(key=lambda step: step.at_ms)
        while self.steps and self.steps[0].at_ms < until_ms:
            step = self.steps.pop(0)
            stage = step.stage
            if not step.within:
                self.most[stage] = max(0, self.most[stage] + step.by)
            level = self.wanted[stage] + step.by
            if 0 <= level <= max(self.most[stage], self.wanted[stage]):
                self.wanted[stage] = level
                rows.append((step.at_ms, step.by, stage))
        return rows

    def told_open(self, stage: int, told: int) -> None:
        """So many stations of a stage are in use now, as somebody told."""
        self.wanted[stage] = min(told, self.model.station_room)
        self.most[stage] = max(self.most[stage], self.wanted[stage])

    def busy(self) -> Ints:
        """How many are being served, by state and stage."""
        inside = self.free > self.now_ms
        there = np.arange(self.free.shape[2])[None, None, :] < self.stations[:, :, None]
        counted: Ints = (inside & there).sum(axis=2)
        return counted

    @property
    def doors_open(self) -> bool:
        """Whether the doors are open at the moment at which the states stand."""
        opened = self.model.site.opened_ms
        return opened is None or opened <= self.now_ms

    def open_now(self) -> tuple[int, int, int, int]:
        """Stations wanted open now, by stage."""
        a, b, c, d = (int(n) for n in self.wanted)
        return a, b, c, d

    def rough_wait_ms(self) -> Floats:
        """About how long somebody who joins now waits: people before over stations times service time."""
        stations = np.maximum(self.wanted, 1).astype(np.float64)
        # With a line all stations are busy: one more has to be done than stand before.
        before = self.queue + (self.queue > 0)
        each = before * self.factors * self.model.means[None, :] / stations[None, :]
        rough: Floats = each[:, [0, 1, 3]].sum(axis=1)
        return rough


def _absent(model: Model) -> list[Step]:
    """The breaks and slow hours of the day: somebody goes when it is due and is back when it ends.

    A break that falls due while the station serves a voter is that much shorter; in the plan's days it is
    not.
    """
    made = []
    for stage, absences in enumerate(model.day.absences_of(model.site.counts.by_stage())):
        for one in absences:
            until = max(one.from_ms + one.lasts_ms, one.until_ms)
            made += [Step(stage, one.from_ms, -1, within=True), Step(stage, until, 1, within=True)]
    return made


def quarters_between(model: Model, from_ms: int, until_ms: int) -> list[int]:
    """Quarter hours after `from_ms`, up to `until_ms`."""
    first = from_ms // SLOT_MS * SLOT_MS + SLOT_MS
    return list(range(first, until_ms + 1, SLOT_MS))
