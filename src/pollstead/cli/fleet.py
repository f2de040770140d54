"""``pollstead fleet``: where each device is on which days, carts, spares, shortages. Thin: read, print."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import cyclopts

from pollstead.cli.county import Refused, tell
from pollstead.cli.options import AsJson
from pollstead.cli.standing import standing_of
from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    from pollstead.work.fleet import FleetReport, SiteShort

FORMAT = "pollstead fleet 1"

app = cyclopts.App(
    name="fleet",
    help=text(N_("Say where each device is on which days, what is short, and what a cart holds.")),
)


@app.default
def fleet(
    folder: Path,
    /,
    *,
    print_: Annotated[
        Path | None,
        cyclopts.Parameter(name="--print", help=text(N_("Print a list for each cart into this PDF file."))),
    ] = None,
    as_json: AsJson = False,
) -> int:
    """Print each device with its stays, the work between early voting and election day, carts and spares.

    Returns 0 whatever is short; 1 where the folder has no plan version.
    """
    from pollstead.work.fleet import fleet_report

    try:
        plan, folded, facts = standing_of(folder)
    except Refused as refused:
        return tell(refused)
    if plan is None or facts is None:
        said = message(
            N_("{folder} has no plan version yet. Make one by: pollstead plan {folder}"), folder=str(folder)
        )
        print(fill(said), file=sys.stderr)
        return 1
    report = fleet_report(facts, plan, folded)
    if print_ is not None:
        from pollstead.cli.warehouse_print import print_to
        from pollstead.show.packet.warehouse import cart_sheets

        return print_to(print_, facts, plan, lambda given: cart_sheets(given, report.carts))
    if as_json:
        json.dump(fleet_object(report), sys.stdout, ensure_ascii=False, indent=2)
        print()
    else:
        print_fleet(report)
    return 0


def fleet_object(report: FleetReport) -> dict[str, Any]:
    """The stable JSON form of the fleet."""
    return {
        "format": FORMAT,
        "devices": [
            {
                "device": line.device.id,
                "serial": line.device.serial,
                "kind": line.device.kind,
                "state": line.device.state,
                "cart": line.device.cart,
                "spare": line.device.id in report.spares,
                "stays": [
                    {
                        "site": stay.site,
                        "station": stay.station,
                        "from": stay.from_day.isoformat(),
                        "to": stay.to_day.isoformat(),
                        "early": stay.early,
                    }
                    for stay in line.stays
                ],
                "between": [
                    {
                        "from_site": work.from_site,
                        "to_site": work.to_site,
                        "after": work.after.isoformat(),
                        "by": work.by.isoformat(),
                        "drive_min": work.drive_min,
                        "test_min": work.test_min,
                        "seal_min": work.seal_min,
                        "minutes": work.minutes,
                        "available_min": work.available_min,
                        "state": report.state(work.device).value,
                        "lacks": [one.english() for one in report.lacks(work.device)],
                    }
                    for work in line.between
                ],
            }
            for line in report.lines
        ],
        "carts": [
            {
                "cart": cart.cart,
                "site": cart.site,
                "serials": [d.serial for d in cart.devices],
                "away": list(cart.away),
                "over": cart.over,
            }
            for cart in report.carts
        ],
        "short": [_short(one) for one in report.short],
    }


def _short(one: SiteShort) -> dict[str, Any]:
    return {"site": one.site, "kind": one.kind, "count": one.count, "early": one.early}


def print_fleet(report: FleetReport) -> None:
    """Print the fleet in words."""
    for line in report.lines:
        where = "; ".join(
            f"{stay.site} {stay.from_day.isoformat()}"
            + (f"–{stay.to_day.isoformat()}" if stay.to_day != stay.from_day else "")
            for stay in line.stays
        )
        if not where:
            where = text(N_("spare")) if line.device.id in report.spares else text(line.device.state)
        print(f"{line.device.kind} {line.device.serial}: {where}")
        for work in line.between:
            words = (
                N_("Between {after} and {by}: {minutes} min of work in {available} min.")
                if work.enough
                else N_(
                    "Between {after} and {by} there are {available} min, and the work takes {minutes} min."
                )
            )
            print(
                "  "
                + fill(
                    message(
                        words,
                        after=work.after.isoformat(),
                        by=work.by.isoformat(),
                        minutes=work.minutes,
                        available=work.available_min,
                    )
                )
            )
            for lack in report.lacks(work.device):
                print("  - " + fill(lack))
    for cart in report.carts:
        print(
            fill(
                message(
                    N_("Cart {cart} of {site}: {serials}."),
                    cart=cart.cart,
                    site=cart.site or "-",
                    serials=", ".join(d.serial for d in cart.devices) or "-",
                )
            )
        )
        for device in cart.away:
            print("  - " + fill(message(N_("{device} stands at another site."), device=device)))
    for one in report.short:
        words = (
            N_("Site {site} is short of {count} {kind} before election day.")
            if one.early
            else N_("Site {site} is short of {count} {kind}.")
        )
        print(fill(message(words, site=one.site, count=one.count, kind=one.kind)))
