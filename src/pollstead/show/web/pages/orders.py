"""Which orders hold: what reached the office, whom it is for, who has not read it back yet."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar, Final
from urllib.parse import urlencode

from litestar import Request, Response, get, post

from pollstead.election.notice import Notice
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.reconcile.happening.orders import (
    Acknowledged,
    Order,
    acknowledgements,
    closes_at,
    holding,
    order_notices,
    superseding,
)
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.happening_view import Happening
from pollstead.show.web.pages.entry import TypedValue
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.pages.order_acts import APART, BY, DOES, FIELDS, take_order, take_read_back, take_undo
from pollstead.show.web.pages.site_people import sees_phones
from pollstead.show.web.typed import Wrong

STATE_WORDS: Final = {
    "same": (N_("read back"), "square"),
    "not_same": (N_("read back otherwise"), "diamond"),
    "differs": (N_("two words differ"), "diamond"),
    "not_reached": (N_("not reached"), "ring"),
    "not_yet": (N_("not called yet"), "ring"),
}


class Call(Value, frozen=True, kw_only=True):
    """A site that an order is for: whom to call, what it read back."""

    item: Acknowledged
    name: str
    words: str
    mark: str
    phones: tuple[tuple[str, str], ...]


class OrderRow(Value, frozen=True, kw_only=True):
    """One order: words, whether it holds, its calls in the order to make them."""

    item: Order
    does: str
    by: str
    apart: str
    sites: tuple[str, ...]
    superseded: tuple[str, ...]
    supersedes: tuple[str, ...]
    holds_at: int
    calls: tuple[Call, ...]
    left: int


class ClosingRow(Value, frozen=True, kw_only=True):
    """A site whose closing an order changes: set and in force, minutes of the day."""

    site: str
    name: str
    set_min: int
    closes_min: int


class OrdersPage(Page, frozen=True, kw_only=True):
    """Which orders hold."""

    template: ClassVar[str] = "orders.html"

    day: dt.date
    days: tuple[dt.date, ...]
    now_ms: int
    zone: str
    rows: tuple[OrderRow, ...]
    closings: tuple[ClosingRow, ...]
    notices: tuple[Notice, ...]
    does: tuple[tuple[str, str], ...]
    by: tuple[tuple[str, str], ...]
    apart: tuple[tuple[str, str], ...]
    may_act: bool
    undo: str
    typed: tuple[TypedValue, ...]
    faults: tuple[Wrong, ...]
    done: str
    cautions: tuple[Caution, ...]


def orders_page(ask: Ask, happening: Happening, faults: tuple[Wrong, ...] = ()) -> OrdersPage:
    """The page; with `faults` what was typed is kept."""
    plain = ask.speak.plain

    def choices(words: dict[Any, str]) -> tuple[tuple[str, str], ...]:
        return tuple((key, plain(english)) for key, english in words.items())

    return OrdersPage(
        **ask.frame(N_("Which orders hold, and who has not read them back?")),
        day=happening.date,
        days=happening.dates,
        now_ms=happening.now_ms,
        zone=happening.election.zone_name,
        rows=tuple(reversed([row_of(ask, happening, one) for one in happening.orders])),
        closings=tuple(closings(happening)),
        notices=order_notices(happening.orders),
        does=choices(DOES),
        by=choices(BY),
        apart=choices(APART),
        may_act=ask.may(Capability.CALL),
        undo=ask.query.get("undo", "") if not faults else "",
        typed=tuple(TypedValue(field=f, value=ask.form.text(f)) for f in FIELDS) if faults else (),
        faults=faults,
        done=ask.query.get("done", "") if not faults else "",
        cautions=for_place(Place.EXTENDED_HOURS),
    )


def closings(happening: Happening) -> list[ClosingRow]:
    """The sites whose closing differs from what the county set."""
    found = []
    for site in happening.sites:
        hours = next(
            (
                h
                for s in happening.election.sites
                if s.id == site.site
                for h in s.hours
                if h.date == happening.date
            ),
            None,
        )
        if hours is None:
            continue
        closes = closes_at(happening.orders, site.site, hours.closes_min)
        if closes != hours.closes_min:
            found.append(
                ClosingRow(site=site.site, name=site.name, set_min=hours.closes_min, closes_min=closes)
            )
    return found


def row_of(ask: Ask, happening: Happening, one: Order) -> OrderRow:
    """One order with its calls."""
    sites = tuple(happening.site_names)
    labels = {other.subject: other.label for other in happening.orders}
    calls = tuple(_call(ask, happening, said) for said in acknowledgements(happening.folded, one, sites))
    return OrderRow(
        item=one,
        does=next((words for key, words in DOES.items() if key == one.does), one.does),
        by=next((words for key, words in BY.items() if key == one.issued_by), one.issued_by),
        apart=next((words for key, words in APART.items() if key == one.apart), one.apart),
        sites=tuple(f"{s} {happening.site_names.get(s, '')}".strip() for s in one.sites),
        superseded=tuple(later.label for later in superseding(one, happening.orders)),
        supersedes=tuple(labels.get(name, name.rpartition("/")[2]) for name in one.supersedes),
        holds_at=sum(one in holding(happening.orders, site) for site in sites),
        calls=calls,
        left=sum(call.item.state != "same" for call in calls),
    )


def _call(ask: Ask, happening: Happening, said: Acknowledged) -> Call:
    words, mark = STATE_WORDS[said.state]
    names = ask.may(Capability.SEE_PEOPLE)
    phones = sees_phones(ask, happening.election, said.site)
    leads = [p for p in happening.election.people if p.site == said.site]
    leads.sort(key=lambda p: ("lead" not in p.role, p.id))
    return Call(
        item=said,
        name=happening.site_names.get(said.site, ""),
        words=words,
        mark=mark,
        phones=tuple((p.name if names else p.id, p.phone if phones else "") for p in leads[:2]),
    )


@get("/orders")
@in_thread
def orders(request: Request[Any, Any, Any]) -> Response[str]:
    """Which orders hold."""
    ask = Ask(request)
    return answer(ask, orders_page(ask, Happening(ask)))


@post("/orders")
@in_thread
def take_orders(request: Request[Any, Any, Any]) -> Response[Any]:
    """Take an order, a read-back or an undo."""
    ask = Ask(request)
    do, happening = ask.form.text("do"), Happening(ask)
    done: tuple[Wrong, ...] | str
    if do == "give":
        done = take_order(ask, happening)
    elif do == "read-back":
        done = take_read_back(ask, happening)
    elif do == "undo":
        done = take_undo(ask, happening)
    else:
        raise Trouble(400, N_("This form is not known here."), N_("Open the page again."), "/orders")
    if isinstance(done, tuple):
        return answer(ask, orders_page(ask, happening, done), status=422)
    query = {"day": happening.day, "done": do, "undo": "" if do == "undo" else done}
    return go(f"/orders?{urlencode({k: v for k, v in query.items() if v})}")
