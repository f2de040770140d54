"""``pollstead plan``: make a plan version of a county folder, keep it, print its table. Thin."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import cyclopts
import msgspec

from pollstead.cli.county import Refused, digests, tell, version_of
from pollstead.cli.options import AsJson
from pollstead.cli.progress import progress_watch
from pollstead.election.notice import NoticeKind
from pollstead.election.words import N_, message
from pollstead.plan.terms.part import Cancelled, Effort
from pollstead.plan.terms.version import PlanVersion, SitePlan, WaitReport, WhatIf
from pollstead.show.planning import plan_folder
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.store.opening import Store

FORMAT = "pollstead plan 1"
NOTICES_PRINTED = 20
WIDTH = 120
"""Columns of the table where nobody looks at it in a terminal."""
NARROWEST = 72
LIST_NOT_THERE = "list-not-there"

__all__ = ["app", "plan", "plan_folder", "print_version", "report"]

app = cyclopts.App(name="plan", help=text(N_("Make a plan version of a county folder.")))


@app.default
def plan(
    folder: Path,
    /,
    *,
    effort: Annotated[
        Effort, cyclopts.Parameter(help=text(N_("How much work: quick, usual or deep.")))
    ] = Effort.QUICK,
    seed: Annotated[
        int, cyclopts.Parameter(help=text(N_("The root seed; the same seed, the same plan.")))
    ] = 1,
    workers: Annotated[
        str,
        cyclopts.Parameter(
            help=text(
                N_(
                    "Threads; 0 takes all. local:4 takes four processes, tcp://HOST:PORT those that a Dask "
                    "scheduler knows. Changes the time, never the result."
                )
            )
        ),
    ] = "0",
    as_json: AsJson = False,
) -> int:
    """Plan every site: voters, stations, machines, seals, packing, set-up. Keeps the version by its digest.

    Returns 0 with open items, assumptions and rules not met, which are printed; 1 where there is no plan, or
    where a fault left something out of it.
    """
    from pollstead.store.opening import open_store

    if not 0 <= seed < 1 << 53:
        print(text(N_("The seed must be a whole number from 0 to 9,007,199,254,740,991.")), file=sys.stderr)
        return 2
    from pollstead.work.cluster import workers_asked

    try:
        where = workers_asked(workers)
    except Refused as refused:
        tell(refused)
        return 2
    try:
        digest = plan_folder(
            folder,
            watch=progress_watch(),
            effort=effort,
            seed=seed,
            workers=where,
        )
    except Refused as refused:
        return tell(refused)
    except Cancelled:
        print(text(N_("Stopped; no plan version was kept.")), file=sys.stderr)
        return 1
    with open_store(folder) as store:
        version, number = version_of(store, digest), digests(store).index(digest) + 1
        if as_json:
            json.dump(report(version, digest, number), sys.stdout, ensure_ascii=False, indent=2)
            print()
        else:
            election = _election(store, version)
            print_version(version, digest, number, {t.id: t.name for t in election.station_types})
    return 1 if any(notice.kind is NoticeKind.FAULT for notice in version.notices) else 0


def _election(store: Store, version: PlanVersion) -> Election:
    from pollstead.election.county import Election

    return msgspec.json.decode(store.snapshots.load(version.snapshot), type=Election)


def report(version: PlanVersion, digest: str, number: int) -> dict[str, Any]:
    """The stable JSON form of a plan version's table."""
    return {
        "format": FORMAT,
        "digest": digest,
        "number": number,
        "parent": version.parent,
        "snapshot": version.snapshot,
        "effort": version.effort.value,
        "seed": version.seed,
        "sites": [_site_object(site) for site in version.sites],
        "fleet": [msgspec.to_builtins(total) for total in version.totals],
        "seals": [msgspec.to_builtins(stock) for stock in version.seal_stock],
        "assumptions": len(all_assumptions(version)),
        "notices": [{"key": n.key, "kind": n.kind.value, "text": n.text.english()} for n in version.notices],
    }


def _site_object(site: SitePlan) -> dict[str, Any]:
    return {
        "site": site.site,
        "name": site.name,
        "kind": site.kind,
        "days": [
            {
                "date": day.date.isoformat(),
                "p10": day.voters.p10,
                "p50": day.voters.p50,
                "p90": day.voters.p90,
            }
            for day in site.demand
        ],
        "stations": [
            {
                "station_type": count.station_type,
                "count": count.count,
                "fixed": count.fixed,
                "computed": count.computed,
            }
            for count in site.counts
        ],
        "waits": None if site.waits is None else _waits_object(site.waits),
    }


def _waits_object(waits: WaitReport) -> dict[str, Any]:
    return {
        "limit_ms": waits.limit_ms,
        "p95_longest_wait_ms": waits.p95_longest_wait_ms,
        "risk_ppm": waits.risk_ppm,
        "risk_low_ppm": waits.low_ppm,
        "risk_high_ppm": waits.high_ppm,
        "days_used": waits.days_used,
        "meets_limit": waits.meets_limit,
        "undecided": waits.undecided,
        "told_singly": waits.told_singly,
        "day": None if waits.day is None else waits.day.isoformat(),
        "what_if_days": waits.compared_days,
        "what_ifs": [
            _what_if_object(one) for one in ((waits.compared,) if waits.compared else ()) + waits.what_ifs
        ],
    }


def _what_if_object(one: WhatIf) -> dict[str, Any]:
    return {
        "change": one.change,
        "count": one.count,
        "percent": one.percent,
        "risk_ppm": one.risk_ppm,
        "p95_longest_wait_ms": one.p95_longest_wait_ms,
        "voter_minutes": one.voter_minutes,
    }


def all_assumptions(version: PlanVersion) -> tuple[Any, ...]:
    """Every assumption of a version, the county's and each site's."""
    return (*version.assumptions, *(a for site in version.sites for a in site.assumptions))


def print_version(version: PlanVersion, digest: str, number: int, names: dict[str, str]) -> None:
    """Print a plan version: sites, fleet, what is not met, open or assumed, what lists would add."""
    from rich.console import Console
    from rich.table import Table

    console = Console()
    # A terminal narrower than the table can be read at folds its lines itself, without cutting words up.
    console = Console(width=max(console.width, NARROWEST) if console.is_terminal else WIDTH)
    table = Table(box=None, pad_edge=False, header_style="bold")
    for heading, side in (
        (N_("Site"), "left"),
        (N_("Voters P10–P90"), "right"),
        (N_("Stations"), "left"),
        (N_("Longest wait P95, min"), "right"),
        (N_("Risk (95 % interval)"), "right"),
        (N_("Days used"), "right"),
    ):
        table.add_column(text(heading), justify="right" if side == "right" else "left", overflow="fold")
    for site in version.sites:
        table.add_row(f"{site.site} {site.name}", _voters(site), _stations(site, names), *_waits(site))
    console.print(table)
    _print_fleet(console, version)
    _print_notices(version)
    print(
        fill(
            message(
                N_("Plan version {number}, digest {digest}: {sites} sites, effort {effort}, seed {seed}."),
                number=number,
                digest=digest[:16],
                sites=len(version.sites),
                effort=version.effort.value,
                seed=version.seed,
            )
        )
    )


def _voters(site: SitePlan) -> str:
    return "\n".join(f"{day.voters.p10:,}–{day.voters.p90:,}" for day in site.demand)


def _stations(site: SitePlan, names: dict[str, str]) -> str:
    return "\n".join(
        f"{count.count} {names.get(count.station_type, count.station_type)}"
        + (f" ({text(N_('fixed'))}; {count.computed})" if count.fixed else "")
        for count in site.counts
    )


def _waits(site: SitePlan) -> tuple[str, str, str]:
    waits = site.waits
    if waits is None:
        return "", "", ""
    minutes = f"{waits.p95_longest_wait_ms / 60_000:.0f}"
    mark = "" if waits.meets_limit else " " + text(N_("not met"))
    if waits.undecided:
        mark += " " + text(N_("close to the limit"))
    risk = f"{waits.risk_ppm / 10_000:.1f} % ({waits.low_ppm / 10_000:.1f}–{waits.high_ppm / 10_000:.1f})"
    return minutes, risk + mark, f"{waits.days_used:,}"


def _print_fleet(console: Any, version: PlanVersion) -> None:
    from rich.table import Table

    if not version.totals:
        return
    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column(text(N_("Devices")))
    for heading in (N_("Planned"), N_("In service"), N_("Spares"), N_("Short")):
        table.add_column(text(heading), justify="right")
    for total in version.totals:
        owned = text(N_("not known")) if total.owned is None else f"{total.owned:,}"
        table.add_row(total.kind, f"{total.planned:,}", owned, f"{total.spares:,}", f"{total.short:,}")
    console.print()
    console.print(table)
    console.print()


def _print_notices(version: PlanVersion) -> None:
    """Rules not met and open items of the plan, then assumptions, then what each further list would add."""
    shown = [n for n in version.notices if n.rule != LIST_NOT_THERE]
    shown.sort(
        key=lambda notice: (notice.kind is not NoticeKind.FAULT, notice.kind is not NoticeKind.RULE_NOT_MET)
    )
    for notice in shown[:NOTICES_PRINTED]:
        print(f"{text(notice.kind.value)}: {notice.subject}: {fill(notice.text)}")
    if len(shown) > NOTICES_PRINTED:
        print(
            fill(
                message(N_("… and {more} more; see them all in the JSON."), more=len(shown) - NOTICES_PRINTED)
            )
        )
    found = all_assumptions(version)
    if found:
        lists = sorted({a.list_wanted for a in found if a.list_wanted})
        print(
            fill(
                message(
                    N_("{count} values are assumed because nobody has told them; lists that would: {lists}."),
                    count=len(found),
                    lists=", ".join(lists),
                )
            )
        )
    for notice in version.notices:
        if notice.rule == LIST_NOT_THERE:
            print(fill(notice.text))
