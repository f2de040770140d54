"""Who waits: the mean wait of each group of sites beside the county's, before and after a split."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pollstead.plan.terms.fresh import EquityRow, FreshSite
from pollstead.plan.terms.lines import WHOLE_PPM

if TYPE_CHECKING:
    from collections.abc import Sequence


def _row(group: str, sites: Sequence[FreshSite], county_ms: int | None) -> EquityRow:
    voters = max(1, sum(site.voters for site in sites))
    split_ms = sum(site.split.wait_ms for site in sites) // voters
    return EquityRow(
        group=group,
        sites=len(sites),
        voters=voters,
        now_ms=sum(site.now.wait_ms for site in sites) // voters,
        split_ms=split_ms,
        more_ms=0 if county_ms is None else split_ms - county_ms,
        now_over_ppm=sum(site.now.over_voters for site in sites) * WHOLE_PPM // voters,
        split_over_ppm=sum(site.split.over_voters for site in sites) * WHOLE_PPM // voters,
    )


def county_row(sites: Sequence[FreshSite]) -> EquityRow:
    """All sites together."""
    return _row("", sites, None)


def rows_by(
    sites: Sequence[FreshSite], groups: dict[str, tuple[str, ...]], county: EquityRow
) -> tuple[EquityRow, ...]:
    """A row for each group, by name; a site may stand in several. Empty where all sites are in one group.

    `groups` has the groups of each site; "" is the group of those that are in none, and comes last.
    """
    names = {name for mine in groups.values() for name in mine}
    if len(names) < 2:
        return ()
    return tuple(
        _row(name, [site for site in sites if name in groups[site.site]], county.split_ms)
        for name in sorted(names, key=lambda name: (name == "", name))
    )
