"""The seal stock: what came in, where each seal is, what does not add up, when a kind runs short."""

from __future__ import annotations

from typing import Any, ClassVar

from litestar import Request, Response, get, post

from pollstead.election.county import Election
from pollstead.election.seal_stock import SealReceipt
from pollstead.election.values import Value
from pollstead.election.words import N_, Message
from pollstead.plan.seals.blocks import Bag
from pollstead.plan.seals.forecast import ForecastLine
from pollstead.plan.seals.inspection import SecondLook, second_looks
from pollstead.plan.seals.ledger import KindLine
from pollstead.plan.seals.trouble import Trouble, notice_of
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.folded import Alike, alike
from pollstead.show.web.misread import MISREAD
from pollstead.show.web.pages.entry import TypedValue
from pollstead.show.web.pages.frame import Ask, Page, answer, go, in_thread
from pollstead.show.web.pages.frame import Trouble as PageTrouble
from pollstead.show.web.pages.stock_acts import (
    BLOCK_FIELDS,
    COUNT_FIELDS,
    RECEIVE_FIELDS,
    RETURN_FIELDS,
    UNDO_FIELDS,
    VOID_FIELDS,
    StockAct,
    county_of,
    recent_acts,
    report_of,
    short_site,
    take_count,
    take_numbers,
    take_receipt,
    take_undo,
    take_void,
)
from pollstead.show.web.typed import Wrong
from pollstead.work.stock import StockReport, box_counts, said_of

FORMS = {
    "receive": (*RECEIVE_FIELDS, "second"),
    "void": VOID_FIELDS,
    "count": COUNT_FIELDS,
    "return": RETURN_FIELDS,
    "block": BLOCK_FIELDS,
    "undo": UNDO_FIELDS,
}


class CountLine(Value, frozen=True, kw_only=True):
    """The last count of a receipt: counted, and what the book had then."""

    receipt: str
    counted: int
    book: int | None
    people: tuple[str, ...]


class TroubleLine(Value, frozen=True, kw_only=True):
    """One thing that does not add up; its numbers are empty where this role may not see them."""

    words: Message
    remedy: Message | None
    first: str
    last: str


class KindForecast(Value, frozen=True, kw_only=True):
    """One kind: its dates, and the first of them at which it runs short."""

    seal_kind: str
    lines: tuple[ForecastLine, ...]
    short: ForecastLine | None
    at_the_end: int | None


class StockPage(Page, frozen=True, kw_only=True):
    """The seal stock."""

    template: ClassVar[str] = "stock.html"

    kinds: tuple[KindLine, ...]
    troubles: tuple[TroubleLine, ...]
    alike: tuple[Alike[TroubleLine], ...]
    forecasts: tuple[KindForecast, ...]
    second_looks: tuple[SecondLook, ...]
    receipts: tuple[SealReceipt, ...]
    bags: tuple[Bag, ...]
    known_kinds: tuple[str, ...]
    show: bool
    may_change: bool
    cautions: tuple[Caution, ...]
    sites: tuple[tuple[str, str], ...]
    counts: tuple[CountLine, ...]
    acts: tuple[StockAct, ...]
    waiting: int
    open_form: str
    misread_offered: bool
    typed: tuple[TypedValue, ...]
    faults: tuple[Wrong, ...]
    done: str


def stock_page(ask: Ask, faults: tuple[Wrong, ...] = ()) -> StockPage:
    """The page as this person may see it; with `faults`, what was typed is kept."""
    election = county_of(ask)
    report = report_of(ask, election)
    show = ask.may(Capability.SEE_EXPECTED)
    names = tuple(name for form in FORMS.values() for name in form)
    may_change = ask.may(Capability.STOCK)
    troubles = tuple(trouble_line(trouble, election, show=show) for trouble in report.ledger.troubles)
    kinds = {c.seal_kind for t in election.station_types for c in t.closures if c.seal_kind}
    # A command card asks for a form by its name.
    asked = str(ask.query.get("form") or "")
    return StockPage(
        **ask.frame(N_("Are there seals enough, and where are they?")),
        kinds=report.ledger.lines,
        troubles=troubles,
        alike=alike(troubles, lambda line: line.words.template),
        forecasts=forecasts_of(report),
        second_looks=second_looks(report.ledger.on_closures),
        receipts=election.seal_receipts if show else (),
        bags=report.bags.bags if show else (),
        known_kinds=tuple(sorted(kinds)),
        show=show,
        may_change=may_change,
        sites=tuple((short_site(site.id), f"{short_site(site.id)} {site.name}") for site in election.sites),
        counts=counts_of(ask),
        acts=recent_acts(ask) if may_change else (),
        waiting=len(ask.folder.half_done()),
        open_form=form_of(faults) or asked,
        misread_offered=any(fault.words.template == MISREAD for fault in faults),
        cautions=for_place(Place.SEALS),
        typed=tuple(TypedValue(field=n, value=ask.form.text(n)) for n in names) if faults else (),
        faults=faults,
        done=str(ask.query.get("done") or "") if not faults else "",
    )


def form_of(faults: tuple[Wrong, ...]) -> str:
    """Which form the faults belong to; empty where there are none."""
    fields = {fault.field for fault in faults}
    return next((name for name, form in FORMS.items() if fields & set(form)), "")


def counts_of(ask: Ask) -> tuple[CountLine, ...]:
    """The last count of each receipt that was counted."""
    return tuple(
        CountLine(
            receipt=line.receipt,
            counted=line.counted,
            book=line.book,
            people=tuple(ask.folder.person_name(person) for person in line.people),
        )
        for line in box_counts(ask.folder.fold())
    )


def trouble_line(trouble: Trouble, election: Election, *, show: bool) -> TroubleLine:
    """One thing that does not add up, in words."""
    notice = notice_of(trouble)
    return TroubleLine(
        words=said_of(trouble, election),
        remedy=notice.remedy,
        first=trouble.first if show else "",
        last=trouble.last if show else "",
    )


def forecasts_of(report: StockReport) -> tuple[KindForecast, ...]:
    """The forecast of each kind that the plan needs."""
    kinds = dict.fromkeys(line.seal_kind for line in report.forecast.lines)
    found = []
    for kind in kinds:
        lines = tuple(line for line in report.forecast.lines if line.seal_kind == kind)
        found.append(
            KindForecast(
                seal_kind=kind, lines=lines, short=report.forecast.short(kind), at_the_end=lines[-1].left
            )
        )
    return tuple(found)


TAKE = {"receive": take_receipt, "void": take_void, "count": take_count, "undo": take_undo}


@get("/stock")
@in_thread
def stock(request: Request[Any, Any, Any]) -> Response[str]:
    """The seal stock."""
    ask = Ask(request)
    return answer(ask, stock_page(ask))


@post("/stock")
@in_thread
def take_stock(request: Request[Any, Any, Any]) -> Response[Any]:
    """Take what one of the forms says."""
    ask = Ask(request)
    what = ask.form.text("do")
    if what not in FORMS:
        raise PageTrouble(
            400, N_("This form is not known here."), N_("Open the page again, then send it."), "/stock"
        )
    faults = take_numbers(ask, what) if what in ("return", "block") else TAKE[what](ask)
    if faults:
        return answer(ask, stock_page(ask, faults), status=422)
    return go(f"/stock?done={what}")
