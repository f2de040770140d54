"""Record tests by scanner: a device, its memory devices and counter, then the card that says how it went."""

from __future__ import annotations

from typing import Any, ClassVar, Final
from urllib.parse import urlencode

from litestar import Request, Response, get, post

from pollstead.election.county import Device
from pollstead.election.words import N_, Message, message
from pollstead.reconcile.custody.inventory import Book, tidy
from pollstead.reconcile.custody.pairs import TestState
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds.days import CorrectionPrivate, EntryCorrected
from pollstead.record.kinds.stocks import DeviceTested
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.commands import Command, command_of
from pollstead.show.web.badges import DID as BADGE_DID
from pollstead.show.web.badges import badge_answer
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.fixing import told
from pollstead.show.web.pages.entry import TypedValue
from pollstead.show.web.pages.frame import Ask, Page, answer, go, in_thread
from pollstead.show.web.pages.scan_pair import pair_link
from pollstead.show.web.pages.stock_acts import county_of, whole
from pollstead.show.web.pages.tests import SPARES
from pollstead.show.web.second import named
from pollstead.show.web.typed import Wrong
from pollstead.show.web.who import Who

HERE: Final = "/scan/test"
MOST_MEMORY: Final = 4

DID: Final = {
    "": ("ring", N_("Scan the device that was tested")),
    "device": ("square", N_("Device chosen: counter, memory devices, then how it went")),
    "memory": ("square", N_("Memory device noted")),
    "counter": ("square", N_("Lifetime counter noted")),
    "passed": ("square", N_("Test recorded: passed, shows zero")),
    "looks": ("diamond", N_("Read it again: not in the book")),
    "unknown": ("cross", N_("Not in the book")),
    "first": ("ring", N_("Scan the device first")),
    "other-memory": ("diamond", N_("This memory device is another machine's in the book")),
    "full": ("diamond", N_("Four memory devices are noted already")),
    "undo": ("half", N_("Taken back")),
    "nothing": ("ring", N_("Nothing to take back")),
    "no-use": ("ring", N_("This card does nothing here")),
    "stop": ("square", N_("Stopped. Everything is kept.")),
} | BADGE_DID


class TestPage(Page, frozen=True, kw_only=True):
    """Tests by scanner."""

    template: ClassVar[str] = "scan_test.html"

    second: str
    second_name: str
    ready: bool
    into: str
    place: str
    device: Device | None
    site: str
    test: TestState | None
    people: str
    counter: str
    memory: tuple[str, ...]
    shape: str
    words: str
    scanned: str
    meant: tuple[str, ...]
    may_change: bool
    typed: tuple[TypedValue, ...]
    faults: tuple[Wrong, ...]
    cautions: tuple[Caution, ...]


class Bench:
    """What was scanned so far: the device, and what is noted about it in the address until it is recorded."""

    def __init__(self, ask: Ask) -> None:
        self.ask = ask
        self.election = county_of(ask)
        self.into = self.text("into")
        self.device = next((d for d in self.election.devices if d.id == self.into), None)
        noted = [word for word in self.text("place").split(",") if word]
        self.counter = next((word.removeprefix("n") for word in noted if word.startswith("n")), "")
        self.memory = tuple(word.removeprefix("m") for word in noted if word.startswith("m"))

    def text(self, name: str) -> str:
        """A field of the form, else of the address; the second person else by the pair's badges."""
        found = self.ask.form.text(name) or str(self.ask.query.get(name) or "").strip()
        if name == "second" and not found and self.ask.who is not None:
            return self.ask.who.second.removeprefix("person/")
        return found

    @property
    def site(self) -> str:
        """The site where the device stands by the plan; that of the spares where it stands nowhere."""
        plan = self.ask.folder.current()
        for site in () if plan is None else plan.sites:
            for station in site.stations:
                if any(part.device == self.into for part in station.parts):
                    return site.site
        return SPARES

    def second(self) -> str | Wrong:
        """The second person of the test."""
        typed = self.text("second")
        if not typed:
            return Wrong(field="second", words=_two())
        found = named(self.ask, typed, "second")
        return Wrong(field="second", words=_two()) if found == self.ask.person().person else found

    def at(self, did: str, code: str = "", **changed: str) -> str:
        """The address after something was scanned."""
        noted = [f"n{self.counter}"] if self.counter else []
        noted += [f"m{one}" for one in self.memory]
        told = {"second": self.text("second"), "into": self.into, "place": ",".join(noted)}
        told |= {"did": did, "code": code} | changed
        return f"{HERE}?{urlencode({key: value for key, value in told.items() if value})}"


def _two() -> Message:
    return message(N_("Two people test a device: name the other one."))


def take_scan(bench: Bench, second: str) -> str:
    """One scan: a card, a device, a memory device, or the counter; where to go."""
    code = bench.ask.form.text("code")
    command = command_of(code)
    if command is not None:
        return take_command(bench, second, command)
    book = Book(bench.election.devices)
    found = book.named(code)
    if len(found) == 1:
        return bench.at("device", code, into=found[0].id, place="")
    if bench.device is None:
        return bench.at("looks" if book.like(code) else "first", code)
    if whole(code) is not None:
        bench.counter = code
        return bench.at("counter", code)
    owner = next((d for d in bench.election.devices if tidy(code) in map(tidy, d.memory_devices)), None)
    if owner is None:
        return bench.at("looks" if book.like(code) else "unknown", code)
    if len(bench.memory) >= MOST_MEMORY:
        return bench.at("full", code)
    if tidy(code) not in map(tidy, bench.memory):
        bench.memory = (*bench.memory, code)
    return bench.at("memory" if owner.id == bench.device.id else "other-memory", code)


def take_command(bench: Bench, second: str, command: Command) -> str:
    """What a card does here."""
    if command is Command.UNDO:
        return take_back(bench)
    if command is Command.STOP:
        return bench.at("stop")
    if command is Command.OTHER_PAIR:
        return pair_link(HERE)
    if bench.device is None:
        return bench.at("first")
    if command is Command.NEXT:
        return f"/tests/{bench.site}?device={bench.into}#device"
    if command is Command.NOT_PASSED:
        return f"/tests/{bench.site}?device={bench.into}#test-title"
    if command is not Command.PASSED:
        return bench.at("no-use")
    bench.ask.folder.write(
        DeviceTested(
            result="pass",
            zero="zero",
            lifetime_counter=whole(bench.counter) if bench.counter else None,
            memory_devices=bench.memory,
        ),
        who=bench.ask.person(),
        subject=bench.into,
        after=bench.ask.folder.fold().heads(bench.into, DeviceTested.kind),
        second=second,
    )
    bench.counter, bench.memory = "", ()
    return bench.at("passed", bench.device.serial)


def take_back(bench: Bench) -> str:
    """Forget what was noted last; where nothing is noted, withdraw one's own test of this device."""
    if bench.memory or bench.counter:
        if bench.memory:
            bench.memory = bench.memory[:-1]
        else:
            bench.counter = ""
        return bench.at("undo")
    me = bench.ask.person().person
    mine = [
        reading
        for fact in bench.ask.folder.fold().of_subject(bench.into)
        if fact.name == DeviceTested.kind
        for reading in fact.current
        if reading.people[0].person == me
    ]
    if not mine:
        return bench.at("nothing")
    bench.ask.folder.write(
        EntryCorrected(corrects=mine[-1].event, of_kind=DeviceTested.kind, value=FrozenObject({})),
        who=bench.ask.person(),
        subject=bench.into,
        private=CorrectionPrivate(reason="Taken back at the scan station"),
    )
    return bench.at("undo")


def test_page(bench: Bench, faults: tuple[Wrong, ...] = ()) -> TestPage:
    """The page for the device of the address."""
    ask = bench.ask
    did, code = str(ask.query.get("did") or ""), str(ask.query.get("code") or "")[:80]
    shape, words = DID.get(did, DID[""])
    second = bench.second() if bench.text("second") and ask.who is not None else ""
    if isinstance(second, Wrong) and not faults:
        faults = (second,)
    test = told(ask.folder).test(bench.into) if bench.into else None
    return TestPage(
        **ask.frame(N_("Which device was tested, and how did it go?")),
        second=bench.text("second"),
        second_name=ask.folder.person_name(second) if isinstance(second, str) and second else "",
        ready=isinstance(second, str) and bool(second),
        into=bench.into if bench.device is not None else "",
        place=bench.text("place"),
        device=bench.device,
        site=bench.site if bench.device is not None else "",
        test=test,
        people=", ".join(ask.folder.person_name(one) for one in test.people) if test is not None else "",
        counter=bench.counter,
        memory=bench.memory,
        shape=shape,
        words=words,
        scanned=code,
        meant=Book(bench.election.devices).like(code) if did == "looks" else (),
        may_change=ask.may(Capability.STOCK),
        typed=(TypedValue(field="second", value=bench.text("second")),),
        faults=faults,
        cautions=for_place(Place.SEALS),
    )


@get(HERE)
@in_thread
def testing(request: Request[Any, Any, Any]) -> Response[str]:
    """Tests by scanner."""
    ask = Ask(request)
    return answer(ask, test_page(Bench(ask)))


@post(HERE)
@in_thread
def take_testing(request: Request[Any, Any, Any]) -> Response[Any]:
    """Take a scan."""
    ask = Ask(request)
    bench = Bench(ask)

    def after_badge(did: str, who: Who) -> str:
        return bench.at(did, second=who.second.removeprefix("person/") or bench.text("second"))

    badge = badge_answer(ask, ask.form.text("code"), after_badge)
    if badge is not None:
        return badge
    second = bench.second()
    if isinstance(second, Wrong):
        return answer(ask, test_page(bench, (second,)), 422)
    return go(take_scan(bench, second))
