"""Not back yet: which thing, which site, who had it last, where, since when, whom to call, who fetches it."""

from __future__ import annotations

import datetime as dt
from operator import itemgetter
from typing import Any, ClassVar, Final
from urllib.parse import urlencode

from litestar import Request, Response, get, post

from pollstead.election.instants import OperatingDay, parse_hasty_clock
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.reconcile.custody.not_back import NotBack, Silent
from pollstead.record.event import Means, Part
from pollstead.record.event import Person as Someone
from pollstead.record.kinds.calls import CallMade, CallResult, PhoneCalled
from pollstead.record.kinds.custody import RetrievalSent, ThingSent
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.custody_view import Evening
from pollstead.show.web.pages.entry import TypedValue
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.pages.site_people import sees_phones
from pollstead.show.web.ready_view import RESULT_WORDS
from pollstead.show.web.second import second_person
from pollstead.show.web.tonight import Tonight, state_of, tonight
from pollstead.show.web.typed import Wrong

RESULTS: Final[dict[str, CallResult]] = {
    "answered_yes": "answered_yes",
    "answered_no": "answered_no",
    "no_answer": "no_answer",
    "left_message": "left_message",
    "wrong_number": "wrong_number",
}
CALL_WORDS: Final = {
    **RESULT_WORDS,
    "answered_yes": N_("they know where it is"),
    "answered_no": N_("they do not know"),
}
FIELDS = ("words", "first", "second", "by")


class Callee(Value, frozen=True, kw_only=True):
    """Somebody to call: id, name and phones as far as the role may see them, and the last call."""

    person: str
    name: str
    role: str
    phones: tuple[str, ...]
    last_result: str
    last_ms: int | None


class Gone(Value, frozen=True, kw_only=True):
    """One thing not back as a row; `number` is its place in the order."""

    number: int
    item: NotBack
    machine: str
    last_names: str
    place: str
    call: tuple[Callee, ...]
    holds: str
    fetching: str


class SilentRow(Value, frozen=True, kw_only=True):
    """A site that nobody has heard from."""

    item: Silent
    call: tuple[Callee, ...]


class NotBackPage(Page, frozen=True, kw_only=True):
    """Not back yet."""

    template: ClassVar[str] = "not_back.html"

    day: dt.date
    days: tuple[dt.date, ...]
    now_ms: int
    zone: str
    gone: tuple[Gone, ...]
    silent: tuple[SilentRow, ...]
    back_tonight: tuple[Tonight, ...]
    state_digest: str
    complete: int
    sites: int
    chosen: Gone | None
    may_act: bool
    results: tuple[tuple[str, str], ...]
    typed: tuple[TypedValue, ...]
    faults: tuple[Wrong, ...]
    done: str
    cautions: tuple[Caution, ...]


def page_of(ask: Ask, evening: Evening, faults: tuple[Wrong, ...] = ()) -> NotBackPage:
    """The page; with `faults` what was typed is kept."""
    found = evening.not_back()
    calls = _last_calls(evening)
    rows = tuple(_gone(ask, evening, n, one, calls) for n, one in enumerate(found.things, start=1))
    wanted = ask.query.get("thing", "") or ask.form.text("thing")
    return NotBackPage(
        **ask.frame(N_("What is not back yet, and who had it last?")),
        day=evening.date,
        days=evening.dates,
        now_ms=evening.now_ms,
        zone=evening.election.zone_name,
        gone=rows,
        silent=tuple(
            SilentRow(item=one, call=_callees(ask, evening, one.call, one.site, calls))
            for one in found.silent
        ),
        back_tonight=tonight(evening),
        state_digest=state_of(found),
        complete=found.sites_complete,
        sites=found.sites,
        chosen=next((row for row in rows if row.item.line.thing == wanted), None),
        may_act=ask.may(Capability.CALL),
        results=tuple(CALL_WORDS.items()),
        typed=tuple(TypedValue(field=f, value=ask.form.text(f)) for f in FIELDS) if faults else (),
        faults=faults,
        done=ask.query.get("done", "") if not faults else "",
        cautions=for_place(Place.NOT_BACK),
    )


def _gone(ask: Ask, evening: Evening, number: int, item: NotBack, calls: dict[str, tuple[str, int]]) -> Gone:
    names = ask.may(Capability.SEE_PEOPLE)

    def named(people: tuple[str, ...]) -> str:
        return ", ".join(evening.name(person, shown=names) for person in people)

    return Gone(
        number=number,
        item=item,
        machine=evening.serials.get(item.line.device, ""),
        last_names=named(item.last_people),
        place=evening.place_words(item.last_place) if item.last_place else "",
        call=_callees(ask, evening, item.call, item.site, calls),
        holds=", ".join(evening.place_words(one) for one in item.holds),
        fetching=named(item.fetching),
    )


def _callees(
    ask: Ask, evening: Evening, people: tuple[str, ...], site: str, calls: dict[str, tuple[str, int]]
) -> tuple[Callee, ...]:
    known = {p.id.removeprefix("person/"): p for p in evening.election.people}
    names = ask.may(Capability.SEE_PEOPLE)
    phones = sees_phones(ask, evening.election, site)
    found = []
    for person in people:
        short = person.removeprefix("person/")
        row = known.get(short)
        extra = [
            c.other_phone
            for c in evening.election.site_contacts
            if c.person.removeprefix("person/") == short and c.other_phone
        ]
        numbers = tuple(dict.fromkeys((*([row.phone] if row and row.phone else []), *extra)))
        result, at = calls.get(short, ("", None))
        found.append(
            Callee(
                person=short,
                name=evening.name(person, shown=names),
                role=row.role if row else "",
                phones=numbers if phones else (),
                last_result=CALL_WORDS.get(result, ""),
                last_ms=at,
            )
        )
    return tuple(found)


def _last_calls(evening: Evening) -> dict[str, tuple[str, int]]:
    """The last call about things not back to each person of this night: result and moment."""
    folded = evening.days.folded
    calls = [
        (folded.moment(reading.event, reading.utc_ms), fact.subject.removeprefix("person/"), reading)
        for fact in folded.named("call.made")
        for reading in fact.current
        if reading.value.get("purpose") == "not_back"
    ]
    return {
        person: (str(reading.value.get("result", "")), reading.utc_ms)
        for _, person, reading in sorted(calls, key=itemgetter(0))
    }


def take_call(ask: Ask, evening: Evening, item: NotBack) -> tuple[Wrong, ...]:
    """Write a call about a thing down."""
    person, result = ask.form.text("person"), ask.form.text("result")
    if f"person/{person}" not in item.call or result not in RESULTS:
        return (Wrong(field="result", words=message(N_("Choose whom you called and what came of it."))),)
    phones = [p.phone for p in evening.election.people if p.id.removeprefix("person/") == person]
    ask.folder.write(
        CallMade(
            purpose="not_back",
            result=RESULTS[result],
            window="night",
            sites=(f"site/{item.site}",) if item.site else (),
        ),
        who=ask.person(),
        subject=f"person/{person}",
        day=evening.date.isoformat(),
        private=PhoneCalled(phone=phones[0] if phones else "", words=ask.form.text("words")),
    )
    return ()


def take_fetch(ask: Ask, evening: Evening, item: NotBack) -> tuple[Wrong, ...]:
    """Two people go for a thing, or have it now; never one alone."""
    first, second = second_person_any(ask, "first"), second_person_any(ask, "second")
    faults = [one for one in (first, second) if isinstance(one, Wrong)]
    if not faults and first == second:
        faults.append(Wrong(field="second", words=message(N_("Two people fetch a thing: name another one."))))
    expected, typed = None, ask.form.text("by")
    if typed:
        try:
            minute = parse_hasty_clock(typed)
            zone = evening.election.zone_name
            expected = OperatingDay(date=evening.date, zone_name=zone).at_wall_clock(minute).utc_ms
        except ValueError:
            faults.append(
                Wrong(field="by", words=message(N_("Type a time such as 23:40 or 24:20, or leave it blank.")))
            )
    if faults:
        return tuple(faults)
    hands = tuple(
        Someone(person=str(one), means=Means.NAME_ONLY, part=Part.RECEIVER) for one in (first, second)
    )
    thing, site = item.line.thing, f"site/{item.site}" if item.site else ""
    day = evening.date.isoformat()
    if ask.form.text("do") == "have":
        givers = tuple(
            Someone(person=p, means=Means.NAME_ONLY, part=Part.GIVER) for p in item.last_people[:1]
        )
        sent = ThingSent(
            from_place=item.last_place or site or "place/not-known",
            to_place="receiving/any",
            expected_utc_ms=expected,
        )
        ask.folder.write(sent, who=ask.person(), subject=thing, site=site, day=day, hands=(*hands, *givers))
        return ()
    ask.folder.write(
        RetrievalSent(state="going", expected_utc_ms=expected),
        who=ask.person(),
        subject=thing,
        site=site,
        day=day,
        after=evening.days.folded.heads(thing, "retrieval.sent", day),
        hands=hands,
    )
    return ()


def second_person_any(ask: Ask, field: str) -> str | Wrong:
    """The person named in a field; oneself is allowed, since whoever types may be one of the two."""
    typed = ask.form.text(field)
    me = ask.person().person
    if typed.casefold() in (me.casefold(), me.removeprefix("person/").casefold()) or (
        typed and typed.casefold() == ask.folder.person_name(me).casefold()
    ):
        return me
    return second_person(ask, field)


ACTS = {"call": take_call, "fetch": take_fetch, "have": take_fetch}


@get("/not-back")
@in_thread
def not_back_page(request: Request[Any, Any, Any]) -> Response[str]:
    """What is not back yet."""
    ask = Ask(request)
    return answer(ask, page_of(ask, Evening(ask)))


@post("/not-back")
@in_thread
def take_not_back(request: Request[Any, Any, Any]) -> Response[Any]:
    """Take a call, or that two people go for a thing."""
    ask = Ask(request)
    act = ACTS.get(ask.form.text("do"))
    evening = Evening(ask)
    thing = ask.form.text("thing")
    item = next((one for one in evening.not_back().things if one.line.thing == thing), None)
    if act is None or item is None:
        raise Trouble(
            409, N_("This thing is back, or the form is old."), N_("Look at the list again."), "/not-back"
        )
    faults = act(ask, evening, item)
    if faults:
        return answer(ask, page_of(ask, evening, faults), status=422)
    query = urlencode({"day": evening.date.isoformat(), "thing": thing, "done": ask.form.text("do")})
    return go(f"/not-back?{query}")
