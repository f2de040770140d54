"""Demand of every site-day: joint draws of voters, their shape over the day, reasons, assumptions."""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING, Any

from pollstead.election.county import Assumption, Election, Hours, Site
from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.rules import CountyRules
from pollstead.election.values import Value, frozen_array
from pollstead.election.words import N_, message
from pollstead.plan.demand.past import (
    EARLY,
    ELECTION_DAY,
    DayShares,
    Past,
    early_day_shares,
    past_rates,
    registered_now,
    stand_in_registered,
)
from pollstead.plan.demand.pooling import PastRate, RateModel, draw_ballots, draw_tide, fit_rates
from pollstead.plan.demand.shape import assumed_arrivals, slot_weights
from pollstead.plan.terms.demand import DemandDraws, SiteDay
from pollstead.plan.terms.part import Effort, Figure, Outcome, Reason, Watch, derive_seed

if TYPE_CHECKING:
    import numpy as np

DRAWS = {Effort.QUICK: 200, Effort.USUAL: 1000, Effort.DEEP: 4000}
ASSUMED_TURNOUT = (35, 100)
"""In-person turnout where there is no past election at all (our stand-in, marked as an assumption)."""
ASSUMED_EARLY_PER_DAY = (1, 3)
"""An early day's voters as a part of election day's, where no early counts are known (our stand-in)."""
ASSUMED_OPENS_MIN = 7 * 60
ASSUMED_CLOSES_MIN = 20 * 60
EXPECTED_SPREAD = 0.15
"""Spread (log scale) around a number of voters that a person has given (our choice)."""


class DemandGiven(Value, frozen=True, kw_only=True):
    """What demand needs: the facts, and the sites to leave out because their facts contradict."""

    election: Election
    leave_out: tuple[str, ...] = ()


class DemandResult(Value, frozen=True, kw_only=True):
    """Draws, and what had to be assumed."""

    draws: DemandDraws
    assumptions: tuple[Assumption, ...] = ()


def run(
    given: DemandGiven, rules: CountyRules, seed: int, effort: Effort, watch: Watch
) -> Outcome[DemandResult]:
    """Draw voters for each site and operating day.

    Sites are worked in the order of their seed keys, so that neither the order of rows nor the ids
    change any draw. A site without registered voters, past counts or an expected number gets no
    site-day; an open item says so.
    """
    election = given.election
    sites = sorted((s for s in election.sites if s.id not in given.leave_out), key=lambda s: s.key)
    order = {s.id: i for i, s in enumerate(sites)}
    base = stand_in_registered(election) | registered_now(election)
    n_draws = DRAWS[effort]
    assumptions: list[Assumption] = []
    notices: list[Notice] = []
    reasons: list[Reason] = []
    arrivals = election.arrivals
    if not arrivals:
        arrivals = assumed_arrivals()
        assumptions.append(
            Assumption(
                subject="county",
                field="arrivals",
                value="12.5 % in the first hour, 8 % at noon, 9.5 % from 17:00",
                why=message(N_("No list says when in the day voters came")),
                list_wanted="arrivals.csv",
            )
        )
    day_past = past_rates(election, ELECTION_DAY, order, base)
    day_model = _fit_election_day(day_past, len(order), assumptions)
    early_past = past_rates(election, EARLY, order, base)
    early_model = fit_rates(early_past.rows, len(order), early_past.comparable) if early_past.rows else None
    day_tide = draw_tide(day_model, _rng(seed, "county", "tide"), n_draws)
    early_tide = draw_tide(early_model, _rng(seed, "county", "early tide"), n_draws) if early_model else None

    columns: list[np.ndarray[Any, Any]] = []
    site_days: list[SiteDay] = []
    weights: list[tuple[int, ...]] = []
    for done, site in enumerate(sites):
        watch.step("demand", done, len(sites))
        hours = site.hours or _assumed_hours(election, site, assumptions)
        votes = _election_day_votes(site, order, base, day_model, day_tide, seed, assumptions)
        if votes is None:
            notices.append(_no_voters(site))
            continue
        reasons.append(_reason(site, order[site.id], base, day_model, day_past))
        early_dates = [h.date for h in hours if h.date < election.election_day]
        early = _early_votes(
            election, site, order, base, early_model, early_tide, votes, early_dates, seed, assumptions
        )
        for hour in hours:
            site_days.append(
                SiteDay(
                    site=site.id,
                    seed_key=site.key,
                    date=hour.date,
                    opens_min=hour.opens_min,
                    closes_min=hour.closes_min,
                )
            )
            columns.append(early.get(hour.date, votes))
            weights.append(slot_weights(arrivals, hour.opens_min, hour.closes_min))
    watch.step("demand", len(sites), len(sites))
    draws = _pack(site_days, columns, weights, n_draws, rules)
    return Outcome(
        DemandResult(draws=draws, assumptions=tuple(assumptions)),
        notices=tuple(notices),
        reasons=tuple(reasons),
        work_units=n_draws * len(site_days),
    )


def _rng(seed: int, seed_key: str, purpose: str) -> np.random.Generator:
    import numpy as np

    return np.random.Generator(np.random.PCG64(derive_seed(seed, "demand", seed_key, purpose)))


def _fit_election_day(past: Past, n_sites: int, assumptions: list[Assumption]) -> RateModel:
    if past.rows:
        if len(past.elections) == 1:
            assumptions.append(
                Assumption(
                    subject="county",
                    field="change between elections",
                    value="22 % up or down",
                    why=message(
                        N_("One past election cannot say how far turnout moves from one to the next")
                    ),
                    list_wanted="history.csv",
                )
            )
        return fit_rates(past.rows, n_sites, past.comparable)
    part, whole = ASSUMED_TURNOUT
    assumptions.append(
        Assumption(
            subject="county",
            field="in-person turnout",
            value=f"{part} of {whole} registered",
            why=message(N_("No past election is in the facts")),
            list_wanted="history.csv",
        )
    )
    # The assumed rate belongs to a place of its own, so that no site is taken to have a past.
    stand_in = PastRate(site=n_sites, election=0, ballots=part * 100, registered=whole * 100)
    return fit_rates((stand_in,), n_sites + 1, (True,))


def _assumed_hours(election: Election, site: Site, assumptions: list[Assumption]) -> tuple[Hours, ...]:
    assumptions.append(
        Assumption(
            subject=f"site/{site.id}",
            field="hours",
            value="07:00 to 20:00 on election day",
            why=message(N_("No hours are given for this site")),
            list_wanted="hours.csv",
        )
    )
    return (Hours(date=election.election_day, opens_min=ASSUMED_OPENS_MIN, closes_min=ASSUMED_CLOSES_MIN),)


def _around(
    center: int, tide: np.ndarray[Any, Any], middle: float, rng: np.random.Generator
) -> np.ndarray[Any, Any]:
    """Draws around a number that a person gave: the county's tide and the person's own doubt."""
    import numpy as np

    spread = EXPECTED_SPREAD * rng.standard_normal(tide.shape[0])
    return np.asarray(rng.poisson(center * np.exp(0.5 * (tide - middle) + spread)), dtype=np.int32)


def _election_day_votes(
    site: Site,
    order: dict[str, int],
    base: dict[str, int],
    model: RateModel,
    tide: np.ndarray[Any, Any],
    seed: int,
    assumptions: list[Assumption],
) -> np.ndarray[Any, Any] | None:
    rng = _rng(seed, site.key, "election day")
    if site.expected_voters is not None:
        return _around(site.expected_voters, tide, model.center, rng)
    registered = base.get(site.id)
    if not registered:
        return None
    if model.own_share[order[site.id]] == 0.0 and site.id in base:
        assumptions.append(
            Assumption(
                subject=f"site/{site.id}",
                field="in-person turnout",
                value="the county's mean",
                why=message(N_("This site has no past counts of its own")),
                list_wanted="history.csv",
            )
        )
    return draw_ballots(model, order[site.id], registered, tide, rng)


def _early_votes(
    election: Election,
    site: Site,
    order: dict[str, int],
    base: dict[str, int],
    model: RateModel | None,
    tide: np.ndarray[Any, Any] | None,
    votes: np.ndarray[Any, Any],
    dates: list[dt.date],
    seed: int,
    assumptions: list[Assumption],
) -> dict[dt.date, np.ndarray[Any, Any]]:
    if not dates:
        return {}
    shares = early_day_shares(election, site.id)
    registered = sum(base.values())
    if model is None or tide is None or shares is None or not registered:
        part, whole = ASSUMED_EARLY_PER_DAY
        assumptions.append(
            Assumption(
                subject=f"site/{site.id}",
                field="early voters of a day",
                value=f"{part} of {whole} of election day's",
                why=message(N_("No past early counts by day are given for this site")),
                list_wanted="history.csv",
            )
        )
        return {date: (votes * part // whole).astype(votes.dtype) for date in dates}
    rng = _rng(seed, site.key, "early")
    total = draw_ballots(model, order[site.id], registered, tide, rng)
    return _split_over_days(shares, total, dates, election.election_day, rng)


def _split_over_days(
    shares: DayShares,
    total: np.ndarray[Any, Any],
    dates: list[dt.date],
    election_day: dt.date,
    rng: np.random.Generator,
) -> dict[dt.date, np.ndarray[Any, Any]]:
    """Split draws of a site's early total over its days by Dirichlet shares around the past's.

    A day that the past did not have takes the share of the nearest that it had, before all are
    scaled to one. The concentration is 50 an election: shares of days move a few percent (our choice).
    """
    import numpy as np

    sums = [sum(column) for column in zip(*shares.ballots, strict=True)]
    wanted = []
    for date in dates:
        before = (election_day - date).days
        place = min(range(len(sums)), key=lambda i: (abs(shares.days_before[i] - before), i))
        wanted.append(max(sums[place], 1))
    alpha = np.array(wanted, dtype=np.float64) / sum(wanted) * 50.0 * len(shares.ballots)
    split = rng.dirichlet(alpha, size=total.shape[0])
    counts = rng.multinomial(total, split)
    return {date: counts[:, i].astype(np.int32) for i, date in enumerate(dates)}


def _no_voters(site: Site) -> Notice:
    return Notice(
        kind=NoticeKind.OPEN_ITEM,
        rule="voters-unknown",
        subject=f"site/{site.id}",
        text=message(N_("Nothing says how many voters {site} has, so it is not planned"), site=site.name),
        remedy=message(N_("Give registered voters, past counts or an expected number for this site")),
        owner="coordinator",
    )


def _rate(name: str, log_rate: float) -> Figure:
    return Figure(name=name, value=f"{math.exp(log_rate) * 100:.2f}", unit="%")


def _reason(site: Site, place: int, base: dict[str, int], model: RateModel, past: Past) -> Reason:
    subject = f"site/{site.id}"
    if site.expected_voters is not None:
        return Reason(
            subject=subject,
            field="voters",
            text=message(N_("The number of voters was given by a person")),
            figures=(
                Figure(name=N_("Expected voters"), value=str(site.expected_voters), source="sites.csv"),
            ),
        )
    rows = [r for r in past.rows if r.site == place]
    registered = base.get(site.id, 0)
    figures = [Figure(name=N_("Registered voters"), value=str(registered))]
    figures += [
        Figure(
            name=past.elections[r.election],
            value=f"{r.ballots} of {r.registered}",
            source="history.csv",
        )
        for r in rows
    ]
    weight = model.own_share[place]
    middle = min(model.level[place] + model.center, 0.0)
    if rows:
        figures.append(
            _rate(N_("Rate of the site's own past, changes of the county taken out"), model.own[place])
        )
    figures += [
        _rate(N_("Mean rate of the county's sites"), model.county),
        Figure(name=N_("Weight of the site's own past"), value=f"{weight * 100:.1f}", unit="%"),
        _rate(N_("Rate of the site: between the two by the weight, on the log scale"), model.level[place]),
        Figure(
            name=N_("Change expected of the whole county, as a factor"),
            value=f"{math.exp(model.center):.4f}",
        ),
        Figure(
            name=N_("Voters on election day, middle of the range: registered × rate × change"),
            value=f"{registered * math.exp(middle):.0f}",
        ),
        Figure(name=N_("Spread between elections"), value=str(round(model.tide_spread * 100)), unit="%"),
        Figure(name=N_("Spread of the site's own"), value=str(round(model.local_spread * 100)), unit="%"),
    ]
    return Reason(
        subject=subject,
        field="voters",
        text=message(
            N_("Past in-person rates of this site, drawn towards the county's mean where they are few")
        ),
        figures=tuple(figures),
    )


def _pack(
    site_days: list[SiteDay],
    columns: list[np.ndarray[Any, Any]],
    weights: list[tuple[int, ...]],
    n_draws: int,
    rules: CountyRules,
) -> DemandDraws:
    import numpy as np

    longest = max((len(w) for w in weights), default=1)
    table = [[*w, *([0] * (longest - len(w)))] for w in weights]
    totals = np.stack(columns, axis=1) if columns else np.zeros((n_draws, 0), dtype=np.int32)
    return DemandDraws(
        site_days=tuple(site_days),
        totals=frozen_array(totals, "int32"),
        slot_weights=frozen_array(np.array(table, dtype=np.int64).reshape(len(table), longest), "int64"),
        opening_line_ppm=rules.whole("opening-line-share"),
    )
