"""Play the invented election of `small/`: openings, a day, closings and receiving, with planted troubles.

Run by ``pollstead demo`` after the folder has a plan version. Everything goes through the public API:
expected lists, the recorder, the store. Keys, salts, numbers and minutes are fixed, so the same plan
version gives the same record each time. THE KEYS ARE DEMO KEYS, known to everyone who has this file; they
sign nothing but this invented county. `README.md` lists every planted trouble, `troubles.toml` what
reconcile must say about each.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import random
from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import chain
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from pollstead.election.canonical import digest_of
from pollstead.election.county import Election, SealRange, Site
from pollstead.election.station_type import Closure, NumberPolicy
from pollstead.election.station_type import Moment as When
from pollstead.plan.seals.blocks import Bag, BagBlock
from pollstead.plan.seals.expected import IN_PLACE, expected_list
from pollstead.plan.seals.policy import closure_id, owners_of
from pollstead.plan.terms.version import CARRIED_OVER, ExpectedItem, ExpectedList, PlanVersion, SitePlan
from pollstead.reconcile.counts.equations import Balance
from pollstead.reconcile.counts.terms import counter_term
from pollstead.reconcile.issued import lines_of
from pollstead.reconcile.opening.matching import owner_of, tail_of
from pollstead.reconcile.site_balance import counting_devices, site_balance
from pollstead.record.event import Means, Part, Person, Signed
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.keys import OFFICE_SCOPE, certify, public_hex
from pollstead.record.kinds import days, offices
from pollstead.record.kinds.body import Body, Private
from pollstead.record.kinds.registry import body_object
from pollstead.record.write import MemoryJournal, Moment, Recorder, list_side
from pollstead.store.desk import Desk, begin_desk
from pollstead.work.stock import stock_report

DEMO_WORDS = "Larkmoor demo key, known to everyone: "
COORDINATOR, WAREHOUSE = "P010", "P011"
MS_PER_MIN = 60_000
DEMO_FROM_UTC_MS, DEMO_TO_UTC_MS = 1_704_067_200_000, 2_208_988_800_000  # 2024-01-01 and 2040-01-01
PRINTED_DAYS_BEFORE = 8
ISSUED_DAYS_BEFORE = 12
WRONG_DIGITS = {
    "0": "7",
    "1": "4",
    "2": "5",
    "3": "8",
    "4": "9",
    "5": "2",
    "6": "0",
    "7": "1",
    "8": "3",
    "9": "4",
}


def demo_key(name: str) -> Ed25519PrivateKey:
    """A fixed key; its seed is the digest of public words."""
    return Ed25519PrivateKey.from_private_bytes(hashlib.sha256((DEMO_WORDS + name).encode()).digest())


def fixed_salt(*words: str) -> bytes:
    """A fixed salt; a real record draws 32 random bytes."""
    return hashlib.sha256("\x1f".join((DEMO_WORDS, "salt", *words)).encode()).digest()


def person(short: str, part: Part = Part.AUTHOR, means: Means = Means.CODE) -> Person:
    """A person's part in an event."""
    return Person(person=f"person/{short}", means=means, part=part)


class Clock:
    """The time of the play, moved on by hand."""

    def __init__(self, election: Election) -> None:
        self._election = election
        self.utc_ms = 0

    def set(self, date: dt.date, minute: int) -> None:
        """Set it to a minute of an operating day's wall clock."""
        self.utc_ms = self._election.operating_day(date).at_wall_clock(minute).utc_ms

    def tick(self, seconds: int = 7) -> Moment:
        """Move on and give the moment as an event says it."""
        from pollstead.election.instants import Instant

        self.utc_ms += seconds * 1000
        offset = Instant(utc_ms=self.utc_ms).offset_min(self._election.zone_name)
        return Moment(utc_ms=self.utc_ms, offset_min=offset, uncertainty_ms=2_000)


def office_part(
    folder: Path, election: Election, plan: PlanVersion, digest: str
) -> tuple[Desk, dict[str, Tablet]]:
    """Begin the record with the demo keys, approve the plan by name, issue all lists, certify the tablets.

    Gives the desk and each site's tablet.
    """
    clock = Clock(election)
    clock.set(election.election_day - dt.timedelta(days=ISSUED_DAYS_BEFORE), 9 * 60)
    office = (person(COORDINATOR, means=Means.OWN_DEVICE),)
    desk = begin_desk(
        folder,
        county=election.county,
        election=election.name,
        practice=election.practice,
        people=office,
        moment=clock.tick(),
        office_key=demo_key("office"),
        desk_key=demo_key("desk"),
    )
    write = desk.recorder.record
    # The demo is used today, its election is years away: the desk's key is good for both.
    certificate = certify(
        desk.header,
        demo_key("office"),
        device=desk.recorder.device,
        public_key=public_hex(demo_key("desk")),
        scope=OFFICE_SCOPE,
        valid_from_utc_ms=DEMO_FROM_UTC_MS,
        valid_to_utc_ms=DEMO_TO_UTC_MS,
    )
    write(certificate, subject=desk.recorder.device, people=office, moment=clock.tick())
    write(offices.SnapshotTaken(digest=plan.snapshot), subject="facts", people=office, moment=clock.tick())
    write(
        offices.PlanComputed(digest=digest, parent=plan.parent),
        subject="plan",
        people=office,
        moment=clock.tick(),
    )
    write(offices.PlanApproved(digest=digest), subject="plan", people=office, moment=clock.tick(120))
    for site in plan.sites:
        for day in site.demand:
            expected = expected_list(election, plan, site.site, day.date, plan_digest=digest)
            _issue(desk, expected, digest, office, clock)
    tablets = {}
    for site in plan.sites:
        device = f"tablet/{site.site}"
        certificate = certify(
            desk.header,
            demo_key("office"),
            device=device,
            public_key=public_hex(demo_key(device)),
            scope=f"site/{site.site}",
            valid_from_utc_ms=clock.utc_ms,
            valid_to_utc_ms=clock.utc_ms + 40 * 1440 * MS_PER_MIN,
        )
        write(certificate, subject=device, people=office, moment=clock.tick())
        journal = MemoryJournal()
        recorder = Recorder(desk.header, device, demo_key(device), journal)
        tablets[site.site] = Tablet(recorder, journal)
    return desk, tablets


def _issue(desk: Desk, expected: ExpectedList, digest: str, office: tuple[Person, ...], clock: Clock) -> None:
    salt = fixed_salt("list", expected.site, expected.date.isoformat())
    lines = lines_of(expected)
    desk.recorder.record(
        offices.ExpectedIssued(list_digest=list_side(lines, salt).digest, plan=digest),
        subject=f"site/{expected.site}",
        site=f"site/{expected.site}",
        day=expected.date.isoformat(),
        people=office,
        moment=clock.tick(),
        private=offices.ExpectedList(lines=lines),
        salt=salt,
    )


def packets_printed(desk: Desk, election: Election, plan: PlanVersion, digest: str) -> None:
    """Record that the packets of every site were printed, with the serials of the sheets in the store."""
    clock = Clock(election)
    clock.set(election.election_day - dt.timedelta(days=PRINTED_DAYS_BEFORE), 10 * 60)
    for site in plan.sites:
        sheets = sorted(sheet.serial for sheet in desk.store.sheets.of(site=site.site))
        if sheets:
            desk.recorder.record(
                offices.PacketPrinted(sheets=tuple(f"sheet/{serial}" for serial in sheets), plan=digest),
                subject=f"site/{site.site}",
                site=f"site/{site.site}",
                people=(person(WAREHOUSE, means=Means.OWN_DEVICE),),
                moment=clock.tick(60),
            )


class Tablet:
    """A site's tablet: its recorder, and the events that it has not sent yet."""

    def __init__(self, recorder: Recorder, journal: MemoryJournal) -> None:
        self.recorder, self.journal = recorder, journal


class Kept:
    """What a site carries from day to day: seals put on, counters, unused ballots; and the seals of its bag."""

    def __init__(self, bags: Iterable[Bag], sent_after: Mapping[str, Iterator[str]]) -> None:
        self.seals: dict[str, str] = {}
        self.counters: dict[str, int] = {}
        self.unused: int | None = None
        self.bag = {
            bag.seal_kind: chain(*map(numbers_of, bag.blocks), sent_after.get(bag.seal_kind, ()))
            for bag in bags
        }


def numbers_of(block: BagBlock | SealRange) -> tuple[str, ...]:
    """The numbers of a block or range, from first to last."""
    wide = len(block.first)
    return tuple(f"{number:0{wide}d}" for number in range(int(block.first), int(block.last) + 1))


def sent_after(election: Election) -> dict[str, Iterator[str]]:
    """Seals of each kind that the office sends to a site whose bag is used up: from the far end of the stock."""
    return {kind.seal_kind: iter(reversed(numbers_of(kind))) for kind in election.seal_ranges}


class SiteDayPlay:
    """One site on one day: two people with one tablet, from the first reading to the last."""

    def __init__(
        self, election: Election, plan: SitePlan, expected: ExpectedList, tablet: Tablet, kept: Kept
    ) -> None:
        self.election, self.plan, self.expected = election, plan, expected
        self.tablet, self.kept = tablet, kept
        self.site: Site = election.site(plan.site)
        self.date = expected.date
        self.clock = Clock(election)
        crew = tuple(p.id for p in election.people if p.site == plan.site)
        self.crew = crew[:2] if len(crew) >= 2 else (COORDINATOR, WAREHOUSE)
        self.draw = random.Random(f"{plan.site} {self.date}")
        self.pace = random.Random(f"pace {plan.site} {self.date}")
        hours = next(h for h in self.site.hours if h.date == self.date)
        self.opens, self.closes = hours.opens_min, hours.closes_min
        found = site_balance(plan, counting_devices(plan, expected, election), election)
        assert found is not None  # noqa: S101 - every kind of site of this county has a balance
        self.balance: Balance = found
        self.scanners = tuple(
            line.device for line in self.balance.lines if line.term.id == "public_counter_close"
        )
        self.opened_at = self.opens
        self.counts: dict[str, int] = {}

    # Writing ---------------------------------------------------------------------------------------

    def write(
        self, body: Body, subject: str, who: tuple[Person, ...], private: Private | None = None
    ) -> Signed:
        """One event of this site's tablet."""
        # People do not read like clockwork.
        moment = self.clock.tick(self.pace.randint(3, 11))
        return self.tablet.recorder.record(
            body,
            subject=subject,
            site=f"site/{self.plan.site}",
            day=self.date.isoformat(),
            people=who,
            moment=moment,
            private=private,
            salt=fixed_salt(self.plan.site, str(moment.utc_ms)),
        )

    def author(self, place: int) -> tuple[Person, ...]:
        """The first or second of the crew, alone."""
        return (person(self.crew[place]),)

    def both(self) -> tuple[Person, ...]:
        """The first of the crew with the second beside."""
        return (person(self.crew[0]), person(self.crew[1], Part.SECOND))

    def readers(self, item: ExpectedItem) -> tuple[int, ...]:
        """Who reads an item: both, each for themselves, where a second person is asked."""
        return (0, 1) if item.second_person else (0,)

    # Opening ---------------------------------------------------------------------------------------

    def true_value(self, item: ExpectedItem) -> str:
        """What really stands there: the expected value, or what was carried over."""
        if item.value != CARRIED_OVER:
            return item.value
        if item.what == "counter":
            return str(self.kept.counters[f"{owner_of(item)}/{tail_of(item)}"])
        return self.kept.seals[item.subject]

    def read_item(self, item: ExpectedItem, place: int) -> str:
        """What a person types; planted troubles change it."""
        return self.true_value(item)

    def device_minute(self, owner: str, lead: int, reference: int) -> int:
        """What a device's clock shows beside the reference clock."""
        return reference + lead

    def open(self) -> None:
        """Read everything on the list, seal the boxes, open the doors."""
        self.clock.set(self.date, self.opens - 95)
        clocks: set[str] = set()
        for item in self.expected.items:
            if item.moment is When.OPENING:
                for place in self.readers(item):
                    self._read(item, place, clocks)
        self._put_on_at_opening()
        self._count_opening_stock()
        self.before_doors()
        self.clock.set(self.date, self.opened_at)
        self.write(days.SiteOpened(at_min=self.opened_at), f"site/{self.plan.site}", self.both())

    def before_doors(self) -> None:
        """Planted troubles say here what the crew does about them before the doors open."""

    def _read(self, item: ExpectedItem, place: int, clocks: set[str]) -> None:
        who, owner = self.author(place), owner_of(item)
        if item.what in ("clock", "date"):
            if f"{owner} {place}" in clocks:
                return
            clocks.add(f"{owner} {place}")
            leads = {owner_of(i): int(i.value) for i in self.expected.items if i.what == "clock"}
            # A few devices a minute, each person on their own way through them.
            reference = self.opens - 60 + sum(one.endswith(f" {place}") for one in clocks) // 4
            self.write(
                days.ClockSeen(
                    date_shown=self.date.isoformat(),
                    device_min=self.device_minute(owner, leads.get(owner, 0), reference),
                    reference_min=reference,
                ),
                owner,
                who,
            )
        elif item.what == "seal":
            self._read_seal(item, place)
        elif item.what == "counter":
            value = self.read_item(item, place)
            if value:
                self.write(
                    days.CountRead(
                        term=counter_term(tail_of(item), item.moment), value=int(value), source="screen"
                    ),
                    owner,
                    who,
                )
        elif item.what == "report":
            word = tail_of(item).replace("-", "_")
            self.write(days.ReportSeen(report=word, state="signed"), owner, who)
        elif item.value:
            self.write(days.SerialSeen(serial=self.read_item(item, place)), item.subject, who)

    def _read_seal(self, item: ExpectedItem, place: int) -> None:
        ticked = item.value == IN_PLACE
        number = "" if ticked else self.read_item(item, place)
        private = days.SealNumber(number=number) if number else None
        step = item.moment.value.replace(" ", "_")
        self.write(days.SealSeen(step=step, state="intact"), item.subject, self.author(place), private)

    def _put_on_at_opening(self) -> None:
        for closure, subject in self._closures():
            if closure.applied is When.OPENING and (
                closure.cut is not None or subject not in self.kept.seals
            ):
                self._put_on(closure, subject, "applied", closure.number)

    def _closures(self) -> Iterator[tuple[Closure, str]]:
        for station in self.plan.stations_on(self.date):
            kind = self.election.station_type(station.station_type)
            for closure in kind.closures:
                for owner, _ in owners_of(closure, kind, station):
                    yield closure, closure_id(owner, closure)

    def _put_on(self, closure: Closure, subject: str, step: str, policy: NumberPolicy) -> None:
        if policy is NumberPolicy.TICKED:
            self.write(days.SealSeen(step=step, state="intact"), subject, self.both())
            return
        number = next(self.kept.bag[closure.seal_kind])
        self.kept.seals[subject] = number
        private = days.SealNumber(number=number)
        self.write(days.SealSeen(step=step, state="intact"), subject, self.both(), private)

    # The day ---------------------------------------------------------------------------------------

    def live(self) -> None:
        """Make the day's numbers from the voters' side; no equation is looked at."""
        draw, steps = self.draw, {step.value for step in self.balance.steps}
        demand = next(d for d in self.plan.demand if d.date == self.date)
        voters = draw.randint(demand.voters.p10, demand.voters.p50)
        aux = draw.randint(0, 3) if "auxiliary bin" in steps else 0
        spoiled = draw.randint(3, 9)
        fled = draw.randint(0, 1) if "fled ballots held" in steps else 0
        added = draw.randint(4, 12) if "curbside" in steps else 0
        cancelled, provisional = draw.randint(0, 3), draw.randint(2, 8)
        resupplied = 100 if "resupply" in steps and draw.random() < 0.5 else 0
        cast = voters - aux - fled
        counts = self.counts
        rest = cast
        for index, device in enumerate(self.scanners):
            share = rest if index == len(self.scanners) - 1 else cast // len(self.scanners)
            rest -= share
            for name in ("public", "lifetime"):
                before = self._opening_counter(device, name)
                counts[f"{name}_counter_close@{device}"] = before + share * self.balance.sheets_per_ballot
                self.kept.counters[f"{device}/{name}"] = before + share * self.balance.sheets_per_ballot
            for twin in ("report_count_close", "memory_count_close"):
                counts[f"{twin}@{device}"] = counts[f"public_counter_close@{device}"]
        used = voters + spoiled + provisional
        printed = used if "on-demand printing" in steps else 0
        stock = (
            self.kept.unused
            if self.kept.unused is not None
            else (0 if printed else -(-used * 5 // 400) * 100)
        )
        stock = 200 if printed and self.kept.unused is None else stock
        counts |= {
            "ballots_received": stock,
            "ballots_printed": printed,
            "ballots_resupplied": resupplied,
            "ballots_unused": stock + printed + resupplied - used,
            "ballots_auxiliary": aux,
            "ballots_spoiled": spoiled,
            "ballots_reissued": spoiled,
            "ballots_fled": fled,
            "ballots_issued": voters + spoiled,
            "check_ins": voters + cancelled - added,
            "check_ins_added": added,
            "check_ins_cancelled": cancelled,
            "provisional_issued": provisional,
            "provisional_envelopes": provisional,
            "provisional_entries": provisional,
        }
        self.kept.unused = counts["ballots_unused"]

    def _opening_counter(self, device: str, name: str) -> int:
        for item in self.expected.items:
            if item.what == "counter" and owner_of(item) == device and tail_of(item) == name:
                return int(self.true_value(item) or 0)
        return 0

    def _count_opening_stock(self) -> None:
        self.live()
        for line in self.balance.lines:
            if line.term.id == "ballots_received":
                self._count(line.key, line.term.id, line.term.source, self.counts[line.key])

    def _count(self, key: str, term: str, source: str, value: int, places: tuple[int, ...] = (0, 1)) -> None:
        subject = key.partition("@")[2] or f"site/{self.plan.site}"
        for place in places:
            typed = self.typed_count(key, place, value)
            self.write(days.CountRead(term=term, value=typed, source=source), subject, self.author(place))

    def typed_count(self, key: str, place: int, value: int) -> int:
        """What a person types for a count; planted troubles change it."""
        return value

    def during(self) -> None:
        """What happens between opening and closing."""
        if self.scanners and self.draw.random() < 0.6:
            device = self.scanners[-1]
            self.clock.set(self.date, self.opens + 190)
            self.write(days.DeviceOutOfService(state="out", why="paper_jam"), device, self.author(0))
            self.clock.set(self.date, self.opens + 206)
            self.write(days.DeviceOutOfService(state="back", why="paper_cleared"), device, self.author(0))

    # Closing ---------------------------------------------------------------------------------------

    def close(self) -> None:
        """Close the doors, read and count everything, seal, pack."""
        last_voter = self.closes + self.draw.randint(3, 18)
        self.clock.set(self.date, last_voter)
        self.write(days.SiteClosed(at_min=last_voter), f"site/{self.plan.site}", self.both())
        for line in self.balance.lines:
            if line.term.moment is When.CLOSING:
                self._count(line.key, line.term.id, line.term.source, self.counts.get(line.key, 0))
        for moment in (When.CLOSING, When.OVERNIGHT):
            for item in self.expected.items:
                if item.moment is moment and item.what == "seal":
                    for place in self.readers(item):
                        self._read_seal(item, place)
            if moment is When.CLOSING:
                for closure, subject in self._closures():
                    if When.CLOSING in closure.resealed:
                        self._put_on(closure, subject, "resealed", closure.resealed_number)
        self._pack()

    def _pack(self) -> None:
        for device, travels, ids in self._memory():
            for index, memory in enumerate(ids):
                case = index < travels
                body = days.MemoryDevicePacked(
                    state="in_case" if case else "travels_inside",
                    inside=f"case/{self.plan.site}" if case else device,
                )
                if self.packs(memory):
                    self.write(body, f"memory/{memory}", self.both())

    def packs(self, memory: str) -> bool:
        """Whether somebody says where a memory device is; planted troubles say no."""
        return True

    def _memory(self) -> Iterator[tuple[str, int, tuple[str, ...]]]:
        """What leaves the machines today: on each machine's last day here, not before."""
        end = max(d.date for d in self.plan.demand)
        for station in self.plan.stations_on(self.date):
            if self.date != (station.last_day or end):
                continue
            travels = self.election.station_type(station.station_type).memory_devices.travels
            ids = tuple(
                item.value
                for item in self.expected.items
                if item.what == "memory device" and item.station == station.id and item.value
            )
            if ids:
                device = next(part.device for part in station.parts if part.device)
                yield device, travels, ids

    def receive(self) -> None:
        """At the receiving table: memory devices that came are taken in and read."""
        self.clock.set(self.date, self.closes + 110)
        people = (person(WAREHOUSE), person(self.crew[0], Part.GIVER), person(WAREHOUSE, Part.RECEIVER))
        for device, travels, ids in self._memory():
            for memory in ids[:travels]:
                if not self.packs(memory):
                    continue
                body = days.ThingReceived(place="site/receiving", state="received")
                self.write(body, f"memory/{memory}", people)
                key = f"memory_count_close@{device}"
                if key in self.counts:
                    value = days.CountRead(
                        term="memory_count_close", value=self.counts[key], source="memory_device"
                    )
                    self.write(value, device, (person(WAREHOUSE), person(self.crew[0], Part.SECOND)))


class AnselCivicHall(SiteDayPlay):
    """S01: a digit mistyped and corrected, a spoiled ballot not written, a memory device not back."""

    def _scanner(self, number: int) -> str:
        return self.scanners[number - 1]

    def read_item(self, item: ExpectedItem, place: int) -> str:
        """The first person types one wrong digit of the lid's seal on the first scanner."""
        true = super().read_item(item, place)
        if item.what == "seal" and item.subject == self._lid() and place == 0:
            return true[:-2] + WRONG_DIGITS[true[-2]] + true[-1]
        return true

    def _lid(self) -> str:
        return next(
            i.subject
            for i in self.expected.items
            if i.what == "seal" and i.moment is When.OPENING and i.device == self._scanner(1)
        )

    def before_doors(self) -> None:
        """Both read the lid again; the first person corrects the entry, and both entries stay."""
        wrong = next(
            e
            for e in self.tablet.journal.events
            if e.event.subject == self._lid() and e.event.kind == "seen.seal"
        )
        item = next(i for i in self.expected.items if i.subject == self._lid())
        body = days.EntryCorrected(
            corrects=wrong.id,
            of_kind=wrong.event.kind,
            value=body_object(days.SealSeen(step="opening", state="intact")),
        )
        private = days.CorrectionPrivate(
            reason="Read again together from the seal itself.",
            fields=FrozenObject({"number": self.true_value(item)}),
        )
        self.write(body, self._lid(), self.both(), private)

    def live(self) -> None:
        """One ballot more was spoiled and issued again than anybody wrote down."""
        super().live()
        self.counts["ballots_unused"] -= 1

    def packs(self, memory: str) -> bool:
        """Nobody says where the memory device of the second scanner is."""
        machines = {device: ids for device, _, ids in self._memory()}
        return memory != machines[self._scanner(2)][0]


class HarborLaneLibrary(SiteDayPlay):
    """S02: two seals swapped, one clock wrong, doors late."""

    def __init__(
        self, election: Election, plan: SitePlan, expected: ExpectedList, tablet: Tablet, kept: Kept
    ) -> None:
        super().__init__(election, plan, expected, tablet, kept)
        self.opened_at = self.opens + 12
        markers = list(dict.fromkeys(i.device for i in expected.items if i.what == "clock"))
        self.wrong_clock, self.swapped = markers[2], markers[4]

    def read_item(self, item: ExpectedItem, place: int) -> str:
        """Two closures of one voting station carry each other's seals; both people read what is there."""
        if item.what == "seal" and item.device == self.swapped:
            numbered = [
                i
                for i in self.expected.items
                if i.what == "seal" and i.device == self.swapped and i.moment is When.OPENING and i.value
            ]
            first, second = numbered[0], numbered[1]
            if item.subject in (first.subject, second.subject):
                return self.true_value(second if item.subject == first.subject else first)
        return super().read_item(item, place)

    def device_minute(self, owner: str, lead: int, reference: int) -> int:
        """One device's clock is 47 minutes behind."""
        right = super().device_minute(owner, lead, reference)
        return right - 47 if owner == self.wrong_clock else right

    def before_doors(self) -> None:
        """The rule's word: these two devices stay out of service, the others go on, the office is called."""
        self.write(days.DeviceOutOfService(state="out", why="clock_differs"), self.wrong_clock, self.both())
        self.write(days.DeviceOutOfService(state="out", why="seal_differs"), self.swapped, self.both())


class SouthgateLibrary(SiteDayPlay):
    """S36: digits transposed on an early day, and on election day one reading by one person only."""

    def typed_count(self, key: str, place: int, value: int) -> int:
        """On the second day the second person exchanges the last two digits of the check-ins."""
        if key == "check_ins" and place == 1 and self.date == dt.date(2028, 11, 5):
            text = str(value)
            return int(text[:-2] + text[-1] + text[-2])
        return value

    def live(self) -> None:
        """On that day the last two digits of the check-ins differ, so that exchanging them shows."""
        super().live()
        if self.date == dt.date(2028, 11, 5) and self.counts["check_ins"] % 11 == 0:
            raise ValueError("the planted day needs two different last digits; change its seed")

    def readers(self, item: ExpectedItem) -> tuple[int, ...]:
        """On election day nobody reads the second scanner's public counter a second time."""
        alone = (
            item.what == "counter"
            and tail_of(item) == "public"
            and owner_of(item) == self.scanners[-1]
            and self.date == self.election.election_day
        )
        return (0,) if alone else super().readers(item)


PLAYS: dict[str, type[SiteDayPlay]] = {
    "S01": AnselCivicHall,
    "S02": HarborLaneLibrary,
    "S36": SouthgateLibrary,
}


def play(
    desk: Desk,
    tablets: dict[str, Tablet],
    election: Election,
    plan: PlanVersion,
    say: Callable[[str], None] = lambda line: None,
    finished: Callable[[SiteDayPlay], None] = lambda one: None,
) -> int:
    """Play every site and day, then keep all tablets' events in the store; gives how many events.

    `finished` is told each site and day that was played, with what really happened there.
    """
    digest = digest_of(plan)
    bags, late = stock_report(election, plan, None).bags.bags, sent_after(election)
    for site in plan.sites:
        kept = Kept((bag for bag in bags if bag.site == site.site), late)
        for day in site.demand:
            expected = expected_list(election, plan, site.site, day.date, plan_digest=digest)
            one = PLAYS.get(site.site, SiteDayPlay)(election, site, expected, tablets[site.site], kept)
            one.open()
            one.during()
            one.close()
            one.receive()
            finished(one)
            say(f"{site.site} {day.date}")
    total = 0
    for tablet in tablets.values():
        total += desk.store.events.add(tablet.journal.events, tablet.journal.sides.values())
    return total
