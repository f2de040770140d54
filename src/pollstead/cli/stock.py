"""``pollstead stock``: the seal stock against plan and record. Thin: read, compute, print."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import cyclopts

from pollstead.cli.county import Refused, facts_of, refuse, tell
from pollstead.cli.options import AsJson
from pollstead.cli.standing import standing_of
from pollstead.election.words import N_, message
from pollstead.plan.seals.inspection import drawn, look_words, seal_places, second_looks
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    from pollstead.plan.seals.forecast import ForecastLine
    from pollstead.plan.terms.version import PlanVersion
    from pollstead.work.stock import StockReport

FORMAT = "pollstead stock 1"

app = cyclopts.App(
    name="stock", help=text(N_("Say what seals came in, where they are, and when they run short."))
)


@app.default
def stock(
    folder: Path,
    /,
    *,
    print_: Annotated[
        Path | None,
        cyclopts.Parameter(name="--print", help=text(N_("Print the seal range sheet into this PDF file."))),
    ] = None,
    lot: Annotated[
        str,
        cyclopts.Parameter(
            help=text(N_("Digits thrown in public: draw the seals for a second look by them."))
        ),
    ] = "",
    looks: Annotated[
        int | None, cyclopts.Parameter(help=text(N_("How many seals to draw; the advice if not given.")))
    ] = None,
    as_json: AsJson = False,
) -> int:
    """Print the seal ledger, what does not add up, the forecast by date and the blocks for each bag.

    Seal numbers are printed: keep the output where the numbers are kept. Returns 0 whatever is found. With
    --lot only the closures to look at again are printed, without numbers.
    """
    from pollstead.work.stock import stock_report

    try:
        election, _ = facts_of(folder)
        plan, folded, _ = standing_of(folder)
    except Refused as refused:
        return tell(refused)
    if lot or looks is not None:
        try:
            print_drawn(plan, lot, looks)
        except Refused as refused:
            return tell(refused)
        return 0
    report = stock_report(election, plan, folded)
    if print_ is not None:
        from pollstead.cli.warehouse_print import print_to
        from pollstead.show.packet.warehouse import range_sheet

        return print_to(print_, election, plan, lambda given: range_sheet(given, report))
    if as_json:
        json.dump(stock_object(report), sys.stdout, ensure_ascii=False, indent=2)
        print()
    else:
        print_stock(report, planned=plan is not None)
    return 0


SHORTEST_LOT = 6


def print_drawn(plan: PlanVersion | None, lot: str, looks: int | None) -> None:
    """Print the closures of the seals that the lot draws, site by site; may refuse."""
    if plan is None:
        refuse(
            N_("There is no plan version yet, so there is no seal to draw. Make one: pollstead plan FOLDER")
        )
    if not (lot.isdecimal() and len(lot) >= SHORTEST_LOT):
        refuse(
            N_("The lot is {least} digits or more, thrown in public after the seals are on, got {lot}"),
            least=SHORTEST_LOT,
            lot=lot or "-",
        )
    places = seal_places(plan)
    advised = second_looks(len(places))
    wanted = looks if looks is not None else advised[0].looks if advised else 0
    if not 0 < wanted <= len(places):
        refuse(N_("Draw 1 to {all} seals, got {looks}"), all=len(places), looks=wanted)
    words = N_(
        "Look again at these {looks} of {all} seals, two people, by the lot {lot}. Draw again to compare."
    )
    print(fill(message(words, looks=wanted, all=len(places), lot=lot)))
    for place in sorted(drawn(places, wanted, lot), key=lambda p: (p.site, p.station, p.key)):
        print(f"  {place.site or '-'}  {place.station}  {place.name}  {place.key}")


def stock_object(report: StockReport) -> dict[str, Any]:
    """The stable JSON form of the stock."""
    return {
        "format": FORMAT,
        "kinds": [
            {
                "seal_kind": line.seal_kind,
                "received": line.received,
                "store": line.store,
                "bag": line.bag,
                "closure": line.closure,
                "void": line.void,
                "outside": line.outside,
            }
            for line in report.ledger.lines
        ],
        "troubles": [
            {
                "kind": trouble.kind.value,
                "seal_kind": trouble.seal_kind,
                "series": trouble.series,
                "where": trouble.where,
                "first": trouble.first,
                "last": trouble.last,
                "count": trouble.count,
            }
            for trouble in report.ledger.troubles
        ],
        "forecast": [
            {
                "seal_kind": line.seal_kind,
                "date": None if line.date is None else line.date.isoformat(),
                "moment": line.moment.value,
                "needed": line.needed,
                "total": line.total,
                "left": line.left,
            }
            for line in report.forecast.lines
        ],
        "bags": [
            {
                "site": bag.site,
                "seal_kind": bag.seal_kind,
                "needed": bag.needed,
                "short": bag.short,
                "blocks": [
                    {"first": b.first, "last": b.last, "count": b.count, "given": b.given} for b in bag.blocks
                ],
            }
            for bag in report.bags.bags
        ],
        "second_looks": [
            {"seals": look.seals, "swapped": look.swapped, "looks": look.looks, "percent": look.percent}
            for look in second_looks(report.ledger.on_closures)
        ],
    }


def print_stock(report: StockReport, *, planned: bool) -> None:
    """Print the stock in words."""
    if not report.ledger.lines:
        print(text(N_("No seal is in the tables yet. Add seal_receipts.csv or seal_ranges.csv.")))
    for line in report.ledger.lines:
        print(
            fill(
                message(
                    N_(
                        "{kind}: {received} came in; {store} in the store, {bag} in bags, "
                        "{closure} on closures, {void} void."
                    ),
                    kind=line.seal_kind,
                    received=line.received,
                    store=line.store,
                    bag=line.bag,
                    closure=line.closure,
                    void=line.void,
                )
            )
        )
    from pollstead.plan.seals.trouble import notice_of

    for trouble in report.ledger.troubles:
        numbers = f" ({trouble.first}–{trouble.last})" if trouble.first != trouble.last else ""
        numbers = numbers or (f" ({trouble.first})" if trouble.first else "")
        print(f"- {fill(notice_of(trouble).text)}{numbers}")
    for line in report.ledger.lines:
        _print_forecast(report, line.seal_kind)
    for bag in report.bags.bags:
        blocks = ", ".join(f"{b.first}–{b.last}" for b in bag.blocks) or "-"
        print(
            fill(
                message(
                    N_("Bag of {site}, {kind}: {needed} wanted: {blocks}."),
                    site=bag.site,
                    kind=bag.seal_kind,
                    needed=bag.needed,
                    blocks=blocks,
                )
            )
        )
        if bag.short:
            print("  " + fill(message(N_("{count} seals lack for this bag."), count=bag.short)))
    for look in second_looks(report.ledger.on_closures):
        print(fill(look_words(look)))
    if not planned:
        print(text(N_("There is no plan version yet, so nothing is said of what will be needed.")))


def _print_forecast(report: StockReport, kind: str) -> None:
    mine = [line for line in report.forecast.lines if line.seal_kind == kind]
    if not mine:
        return
    short = report.forecast.short(kind)
    if short is None:
        print(
            fill(
                message(
                    N_("{kind}: {total} needed in all with the share for spoiled seals; {left} left."),
                    kind=kind,
                    total=mine[-1].total,
                    left=mine[-1].left or 0,
                )
            )
        )
    else:
        print(
            fill(
                message(
                    N_("{kind} runs short {when}: {short} are missing then, {all} in the end."),
                    kind=kind,
                    when=when_of(short),
                    short=-(short.left or 0),
                    all=-(mine[-1].left or 0),
                )
            )
        )


def when_of(line: ForecastLine) -> str:
    """The date and moment of a line as people read them."""
    return f"{line.date.isoformat()}, {text(line.moment.value)}" if line.date else text(line.moment.value)
