"""The expected list: what must be found at one site on one operating day, in the order hands move."""

from __future__ import annotations

import datetime as dt

from pollstead.election.canonical import digest_of
from pollstead.election.county import Election
from pollstead.election.identity import make_id, split_id
from pollstead.election.station_type import (
    Closure,
    Counter,
    EntryPolicy,
    LineKind,
    Moment,
    NumberPolicy,
    OpeningValue,
    Report,
    SheetLine,
    StationType,
)
from pollstead.election.words import N_
from pollstead.plan.seals.policy import Found, closure_id, found_before, moments_of_day, owners_of
from pollstead.plan.terms.version import (
    CARRIED_OVER,
    ExpectedItem,
    ExpectedList,
    PartOfStation,
    PlanVersion,
    Station,
)

IN_PLACE = "in place"
"""The value of a seal that must be there but whose number is not recorded."""


def expected_list(
    election: Election, plan_version: PlanVersion, site: str, date: dt.date, *, plan_digest: str = ""
) -> ExpectedList:
    """What is expected at `site` on `date` by `plan_version`; its digest goes into `expected.issued`.

    `plan_digest` is the version's digest where the caller has it already: it is over all sites.
    Raises KeyError for a site without a plan and ValueError for a date on which the site is not open.
    """
    plan = plan_version.site(site)
    days = [day.date for day in plan.demand]
    if date not in days:
        raise ValueError(f"site {site!r} is open on {', '.join(map(str, days))}, not on {date}")
    items = []
    for station in plan.stations_on(date):
        own = [day for day in days if station.stands_on(day)]
        items += _Day(election, own.index(date), len(own)).items(station)
    return ExpectedList(site=site, date=date, plan=plan_digest or digest_of(plan_version), items=tuple(items))


class _Day:
    """One operating day of one site while its list is being made."""

    def __init__(self, election: Election, day: int, days: int) -> None:
        self.election = election
        self.day = day
        self.days = days
        self.first = day == 0

    def asks_second_person(self, moment: Moment) -> bool:
        """Whether the county's rule asks for a second person at this moment of the day."""
        before = moment in (Moment.EVENING_BEFORE, Moment.OPENING)
        rule = "second-person-at-opening" if before else "second-person-at-closing"
        return self.election.rules.choice(rule) == "yes"

    def items(self, station: Station) -> list[ExpectedItem]:
        """Everything expected of one station: the lines of its sheets in order, then the rest."""
        station_type = self.election.station_type(station.station_type)
        sheets = {Moment.OPENING: station_type.opening, Moment.CLOSING: station_type.closing}
        found = []
        for moment in moments_of_day(self.day, self.days):
            told: set[tuple[LineKind, str]] = set()
            for line in (*sheets.get(moment, ()), *_unlisted(station_type, moment)):
                key = (line.kind, line.ref)
                if line.kind in (LineKind.ACT, LineKind.MINUTE) or key in told:
                    continue
                told.add(key)
                found += self._line(station, station_type, line, moment)
        return found

    def _line(
        self, station: Station, station_type: StationType, line: SheetLine, moment: Moment
    ) -> list[ExpectedItem]:
        second = line.second_person or self.asks_second_person(moment)
        if line.kind is LineKind.CLOSURE:
            closure = next(c for c in station_type.closures if c.id == line.ref)
            return self._seals(station, station_type, closure, moment, second)
        if moment is not Moment.OPENING:
            return []
        if line.kind is LineKind.SERIAL:
            return self._serials(station, station_type, line.ref, second)
        if line.kind is LineKind.COUNTER:
            counter = station_type.counter(line.ref)
            return [self._counter(station, counter, second)] if counter is not None else []
        if line.kind is LineKind.CLOCK:
            return self._clock(station, station_type, second)
        if line.kind is LineKind.REPORT:
            report = next(r for r in station_type.reports if r.id == line.ref)
            return self._report(station, report, second)
        return self._memory_devices(station, station_type, second)

    def _seals(
        self, station: Station, station_type: StationType, closure: Closure, moment: Moment, second: bool
    ) -> list[ExpectedItem]:
        if moment not in closure.checked or closure.number is NumberPolicy.NO_SEAL:
            return []
        found = []
        state = found_before(closure, moment, self.day, self.days)
        if state is Found.NOTHING:
            return []
        put_on_at_site = state is Found.FROM_SITE
        policy = closure.resealed_number if put_on_at_site and closure.resealed else closure.number
        for owner, _ in owners_of(closure, station_type, station):
            subject = closure_id(owner, closure)
            for seal in station.seals:
                if seal.closure != subject:
                    continue
                if policy is NumberPolicy.TICKED:
                    value = IN_PLACE
                else:
                    value = CARRIED_OVER if put_on_at_site else seal.number
                found.append(
                    ExpectedItem(
                        subject=subject if seal.position == 1 else f"{subject}/{seal.position}",
                        station=station.id,
                        device="" if owner == station.id else owner,
                        what="seal",
                        moment=moment,
                        value=value,
                        words=closure.name,
                        entry=closure.entry if policy is NumberPolicy.RECORDED else EntryPolicy.COMPARED,
                        private=policy is NumberPolicy.RECORDED,
                        second_person=second and policy is NumberPolicy.RECORDED,
                    )
                )
        return found

    def _counter(self, station: Station, counter: Counter, second: bool) -> ExpectedItem:
        held = _machine(station)
        if counter.opening is OpeningValue.ZERO or (
            self.first and counter.opening is OpeningValue.CARRIED_OVER
        ):
            value = "0"
        elif not self.first:
            value = CARRIED_OVER
        else:
            known = held.lifetime_counter if held is not None else None
            value = "" if known is None else str(known)
        return self._item(station, held, "counter", value, counter.name, second, tail=counter.id)

    def _clock(self, station: Station, station_type: StationType, second: bool) -> list[ExpectedItem]:
        clock = station_type.clock
        if clock is None:
            return []
        held = _machine(station)
        lead = self._item(
            station,
            held,
            "clock",
            str(clock.lead_min),
            N_("Minutes ahead of the reference clock"),
            second,
            tail="clock",
            tolerance=clock.tolerance_min,
        )
        if not clock.date_too:
            return [lead]
        return [lead, self._item(station, held, "date", "right", N_("Date"), second, tail="date")]

    def _report(self, station: Station, report: Report, second: bool) -> list[ExpectedItem]:
        if report.when is not Moment.OPENING or not (report.zero and (self.first or self._all_zero(station))):
            return []
        held = _machine(station)
        return [self._item(station, held, "report", "zero", report.name, second, tail=report.id)]

    def _all_zero(self, station: Station) -> bool:
        """Whether no counter is carried over, so that each day begins with a zero report."""
        counters = self.election.station_type(station.station_type).counters
        return all(counter.opening is not OpeningValue.CARRIED_OVER for counter in counters)

    def _memory_devices(
        self, station: Station, station_type: StationType, second: bool
    ) -> list[ExpectedItem]:
        held = _machine(station)
        known = held.memory_devices if held is not None else ()
        return [
            self._item(
                station,
                held,
                "memory device",
                known[index] if index < len(known) else "",
                N_("Memory device"),
                second,
                tail=f"memory-device-{index + 1}",
            )
            for index in range(station_type.memory_devices.count)
        ]

    def _serials(
        self, station: Station, station_type: StationType, part_id: str, second: bool
    ) -> list[ExpectedItem]:
        """The serials of one part; the subject is the station's part, whatever is found there."""
        part = next(p for p in station_type.parts if p.id == part_id)
        found = []
        for index, held in enumerate(h for h in station.parts if h.part == part_id):
            tail = (part_id,) if index == 0 else (part_id, str(index + 1))
            found.append(
                ExpectedItem(
                    subject="/".join((station.id, *tail)),
                    station=station.id,
                    device=held.device,
                    what="serial",
                    moment=Moment.OPENING,
                    value=held.serial,
                    words=held.name,
                    entry=part.entry,
                    second_person=second,
                )
            )
        return found

    def _item(
        self,
        station: Station,
        held: PartOfStation | None,
        what: str,
        value: str,
        words: str,
        second: bool,
        *,
        tail: str,
        tolerance: int = 0,
    ) -> ExpectedItem:
        """An item of a station; its subject is the device, or the station where none is known."""
        device = held.device if held is not None else ""
        owner = device or (make_id(*split_id(station.id), held.part) if held is not None else station.id)
        return ExpectedItem(
            subject=f"{owner}/{tail}",
            station=station.id,
            device=device,
            what=what,
            moment=Moment.OPENING,
            value=value,
            words=words,
            tolerance=tolerance,
            second_person=second,
        )


def _machine(station: Station) -> PartOfStation | None:
    """The station's first machine: the one that has the counters, the clock and the memory devices."""
    return next((part for part in station.parts if part.by_serial), None)


def _unlisted(station_type: StationType, moment: Moment) -> tuple[SheetLine, ...]:
    """What the station type has and expects at `moment` although no line of its sheet may ask for it."""
    lines = [
        SheetLine(kind=LineKind.CLOSURE, ref=closure.id, words=closure.name)
        for closure in station_type.closures
        if moment in closure.checked
    ]
    if moment is not Moment.OPENING:
        return tuple(lines)
    parts = [SheetLine(kind=LineKind.SERIAL, ref=p.id, words=p.name) for p in station_type.serial_parts()]
    rest = [SheetLine(kind=LineKind.COUNTER, ref=c.id, words=c.name) for c in station_type.counters]
    if station_type.clock is not None:
        rest.append(SheetLine(kind=LineKind.CLOCK, words=""))
    rest += [SheetLine(kind=LineKind.REPORT, ref=r.id, words=r.name) for r in station_type.reports]
    if station_type.memory_devices.count:
        rest.append(SheetLine(kind=LineKind.MEMORY_DEVICE, words=""))
    return (*parts, *lines, *rest)
