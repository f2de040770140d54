"""The lost minutes of one site from the record: what every page and command that tells them computes."""

from __future__ import annotations

import datetime as dt

from pollstead.reconcile.happening.incidents import Incident
from pollstead.reconcile.happening.lost import Lost, lost_minutes
from pollstead.reconcile.happening.out_of_service import out_stretches
from pollstead.record.facts import Fold


def lost_of_site(
    folded: Fold,
    date: dt.date,
    site: str,
    incidents: tuple[Incident, ...],
    *,
    hours: tuple[int, int],
    told: tuple[int, ...],
    now_min: int,
) -> Lost:
    """Doors that opened late, incidents without service and devices out of service, up to `now_min`.

    `hours` are the minutes of opening and closing in force, `told` those at which people said that the doors
    opened: of several the earliest counts, until somebody corrects one.
    """
    return lost_minutes(
        site,
        incidents,
        opens_min=hours[0],
        closes_min=hours[1],
        opened_min=min(told, default=None),
        now_min=now_min,
        out=out_stretches(folded, site, date, now_min),
    )
