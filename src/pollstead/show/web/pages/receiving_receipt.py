"""The receipt of a receiving table as PDF; what stands on it is kept as an event."""

from __future__ import annotations

from typing import Any

from litestar import Request, Response, post

from pollstead.election.instants import Instant
from pollstead.election.words import N_, message
from pollstead.reconcile.custody.receiving import ThingLine
from pollstead.record.kinds.custody import ReceiptGiven
from pollstead.show.packet.receipt import ReceiptLine, receipt_of, receipt_pdf
from pollstead.show.packet.setting import PrintFailed
from pollstead.show.web.custody_view import Evening
from pollstead.show.web.pages.frame import Ask, Trouble, in_thread
from pollstead.show.web.pages.receiving_acts import Table, table_of
from pollstead.show.words import fill, text


def receipt(ask: Ask, evening: Evening, table: Table) -> bytes:
    """The PDF of one site at one table, with its event; raises Trouble where there is no such site."""
    day = evening.site(table.site)
    if day is None or not table.name:
        raise Trouble(404, N_("Choose a table and a site first."), N_("Then print."), "/receiving")
    lines = evening.lines[day.site]
    here = tuple(line for line in lines if line.here)
    lacking = tuple(line for line in lines if not line.here)
    others = tuple(
        held.thing
        for held in evening.held.values()
        if any(leg.to_place == table.place and leg.site == day.site for leg in held.at)
        and held.thing not in {line.thing for line in lines}
    )
    at = Instant(utc_ms=evening.now_ms).local(evening.election.zone_name)
    received = tuple(_line(ask, evening, line) for line in here)
    received += tuple(
        ReceiptLine(sort=text(N_("another thing"), ask.language), code=thing.partition("/")[2], word="")
        for thing in others
    )
    made = receipt_of(
        county=f"{evening.election.county}, {evening.election.name}",
        site=f"{day.site} {day.name}",
        table=table.name,
        at=at.strftime("%Y-%m-%d %H:%M"),
        timestamp=evening.now_ms // 1000,
        received=received,
        missing_lines=tuple(_line(ask, evening, line) for line in lacking),
        language=ask.language,
        practice=ask.folder.practice(),
        invented=evening.election.invented,
    )
    try:
        pdf = receipt_pdf(made)
    except PrintFailed as error:
        raise Trouble(
            409, N_("{why}"), N_("Correct that, then print again."), "/receiving", why=str(error)
        ) from error
    ask.folder.write(
        ReceiptGiven(
            table=table.place,
            received=(*(line.thing for line in here), *others),
            missing=tuple(line.thing for line in lacking),
        ),
        who=ask.person(),
        subject=f"site/{day.site}",
        site=f"site/{day.site}",
        day=evening.date.isoformat(),
    )
    return pdf


def _line(ask: Ask, evening: Evening, line: ThingLine) -> ReceiptLine:
    code = line.code
    if line.one_of:
        code = fill(message(N_("one of {ids}"), ids=", ".join(line.one_of)), ask.language)
    if line.here:
        words = [evening.place_words(place) for place in line.tables]
        if line.word is not None:
            at = Instant(utc_ms=line.word.utc_ms).local(evening.election.zone_name)
            words.append(at.strftime("%H:%M"))
        word = ", ".join(words)
    else:
        word = text(line.state.value, ask.language)
        if line.inside:
            word = f"{word}: {evening.place_words(line.inside)}"
    return ReceiptLine(sort=text(line.sort.value, ask.language), code=code, word=word)


@post("/receiving/receipt")
@in_thread
def take_receipt(request: Request[Any, Any, Any]) -> Response[bytes]:
    """Print the receipt of the site at this table."""
    ask = Ask(request)
    return Response(
        content=receipt(ask, Evening(ask), table_of(ask)),
        status_code=200,
        media_type="application/pdf",
        headers={"content-disposition": 'inline; filename="receipt.pdf"'},
    )
