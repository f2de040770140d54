"""*Ready to open?* as one role may see it: names, phones and who opens only where the role needs them."""

from __future__ import annotations

import datetime as dt

import msgspec

from pollstead.election.canonical import digest_of
from pollstead.election.county import Election
from pollstead.election.values import Value
from pollstead.election.words import N_, Message
from pollstead.reconcile.readiness.heard import Calls, Heard
from pollstead.reconcile.readiness.ready import ReadyItem, ReadyList, SiteReady
from pollstead.reconcile.readiness.states import Call, Evidence, Level
from pollstead.reconcile.readiness.windows import WINDOW_WORDS
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.day import Days
from pollstead.show.web.pages.frame import Ask
from pollstead.work.calling import settles
from pollstead.work.readiness import ready_list, with_present_contacts

MS_PER_DAY = 86_400_000
WHO_OPENS = ("opener-call", "openers")
MICRO = 1_000_000
SHORT = 16
RESULT_WORDS = {
    "answered_yes": N_("yes"),
    "answered_no": N_("no"),
    "no_answer": N_("nobody answered"),
    "left_message": N_("left a message"),
    "wrong_number": N_("wrong phone"),
}


class Sight(Value, frozen=True, kw_only=True):
    """What this person may see and do: names, phones, who opens, recording a call."""

    names: bool
    phones: bool
    keys: bool
    call: bool


class AskLine(Value, frozen=True, kw_only=True):
    """One question of a call; `place` is its place in the call, `settled` whether an answer settles it."""

    place: int
    question: str
    words: Message
    yes: Message
    no: Message
    sites: int
    names: tuple[str, ...]
    settled: bool
    coming: bool


class CallLine(Value, frozen=True, kw_only=True):
    """One call as a row: who, where to reach, what to ask, what it is worth, what was tried."""

    number: int
    person: str
    name: str
    role: str
    phones: tuple[str, ...]
    from_min: int | None
    to_min: int | None
    asks: tuple[AskLine, ...]
    sites: int
    minutes: int
    worth: int
    attempts: int
    stays: bool
    mark: str


class ProofLine(Value, frozen=True, kw_only=True):
    """One piece of evidence in words: which event, who, how, when, how many days ago."""

    source: str
    people: tuple[str, ...]
    means: tuple[str, ...]
    utc_ms: int | None
    days: int | None


class ItemLine(Value, frozen=True, kw_only=True):
    """One question of a site with its share of the model and its evidence."""

    item: ReadyItem
    name: str
    ppm: int
    old: bool
    proofs: tuple[ProofLine, ...]


class SiteLine(Value, frozen=True, kw_only=True):
    """A site in the order of what is at stake."""

    number: int
    link: str
    ready: SiteReady
    items: tuple[ItemLine, ...]
    left: int
    good: int
    bad: int
    unknown: int
    risk_ppm: int
    stake: int


def sight_of(ask: Ask) -> Sight:
    """What the role of the person asking allows here; phones only for those who call."""
    call = ask.may(Capability.CALL)
    return Sight(
        names=ask.may(Capability.SEE_PEOPLE),
        phones=call and ask.may(Capability.SEE_PHONES),
        keys=ask.may(Capability.SEE_KEYS),
        call=call,
    )


def present_election(ask: Ask, days: Days) -> Election:
    """The plan's facts with the contacts of the tables as they are now."""
    return with_present_contacts(days.election, ask.folder.tables_election())


def list_of(ask: Ask, days: Days, date: dt.date, election: Election) -> ReadyList:
    """The list as of now."""
    return ready_list(election, days.version, days.issued, days.folded, days.report(date), ask.folder.clock())


def names_of(ask: Ask, election: Election) -> dict[str, str]:
    """Names by the id of a person, with and without ``person/``."""
    found = {p.id.removeprefix("person/"): p.name for p in ask.folder.people()}
    found.update({p.id.removeprefix("person/"): p.name for p in election.people if p.name})
    return found


def seen_call(call: Call, sight: Sight) -> Call | None:
    """The call without who opens, where the role does not see that; None where nothing is left."""
    asks = tuple(one for one in call.asks if sight.keys or one.question not in WHO_OPENS)
    return msgspec.structs.replace(call, asks=asks) if asks else None


def mark_of(call: Call) -> str:
    """A short digest of a call's questions, so that an answer is never taken for other questions."""
    return digest_of([[one.question, list(one.sites)] for one in call.asks])[:SHORT]


def call_line(number: int, call: Call, names: dict[str, str], sight: Sight) -> CallLine:
    """One call as a row of this role's page."""
    person = call.person.removeprefix("person/")
    return CallLine(
        number=number,
        person=person if sight.names else "",
        name=names.get(person, person) if sight.names else "",
        role=call.role,
        phones=call.phones if sight.phones else (),
        from_min=call.from_min,
        to_min=call.to_min,
        asks=tuple(
            AskLine(
                place=place,
                question=one.question,
                words=one.words,
                yes=one.yes,
                no=one.no,
                sites=len(one.sites),
                names=one.names,
                settled=settles(one.question),
                coming=one.question in ("opener-call", "lead-call"),
            )
            for place, one in enumerate(call.asks)
        ),
        sites=len(call.sites),
        minutes=call.minutes,
        worth=round(call.worth_micro / MICRO),
        attempts=call.attempts,
        stays=call.stays,
        mark=mark_of(call),
    )


def call_lines(calls: tuple[Call, ...], names: dict[str, str], sight: Sight) -> tuple[CallLine, ...]:
    """Rows of calls, numbered, those that this role may make."""
    seen = [one for call in calls if (one := seen_call(call, sight)) is not None]
    return tuple(call_line(number, call, names, sight) for number, call in enumerate(seen, start=1))


def site_line(
    number: int, site: SiteReady, link: str, names: dict[str, str], sight: Sight, now_ms: int
) -> SiteLine:
    """One site with its questions."""
    items = tuple(
        item_line(item, share.ppm, names, sight, now_ms)
        for item, share in zip(site.items, site.shares, strict=True)
    )
    levels = [item.level for item in site.items]
    return SiteLine(
        number=number,
        link=link,
        ready=site,
        items=items,
        left=len(site.open_items),
        good=levels.count(Level.GOOD),
        bad=levels.count(Level.BAD),
        unknown=levels.count(Level.UNKNOWN) + levels.count(Level.OLD),
        risk_ppm=site.risk_ppb // 1000,
        stake=round(site.stake_micro / MICRO),
    )


def item_line(item: ReadyItem, ppm: int, names: dict[str, str], sight: Sight, now_ms: int) -> ItemLine:
    """One question; the name of the person in it only where the role sees it."""
    named = item.question in ("opener-call", "lead-call", "contact-call")
    person = item.id.partition("/")[2] if named else ""
    hidden = not sight.names or (item.question in WHO_OPENS and not sight.keys)
    return ItemLine(
        item=item,
        name="" if hidden or not person else names.get(person, person),
        ppm=ppm,
        old=item.old,
        proofs=tuple(proof_line(one, names, sight, now_ms) for one in item.evidence),
    )


def proof_line(proof: Evidence, names: dict[str, str], sight: Sight, now_ms: int) -> ProofLine:
    """Evidence with its age in whole days."""
    people = [one.removeprefix("person/") for one in proof.people]
    return ProofLine(
        source=proof.source,
        people=tuple(names.get(one, one) for one in people) if sight.names else (),
        means=tuple(dict.fromkeys(one.value for one in proof.means)),
        utc_ms=proof.utc_ms,
        days=None if proof.utc_ms is None else max(0, (now_ms - proof.utc_ms) // MS_PER_DAY),
    )


class HeardLine(Value, frozen=True, kw_only=True):
    """One call of the past, as its row in a person's history."""

    heard: Heard
    by: str
    window_words: str
    result_words: str


def history_of(calls: Calls, person: str, names: dict[str, str]) -> tuple[HeardLine, ...]:
    """All calls to one person, the newest first."""
    return tuple(
        HeardLine(
            heard=call,
            by=", ".join(names.get(p.removeprefix("person/"), p) for p in call.evidence.people),
            window_words=WINDOW_WORDS.get(call.window, call.window),
            result_words=RESULT_WORDS.get(call.result, call.result),
        )
        for call in reversed(calls.with_person(person))
    )
