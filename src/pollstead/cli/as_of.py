"""The option ``--as-of`` of commands: a moment on the county's clock."""

from __future__ import annotations

import datetime as dt
import time
from typing import TYPE_CHECKING

from pollstead.cli.county import refuse
from pollstead.election.words import N_

if TYPE_CHECKING:
    from pollstead.election.county import Election


def moment_of(as_of: str, election: Election) -> int:
    """The moment typed, on the county's clock; now where nothing was typed."""
    from pollstead.election.instants import OperatingDay

    if not as_of:
        return time.time_ns() // 1_000_000
    try:
        local = dt.datetime.fromisoformat(as_of)
    except ValueError:
        refuse(N_("--as-of must look like 2028-11-06T18:00, on the county's clock; got {text}."), text=as_of)
    if local.tzinfo is not None:
        return round(local.timestamp() * 1000)
    operating = OperatingDay(date=local.date(), zone_name=election.zone_name)
    return operating.at_wall_clock(local.hour * 60 + local.minute).utc_ms
