"""What can be written down on the page of incidents; each act is undone by a correction."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Final, Literal

from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.reconcile.happening.incidents import next_number, subject_of
from pollstead.record.kinds.body import Body, Reason
from pollstead.record.kinds.days import DeviceOutOfService
from pollstead.record.kinds.incidents import (
    BallotJam,
    BinUsed,
    IncidentEnded,
    IncidentJoined,
    IncidentReported,
    LeftThing,
    Told,
)
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.custody_view import Evening
from pollstead.show.web.happening_view import Happening, typed_count, typed_minute
from pollstead.show.web.pages.frame import Ask, Trouble
from pollstead.show.web.pages.taking_back import take_back
from pollstead.show.web.typed import Wrong

FIELDS: Final = (
    *("i-site", "i-what", "i-at", "i-device", "i-service", "i-words", "i-caller"),
    *("j-device", "j-at", "j-before", "j-after", "j-went", "b-device", "b-at", "b-state", "b-ballots"),
    *("r-site", "r-at", "r-state", "r-things"),
)
UNDO_KINDS: Final = (
    "incident.reported",
    "incident.joined",
    "incident.ended",
    "ballot.jam",
    "bin.used",
    "room.left",
    "device.out_of_service",
)
THING = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")


class Done(Value, frozen=True, kw_only=True):
    """What was written: the incident that it is about, and the event that an undo takes back."""

    subject: str = ""
    event: str = ""


Result = Done | tuple[Wrong, ...]


def told(ask: Ask, prefix: str) -> Told | None:
    """The private part of a form; None where nothing was typed."""
    words, caller = ask.form.text(f"{prefix}-words"), ask.form.text(f"{prefix}-caller")
    return Told(words=words[:2000], caller=caller[:200]) if words or caller else None


def report(ask: Ask, happening: Happening) -> Result:
    """Write an incident down under the next number."""
    form, faults = ask.form, []
    site, what, typed = form.text("i-site"), form.text("i-what"), form.text("i-device")
    wrong = happening.site_wrong("i-site", site)
    if wrong is not None:
        faults.append(wrong)
    if what not in happening.kind_words:
        faults.append(Wrong(field="i-what", words=message(N_("Choose what it is."))))
    minute = typed_minute(form.text("i-at"), "i-at")
    if isinstance(minute, Wrong):
        faults.append(minute)
    device = happening.device(typed) if typed else None
    if typed and device is None:
        faults.append(_no_device("i-device", typed))
    if faults or isinstance(minute, Wrong):
        return tuple(faults)
    service = form.text("i-service")
    subject = subject_of(happening.date, next_number(happening.incidents))
    stopped: Literal["goes_on", "slower", "stopped"] = (
        "stopped" if service == "stopped" else "slower" if service == "slower" else "goes_on"
    )
    body = IncidentReported(
        what=what, at_min=minute, device=device.id if device is not None else "", service=stopped
    )
    return _write(ask, happening, body, subject, site, private=told(ask, "i"))


def _no_device(field: str, typed: str) -> Wrong:
    return Wrong(
        field=field,
        words=message(N_("{typed} is no device of the county: type the serial or the tag."), typed=typed),
    )


def _write(
    ask: Ask, happening: Happening, body: Body, subject: str, site: str, *, private: Told | None = None
) -> Done:
    signed = ask.folder.write(
        body,
        who=ask.person(),
        subject=subject,
        site=f"site/{site}" if site else "",
        day=happening.day,
        after=happening.folded.heads(subject, body.kind, happening.day),
        private=private,
    )
    return Done(subject=subject if subject.startswith("incident/") else "", event=signed.id)


def _of_form(ask: Ask, happening: Happening) -> str:
    subject = ask.form.text("no")
    if all(one.subject != subject for one in happening.incidents):
        raise Trouble(409, N_("There is no such incident now."), N_("Look at the list again."), "/incidents")
    return subject


def join(ask: Ask, happening: Happening) -> Result:
    """Two calls are about one incident, or are taken apart again."""
    subject, into = _of_form(ask, happening), ask.form.text("into")
    if into and (into == subject or all(one.subject != into for one in happening.incidents)):
        raise Trouble(409, N_("There is no such incident now."), N_("Look at the list again."), "/incidents")
    one = next(one for one in happening.incidents if one.subject == subject)
    return _write(ask, happening, IncidentJoined(into=into), subject, one.site)


def end(ask: Ask, happening: Happening) -> Result:
    """It is over, or it goes on after all."""
    subject = _of_form(ask, happening)
    one = next(one for one in happening.incidents if one.subject == subject)
    over = ask.form.text("state") != "goes_on"
    typed = ask.form.text("at")
    minute = typed_minute(typed, f"at-{one.event[:8]}") if over else happening.now_min
    if isinstance(minute, Wrong):
        return (minute,)
    if over and minute < one.began_min:
        words = message(N_("It cannot end before it began. Correct the time."))
        return (Wrong(field=f"at-{one.event[:8]}", words=words),)
    return _write(
        ask, happening, IncidentEnded(at_min=minute, state="ended" if over else "goes_on"), subject, one.site
    )


def service(ask: Ask, happening: Happening) -> Result:
    """The device of an incident is out of service, or back."""
    subject = _of_form(ask, happening)
    one = next(one for one in happening.incidents if one.subject == subject)
    if not one.device:
        raise Trouble(409, N_("This incident names no device."), N_("Look at the list again."), "/incidents")
    back = ask.form.text("state") == "back"
    signed = ask.folder.write(
        DeviceOutOfService(
            state="back" if back else "out",
            why=one.what,
            at_min=happening.now_min if back else one.began_min,
        ),
        who=ask.person(),
        subject=one.device,
        site=f"site/{one.site}",
        day=happening.day,
        after=happening.folded.heads(one.device, "device.out_of_service", happening.day),
        private=Reason(reason=f"incident {one.label}"),
    )
    return Done(subject=subject, event=signed.id)


def jam(ask: Ask, happening: Happening) -> Result:
    """A ballot stuck: counter before and after, and where the ballot went."""
    return _at_device(ask, happening, "j")


def bin_used(ask: Ask, happening: Happening) -> Result:
    """Ballots went into the auxiliary bin or came out of it."""
    return _at_device(ask, happening, "b")


def _at_device(ask: Ask, happening: Happening, p: str) -> Result:
    if not ask.may(Capability.ENTER):
        raise Trouble(403, N_("Your role enters no readings."), N_("Ask a helper to enter it."), "/incidents")
    form, faults = ask.form, []
    device = happening.device(form.text(f"{p}-device"))
    if device is None:
        faults.append(_no_device(f"{p}-device", form.text(f"{p}-device") or "?"))
    site = _site_of(happening, device.id) if device is not None else ""
    if device is not None and not site:
        words = message(N_("{serial} stands at no site on this day."), serial=device.serial)
        faults.append(Wrong(field=f"{p}-device", words=words))
    minute = typed_minute(form.text(f"{p}-at"), f"{p}-at")
    numbers = [
        typed_count(form.text(n), n) for n in (("j-before", "j-after") if p == "j" else ("b-ballots",))
    ]
    faults += [one for one in (minute, *numbers) if isinstance(one, Wrong)]
    if faults or device is None or isinstance(minute, Wrong):
        return tuple(faults)
    read = [one for one in numbers if not isinstance(one, Wrong)]
    body: Body
    if p == "j":
        went = form.text("j-went")
        body = BallotJam(at_min=minute, before=read[0], after=read[1], went=_WENT.get(went, "not_known"))
    else:
        body = BinUsed(at_min=minute, state=_BIN.get(form.text("b-state"), "put_in"), ballots=read[0])
    return _write(ask, happening, body, device.id, site)


_WENT: Final[dict[str, Literal["scanned_again", "auxiliary_bin", "in_box", "spoiled", "not_known"]]] = {
    "scanned_again": "scanned_again",
    "auxiliary_bin": "auxiliary_bin",
    "in_box": "in_box",
    "spoiled": "spoiled",
}
_BIN: Final[dict[str, Literal["put_in", "taken_out_scanned", "shown_empty"]]] = {
    "put_in": "put_in",
    "taken_out_scanned": "taken_out_scanned",
    "shown_empty": "shown_empty",
}


def _site_of(happening: Happening, device: str) -> str:
    """The site at whose station a device stands, by the day's lists and swaps, else by the plan."""
    for site in happening.sites:
        lines = () if site.balance is None else site.balance.lines
        if any(line.device == device for line in lines) or any(d.device == device for d in site.devices):
            return site.site
    return next(
        (
            plan.site
            for plan in happening.days.version.sites
            if any(part.device == device for station in plan.stations for part in station.parts)
        ),
        "",
    )


def left_room(ask: Ask, happening: Happening) -> Result:
    """What was left, or taken along, when people had to leave: one event for each thing."""
    form, faults = ask.form, []
    site = form.text("r-site")
    wrong = happening.site_wrong("r-site", site)
    if wrong is not None:
        faults.append(wrong)
    minute = typed_minute(form.text("r-at"), "r-at")
    if isinstance(minute, Wrong):
        faults.append(minute)
    codes = [line.strip() for line in form.text("r-things").splitlines() if line.strip()][:200]
    if not codes:
        words = message(N_("Name at least one thing, one on a line."))
        faults.append(Wrong(field="r-things", words=words))
    evening, things = Evening(ask), []
    for code in codes:
        meant = evening.meant(code)
        if meant is not None and meant.thing:
            things.append(meant.thing)
        elif THING.fullmatch(code.replace(" ", "-")):
            # Whatever people name is kept: nobody looks a thing up while leaving a room.
            things.append(f"container/{site}-{code.replace(' ', '-')}"[:64])
        else:
            words = message(N_("{code} cannot be read as the name of a thing."), code=code)
            faults.append(Wrong(field="r-things", words=words))
    if faults or isinstance(minute, Wrong):
        return tuple(faults)
    state = form.text("r-state")
    known: Literal["left_there", "taken_along", "not_known"] = (
        "left_there" if state == "left_there" else "taken_along" if state == "taken_along" else "not_known"
    )
    done = Done()
    for thing in dict.fromkeys(things):
        place = f"site/{site}" if known == "left_there" else "place/not-known"
        done = _write(ask, happening, LeftThing(at_min=minute, place=place, state=known), thing, site)
    return done


def undo(ask: Ask, happening: Happening) -> Result:
    """Take an event back: a correction without a value, with a reason where somebody else wrote it."""
    take_back(ask, happening.folded, UNDO_KINDS, "/incidents")
    return Done()


ACTS: Final[dict[str, Callable[[Ask, Happening], Result]]] = {
    "report": report,
    "join": join,
    "end": end,
    "service": service,
    "jam": jam,
    "bin": bin_used,
    "left": left_room,
    "undo": undo,
}
