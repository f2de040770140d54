"""What a site's day asks of each stage: voters of the busiest hour times mean time at the station."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pollstead.plan.terms.lines import SLOT_MS, WHOLE_PPM

if TYPE_CHECKING:
    from pollstead.plan.terms.lines import ArrivalDay, SiteLines, SitePath

HOUR_SLOTS = 4


def busiest_hour_milli_voters(day: ArrivalDay) -> int:
    """Voters of the busiest four quarter hours in a row, in thousandths, on a day of the draws' mean total.

    Without the line at opening.
    """
    weights = [int(w) for w in day.slot_weights[: day.slots]]
    best = max(sum(weights[k : k + HOUR_SLOTS]) for k in range(len(weights)))
    arriving_ppm = WHOLE_PPM - day.opening_line_share_ppm
    thousandths = int(day.totals.sum()) * best * arriving_ppm // WHOLE_PPM * 1000
    return thousandths // (sum(weights) * len(day.totals))


def shares_ppm(path: SitePath) -> tuple[int, int, int, int]:
    """The share of the voters who come to each stage, in the order of `SIZED`; those at the curb to none."""
    curb = 0 if path.curbside is None else path.curbside.share_ppm
    inside, special = WHOLE_PPM - curb, path.accessible_share_ppm
    return (inside, inside - special, special, inside)


def load_milli_erlangs(site: SiteLines, day: ArrivalDay, stage: int) -> int:
    """Load of a stage in the busiest hour: voters an hour times mean service, in thousandths of an erlang."""
    work = site.path.works()[stage]
    if work is None:
        return 0
    return (
        busiest_hour_milli_voters(day)
        * shares_ppm(site.path)[stage]
        * work.law.mean_ms
        // (HOUR_SLOTS * SLOT_MS * WHOLE_PPM)
    )
