"""The life of a thing in words, step by step: when, where, what, by whom; names and numbers by need."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from types import MappingProxyType
from typing import Final

from pollstead.election.instants import Instant, format_clock
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.reconcile.custody.life import Entry, Life
from pollstead.reconcile.custody.questions import WORDS, answers
from pollstead.record.event import Part

KIND_WORDS: Final = MappingProxyType(
    {
        "device.tested": N_("tested"),
        "closure.sealed": N_("seal put on"),
        "seen.seal": N_("seal read"),
        "seal.voided": N_("seal void"),
        "seen.serial": N_("serial read"),
        "seen.clock": N_("clock read"),
        "seen.report": N_("report looked at"),
        "count.read": N_("count read"),
        "count.by_style": N_("count of a ballot style read"),
        "memory.uploaded": N_("memory device read at the central place"),
        "thing.packed": N_("packed"),
        "cart.checked": N_("cart looked at"),
        "thing.scanned": N_("scanned in a count"),
        "thing.sent": N_("sent"),
        "thing.received": N_("received"),
        "thing.stated": N_("stated"),
        "memory_device.packed": N_("memory device packed"),
        "case_seals.read": N_("seals of the case read"),
        "retrieval.sent": N_("fetched by two"),
        "device.swapped": N_("device exchanged"),
        "device.out_of_service": N_("out of service or back"),
        "incident.reported": N_("incident"),
        "ballot.jam": N_("ballot jam"),
        "bin.used": N_("auxiliary bin used"),
        "room.left": N_("left in a hurry"),
        "door.read": N_("door card read"),
        "facts.changed": N_("facts changed"),
        "expected.issued": N_("expected by the list issued"),
        "expected.amended": N_("expected by the list amended"),
        "notice.resolved": N_("difference decided on"),
        "explanation.saved": N_("explanation saved"),
    }
)
"""Kinds of entry in our words; another kind is told by its own name."""

FIELD_WORDS: Final = MappingProxyType(
    {
        "serial": "",
        "code": "",
        "result": "",
        "step": "",
        "state": "",
        "why": "",
        "zero": N_("counter"),
        "lifetime_counter": N_("lifetime counter"),
        "term": "",
        "value": "",
        "source": N_("from"),
        "at_min": N_("at"),
        "old": N_("out"),
        "new": N_("in"),
        "from_place": N_("from"),
        "to_place": N_("to"),
        "place": N_("at"),
        "into": N_("into"),
        "inside": N_("inside"),
        "seals": N_("seals"),
        "sheet": N_("typed from sheet"),
    }
)
"""What stands before a field's value, in the order in which fields are told; other fields come after."""

_LEFT_OUT: Final = (("position", "1"), ("state", "received"), ("state", "packed"))
_MINUTES: Final = ("at_min", "device_min", "reference_min")
_CODED: Final = ("state", "step", "result", "zero", "why", "seals", "term", "report", "source", "act")
"""Fields that hold a coded word; others (a serial, an id) are told as they stand."""
_PLACES: Final = ("from_place", "to_place", "place")


class Told(Value, frozen=True, kw_only=True):
    """One step of a life in words. `kind` and the first of each pair of `said` are texts of the catalogue.

    `state` is how the entry stands: "" where it stands, else corrected, withdrawn or replaced; `seal` is a
    seal's number, empty where it is hidden from whoever asks. `givers` and `receivers` are names too.
    """

    number: int
    event: str
    utc_ms: int
    site: str
    kind: str
    subject: str
    said: tuple[tuple[str, str], ...]
    seal: str
    people: tuple[str, ...]
    givers: tuple[str, ...]
    receivers: tuple[str, ...]
    state: str
    reason: str
    corrects: str


class ToldAnswer(Value, frozen=True, kw_only=True):
    """One question of custody with the numbers of the steps that answer it; `is_open` where none does."""

    asked: str
    words: str
    is_open: bool
    steps: tuple[int, ...]


class ToldLife(Value, frozen=True, kw_only=True):
    """Every step of a thing's life, numbered from 1, and the questions of custody."""

    thing: str
    steps: tuple[Told, ...]
    questions: tuple[ToldAnswer, ...]


def told_life(life: Life, name: Callable[[str], str], *, numbers: bool, people: bool) -> ToldLife:
    """A life in words; `name` makes a person's name of an id; `numbers` and `people` say what may be seen."""
    steps = tuple(
        _told(place, entry, name, numbers=numbers, people=people)
        for place, entry in enumerate(life.entries, start=1)
    )
    place_of = {_key(entry): place for place, entry in enumerate(life.entries, start=1)}
    return ToldLife(
        thing=life.thing,
        steps=steps,
        questions=tuple(
            ToldAnswer(
                asked=one.asked.value,
                words=WORDS[one.asked],
                is_open=one.is_open,
                steps=tuple(place_of[_key(entry)] for entry in one.entries),
            )
            for one in answers(life)
        ),
    )


def _key(entry: Entry) -> tuple[str, str, str]:
    return (entry.event, entry.subject, entry.number)


def _told(number: int, entry: Entry, name: Callable[[str], str], *, numbers: bool, people: bool) -> Told:
    def names(*parts: Part) -> tuple[str, ...]:
        return tuple(map(name, entry.who(*parts))) if people else ()

    return Told(
        number=number,
        event=entry.event,
        utc_ms=entry.utc_ms,
        site=entry.site,
        kind=KIND_WORDS.get(entry.kind, entry.kind),
        subject=entry.subject,
        said=tuple(_said(entry.said)),
        seal=entry.number if numbers else "",
        people=names(Part.AUTHOR, Part.SECOND, Part.WITNESS),
        givers=names(Part.GIVER),
        receivers=names(Part.RECEIVER),
        state=state_of(entry),
        reason=entry.reason if people else "",
        corrects=entry.corrects,
    )


def state_of(entry: Entry) -> str:
    """How an entry stands: "" while nothing replaced it; a correction that takes back says so."""
    if entry.withdrawn:
        return N_("takes the earlier entry back")
    if entry.replaced_by:
        return N_("corrected or replaced; kept beside what came after")
    return N_("correction") if entry.corrects else ""


def _said(fields: tuple[tuple[str, str], ...]) -> Iterator[tuple[str, str]]:
    order = list(FIELD_WORDS)
    for field, text in sorted(fields, key=lambda f: order.index(f[0]) if f[0] in order else len(order)):
        if (field, text) in _LEFT_OUT:
            continue
        if field in _MINUTES and text.isdigit():
            text = format_clock(int(text))
        elif field in _CODED:
            text = text.replace("_", " ")
        elif field in _PLACES:
            text = text.removeprefix("site/").removeprefix("place/")
        yield FIELD_WORDS.get(field, field.replace("_", " ")), text


def local_time(utc_ms: int, zone_name: str) -> str:
    """Date and minute on the county's wall clock."""
    return Instant(utc_ms=utc_ms).local(zone_name).strftime("%Y-%m-%d %H:%M")
