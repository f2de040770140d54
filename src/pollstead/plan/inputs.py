"""What the parts are given beyond the facts: days for the lines, voters to pack for, earlier places."""

from __future__ import annotations

from collections import Counter

from pollstead.election.check_characters import CheckScheme
from pollstead.election.county import Election, FixedValue, SealRange
from pollstead.election.instants import MS_PER_SLOT
from pollstead.election.seal_checks import SealChecks
from pollstead.election.values import frozen_array
from pollstead.plan import staffing
from pollstead.plan.setup.run_sheet import ASSUMED_CREW
from pollstead.plan.terms.demand import DemandDraws
from pollstead.plan.terms.lines import MOST_VOTERS, ArrivalDay
from pollstead.plan.terms.stations import StandsAt
from pollstead.plan.terms.version import Decisions, PlanVersion


def fixed(election: Election, decisions: Decisions) -> tuple[FixedValue, ...]:
    """What people fixed, in the facts or since; the later decision about the same cell counts."""
    cells = {(f.table, f.row, f.field): f for f in (*election.fixed, *decisions.fixed)}
    return tuple(cells[cell] for cell in sorted(cells))


def stock(election: Election) -> tuple[SealRange, ...]:
    """The seals that the county has: its ranges, and what came in by its receipts."""
    checks = SealChecks.of(election.seal_ranges)
    received = tuple(
        SealRange(
            seal_kind=r.seal_kind,
            series=r.series,
            first=r.first,
            last=r.last,
            check_character="" if check is CheckScheme.NONE else check.value,
        )
        for r in election.seal_receipts
        for check in (checks.scheme_of(r.seal_kind, r.first),)
    )
    return (*election.seal_ranges, *received)


def crews(election: Election) -> dict[str, int]:
    """How many people set up each site, where enough are named that it can be the whole crew."""
    named = Counter(person.site for person in election.people if person.site)
    return {site: count for site, count in named.items() if count >= ASSUMED_CREW}


def standing(previous: PlanVersion | None) -> tuple[StandsAt, ...]:
    """Where each device stood in the version before this one."""
    if previous is None:
        return ()
    return tuple(
        StandsAt(device=part.device, site=plan.site, early=station.last_day is not None, station=station.id)
        for plan in previous.sites
        for station in plan.stations
        for part in station.parts
        if part.device
    )


def too_many_voters(draws: DemandDraws) -> tuple[str, ...]:
    """The sites with a day of more voters in some draw than the lines can be simulated for."""
    if not draws.site_days:
        return ()
    most = draws.totals.max(axis=0).tolist()
    days = zip(draws.site_days, most, strict=True)
    return tuple(dict.fromkeys(day.site for day, voters in days if voters > MOST_VOTERS))


def without_sites(draws: DemandDraws, left_out: tuple[str, ...]) -> DemandDraws:
    """The draws without the days of some sites."""
    keep = [n for n, day in enumerate(draws.site_days) if day.site not in left_out]
    return DemandDraws(
        site_days=tuple(draws.site_days[n] for n in keep),
        totals=frozen_array(draws.totals[:, keep], "int32"),
        slot_weights=frozen_array(draws.slot_weights[keep, :], "int64"),
        opening_line_ppm=draws.opening_line_ppm,
    )


def arrival_days(election: Election, draws: DemandDraws) -> dict[str, tuple[ArrivalDay, ...]]:
    """The days of each site as the lines need them, in milliseconds that have really passed.

    A change of the clocks while a site is open makes its day longer or shorter than the wall clock says.
    """
    days: dict[str, list[ArrivalDay]] = {}
    for column, site_day in enumerate(draws.site_days):
        operating = election.operating_day(site_day.date)
        start = operating.start().utc_ms
        opens = operating.at_wall_clock(site_day.opens_min).utc_ms - start
        closes = operating.at_wall_clock(site_day.closes_min).utc_ms - start
        slots = -(-(closes - opens) // MS_PER_SLOT)
        weights = draws.slot_weights[column].tolist()[:slots]
        days.setdefault(site_day.site, []).append(
            ArrivalDay(
                date=site_day.date,
                open_ms=opens,
                close_ms=closes,
                slot_weights=frozen_array(weights + [0] * (slots - len(weights)), "int64"),
                totals=frozen_array(draws.totals[:, column], "int64"),
                opening_line_share_ppm=draws.opening_line_ppm,
                breaks=staffing.breaks(election.rules, opens, closes),
                absences=staffing.slow_hours(election.rules, opens, closes),
            )
        )
    return {site: tuple(mine) for site, mine in days.items()}


def planned_voters(draws: DemandDraws) -> dict[str, int]:
    """The 90th percentile (nearest rank) of each site's voters on all its days together."""
    columns: dict[str, list[int]] = {}
    for column, site_day in enumerate(draws.site_days):
        columns.setdefault(site_day.site, []).append(column)
    planned = {}
    for site, mine in columns.items():
        sums = sorted(draws.totals[:, mine].sum(axis=1).tolist())
        planned[site] = int(sums[-(-9 * len(sums) // 10) - 1])
    return planned
