"""The seal stock: what came in, where each seal is, what does not add up, when a kind runs short."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar, Literal

from litestar import Request, Response, get, post

from pollstead.election.county import Election
from pollstead.election.identity import is_id
from pollstead.election.seal_stock import SealReceipt, VoidReason
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.intake.fact_edits import add_row
from pollstead.plan.seals.applied import applied_in_facts, kinds_of_closures
from pollstead.plan.seals.blocks import Bag
from pollstead.plan.seals.forecast import ForecastLine
from pollstead.plan.seals.ledger import KindLine
from pollstead.plan.seals.spans import span_of
from pollstead.plan.seals.trouble import Trouble, notice_of
from pollstead.record.kinds.stocks import SealVoided, StockNumbers, StockReceived, VoidSeal
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.pages.entry import TypedValue
from pollstead.show.web.pages.frame import Ask, Page, answer, go, in_thread
from pollstead.show.web.pages.frame import Trouble as PageTrouble
from pollstead.show.web.second import second_person
from pollstead.show.web.typed import Wrong
from pollstead.work.facts import CannotChange, NotTaken
from pollstead.work.stock import StockReport, stock_report

RECEIVE_FIELDS = ("id", "seal_kind", "series", "first", "last", "quantity", "counted", "received", "held_at")
WHY: dict[str, Literal["damaged", "lost", "misprinted", "cut"]] = {
    "damaged": "damaged",
    "lost": "lost",
    "misprinted": "misprinted",
    "cut": "cut",
}
VOID_FIELDS = ("void_kind", "number", "why", "reason")


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
    forecasts: tuple[KindForecast, ...]
    receipts: tuple[SealReceipt, ...]
    bags: tuple[Bag, ...]
    known_kinds: tuple[str, ...]
    show: bool
    may_change: bool
    cautions: tuple[Caution, ...]
    typed: tuple[TypedValue, ...]
    faults: tuple[Wrong, ...]
    done: str


def county_of(ask: Ask) -> Election:
    """The county as its tables are now; raises where they cannot be read."""
    election = ask.folder.tables_election()
    if election is None:
        raise PageTrouble(
            409, N_("The county's tables cannot be read."), N_("The first page names the faults."), "/"
        )
    return election


def report_of(ask: Ask, election: Election) -> StockReport:
    """The stock by tables, plan and record."""
    return stock_report(election, ask.folder.current(), ask.folder.fold())


def stock_page(ask: Ask, faults: tuple[Wrong, ...] = ()) -> StockPage:
    """The page as this person may see it; with `faults`, what was typed is kept."""
    election = county_of(ask)
    report = report_of(ask, election)
    show = ask.may(Capability.SEE_EXPECTED)
    names = (*RECEIVE_FIELDS, *VOID_FIELDS, "second", "void_second")
    kinds = {c.seal_kind for t in election.station_types for c in t.closures if c.seal_kind}
    return StockPage(
        **ask.frame(N_("Are there seals enough, and where are they?")),
        kinds=report.ledger.lines,
        troubles=tuple(trouble_line(trouble, show=show) for trouble in report.ledger.troubles),
        forecasts=forecasts_of(report),
        receipts=election.seal_receipts if show else (),
        bags=report.bags.bags if show else (),
        known_kinds=tuple(sorted(kinds)),
        show=show,
        may_change=ask.may(Capability.STOCK),
        cautions=for_place(Place.SEALS),
        typed=tuple(TypedValue(field=n, value=ask.form.text(n)) for n in names) if faults else (),
        faults=faults,
        done=str(ask.query.get("done") or "") if not faults else "",
    )


def trouble_line(trouble: Trouble, *, show: bool) -> TroubleLine:
    """One thing that does not add up, in words."""
    notice = notice_of(trouble)
    return TroubleLine(
        words=notice.text,
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


def take_receipt(ask: Ask) -> tuple[Wrong, ...]:
    """Record a box that came in: one event with two people, then its rows in the tables."""
    form, election = ask.form, county_of(ask)
    faults: list[Wrong] = []
    receipt = form.text("id") or next_receipt(election)
    if not is_id(f"seal/{receipt}"):
        faults.append(_wrong("id", N_("A short name: letters, digits, dot or dash, such as R-7.")))
    elif any(row.id == receipt for row in election.seal_receipts):
        faults.append(_wrong("id", N_("A receipt of this name is there already.")))
    kind, series = form.text("seal_kind"), form.text("series")
    if not kind:
        faults.append(_wrong("seal_kind", N_("Choose the kind of seal.")))
    if not series:
        faults.append(_wrong("series", N_("Type the series or the order the seals belong to.")))
    span = span_of(kind, series, form.text("first"), form.text("last"), "")
    if span is None:
        faults.append(
            _wrong("first", N_("First and last must be of one shape, such as 0048001 and 0048400."))
        )
    counted, quantity = whole(form.text("counted")), whole(form.text("quantity"))
    if counted is None:
        faults.append(_wrong("counted", N_("Type how many the two of you counted.")))
    if quantity is None and form.text("quantity"):
        faults.append(_wrong("quantity", N_("Type a whole number, or leave it blank.")))
    received = day_of(form.text("received"))
    if received is None and form.text("received"):
        faults.append(_wrong("received", N_("Type a date such as 2028-09-01, or leave it blank.")))
    second = second_person(ask)
    if isinstance(second, Wrong):
        faults.append(second)
    if faults or isinstance(second, Wrong) or counted is None:
        return tuple(faults)
    author = ask.person().person
    cells = {
        "id": receipt,
        "seal_kind": kind,
        "series": series,
        "first": form.text("first"),
        "last": form.text("last"),
        "quantity": form.text("quantity"),
        "counted": str(counted),
        "received": received.isoformat() if received else "",
        "counted_by": f"{short(author)} {short(second)}",
        "held_at": form.text("held_at"),
    }
    book = {name: cells[name] for name in ("seal_kind", "series", "first", "last")}
    edits = [add_row("seal_receipts", cells)]
    if not any(
        (r.seal_kind, r.first, r.last) == (kind, cells["first"], cells["last"]) for r in election.seal_ranges
    ):
        edits.append(add_row("seal_ranges", book))
    fault = changed(ask, tuple(edits), f"seals/{receipt}", "Seals received and counted", second, "first")
    if fault is not None:
        return (fault,)
    ask.folder.write(
        StockReceived(receipt=receipt, counted=counted, quantity=quantity),
        who=ask.person(),
        subject=f"seals/{receipt}",
        private=StockNumbers(first=cells["first"], last=cells["last"]),
        second=second,
    )
    return ()


def take_void(ask: Ask) -> tuple[Wrong, ...]:
    """Record a seal that is void, with two people and why."""
    form, election = ask.form, county_of(ask)
    faults: list[Wrong] = []
    kind, number, why = form.text("void_kind"), form.text("number"), form.text("why")
    if not kind:
        faults.append(_wrong("void_kind", N_("Choose the kind of seal.")))
    if not number:
        faults.append(_wrong("number", N_("Type the number on the seal.")))
    if why not in [reason.value for reason in VoidReason]:
        faults.append(_wrong("why", N_("Choose why it is void.")))
    if not form.text("reason"):
        faults.append(_wrong("reason", N_("Say in a few words what happened.")))
    if any((v.seal_kind, v.number) == (kind, number) for v in election.seal_voids):
        faults.append(_wrong("number", N_("This seal is void already.")))
    second = second_person(ask, "void_second")
    if isinstance(second, Wrong):
        return (*faults, second)
    if faults:
        return tuple(faults)
    today = dt.datetime.fromtimestamp(ask.folder.clock() / 1000, tz=dt.UTC).date()
    row = {
        "seal_kind": kind,
        "number": number,
        "reason": why,
        "date": today.isoformat(),
        "people": f"{short(ask.person().person)} {short(second)}",
    }
    subject = closure_of(ask, election, kind, number) or "seals/void"
    fault = changed(ask, (add_row("seal_voids", row),), subject, form.text("reason"), second, "number")
    if fault is not None:
        return (fault,)
    ask.folder.write(
        SealVoided(why=WHY[why]),
        who=ask.person(),
        subject=subject,
        private=VoidSeal(number=number, reason=form.text("reason")),
        second=second,
    )
    return ()


def closure_of(ask: Ask, election: Election, kind: str, number: str) -> str:
    """The closure that a number is on by the tables; empty where it is on none."""
    kinds = kinds_of_closures(election, ask.folder.current())
    return next(
        (
            event.place
            for event in applied_in_facts(election, kinds)
            if (event.seal_kind, event.number) == (kind, number)
        ),
        "",
    )


def changed(
    ask: Ask, edits: tuple[Any, ...], subject: str, reason: str, second: str, field: str
) -> Wrong | None:
    """Write the edits into the tables by one event; the fault to show where they cannot be taken."""
    try:
        ask.folder.change_facts(
            edits, who=ask.person(), act="add_stock", subject=subject, reason=reason, second=second
        )
    except NotTaken as refused:
        return Wrong(field=field, words=refused.faults[0].text)
    except CannotChange as refused:
        return Wrong(field=field, words=refused.said)
    return None


def next_receipt(election: Election) -> str:
    """A name for a receipt that is not taken: R-1, R-2 and so on."""
    taken = {row.id for row in election.seal_receipts}
    return next(f"R-{n}" for n in range(1, len(taken) + 2) if f"R-{n}" not in taken)


def whole(text: str) -> int | None:
    """A whole number of at most nine digits; None for anything else."""
    return int(text) if text.isascii() and text.isdecimal() and len(text) <= 9 else None


def day_of(text: str) -> dt.date | None:
    """A date as ISO text; None for anything else."""
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        return None


def short(person: str) -> str:
    """A person's id as people.csv has it."""
    return person.removeprefix("person/")


def _wrong(field: str, words: str) -> Wrong:
    return Wrong(field=field, words=message(words))


@get("/stock")
@in_thread
def stock(request: Request[Any, Any, Any]) -> Response[str]:
    """The seal stock."""
    ask = Ask(request)
    return answer(ask, stock_page(ask))


@post("/stock")
@in_thread
def take_stock(request: Request[Any, Any, Any]) -> Response[Any]:
    """Take a receipt or a void seal."""
    ask = Ask(request)
    what = ask.form.text("do")
    if what not in ("receive", "void"):
        raise PageTrouble(
            400, N_("This form is not known here."), N_("Open the page again, then send it."), "/stock"
        )
    faults = take_receipt(ask) if what == "receive" else take_void(ask)
    if faults:
        return answer(ask, stock_page(ask, faults), status=422)
    return go(f"/stock?done={what}")
