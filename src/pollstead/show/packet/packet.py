"""A site's packet and its expected list as two print jobs; the order of sheets is the order hands move."""

from __future__ import annotations

import re
from collections.abc import Iterator

import msgspec

from pollstead.election.canonical import digest_of
from pollstead.election.station_type import Moment
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.plan.terms.version import SheetKind
from pollstead.show.fonts import missing, named
from pollstead.show.packet.balance_sheet import balance_sheet
from pollstead.show.packet.content import ListedSheet, Print, Sheet
from pollstead.show.packet.cover_sheet import cover
from pollstead.show.packet.draft import Draft
from pollstead.show.packet.expected_sheet import expected_sheet
from pollstead.show.packet.given import SiteGiven
from pollstead.show.packet.lines import When
from pollstead.show.packet.lines_sheet import lines_sheet
from pollstead.show.packet.packing_sheet import packing
from pollstead.show.packet.page_words import page_marks, page_words
from pollstead.show.packet.run_sheet import run_sheet
from pollstead.show.packet.seal_days import seal_sheets
from pollstead.show.packet.station_sheets import station_sheets
from pollstead.show.packet.wording import days_of, sheet_serial

BLANK_KINDS = tuple(kind for kind in SheetKind if kind not in (SheetKind.EXPECTED, SheetKind.CHANGE))
PAPERS = ("letter", "a4")


class Replacing(Value, frozen=True, kw_only=True):
    """A sheet to print by its key, and the serials of those whose place it takes."""

    key: str
    serials: tuple[str, ...] = ()


class Only(Value, frozen=True, kw_only=True):
    """Which sheets of one site to print after a change, and what goes with them.

    `notice` goes on top; `printed_before` are the sheets that stay good, for the list on a new cover, which
    has its sheets in the `order` of keys.
    """

    sheets: tuple[Replacing, ...]
    notice: Draft | None = None
    printed_before: tuple[ListedSheet, ...] = ()
    order: tuple[str, ...] = ()

    def wanted(self, drafts: list[Draft]) -> list[Draft]:
        """Those of `drafts` that are to be printed."""
        keys = {sheet.key for sheet in self.sheets}
        return [draft for draft in drafts if draft.key in keys]

    def replaced(self, key: str) -> tuple[str, ...]:
        """The serials that the sheet with this key replaces."""
        return next((sheet.serials for sheet in self.sheets if sheet.key == key), ())


def packet(
    given: SiteGiven,
    kinds: tuple[SheetKind, ...] = BLANK_KINDS,
    paper: str = "letter",
    only: Only | None = None,
    *,
    large: bool = False,
) -> Print | None:
    """The blank sheets of one site that `kinds` ask for; None when none of them is among these.

    With `only`, just those sheets that it names, after its notice. `large` sets them in large type: the same
    sheets with the same lines, content and serials, as a second print of them would be.
    Raises ValueError when a serial, a seal number or a memory device would stand on a blank sheet,
    or when `paper` is neither letter nor a4; `LettersLacking`, which is one too, when a text has letters
    that no font here holds.
    """
    drafts = [draft for draft in blank_drafts(given) if draft.kind in kinds]
    title = given.say(N_("Site packet {site}"), site=given.site.id)
    if only is not None:
        drafts = [*([only.notice] if only.notice is not None else []), *only.wanted(drafts)]
        title = given.say(N_("Changed sheets {site}"), site=given.site.id)
    if not drafts:
        return None
    made = _print(given, title, drafts, paper, only, large=large)
    words = frozenset(texts(made))
    _check_glyphs(given, words)
    if any(map(given.tells, words)):
        raise ValueError(
            f"site {given.site.id!r}: a number to be read independently would stand on a blank sheet; "
            "take it out of the names, reasons and words of this site's tables"
        )
    return made


def expected(
    given: SiteGiven, paper: str = "letter", only: Only | None = None, *, large: bool = False
) -> Print | None:
    """The expected lists of one site, one for each operating day; None while there are none."""
    drafts = expected_drafts(given)
    if only is not None:
        drafts = only.wanted(drafts)
    if not drafts:
        return None
    title = given.say(N_("Expected list {site}"), site=given.site.id)
    made = _print(given, title, drafts, paper, only, large=large)
    _check_glyphs(given, frozenset(texts(made)))
    return made


def expected_drafts(given: SiteGiven) -> list[Draft]:
    """The expected lists of one site, before they have serials."""
    return [expected_sheet(given, one) for one in given.expected]


def blank_drafts(given: SiteGiven) -> Iterator[Draft]:
    """The blank sheets of one site in the order hands move, before they have serials."""
    yield cover(given)
    yield packing(given)
    yield run_sheet(given)
    yield lines_sheet(given)
    dates = tuple(date for date, _, _ in days_of(given.election, given.site.id))
    seals = seal_sheets(given, dates)
    for day, date in enumerate(dates):
        here = given.on(date)
        yield from station_sheets(here, When(moment=Moment.OPENING, day=day, days=len(dates)), date)
        if date in seals:
            yield seals[date]
        both = here.with_swapped(date)
        yield from station_sheets(both, When(moment=Moment.CLOSING, day=day, days=len(dates)), date)
        yield balance_sheet(both, date)


def _print(
    given: SiteGiven,
    title: str,
    drafts: list[Draft],
    paper: str,
    only: Only | None = None,
    *,
    large: bool = False,
) -> Print:
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
            foot=draft.foot,
            replaces=_replaces(given, only, draft.key),
            replaced=() if only is None else only.replaced(draft.key),
            content=content_of(draft),
        )
        for draft in drafts
    )
    serials = [sheet.serial for sheet in sheets]
    if len(set(serials)) != len(serials):
        raise ValueError(f"site {given.site.id!r}: two sheets would have the same serial")
    return Print(
        title=title,
        language=say.language,
        right_to_left=say.right_to_left,
        paper=paper,
        # Not the moment of printing: one plan gives the same date in every file.
        timestamp=election.operating_day(election.election_day).start().utc_ms // 1000,
        words=page_words(election, say, given.digest, given.printed_at, large=large),
        marks=page_marks(election, say),
        sheets=sheets,
        printed_before=() if only is None else only.printed_before,
        order=() if only is None else only.order,
        large=large,
    )


def content_of(draft: Draft) -> str:
    """The digest of all that stands on a sheet, whatever its plan version, serial and moment of printing."""
    return digest_of(
        (
            draft.kind.value,
            draft.key,
            draft.title,
            draft.about,
            draft.tags,
            draft.day,
            draft.blocks,
            draft.foot,
        )
    )


def _replaces(given: SiteGiven, only: Only | None, key: str) -> str:
    """The line by which a new sheet names those whose place it takes."""
    serials = () if only is None else only.replaced(key)
    if len(serials) > 1:
        return given.say(N_("This sheet replaces sheets {serials}."), serials=", ".join(serials))
    return given.say(N_("This sheet replaces sheet {serial}."), serial=serials[0]) if serials else ""


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


_NOT_SHOWN = frozenset(
    ("type", "kind", "key", "language", "paper", "serial", "mark", "replaced", "content", "order")
)


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
