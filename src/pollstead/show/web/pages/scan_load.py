"""Load-out and return: what goes onto which vehicle, stop by stop, from whom to whom, what is not back."""

from __future__ import annotations

from typing import Any, ClassVar, Final

from litestar import Request, Response, get, post

from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.reconcile.custody.inventory import tidy
from pollstead.reconcile.custody.loads import Drive, LoadState, LoadThing, Stop
from pollstead.reconcile.custody.near_sites import NearSite
from pollstead.reconcile.custody.not_back import leads_of
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.web.badges import DID as BADGE_DID
from pollstead.show.web.badges import badge_answer
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.pages.entry import TypedValue
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.pages.scan_load_acts import next_stop, take_back, take_scan
from pollstead.show.web.pages.site_people import sees_phones
from pollstead.show.web.ready_view import names_of
from pollstead.show.web.typed import Wrong
from pollstead.show.web.yard import FIELDS, HERE, Mode, Yard
from pollstead.work.cart_packing import packed_carts

DID: Final = {
    "": ("ring", N_("Ready: scan the first label")),
    "at-door": ("ring", N_("Ready: scan or type the word on the door")),
    "on": ("square", N_("On the vehicle")),
    "front": ("half", N_("On the vehicle, before things of a later stop")),
    "again": ("half", N_("Scanned already")),
    "there": ("half", N_("Handed over already")),
    "away": ("diamond", N_("Not this vehicle")),
    "unknown": ("cross", N_("No thing of these drives has this code")),
    "door": ("square", N_("The right door")),
    "door-early": ("half", N_("The door of a later stop")),
    "no-card": ("half", N_("No word was read at this door")),
    "wrong-door": ("diamond", N_("Another site's door: hand nothing over")),
    "first-door": ("ring", N_("Read the word on the door first")),
    "not-here": ("diamond", N_("Not for this door")),
    "in": ("square", N_("Handed over")),
    "unloaded": ("half", N_("Handed over; nobody scanned it onto the vehicle")),
    "picked": ("square", N_("Back on the vehicle")),
    "home": ("square", N_("Back in the warehouse")),
    "home-again": ("half", N_("In the warehouse already")),
    "next": ("ring", N_("The next stop, please")),
    "undo": ("half", N_("Taken back")),
    "nothing": ("ring", N_("Nothing to take back")),
    "no-use": ("ring", N_("This card does nothing here")),
    "stop": ("square", N_("Stopped. Everything is kept.")),
} | BADGE_DID
MODES: Final = (
    (Mode.LOAD.value, N_("Load the vehicle")),
    (Mode.DOOR.value, N_("Hand over at a door")),
    (Mode.FETCH.value, N_("Pick up at a site")),
    (Mode.HOME.value, N_("Bring back into the warehouse")),
)
OTHER_WORDS: Final = {
    Mode.LOAD: N_("Who hands it out: name or id; blank means you"),
    Mode.DOOR: N_("Who receives at the site: name or id"),
    Mode.FETCH: N_("Who hands it out at the site: name or id"),
    Mode.HOME: N_("Who receives in the warehouse: name or id; blank means you"),
}


class DriveLine(Value, frozen=True, kw_only=True):
    """One drive of the list."""

    drive: Drive
    waits: int
    loaded: int
    handed: int
    back: int
    overdue: int


class OpenLeg(Value, frozen=True, kw_only=True):
    """One thing on its way: code, where to, with whom as far as this role sees, due when."""

    code: str
    to_place: str
    people: str
    due_ms: int | None
    overdue: bool


class LoadPage(Page, frozen=True, kw_only=True):
    """The drives, or one of them while somebody scans."""

    template: ClassVar[str] = "scan_load.html"

    drives: tuple[DriveLine, ...]
    legs: tuple[OpenLeg, ...]
    drive: Drive | None
    mode: str
    mode_words: str
    modes: tuple[tuple[str, str], ...]
    other_words: str
    crew_words: str
    ready: bool
    witness_wanted: bool
    into: str
    stop: Stop | None
    next_stop: Stop | None
    shape: str
    words: str
    scanned: str
    belongs: str
    leads: tuple[str, ...]
    near: tuple[NearSite, ...]
    not_packed: int
    kept: tuple[tuple[str, str], ...]
    may_load: bool
    now_ms: int
    zone: str
    typed: tuple[TypedValue, ...]
    faults: tuple[Wrong, ...]
    cautions: tuple[Caution, ...]


def load_page(ask: Ask, yard: Yard, faults: tuple[Wrong, ...] = ()) -> LoadPage:
    """The page for the drive, the mode and the people of the address or the form."""
    crew = yard.crew() if yard.drive is not None and ask.may(Capability.RECEIVE) else ()
    asked = bool(yard.text("first") or yard.text("second"))
    if isinstance(crew, tuple) and asked and not faults:
        faults = crew
    did, code = str(ask.query.get("did") or ""), str(ask.query.get("code") or "")[:80]
    begins = "at-door" if yard.mode in (Mode.DOOR, Mode.FETCH) else ""
    shape, words = DID.get(did or begins, DID[""])
    names = names_of(ask, yard.election)
    see = ask.may(Capability.SEE_PEOPLE)

    def name(person: str) -> str:
        short = person.removeprefix("person/")
        return names.get(short, short) if see else short

    drive, thing = yard.codes.get(tidy(code), (None, None))
    stop = yard.stop
    if stop is None and yard.drive is not None and thing is not None:
        stop = yard.drive.stop_of(thing.site)
    return LoadPage(
        **ask.frame(N_("What goes onto which vehicle, and to which door?")),
        drives=tuple(_line(one) for one in yard.drives) if yard.drive is None else (),
        legs=_legs(yard, name),
        drive=yard.drive,
        mode=yard.mode.value,
        mode_words=dict(MODES)[yard.mode.value],
        modes=MODES,
        other_words=OTHER_WORDS[yard.mode],
        crew_words="" if isinstance(crew, tuple) else ", ".join(name(one) for one in crew.pair),
        ready=not isinstance(crew, tuple),
        witness_wanted=yard.witness_wanted,
        into=yard.into,
        stop=stop,
        next_stop=next_stop(yard.drive, yard.mode) if yard.drive is not None else None,
        shape=shape,
        words=words,
        scanned=yard.site_name(code) if did in ("door", "door-early", "no-card", "wrong-door") else code,
        belongs=_belongs(yard, did, drive, thing),
        leads=_leads(ask, yard, did, code, thing, name),
        near=stop.near if stop is not None else (),
        not_packed=_not_packed(ask, yard, thing) if did in ("on", "front") else 0,
        kept=tuple((field, yard.text(field)) for field in FIELDS if field != "into"),
        may_load=ask.may(Capability.RECEIVE),
        now_ms=yard.now_ms,
        zone=yard.election.zone_name,
        typed=tuple(TypedValue(field=f, value=yard.text(f)) for f in FIELDS),
        faults=faults,
        cautions=for_place(Place.LOADING),
    )


def _line(drive: Drive) -> DriveLine:
    return DriveLine(
        drive=drive,
        waits=drive.count(LoadState.WAITS),
        loaded=drive.count(LoadState.LOADED),
        handed=drive.count(LoadState.AT_SITE),
        back=drive.count(LoadState.BACK),
        overdue=sum(thing.overdue for thing in drive.things),
    )


def _legs(yard: Yard, name: Any) -> tuple[OpenLeg, ...]:
    """What is on its way by this moment, the overdue ones first, then by the time it is due."""
    found = {
        thing.thing: OpenLeg(
            code=thing.code,
            to_place=yard.site_name(thing.site)
            if thing.state is LoadState.LOADED
            else yard.ask.speak.plain(N_("the warehouse")),
            people=", ".join(name(one) for one in thing.leg.receivers),
            due_ms=thing.leg.expected_ms,
            overdue=thing.overdue,
        )
        for drive in ((yard.drive,) if yard.drive is not None else yard.drives)
        for thing in drive.things
        if thing.leg is not None and thing.state in (LoadState.LOADED, LoadState.COMING_BACK)
    }
    return tuple(
        sorted(found.values(), key=lambda leg: (not leg.overdue, leg.due_ms is None, leg.due_ms or 0))
    )


def _belongs(yard: Yard, did: str, drive: Drive | None, thing: LoadThing | None) -> str:
    """Site, and vehicle with its day, of a thing that was scanned where it does not go."""
    if thing is None or drive is None or did not in ("away", "not-here"):
        return ""
    vehicle = f"{drive.vehicle} {drive.name}".strip()
    return f"{yard.site_name(thing.site)} · {vehicle} · {drive.date.isoformat()}"


def _leads(ask: Ask, yard: Yard, did: str, code: str, thing: LoadThing | None, name: Any) -> tuple[str, ...]:
    """Both leads of a thing or door of another site, with phones where the role sees them."""
    other = thing.site if thing is not None else code if did == "wrong-door" else ""
    if did not in ("away", "not-here", "wrong-door") or not other:
        return ()
    phones = {p.id.removeprefix("person/"): p.phone for p in yard.election.people}
    found = []
    for site in dict.fromkeys(filter(None, (other, yard.into))):
        for lead in leads_of(yard.election, site)[:1]:
            phone = (
                phones.get(lead.removeprefix("person/"), "") if sees_phones(ask, yard.election, site) else ""
            )
            found.append(" ".join(filter(None, (site, name(lead), phone))))
    return tuple(found)


def _not_packed(ask: Ask, yard: Yard, thing: LoadThing | None) -> int:
    """How many devices of a cart were neither scanned into it nor named as staying out."""
    if thing is None or not thing.thing.startswith("cart/"):
        return 0
    cart = thing.thing.removeprefix("cart/")
    packed = packed_carts(yard.election, ask.folder.current(), ask.folder.fold())
    return next((len(one.waiting) for one in packed if one.cart == cart), 0)


@get(HERE)
@in_thread
def loading(request: Request[Any, Any, Any]) -> Response[str]:
    """The drives, or one of them."""
    ask = Ask(request)
    return answer(ask, load_page(ask, Yard(ask)))


@get(f"{HERE}/paper")
@in_thread
def driver_paper(request: Request[Any, Any, Any]) -> Response[bytes]:
    """The driver page of one drive; phones and who opens only where this role sees them."""
    from pollstead.show.packet.driver_page import driver_pages
    from pollstead.show.web.warehouse_pdf import pdf_answer
    from pollstead.work.contacts_of_stops import contacts_of

    ask = Ask(request)
    yard = Yard(ask)
    if yard.drive is None:
        raise Trouble(404, N_("There is no such drive."), N_("Choose one of the list."), HERE)
    contacts = contacts_of(
        yard.election, phones=ask.may(Capability.SEE_PHONES), keys=ask.may(Capability.SEE_KEYS)
    )
    drive = yard.drive
    return pdf_answer(
        ask, yard.election, "driver-page.pdf", HERE, lambda given: driver_pages(given, (drive,), contacts)
    )


@post(HERE)
@in_thread
def take_loading(request: Request[Any, Any, Any]) -> Response[Any]:
    """Take a scan, or take the last one back."""
    ask = Ask(request)
    yard = Yard(ask)
    if yard.drive is None:
        raise Trouble(
            409, N_("This drive is not in the table of stops."), N_("Choose one of the list."), HERE
        )
    if ask.form.text("do") == "undo":
        return go(take_back(yard))
    badge = badge_answer(ask, ask.form.text("code"), lambda did, _: yard.at(did))
    if badge is not None:
        return badge
    crew = yard.crew()
    if isinstance(crew, tuple):
        return answer(ask, load_page(ask, yard, crew), 422)
    return go(take_scan(yard, crew))
