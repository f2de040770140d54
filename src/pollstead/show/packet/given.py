"""What a packet is made from, and the few facts that several of its sheets ask for."""

from __future__ import annotations

import copy
import datetime as dt
import re

import msgspec

from pollstead.election.county import Election
from pollstead.election.instants import Instant, format_clock
from pollstead.election.station_type import StationType
from pollstead.election.words import N_
from pollstead.plan.terms.version import ExpectedList, PartOfStation, PlanVersion, SitePlan, Station
from pollstead.reconcile.changed.on_the_day import Swap
from pollstead.show.packet.wording import Say

_FEWEST_DIGITS = 6
"""Shorter numbers of digits alone are also counts, years and ZIP codes, which a sheet may well show."""
_FEWEST_WITH_LETTERS = 4


class SiteGiven:
    """One site of one plan version, with the county, the language and what stands on every page.

    `printed_at` is the moment of printing, given from outside; `digest` is the plan version's. `swaps` are
    those of the record; `swapped_on` is the day (ISO 8601) whose devices taken out stand here, too, or "".
    """

    def __init__(
        self,
        *,
        election: Election,
        plan: PlanVersion,
        digest: str,
        site: str,
        printed_at: Instant,
        language: str,
        expected: tuple[ExpectedList, ...] = (),
        boxes: BoxCounts | None = None,
        swaps: tuple[Swap, ...] = (),
    ) -> None:
        self.election = election
        self.plan = plan
        self.digest = digest
        self.site = election.site(site)
        self.site_plan: SitePlan = plan.site(site)
        self.kind = election.site_kind(self.site_plan.kind)
        self.printed_at = printed_at
        self.say = Say(language)
        self.swapped_on = ""
        self.expected = tuple(e for e in expected if e.site == site)
        self._types = {t.id: t for t in election.station_types}
        self._serials = {part.serial for station in self.site_plan.stations for part in station.parts}
        self.swaps = tuple(s for s in swaps if s.station in {one.id for one in self.site_plan.stations})
        self._devices = {
            d.id if d.id.startswith("device/") else f"device/{d.id}": d for d in election.devices
        }
        swapped = (device for swap in self.swaps for device in (swap.old, swap.new))
        self._swapped_devices = tuple(self._devices[d] for d in swapped if d in self._devices)
        self._serials |= {device.serial for device in self._swapped_devices}
        self._secret = self._pattern()
        self.boxes = boxes or box_counts(election, plan)

    def on(self, date: dt.date) -> SiteGiven:
        """The same site with the stations that stand there on one day."""
        made = copy.copy(self)
        made.site_plan = msgspec.structs.replace(self.site_plan, stations=self.site_plan.stations_on(date))
        return made

    def with_swapped(self, date: dt.date) -> SiteGiven:
        """The same site with each device that was taken out on a day before the one that stands there now.

        Both were used that day: both are closed and both enter the balance. Where a swap was taken back, the
        device that stood there meanwhile is the other one.
        """
        today = [swap for swap in self.swaps if swap.day == date.isoformat()]
        if not today:
            return self
        stations: list[Station] = []
        for station in self.site_plan.stations:
            held = {part.device for part in station.parts}
            used = (d for swap in today if swap.station == station.id for d in (swap.old, swap.new))
            stations += [self._with_device(station, d) for d in dict.fromkeys(used) if d not in held]
            stations.append(station)
        made = copy.copy(self)
        made.site_plan = msgspec.structs.replace(self.site_plan, stations=tuple(stations))
        made.swapped_on = date.isoformat()
        return made

    def _with_device(self, station: Station, device: str) -> Station:
        """A station with a device that was taken out in its place; its seals are on that device."""
        known = self._devices.get(device)
        machine = next((part for part in station.parts if part.by_serial), None)

        def part_before(part: PartOfStation) -> PartOfStation:
            if part is not machine:
                return part
            return msgspec.structs.replace(
                part,
                device=device,
                serial="" if known is None else known.serial,
                tag="" if known is None else known.tag,
                lifetime_counter=None,
                memory_devices=() if known is None else known.memory_devices,
            )

        return msgspec.structs.replace(station, parts=tuple(map(part_before, station.parts)), seals=())

    def days_of(self, type_id: str) -> tuple[dt.date, ...]:
        """The operating days on which the stations of one type stand here, as far as `on` left them."""
        dates = [day.date for day in self.site_plan.demand]
        standing = self.stations(type_id)
        return tuple(date for date in dates if any(station.stands_on(date) for station in standing))

    def type_of(self, station: Station) -> StationType:
        """The station type of a station."""
        return self._types[station.station_type]

    def stations(self, type_id: str) -> tuple[Station, ...]:
        """The stations of one type at this site, in the order of their numbers."""
        found = (s for s in self.site_plan.stations if s.station_type == type_id)
        return tuple(sorted(found, key=lambda station: station.number))

    def types(self) -> tuple[StationType, ...]:
        """The station types that stand here, in the order in which a voter meets them."""
        return tuple(
            self._types[use.station_type] for use in self.kind.uses if self.stations(use.station_type)
        )

    def name(self, station: Station) -> str:
        """A station as people call it: its type's name and its number."""
        name = f"{self.type_of(station).name} {station.number}"
        name = self.say(N_("{station} (early voting)"), station=name) if station.last_day else name
        return self._swapped(station, name)

    def number(self, station: Station) -> str:
        """A station's number, where its type stands beside it."""
        return self._swapped(station, str(station.number))

    def _swapped(self, station: Station, name: str) -> str:
        held = {part.device for part in station.parts if part.device}
        for swap in self.swaps if self.swapped_on else ():
            if swap.station == station.id and swap.day == self.swapped_on:
                at = format_clock(swap.at_min)
                if swap.old in held:
                    return self.say(N_("{station}, taken out at {time}"), station=name, time=at)
                if swap.new in held:
                    return self.say(N_("{station}, put in at {time}"), station=name, time=at)
        return name

    def put_in_today(self, station: Station) -> bool:
        """Whether the station's device took another's place on the day that this is about."""
        held = {part.device for part in station.parts if part.device}
        return any(s.day == self.swapped_on and s.station == station.id and s.new in held for s in self.swaps)

    def tags(self, station: Station) -> str:
        """The tags to look for on a station's parts, without any that would tell a serial."""
        return ", ".join(self.safe_tags(tuple(part.tag for part in station.parts if part.tag)))

    def safe_tags(self, tags: tuple[str, ...]) -> tuple[str, ...]:
        """The tags, each once, without those that are a serial of this site or hold one."""
        return tuple(t for t in dict.fromkeys(tags) if t not in self._serials and not self.tells(t))

    def tells(self, words: str) -> bool:
        """Whether `words` hold a serial, seal number or memory device of this site."""
        return bool(self._secret and self._secret.search(words))

    def day_words(self, date: dt.date) -> str:
        """The operating day as it stands on a sheet."""
        return self.say.date(date)

    def _pattern(self) -> re.Pattern[str] | None:
        secrets: set[str] = set()
        for station in self.site_plan.stations:
            secrets.update(part.serial for part in station.parts)
            secrets.update(m for part in station.parts for m in part.memory_devices)
            secrets.update(seal.number for seal in station.seals)
        for known in self._swapped_devices:
            secrets.update((known.serial, *known.memory_devices))
        for expected in self.expected:
            secrets.update(item.value for item in expected.items if item.private)
        long = sorted(filter(_is_telling, secrets), key=lambda s: (-len(s), s))
        if not long:
            return None
        return re.compile(rf"(?<![A-Za-z0-9])(?:{'|'.join(map(re.escape, long))})(?![A-Za-z0-9])")


def _is_telling(number: str) -> bool:
    """Whether finding `number` in a text means that the text tells it, and not a count or a ZIP code."""
    return len(number) >= (_FEWEST_DIGITS if number.isdecimal() else _FEWEST_WITH_LETTERS)


class BoxCounts:
    """How many digit boxes a number needs: the longest of its kind in the whole county.

    Taken from the county and never from the one number, so that the boxes tell nothing.
    """

    def __init__(self, serial: int, memory: int, seals: dict[str, int], counter: int) -> None:
        self.serial = serial
        self.memory = memory
        self.counter = counter
        self._seals = seals

    def seal(self, seal_kind: str) -> int:
        """Boxes for a seal number of this kind; 8 while the county has told none."""
        return self._seals.get(seal_kind, 8)


def box_counts(election: Election, plan: PlanVersion) -> BoxCounts:
    """The boxes for each kind of number, over the whole county: worked out once for all its sites."""
    serial, memory, counter, seals = 0, 0, 6, dict[str, int]()
    for device in election.devices:
        serial = max(serial, len(device.serial))
        memory = max(memory, *(len(m) for m in device.memory_devices), 0)
        counter = max(counter, len(str(device.lifetime_counter or 0)) + 1)
    for block in election.seal_ranges:
        seals[block.seal_kind] = max(seals.get(block.seal_kind, 0), len(block.first), len(block.last))
    kinds = {(t.id, c.id): c.seal_kind for t in election.station_types for c in t.closures}
    numbers: dict[str, int] = {}
    for site in plan.sites:
        for station in site.stations:
            for seal in station.seals:
                if seal.number:
                    numbers[seal.seal_kind] = max(numbers.get(seal.seal_kind, 0), len(seal.number))
    for kind in {*kinds.values(), *numbers} - {""}:
        known = max(seals.get(kind, 0), numbers.get(kind, 0))
        if known:
            seals[kind] = known
    return BoxCounts(serial=serial or 10, memory=memory or 8, seals=seals, counter=counter)
