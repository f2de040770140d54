"""Calls of the record as they count now: in which window, to which phone, with the same contact still."""

from __future__ import annotations

import re
from collections import defaultdict

from pollstead.election.values import Value
from pollstead.reconcile.observed import short_site
from pollstead.reconcile.readiness.states import Evidence
from pollstead.record.fold import Fold, Reading

ANSWERS = ("answered_yes", "answered_no")


class Heard(Value, frozen=True, kw_only=True):
    """One call that stands. `phone` is None where its private part is not at hand (redacted)."""

    event: str
    person: str
    about: tuple[str, ...]
    purpose: str
    result: str
    window: str
    there_by_min: int | None
    questions: tuple[str, ...]
    phone: str | None
    words: str
    evidence: Evidence
    utc_ms: int

    @property
    def answered(self) -> bool:
        """Whether somebody gave an answer."""
        return self.result in ANSWERS

    def concerns(self, site: str) -> bool:
        """Whether it was about this site; a call that names no site was about all of the person's."""
        return not self.about or site in self.about


class Calls:
    """Every call that stands, by the person called, and by the site; in the order of the fold."""

    def __init__(self, folded: Fold) -> None:
        place = {event: index for index, event in enumerate(folded.order)}
        found = [
            heard_of(fact.subject, reading) for fact in folded.named("call.made") for reading in fact.current
        ]
        self.all = tuple(sorted(found, key=lambda call: place.get(call.event, 0)))
        self._by_person: dict[str, list[Heard]] = defaultdict(list)
        self._by_site: dict[str, list[Heard]] = defaultdict(list)
        for call in self.all:
            if call.person:
                self._by_person[call.person].append(call)
            for site in call.about:
                self._by_site[site].append(call)

    def with_person(self, person: str) -> tuple[Heard, ...]:
        """All calls to one person."""
        return tuple(self._by_person.get(person, ()))

    def about(self, site: str) -> tuple[Heard, ...]:
        """All calls that name a site."""
        return tuple(self._by_site.get(site, ()))


def heard_of(subject: str, reading: Reading) -> Heard:
    """One call from its reading."""
    value, private = reading.value, reading.private
    about = tuple(short_site(str(site)) for site in value.get("sites", ()))
    if subject.startswith("site/"):
        about = (short_site(subject), *about)
    minute = value.get("there_by_min")
    return Heard(
        event=reading.event,
        person=subject.removeprefix("person/") if subject.startswith("person/") else "",
        about=tuple(dict.fromkeys(about)),
        purpose=str(value.get("purpose", "")),
        result=str(value.get("result", "")),
        window=str(value.get("window", "")),
        there_by_min=minute if isinstance(minute, int) else None,
        questions=tuple(str(one) for one in value.get("questions", ())),
        phone=None if private is None else str(private.get("phone", "")),
        words="" if private is None else str(private.get("words", "")),
        evidence=evidence_of(reading),
        utc_ms=reading.utc_ms,
    )


def evidence_of(reading: Reading) -> Evidence:
    """A reading as evidence: which event, who, by which means, when."""
    return Evidence(
        source=reading.kind,
        event=reading.event,
        people=tuple(p.person for p in reading.people),
        means=tuple(p.means for p in reading.people),
        utc_ms=reading.utc_ms,
    )


def digits(phone: str) -> str:
    """A phone as its digits alone, so that spelling makes no difference."""
    return re.sub(r"\D", "", phone)


def same_phone(called: str | None, phones: tuple[str, ...]) -> bool:
    """Whether the number called is one that the tables have now; nothing is known of a redacted one."""
    if called is None:
        return False
    known = {digits(phone) for phone in phones if digits(phone)}
    return digits(called) in known if digits(called) else not known
