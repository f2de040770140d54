"""Paper of the evening before, as PDF: ten calls, calls shared among callers, door cards."""

from __future__ import annotations

from typing import Any, Final

from litestar import Request, Response, get
from litestar.params import FromPath

from pollstead.election.words import N_
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.pages.calls import Desk
from pollstead.show.web.pages.frame import Ask, Trouble, in_thread
from pollstead.work.readiness import ground_of

MOST_CALLERS = 50
KINDS: Final = ("ten", "callers", "doors")


def pdf(ask: Ask, what: str) -> bytes:
    """The PDF of one kind of sheet; raises Trouble where the role or the words do not allow it."""
    from pollstead.show.packet.ready_sheets import What, paper_pdf, ready_paper
    from pollstead.show.packet.setting import PrintFailed

    kinds: dict[str, What] = {"ten": "ten", "callers": "callers", "doors": "doors"}
    if what not in kinds:
        raise Trouble(404, N_("There is no such sheet."), N_("Choose one on the page."), "/ready")
    keys = ask.may(Capability.SEE_KEYS)
    if not ask.may(Capability.SEE_PHONES) or (what == "doors" and not keys):
        raise Trouble(
            403,
            N_("Your role does not see who opens a building, or phones."),
            N_("Ask the coordinator for this sheet."),
            "/ready",
        )
    typed = ask.query.get("callers", "1")
    callers = int(typed) if typed.isdigit() and typed.isascii() and len(typed) < 4 else 1
    desk = Desk(ask)
    try:
        return paper_pdf(
            ready_paper(
                desk.election,
                desk.found,
                ground_of(
                    desk.election,
                    desk.days.version,
                    desk.days.issued,
                    desk.days.folded,
                    desk.date,
                    desk.found.now_ms,
                ),
                what=kinds[what],
                names=desk.names,
                language=ask.language,
                callers=min(MOST_CALLERS, callers) if what == "callers" else 1,
                keys=keys,
            )
        )
    except PrintFailed as error:
        raise Trouble(
            409, N_("{why}"), N_("Correct that, then print again."), "/ready", why=str(error)
        ) from error


@get("/ready/print/{what:str}")
@in_thread
def ready_print(request: Request[Any, Any, Any], what: FromPath[str]) -> Response[bytes]:
    """One kind of sheet as PDF."""
    ask = Ask(request)
    name = f'inline; filename="{what if what in KINDS else "sheet"}.pdf"'
    return Response(
        content=pdf(ask, what), media_type="application/pdf", headers={"content-disposition": name}
    )
