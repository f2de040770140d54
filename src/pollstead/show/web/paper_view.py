"""Signed paper as pages see it: the day, the report, what a serial means, which lines are to be keyed."""

from __future__ import annotations

import datetime as dt
import functools

import msgspec

from pollstead.election.instants import Instant
from pollstead.election.practice import MARK
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.plan.terms.version import SheetKind
from pollstead.reconcile.counts.terms import BY_ID
from pollstead.reconcile.opening.labels import station_label
from pollstead.reconcile.paper.keyed import Keyed, KeyedLine
from pollstead.reconcile.paper.progress import SitePaper
from pollstead.reconcile.paper.sheets import (
    PrintedSheet,
    SheetBack,
    SheetState,
    held_sheets,
    sheets_back,
    void_sheets,
)
from pollstead.show.packet.asked import AskedLine
from pollstead.show.paper_back import asked_lines, is_count, paper_of, printed_sheets, term_key
from pollstead.show.web.asked_day import planned_days
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.day import all_days
from pollstead.show.web.pages.frame import Ask, Trouble
from pollstead.show.web.readings import Asked, Line

_SCREEN = "screen"
_ASKED = {
    "serial": Asked.SERIAL,
    "memory device": Asked.SERIAL,
    "clock": Asked.CLOCK,
    "report": Asked.REPORT,
}


class PaperDesk:
    """One operating day's paper as of one moment. Raises `Trouble` before there is a plan."""

    def __init__(self, ask: Ask, day: str = "") -> None:
        self._ask = ask
        self.days = planned_days(ask)
        self.dates = all_days(self.days.version, self.days.election)
        if not self.dates:
            raise Trouble(
                409,
                N_("No site could be planned, so no paper comes back."),
                N_("See what is lacking."),
                "/open",
            )
        self.date = self._date(day or ask.query.get("day", ""))
        self.report = paper_of(ask.folder.store, self.days.folded, self.days.report(self.date))

    def _date(self, text: str) -> dt.date:
        """The day asked for; else the last one that has begun, the paper of which comes back next."""
        found = next((one for one in self.dates if one.isoformat() == text), None)
        if found is not None:
            return found
        now = Instant(utc_ms=self._ask.folder.clock()).local(self.days.election.zone_name).date()
        begun = [one for one in self.dates if one <= now]
        return (begun or self.dates)[-1]

    def name(self, person: str) -> str:
        """A person's name where the role may see it, else the id."""
        if self._ask.may(Capability.SEE_PEOPLE):
            return self._ask.folder.person_name(person)
        return person.removeprefix("person/")

    @functools.cached_property
    def devices(self) -> dict[str, str]:
        """The name of the station of each device that stands anywhere on the day; no serial."""
        return {
            part.device: station_label(station.id, self.days.election)
            for plan in self.days.version.sites
            for station in plan.stations_on(self.date)
            for part in station.parts
            if part.device
        }

    def form_line(self, asked: AskedLine) -> Line | None:
        """The line of a form for a line of paper, with its station's name."""
        line = line_of(asked)
        if line is None or not asked.station:
            return line
        station = station_label(asked.station, self.days.election)
        return msgspec.structs.replace(line, words=f"{asked.line} {station}: {asked.words}")

    def site(self, sheet: PrintedSheet) -> SitePaper | None:
        """The paper of the sheet's site."""
        return self.report.of(sheet.site)

    def back(self, sheet: PrintedSheet) -> SheetBack:
        """Where one sheet is."""
        paper = self.site(sheet)
        known = (
            next((one for one in paper.sheets if one.sheet.serial == sheet.serial), None) if paper else None
        )
        if known is not None:
            return known
        folded = self.days.folded
        return sheets_back((sheet,), void_sheets(folded), held_sheets(folded))[0]

    def lines(self, sheet: PrintedSheet) -> tuple[AskedLine, ...]:
        """The numbered lines of a sheet in its own order."""
        return asked_lines(self._ask.folder.store, self.days.folded, sheet)

    def keyed(self, sheet: PrintedSheet) -> dict[str, KeyedLine]:
        """What was keyed from a sheet, by line."""
        paper = self.site(sheet)
        return {one.line: one for one in paper.lines if one.sheet == sheet.serial} if paper else {}

    def to_key(self, sheet: PrintedSheet) -> tuple[AskedLine, ...]:
        """The lines of a sheet that are to be keyed, whoever has keyed them, in the sheet's own order.

        A term of the balance is keyed from the balance sheet once that is back, and from no other then.
        """
        paper, back = self.site(sheet), self.back(sheet)
        if paper is None or back.state is not SheetState.BACK:
            return ()
        at_balance = sheet.kind is SheetKind.BALANCE or not any(
            one.sheet.kind is SheetKind.BALANCE and one.state is SheetState.BACK for one in paper.sheets
        )
        terms = {value.value.key for value in paper.values if value.value.key}
        marked = {
            value.value.line
            for value in paper.values
            if value.value.line and value.value.sheet == sheet.serial
        }
        return tuple(
            one
            for one in self.lines(sheet)
            if (term_key(one) in terms and at_balance) or (one.line in marked and line_of(one) is not None)
        )


class Meant(Value, frozen=True, kw_only=True):
    """What a typed serial means: a sheet, or why it means none, with serials that are near."""

    sheet: PrintedSheet | None = None
    why: Message | None = None
    near: tuple[str, ...] = ()


def plain(serial: str) -> str:
    """A serial as it is compared: letters and digits alone, in capitals."""
    return "".join(c for c in serial.upper() if c.isascii() and c.isalnum())


def meant(ask: Ask, typed: str) -> Meant:
    """What a typed or scanned serial means."""
    sheets = {plain(sheet.serial): sheet for sheet in printed_sheets(ask.folder.store)}
    found = sheets.get(plain(typed))
    if found is not None:
        return Meant(sheet=found)
    practice = ask.folder.practice()
    marked = typed.strip().upper().startswith(MARK)
    if marked and not practice:
        return Meant(why=message(N_("{serial} is a sheet of a practice election."), serial=typed))
    if practice and not marked and plain(f"{MARK}{typed}") not in sheets:
        return Meant(
            why=message(N_("{serial} is no sheet of this practice election."), serial=typed),
            near=_near(plain(f"{MARK}{typed}"), sheets),
        )
    if practice and not marked:
        return Meant(sheet=sheets[plain(f"{MARK}{typed}")])
    return Meant(
        why=message(N_("{serial} is the serial of no sheet that was printed here."), serial=typed),
        near=_near(plain(typed), sheets),
    )


def _near(wanted: str, sheets: dict[str, PrintedSheet], most: int = 3) -> tuple[str, ...]:
    from rapidfuzz.distance import OSA

    near = (sheet.serial for key, sheet in sheets.items() if OSA.distance(key, wanted, score_cutoff=1) == 1)
    return tuple(sorted(near))[:most]


def line_of(asked: AskedLine) -> Line | None:
    """The line of a form that asks for what stands on a line of paper; None where nothing is keyed."""
    if is_count(asked):
        known = BY_ID.get(asked.item)
        kind, detail, source = Asked.COUNT, asked.item, known.source if known else _SCREEN
    elif asked.item == "seal":
        kind = Asked.SEAL if "number" in asked.values else Asked.SEAL_IN_PLACE
        detail, source = asked.detail, ""
    elif asked.item in _ASKED:
        kind, detail, source = _ASKED[asked.item], asked.detail, ""
    else:
        return None
    return Line(
        id=asked.line,
        group="",
        ask=kind,
        words=f"{asked.line} {asked.words}",
        own_words=False,
        subject=asked.subject,
        detail=detail,
        source=source,
    )


def open_for(desk: PaperDesk, sheet: PrintedSheet, person: str) -> tuple[Line, ...]:
    """The lines of a sheet that this person has still to key: nobody else's keyings stand in them."""
    found, keyed = [], desk.keyed(sheet)
    for one in desk.to_key(sheet):
        line, known = desk.form_line(one), keyed.get(one.line)
        waiting = known is None or (known.state in (Keyed.NOT_YET, Keyed.ONCE) and person not in known.people)
        if line is not None and waiting:
            found.append(line)
    return tuple(found)
