"""The lines part of the plan: numbers of stations for each site, with why and what if."""

from __future__ import annotations

import hashlib
from contextlib import closing
from typing import TYPE_CHECKING

import msgspec

from pollstead.election.words import N_
from pollstead.plan.lines.box import Box, box_of, with_stage
from pollstead.plan.lines.loads import busiest_hour_milli_voters
from pollstead.plan.lines.said import engine_notices, site_notices, site_reasons
from pollstead.plan.lines.sizing import DAYS, DaySearch
from pollstead.plan.lines.trials import FRESH_FROM, Counts, Trials, as_station_counts
from pollstead.plan.lines.trusted import fast_engine_is_right
from pollstead.plan.lines.what_if import longer_ballot
from pollstead.plan.terms.keeping import Keeping, NothingKept
from pollstead.plan.terms.lines import (
    SIZED,
    WHOLE_PPM,
    ArrivalDay,
    Change,
    LinesGiven,
    LineWhatIf,
    SiteLines,
    SizingAnswer,
    Stage,
    WaitFigures,
)
from pollstead.plan.terms.part import Effort, NoWatch, Outcome, Watch
from pollstead.plan.terms.spreading import InThreads, Spreading

if TYPE_CHECKING:
    from pollstead.election.notice import Notice
    from pollstead.plan.terms.part import Reason

KEPT_PART = N_("sites kept from the earlier plan")
LATE_MS = 3_600_000
TURNOUT_PPM = 1_200_000
HOUR_DAYS = 64
"""Fresh days behind each hour that the plan keeps."""

MOST_ROUNDS = 3
"""How often the days of a site are gone through again because more stations for one day harmed another."""


def run(
    given: LinesGiven,
    seed: int,
    effort: Effort,
    watch: Watch | None = None,
    workers: int = 1,
    keeping: Keeping | None = None,
    spreading: Spreading | None = None,
) -> Outcome[tuple[SizingAnswer, ...]]:
    """Size every site; answers in the order given, the same for any number of `workers` (threads).

    With `spreading` the sites are sized where it says, and `workers` says nothing.

    What `keeping` has is not computed again, and is handed what is new as soon as it is there. Work units are
    simulated voters' passes of this run. `watch` hears of each site when it is done and may raise
    `Cancelled`. Raises ValueError for workers < 1.
    """
    spreading = spreading or InThreads(workers)
    watch, keeping = watch or NoWatch(), keeping or NothingKept()
    total = len(given.sites)
    keys = [kept_key(site, seed, effort) for site in given.sites]
    had = [keeping.get(key) for key in keys]
    found = sum(data is not None for data in had)
    if found:
        watch.step(KEPT_PART, found, total)
    done: list[tuple[SizingAnswer, int]] = []
    watch.step("lines", found, total)
    new = [(site, seed, effort) for site, data in zip(given.sites, had, strict=True) if data is None]
    with closing(spreading.in_order(_sized, new)) as made:
        for data, key in zip(had, keys, strict=True):
            if data is not None:
                done.append((msgspec.json.decode(data, type=SizingAnswer), 0))
                continue
            done.append(next(made))
            keeping.put(key, msgspec.json.encode(done[-1][0]))
            found += 1
            watch.step("lines", found, total)
    notices: list[Notice] = []
    reasons: list[Reason] = []
    for site, (answer, _) in zip(given.sites, done, strict=True):
        notices += site_notices(site, answer)
        reasons += site_reasons(site, answer)
    notices += engine_notices([answer for answer, _ in done], DAYS[effort])
    return Outcome(
        tuple(answer for answer, _ in done),
        notices=tuple(notices),
        reasons=tuple(reasons),
        complete=all(answer.complete for answer, _ in done),
        work_units=sum(units for _, units in done),
    )


def _sized(job: tuple[SiteLines, int, Effort]) -> tuple[SizingAnswer, int]:
    """One site's job, as it may travel to another process."""
    return size_site(*job)


def kept_key(site: SiteLines, seed: int, effort: Effort) -> str:
    """The digest of all that the answer for one site follows from, hexadecimal."""
    given = msgspec.json.encode((site, seed, effort), enc_hook=_array_text)
    return hashlib.sha256(given).hexdigest()


def _array_text(value: object) -> str:
    """An array of a day as text that tells it from every other."""
    import numpy as np

    if not isinstance(value, np.ndarray):
        raise TypeError(f"a site's lines hold values and arrays only, got {type(value).__name__}")
    return f"{value.dtype.str}{value.shape}{hashlib.sha256(value.tobytes()).hexdigest()}"


def size_site(site: SiteLines, seed: int, effort: Effort) -> tuple[SizingAnswer, int]:
    """The answer for one site and the voter passes that it took.

    The days are taken from the busiest on: numbers found for one are the floor for the next, and all days
    are gone through again (at most `MOST_ROUNDS` times) until the numbers keep the limit on each. This
    gives numbers that serve every day; for several unlike days it is not shown that no cheaper ones do.
    """
    alike = alike_days(site.days)
    distinct = sorted(
        {id(day): day for day in alike}.values(), key=lambda d: (-busiest_hour_milli_voters(d), d.date)
    )
    searches = {day.date: DaySearch(site, day, seed, effort, len(distinct)) for day in distinct}
    counts, complete = _counts_for_all(list(searches.values()), box_of(site))
    figures = {date: search.fresh.figures(counts) for date, search in searches.items()}
    worst = max(figures, key=lambda date: (figures[date].risk.over, figures[date].mean_wait_ms))
    meets = all(f.risk.meets(site.limit.risk_ppm) for f in figures.values())
    fewer = box_of(site).lowered(counts)
    compared, what_ifs, more_units = _what_ifs(searches[worst], counts)
    fast, told = (
        sum(getattr(t, name) for s in searches.values() for t in s.all_trials)
        for name in ("fast_days", "reference_days")
    )
    answer = SizingAnswer(
        site=site.site,
        date=worst,
        counts=as_station_counts(counts),
        limit=site.limit,
        figures=figures[worst],
        per_day=tuple(figures[day.date] for day in alike),
        what_ifs=what_ifs,
        floor=site.floor,
        ceiling=site.ceiling,
        fixed=site.fixed,
        meets_limit=meets,
        least=meets and not any(all(s.accepts(c) for s in searches.values()) for c in fewer),
        search_days=searches[worst].days,
        complete=complete,
        undecided=any(not f.risk.decides(site.limit.risk_ppm) for f in figures.values()),
        compared=compared,
        refused=searches[worst].refused or "",
        fast_ppm=fast * WHOLE_PPM // max(1, fast + told),
        distrusted=not fast_engine_is_right(),
        hours=searches[worst].trials.by_hour(counts, FRESH_FROM, HOUR_DAYS).hours,
        hour_days=HOUR_DAYS,
    )
    return answer, more_units + sum(t.work_units for s in searches.values() for t in s.all_trials)


def alike_days(days: tuple[ArrivalDay, ...]) -> list[ArrivalDay]:
    """For each day the first of the days that are the same but for the date."""
    firsts: dict[tuple[object, ...], ArrivalDay] = {}
    result = []
    for day in days:
        content = (
            day.open_ms,
            day.close_ms,
            day.slot_weights.tobytes(),
            day.totals.tobytes(),
            day.opening_line_share_ppm,
            day.breaks,
            day.absences,
        )
        result.append(firsts.setdefault(content, day))
    return result


def _counts_for_all(searches: list[DaySearch], box: Box) -> tuple[Counts, bool]:
    """Counts that serve every day, and whether each search came to its end."""
    counts: Counts | None = None
    complete = True
    for _ in range(MOST_ROUNDS):
        before = counts
        for search in searches:
            if counts is None or not search.accepts(counts):
                found = search.find(box if counts is None else Box(counts, box.high))
                counts, complete = found.counts, complete and found.complete
        if counts == before or len(searches) == 1:
            break
    return counts or box.low, complete


def _what_ifs(search: DaySearch, counts: Counts) -> tuple[WaitFigures, tuple[LineWhatIf, ...], int]:
    """The plan's figures on the first fresh days, the what-ifs on the same days, voter passes besides.

    One more and one fewer of each stage, the worst device out, doors late, more voters, a long ballot. A
    station out of service all day is one fewer; the stage where that hurts most is shown.
    """
    changes: list[tuple[Change, Stage]] = []
    tried: list[Counts] = [counts]
    for k, stage in enumerate(SIZED):
        if counts[k] > 0:
            changes.append((Change.ONE_MORE, stage))
            tried.append(with_stage(counts, k, counts[k] + 1))
        if counts[k] > 1:
            changes.append((Change.ONE_FEWER, stage))
            tried.append(with_stage(counts, k, counts[k] - 1))
    trials, days = search.trials, search.days
    compared, *shown = trials.figures(tried, FRESH_FROM, days)
    result = [
        LineWhatIf(change=change, stage=stage, figures=figures)
        for (change, stage), figures in zip(changes, shown, strict=True)
    ]
    fewer = [w for w in result if w.change is Change.ONE_FEWER]
    if fewer:
        worst = max(fewer, key=lambda w: (w.figures.risk.over, w.figures.mean_wait_ms))
        result.append(LineWhatIf(change=Change.ONE_DOWN, stage=worst.stage, figures=worst.figures))
    late = trials.figures([counts], FRESH_FROM, days, late_ms=LATE_MS)[0]
    more = trials.figures([counts], FRESH_FROM, days, turnout_ppm=TURNOUT_PPM)[0]
    result.append(LineWhatIf(change=Change.LATE, figures=late))
    result.append(LineWhatIf(change=Change.TURNOUT, figures=more))
    percent = search.site.long_ballot_percent
    if percent == 100:
        return compared, tuple(result), 0
    path = longer_ballot(trials.path, percent, percent)
    longer = Trials(path, search.day, search.site.limit, trials.key, kept_bytes=0)
    slow = longer.figures([counts], FRESH_FROM, days)[0]
    result.append(LineWhatIf(change=Change.LONG_BALLOT, figures=slow, percent=percent - 100))
    return compared, tuple(result), longer.work_units
