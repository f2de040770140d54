"""A site's packet and its expected list as two print jobs; the order of sheets is the order hands move."""

from __future__ import annotations

import re
from collections.abc import Iterator

import msgspec

from pollstead.election.station_type import Moment
from pollstead.election.words import N_
from pollstead.plan.terms.version import SheetKind
from pollstead.show.fonts import missing, named
from pollstead.show.packet.balance_sheet import balance_sheet
from pollstead.show.packet.content import Marks, PageWords, Print, Sheet
from pollstead.show.packet.cover_sheet import cover
from pollstead.show.packet.draft import Draft
from pollstead.show.packet.expected_sheet import expected_sheet
from pollstead.show.packet.given import SiteGiven
from pollstead.show.packet.packing_sheet import packing
from pollstead.show.packet.run_sheet import run_sheet
from pollstead.show.packet.seal_sheet import seal_sheet
from pollstead.show.packet.station_lines import When
from pollstead.show.packet.station_sheets import station_sheets
from pollstead.show.packet.wording import days_of, sheet_serial, short_digest

BLANK_KINDS = tuple(kind for kind in SheetKind if kind is not SheetKind.EXPECTED)
PAPERS = ("letter", "a4")


def packet(
    given: SiteGiven, kinds: tuple[SheetKind, ...] = BLANK_KINDS, paper: str = "letter"
) -> Print | None:
    """The blank sheets of one site that `kinds` ask for; None when none of them is among these.

    Raises ValueError when a serial, a seal number or a memory device would stand on a blank sheet,
    or when `paper` is neither letter nor a4; `LettersLacking`, which is one too, when a text has letters
    that no font here holds.
    """
    drafts = [draft for draft in _drafts(given) if draft.kind in kinds]
    if not drafts:
        return None
    title = given.say(N_("Site packet {site}"), site=given.site.id)
    made = _print(given, title, drafts, paper)
    words = frozenset(texts(made))
    _check_glyphs(given, words)
    if any(map(given.tells, words)):
        raise ValueError(
            f"site {given.site.id!r}: a number to be read independently would stand on a blank sheet; "
            "take it out of the names, reasons and words of this site's tables"
        )
    return made


def expected(given: SiteGiven, paper: str = "letter") -> Print | None:
    """The expected lists of one site, one for each operating day; None while there are none."""
    if not given.expected:
        return None
    drafts = [expected_sheet(given, one) for one in given.expected]
    made = _print(given, given.say(N_("Expected list {site}"), site=given.site.id), drafts, paper)
    _check_glyphs(given, frozenset(texts(made)))
    return made


def _drafts(given: SiteGiven) -> Iterator[Draft]:
    yield cover(given)
    yield packing(given)
    yield run_sheet(given)
    dates = [date for date, _, _ in days_of(given.election, given.site.id)]
    for day, date in enumerate(dates):
        yield from station_sheets(given, When(moment=Moment.OPENING, day=day, days=len(dates)), date)
        yield seal_sheet(given, date)
        yield from station_sheets(given, When(moment=Moment.CLOSING, day=day, days=len(dates)), date)
        yield balance_sheet(given, date)


def _print(given: SiteGiven, title: str, drafts: list[Draft], paper: str) -> Print:
    if paper not in PAPERS:
        raise ValueError(f"paper must be one of {', '.join(PAPERS)}, got {paper!r}")
    say, election = given.say, given.election
    sheets = tuple(
        Sheet(
            kind=draft.kind,
            key=draft.key,
            serial=sheet_serial(given.digest, given.site.id, draft.key, say.language, election.practice),
            site=f"{given.site.id}  {given.site.name}",
            title=draft.title,
            about=draft.about,
            tags=draft.tags,
            day=draft.day,
            blocks=draft.blocks,
        )
        for draft in drafts
    )
    serials = [sheet.serial for sheet in sheets]
    if len(set(serials)) != len(serials):
        raise ValueError(f"site {given.site.id!r}: two sheets would have the same serial")
    printed = say.moment(given.printed_at, election.zone_name)
    words = PageWords(
        county=f"{election.county} · {election.name}",
        sheet=say(N_("Sheet {serial}"), serial="{serial}"),
        plan=say(N_("Plan {digest}"), digest=short_digest(given.digest)),
        page=say(N_("Page {page} of {pages}"), page="{page}", pages="{pages}"),
        packet_page=say(N_("Print job page {page} of {pages}"), page="{page}", pages="{pages}"),
        printed=say(N_("Printed {when}"), when=printed),
        unofficial=say(N_("Unofficial, staff use")),
        continued=say(N_("(continued)")),
        blank=say(N_("This page is blank on purpose.")),
        code=say(N_("Code with the serial of this sheet, {serial}"), serial="{serial}"),
    )
    marks = Marks(
        practice=say(N_("PRACTICE · not a real election")) if election.practice else "",
        invented=say(N_("Invented county: no real place, people or numbers")) if election.invented else "",
    )
    return Print(
        title=title,
        language=say.language,
        right_to_left=say.right_to_left,
        paper=paper,
        # Not the moment of printing: one plan gives the same date in every file.
        timestamp=election.operating_day(election.election_day).start().utc_ms // 1000,
        words=words,
        marks=marks,
        sheets=sheets,
    )


class LettersLacking(ValueError):
    """The words of a site have letters that no font here holds."""

    def __init__(self, site: str, letters: tuple[str, ...]) -> None:
        super().__init__(
            f"site {site!r}: no font here has the letters {named(letters)}; add an open font for them to "
            "show/fonts or change the words"
        )
        self.letters = letters


def _check_glyphs(given: SiteGiven, words: frozenset[str]) -> None:
    """Raise LettersLacking naming the letters of `words` that no font here holds."""
    lacking = missing("".join(words))
    if lacking:
        raise LettersLacking(given.site.id, lacking)


_NOT_SHOWN = frozenset(("type", "kind", "key", "language", "paper", "serial", "mark"))


def texts(made: Print | Sheet) -> tuple[str, ...]:
    """Every text of a print job or sheet that a reader sees, sheet serials left out."""
    found: list[str] = []

    def walk(node: object, name: str) -> None:
        if isinstance(node, str):
            if node and name not in _NOT_SHOWN:
                found.append(node)
        elif isinstance(node, dict):
            for key, value in node.items():
                walk(value, key)
        elif isinstance(node, list | tuple):
            for value in node:
                walk(value, name)

    walk(msgspec.to_builtins(made), "")
    return tuple(re.sub(r"\{[a-z]+\}", "", text) for text in found)
