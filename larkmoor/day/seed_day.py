"""Play the invented election of Larkmoor County, early days and election day, with planted troubles.

The play itself is that of `small/day/seed_day.py`; here stand the troubles of the forty sites. Keys, salts,
numbers and minutes are fixed. THE KEYS ARE DEMO KEYS, known to everyone; they sign nothing but this invented
county. `README.md` lists every planted trouble, `troubles.toml` what reconcile must say about each.
"""

from __future__ import annotations

import datetime as dt
import importlib.util
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import msgspec

from pollstead.election.county import Election
from pollstead.election.station_type import Moment as When
from pollstead.plan.calendar.days import working_days_of
from pollstead.plan.calendar.due import due_dates
from pollstead.plan.terms.part import NoWatch
from pollstead.plan.terms.version import ExpectedItem, PlanVersion
from pollstead.reconcile.changed.terms import Act
from pollstead.reconcile.counts.terms import hour_term
from pollstead.reconcile.issued import issued_lists
from pollstead.reconcile.opening.matching import owner_of
from pollstead.reconcile.site_balance import counting_devices, site_balance
from pollstead.record.event import Person
from pollstead.record.keys import OFFICE_SCOPE, certify, public_hex
from pollstead.record.kinds import days
from pollstead.record.kinds.body import Body, Private
from pollstead.record.write import MemoryJournal, Recorder
from pollstead.show.packet.changed_printer import PacketPrinter
from pollstead.store.desk import Desk
from pollstead.work.changing import propose
from pollstead.work.changing_steps import begin, carry_on
from pollstead.work.changing_terms import Asked
from pollstead.work.county_folder import version_of


def _beside(name: str, path: Path) -> ModuleType:
    """A script that stands beside this one, as a module of our own."""
    spec = importlib.util.spec_from_file_location(name, path)
    if spec is None or spec.loader is None:
        raise ImportError(f"expected a script at {path}, found nothing to load")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


shared = _beside("larkmoor_play", Path(__file__).resolve().parents[2] / "small" / "day" / "seed_day.py")
office = _beside("larkmoor_office", Path(__file__).with_name("office_events.py"))
canvass = _beside("larkmoor_canvass", Path(__file__).with_name("canvass_events.py"))
line_events = _beside("larkmoor_lines", Path(__file__).with_name("line_events.py"))
shared.COORDINATOR, shared.WAREHOUSE = "P001", "P002"
WAREHOUSE_DESK = "desk/warehouse"
TELEPHONE_DESK = "desk/telephone"


class QuarryLineSchool(shared.AnselCivicHall):  # type: ignore[misc,name-defined]
    """S35: a digit mistyped and corrected, a spoiled ballot not written, a memory device not back."""

    AT = ((11 * 60, 31, 9), (15 * 60, 58, 6), (19 * 60, 93, 11))
    """When check-ins are compared with the counters, percent of the ballots by then, voters inside."""

    def during(self) -> None:
        """At the county's three hours the lead writes down check-ins, every counter and who is inside."""
        super().during()
        for minute, percent, inside in self.AT:
            self.clock.set(self.date, minute)
            auxiliary = self.counts["ballots_auxiliary"] * percent // 100
            moved = 0
            for device in self.scanners:
                opened = self._opening_counter(device, "public")
                sheets = self.balance.sheets_per_ballot
                ballots = (self.counts[f"public_counter_close@{device}"] - opened) // sheets * percent // 100
                moved += ballots
                body = days.CountRead(
                    term=hour_term("public_counter", minute), value=opened + ballots * sheets, source="screen"
                )
                self.write(body, device, self.author(0))
            for term, value, source in (
                ("ballots_auxiliary", auxiliary, "hand"),
                ("voters_inside", inside, "hand"),
                ("check_ins", moved + auxiliary + inside, "screen"),
            ):
                body = days.CountRead(term=hour_term(term, minute), value=value, source=source)
                self.write(body, f"site/{self.plan.site}", self.author(0))


class SpindleHillSchool(shared.SiteDayPlay):  # type: ignore[misc,name-defined]
    """S20: a wrong cart was brought, so the last scanner is another site's."""

    def read_item(self, item: ExpectedItem, place: int) -> str:
        """The plate of the last scanner carries the serial of a scanner of S37."""
        true = str(super().read_item(item, place))
        if item.what == "serial" and owner_of(item) == self.scanners[-1]:
            other = next(d for d in self.election.devices if d.kind == "scanner" and d.home == "S37")
            return other.serial
        return true

    def before_doors(self) -> None:
        """By the county's rule that scanner stays out of service, the other goes on, the office is called."""
        body = days.DeviceOutOfService(state="out", why="serial_differs")
        self.write(body, self.scanners[-1], self.both())


class CedrowFlatsSchool(shared.SiteDayPlay):  # type: ignore[misc,name-defined]
    """S24: the doors open late, because the bus loop held the crew up."""

    def __init__(self, *given: object) -> None:
        super().__init__(*given)
        self.opened_at = self.opens + 25


class LimestoneFellowship(shared.SiteDayPlay):  # type: ignore[misc,name-defined]
    """S38: one provisional envelope is not in the bag."""

    def live(self) -> None:
        """An envelope stayed in the printer tray."""
        super().live()
        self.counts["provisional_envelopes"] -= 1


class CustomsQuayHall(shared.SiteDayPlay):  # type: ignore[misc,name-defined]
    """S07: a scanner's clock still shows summer time."""

    def device_minute(self, owner: str, lead: int, reference: int) -> int:
        """One hour ahead on the first device that has a clock."""
        right = int(super().device_minute(owner, lead, reference))
        first = next(
            owner_of(i) for i in self.expected.items if i.what == "clock" and i.moment is When.OPENING
        )
        return right + 60 if owner == first else right

    def before_doors(self) -> None:
        """That device stays out of service."""
        first = next(
            owner_of(i) for i in self.expected.items if i.what == "clock" and i.moment is When.OPENING
        )
        self.write(days.DeviceOutOfService(state="out", why="clock_differs"), first, self.both())


class BarkMillSchool(shared.SiteDayPlay):  # type: ignore[misc,name-defined]
    """S11: the last scanner stops at noon and a spare takes its place; both stand on the closing statement."""

    desk: Desk
    folder: Path
    NOON = 12 * 60 + 10

    def __init__(self, *given: Any) -> None:
        super().__init__(*given)
        self.old = self.scanners[-1]
        self.new = ""

    def during(self) -> None:
        """The jam will not clear: the office swaps the device by one act, the site opens the new one."""
        self.clock.set(self.date, self.NOON - 14)
        self.write(days.DeviceOutOfService(state="out", why="paper_jam"), self.old, self.both())
        at_noon = self._share_at_noon()
        self._send()
        self.clock.set(self.date, self.NOON)
        self._swap(at_noon)
        self._take_the_new_list()
        clocks: set[str] = set()
        for item in self.expected.items:
            if item.moment is When.OPENING and owner_of(item) == self.new:
                for place in self.readers(item):
                    self._read(item, place, clocks)
        for closure, subject in self._closures():
            if closure.applied is When.OPENING and self.new.removeprefix("device/") in subject:
                self._put_on(closure, subject, "applied", closure.number)
        self._split(at_noon)

    def _share_at_noon(self) -> int:
        opened = self._opening_counter(self.old, "public")
        return int(opened + (self.counts[f"public_counter_close@{self.old}"] - opened) * 2 // 5)

    def _send(self) -> None:
        """The tablet sends what it has, so that the office knows that the doors are open."""
        journal = self.tablet.journal
        self.desk.store.events.add(journal.events, journal.sides.values())

    def _swap(self, at_noon: int) -> None:
        spare = self._spare()
        asked = Asked(
            act=Act.SWAP_DEVICE,
            old=self.old,
            new=spare,
            said=(("at", "12:10"), ("counter", str(at_noon)), ("ballots", "none")),
        )
        moment = self.clock.tick()
        printer, watch = PacketPrinter(), NoWatch()
        found = propose(self.folder, self.desk.store, asked, printer, now_ms=moment.utc_ms, watch=watch)
        begin(self.desk, found, by="P001", reason="Paper jams again and again", moment=moment)
        carry_on(self.folder, self.desk, printer, watch=watch)
        self.new = spare

    def _spare(self) -> str:
        version = version_of(self.desk.store, self.expected.plan)
        return min(spare.device for spare in version.spares if spare.kind == "scanner")

    def _take_the_new_list(self) -> None:
        found = issued_lists(self.desk.fold(private=True)).of(self.plan.site, self.date)
        if found is None:
            raise ValueError(f"no expected list of {self.plan.site} stands after the swap")
        version = version_of(self.desk.store, found.plan)
        kept = self.desk.store.snapshots.load(version.snapshot)
        self.expected, self.plan = found, version.site(self.plan.site)
        self.election = msgspec.json.decode(kept, type=Election)
        devices = counting_devices(self.plan, found, self.election)
        balance = site_balance(self.plan, devices, self.election)
        if balance is None:
            raise ValueError(f"{self.plan.site} has no balance after the swap")
        self.balance = balance

    def _split(self, at_noon: int) -> None:
        """What the old device would have counted after noon is counted by the new one, from zero."""
        rest = self.counts[f"public_counter_close@{self.old}"] - at_noon
        for counted in ("report_count_close", "memory_count_close", "public_counter_close"):
            self.counts[f"{counted}@{self.old}"] = at_noon
            self.counts[f"{counted}@{self.new}"] = rest
        lifetime = self.counts[f"lifetime_counter_close@{self.old}"]
        self.counts[f"lifetime_counter_close@{self.old}"] = lifetime - rest
        opened = self._opening_counter(self.new, "lifetime")
        self.counts[f"lifetime_counter_close@{self.new}"] = opened + rest

    def _memory(self) -> Iterator[tuple[str, int, tuple[str, ...]]]:
        ids: dict[str, list[str]] = {}
        travels: dict[str, int] = {}
        for station in self.plan.stations:
            kind = self.election.station_type(station.station_type)
            for item in self.expected.items:
                if item.what == "memory device" and item.station == station.id and item.value:
                    ids.setdefault(item.device, []).append(item.value)
                    travels[item.device] = kind.memory_devices.travels
        for device, found in ids.items():
            yield device, travels[device], tuple(dict.fromkeys(found))


shared.PLAYS.clear()
shared.PLAYS.update(
    {
        "S02": shared.HarborLaneLibrary,
        "S07": CustomsQuayHall,
        "S11": BarkMillSchool,
        "S20": SpindleHillSchool,
        "S24": CedrowFlatsSchool,
        "S35": QuarryLineSchool,
        "S36": shared.SouthgateLibrary,
        "S38": LimestoneFellowship,
    }
)

packets_printed = shared.packets_printed


def office_part(
    folder: Path, election: Election, plan: PlanVersion, digest: str
) -> tuple[Desk, dict[str, Any]]:
    """The shared beginning, then tests, seals, calls and tasks; the folder is kept for the swap at noon."""
    desk, tablets = shared.office_part(folder, election, plan, digest)
    BarkMillSchool.desk, BarkMillSchool.folder = desk, folder
    clock = shared.Clock(election)
    clock.set(election.election_day - dt.timedelta(days=office.TESTED_DAYS_BEFORE), 8 * 60)
    for device in (WAREHOUSE_DESK, TELEPHONE_DESK):
        certificate = certify(
            desk.header,
            shared.demo_key("office"),
            device=device,
            public_key=public_hex(shared.demo_key(device)),
            scope=OFFICE_SCOPE,
            valid_from_utc_ms=shared.DEMO_FROM_UTC_MS,
            valid_to_utc_ms=shared.DEMO_TO_UTC_MS,
        )
        who = (shared.person("P001"),)
        desk.recorder.record(certificate, subject=device, people=who, moment=clock.tick())
    journal = MemoryJournal()
    recorder = Recorder(desk.header, WAREHOUSE_DESK, shared.demo_key(WAREHOUSE_DESK), journal)

    def write(body: Body, subject: str, people: tuple[Person, ...], private: Private | None) -> str:
        moment = clock.tick()
        salt = shared.fixed_salt("office", subject, str(moment.utc_ms))
        signed = recorder.record(
            body, subject=subject, people=people, moment=moment, private=private, salt=salt
        )
        return str(signed.id)

    office.decks_read(election, plan, write, shared.person, desk.fold())
    office.devices_tested(election, plan, write, shared.person)
    office.closures_sealed(plan, write, shared.person)
    clock.set(election.election_day - dt.timedelta(days=shared.ISSUED_DAYS_BEFORE), 8 * 60)
    office.tasks_done(election, _ended(election), write, shared.person)
    clock.set(election.election_day - dt.timedelta(days=1), 18 * 60 + 30)
    office.evening_calls(election, write, shared.person)
    desk.store.events.add(journal.events, journal.sides.values())
    return desk, tablets


def _ended(election: Election) -> tuple[tuple[str, dt.date], ...]:
    """The tasks whose date came before the lists were issued."""
    before = election.election_day - dt.timedelta(days=shared.ISSUED_DAYS_BEFORE)
    dates, _ = due_dates(election.tasks, election.election_day, working_days_of(election))
    return tuple(
        (task, due.date) for task, due in dates.items() if due.date is not None and due.date < before
    )


def play(
    desk: Desk,
    tablets: dict[str, Any],
    election: Election,
    plan: PlanVersion,
    say: Callable[[str], None] = lambda line: None,
) -> int:
    """Play every site and day as the shared play does, then the central place and the canvass."""
    played: list[Any] = []
    total = int(shared.play(desk, tablets, election, plan, say, played.append))
    clock = shared.Clock(election)

    def write(body: Body, subject: str, site: str, people: tuple[Person, ...]) -> None:
        desk.recorder.record(body, subject=subject, site=site, people=people, moment=clock.tick(70))

    total += _lines_by_telephone(desk, played, election)
    clock.set(*canvass.election_night(election.election_day))
    uploaded = canvass.memory_devices_read(played, write, shared.person)
    clock.set(*canvass.canvass_day(election.election_day))
    canvass.canvass_typed(played, uploaded, canvass.lacking_one(played), write, shared.person)
    return total


def _lines_by_telephone(desk: Desk, played: list[Any], election: Election) -> int:
    """What the office's telephone desk wrote down on election day, hour by hour; gives how many events."""
    journal, clock = MemoryJournal(), shared.Clock(election)
    recorder = Recorder(desk.header, TELEPHONE_DESK, shared.demo_key(TELEPHONE_DESK), journal)
    today = election.election_day
    hour = 0

    def write(minute: int, body: Body, site: str, people: tuple[Person, ...]) -> None:
        nonlocal hour
        if minute != hour:
            clock.set(today, minute + 1)
            hour = minute
        recorder.record(
            body,
            subject=site,
            site=site,
            day=today.isoformat(),
            people=people,
            moment=clock.tick(15),
        )

    line_events.lines_told((day for day in played if day.date == today), write, shared.person)
    return int(desk.store.events.add(journal.events, journal.sides.values()))
