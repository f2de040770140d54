"""What one rule for numbers of stations would mean over very many sites: sums and counts, no site kept.

A *ratio rule* says how many voters of the day one station of each stage serves ("one check-in station for
each 150 voters"). Each site is simulated under each rule with the same voters; of a site nothing is kept but
what it adds to the rule's tally. Tallies are whole numbers, so their sum does not depend on who made which
part, nor in which order.
"""

from __future__ import annotations

from contextlib import closing
from typing import TYPE_CHECKING, Any

from pollstead.election.values import Value, require
from pollstead.plan.lines.trials import Counts, Trials
from pollstead.plan.terms.lines import WHOLE_PPM, ArrivalDay, SiteLines
from pollstead.plan.terms.part import NoWatch, Watch, derive_seed
from pollstead.plan.terms.spreading import InThreads, Spreading

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from pollstead.plan.terms.spreading import Given

BIN_MS = 300_000
BINS = 49
"""Day's longest waits are counted in steps of five minutes; the last bin holds four hours and more."""


class RatioRule(Value, frozen=True, kw_only=True):
    """Voters of the day for each station of a stage; the least number of each stage is one.

    `accessible` stations are a number, as laws count them by site and not by voters.
    """

    name: str
    voters_a_check_in: int
    voters_a_mark: int
    voters_a_cast: int
    accessible: int = 1

    def __post_init__(self) -> None:
        for name in ("voters_a_check_in", "voters_a_mark", "voters_a_cast", "accessible"):
            require(getattr(self, name) >= 1, f"{name} must be >= 1, got {getattr(self, name)}")


class RuleTally(Value, frozen=True, kw_only=True):
    """What a rule adds up to; every field is a count or a sum, so tallies are added field by field.

    `sites_over`: sites that miss the accepted risk on their day; `days` simulated, `days_over` whose longest
    wait passed the limit; `voters` simulated, `voters_over` who waited longer than the limit, `waits_ms` of
    all; `longest_bins` days by their longest wait in bins of `BIN_MS`; `refused` site-days of no voter at
    all, which are in no other field.
    """

    stations: tuple[int, int, int, int] = (0, 0, 0, 0)
    sites: int = 0
    sites_over: int = 0
    days: int = 0
    days_over: int = 0
    voters: int = 0
    voters_over: int = 0
    waits_ms: int = 0
    longest_bins: tuple[int, ...] = (0,) * BINS
    refused: int = 0

    def __add__(self, other: RuleTally) -> RuleTally:
        added: dict[str, Any] = {}
        for field in self.__struct_fields__:
            mine, theirs = getattr(self, field), getattr(other, field)
            if isinstance(mine, tuple):
                added[field] = tuple(a + b for a, b in zip(mine, theirs, strict=True))
            else:
                added[field] = mine + theirs
        return RuleTally(**added)

    @property
    def mean_wait_ms(self) -> int:
        """Mean wait of a voter, rounded down; 0 where nobody came."""
        return self.waits_ms // max(1, self.voters)

    @property
    def voters_over_ppm(self) -> int:
        """Share of voters who waited longer than the limit."""
        return self.voters_over * WHOLE_PPM // max(1, self.voters)


class SweepAsked(Value, frozen=True, kw_only=True):
    """What a sweep is asked for: the rules, days a site, the root seed."""

    rules: tuple[RatioRule, ...]
    days: int
    seed: int

    def __post_init__(self) -> None:
        require(len(self.rules) > 0, "a sweep needs at least one rule")
        require(self.days >= 1, f"days must be >= 1, got {self.days}")


def rule_counts(rule: RatioRule, site: SiteLines, day: ArrivalDay) -> Counts:
    """The numbers that a rule gives a site-day: mean of the demand draws over the ratio, rounded up."""
    draws = len(day.totals)
    whole = int(day.totals.sum())

    def stations(voters_each: int) -> int:
        return min(500, max(1, -(-whole // (voters_each * draws))))

    asked = (
        stations(rule.voters_a_check_in),
        stations(rule.voters_a_mark),
        rule.accessible,
        stations(rule.voters_a_cast),
    )
    a, b, c, d = (n if limited else 0 for n, limited in zip(asked, site.path.limited(), strict=True))
    return (a, b, c, d)


def site_tallies(site: SiteLines, asked: SweepAsked) -> tuple[RuleTally, ...]:
    """One site's part of each rule's tally, all its days together; the rules meet the same voters."""
    from pollstead.plan.lines import engine

    by_stage = (
        engine.SUM_CHECK_IN, engine.SUM_MARK, engine.SUM_ACCESSIBLE, engine.SUM_CAST, engine.SUM_CURBSIDE,
    )  # fmt: skip
    made = [RuleTally() for _ in asked.rules]
    over_on_a_day = [False] * len(asked.rules)
    most_over = site.limit.risk_ppm * asked.days // WHOLE_PPM
    for day in site.days:
        if int(day.totals.max()) == 0:
            made = [one + RuleTally(refused=1) for one in made]
            continue
        key = derive_seed(asked.seed, "sweep", site.seed_key, f"day {day.date.isoformat()}")
        trials = Trials(site.path, day, site.limit, key, kept_bytes=0)
        counts = [rule_counts(rule, site, day) for rule in asked.rules]
        distinct = sorted(set(counts))
        rows = trials.rows(distinct, 0, asked.days)
        voters = trials.work_units // len(distinct)
        for k, one in enumerate(counts):
            mine = rows[distinct.index(one)]
            longest = mine[:, engine.LONGEST]
            days_over = int((longest > site.limit.limit_ms).sum())
            over_on_a_day[k] = over_on_a_day[k] or days_over > most_over
            bins = [0] * BINS
            for wait in longest.tolist():
                bins[min(BINS - 1, wait // BIN_MS)] += 1
            made[k] += RuleTally(
                stations=one,
                days=asked.days,
                days_over=days_over,
                voters=voters,
                voters_over=int(mine[:, engine.OVER].sum()),
                waits_ms=int(mine[:, by_stage].sum()),
                longest_bins=tuple(bins),
            )
    return tuple(
        one + RuleTally(sites=1, sites_over=int(over)) for one, over in zip(made, over_on_a_day, strict=True)
    )


def added(one: tuple[RuleTally, ...], other: tuple[RuleTally, ...]) -> tuple[RuleTally, ...]:
    """Two tallies of the same rules, added rule by rule."""
    return tuple(a + b for a, b in zip(one, other, strict=True))


def sweep(
    parts: Sequence[Given],
    make: Callable[[Given], tuple[RuleTally, ...]],
    watch: Watch | None = None,
    spreading: Spreading | None = None,
) -> tuple[RuleTally, ...]:
    """Add up what `make` gives for each part; the same for any `spreading`. `watch` hears of each part.

    A part may be a few numbers from which `make` builds its sites, so that no list of sites travels.
    Raises ValueError for no part.
    """
    require(len(parts) > 0, "a sweep needs at least one part")
    watch = watch or NoWatch()
    total: tuple[RuleTally, ...] = ()
    with closing((spreading or InThreads(1)).in_order(make, parts)) as made:
        for done, tallies in enumerate(made, 1):
            total = added(total, tallies) if total else tallies
            watch.step("sweep", done, len(parts))
    return total


def sites_together(given: tuple[tuple[SiteLines, ...], SweepAsked]) -> tuple[RuleTally, ...]:
    """The tallies of some sites: a `make` for parts that are sites themselves."""
    sites, asked = given
    total = site_tallies(sites[0], asked)
    for site in sites[1:]:
        total = added(total, site_tallies(site, asked))
    return total
