"""Sheets of the evening before: ten calls, all calls shared among callers, a door card for each site.

They hold names and phones, so they are made only for roles that see both. No code and no PIN stands on them.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from pollstead.election.county import Election
from pollstead.election.instants import Instant, format_clock
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.reconcile.readiness.ground import Ground
from pollstead.reconcile.readiness.people_items import ways_in
from pollstead.reconcile.readiness.ready import ReadyList
from pollstead.reconcile.readiness.states import Call, ReadyState
from pollstead.show.cautions import Place, for_place
from pollstead.show.one_paper import Template, paper_or_refusal
from pollstead.show.paper_head import PaperHead
from pollstead.show.words import fill, is_right_to_left, text

TEMPLATE = Template("packet", "ready.typ", "paper")
What = Literal["ten", "callers", "doors"]
MOST_ASKS = 3
WHO_OPENS = ("opener-call", "openers")


class PersonOnCard(Value, frozen=True, kw_only=True):
    """A person on a door card: name, part, phones, key, when reached, what is known."""

    name: str
    part: str
    phones: str
    key: str
    reached: str
    known: str


class Card(Value, frozen=True, kw_only=True):
    """One site's door card."""

    site: str
    address: str
    needed: str
    people: tuple[PersonOnCard, ...]


class CallOnSheet(Value, frozen=True, kw_only=True):
    """One call with its questions, each with boxes to tick."""

    number: str
    name: str
    role: str
    phones: str
    reached: str
    asks: tuple[str, ...]
    more: str


class CallSheet(Value, frozen=True, kw_only=True):
    """One page of calls: whose it is, and the calls in order."""

    caller: str
    calls: tuple[CallOnSheet, ...]


class ReadyPaper(PaperHead, frozen=True, kw_only=True):
    """One PDF: either sheets of calls or door cards; all words in the reader's language."""

    cautions: tuple[str, ...]
    sheets: tuple[CallSheet, ...] = ()
    cards: tuple[Card, ...] = ()
    words: tuple[tuple[str, str], ...] = ()


def ready_paper(
    election: Election,
    found: ReadyList,
    ground: Ground,
    *,
    what: What,
    names: dict[str, str],
    language: str,
    callers: int = 1,
    keys: bool = True,
    paper: str = "letter",
) -> ReadyPaper:
    """The sheets of one kind; `keys` says whether questions about who opens may stand on them."""

    def say(english: str) -> str:
        return text(english, language)

    at = Instant(utc_ms=found.now_ms).local(election.zone_name)
    titles = {
        "ten": N_("Ten calls"),
        "callers": N_("Calls to make"),
        "doors": N_("Door cards"),
    }
    words = {
        "yes": N_("yes"),
        "no": N_("no"),
        "reached": N_("nobody"),
        "phone": N_("Phone"),
        "key": N_("Key"),
        "code": N_("Code: ask the office. It is never written down here."),
        "needed": N_("The crew needs the door at"),
        "called": N_("Called at"),
        "there": N_("there by"),
        "none": N_("No call is left."),
        "nobody": N_("Nobody is named who opens."),
    }
    calls = [c for c in found.calls if keys or any(a.question not in WHO_OPENS for a in c.asks)]
    return ReadyPaper(
        title=say(titles[what]),
        county=f"{election.county}, {election.name}",
        as_of=say(N_("As of")) + at.strftime(" %Y-%m-%d %H:%M"),
        page=say(N_("page {page} of {pages}")),
        unofficial=say(N_("Unofficial, staff use: holds names and phones")),
        practice=say(N_("PRACTICE")) if election.practice else "",
        invented=say(N_("Invented data, for practice and show.")) if election.invented else "",
        language=language,
        right_to_left=is_right_to_left(language),
        paper=paper,
        timestamp=found.now_ms // 1000,
        cautions=tuple(say(c.words) for c in for_place(Place.WORKERS)),
        sheets=()
        if what == "doors"
        else _sheets(calls[:10] if what == "ten" else calls, callers, names, language, keys),
        cards=_cards(election, found, ground, names, language) if what == "doors" else (),
        words=tuple((name, say(english)) for name, english in words.items()),
    )


def _sheets(
    calls: list[Call], callers: int, names: dict[str, str], language: str, keys: bool
) -> tuple[CallSheet, ...]:
    callers = max(1, min(callers, max(1, len(calls))))
    made = []
    for caller in range(callers):
        mine = [(n, c) for n, c in enumerate(calls, start=1) if (n - 1) % callers == caller]
        title = fill(message(N_("Caller {n} of {all}"), n=caller + 1, all=callers), language)
        lines = tuple(_on_sheet(n, c, names, language, keys) for n, c in mine)
        made.append(CallSheet(caller=title if callers > 1 else "", calls=lines))
    return tuple(made)


def _on_sheet(number: int, call: Call, names: dict[str, str], language: str, keys: bool) -> CallOnSheet:
    asks = [one for one in call.asks if keys or one.question not in WHO_OPENS]
    more = len(asks) - MOST_ASKS
    return CallOnSheet(
        number=str(number),
        name=names.get(call.person, call.person),
        role=text(call.role, language),
        phones=", ".join(call.phones) or text(N_("no phone is told"), language),
        reached=_reached(call.from_min, call.to_min),
        asks=tuple(fill(one.words, language) for one in asks[:MOST_ASKS]),
        more=fill(message(N_("and {n} more questions in the app"), n=more), language) if more > 0 else "",
    )


def _reached(start: int | None, end: int | None) -> str:
    if start is None and end is None:
        return ""
    return f"{'' if start is None else format_clock(start)}–{'' if end is None else format_clock(end)}"


def _cards(
    election: Election, found: ReadyList, ground: Ground, names: dict[str, str], language: str
) -> tuple[Card, ...]:
    def say(english: str) -> str:
        return text(english, language)

    cards = []
    for site in sorted(found.sites, key=lambda one: one.site):
        facts, state = ground.sites.get(site.site), {item.id: item for item in site.items}
        people: dict[str, str] = {}
        for way in ways_in(ground, site.site):
            people.update(dict.fromkeys(way.people, say(N_("opens the building"))))
        rows = ground.contacts[site.site]
        if facts is not None and facts.contact:
            people.setdefault(facts.contact, say(N_("building contact")))
        for row in rows:
            people.setdefault(row.person, say(row.part))
        known = []
        for person, part in people.items():
            item = state.get(f"opener-call/{person}") or state.get(f"contact-call/{person}")
            mine = [row for row in rows if row.person == person]
            known.append(
                PersonOnCard(
                    name=names.get(person, person),
                    part=part,
                    phones=", ".join(ground.phones(person, site.site)) or say(N_("no phone is told")),
                    key=", ".join(dict.fromkeys(row.key for row in mine if row.key)),
                    reached=next((r for row in mine if (r := _reached(row.from_min, row.to_min))), ""),
                    known=say(ReadyState.UNKNOWN.value)
                    if item is None
                    else f"{say(item.state.value)}: {fill(item.text, language)}",
                )
            )
        needed = ground.needed_by(site.site)
        cards.append(
            Card(
                site=f"{site.site} {site.name}",
                address="" if facts is None else facts.address,
                needed="" if needed is None else format_clock(needed),
                people=tuple(known),
            )
        )
    return tuple(cards)


def paper_pdf(paper: ReadyPaper) -> bytes:
    """The PDF, the same bytes for the same paper; raises `PrintFailed` as `paper_or_refusal` does."""
    return paper_or_refusal(TEMPLATE, msgspec.to_builtins(paper))
