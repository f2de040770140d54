"""Which devices are tested and sealed, by whom; entering a test, and seals by two people apart."""

from __future__ import annotations

from typing import Any, ClassVar, Literal

from litestar import MediaType, Request, Response, get, post
from litestar.params import FromPath

from pollstead.election.county import Election
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.intake.fact_difference import whole
from pollstead.intake.fact_edits import Edit, add_row, set_cell
from pollstead.plan.terms.version import PlanVersion
from pollstead.reconcile.custody.fixing import FixedDevice, FixedSeal
from pollstead.reconcile.custody.pace import Pace, pace_of
from pollstead.reconcile.custody.pairs import PairState, Warehouse
from pollstead.reconcile.opening.labels import station_label
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds.body import Reason
from pollstead.record.kinds.days import CorrectionPrivate, EntryCorrected, SealNumber
from pollstead.record.kinds.stocks import ClosureSealed, DeviceTested
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.commands import for_scripts
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.fixing import devices_of, field_of, number_faults, told
from pollstead.show.web.pages.entry import TypedValue
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.second import second_person
from pollstead.show.web.typed import Wrong
from pollstead.work.fact_waiting import finish_stopped
from pollstead.work.facts import CannotChange, NotTaken, own_device, pending
from pollstead.work.stock import stock_report
from pollstead.work.stock_acts import STOPPED_ACTS

SPARES = "spares"
RESULTS: dict[str, Literal["pass", "fail", "not_run"]] = {
    "pass": "pass",
    "fail": "fail",
    "not_run": "not_run",
}
ZEROS: dict[str, Literal["zero", "not_zero", "not_read"]] = {
    "zero": "zero",
    "not_zero": "not_zero",
    "not_read": "not_read",
}


class SiteTests(Value, frozen=True, kw_only=True):
    """One site: how many devices stand there, are tested, are complete."""

    key: str
    name: str
    devices: int
    tested: int
    complete: int


class TestsPage(Page, frozen=True, kw_only=True):
    """All sites and the spares."""

    template: ClassVar[str] = "tests.html"

    sites: tuple[SiteTests, ...]
    open_sites: int
    pace: Pace | None
    cautions: tuple[Caution, ...]


class SealField(Value, frozen=True, kw_only=True):
    """One position to read: its field in the form, words, what lacks; `mine` is what this person typed."""

    id: str
    field: str
    name: str
    position: int
    state: PairState
    mine: str
    shown: tuple[tuple[str, str], ...]
    lacks: str
    open: bool
    in_table: bool


class DeviceTests(Value, frozen=True, kw_only=True):
    """One device of the fixing list."""

    anchor: str
    device: str
    serial: str
    tag: str
    station: str
    result: str
    zero: str
    lifetime_counter: int | None
    memory_devices: tuple[str, ...]
    people: tuple[str, ...]
    lacks: str
    complete: bool
    seals: tuple[SealField, ...]


class FixingPage(Page, frozen=True, kw_only=True):
    """The fixing list of one site, or of the spares."""

    template: ClassVar[str] = "fixing.html"

    key: str
    site: str
    devices: tuple[DeviceTests, ...]
    complete: int
    chosen: DeviceTests | None
    next: DeviceTests | None
    may_enter: bool
    typed: tuple[TypedValue, ...]
    faults: tuple[Wrong, ...]
    done: tuple[Message, ...]
    plan_again: bool
    not_in_table: bool
    commands: str
    cautions: tuple[Caution, ...]


def planned(ask: Ask) -> tuple[Election, PlanVersion]:
    """The facts and the plan version shown; raises where there is none."""
    plan, election = ask.folder.current(), ask.folder.tables_election()
    if plan is None or election is None:
        raise Trouble(
            409,
            N_("Which device stands where is not known before there is a plan."),
            N_("Make a plan version, then come back."),
            "/jobs",
        )
    return election, plan


def tests_page(ask: Ask) -> TestsPage:
    """Every site with how far it is."""
    _, plan = planned(ask)
    found = told(ask.folder)
    rows = [_site_row(site.site, site.name, devices_of(plan, site.site, found)) for site in plan.sites]
    rows.append(_site_row(SPARES, "", devices_of(plan, "", found)))
    return TestsPage(
        **ask.frame(N_("Which devices are tested and sealed?")),
        sites=tuple(rows),
        open_sites=sum(row.complete < row.devices for row in rows),
        pace=pace_of(found) if ask.may(Capability.ISSUE) else None,
        cautions=for_place(Place.SEALS),
    )


def _site_row(key: str, name: str, devices: tuple[FixedDevice, ...]) -> SiteTests:
    return SiteTests(
        key=key,
        name=name,
        devices=len(devices),
        tested=sum(device.lacks is None for device in devices),
        complete=sum(device.complete for device in devices),
    )


def list_of(plan: PlanVersion, key: str, found: Warehouse) -> tuple[str, tuple[FixedDevice, ...]]:
    """The site's name and its devices; raises Trouble where the plan has no such site."""
    if key == SPARES:
        return "", devices_of(plan, "", found)
    try:
        return plan.site(key).name, devices_of(plan, key, found)
    except KeyError as error:
        raise Trouble(
            404, N_("The plan has no site {site}."), N_("Choose one of the list."), "/tests", site=key
        ) from error


def fixing_page(
    ask: Ask, key: str, faults: tuple[Wrong, ...] = (), done: tuple[Message, ...] = ()
) -> FixingPage:
    """The fixing list; with `faults`, what was typed is kept."""
    election, plan = planned(ask)
    found = told(ask.folder)
    name, devices = list_of(plan, key, found)
    person = ask.who.person if ask.who else ""
    show = ask.may(Capability.SEE_EXPECTED)
    rows = tuple(_row(ask, election, device, person, show=show) for device in devices)
    wanted = str(ask.query.get("device") or ask.form.text("device"))
    chosen = next((row for row in rows if row.device == wanted), None)
    fields = ["result", "zero", "counter", "memory", "second", "reason"]
    if chosen is not None:
        fields += [seal.id for seal in chosen.seals]
    lacks_plan = any(s.lacks is not None and s.lacks.name == "PLAN_DIFFERS" for d in devices for s in d.seals)
    return FixingPage(
        **ask.frame(N_("{site}: what must still be tested and sealed?"), site=name or N_("Spares")),
        key=key,
        site=name,
        devices=rows,
        complete=sum(row.complete for row in rows),
        chosen=chosen,
        next=_next(rows, chosen),
        may_enter=ask.may(Capability.STOCK),
        typed=tuple(TypedValue(field=f, value=ask.form.text(f)) for f in fields) if faults else (),
        faults=faults,
        done=done,
        plan_again=lacks_plan,
        not_in_table=chosen is not None
        and (
            _stopped(ask)
            or any(
                waiting_for_table(election, found, device, person).edits
                for device in devices
                if device.device == wanted
            )
        ),
        commands=for_scripts(),
        cautions=for_place(Place.SEALS),
    )


def _next(rows: tuple[DeviceTests, ...], chosen: DeviceTests | None) -> DeviceTests | None:
    """The next device of the list, after the chosen one and then from the top, that lacks something."""
    if chosen is None:
        return None
    at = rows.index(chosen)
    return next((row for row in (*rows[at + 1 :], *rows[:at]) if not row.complete), None)


def _row(ask: Ask, election: Election, device: FixedDevice, person: str, *, show: bool) -> DeviceTests:
    test = device.test
    # Who tests works beside the other of the pair; others see names where their role sees names.
    names = ask.may(Capability.SEE_PEOPLE) or ask.may(Capability.STOCK)
    spare = device.station == device.device
    return DeviceTests(
        anchor=device.device.replace("/", "-"),
        device=device.device,
        serial=device.serial,
        tag=device.tag,
        station="" if spare else station_label(device.station, election),
        result=test.result if test is not None else "",
        zero=test.zero if test is not None else "",
        lifetime_counter=test.lifetime_counter if test is not None else None,
        memory_devices=test.memory_devices if test is not None else (),
        people=tuple(ask.folder.person_name(p) for p in test.people) if test is not None and names else (),
        lacks=device.lacks.value if device.lacks is not None else "",
        complete=device.complete,
        seals=tuple(
            _seal(ask, seal, f"seal-{number}", person, show=show)
            for number, seal in enumerate(device.seals, start=1)
        ),
    )


def _seal(ask: Ask, seal: FixedSeal, name: str, person: str, *, show: bool) -> SealField:
    seen = seal.told.seen_by(person)
    mine = next((word.number for word in seal.told.words if word.person == person), "")
    both = len(seal.told.people) > 1
    return SealField(
        id=name,
        field=field_of(seal),
        name=seal.name,
        position=seal.position,
        state=seal.told.state,
        mine=mine,
        shown=tuple((ask.folder.person_name(w.person), w.number) for w in seen) if both and show else (),
        lacks=seal.lacks.value if seal.lacks is not None else "",
        open=not both and not mine,
        in_table=bool(seal.in_table) and not seal.told.words,
    )


def take_test(ask: Ask, device: FixedDevice) -> tuple[Wrong, ...]:
    """Record the test of one device, with the second person and, where it did not pass, why."""
    form, faults = ask.form, []
    result, zero = form.text("result"), form.text("zero") or "not_read"
    if result not in RESULTS:
        faults.append(_wrong("result", N_("Choose how the test went.")))
    if zero not in ZEROS:
        faults.append(_wrong("zero", N_("Choose what the counter shows.")))
    counter = form.text("counter")
    if counter and not (counter.isascii() and counter.isdecimal() and len(counter) <= 12):
        faults.append(_wrong("counter", N_("Type the lifetime counter in digits, or leave it blank.")))
    if result in ("fail", "not_run") and not form.text("reason"):
        faults.append(_wrong("reason", N_("Say in a few words why.")))
    second = second_person(ask)
    if isinstance(second, Wrong):
        return (*faults, second)
    if faults:
        return tuple(faults)
    body = DeviceTested(
        result=RESULTS[result],
        zero=ZEROS[zero],
        lifetime_counter=int(counter) if counter else None,
        memory_devices=tuple(form.text("memory").replace(",", " ").split()),
    )
    heads = ask.folder.fold().heads(device.device, "device.tested")
    try:
        ask.folder.write(
            body,
            who=ask.person(),
            subject=device.device,
            private=Reason(reason=form.text("reason")) if form.text("reason") else None,
            after=heads,
            second=second,
        )
    except ValueError:
        return (_wrong("memory", N_("Type the ids of at most four memory devices with blanks between.")),)
    return ()


def take_seals(ask: Ask, device: FixedDevice) -> tuple[tuple[Wrong, ...], tuple[Message, ...]]:
    """Record what this person read on the closures of one device; faults, or what is to be said."""
    election, _ = planned(ask)
    person = ask.person().person
    ledger = stock_report(election, None, ask.folder.fold()).ledger
    faults: list[Wrong] = []
    read: list[tuple[FixedSeal, str]] = []
    for number, seal in enumerate(device.seals, start=1):
        name = f"seal-{number}"
        typed = ask.form.text(name)
        if not typed or len(seal.told.people) > 1 or person in seal.told.people:
            continue
        fault = number_faults(ask.folder, election, seal, typed, ledger)
        if fault is None and typed in {text for _, text in read}:
            fault = message(N_("This number is typed twice on this page. Read both seals again."))
        if fault is not None and ask.form.text("anyway") != "yes":
            faults.append(Wrong(field=name, words=fault))
        read.append((seal, typed))
    if not read and not faults:
        # A stop between the readings and the table left this; nothing has to be read again.
        done = write_through(ask, device) if _in_no_table(ask, device) else ()
        if done:
            return (), done
    if not read:
        faults.append(Wrong(field="seal-1", words=message(N_("Nothing was typed yet."))))
    if faults:
        return tuple(faults), ()
    for seal, typed in read:
        ask.folder.write(
            ClosureSealed(position=seal.position),
            who=ask.person(),
            subject=seal.closure,
            private=SealNumber(number=typed),
        )
    return (), write_through(ask, device)


def _stopped(ask: Ask) -> bool:
    """Whether a stop left numbers of two people recorded and not in the tables."""
    folder = ask.folder
    found = pending(folder.path, folder.store, own_device(folder.store))
    return any(one.change.act in STOPPED_ACTS and one.is_open for one in found)


def _in_no_table(ask: Ask, device: FixedDevice) -> bool:
    """Whether two people read numbers of this device that are not in the table yet."""
    election, _ = planned(ask)
    waiting = waiting_for_table(election, told(ask.folder), device, ask.person().person)
    return _stopped(ask) or bool(waiting.edits)


def take_back(ask: Ask, device: FixedDevice) -> tuple[Wrong, ...]:
    """Withdraw this person's own word about one position, with a reason; it stays in the record."""
    person = ask.person().person
    wanted = ask.form.text("position")
    words = [
        word
        for seal in device.seals
        if field_of(seal) == wanted
        for word in seal.told.words
        if word.person == person
    ]
    if not words:
        return (_wrong("back-reason", N_("You have no entry here that could be taken back.")),)
    if not ask.form.text("back-reason"):
        return (_wrong("back-reason", N_("Say in a few words what was wrong.")),)
    for word in words:
        ask.folder.write(
            EntryCorrected(corrects=word.event, of_kind=ClosureSealed.kind, value=FrozenObject({})),
            who=ask.person(),
            subject=wanted.partition("#")[0],
            private=CorrectionPrivate(reason=ask.form.text("back-reason")),
        )
    return ()


class Waiting(Value, frozen=True, kw_only=True):
    """What two people read and the table does not have: its edits, who else read it, closures that differ."""

    edits: tuple[Edit, ...] = ()
    second: str = ""
    differs: tuple[Message, ...] = ()


def waiting_for_table(election: Election, found: Warehouse, device: FixedDevice, person: str) -> Waiting:
    """What of one device still goes into closure_seals.csv; a stop midway leaves it for the next act."""
    rows = {(r.device, r.closure, r.position, r.counts_from): r.number for r in election.closure_seals}
    edits: list[Edit] = []
    said: list[Message] = []
    second = ""
    for seal in device.seals:
        now = found.position(seal.closure, seal.position)
        if now.state is PairState.DIFFERS:
            said.append(
                message(
                    N_("{closure}: two people read different numbers. Both read it again, then correct."),
                    closure=seal.name,
                )
            )
        if now.state is not PairState.MATCHED:
            continue
        closure = seal.closure.rpartition("/")[2]
        mine = (device.device, closure, seal.position)
        if now.number in {number for key, number in rows.items() if key[:3] == mine}:
            continue
        second = next(p for p in (*now.people, "") if p != person)
        day = device.counts_from.isoformat() if device.counts_from is not None else ""
        before = rows.get((*mine, device.counts_from))
        if before is not None:
            row = whole((*mine[:2], str(mine[2]), day))
            edits.append(set_cell("closure_seals", row, "number", now.number, before=before))
        else:
            cells = {"device": mine[0], "closure": closure, "position": str(mine[2]), "number": now.number}
            edits.append(add_row("closure_seals", cells | ({"counts_from": day} if day else {})))
    return Waiting(edits=tuple(edits), second=second, differs=tuple(said))


def write_through(ask: Ask, device: FixedDevice) -> tuple[Message, ...]:
    """Write what two people read into closure_seals.csv; what differs is said and not written."""
    with ask.folder.at_desk(ask.person()) as (desk, _, _):
        finished = finish_stopped(ask.folder.path, desk, STOPPED_ACTS)
    election, _ = planned(ask)
    waiting = waiting_for_table(election, told(ask.folder), device, ask.person().person)
    said, edits = list(waiting.differs), waiting.edits
    if finished:
        said.append(message(N_("What was read before the stop is in the table of closures now.")))
    if not edits:
        return tuple(said)
    try:
        ask.folder.change_facts(
            edits,
            who=ask.person(),
            act="reseal",
            subject=device.device,
            reason="Read by two people after test",
            second=waiting.second,
        )
    except NotTaken as refused:
        return (*said, refused.faults[0].text)
    except CannotChange as refused:
        return (*said, refused.said)
    said.append(
        message(N_("{count} numbers matched and are in the table of closures now."), count=len(edits))
    )
    return tuple(said)


def _wrong(field: str, words: str) -> Wrong:
    return Wrong(field=field, words=message(words))


@get("/tests")
@in_thread
def tests(request: Request[Any, Any, Any]) -> Response[str]:
    """All sites with how far tests and seals are."""
    ask = Ask(request)
    return answer(ask, tests_page(ask))


@get("/tests/check")
@in_thread
def check_number(request: Request[Any, Any, Any]) -> Response[str]:
    """Whether a number may be on a closure, in one sentence; empty where nothing is against it."""
    ask = Ask(request)
    election, plan = planned(ask)
    found = told(ask.folder)
    wanted = str(ask.query.get("field") or "")
    number = str(ask.query.get("number") or "")
    every = (d for key in (*(s.site for s in plan.sites), "") for d in devices_of(plan, key, found))
    seal = next((s for d in every for s in d.seals if field_of(s) == wanted), None)
    fault = number_faults(ask.folder, election, seal, number) if seal is not None else None
    words = ask.speak.plain(fault.template, **{p.name: p.value for p in fault.params}) if fault else ""
    return Response(content=words, media_type=MediaType.TEXT)


@get("/tests/{site:str}")
@in_thread
def fixing(request: Request[Any, Any, Any], site: FromPath[str]) -> Response[str]:
    """The fixing list of a site."""
    ask = Ask(request)
    return answer(ask, fixing_page(ask, site))


@post("/tests/{site:str}")
@in_thread
def take_fixing(request: Request[Any, Any, Any], site: FromPath[str]) -> Response[Any]:
    """Take a test, or the seals that one person read."""
    ask = Ask(request)
    _, plan = planned(ask)
    _, devices = list_of(plan, site, told(ask.folder))
    device = next((d for d in devices if d.device == ask.form.text("device")), None)
    if device is None:
        raise Trouble(
            404,
            N_("This device does not stand here by the plan."),
            N_("Open the list again; the plan may have changed."),
            f"/tests/{site}",
        )
    done: tuple[Message, ...] = ()
    if ask.form.text("do") == "test":
        faults = take_test(ask, device)
    elif ask.form.text("do") == "back":
        faults = take_back(ask, device)
    else:
        faults, done = take_seals(ask, device)
    if faults:
        return answer(ask, fixing_page(ask, site, faults), status=422)
    if done:
        return answer(ask, fixing_page(ask, site, done=done))
    return go(f"/tests/{site}?device={device.device}#device")
