"""One sheet that comes back: its box and marked lines, then its values keyed by two people apart."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar
from urllib.parse import quote

from litestar import Request, Response, get, post
from litestar.params import FromPath

from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.reconcile.observed import Observation
from pollstead.reconcile.opening.labels import station_label
from pollstead.reconcile.paper.differences import shown
from pollstead.reconcile.paper.keyed import Keyed, KeyedLine, author_of
from pollstead.reconcile.paper.sheets import PrintedSheet, SheetState
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.packet.asked import AskedLine
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.misread import MISREAD
from pollstead.show.web.pages.entry import TypedValue
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.pages.paper import about_of, next_sheet
from pollstead.show.web.pages.paper_acts import hold, key_lines, look_again, look_line
from pollstead.show.web.paper_view import PaperDesk, meant, open_for
from pollstead.show.web.readings import Line
from pollstead.show.web.typed import Wrong, field_names


class HeldRow(Value, frozen=True, kw_only=True):
    """One word about the sheet: which copy, its box, the lines marked, by whom and when."""

    copy_no: int
    box: str
    different: tuple[str, ...]
    by: str
    utc_ms: int


class Entry(Value, frozen=True, kw_only=True):
    """What one person entered: the line it was keyed from, if any, the value, the name, when, the event."""

    line: str
    value: str
    name: str
    utc_ms: int
    event: str


class KeyedRow(Value, frozen=True, kw_only=True):
    """A line that two people have keyed: the keyings, the corrected ones, entries that came another way.

    `again` is how often the same was keyed once more; `look` asks this person, who keyed it, once more.
    """

    line: str
    words: str
    agreed: bool
    keyings: tuple[Entry, ...]
    former: tuple[Entry, ...]
    other: tuple[Entry, ...]
    again: int
    look: Line | None


class MarkLine(Value, frozen=True, kw_only=True):
    """A line that can be marked as different."""

    line: str
    words: str
    station: str
    ticked: bool


class PaperSheetPage(Page, frozen=True, kw_only=True):
    """One sheet."""

    template: ClassVar[str] = "paper_sheet.html"

    serial: str
    kind: str
    about: str
    site: str
    site_name: str
    other_site: str
    day: dt.date | None
    voided: bool
    replaced_by: str
    twice: bool
    held: tuple[HeldRow, ...]
    marks: tuple[MarkLine, ...]
    all_ticked: bool
    act: str
    to_key: tuple[Line, ...]
    mine: tuple[Entry, ...]
    waiting: int
    rows: tuple[KeyedRow, ...]
    next: str
    typed: tuple[TypedValue, ...]
    faults: tuple[Wrong, ...]
    partial_offered: bool
    misread_offered: bool
    may_hold: bool
    may_enter: bool
    zone: str
    cautions: tuple[Caution, ...]


def sheet_of(ask: Ask, serial: str) -> PrintedSheet:
    """The printed sheet of an address; raises Trouble where there is none."""
    found = meant(ask, serial[:80])
    if found.sheet is None:
        raise Trouble(
            404,
            N_("{serial} is the serial of no sheet that was printed here."),
            N_("Type the serial as it stands on the paper."),
            "/paper",
            serial=serial[:80],
        )
    return found.sheet


def sheet_page(
    ask: Ask, desk: PaperDesk, sheet: PrintedSheet, faults: tuple[Wrong, ...] = ()
) -> PaperSheetPage:
    """The page of one sheet; with `faults` what was typed is kept."""
    back, asked, keyed = desk.back(sheet), desk.lines(sheet), desk.keyed(sheet)
    paper = desk.site(sheet)
    person = ask.who.person if ask.who else ""
    enter = ask.may(Capability.ENTER)
    lines = open_for(desk, sheet, person) if enter else ()
    words = {one.line: one.words for one in asked}
    act = ask.query.get("act", "") if not faults else ask.form.text("do")
    # What was said of one sheet is not said of another one with its serial.
    another = act == "another"
    marked = () if another else back.different
    names = ["box", *(name for line in lines for name in field_names(line))]
    names += [f"look-{line}" for line in keyed]
    wanted_site = ask.query.get("site", "")
    return PaperSheetPage(
        **ask.frame(N_("Sheet {serial}: what came back?"), serial=sheet.serial),
        serial=sheet.serial,
        kind=sheet.kind.value,
        about=about_of(sheet.key),
        site=sheet.site,
        site_name=paper.name if paper else "",
        other_site=wanted_site if wanted_site not in ("", sheet.site) else "",
        day=dt.date.fromisoformat(sheet.day) if sheet.day else None,
        voided=back.state in (SheetState.VOID, SheetState.VOID_BACK),
        replaced_by=back.replaced_by,
        twice=back.twice or back.two_boxes or bool(back.prints),
        held=tuple(
            HeldRow(
                copy_no=one.copy_no,
                box=one.box,
                different=one.different,
                by=", ".join(desk.name(p) for p in one.people),
                utc_ms=one.utc_ms,
            )
            for one in back.held
        ),
        marks=tuple(_mark(desk, one, ask, marked, kept=bool(faults)) for one in asked),
        all_ticked=ask.form.text("all") == "yes" if faults else back.here and not another and not marked,
        act=act,
        to_key=lines,
        mine=tuple(
            _entry(desk, own)
            for one in keyed.values()
            if one.state is Keyed.ONCE
            for own in one.keyings
            if author_of(own) == person
        ),
        waiting=sum(1 for one in keyed.values() if one.state is Keyed.ONCE),
        rows=tuple(
            _row(desk, one, words.get(one.line, ""), person if enter else "", sheet)
            for one in keyed.values()
            if one.state in (Keyed.DIFFERS, Keyed.AGREED)
        ),
        next=_next(desk, sheet),
        typed=tuple(TypedValue(field=n, value=ask.form.text(n)) for n in names) if faults else (),
        faults=faults,
        partial_offered=bool(faults) and ask.form.text("do") == "key",
        misread_offered=any(fault.words.template == MISREAD for fault in faults),
        may_hold=ask.may(Capability.RECEIVE),
        may_enter=enter,
        zone=ask.folder.zone_name,
        cautions=for_place(Place.PAPER_BACK),
    )


def _mark(desk: PaperDesk, one: AskedLine, ask: Ask, marked: tuple[str, ...], *, kept: bool) -> MarkLine:
    ticked = ask.form.text(f"different-{one.line}") == "yes" if kept else one.line in marked
    station = station_label(one.station, desk.days.election) if one.station else ""
    return MarkLine(line=one.line, words=one.words, station=station, ticked=ticked)


def _entry(desk: PaperDesk, seen: Observation) -> Entry:
    return Entry(
        line=seen.line,
        value=shown(seen),
        name=", ".join(desk.name(person) for person in seen.entered_by),
        utc_ms=seen.utc_ms,
        event=seen.event,
    )


def _row(desk: PaperDesk, one: KeyedLine, words: str, person: str, sheet: PrintedSheet) -> KeyedRow:
    paper = desk.site(sheet)
    place = (one.sheet, one.line)
    against = paper.against if paper else ()
    other = next((a.other for a in against if (a.line.sheet, a.line.line) == place), ())
    own = next((seen for seen in one.keyings if author_of(seen) == person), None)
    return KeyedRow(
        line=one.line,
        words=words,
        agreed=one.state is Keyed.AGREED,
        keyings=tuple(_entry(desk, seen) for seen in one.keyings),
        former=tuple(_entry(desk, seen) for seen in one.former),
        other=tuple(_entry(desk, seen) for seen in other),
        again=len(one.again),
        look=None if own is None or one.state is Keyed.AGREED else look_line(desk, sheet, one.line),
    )


def _next(desk: PaperDesk, sheet: PrintedSheet) -> str:
    """Another sheet of the site from which something is still to be keyed."""
    paper = desk.site(sheet)
    found = next_sheet(paper) if paper else ""
    return found if found != sheet.serial else ""


def _show(ask: Ask, serial: str, faults: tuple[Wrong, ...] = ()) -> Response[Any]:
    sheet = sheet_of(ask, serial)
    page = sheet_page(ask, PaperDesk(ask, sheet.day), sheet, faults)
    return answer(ask, page, status=422 if faults else 200)


@get("/paper/{serial:str}")
@in_thread
def paper_sheet(request: Request[Any, Any, Any], serial: FromPath[str]) -> Response[Any]:
    """One sheet."""
    return _show(Ask(request), serial)


@post("/paper/{serial:str}")
@in_thread
def take_sheet(request: Request[Any, Any, Any], serial: FromPath[str]) -> Response[Any]:
    """Put a sheet into its box, with the lines that somebody marked."""
    ask = Ask(request)
    sheet = sheet_of(ask, serial)
    desk = PaperDesk(ask, sheet.day)
    faults = hold(ask, desk, sheet)
    return _show(ask, serial, faults) if faults else go(f"/paper/{quote(sheet.serial)}")


@post("/paper/{serial:str}/keyed")
@in_thread
def take_keyed(request: Request[Any, Any, Any], serial: FromPath[str]) -> Response[Any]:
    """Take what one person keyed, or looked at once more."""
    ask = Ask(request)
    sheet = sheet_of(ask, serial)
    desk = PaperDesk(ask, sheet.day)
    if desk.back(sheet).state is not SheetState.BACK:
        raise Trouble(
            409,
            N_("Nothing is keyed from this sheet: it is not back, or it is void."),
            N_("Its page says what to do."),
            f"/paper/{quote(sheet.serial)}",
        )
    act = look_again if ask.form.text("do") == "look" else key_lines
    faults = act(ask, desk, sheet)
    return _show(ask, serial, faults) if faults else go(f"/paper/{quote(sheet.serial)}")
