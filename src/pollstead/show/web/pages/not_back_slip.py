"""The retrieval slip of one thing that is not back, as PDF."""

from __future__ import annotations

from typing import Any

from litestar import Request, Response, get

from pollstead.election.instants import Instant
from pollstead.election.words import N_
from pollstead.show.packet.fetch_slip import FetchSlip, fetch_slip
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.custody_view import Evening
from pollstead.show.web.pages.frame import Ask, Trouble, in_thread
from pollstead.show.web.pages.not_back import Gone, page_of
from pollstead.show.web.warehouse_pdf import pdf_answer


@get("/not-back/slip")
@in_thread
def slip(request: Request[Any, Any, Any]) -> Response[bytes]:
    """The slip for the two who fetch a thing; names and phones as far as this role sees them."""
    ask = Ask(request)
    evening = Evening(ask)
    page = page_of(ask, evening)
    if page.chosen is None:
        raise Trouble(
            404, N_("This thing is back, or was never asked for."), N_("Look at the list again."), "/not-back"
        )
    told = slip_of(ask, evening, page.chosen)
    return pdf_answer(ask, evening.election, "slip.pdf", "/not-back", lambda given: fetch_slip(given, told))


def slip_of(ask: Ask, evening: Evening, row: Gone) -> FetchSlip:
    """What the slip says of one thing, in the reader's language."""
    item, line = row.item, row.item.line
    code = " / ".join(line.one_of) or line.code
    thing = f"{ask.speak.plain(line.sort.value)} {code}"
    machine = ask.speak.plain(N_("from machine {serial}"), serial=row.machine) if row.machine else ""
    going = evening.held[line.thing].fetching if line.thing in evening.held else None
    names = ask.may(Capability.SEE_PEOPLE)
    site = next((s for s in evening.election.sites if s.id.removeprefix("site/") == item.site), None)
    return FetchSlip(
        key=f"FETCH/{line.thing}/{evening.date.isoformat()}",
        thing=", ".join(filter(None, (thing, machine))),
        site=f"{item.site} {item.site_name}".strip(),
        address=site.address if site is not None else "",
        last_people=row.last_names,
        last_place=row.place,
        last_time=clock_words(evening, item.last_ms),
        back_by=clock_words(evening, going.expected_ms if going is not None else None),
        pair=tuple(evening.name(one, shown=names) for one in item.fetching),
        call=tuple((", ".join(filter(None, (one.name, one.role))), " ".join(one.phones)) for one in row.call),
        bring=tuple(dict.fromkeys((code, *(evening.place_words(one) for one in item.holds)))),
    )


def clock_words(evening: Evening, utc_ms: int | None) -> str:
    """A moment as date and clock of the county; empty for none."""
    if utc_ms is None:
        return ""
    return Instant(utc_ms=utc_ms).local(evening.election.zone_name).strftime("%Y-%m-%d %H:%M")
