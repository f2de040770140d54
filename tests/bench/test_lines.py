"""The bench of lines: its keys, its libraries telling the same day, its figures made of what it measured."""

from __future__ import annotations

import datetime as dt
import json
import statistics
from dataclasses import replace
from typing import Any

import msgspec
import numpy as np
import pytest
from bench.lines import ciw_days, simpy_days, speed
from bench.lines import run as lines
from bench.lines.county import SiteDay
from bench.lines.voters import Told, sample
from bench.now import run as now

from pollstead.cli.main import run
from pollstead.election.values import frozen_array
from pollstead.plan.lines import engine
from pollstead.plan.lines.trials import Trials
from pollstead.plan.terms.lines import (
    ArrivalDay,
    Breaks,
    LawKind,
    ServiceLaw,
    SitePath,
    Stage,
    StageWork,
    WaitLimit,
)

HOUR_MS, MINUTE_MS = 3_600_000, 60_000


def fixed(mean_ms: int) -> StageWork:
    """A step that takes the same time for everybody."""
    return StageWork(law=ServiceLaw(kind=LawKind.DETERMINISTIC, mean_ms=mean_ms))


def without_chance(*, breaks: bool) -> SiteDay:
    """Sixty voters at the door when it opens and no chance in anything."""
    rest = Breaks(
        stage=Stage.CHECK_IN, lasts_ms=15 * MINUTE_MS, from_ms=7 * HOUR_MS + 100_003, until_ms=8 * HOUR_MS
    )
    day = ArrivalDay(
        date=dt.date(2028, 11, 7),
        open_ms=7 * HOUR_MS,
        close_ms=9 * HOUR_MS,
        slot_weights=frozen_array([1] * 8, "int64"),
        totals=frozen_array([60], "int64"),
        opening_line_share_ppm=1_000_000,
        breaks=(rest,) if breaks else (),
    )
    path = SitePath(check_in=fixed(90_000), mark=fixed(300_000), cast=fixed(50_000))
    return SiteDay("S", path, day, (2, 5, 0, 1), WaitLimit(limit_ms=20 * MINUTE_MS, risk_ppm=50_000), 1)


def as_told(one: SiteDay) -> tuple[float, ...]:
    """The same figures from the day told event by event."""
    row = Trials(one.path, one.day, one.limit, one.key).told(one.counts, 0, 1)[0].row
    return tuple(row[k] for k in (engine.LONGEST, engine.OVER, engine.LAST_OUT, *speed.WAIT_COLUMNS[:4]))


def by_library(told: Told) -> tuple[float, ...]:
    """A library's figures in the same order."""
    return (told.longest_ms, told.over, told.last_out_ms, *told.waits_ms[:4])


@pytest.mark.parametrize("breaks", [True, False])
def test_simpy_tells_a_day_without_chance_to_the_millisecond(breaks: bool) -> None:
    """Waits by stage, the longest, those over the limit and the last one out; breaks make them longer."""
    one = without_chance(breaks=breaks)
    assert by_library(simpy_days.tell(one, np.random.default_rng(1))) == pytest.approx(as_told(one), abs=0.01)
    assert breaks == (as_told(one) != as_told(one.plain()))


def test_ciw_tells_the_same_plain_day() -> None:
    """The other library, on the day without breaks."""
    one = without_chance(breaks=True).plain()
    assert by_library(ciw_days.tell(one, np.random.default_rng(1))) == pytest.approx(as_told(one), abs=0.01)


def test_a_telling_with_slower_service_does_not_agree() -> None:
    """A tenth more time at check-in is found among 150 days; the same time agrees."""
    check_in = StageWork(law=ServiceLaw(mean_ms=100_000, cv_ppm=600_000))
    one = replace(without_chance(breaks=True), path=SitePath(check_in=check_in), counts=(2, 0, 0, 0))
    later = msgspec.structs.replace(one.day, opening_line_share_ppm=20_000)
    slow = StageWork(law=ServiceLaw(mean_ms=110_000, cv_ppm=600_000))
    one = replace(one, day=later)

    def slower(day: SiteDay, random: np.random.Generator) -> Told:
        return simpy_days.tell(replace(day, path=SitePath(check_in=slow)), random)

    for tell, agrees in ((simpy_days.tell, True), (slower, False)):
        side = speed.Theirs(tell, [one] * 50, 3, 1)
        for number in range(3):
            side.round(number)
        assert side.beside(speed.BESIDE)["agree"] is agrees


@pytest.mark.parametrize(
    "law",
    [
        ServiceLaw(mean_ms=90_000, cv_ppm=600_000),
        ServiceLaw(kind=LawKind.GAMMA, mean_ms=90_000, cv_ppm=600_000),
        ServiceLaw(kind=LawKind.EXPONENTIAL, mean_ms=90_000, cv_ppm=1_000_000),
        ServiceLaw(kind=LawKind.EMPIRICAL, mean_ms=90_000, quantiles_ms=(10_000, 60_000, 300_000)),
    ],
)
def test_libraries_draw_the_law_that_the_engine_draws(law: ServiceLaw) -> None:
    """Mean, and the spread that the law has."""
    drawn = sample(law, 40_000, np.random.default_rng(1))
    assert float(drawn.mean()) == pytest.approx(law.mean_ms, rel=0.02)
    if law.cv_ppm:
        assert float(drawn.std() / drawn.mean()) == pytest.approx(law.cv_ppm / 1e6, rel=0.04)


def test_days_that_are_told_slowly_are_fewer() -> None:
    """A plain day as often as wanted, a refused one as often as there is time, twice at least."""
    plain = without_chance(breaks=False)
    assert speed.days_each([plain], 512, 1.0) == 512
    slow = replace(plain, path=SitePath(check_in=fixed(1000), patience=plain.path.check_in.law))
    assert slow.refused() is not None
    assert speed.days_each([slow], 512, 0.36) == 100
    assert speed.days_each([slow], 512, 0.0) == 2


@pytest.fixture(scope="module")
def quick() -> dict[str, Any]:
    """A quick run of the whole bench."""
    result, _ = lines.result_of(lines.options_of(["--quick", "--seed", "3"]), lambda words: None)
    read: dict[str, Any] = json.loads(json.dumps(result))
    return read


def test_a_run_has_every_key_and_none_is_out_of_reason(quick: dict[str, Any]) -> None:
    """No speed is asked for: a busy machine is no fault."""
    assert list(quick)[1 : 1 + len(lines.KEYS)] == list(lines.KEYS)
    assert set(lines.AIMS) == set(lines.KEYS)
    assert quick["isa"] in ("avx512", "avx2", "sse", "other")
    assert quick["fast_share"] == 1.0  # breaks included
    assert quick["county"]["breaks at check-in"] == "15 min, added by the bench"
    assert quick["split_gap_pct"] >= 0.0
    assert quick["split_gain_pct"] < 100.0
    for key in ("ratio_simpy", "ratio_ciw", "threads_2_over_1", "county_over_simpy_one_day"):
        assert quick[key] > 0.0
    # What contains another thing takes longer, on any machine.
    assert quick["ratio_sampling_floor"] > 1.0


def test_the_ratios_are_those_of_the_figures_beside_them(quick: dict[str, Any]) -> None:
    """Medians of the rounds, both sides from the same run."""
    figures = quick["speed"]

    def rate(name: str) -> float:
        one = figures[name]
        return statistics.median(n / s for n, s in zip(one["voters"], one["cpu_s"], strict=True))

    assert quick["ratio_simpy"] == pytest.approx(rate("engine") / rate("simpy"), rel=0.01)
    assert quick["ratio_ciw"] == pytest.approx(rate("engine, plain days") / rate("ciw"), rel=0.01)
    many = quick["many_sites"]
    seconds = [statistics.median(many[name]) for name in ("ours_wall_s", "simpy_one_day_wall_s")]
    assert quick["county_over_simpy_one_day"] == pytest.approx(seconds[0] / seconds[1], rel=0.01)
    split = quick["split"]
    assert split["value_ms"] >= split["bound_ms"] > 0


def test_the_libraries_wait_as_long_as_the_engine(quick: dict[str, Any]) -> None:
    """Else the comparison says nothing."""
    assert quick["speed"]["beside"]["simpy"]["agree"]
    assert quick["speed"]["beside"]["ciw"]["agree"]


def test_people_get_a_table(quick: dict[str, Any], capsys: pytest.CaptureFixture[str]) -> None:
    """Every key with its aim."""
    lines.print_table(quick)
    told = capsys.readouterr().out
    assert all(key in told for key in lines.KEYS)
    assert "agree" in told


@pytest.mark.parametrize("wrong", [["--rounds", "0"], ["--workers", "0"], ["--quick", "--write"]])
@pytest.mark.parametrize("part", ["lines", "now"])
def test_a_run_that_makes_no_sense_is_refused(part: str, wrong: list[str]) -> None:
    """Nothing is measured and nothing kept."""
    with pytest.raises(SystemExit) as ended:
        {"lines": lines.main, "now": now.main}[part](wrong)
    assert ended.value.code == 2


def test_the_wait_now_is_held_to_true_days(capsys: pytest.CaptureFixture[str]) -> None:
    """A few sites and days through the whole bench."""
    assert run(["bench", "now", "--quick", "--json", "--workers", "1"]) == 0
    result = json.loads(capsys.readouterr().out)
    assert result["update"]["estimated"] <= result["update"]["sites"] == 6
    assert result["seconds_of_an_update"] == result["update"]["median_wall_s"] > 0
    exact = result["accuracy"]
    assert 0 < exact["known"] <= exact["asked"] == 4
    for one in (*exact["minutes"].values(), *exact["people"].values()):
        assert one["bands"] == 0 or (0 <= one["held"] <= 1 and one["mean_width"] >= 0)
