"""*Not heard from* as one role may see it: names, phones and who opens, each by need; the moment."""

from __future__ import annotations

import datetime as dt

from pollstead.election.county import Election
from pollstead.election.instants import Instant
from pollstead.election.values import Value
from pollstead.reconcile.heard.callees import OPENER_PARTS, Callee, Try
from pollstead.reconcile.heard.silence import CallHeard, HeardList, SiteHeard, heard_list
from pollstead.reconcile.heard.steps import STEP_WORDS
from pollstead.reconcile.heard.told import Word
from pollstead.show.web.asked_day import day_asked, moment_asked, planned_days
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.day import Days, all_days, county_day
from pollstead.show.web.pages.frame import Ask
from pollstead.show.web.pages.site_people import sees_keys, sees_phones
from pollstead.show.web.ready_view import RESULT_WORDS, SHORT, names_of, present_election


class WordLine(Value, frozen=True, kw_only=True):
    """A word about a step: the minute told, when it was typed, by whom, and from whom by phone."""

    at_min: int | None
    utc_ms: int
    author: str
    giver: str
    by_phone: bool
    event: str
    aside: bool


class CallLine(Value, frozen=True, kw_only=True):
    """An expected call as a row; `state` is the state's word."""

    words: str
    hour_min: int | None
    due_min: int
    late_min: int
    state: str
    told: tuple[WordLine, ...]


class TryLine(Value, frozen=True, kw_only=True):
    """A call that was tried: to whom, by whom, what came of it, when."""

    name: str
    by: str
    result: str
    utc_ms: int
    event: str


class CalleeLine(Value, frozen=True, kw_only=True):
    """Somebody to call, as far as this role may see."""

    person: str
    name: str
    parts: tuple[str, ...]
    phones: tuple[str, ...]


class SiteLine(Value, frozen=True, kw_only=True):
    """One site; `next` is whom to call now, `others` the rest in order."""

    site: str
    name: str
    area: str
    voters: int
    hours_told: bool
    opens_min: int | None
    late_min: int
    lost_min: int | None
    lost_running: bool
    overdue: tuple[CallLine, ...]
    calls: tuple[CallLine, ...]
    coming: CallLine | None
    next: CalleeLine | None
    others: tuple[CalleeLine, ...]
    tries: tuple[TryLine, ...]
    last: WordLine | None


class Silence:
    """One operating day's calls as of one moment, for the person who asks.

    Raises `Trouble` before there is a plan, and for a moment that is none.
    """

    def __init__(self, ask: Ask) -> None:
        self.ask = ask
        self.days: Days = planned_days(ask)
        self.election: Election = present_election(ask, self.days)
        self.dates = all_days(self.days.version, self.election)
        self.date = self._date()
        self.at, self.now_ms = moment_asked(ask, self.election, "/heard")
        self.names = names_of(ask, self.election)
        self.found: HeardList = heard_list(
            self.election,
            self.days.version,
            self.days.folded,
            self.date,
            self.now_ms,
            observations=self.days.observations(),
        )

    def _date(self) -> dt.date:
        found = day_asked(self.ask, self.dates)
        if found is not None:
            return found
        today = Instant(utc_ms=self.ask.folder.clock()).local(self.election.zone_name).date()
        # After midnight the day that is running goes on.
        if today in self.dates:
            return today
        return county_day(self.days, self.days.version, self.election, self.ask.folder.clock())

    def site(self, site: str) -> SiteHeard | None:
        """A site of the day; None where it is not open."""
        return next((one for one in self.found.sites if one.site == site), None)

    def name(self, person: str) -> str:
        """A person's name where this role sees names, else nothing."""
        short = person.rpartition("/")[2]
        return self.names.get(short, short) if self.ask.may(Capability.SEE_PEOPLE) else ""

    def line(self, site: SiteHeard) -> SiteLine:
        """One site for this role."""
        shown = self._callees(site)
        chosen = site.next_call
        first = next((one for one in shown if chosen and one.person == chosen.person), None)
        first = first or next(iter(shown), None)
        coming = site.next_due
        return SiteLine(
            site=site.site,
            name=site.name,
            area=site.area,
            voters=site.voters,
            hours_told=site.hours is not None,
            opens_min=None if site.hours is None else site.hours.opens_min,
            late_min=site.late_min,
            lost_min=site.lost_min,
            lost_running=site.lost_running,
            overdue=tuple(self.call(one) for one in site.overdue),
            calls=tuple(self.call(one) for one in site.calls),
            coming=None if coming is None else self.call(coming),
            next=first,
            others=tuple(one for one in shown if one is not first),
            tries=tuple(self._try(one) for one in site.tries),
            last=None if site.last is None else self.word(site.last),
        )

    def call(self, one: CallHeard) -> CallLine:
        """One expected call."""
        return CallLine(
            words=STEP_WORDS[one.call.step],
            hour_min=one.call.hour_min,
            due_min=one.call.due_min,
            late_min=one.late_min,
            state=one.state.value,
            told=tuple(self.word(word) for word in _once_aside(one.words)),
        )

    def word(self, word: Word) -> WordLine:
        """One word."""
        return WordLine(
            at_min=word.at_min,
            utc_ms=word.utc_ms,
            author=self.name(word.author),
            giver=self.name(word.giver) if word.giver else "",
            by_phone=bool(word.giver),
            event=word.event,
            aside=word.aside,
        )

    def _callees(self, site: SiteHeard) -> tuple[CalleeLine, ...]:
        if not self.ask.may(Capability.SEE_PEOPLE):
            return ()
        keys = sees_keys(self.ask, self.election, site.site)
        phones = sees_phones(self.ask, self.election, site.site)
        made = []
        for one in site.callees:
            parts = tuple(part for part in one.parts if keys or part not in OPENER_PARTS)
            if parts:
                made.append(self._callee(one, parts, site.site, phones=phones))
        return tuple(made)

    def _callee(self, one: Callee, parts: tuple[str, ...], site: str, *, phones: bool) -> CalleeLine:
        first = [p.phone for p in self.election.people if p.id.rpartition("/")[2] == one.person and p.phone]
        rows = self.election.site_contacts
        second = [r.other_phone for r in rows if r.site == site and r.person == one.person and r.other_phone]
        return CalleeLine(
            person=one.person,
            name=self.name(one.person),
            parts=parts,
            phones=tuple(dict.fromkeys((*first, *second))) if phones else (),
        )

    def _try(self, one: Try) -> TryLine:
        return TryLine(
            name=self.name(one.person),
            by=self.name(one.by),
            result=RESULT_WORDS.get(one.result, one.result),
            utc_ms=one.utc_ms,
            event=one.event[:SHORT],
        )


def _once_aside(words: tuple[Word, ...]) -> tuple[Word, ...]:
    """Words about a step; of what a person entered about something else only the first, by its moment."""
    first: dict[str, str] = {}
    for word in words:
        if word.aside:
            first.setdefault(word.author, word.event)
    return tuple(word for word in words if not word.aside or first[word.author] == word.event)
