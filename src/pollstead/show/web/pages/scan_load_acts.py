"""What the load-out takes: a scan onto the vehicle, over the doorstep, back onto it, into the warehouse."""

from __future__ import annotations

from typing import Final

from pollstead.reconcile.custody.inventory import tidy
from pollstead.reconcile.custody.legs import Leg, LegKind
from pollstead.reconcile.custody.loads import WAREHOUSE, Drive, LoadState, LoadThing, Stop
from pollstead.record.event import Means, Part
from pollstead.record.event import Person as Someone
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds.body import Body
from pollstead.record.kinds.custody import DoorRead, ThingSent
from pollstead.record.kinds.days import CorrectionPrivate, EntryCorrected, ThingReceived
from pollstead.show.commands import Command, command_of
from pollstead.show.web.yard import Crew, Mode, Yard


def take_scan(yard: Yard, crew: Crew) -> str:
    """One scan: a card, a door word, a site, or a thing; where to go."""
    code = yard.ask.form.text("code")
    command = command_of(code)
    if command is not None:
        return take_command(yard, command)
    if yard.drive is None or not code:
        return yard.at("unknown", code)
    if yard.mode in (Mode.DOOR, Mode.FETCH):
        site = yard.site_of_word(code)
        if site:
            return at_door(yard, site, "same")
        if yard.drive.stop_of(tidy(code)) is not None:
            return at_door(yard, tidy(code), "no_card")
    found = yard.codes.get(tidy(code))
    if found is None:
        return yard.at("unknown", code)
    drive, thing = found
    if drive is not yard.drive:
        return yard.at("away", code)
    return MOVES[yard.mode](yard, crew, thing, code)


def at_door(yard: Yard, site: str, result: str) -> str:
    """A word was read at a door, or a site was typed because no card hangs there; that is kept."""
    assert yard.drive is not None  # noqa: S101 - a drive was chosen before anything is scanned
    mine = yard.drive.stop_of(site)
    wanted = next_stop(yard.drive, yard.mode)
    expected = site if mine is not None else wanted.site if wanted is not None else yard.into
    _write(
        yard,
        DoorRead(
            result="no_card" if result == "no_card" else "same" if mine is not None else "other",
            other="" if mine is not None else f"site/{site}",
            vehicle=yard.drive.vehicle,
        ),
        f"site/{expected or site}",
        expected or site,
        (),
    )
    if mine is None:
        return yard.at("wrong-door", site)
    did = "no-card" if result == "no_card" else "door"
    early = wanted is not None and wanted.site != site
    return yard.at("door-early" if early and did == "door" else did, site, into=site)


def next_stop(drive: Drive, mode: Mode) -> Stop | None:
    """The first stop with something to do: to hand over, or to pick up."""
    wanted = LoadState.LOADED if mode is Mode.DOOR else LoadState.AT_SITE
    return next((s for s in drive.stops if any(t.state is wanted for t in s.things)), None)


def load(yard: Yard, crew: Crew, thing: LoadThing, code: str) -> str:
    """Onto the vehicle: it left the warehouse with the two, to its site, due at the stop's time."""
    assert yard.drive is not None  # noqa: S101 - see take_scan
    if thing.state in (LoadState.LOADED, LoadState.AT_SITE):
        return yard.at("again" if thing.state is LoadState.LOADED else "there", code)
    stop = yard.drive.stop_of(thing.site)
    giver = crew.other or yard.ask.person().person
    body = ThingSent(
        from_place=WAREHOUSE,
        to_place=f"site/{thing.site}",
        expected_utc_ms=stop.due_ms if stop is not None else None,
        vehicle=yard.drive.vehicle,
    )
    _write(yard, body, thing.thing, thing.site, _hands(crew, givers=(giver,), receivers=crew.pair))
    return yard.at("front" if yard.drive.later_waits(thing.site) else "on", code)


def hand_over(yard: Yard, crew: Crew, thing: LoadThing, code: str) -> str:
    """Over the doorstep: the two give it to whoever receives for the site."""
    if yard.stop is None:
        return yard.at("first-door", code)
    if thing.site != yard.into:
        return yard.at("not-here", code)
    if thing.state is LoadState.AT_SITE:
        return yard.at("there", code)
    body = ThingReceived(
        place=f"site/{thing.site}", state="received", from_place=WAREHOUSE, seals="not_looked"
    )
    receivers = (crew.other,) if crew.other else ()
    _write(yard, body, thing.thing, thing.site, _hands(crew, givers=crew.pair, receivers=receivers))
    return yard.at("in" if thing.state is LoadState.LOADED else "unloaded", code)


def pick_up(yard: Yard, crew: Crew, thing: LoadThing, code: str) -> str:
    """Back onto the vehicle at the site."""
    assert yard.drive is not None  # noqa: S101 - see take_scan
    if thing.state is LoadState.COMING_BACK:
        return yard.at("again", code)
    body = ThingSent(from_place=f"site/{thing.site}", to_place=WAREHOUSE, vehicle=yard.drive.vehicle)
    givers = (crew.other,) if crew.other else ()
    _write(yard, body, thing.thing, thing.site, _hands(crew, givers=givers, receivers=crew.pair))
    return yard.at("picked", code)


def bring_home(yard: Yard, crew: Crew, thing: LoadThing, code: str) -> str:
    """Back in the warehouse: whoever scans receives it."""
    if thing.state is LoadState.BACK:
        return yard.at("home-again", code)
    body = ThingReceived(
        place=WAREHOUSE, state="received", from_place=f"site/{thing.site}", seals="not_looked"
    )
    receiver = crew.other or yard.ask.person().person
    _write(yard, body, thing.thing, thing.site, _hands(crew, givers=crew.pair, receivers=(receiver,)))
    return yard.at("home", code)


MOVES: Final = {Mode.LOAD: load, Mode.DOOR: hand_over, Mode.FETCH: pick_up, Mode.HOME: bring_home}


def take_command(yard: Yard, command: Command) -> str:
    """What a card does here."""
    if command is Command.UNDO:
        return take_back(yard)
    if command is Command.NEXT:
        return yard.at("next", into="")
    if command is Command.STOP:
        return yard.at("stop")
    if command is Command.OTHER_PAIR:
        return yard.at("", first="", second="", other="", witness="", change="yes")
    return yard.at("no-use")


def take_back(yard: Yard) -> str:
    """Withdraw this person's newest word about a thing of the drive; the record keeps both."""
    author = yard.ask.person().person
    legs: list[Leg] = [
        leg
        for thing in (() if yard.drive is None else yard.drive.things)
        if thing.thing in yard.held
        for leg in yard.held[thing.thing].legs
        if author in leg.entered_by and leg.kind in (LegKind.SENT, LegKind.RECEIVED)
    ]
    if not legs:
        return yard.at("nothing")
    folded = yard.ask.folder.fold()
    last = max(legs, key=lambda leg: folded.moment(leg.event, leg.utc_ms))
    yard.ask.folder.write(
        EntryCorrected(
            corrects=last.event,
            of_kind=ThingSent.kind if last.kind is LegKind.SENT else ThingReceived.kind,
            value=FrozenObject({}),
        ),
        who=yard.ask.person(),
        subject=last.thing,
        site=f"site/{last.site}" if last.site else "",
        day=last.day,
        private=CorrectionPrivate(reason="Taken back at the load-out"),
    )
    return yard.at("undo", last.thing.partition("/")[2])


def _hands(crew: Crew, *, givers: tuple[str, ...], receivers: tuple[str, ...]) -> tuple[Someone, ...]:
    parts = [(one, Part.GIVER) for one in givers] + [(one, Part.RECEIVER) for one in receivers]
    if crew.witness:
        parts.append((crew.witness, Part.WITNESS))
    return tuple(Someone(person=one, means=Means.NAME_ONLY, part=part) for one, part in parts)


def _write(yard: Yard, body: Body, subject: str, site: str, hands: tuple[Someone, ...]) -> None:
    assert yard.drive is not None  # noqa: S101 - see take_scan
    yard.ask.folder.write(
        body,
        who=yard.ask.person(),
        subject=subject,
        site=f"site/{site}",
        day=yard.drive.date.isoformat(),
        hands=hands,
    )
