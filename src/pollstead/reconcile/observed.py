"""From the folded record to typed observations: what was seen, of what, when, by whom, on which device.

Nothing is chosen here. A correction and what it corrects both come out, each naming the other, and
so do two people's entries about one thing.
"""

from __future__ import annotations

import enum

from pollstead.election.values import Value
from pollstead.record.event import Means, Part
from pollstead.record.fold import Fact, Fold, Reading
from pollstead.record.frozen_json import FrozenObject


class What(enum.StrEnum):
    """What sort of thing was observed."""

    SERIAL = "serial"
    SEAL = "seal"
    CLOCK = "clock"
    COUNT = "count"
    REPORT = "report"
    MEMORY_DEVICE = "memory device"
    OPENED = "opened"
    CLOSED = "closed"
    HEARD = "heard"
    SERVICE = "service"
    SWAPPED = "swapped"
    RECEIVED = "received"
    OTHER = "other"


_WHAT_OF_KIND = {
    "seen.serial": What.SERIAL,
    "seen.seal": What.SEAL,
    "seen.clock": What.CLOCK,
    "count.read": What.COUNT,
    "count.by_style": What.COUNT,
    "seen.report": What.REPORT,
    "memory_device.packed": What.MEMORY_DEVICE,
    "site.opened": What.OPENED,
    "site.closed": What.CLOSED,
    "site.heard": What.HEARD,
    "device.out_of_service": What.SERVICE,
    "device.swapped": What.SWAPPED,
    "thing.received": What.RECEIVED,
}

STYLE_MARK = "%"
"""Stands between a count's term and the ballot style that it is of: ``ballots_unused%E07``."""

OFFICE_PREFIXES = (
    "key.",
    "facts.",
    "mapping.",
    "value.",
    "plan.",
    "rule.",
    "notice.",
    "expected.",
    "packet.",
    "sheet.",
    "side.",
    "device.tested",
    "closure.",
    "seal.",
    "stock.",
    "call.",
    "ready.",
    "order.",
    "memory.uploaded",
    "receiving.",
    "canvass.",
    "hours.",
)
"""Kinds of the office's own work; every other kind, known or not, counts as seen at a site."""


class Someone(Value, frozen=True, kw_only=True):
    """A person's part in an observation and by which means they stood behind it."""

    person: str
    part: Part
    means: Means


class Observation(Value, frozen=True, kw_only=True):
    """One person's word about one thing.

    `subject` is an id; `site` is the site's id without ``site/``. `detail` tells things of one
    subject apart: the step of a seal, the term of a count (with its ballot style, ``term%style``), the
    report's name. `value` is the serial, seal number, or place as text; `number` a count or a minute of the
    day; `other_number` the reference clock's minute, or the public counter of a device that was swapped out;
    `date_shown` what the device says the date is; `state` the coded word of the event. `by_phone` is set
    where the giver said it on the telephone. `value_known` is False where the number stands in a private
    part not given here.
    `sheet` and `line` say which line of paper it was typed from, if any.
    `corrects` names the event that this one corrects; `replaced_by` those that correct or replace it.
    """

    event: str
    kind: str
    what: What
    subject: str
    site: str
    day: str
    detail: str = ""
    value: str = ""
    value_known: bool = True
    number: int | None = None
    other_number: int | None = None
    date_shown: str = ""
    state: str = ""
    source: str = ""
    by_phone: str = ""
    people: tuple[Someone, ...] = ()
    recorder: str = ""
    utc_ms: int = 0
    uncertainty_ms: int = 0
    sheet: str = ""
    line: str = ""
    corrects: str = ""
    replaced_by: tuple[str, ...] = ()
    withdrawn: bool = False

    @property
    def stands(self) -> bool:
        """Whether nothing has corrected, replaced or withdrawn it."""
        return not self.replaced_by and not self.withdrawn

    @property
    def entered_by(self) -> tuple[str, ...]:
        """The ids of author and second person: those who stand behind the value."""
        return tuple(s.person for s in self.people if s.part in (Part.AUTHOR, Part.SECOND))

    @property
    def phoned_by(self) -> str:
        """The id of the person who said it on the telephone; "" where it did not come by phone."""
        givers = (s.person for s in self.people if s.part is Part.GIVER)
        return next(givers, "") if self.by_phone else ""

    def says(self) -> tuple[object, ...]:
        """What it says, without who and when: equal for two observations that agree."""
        return (
            self.detail,
            self.value,
            self.value_known,
            self.number,
            self.other_number,
            self.date_shown,
            self.state,
        )


def observations_of(folded: Fold) -> tuple[Observation, ...]:
    """Every observation of the record, in the order of the fold; the office's own events left out."""
    found = [seen for fact in folded.facts for seen in observations_of_fact(fact)]
    place = {event: index for index, event in enumerate(folded.order)}
    return tuple(sorted(found, key=lambda seen: place.get(seen.event, len(place))))


def observations_of_fact(fact: Fact) -> tuple[Observation, ...]:
    """The observations of one fact, in the order of its readings; the office's own events left out."""
    return tuple(
        _observation(fact, reading)
        for reading in fact.readings
        if not reading.kind.startswith(OFFICE_PREFIXES)
    )


def observation_of(folded: Fold, event: str) -> Observation | None:
    """The observation of one event; None where it is none, or not here."""
    for fact in folded.facts:
        if any(reading.event == event for reading in fact.readings):
            return next((seen for seen in observations_of_fact(fact) if seen.event == event), None)
    return None


def short_site(site: str) -> str:
    """A site's id without its kind: ``site/S01`` and ``S01`` are ``S01``."""
    return site.removeprefix("site/")


def _observation(fact: Fact, reading: Reading) -> Observation:
    what = _WHAT_OF_KIND.get(reading.kind, What.OTHER)
    site = reading.site or (fact.subject if fact.subject.startswith("site/") else "")
    fields = {**fact.key.thawed(), **reading.value.thawed()}
    value, known = _value(what, fields, reading)
    return Observation(
        event=reading.event,
        kind=reading.kind,
        what=what,
        subject=fact.subject,
        site=short_site(site),
        day=fact.day,
        detail=_detail(what, fields, reading),
        value=value,
        value_known=known,
        number=_number(fields, _NUMBER_FIELD.get(what, "")),
        other_number=_number(fields, _OTHER_NUMBER_FIELD.get(what, "")),
        date_shown=_text(fields, "date_shown"),
        state=_text(fields, "ballots" if what is What.SWAPPED else "state"),
        source=_text(fields, "source"),
        by_phone=reading.by_phone,
        people=tuple(Someone(person=p.person, part=p.part, means=p.means) for p in reading.people),
        recorder=reading.device,
        utc_ms=reading.utc_ms,
        uncertainty_ms=reading.uncertainty_ms,
        sheet=reading.sheet,
        line=reading.line,
        corrects=reading.corrects,
        replaced_by=reading.replaced_by,
        withdrawn=reading.withdrawn,
    )


_DETAIL_FIELD = {
    What.SEAL: "step",
    What.COUNT: "term",
    What.REPORT: "report",
    What.SWAPPED: "old",
    What.HEARD: "step",
}
_DETAIL_OF_KIND = {"ballot.jam": "went", "incident.reported": "what", "supply.told": "item"}
_OTHER_NUMBER_FIELD = {What.CLOCK: "reference_min", What.SWAPPED: "public_counter"}
_NUMBER_FIELD = {
    What.COUNT: "value",
    What.CLOCK: "device_min",
    What.OPENED: "at_min",
    What.CLOSED: "at_min",
    What.HEARD: "at_min",
    What.SWAPPED: "at_min",
}


def _detail(what: What, fields: dict[str, object], reading: Reading) -> str:
    detail = _text(fields, _DETAIL_FIELD.get(what, _DETAIL_OF_KIND.get(reading.kind, "")))
    style = _text(fields, "style") if what is What.COUNT else ""
    return f"{detail}{STYLE_MARK}{style}" if style else detail


def _value(what: What, fields: dict[str, object], reading: Reading) -> tuple[str, bool]:
    """The value as text, and whether it is known here."""
    if what is What.SERIAL:
        return _text(fields, "serial"), True
    if what is What.SEAL:
        private: FrozenObject | None = reading.private
        if private is None:
            # Ticked seals have no private part; where there is one, it was not given to this fold.
            return "", not reading.private_digest
        number = private.get("number")
        return (number if isinstance(number, str) else ""), True
    if what is What.MEMORY_DEVICE:
        return _text(fields, "inside"), True
    if what is What.RECEIVED:
        return _text(fields, "place"), True
    if what is What.SWAPPED:
        return _text(fields, "new"), True
    if what is What.SERVICE:
        return _text(fields, "why"), True
    return "", True


def _text(fields: dict[str, object], name: str) -> str:
    found = fields.get(name, "") if name else ""
    return found if isinstance(found, str) else ""


def _number(fields: dict[str, object], name: str) -> int | None:
    found = fields.get(name) if name else None
    return found if isinstance(found, int) and not isinstance(found, bool) else None
