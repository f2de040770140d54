"""Search: what is this number, where is it, who has it? One box on every page leads here.

A code that is scanned into the box and ends in Enter asks; nothing is changed by asking.
"""

from __future__ import annotations

import re
from typing import Any, ClassVar, Final

from litestar import Request, Response, get

from pollstead.election.practice import of_the_other_kind
from pollstead.election.values import Value
from pollstead.election.words import N_, Message
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.finding import MOST, Index, Match, Sort, Thing
from pollstead.show.web.open_folder import OpenFolder
from pollstead.show.web.pages.frame import Ask, Page, answer, in_thread
from pollstead.show.web.things import site_address, things_of
from pollstead.store.sheets import Sheet

LONGEST: Final = 100
EVENT: Final = re.compile(r"[0-9a-f]{8,64}")
SORT_WORDS: Final = {
    Sort.SITE: N_("Site"),
    Sort.DEVICE: N_("Device"),
    Sort.MEMORY_DEVICE: N_("Memory device"),
    Sort.CART: N_("Cart"),
    Sort.SEAL: N_("Seal"),
    Sort.PERSON: N_("Person"),
    Sort.SHEET: N_("Sheet"),
    Sort.PRECINCT: N_("Precinct"),
    Sort.NOTICE: N_("Notice"),
    Sort.ENTRY: N_("Entry in the record"),
}


class LastSeen(Value, frozen=True, kw_only=True):
    """The last entry about a thing: when, where, by whom as far as this role may see."""

    utc_ms: int
    site: str
    person: str


class Found(Value, frozen=True, kw_only=True):
    """One result with what the record says of it last."""

    sort: str
    code: str
    names: tuple[str, ...]
    name: str
    where: str
    cart: str
    state: str
    own_words: bool
    link: str
    differs: Message | None
    last: LastSeen | None
    life: str


class SearchPage(Page, frozen=True, kw_only=True):
    """What was found."""

    template: ClassVar[str] = "search.html"

    query: str
    found: tuple[Found, ...]
    total: int
    most: int
    zone: str
    seals_hidden: bool
    people_hidden: bool
    other_kind: Message | None


def index_for(folder: OpenFolder, *, seals: bool, people: bool) -> Index:
    """The index of what a role may find; kept until facts, plan or printed sheets change."""
    digest = folder.current_digest()
    election = folder.election()
    if election is None:
        return Index(())
    opened = frozenset(
        f.subject.removeprefix("site/") for f in folder.fold().named("site.opened") if f.current
    )
    sheets = folder.store.sheets.of()
    snapshot = folder.version(digest).snapshot if digest else id(election)
    key = (digest, snapshot, seals or opened, people, len(sheets))

    def make() -> Index:
        version = folder.version(digest) if digest else None
        things = things_of(election, version, seals_at=None if seals else opened, people=people)
        return Index((*things, *_sheets(sheets, digest)))

    return folder.kept_indexes.get(key, make)


def _sheets(sheets: tuple[Sheet, ...], digest: str) -> list[Thing]:
    """The printed sheets; each says whether another took its place."""
    replaced = {old for sheet in sheets for old in sheet.replaces.split()}
    return [
        Thing(
            sort=Sort.SHEET,
            codes=(sheet.serial,),
            name=sheet.kind,
            where=" ".join(p for p in (sheet.site.removeprefix("site/"), sheet.day) if p),
            state=N_("replaced by a later sheet")
            if sheet.serial in replaced
            else (N_("in force") if sheet.plan_digest == digest else N_("belongs to another plan version")),
            link=f"{site_address(sheet.site)}#sheets" if sheet.site else "",
            subject=f"sheet/{sheet.serial}",
        )
        for sheet in sheets
    ]


def _entries(ask: Ask, query: str) -> tuple[Match, ...]:
    """Entries of the record by the beginning of their id."""
    wanted = query.strip().casefold()
    if not EVENT.fullmatch(wanted):
        return ()
    ids = [event for event in ask.folder.fold().order if event.startswith(wanted)][:5]
    return tuple(
        Match(
            thing=Thing(
                sort=Sort.ENTRY,
                codes=(event[:12],),
                link=f"/entry/{event}" if ask.may(Capability.CORRECT) else "",
                subject=f"event/{event}",
            ),
            code=event,
            rank=0,
            differs=None,
        )
        for event in ids
    )


def _last(ask: Ask, subject: str) -> LastSeen | None:
    """The last entry about a thing, seal readings of its closures left out where numbers are hidden."""
    folded = ask.folder.fold()
    readings = [r for fact in folded.of_subject(subject) for r in fact.readings]
    if not readings:
        return None
    last = max(readings, key=lambda r: folded.moment(r.event, r.utc_ms))
    shown = ask.may(Capability.SEE_PEOPLE)
    return LastSeen(
        utc_ms=last.utc_ms,
        site=last.site.removeprefix("site/"),
        person=ask.folder.person_name(last.people[0].person) if shown else "",
    )


def search_page(ask: Ask, query: str) -> SearchPage:
    """The page for one text."""
    seals, people = ask.may(Capability.SEE_EXPECTED), ask.may(Capability.SEE_PEOPLE)
    matches: tuple[Match, ...] = ()
    total = 0
    if query:
        matches, total = index_for(ask.folder, seals=seals, people=people).find(query)
        entries = _entries(ask, query)
        matches, total = (*entries, *matches), total + len(entries)
    return SearchPage(
        **ask.frame(N_("What is this, and where?")),
        query=query,
        found=tuple(_found(ask, match) for match in matches),
        total=total,
        most=MOST,
        zone=ask.folder.zone_name,
        seals_hidden=not seals,
        people_hidden=not people,
        other_kind=of_the_other_kind(query, ask.folder.practice()),
    )


def _found(ask: Ask, match: Match) -> Found:
    thing = match.thing
    return Found(
        sort=SORT_WORDS[thing.sort],
        code=match.code,
        names=tuple(code for code in thing.codes if code != match.code),
        name=thing.name,
        where=thing.where,
        cart=thing.who,
        state=thing.state,
        own_words=thing.sort is Sort.SHEET,
        link=thing.link,
        differs=match.differs,
        last=_last(ask, thing.subject),
        life=_life(thing),
    )


def _life(thing: Thing) -> str:
    """What the page of a thing's life is asked for; "" for what has none. A seal's life is its closure's."""
    if thing.sort is Sort.SEAL:
        return thing.subject.rpartition("/")[0] if thing.subject.startswith("closure/") else ""
    return thing.subject if thing.sort in (Sort.DEVICE, Sort.MEMORY_DEVICE, Sort.CART) else ""


@get("/search")
@in_thread
def search(request: Request[Any, Any, Any]) -> Response[str]:
    """The page of results; without a text, the box alone."""
    ask = Ask(request)
    return answer(ask, search_page(ask, " ".join(ask.query.get("q", "").split())[:LONGEST]))
