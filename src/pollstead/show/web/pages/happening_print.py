"""Paper of the day as PDF: the list of incidents, the slip of an order with boxes for the read-back."""

from __future__ import annotations

from typing import Any

from litestar import Request, Response, get

from pollstead.election.instants import format_clock
from pollstead.election.words import N_
from pollstead.show.cautions import Place
from pollstead.show.packet.happening_paper import HappeningPaper, happening_paper, happening_pdf
from pollstead.show.packet.setting import PrintFailed
from pollstead.show.web.happening_view import SERVICE_WORDS, Happening
from pollstead.show.web.pages.frame import Ask, Trouble, in_thread
from pollstead.show.web.pages.incidents import row_of
from pollstead.show.web.pages.orders import OrderRow
from pollstead.show.web.pages.orders import row_of as order_row


def incident_paper(ask: Ask, happening: Happening) -> HappeningPaper:
    """The list of incidents with the lost minutes of each site."""
    plain = ask.speak.plain
    services = dict(SERVICE_WORDS)
    rows = []
    for one in happening.incidents:
        row = row_of(ask, happening, one)
        until = plain(N_("goes on")) if one.ended_min is None else format_clock(one.ended_min)
        told = ": ".join(filter(None, (row.caller, row.words)))
        rows.append(
            (
                one.label,
                f"{format_clock(one.began_min)}–{until}",
                " ".join(filter(None, (one.site, row.site_name, row.serial))),
                row.what + (f" (= {row.into})" if row.into else ""),
                plain(services.get(one.service, one.service)),
                told,
            )
        )
    lost = [
        plain(
            N_("{site}: {minutes} min lost at the whole site."),
            site=f"{one.site} {happening.site_names.get(one.site, '')}",
            minutes=one.site_min,
        )
        for one in happening.lost
        if one.site_min
    ]
    return happening_paper(
        happening.election,
        happening.now_ms,
        place=Place.INCIDENTS,
        title=plain(N_("Incidents of {day}"), day=happening.day),
        language=ask.language,
        lead=tuple(lost),
        table_title=plain(N_("What was told")),
        heads=tuple(
            plain(word)
            for word in (N_("No."), N_("Time"), N_("Site and device"), N_("What"), N_("Voters"), N_("Told"))
        ),
        widths=(0, 0, 3, 3, 3, 4),
        rows=tuple(rows),
        empty=plain(N_("Nothing was told to have gone wrong on this day.")),
    )


def order_paper(ask: Ask, happening: Happening, row: OrderRow) -> HappeningPaper:
    """The slip of one order: what to read aloud, and the calls with boxes."""
    plain, one = ask.speak.plain, row.item
    sites = "; ".join(row.sites) or plain(N_("the whole county"))
    minutes = [
        (plain(words), format_clock(minute))
        for words, minute in ((N_("From"), one.from_min), (N_("Until"), one.until_min))
        if minute is not None
    ]
    facts = [
        (plain(N_("What it changes")), plain(row.does)),
        (plain(N_("For")), sites),
        *minutes,
        *([(plain(N_("Place")), one.to_place)] if one.to_place else []),
        (plain(N_("Given by")), plain(row.by)),
        (plain(N_("Its words are in")), one.source),
        *([(plain(N_("Ballots under it")), plain(row.apart))] if one.apart != "no" else []),
        *([(plain(N_("In place of order")), ", ".join(row.supersedes))] if row.supersedes else []),
    ]
    if not row.holds_at:
        facts.append((plain(N_("State")), plain(N_("holds no longer"))))
    aloud = plain(
        N_("Order {number} of {day}, for {sites}: {does}."),
        number=one.label,
        day=happening.day,
        sites=sites,
        does="; ".join(
            (
                plain(row.does),
                *(f"{words.lower()} {minute}" for words, minute in minutes),
                *(
                    [plain(N_("in place of order {n}"), n=", ".join(row.supersedes))]
                    if row.supersedes
                    else []
                ),
                *(
                    [plain(N_("ballots under it: {apart}"), apart=plain(row.apart))]
                    if one.apart != "no"
                    else []
                ),
            )
        ),
    )
    return happening_paper(
        happening.election,
        happening.now_ms,
        place=Place.EXTENDED_HOURS,
        title=plain(N_("Order {number} of {day}"), number=one.label, day=happening.day),
        language=ask.language,
        facts=tuple(facts),
        read_aloud=aloud if row.holds_at else "",
        calls=tuple(
            (
                f"{call.item.site} {call.name}",
                "; ".join(" ".join(filter(None, pair)) for pair in call.phones),
                ""
                if call.item.at_min is None or call.item.state != "same"
                else format_clock(call.item.at_min),
                "" if call.item.state != "same" else plain(N_("read back")),
            )
            for call in row.calls
        )
        if row.holds_at
        else (),
    )


def _answer(paper: HappeningPaper, name: str, back: str) -> Response[bytes]:
    try:
        made = happening_pdf(paper)
    except PrintFailed as error:
        raise Trouble(
            409, N_("{why}"), N_("Correct that, then print again."), back, why=str(error)
        ) from error
    headers = {"content-disposition": f'inline; filename="{name}.pdf"'}
    return Response(content=made, media_type="application/pdf", headers=headers)


@get("/incidents/paper")
@in_thread
def incidents_paper(request: Request[Any, Any, Any]) -> Response[bytes]:
    """The list of incidents as PDF."""
    ask = Ask(request)
    return _answer(incident_paper(ask, Happening(ask)), "incidents", "/incidents")


@get("/orders/paper")
@in_thread
def orders_paper(request: Request[Any, Any, Any]) -> Response[bytes]:
    """The slip of one order as PDF."""
    ask = Ask(request)
    happening = Happening(ask)
    wanted = ask.query.get("order", "")
    one = next((order for order in happening.orders if order.subject == wanted), None)
    if one is None:
        raise Trouble(404, N_("There is no such order now."), N_("Look at the list again."), "/orders")
    return _answer(
        order_paper(ask, happening, order_row(ask, happening, one)), f"order-{one.label}", "/orders"
    )
