"""``pollstead orders``: which orders hold, when voting ends by them, who has not read them back. Thin."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import cyclopts

from pollstead.cli.county import Refused, tell
from pollstead.cli.day_standing import DayStanding, day_standing
from pollstead.cli.options import AsJson, Day
from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    from pollstead.reconcile.happening.orders import Order

FORMAT = "pollstead orders 1"

app = cyclopts.App(
    name="orders",
    help=text(N_("Say which orders hold, when voting ends by them, and who has not read them back.")),
)


@app.default
def orders(
    folder: Path,
    /,
    *,
    as_of: Annotated[
        str,
        cyclopts.Parameter(name="--as-of", help=text(N_("Moment, such as 2028-11-07T19:40; blank is now."))),
    ] = "",
    day: Day = "",
    as_json: AsJson = False,
) -> int:
    """Print the orders of a day; an order's own words govern, not this summary."""
    from pollstead.reconcile.happening.orders import order_notices, orders_of
    from pollstead.show.cautions import BY_ID

    try:
        standing = day_standing(folder, as_of, day)
    except Refused as refused:
        return tell(refused)
    found = orders_of(standing.folded, standing.date)
    made = orders_object(standing, found)
    if as_json:
        json.dump(made, sys.stdout, ensure_ascii=False, indent=2)
        print()
        return 0
    print(text(BY_ID["extended-hours"].words))
    for one, row in zip(found, made["orders"], strict=True):
        waiting = [said["site"] for said in row["read_back"] if said["state"] != "same"]
        sites = ", ".join(one.sites) or text(N_("the whole county"))
        print(f"{one.label}. {one.does.replace('_', ' ')}: {sites}; {one.source}")
        if not row["holds_at"]:
            print(f"   {text(N_('holds no longer'))}")
        elif waiting:
            print(fill(message(N_("   Not read back yet: {sites}"), sites=", ".join(waiting))))
    for notice in order_notices(found):
        print(f"- {fill(notice.text)}")
    return 0


def orders_object(standing: DayStanding, found: tuple[Order, ...]) -> dict[str, Any]:
    """The stable JSON form: no words and nobody's name."""
    from pollstead.reconcile.happening.orders import acknowledgements, holding, superseding

    sites = tuple(site.site for site in standing.sites)
    return {
        "format": FORMAT,
        "day": standing.date.isoformat(),
        "as_of_utc_ms": standing.now_ms,
        "orders": [
            {
                "event": one.event,
                "subject": one.subject,
                "label": one.label,
                "does": one.does,
                "issued_by": one.issued_by,
                "source": one.source,
                "sites": list(one.sites),
                "from_min": one.from_min,
                "until_min": one.until_min,
                "to_place": one.to_place,
                "apart": one.apart,
                "supersedes": list(one.supersedes),
                "superseded_by": [later.subject for later in superseding(one, found)],
                "holds_at": [site for site in sites if one in holding(found, site)],
                "read_back": [
                    {"site": said.site, "state": said.state, "at_min": said.at_min}
                    for said in acknowledgements(standing.folded, one, sites)
                ],
            }
            for one in found
        ],
        "closing": [
            {"site": site.site, "closes_min": site.closed.set_min}
            for site in standing.sites
            if site.closed.set_min is not None
        ],
    }
