"""Turn the history table into rates by site: precincts are summed into the site they vote at now."""

from __future__ import annotations

import datetime as dt

from pollstead.election.county import Election
from pollstead.election.values import Value
from pollstead.plan.demand.pooling import PastRate

ELECTION_DAY = "election day"
EARLY = "early"


class Past(Value, frozen=True, kw_only=True):
    """Rates of one mode: rows for the model, and which elections are comparable to the new one."""

    rows: tuple[PastRate, ...]
    elections: tuple[str, ...]
    comparable: tuple[bool, ...]


class DayShares(Value, frozen=True, kw_only=True):
    """Early ballots of one site by days before election day, one row an election."""

    days_before: tuple[int, ...]
    ballots: tuple[tuple[int, ...], ...]


def registered_now(election: Election) -> dict[str, int]:
    """Registered voters by site id: the site's own figure, else the sum of its precincts'."""
    found: dict[str, int] = {}
    for precinct in election.precincts:
        if precinct.registered is not None:
            found[precinct.site] = found.get(precinct.site, 0) + precinct.registered
    for site in election.sites:
        if site.registered is not None:
            found[site.id] = site.registered
    return found


def stand_in_registered(election: Election) -> dict[str, int]:
    """For sites whose registered nobody has told: three times their largest past count.

    Only a scale for the rate: it allows a turnout up to three times the largest seen.
    """
    site_of = {p.id: p.site for p in election.precincts} | {s.id: s.id for s in election.sites}
    now = registered_now(election)
    totals: dict[tuple[str, str, str], int] = {}
    for row in election.history:
        site = site_of.get(row.unit)
        if site is not None and site not in now:
            key = (site, row.election, row.mode)
            totals[key] = totals.get(key, 0) + row.ballots
    largest: dict[str, int] = {}
    for (site, _, _), count in totals.items():
        largest[site] = max(largest.get(site, 1), count)
    return {site: 3 * count for site, count in largest.items()}


def election_dates(election: Election) -> dict[str, dt.date]:
    """The election day of each past election: the latest date of its counts."""
    dates: dict[str, dt.date] = {}
    for row in election.history:
        dates[row.election] = max(dates.get(row.election, row.date), row.date)
    return dates


def past_rates(election: Election, mode: str, order: dict[str, int], now: dict[str, int]) -> Past:
    """Rates of `mode` by site and past election; `order` maps site ids to places in the model.

    Where the registered of then are not known, the site's of `now` stand in. Early counts are rates of
    the whole county's registered: a voter may come early to any site that is open.
    """
    site_of = {p.id: p.site for p in election.precincts} | {s.id: s.id for s in election.sites}
    precinct_now = {p.id: p.registered for p in election.precincts}
    dates = election_dates(election)
    elections = tuple(
        sorted({r.election for r in election.history if r.mode == mode}, key=lambda e: (dates[e], e))
    )
    ballots: dict[tuple[str, str], int] = {}
    registered: dict[tuple[str, str], int] = {}
    for row in election.history:
        site = site_of.get(row.unit)
        if row.mode != mode or site is None or site not in order:
            continue
        key = (site, row.election)
        ballots[key] = ballots.get(key, 0) + row.ballots
        if mode == ELECTION_DAY:
            known = row.registered if row.registered is not None else precinct_now.get(row.unit)
            registered[key] = registered.get(key, 0) + (known or 0)
    target = election.election_day.year % 4
    rows = []
    for (site, name), count in ballots.items():
        whole = sum(now.values()) if mode == EARLY else now.get(site, 0)
        base = max(registered.get((site, name), 0) or whole, count, 1)
        rows.append(
            PastRate(site=order[site], election=elections.index(name), ballots=count, registered=base)
        )
    rows.sort(key=lambda r: (r.site, r.election))
    return Past(
        rows=tuple(rows),
        elections=elections,
        comparable=tuple(dates[e].year % 4 == target for e in elections),
    )


def early_day_shares(election: Election, site_id: str) -> DayShares | None:
    """Early ballots of a site by days before the election, for its day shares; None without any."""
    site_of = {p.id: p.site for p in election.precincts} | {s.id: s.id for s in election.sites}
    ends = {
        e: max((r.date for r in election.history if r.election == e and r.mode == ELECTION_DAY), default=None)
        for e in {r.election for r in election.history}
    }
    counts: dict[str, dict[int, int]] = {}
    for row in election.history:
        end = ends[row.election]
        if row.mode == EARLY and site_of.get(row.unit) == site_id and end is not None:
            of = counts.setdefault(row.election, {})
            before = (end - row.date).days
            of[before] = of.get(before, 0) + row.ballots
    if not counts:
        return None
    days = tuple(sorted({d for of in counts.values() for d in of}, reverse=True))
    return DayShares(
        days_before=days,
        ballots=tuple(tuple(counts[e].get(d, 0) for d in days) for e in sorted(counts)),
    )
