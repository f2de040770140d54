"""Which paper is back, and what is still to be keyed? Every site of a day, and one field for a serial."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar
from urllib.parse import quote

from litestar import Request, Response, get

from pollstead.election.notice import Notice
from pollstead.election.values import Value
from pollstead.election.words import N_, Message
from pollstead.plan.terms.version import SheetKind
from pollstead.reconcile.counts.terms import BY_ID, split_key
from pollstead.reconcile.paper.keyed import Keyed
from pollstead.reconcile.paper.progress import SitePaper, ValueState
from pollstead.reconcile.paper.sheets import Held, SheetState
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.web.pages.frame import Ask, Page, answer, go, in_thread
from pollstead.show.web.paper_view import PaperDesk, meant
from pollstead.show.web.typed import Wrong


class SheetLink(Value, frozen=True, kw_only=True):
    """A sheet as a link: its serial, what it is, what tells it apart within its site."""

    serial: str
    kind: str
    about: str


class ValueLine(Value, frozen=True, kw_only=True):
    """A value that is still to be keyed: its term with its device, or the sheet and line; how far it is."""

    words: str
    device: str
    sheet: str
    line: str
    state: str


class SiteLine(Value, frozen=True, kw_only=True):
    """One site: how many sheets are back and values keyed, and what is still missing by name."""

    site: str
    name: str
    back: int
    missing: tuple[SheetLink, ...]
    wanted: int
    agreed: int
    once: int
    differs: int
    left_out: int
    not_on_paper: tuple[str, ...]
    against: int
    done: bool
    begun: bool
    values: tuple[ValueLine, ...]
    next: str


class PaperPage(Page, frozen=True, kw_only=True):
    """The paper of one day."""

    template: ClassVar[str] = "paper.html"

    day: dt.date
    days: tuple[dt.date, ...]
    rows: tuple[SiteLine, ...]
    done: int
    notices: tuple[Notice, ...]
    strangers: tuple[Held, ...]
    all_open: bool
    typed: str
    near: tuple[str, ...]
    faults: tuple[Wrong, ...]
    cautions: tuple[Caution, ...]


def about_of(key: str) -> str:
    """What tells a sheet apart within its site and day, as its key says: a station, or nothing."""
    parts = key.split("/")
    return " ".join(part.replace("-", " ") for part in parts[4:] if part) if len(parts) > 4 else ""


def site_row(desk: PaperDesk, paper: SitePaper) -> SiteLine:
    """One site as a row."""
    missing = tuple(
        SheetLink(serial=one.sheet.serial, kind=one.sheet.kind.value, about=about_of(one.sheet.key))
        for one in paper.not_back
    )
    return SiteLine(
        site=paper.site,
        name=paper.name,
        back=paper.back,
        missing=missing,
        wanted=len(paper.values),
        agreed=paper.count(Keyed.AGREED),
        once=paper.count(Keyed.ONCE),
        differs=paper.count(Keyed.DIFFERS),
        left_out=len(paper.left_out),
        not_on_paper=tuple(
            BY_ID[split_key(key)[0]].words for key in paper.not_on_paper if split_key(key)[0] in BY_ID
        ),
        against=len(paper.against),
        done=paper.done,
        begun=bool(paper.back or paper.lines),
        values=tuple(_value(desk, v) for v in paper.values if v.state is not Keyed.AGREED),
        next=next_sheet(paper),
    )


def _value(desk: PaperDesk, one: ValueState) -> ValueLine:
    term, device = split_key(one.value.key)
    return ValueLine(
        words=BY_ID[term].words if term in BY_ID else term,
        device=desk.devices.get(device, device),
        sheet=one.value.sheet,
        line=one.value.line,
        state=one.state.value,
    )


def next_sheet(paper: SitePaper) -> str:
    """The serial of a sheet that lies here and from which something is still to be keyed; "" for none."""
    waiting = [value for value in paper.values if value.state is not Keyed.AGREED]
    marked = next((v.value.sheet for v in waiting if v.value.sheet), "")
    if any(v.value.key for v in waiting):
        here = [one.sheet for one in paper.sheets if one.state is SheetState.BACK]
        balance = next((s.serial for s in here if s.kind is SheetKind.BALANCE), "")
        return balance or marked
    return marked


def paper_page(
    ask: Ask,
    desk: PaperDesk,
    typed: str = "",
    near: tuple[str, ...] = (),
    faults: tuple[Wrong, ...] = (),
) -> PaperPage:
    """The page; with `faults`, what was typed is kept."""
    sites = desk.report.sites
    return PaperPage(
        **ask.frame(N_("Which paper is back, and what is still to be keyed?")),
        day=desk.date,
        days=desk.dates,
        rows=tuple(site_row(desk, one) for one in sites),
        done=desk.report.done,
        notices=tuple(notice for one in sites for notice in one.notices),
        strangers=desk.report.strangers,
        all_open=ask.query.get("show", "") == "all",
        typed=typed,
        near=near,
        faults=faults,
        cautions=for_place(Place.PAPER_BACK),
    )


@get("/paper")
@in_thread
def paper(request: Request[Any, Any, Any]) -> Response[Any]:
    """The paper of a day; with a serial, the page of that sheet."""
    ask = Ask(request)
    typed = ask.query.get("serial", "").strip()[:80]
    if not typed:
        return answer(ask, paper_page(ask, PaperDesk(ask)))
    found = meant(ask, typed)
    if found.sheet is not None:
        site = ask.query.get("site", "")
        return go(f"/paper/{quote(found.sheet.serial)}" + (f"?site={quote(site)}" if site else ""))
    why: Message = found.why or Message(template=N_("Type a serial."), params=())
    fault = Wrong(field="serial", words=why)
    return answer(ask, paper_page(ask, PaperDesk(ask), typed, found.near, (fault,)), status=422)
