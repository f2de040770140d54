"""Incidents of a day as people told them: which belong together, which go on, which one a call may repeat."""

from __future__ import annotations

import datetime as dt
from collections import Counter

from msgspec.structs import replace

from pollstead.election.values import Value
from pollstead.reconcile.observed import short_site
from pollstead.record.event import Part
from pollstead.record.facts import Fact, Fold, Reading

STOPPED, SLOWER = "stopped", "slower"


class Incident(Value, frozen=True, kw_only=True):
    """One call about something that went wrong.

    `subject` is its id, `label` what people say ("12", or "12 b" where two desks gave one number).
    `began_min` and `ended_min` are minutes of the operating day, `ended_min` None while it goes on. `into`
    is the subject of the incident that it repeats, `calls` how many calls are about it, itself included.
    `ends_differ` holds each end where two desks told different ones. `private` is the private part where it
    was given.
    """

    event: str
    subject: str
    label: str
    site: str
    day: str
    what: str
    device: str
    service: str
    began_min: int
    told_utc_ms: int
    entered_by: tuple[str, ...]
    words: str = ""
    caller: str = ""
    into: str = ""
    ended_min: int | None = None
    ends_differ: tuple[int, ...] = ()
    end_event: str = ""
    calls: int = 1

    @property
    def goes_on(self) -> bool:
        """Whether nobody has said that it is over."""
        return self.ended_min is None


def subject_of(date: dt.date, number: int) -> str:
    """The subject of the incident with this number on this day."""
    return f"incident/{date.isoformat()}/{number}"


def next_number(incidents: tuple[Incident, ...]) -> int:
    """The number after the highest one given."""
    given = (one.subject.rpartition("/")[2] for one in incidents)
    return 1 + max((int(text) for text in given if text.isdigit()), default=0)


def incidents_of(folded: Fold, date: dt.date) -> tuple[Incident, ...]:
    """The incidents of a day that stand, by number: withdrawn ones left out, others as corrected."""
    day = date.isoformat()
    found: list[Incident] = []
    twins: Counter[str] = Counter()
    for fact in sorted(folded.named("incident.reported"), key=lambda f: (_number(f.subject), _first_ms(f))):
        if fact.day != day:
            continue
        for reading in fact.current[:1]:
            twins[fact.subject] += 1
            found.append(_incident(folded, fact, reading, twins[fact.subject]))
    alone = {one.subject for one in found}
    calls: Counter[str] = Counter(_root(one, found) for one in found)
    return tuple(
        replace(one, into=one.into if one.into in alone else "", calls=calls[one.subject]) for one in found
    )


def _number(subject: str) -> tuple[int, str]:
    text = subject.rpartition("/")[2]
    return (int(text) if text.isdigit() else 0, text)


def _first_ms(fact: Fact) -> int:
    return min(reading.utc_ms for reading in fact.readings)


def _root(one: Incident, found: list[Incident]) -> str:
    """The incident that a chain of repeated ones leads to; a ring of them ends at the one it began with."""
    by_subject = {other.subject: other for other in found}
    seen, at = {one.subject}, one
    while at.into and at.into in by_subject and at.into not in seen:
        seen.add(at.into)
        at = by_subject[at.into]
    return at.subject


def _incident(folded: Fold, fact: Fact, reading: Reading, twin: int) -> Incident:
    def text(name: str) -> str:
        value = reading.value.get(name, "")
        return value if isinstance(value, str) else ""

    def private(name: str) -> str:
        value = reading.private.get(name, "") if reading.private is not None else ""
        return value if isinstance(value, str) else ""

    joined = folded.find(fact.subject, "incident.joined", fact.day)
    into = [str(r.value.get("into", "")) for r in joined.current] if joined is not None else []
    ended = folded.find(fact.subject, "incident.ended", fact.day)
    ends = ended.current if ended is not None else ()
    over = [r for r in ends if r.value.get("state", "ended") == "ended"]
    minutes = sorted({int(str(r.value["at_min"])) for r in over})
    label = fact.subject.rpartition("/")[2]
    return Incident(
        event=reading.event,
        subject=fact.subject,
        label=label if twin == 1 else f"{label} {chr(ord('a') + min(twin, 26) - 1)}",
        site=short_site(reading.site),
        day=fact.day,
        what=text("what"),
        device=text("device"),
        service=text("service") or "goes_on",
        began_min=int(str(reading.value["at_min"])),
        told_utc_ms=_first_ms(fact),
        entered_by=tuple(p.person for p in reading.people if p.part in (Part.AUTHOR, Part.SECOND)),
        words=private("words"),
        caller=private("caller"),
        into=next((one for one in into if one), ""),
        # Where two desks told different ends, or one says that it goes on, the longer stretch is taken.
        ended_min=minutes[-1] if minutes and len(over) == len(ends) else None,
        ends_differ=tuple(minutes) if len(minutes) > 1 else (),
        end_event=over[-1].event if over else "",
    )


def may_repeat(
    incidents: tuple[Incident, ...],
    *,
    site: str,
    what: str,
    device: str,
    at_min: int,
    within_min: int,
) -> tuple[Incident, ...]:
    """The incidents that a call may be about again: same site, same kind, no other device, near in time.

    One that still goes on is near until it ends. The nearest comes first.
    """
    found = [
        one
        for one in incidents
        if one.site == site
        and one.what == what
        and not one.into
        and (not device or not one.device or device == one.device)
        and one.began_min - within_min <= at_min
        and (one.goes_on or at_min <= (one.ended_min or 0) + within_min)
    ]
    return tuple(sorted(found, key=lambda one: (abs(one.began_min - at_min), one.subject)))
