"""The invented county of `small/`, planned with a quick stand-in for sizing where waits do not matter."""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from pollstead.election.county import Election
from pollstead.intake.folder import Intake, read_folder
from pollstead.plan.compose import compose
from pollstead.plan.terms.lines import (
    LinesGiven,
    RiskEstimate,
    SiteLines,
    SizingAnswer,
    StationCounts,
    WaitFigures,
)
from pollstead.plan.terms.part import Effort, NoWatch, Outcome, Watch
from pollstead.plan.terms.version import NO_DECISIONS, Decisions, PlanVersion, Told

ROOT = Path(__file__).resolve().parents[2]
SHIPPED = ROOT / "src" / "pollstead" / "intake" / "data"


def by_rule_of_thumb(
    given: LinesGiven, seed: int, effort: Effort, watch: Watch | None = None, workers: int = 1
) -> Outcome[tuple[SizingAnswer, ...]]:
    """A stand-in for sizing: one station for so many voters of the busiest day, nobody ever waits."""
    return Outcome(tuple(_answer(site) for site in given.sites))


def _answer(site: SiteLines) -> SizingAnswer:
    voters = max(sorted(day.totals.tolist())[len(day.totals) // 2] for day in site.days)
    share = site.path.accessible_share_ppm
    shares = (1_000_000, 1_000_000, share, 1_000_000)
    works = site.path.works()
    bounds = zip(site.floor.by_stage(), site.fixed.by_stage(), site.ceiling.by_stage(), strict=True)
    numbers = []
    for work, part, (floor, fixed, ceiling) in zip(works, shares, bounds, strict=True):
        if work is None or not work.limited:
            numbers.append(0)
        elif fixed is not None:
            numbers.append(fixed)
        else:
            load = -(-voters * part * work.law.mean_ms // 30_000_000_000_000)
            numbers.append(min(max(floor, load), ceiling or 500))
    counts = StationCounts(**dict(zip(StationCounts.__struct_fields__, numbers, strict=True)))
    figures = WaitFigures(
        counts=counts,
        risk=RiskEstimate(over=0, days=1, low_ppm=0, high_ppm=975_000),
        mean_wait_ms=0,
        mean_by_stage_ms=(0, 0, 0, 0),
        p50_longest_ms=0,
        p90_longest_ms=0,
        p95_longest_ms=0,
        over_limit_ppm=0,
        last_out_ms=site.days[0].close_ms,
        binding=None,
    )
    return SizingAnswer(
        site=site.site,
        date=site.days[0].date,
        counts=counts,
        limit=site.limit,
        figures=figures,
        per_day=(figures,) * len(site.days),
        what_ifs=(),
        floor=site.floor,
        ceiling=site.ceiling,
        fixed=site.fixed,
        meets_limit=True,
        least=True,
        search_days=1,
        complete=True,
    )


Planner = Callable[..., PlanVersion]


@pytest.fixture(scope="session")
def rule_of_thumb() -> Callable[..., Any]:
    """The stand-in for sizing."""
    return by_rule_of_thumb


@pytest.fixture(scope="session")
def small() -> Intake:
    """The invented county of three sites, as read."""
    return read_folder(ROOT / "small")


@pytest.fixture(scope="session")
def county(small: Intake) -> Election:
    """The facts of the invented county."""
    assert small.election is not None
    return small.election


@pytest.fixture(scope="session")
def plan_of() -> Planner:
    """Plan an election with the stand-in for sizing."""

    def plan(election: Election, decisions: Decisions = NO_DECISIONS, **more: Any) -> PlanVersion:
        told = more.pop("told", Told())
        return compose(
            election,
            "0" * 64,
            decisions,
            more.pop("seed", 1),
            Effort.QUICK,
            NoWatch(),
            told=told,
            lines_run=by_rule_of_thumb,
            **more,
        )

    return plan


@pytest.fixture(scope="session")
def planned(county: Election, plan_of: Planner) -> PlanVersion:
    """The invented county's plan by the stand-in."""
    return plan_of(county)


@pytest.fixture
def county_of_kind(tmp_path: Path) -> Callable[[str], Intake]:
    """A county of one site with the shipped station types of a kind of site (A to E), open two days."""

    def make(letter: str) -> Intake:
        folder = tmp_path / letter
        folder.mkdir()
        shutil.copy(SHIPPED / f"station_types_{letter.lower()}.toml", folder / "station_types.toml")
        (folder / "county.toml").write_text(
            'county = "Larkmoor"\nname = "Invented"\nelection_day = 2028-11-07\nzone = "America/Chicago"\n',
            encoding="utf-8",
        )
        (folder / "sites.csv").write_text("id,name,registered\nT1,Test Hall,1800\n", encoding="utf-8")
        # The same devices on both days, so that what is carried over can be seen.
        (folder / "rules.toml").write_text(
            '[[setting]]\nrule = "early-devices"\nvalue = "stays in use"\n', encoding="utf-8"
        )
        days = [dt.date(2028, 11, 6), dt.date(2028, 11, 7)]
        rows = "".join(f"T1,{day.isoformat()},07:00,20:00\n" for day in days)
        (folder / "hours.csv").write_text("site,date,opens,closes\n" + rows, encoding="utf-8")
        return read_folder(folder)

    return make
