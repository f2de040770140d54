"""The lines of a plan version once more: each site's path, days and numbers, as sizing had them.

A plan keeps what sizing found, not the days that it simulated. Demand is drawn again from the version's own
seed, so the same days come back, and a page can ask of them what the plan did not.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pollstead.election.values import Value
from pollstead.plan import gaps, inputs, left_out, overrule
from pollstead.plan.demand.run import DemandGiven
from pollstead.plan.demand.run import run as run_demand
from pollstead.plan.fixing import FixedCells
from pollstead.plan.sizing import SizingGiven, site_lines, wait_limit
from pollstead.plan.stations.counts import TABLE as STATIONS
from pollstead.plan.stations.path import StagedType, numbers_by_stage
from pollstead.plan.terms.lines import SIZED, SiteLines

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.plan.lines.trials import Counts
    from pollstead.plan.terms.part import Watch
    from pollstead.plan.terms.version import PlanVersion, SitePlan, Told


class PlannedLines(Value, frozen=True, kw_only=True):
    """One site: its lines, the planned number of each stage of `SIZED` (0: no line there), types by stage."""

    lines: SiteLines
    counts: tuple[int, int, int, int]
    staged: tuple[StagedType, ...]


def sizing_again(election: Election, version: PlanVersion, told: Told, watch: Watch) -> SizingGiven:
    """What sizing was given for a version, its demand drawn again from the version's seed.

    `election` and `told` are those that went into the version. Sites are those that it plans, in the order of
    the county's list. Raises `Cancelled` from `watch`.
    """
    cells = FixedCells(version.fixed)
    own = {site.id: gaps.kind_of(election, site) for site in election.sites}
    kinds = overrule.kinds(election, own, cells)
    out, _ = left_out.by_facts(election, kinds, told)
    demanded = run_demand(
        DemandGiven(election=election, leave_out=tuple(sorted(out))),
        election.rules,
        version.seed,
        version.effort,
        watch,
    ).value
    draws = overrule.voters(demanded.draws, cells)
    crowded, _ = left_out.by_crowd(election, draws)
    draws = inputs.without_sites(draws, crowded)
    planned = {day.site for day in draws.site_days} & {plan.site for plan in version.sites}
    return SizingGiven(
        election=election,
        sites=tuple(site for site in election.sites if site.id in planned),
        kinds=kinds,
        fixed=cells.of_table(STATIONS),
        draws=draws,
    )


def planned_lines(
    election: Election, version: PlanVersion, told: Told, watch: Watch
) -> tuple[PlannedLines, ...]:
    """The sites of a version that have lines, in the version's order.

    `election` and `told` are those that went into the version. Raises `Cancelled` from `watch`.
    """
    given = sizing_again(election, version, told, watch)
    sites = {site.id: site for site in given.sites}
    days = inputs.arrival_days(election, given.draws)
    limit = wait_limit(election.rules)
    result = []
    for plan in version.sites:
        if plan.site not in sites or plan.waits is None:
            continue
        site = sites[plan.site]
        path = given.path(site, given.fixed.of(site.id))
        result.append(
            PlannedLines(
                lines=site_lines(site, path, days[site.id], limit),
                counts=_counts(plan, path.sized),
                staged=path.sized,
            )
        )
    return tuple(result)


def _counts(plan: SitePlan, staged: tuple[StagedType, ...]) -> Counts:
    by_stage = numbers_by_stage(plan, staged)
    a, b, c, d = (by_stage.get(stage, 0) for stage in SIZED)
    return (a, b, c, d)
