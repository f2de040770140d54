"""What goes wrong, and where: incidents as told by phone, bursts over several sites, lost minutes."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar
from urllib.parse import quote, urlencode

from litestar import Request, Response, get, post

from pollstead.election.instants import format_clock
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.reconcile.happening.incidents import Incident, may_repeat
from pollstead.reconcile.happening.lost import Lost
from pollstead.reconcile.happening.spread import Spread
from pollstead.reconcile.opening.states import DeviceState
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.happening_view import SERVICE_WORDS, Happening
from pollstead.show.web.pages.entry import TypedValue
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.pages.incident_acts import ACTS, FIELDS
from pollstead.show.web.typed import Wrong

WENT_WORDS = (
    ("scanned_again", N_("scanned again")),
    ("auxiliary_bin", N_("put into the auxiliary bin")),
    ("in_box", N_("fallen into the ballot box")),
    ("spoiled", N_("given back and marked anew")),
    ("not_known", N_("nobody knows")),
)
BIN_WORDS = (
    ("put_in", N_("ballots put in")),
    ("taken_out_scanned", N_("ballots taken out and scanned")),
    ("shown_empty", N_("bin shown empty")),
)
LEFT_WORDS = (
    ("left_there", N_("left in the room")),
    ("taken_along", N_("taken along")),
    ("not_known", N_("nobody knows")),
)
SERVICE_MARKS = {"goes_on": "ring", "slower": "half", "stopped": "diamond"}


class IncidentRow(Value, frozen=True, kw_only=True):
    """One incident as a row; `swap` is where the change of its device begins."""

    item: Incident
    site_name: str
    what: str
    serial: str
    words: str
    caller: str
    service: str
    mark: str
    swap: str
    out: bool
    into: str


class LostRow(Value, frozen=True, kw_only=True):
    """The lost minutes of one site: `told` where they reach what the county's rule says."""

    item: Lost
    name: str
    devices: tuple[tuple[str, int], ...]
    stretches: tuple[tuple[str, str, str, str, bool], ...]
    told: bool


class BurstRow(Value, frozen=True, kw_only=True):
    """One thing at several sites: words, and the figures of its test."""

    item: Spread
    what: str
    sites: tuple[str, ...]
    expected: str


class JamRow(Value, frozen=True, kw_only=True):
    """A jam or a use of the auxiliary bin as written down; counters None where nobody read them."""

    site: str
    serial: str
    at_min: int
    what: str
    before: int | None
    after: int | None
    ballots: int | None


class IncidentsPage(Page, frozen=True, kw_only=True):
    """What goes wrong, and where."""

    template: ClassVar[str] = "incidents.html"

    day: dt.date
    days: tuple[dt.date, ...]
    now_ms: int
    zone: str
    rows: tuple[IncidentRow, ...]
    open: int
    bursts: tuple[BurstRow, ...]
    window: int
    lost: tuple[LostRow, ...]
    jams: tuple[JamRow, ...]
    told_from: int
    not_told: int
    sites: tuple[tuple[str, str], ...]
    kinds: tuple[tuple[str, str], ...]
    services: tuple[tuple[str, str], ...]
    went: tuple[tuple[str, str], ...]
    bins: tuple[tuple[str, str], ...]
    left: tuple[tuple[str, str], ...]
    may_tell: bool
    may_enter: bool
    may_change: bool
    just: IncidentRow | None
    same_as: tuple[IncidentRow, ...]
    undo: str
    typed: tuple[TypedValue, ...]
    faults: tuple[Wrong, ...]
    done: str
    cautions: tuple[Caution, ...]
    left_cautions: tuple[Caution, ...]


def incidents_page(ask: Ask, happening: Happening, faults: tuple[Wrong, ...] = ()) -> IncidentsPage:
    """The page; with `faults` what was typed is kept."""
    rules = happening.election.rules
    rows = tuple(row_of(ask, happening, one) for one in happening.incidents)
    just = next((row for row in rows if row.item.subject == ask.query.get("no", "")), None)
    plain = ask.speak.plain
    now = format_clock(happening.now_min)
    typed = tuple(TypedValue(field=f, value=ask.form.text(f)) for f in FIELDS) if faults else ()
    return IncidentsPage(
        **ask.frame(N_("What goes wrong, and where?")),
        day=happening.date,
        days=happening.dates,
        now_ms=happening.now_ms,
        zone=happening.election.zone_name,
        rows=tuple(sorted(rows, key=lambda row: (not row.item.goes_on or bool(row.item.into), -_place(row)))),
        open=sum(one.goes_on and not one.into for one in happening.incidents),
        bursts=tuple(_burst(happening, one) for one in happening.spreads),
        window=rules.whole("incident-spread-window"),
        lost=tuple(_lost(happening, one) for one in happening.lost),
        jams=_jams(happening),
        told_from=rules.whole("lost-minutes-told"),
        not_told=sum(not site.opened.values for site in happening.sites),
        sites=tuple((site, f"{site} {name}") for site, name in happening.site_names.items()),
        kinds=tuple(happening.kind_words.items()),
        services=tuple((key, plain(words)) for key, words in SERVICE_WORDS),
        went=tuple((key, plain(words)) for key, words in WENT_WORDS),
        bins=tuple((key, plain(words)) for key, words in BIN_WORDS),
        left=tuple((key, plain(words)) for key, words in LEFT_WORDS),
        may_tell=ask.may(Capability.TELL),
        may_enter=ask.may(Capability.ENTER),
        may_change=ask.may(Capability.CHANGE),
        just=just,
        same_as=_same_as(happening, just, rows),
        undo=ask.query.get("undo", "") if not faults else "",
        typed=typed or tuple(TypedValue(field=f, value=now) for f in ("i-at", "j-at", "b-at", "r-at")),
        faults=faults,
        done=ask.query.get("done", "") if not faults else "",
        cautions=for_place(Place.INCIDENTS),
        left_cautions=for_place(Place.EVACUATION),
    )


def _place(row: IncidentRow) -> int:
    text = row.item.subject.rpartition("/")[2]
    return int(text) if text.isdigit() else 0


def row_of(ask: Ask, happening: Happening, one: Incident) -> IncidentRow:
    """One incident as this role may see it."""
    private = ask.may(Capability.SEE_PEOPLE)
    into = next((other.label for other in happening.incidents if other.subject == one.into), "")
    device = next(
        (d for s in happening.sites if s.site == one.site for d in s.devices if d.device == one.device), None
    )
    return IncidentRow(
        item=one,
        site_name=happening.site_names.get(one.site, ""),
        what=happening.what_words(one.what),
        serial=happening.serials.get(one.device, one.device),
        words=one.words if private else "",
        caller=one.caller if private else "",
        service=dict(SERVICE_WORDS).get(one.service, one.service),
        mark=SERVICE_MARKS.get(one.service, "ring"),
        swap=f"/change/swap-device?old={quote(one.device, safe='')}"
        if one.device in happening.serials
        else "",
        out=device is not None and device.state is DeviceState.OUT_OF_SERVICE and device.recorded,
        into=into,
    )


def _same_as(
    happening: Happening, just: IncidentRow | None, rows: tuple[IncidentRow, ...]
) -> tuple[IncidentRow, ...]:
    """Earlier incidents that the one just written may repeat."""
    if just is None or just.item.into:
        return ()
    one = just.item
    earlier = tuple(other for other in happening.incidents if other.subject != one.subject)
    found = may_repeat(
        earlier,
        site=one.site,
        what=one.what,
        device=one.device,
        at_min=one.began_min,
        within_min=happening.election.rules.whole("incident-same-within"),
    )
    subjects = [other.subject for other in found]
    return tuple(
        sorted((r for r in rows if r.item.subject in subjects), key=lambda r: subjects.index(r.item.subject))
    )


def _burst(happening: Happening, one: Spread) -> BurstRow:
    return BurstRow(
        item=one,
        what=happening.what_words(one.what),
        sites=tuple(f"{site} {happening.site_names.get(site, '')}".strip() for site in one.sites),
        expected=f"{one.expected_milli / 1000:.2f}",
    )


def _lost(happening: Happening, one: Lost) -> LostRow:
    return LostRow(
        item=one,
        name=happening.site_names.get(one.site, ""),
        devices=tuple((happening.serials.get(device, device), minutes) for device, minutes in one.devices),
        stretches=tuple(
            (
                format_clock(s.from_min),
                format_clock(s.to_min),
                happening.what_words(s.what),
                happening.serials.get(s.device, s.device),
                s.running,
            )
            for s in one.stretches
        ),
        told=one.site_min >= happening.election.rules.whole("lost-minutes-told") > 0,
    )


def _jams(happening: Happening) -> tuple[JamRow, ...]:
    """Jams and uses of the bin of the day, in order of time."""
    plain, found = happening.speak.plain, []
    words = {key: plain(english) for key, english in (*WENT_WORDS, *BIN_WORDS)}
    for name in ("ballot.jam", "bin.used"):
        for fact in happening.folded.named(name):
            for reading in fact.current if fact.day == happening.day else ():
                value = reading.value
                numbers = {key: value.get(key) for key in ("before", "after", "ballots")}
                usual = "not_known" if name == "ballot.jam" else "put_in"
                word = str(value.get("went" if name == "ballot.jam" else "state", usual))
                found.append(
                    JamRow(
                        site=reading.site.removeprefix("site/"),
                        serial=happening.serials.get(fact.subject, fact.subject),
                        at_min=int(str(value["at_min"])),
                        what=words.get(word, word),
                        **{key: n if isinstance(n, int) else None for key, n in numbers.items()},
                    )
                )
    return tuple(sorted(found, key=lambda row: (row.at_min, row.site, row.serial)))


@get("/incidents")
@in_thread
def incidents(request: Request[Any, Any, Any]) -> Response[str]:
    """What goes wrong."""
    ask = Ask(request)
    return answer(ask, incidents_page(ask, Happening(ask)))


@post("/incidents")
@in_thread
def take_incident(request: Request[Any, Any, Any]) -> Response[Any]:
    """Take what was told."""
    ask = Ask(request)
    act = ACTS.get(ask.form.text("do"))
    if act is None:
        raise Trouble(400, N_("This form is not known here."), N_("Open the page again."), "/incidents")
    happening = Happening(ask)
    done = act(ask, happening)
    if isinstance(done, tuple):
        return answer(ask, incidents_page(ask, happening, done), status=422)
    query = {"day": happening.day, "done": ask.form.text("do"), "no": done.subject, "undo": done.event}
    return go(f"/incidents?{urlencode({k: v for k, v in query.items() if v})}")
