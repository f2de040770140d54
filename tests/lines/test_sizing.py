"""The numbers of stations: least-cost by the acceptance rule, bounds kept, people obeyed, reasons checked."""

from __future__ import annotations

import datetime as dt
import itertools

import msgspec
import numpy as np
import pytest

from pollstead.election.notice import NoticeKind
from pollstead.election.values import frozen_array
from pollstead.plan.lines.deciding import Deciding
from pollstead.plan.lines.run import run, size_site
from pollstead.plan.lines.sizing import DAYS, TOLD_DAYS, DaySearch
from pollstead.plan.lines.trials import FRESH_FROM, Trials
from pollstead.plan.terms.lines import (
    SIZED,
    ArrivalDay,
    Change,
    Curbside,
    LinesGiven,
    ServiceLaw,
    SiteLines,
    SitePath,
    SizingAnswer,
    Stage,
    StageWork,
    StationChoice,
    StationCounts,
    WaitLimit,
)
from pollstead.plan.terms.part import Cancelled, Effort

pytestmark = pytest.mark.full

HOUR_MS = 3_600_000
ELECTION_DAY = dt.date(2028, 11, 7)
WEIGHTS = [9, 8, 7, 6] + [4] * 16 + [5] * 8 + [8, 8, 9, 9] * 4 + [5, 4, 3, 3] * 2


def work(mean_s: int, cv_ppm: int = 600_000) -> StageWork:
    """A step with lognormal service and a line."""
    return StageWork(law=ServiceLaw(mean_ms=mean_s * 1000, cv_ppm=cv_ppm))


PAPER = SitePath(
    check_in=work(85),
    mark=work(300, 500_000),
    accessible=work(600),
    accessible_share_ppm=20_000,
    cast=work(20),
)
ELECTRONIC = SitePath(check_in=work(85), mark=work(240))


def a_day(voters: int, date: dt.date = ELECTION_DAY, weights: list[int] | None = None) -> ArrivalDay:
    """07:00 to 20:00 with a morning and an evening peak; totals spread by 12 %."""
    totals = np.random.default_rng(voters).normal(voters, voters * 0.12, 200).round().clip(0)
    return ArrivalDay(
        date=date,
        open_ms=7 * HOUR_MS,
        close_ms=20 * HOUR_MS,
        slot_weights=frozen_array(weights or WEIGHTS, "int64"),
        totals=frozen_array(totals, "int64"),
        opening_line_share_ppm=20_000,
    )


def a_site(path: SitePath = PAPER, voters: int = 500, **changes: object) -> SiteLines:
    """An invented site; limit 30 minutes at 5 %."""
    site = SiteLines(
        site="site/S01",
        seed_key="S01",
        path=path,
        days=(a_day(voters),),
        limit=WaitLimit(limit_ms=1_800_000, risk_ppm=50_000),
    )
    return msgspec.structs.replace(site, **changes)


def sized(site: SiteLines, seed: int = 7, effort: Effort = Effort.QUICK) -> SizingAnswer:
    """The answer for one site."""
    return size_site(site, seed, effort)[0]


def true_share(site: SiteLines, counts: tuple[int, int, int, int], days: int = 8000) -> float:
    """The share of days over the limit on many days that no plan sees; 1 where few days are clearly over."""
    trials = DaySearch(site, site.days[0], 1_000_003, Effort.QUICK).trials
    few = trials.over([counts], 0, 200)[0][0]
    return 1.0 if few > 30 else trials.over([counts], 0, days)[0][0] / days


@pytest.mark.parametrize("voters", [60, 420, 900])
def test_no_cheaper_numbers_are_clearly_within_the_risk(voters: int) -> None:
    """Every combination that costs less, tried by brute force on 8,000 other days, is near 5 % or above."""
    site = a_site(ELECTRONIC, voters)
    answer = sized(site)
    assert answer.meets_limit
    assert answer.least
    a, b, _, _ = found = answer.counts.by_stage()
    assert true_share(site, found) <= 0.05
    near = itertools.product(range(max(1, a - 3), a + 4), range(max(1, b - 3), b + 4))
    shares = {(c, d): true_share(site, (c, d, 0, 0)) for c, d in near if c + d < a + b}
    assert min(shares.values(), default=1.0) > 0.04, shares


def test_costs_decide_between_accepted_numbers() -> None:
    """When voting stations cost five times as much, no combination near the answer is cheaper and within."""
    costs = (1, 5, 5, 1)
    site = a_site(PAPER, 700, costs=costs)
    answer = sized(site)

    def cost(counts: tuple[int, ...]) -> int:
        return sum(c * n for c, n in zip(costs, counts, strict=True))

    found = answer.counts.by_stage()
    steps = itertools.product((-1, 0, 1, 2), (-1, 0), (-1, 0), (-1, 0))
    for step in steps:
        a, b, c, d = (n + s for n, s in zip(found, step, strict=True))
        if min(a, b, c, d) >= 1 and cost((a, b, c, d)) < cost(found):
            assert true_share(site, (a, b, c, d), 1000) > 0.04, (a, b, c, d)


def test_one_fewer_of_any_stage_is_not_accepted_and_is_shown() -> None:
    """What-ifs hold one fewer of each stage with more than one station, on the same fresh days."""
    answer = sized(a_site())
    assert answer.least
    fewer = {w.stage: w for w in answer.what_ifs if w.change is Change.ONE_FEWER}
    for k, stage in enumerate(SIZED):
        counts = list(answer.counts.by_stage())
        if counts[k] < 2:
            assert stage not in fewer
            continue
        counts[k] -= 1
        assert fewer[stage].figures.counts.by_stage() == tuple(counts)
        assert answer.compared is not None
        assert fewer[stage].figures.risk.over > answer.compared.risk.over
    down = next(w for w in answer.what_ifs if w.change is Change.ONE_DOWN)
    assert down.figures.risk.over == max(w.figures.risk.over for w in fewer.values())


def test_late_doors_and_more_voters_make_it_worse() -> None:
    """Doors 60 minutes late: the opening line waits an hour at least, so every day passes 30 minutes."""
    answer = sized(a_site())
    late = next(w for w in answer.what_ifs if w.change is Change.LATE)
    more = next(w for w in answer.what_ifs if w.change is Change.TURNOUT)
    assert late.figures.risk.risk_ppm == 1_000_000
    assert late.figures.p50_longest_ms >= HOUR_MS
    assert more.figures.risk.over > answer.figures.risk.over
    assert more.figures.mean_wait_ms > answer.figures.mean_wait_ms


def test_figures_come_from_fresh_days_and_can_be_had_again() -> None:
    """Risk, interval and percentiles follow from the engine's rows of the fresh days."""
    site = a_site()
    answer = sized(site)
    search = DaySearch(site, site.days[0], 7, Effort.QUICK)
    figures = answer.figures
    days = figures.risk.days
    rows = search.trials.rows([answer.counts.by_stage()], FRESH_FROM, days)[0]
    longest = sorted(rows[:, 0].tolist())
    assert answer.search_days == 200 and days in (200, 400, 800, 1600, 3200)
    assert figures.risk.over == sum(1 for x in longest if x > 1_800_000)
    assert figures.risk.low_ppm <= figures.risk.risk_ppm <= figures.risk.high_ppm <= 50_000
    # Nearest rank: of 200 days entries 100, 180 and 190, of more in proportion.
    assert (figures.p50_longest_ms, figures.p90_longest_ms, figures.p95_longest_ms) == (
        longest[days // 2 - 1],
        longest[days // 10 * 9 - 1],
        longest[days // 20 * 19 - 1],
    )


def test_a_fixed_number_is_honoured_and_the_rest_is_sized() -> None:
    """A person's 5 check-in stations stay 5; the others are no more than without it."""
    free = sized(a_site())
    answer = sized(a_site(fixed=StationChoice(check_in=5)))
    assert answer.counts.check_in == 5
    assert answer.meets_limit
    assert answer.counts.mark <= free.counts.mark + 1


def test_fixed_numbers_that_miss_the_limit_are_a_rule_not_met() -> None:
    """One check-in station cannot do; the number stands, and a notice says what it does and what next."""
    outcome = run(LinesGiven(sites=(a_site(fixed=StationChoice(check_in=1)),)), 7, Effort.QUICK)
    answer = outcome.value[0]
    assert answer.counts.check_in == 1
    assert not answer.meets_limit
    notice = next(n for n in outcome.notices if n.rule == "wait-limit")
    assert notice.kind is NoticeKind.RULE_NOT_MET
    assert notice.subject == "site/S01"
    assert f"{answer.figures.risk.over} of 200 simulated days" in notice.text.english()
    assert notice.remedy is not None
    # Decided on these days; other days over the limit open it again.
    assert f"{answer.figures.risk.over}/200" in notice.depends
    said = {reason.field: reason.text.english() for reason in outcome.reasons}
    assert said["check_in"].startswith("A person fixed this number")
    assert "more often than accepted" in said["mark"]


def test_a_ceiling_that_cannot_keep_the_limit_gives_the_most_and_says_so() -> None:
    """Six voting stations are too few for 900 voters: all six are used and the rule is not met."""
    outcome = run(LinesGiven(sites=(a_site(PAPER, 900, ceiling=StationChoice(mark=6)),)), 7, Effort.QUICK)
    assert outcome.value[0].counts.mark == 6
    assert not outcome.value[0].meets_limit
    assert [n.rule for n in outcome.notices] == ["wait-limit"]
    assert outcome.complete


def test_a_ceiling_that_suffices_is_kept() -> None:
    """A ceiling at the free answer changes nothing."""
    free = sized(a_site())
    counts = free.counts
    ceiling = StationChoice(
        check_in=counts.check_in, mark=counts.mark, mark_accessible=counts.mark_accessible, cast=counts.cast
    )
    assert sized(a_site(ceiling=ceiling)).counts == counts


def test_floors_of_the_rules_are_kept_and_one_above_a_ceiling_is_reported() -> None:
    """The rule's 12 voting stations win over a room for 8, and a notice names both numbers."""
    floor = StationCounts(check_in=2, mark=12, mark_accessible=2, cast=1)
    outcome = run(
        LinesGiven(sites=(a_site(PAPER, 200, floor=floor, ceiling=StationChoice(mark=8)),)), 7, Effort.QUICK
    )
    assert outcome.value[0].counts.by_stage() >= floor.by_stage()
    assert outcome.value[0].counts.mark == 12
    notice = next(n for n in outcome.notices if n.rule == "stations-bound-mark")
    assert (notice.found, notice.wanted) == ("8", "12")


def test_a_step_without_a_line_gets_no_stations() -> None:
    """A ballot box and open tables: only check-in is sized; the others are 0."""
    path = SitePath(
        check_in=work(85),
        mark=StageWork(law=ServiceLaw(mean_ms=300_000, cv_ppm=500_000), limited=False),
        cast=StageWork(law=ServiceLaw(mean_ms=5_000), limited=False),
    )
    assert sized(a_site(path)).counts.by_stage()[1:] == (0, 0, 0)


def test_a_site_without_any_line_gets_no_stations_and_no_waits() -> None:
    """Nothing is limited: all numbers are 0 and the limit is kept."""
    open_work = StageWork(law=ServiceLaw(mean_ms=60_000), limited=False)
    answer = sized(a_site(SitePath(check_in=open_work)))
    assert answer.counts.by_stage() == (0, 0, 0, 0)
    assert answer.meets_limit
    assert [w.change for w in answer.what_ifs] == [Change.LATE, Change.TURNOUT]


def test_a_long_ballot_is_marked_and_cast_slower_by_the_same_voters() -> None:
    """The what-if is the site simulated with both means longer, on the same days, voter by voter the same."""
    site = a_site(long_ballot_percent=150)
    answer = sized(site)
    told = next(w for w in answer.what_ifs if w.change is Change.LONG_BALLOT)
    path = SitePath(
        check_in=work(85),
        mark=work(450, 500_000),
        accessible=work(900),
        accessible_share_ppm=20_000,
        cast=work(30),
    )
    other = DaySearch(msgspec.structs.replace(site, path=path), site.days[0], 7, Effort.QUICK)
    by_hand = other.trials.figures([answer.counts.by_stage()], FRESH_FROM, answer.search_days)[0]
    assert told.figures == by_hand
    assert told.percent == 50
    assert told.figures.risk.over > answer.figures.risk.over
    assert Change.LONG_BALLOT not in {w.change for w in sized(a_site()).what_ifs}


def test_worth_of_a_station_is_the_difference_of_all_waits_on_the_same_days() -> None:
    """Voter-minutes a day follow from the engine's rows: all waits of all days, over days and minutes."""
    site = a_site()
    answer = sized(site)
    assert answer.compared is not None
    search = DaySearch(site, site.days[0], 7, Effort.QUICK)
    shown = [(answer.counts, answer.compared), *((w.figures.counts, w.figures) for w in answer.what_ifs[:7])]
    for counts, figures in shown:
        ((over, waits),) = search.trials.over([counts.by_stage()], FRESH_FROM, 200)
        assert (figures.risk.over, figures.risk.days) == (over, 200)
        assert figures.voter_minutes_a_day == round(waits / 200 / 60_000)
    fewer = [w for w in answer.what_ifs if w.change is Change.ONE_FEWER]
    assert all(w.figures.voter_minutes_a_day > answer.compared.voter_minutes_a_day for w in fewer)


def test_numbers_that_were_sized_are_never_close_and_those_that_a_person_fixed_may_be() -> None:
    """A fixed number whose share is the accepted risk itself: all fresh days, and words for it."""
    free = run(LinesGiven(sites=(a_site(PAPER, 700),)), 7, Effort.QUICK)
    answer = free.value[0]
    assert answer.meets_limit and not answer.undecided
    assert answer.figures.risk.decides(50_000)
    counts = answer.counts
    one_fewer = StationChoice(
        check_in=counts.check_in,
        mark=counts.mark - 1,
        mark_accessible=counts.mark_accessible,
        cast=counts.cast,
    )
    site = a_site(PAPER, 700, fixed=one_fewer)
    over = true_share(site, (counts.check_in, counts.mark - 1, counts.mark_accessible, counts.cast))
    limit = WaitLimit(limit_ms=1_800_000, risk_ppm=round(over * 1e6))
    close = run(LinesGiven(sites=(msgspec.structs.replace(site, limit=limit),)), 7, Effort.QUICK).value[0]
    assert close.undecided
    assert close.figures.risk.days == 3200
    assert close.figures.risk.low_ppm <= limit.risk_ppm < close.figures.risk.high_ppm
    assert close.compared is not None
    assert close.compared.risk.days == close.search_days == 200


@pytest.mark.full
def test_numbers_that_are_above_the_risk_are_called_within_it_in_five_of_a_hundred_at_most() -> None:
    """A site whose true share is known by 200,000 days, the risk set just below it: 50 seeds try them.

    The chance of a first try is half of 5 %, so that 1.25 of 50 are expected at most; 5 or more would come up
    about once in a hundred.
    """
    site = a_site(SitePath(check_in=work(85)), 320)
    counts = (1, 0, 0, 0)
    day = site.days[0]
    one = Trials(site.path, day, site.limit, 1_000_003, 0)
    over = sum(one.over([counts], at, 20_000)[0][0] for at in range(0, 200_000, 20_000))
    limit = WaitLimit(limit_ms=site.limit.limit_ms, risk_ppm=over * 5 - over * 5 // 100)
    assert 10_000 < limit.risk_ppm < 300_000
    wrong = 0
    for seed in range(50):
        wrong += Deciding(Trials(site.path, day, limit, 7000 + seed), 200, limit.risk_ppm).accepts(counts)
    assert wrong < 5, wrong


def test_where_the_curb_decides_the_stations_inside_are_sized_and_the_remedy_names_the_curb() -> None:
    """One place for a third of the voters at the curb: no station inside helps, and the notice says which."""
    curbside = Curbside(share_ppm=330_000, stations=1, law=ServiceLaw(mean_ms=900_000, cv_ppm=500_000))
    path = SitePath(check_in=work(85), curbside=curbside)
    outcome = run(LinesGiven(sites=(a_site(path, 100),)), 7, Effort.QUICK)
    answer = outcome.value[0]
    assert not answer.meets_limit
    assert answer.figures.binding is Stage.CURBSIDE
    assert max(answer.counts.by_stage()) <= 3
    notice = next(n for n in outcome.notices if n.rule == "wait-limit")
    assert notice.remedy is not None and "curbside-stations" in notice.remedy.english()


def test_days_told_event_by_event_are_fewer_and_a_notice_says_why_and_how_many() -> None:
    """A path that the compiled engine refuses: its words, the days of the search, the share of fast days."""
    only = SitePath(check_in=work(85))
    path = msgspec.structs.replace(only, patience=ServiceLaw(mean_ms=7_200_000, cv_ppm=500_000))
    sites = (a_site(path, 30), a_site(only, 30, site="site/S02", seed_key="S02"))
    outcome = run(LinesGiven(sites=sites), 7, Effort.QUICK)
    singly, fast = outcome.value
    assert (singly.search_days, fast.search_days) == (TOLD_DAYS[Effort.QUICK], DAYS[Effort.QUICK])
    assert (singly.fast_ppm, fast.fast_ppm) == (0, 1_000_000)
    (notice,) = [n for n in outcome.notices if n.rule == "lines-told-singly"]
    words = notice.text.english()
    assert "voters who leave the line" in words and "64 in a search instead of 200" in words
    assert "1 sites" in words and "50.0 %" in words


def test_an_engine_that_failed_its_own_test_is_told_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """The plan's numbers are the reference engine's, the same, and one notice says so."""
    site = a_site(SitePath(check_in=work(85)), 20, fixed=StationChoice(check_in=1))
    trusted = sized(site)
    for module in ("run", "trials"):
        monkeypatch.setattr(f"pollstead.plan.lines.{module}.fast_engine_is_right", lambda: False)
    outcome = run(LinesGiven(sites=(site,)), 7, Effort.QUICK)
    assert outcome.value[0].figures == trusted.figures
    assert [n.rule for n in outcome.notices] == ["lines-engine-failed-test"]


def test_a_search_at_its_bound_of_work_still_keeps_the_limit_and_says_so(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """With a bound of one candidate the search climbs: numbers are accepted, but not called complete."""
    monkeypatch.setattr("pollstead.plan.lines.sizing.MOST_LOOKS", 1)
    outcome = run(LinesGiven(sites=(a_site(PAPER, 700),)), 7, Effort.QUICK)
    assert outcome.value[0].meets_limit
    assert outcome.value[0].least
    assert not outcome.complete
    assert [n.rule for n in outcome.notices] == ["lines-search-ended"]


def test_a_site_that_expects_nobody_gets_one_of_each() -> None:
    """No voters, no waits: one station a stage, risk 0 with its interval."""
    day = msgspec.structs.replace(a_day(10), totals=frozen_array([0, 0, 0], "int64"))
    answer = sized(a_site(days=(day,)))
    assert answer.counts.by_stage() == (1, 1, 1, 1)
    assert answer.figures.risk.over == 0
    assert answer.figures.binding is None


def test_numbers_serve_every_day_of_a_site_of_several_days() -> None:
    """Four days, two of them alike: the limit is kept on each day, on its own draws."""
    first, last = dt.date(2028, 11, 4), dt.date(2028, 11, 6)
    evening = [1] * 40 + [9] * 12
    days = (
        a_day(250, first),
        a_day(600, dt.date(2028, 11, 5)),
        a_day(250, last),
        a_day(400, weights=evening),
    )
    answer = sized(a_site(days=days))
    assert answer.meets_limit
    assert len(answer.per_day) == 4
    assert answer.per_day[0] == answer.per_day[2]
    for figures in answer.per_day:
        assert figures.counts == answer.counts
        assert figures.risk.meets(50_000)
    assert answer.counts.mark >= sized(a_site(days=days[1:2])).counts.mark


def test_answers_do_not_depend_on_threads_or_on_other_sites() -> None:
    """One or two workers, alone or among others: the same answer, to the last figure."""
    sites = tuple(a_site(PAPER, 200 + 150 * k, site=f"site/S{k:02}", seed_key=f"S{k:02}") for k in range(4))
    one = run(LinesGiven(sites=sites), 7, Effort.QUICK)
    two = run(LinesGiven(sites=sites), 7, Effort.QUICK, workers=2)
    assert one.value == two.value
    assert one.work_units == two.work_units
    assert run(LinesGiven(sites=sites[2:3]), 7, Effort.QUICK).value[0] == one.value[2]


def test_another_seed_key_or_root_seed_gives_other_days() -> None:
    """Draws follow root seed and seed key, not the site's id."""
    base = sized(a_site())
    assert sized(a_site(site="site/S99")).figures == base.figures
    assert sized(a_site(seed_key="S02")).figures != base.figures
    assert sized(a_site(), seed=8).figures != base.figures


def test_each_reason_can_be_computed_again() -> None:
    """Load = voters of the busiest hour x share x mean time; risk and neighbours are those of the figures."""
    outcome = run(LinesGiven(sites=(a_site(),)), 7, Effort.QUICK)
    answer = outcome.value[0]
    assert [r.field for r in outcome.reasons] == ["check_in", "mark", "mark_accessible", "cast"]
    for reason in outcome.reasons:
        value = {f.name: f.value.replace(",", "") for f in reason.figures}
        voters = float(value["Voters in the busiest hour, mean of the demand draws"])
        share = int(value["Share of voters who come to this stage"]) / 1e6
        load = voters * share * float(value["Mean time at the station"]) / 3600
        assert float(value["Load in the busiest hour"]) == pytest.approx(load, abs=0.002)
        assert int(value["Stations"]) == getattr(answer.counts, reason.field)
        assert int(value["Days simulated"]) == answer.figures.risk.days
        assert int(value["Days on which the longest wait passes the limit"]) == answer.figures.risk.over
        assert load < int(value["Stations"]) or reason.field != "check_in"
    # The busiest four quarter hours in a row by hand: 8+8+9+9 of the weights' sum, 98 % of the mean total.
    mean = float(a_site().days[0].totals.mean())
    assert voters == pytest.approx(mean * 0.98 * 34 / sum(WEIGHTS), abs=0.01)


@pytest.mark.full
def test_the_printed_interval_holds_the_true_risk() -> None:
    """Twenty seeds near the limit: 95 % intervals hold the risk of 20,000 other days in at least 17."""
    site = a_site(PAPER, 700)
    risk: dict[tuple[int, int, int, int], float] = {}
    held = 0
    for seed in range(20):
        answer = sized(site, seed)
        counts = answer.counts.by_stage()
        if counts not in risk:
            search = DaySearch(site, site.days[0], 1_000_003, Effort.QUICK)
            risk[counts] = search.trials.over([counts], 0, 20_000)[0][0] / 20_000 * 1e6
        held += answer.figures.risk.low_ppm <= risk[counts] <= answer.figures.risk.high_ppm
    assert held >= 17, (held, risk)


class _StopAtTwo:
    def step(self, part: str, done: int, total: int) -> None:
        if done == 2:
            raise Cancelled(f"{part} stopped at {done} of {total}")


def test_a_person_can_stop_the_work_between_sites() -> None:
    """The watch hears of each site and its refusal ends the work."""
    sites = tuple(a_site(ELECTRONIC, 100, site=f"site/S{k}", seed_key=f"S{k}") for k in range(5))
    with pytest.raises(Cancelled, match="stopped at 2 of 5"):
        run(LinesGiven(sites=sites), 7, Effort.QUICK, watch=_StopAtTwo())


def test_more_effort_means_more_days_and_a_narrower_interval() -> None:
    """Usual effort uses 1,000 search days and 1,000 fresh ones."""
    quick, usual = sized(a_site(ELECTRONIC)), sized(a_site(ELECTRONIC), effort=Effort.USUAL)
    assert usual.figures.risk.days >= usual.search_days == 1000

    def width(answer: SizingAnswer) -> int:
        return answer.figures.risk.high_ppm - answer.figures.risk.low_ppm

    assert width(usual) < width(quick) or usual.figures.risk.over > quick.figures.risk.over * 5


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: ServiceLaw(mean_ms=0), "mean_ms must be 1 to 14,400,000, got 0"),
        (lambda: WaitLimit(limit_ms=1, risk_ppm=1_000_000), "risk_ppm must be 0 to 999,999, got 1000000"),
        (lambda: SitePath(check_in=work(9), accessible_share_ppm=1), "has no accessible voting station"),
        (lambda: StationChoice(mark=0), "mark must be 1 to 500, got 0"),
        (lambda: a_site(days=()), "needs at least one day"),
        (lambda: run(LinesGiven(sites=()), 1, Effort.QUICK, workers=0), "workers must be >= 1, got 0"),
    ],
)
def test_wrong_input_is_named(make: object, said: str) -> None:
    """Each message names the argument, its bound and the value."""
    with pytest.raises(ValueError, match=r"must|needs|has no") as error:
        make()  # type: ignore[operator]
    assert said in str(error.value)
