"""Random paths, days and numbers of stations with every feature of the model, for property tests."""

from __future__ import annotations

import datetime as dt

from hypothesis import strategies as st

from pollstead.election.values import frozen_array
from pollstead.plan.terms.lines import (
    HOUR_MS,
    SIZED,
    SLOT_MS,
    Absence,
    ArrivalDay,
    Breaks,
    Curbside,
    Failures,
    Jams,
    LawKind,
    ServiceLaw,
    SitePath,
    StageWork,
)


@st.composite
def laws(draw: st.DrawFn, most_ms: int = 400_000) -> ServiceLaw:
    """Any law of times."""
    kind = draw(st.sampled_from(LawKind))
    times = st.lists(st.integers(0, 1000), min_size=2, max_size=6).filter(any)
    return ServiceLaw(
        kind=kind,
        mean_ms=draw(st.integers(1, most_ms)),
        cv_ppm=draw(st.integers(0, 15)) * 100_000,
        quantiles_ms=tuple(sorted(draw(times))) if kind is LawKind.EMPIRICAL else (),
    )


def works(failing: bool = True) -> st.SearchStrategy[StageWork]:
    """Any step; a failing station does so every few services, so that short days see it."""
    fails = st.none() | st.builds(Failures, mean_use_ms=st.just(HOUR_MS), repair=laws(1_500_000))
    return st.builds(StageWork, law=laws(), limited=st.booleans(), failures=fails if failing else st.none())


@st.composite
def paths(draw: st.DrawFn, reference_only: bool = True) -> SitePath:
    """Any voter path; with `reference_only` also accessible stations open to all and voters who leave."""
    mark, accessible, cast = (draw(st.none() | works()) for _ in range(3))
    share = draw(st.sampled_from([0, 30_000, 400_000, 800_000])) if accessible is not None else 0
    both = mark is not None and accessible is not None and mark.limited and accessible.limited
    jams = st.none() | st.builds(Jams, chance_ppm=st.sampled_from([0, 100_000]), time=laws())
    curbs = st.builds(
        Curbside,
        share_ppm=st.sampled_from([0, 50_000, 200_000]),
        stations=st.integers(1, 3),
        law=laws(),
    )
    return SitePath(
        check_in=draw(works()),
        mark=mark,
        accessible=accessible,
        accessible_share_ppm=share,
        cast=cast,
        jams=draw(jams) if cast is not None else None,
        curbside=draw(st.none() | curbs),
        accessible_open=both and reference_only and draw(st.booleans()),
        patience=draw(st.none() | laws(3_000_000)) if reference_only else None,
    )


@st.composite
def arrival_days(draw: st.DrawFn) -> ArrivalDay:
    """Any short day: quarter hours without arrivals, a cut last slot, breaks, shifts."""
    open_ms = draw(st.integers(0, 9 * HOUR_MS))
    close_ms = open_ms + draw(st.integers(1, 2 * HOUR_MS))
    slots = -(-(close_ms - open_ms) // SLOT_MS)
    weights = draw(st.lists(st.integers(0, 9), min_size=slots, max_size=slots).filter(any))
    moments = st.integers(max(0, open_ms - HOUR_MS), close_ms + HOUR_MS)
    breaks, absences = [], []
    for stage in draw(st.lists(st.sampled_from(SIZED), max_size=2)):
        start = draw(moments)
        lasts = draw(st.integers(1, HOUR_MS))
        breaks.append(
            Breaks(
                stage=stage,
                lasts_ms=lasts,
                from_ms=start,
                until_ms=start + lasts + draw(st.integers(0, HOUR_MS)),
            )
        )
    for stage in draw(st.lists(st.sampled_from(SIZED), max_size=4)):
        start = draw(moments)
        absences.append(
            Absence(
                stage=stage,
                from_ms=start,
                until_ms=start + draw(st.integers(1, HOUR_MS)),
                lasts_ms=draw(st.sampled_from([0, 1, 600_000])),
            )
        )
    return ArrivalDay(
        date=dt.date(2026, 11, 3),
        open_ms=open_ms,
        close_ms=close_ms,
        slot_weights=frozen_array(weights, "int64"),
        totals=frozen_array([draw(st.integers(0, 80))], "int64"),
        opening_line_share_ppm=draw(st.sampled_from([0, 20_000, 400_000, 1_000_000])),
        breaks=tuple(breaks),
        absences=tuple(absences),
    )


def counts_for(path: SitePath, numbers: tuple[int, int, int, int]) -> tuple[int, int, int, int]:
    """The numbers of the stages that can have a line, 0 for the others."""
    a, b, c, d = (n if limited else 0 for n, limited in zip(numbers, path.limited(), strict=True))
    return (a, b, c, d)
