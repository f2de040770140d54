"""A small invented county with a plan, for tests of packets: Larkmoor, which is nowhere."""

from __future__ import annotations

import datetime as dt

import msgspec

from pollstead.election.county import (
    Assumption,
    Device,
    Election,
    Hours,
    Person,
    SealRange,
    Site,
)
from pollstead.election.instants import Instant
from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.rules import CountyRules, RuleLevel, RuleSetting
from pollstead.election.station_type import (
    ClockCheck,
    Closure,
    Counter,
    CountUnit,
    EntryPolicy,
    IdentifiedBy,
    LineKind,
    MemoryDevices,
    Moment,
    NumberPolicy,
    OpeningValue,
    Part,
    Report,
    SheetLine,
    SiteKind,
    StationType,
    StationUse,
    VoterStep,
)
from pollstead.election.words import message
from pollstead.plan.seals.expected import expected_list
from pollstead.plan.terms.demand import QuantileRow, SiteDayDemand
from pollstead.plan.terms.part import Effort
from pollstead.plan.terms.version import (
    ExpectedList,
    ExpectedSeal,
    PackingLine,
    PartOfStation,
    PlanVersion,
    RunStep,
    SealNeed,
    SitePlan,
    StageCount,
    Station,
)
from pollstead.reconcile.changed.consequence import consequence
from pollstead.reconcile.changed.on_the_day import Swap
from pollstead.reconcile.changed.terms import Act, Change, Consequence, SheetInHand, State
from pollstead.reconcile.issued import Issued
from pollstead.show.packet.changed import Earlier, change_notice, only_of, planned_sheets, serial_of
from pollstead.show.packet.given import SiteGiven
from pollstead.show.packet.packet import Only

DAY = dt.date(2028, 11, 7)
PRINTED = Instant(utc_ms=1_856_800_800_000)
DIGEST = "3f2a91bc70d4e5a61b2c3d4e5f60718293a4b5c6d7e8f9000a1b2c3d4e5f6071"
INDEPENDENT = EntryPolicy.INDEPENDENT

SCANNER = StationType(
    id="ballot-scanner",
    name="Scanner",
    step=VoterStep.CAST,
    parts=(
        Part(id="scanner", name="scanner", identified_by=IdentifiedBy.SERIAL, device_kind="scanner"),
        Part(id="box", name="ballot box with auxiliary bin"),
    ),
    closures=(
        Closure(
            id="memory-door",
            name="door over the memory devices",
            part="scanner",
            seal_kind="pull-tight seal",
            checked=(Moment.OPENING, Moment.CLOSING),
            cut=Moment.CLOSING,
            resealed=(Moment.CLOSING,),
            resealed_number=NumberPolicy.RECORDED,
        ),
        Closure(
            id="lid",
            name="lid of the ballot box",
            part="scanner",
            seal_kind="wire seal",
            entry=EntryPolicy.COMPARED,
            seals=2,
        ),
        Closure(
            id="bin", name="auxiliary bin", part="scanner", number=NumberPolicy.TICKED, seal_kind="wire seal"
        ),
    ),
    memory_devices=MemoryDevices(count=2, travels=1),
    counters=(
        Counter(id="lifetime", name="lifetime counter", opening=OpeningValue.LAST_RECORDED),
        Counter(id="public", name="public counter"),
    ),
    reports=(
        Report(id="zero", name="zero report", when=Moment.OPENING, zero=True),
        Report(id="closing", name="closing report", when=Moment.CLOSING),
    ),
    clock=ClockCheck(reference="check-in clock", lead_min=5, tolerance_min=1),
    opening=(
        SheetLine(kind=LineKind.SERIAL, ref="scanner", words="Read the serial on the plate at the back"),
        SheetLine(
            kind=LineKind.CLOSURE,
            ref="memory-door",
            words="Read the seal on the door over the memory devices",
        ),
        SheetLine(kind=LineKind.CLOSURE, ref="lid", words="Compare the seals on the lid of the ballot box"),
        SheetLine(kind=LineKind.CLOSURE, ref="bin", words="Look at the seal on the auxiliary bin"),
        SheetLine(kind=LineKind.CLOCK, words="Read date and time on the screen"),
        SheetLine(kind=LineKind.COUNTER, ref="lifetime", words="Read the lifetime counter"),
        SheetLine(kind=LineKind.COUNTER, ref="public", words="Read the public counter"),
        SheetLine(kind=LineKind.REPORT, ref="zero", words="Print the zero report", second_person=True),
        SheetLine(kind=LineKind.ACT, words="Show the empty box to all who are in the room"),
    ),
    closing=(
        SheetLine(kind=LineKind.COUNTER, ref="public", words="Read the public counter"),
        SheetLine(kind=LineKind.COUNTER, ref="lifetime", words="Read the lifetime counter"),
        SheetLine(kind=LineKind.REPORT, ref="closing", words="Print the closing report"),
        SheetLine(kind=LineKind.CLOSURE, ref="memory-door", words="Open the door over the memory devices"),
        SheetLine(kind=LineKind.MEMORY_DEVICE, words="Take out the memory device that travels"),
        SheetLine(kind=LineKind.ACT, words="Turn it off"),
    ),
    pack_away=(SheetLine(kind=LineKind.ACT, words="Look into the auxiliary bin: nothing left"),),
    table_sheet_from=4,
)
CHECK_IN = StationType(
    id="check-in-desk",
    name="Check-in station",
    step=VoterStep.CHECK_IN,
    parts=(
        Part(
            id="computer",
            name="check-in computer",
            identified_by=IdentifiedBy.SERIAL,
            device_kind="check-in computer",
            entry=EntryPolicy.COMPARED,
        ),
    ),
    closures=(
        Closure(
            id="case",
            name="check-in case",
            part="computer",
            seal_kind="pull-tight seal",
            cut=Moment.OPENING,
            resealed=(Moment.CLOSING,),
        ),
    ),
    counters=(Counter(id="check-ins", name="check-ins of the day", unit=CountUnit.CHECK_INS),),
    opening=(
        SheetLine(kind=LineKind.CLOSURE, ref="case", words="Read the seal on the case"),
        SheetLine(kind=LineKind.SERIAL, ref="computer", words="Compare the serial on the check-in computer"),
        SheetLine(kind=LineKind.COUNTER, ref="check-ins", words="Read the check-ins shown"),
    ),
    closing=(
        SheetLine(kind=LineKind.COUNTER, ref="check-ins", words="Read the check-ins shown"),
        SheetLine(kind=LineKind.CLOSURE, ref="case", words="Put a new seal on the case"),
    ),
    table_sheet_from=4,
)
BOOTH = StationType(
    id="marking-booth",
    name="Voting booth",
    step=VoterStep.MARK,
    parts=(Part(id="booth", name="folding booth"),),
    pack_away=(SheetLine(kind=LineKind.ACT, words="Look under every booth for ballots, then fold it"),),
)
KIND = SiteKind(
    id="hand-marked",
    name="Hand-marked paper with scanner",
    uses=(
        StationUse(station_type="check-in-desk"),
        StationUse(station_type="marking-booth"),
        StationUse(station_type="ballot-scanner"),
    ),
    balance=("paper ballots", "provisional", "spoiled", "fled", "auxiliary bin", "tests"),
    site_opening=(
        SheetLine(
            kind=LineKind.ACT, words="Turn on the site phone and call the office: we are in the building"
        ),
        SheetLine(kind=LineKind.ACT, words="Say aloud that the site is open and write the minute"),
    ),
    site_closing=(SheetLine(kind=LineKind.ACT, words="Mark the end of the line; everyone in it votes"),),
)


def seals_of(kind: StationType, device: str, first: int) -> tuple[ExpectedSeal, ...]:
    """Seals on all positions of a device's closures, numbers counted up from `first`."""
    made, number = [], first
    for closure in kind.closures:
        for position in range(1, closure.seals + 1):
            recorded = closure.number is NumberPolicy.RECORDED
            made.append(
                ExpectedSeal(
                    closure=f"closure/{device.removeprefix('device/')}/{closure.id}",
                    name=closure.name,
                    position=position,
                    seal_kind=closure.seal_kind,
                    number_policy=closure.number,
                    entry=closure.entry,
                    applied=closure.applied,
                    checked=closure.checked,
                    cut=closure.cut,
                    number=f"00{number}" if recorded else "",
                )
            )
            number += 1
    return tuple(made)


def station(site: str, kind: StationType, number: int, unit: int) -> Station:
    """A station of a kind with one device of its own invented serial, tag, memory devices and seals."""
    part = next((p for p in kind.parts if p.identified_by is IdentifiedBy.SERIAL), None)
    if part is None:
        return Station(
            id=f"station/{site}/{kind.id}/{number}",
            station_type=kind.id,
            number=number,
            parts=(PartOfStation(part="booth", name="folding booth", quantity=1),),
        )
    letter = "V" if kind.id == "ballot-scanner" else "C"
    device = f"device/{part.device_kind.replace(' ', '-')}/{unit:04d}"
    return Station(
        id=f"station/{site}/{kind.id}/{number}",
        station_type=kind.id,
        number=number,
        parts=(
            PartOfStation(
                part=part.id,
                name=part.name,
                quantity=1,
                device=device,
                serial=f"LM-{letter}-{unit:04d}",
                tag=f"LM-TAG-{letter}{unit:03d}",
                lifetime_counter=41_000 + unit if kind.counter("lifetime") else None,
                memory_devices=tuple(f"LM-M-{unit:04d}{n}" for n in "AB"[: kind.memory_devices.count]),
                by_serial=True,
            ),
        ),
        seals=seals_of(kind, device, 48_000 + 50 * unit),
    )


def site_plan(site: str, name: str, check_ins: int, booths: int, scanners: int, unit: int = 1) -> SitePlan:
    """The plan of one site; device units are counted from `unit`."""
    numbers = ((CHECK_IN, check_ins), (BOOTH, booths), (SCANNER, scanners))
    stations, next_unit = [], unit
    for kind, count in numbers:
        for number in range(1, count + 1):
            stations.append(station(site, kind, number, next_unit))
            next_unit += 1
    return SitePlan(
        site=site,
        name=name,
        kind="hand-marked",
        demand=(
            SiteDayDemand(
                site=site,
                date=DAY,
                opens_min=420,
                closes_min=1200,
                voters=QuantileRow(p10=700, p50=812, p90=990),
                slots=(),
            ),
        ),
        counts=tuple(
            StageCount(
                station_type=kind.id,
                step=kind.step.value,
                count=count,
                fixed=kind is BOOTH,
                reason="one more near the second door" if kind is BOOTH else "",
            )
            for kind, count in numbers
        ),
        waits=None,
        stations=tuple(stations),
        packing=(
            *(
                PackingLine(
                    group=kind.name,
                    item=kind.parts[0].name,
                    quantity=count,
                    tags=tuple(
                        p.tag for s in stations if s.station_type == kind.id for p in s.parts if p.tag
                    ),
                )
                for kind, count in numbers
            ),
            PackingLine(group="Supplies", item="pen", quantity=40),
            PackingLine(group="Supplies", item="blank ballot", quantity=1_250, unit="ballots"),
            PackingLine(group="Seals", item="pull-tight seal", quantity=8),
        ),
        run_sheet=(
            RunStep(
                id="tables",
                words="Place the check-in tables by the site's plan",
                when=Moment.EVENING_BEFORE,
                station_type="check-in-desk",
                starts_min=0,
                ends_min=10,
                people=2,
                critical=True,
                times=check_ins,
            ),
            RunStep(
                id="booths",
                words="Unfold the booths and set them by the site's plan",
                when=Moment.EVENING_BEFORE,
                station_type="marking-booth",
                starts_min=0,
                ends_min=8,
                people=1,
                critical=False,
                times=booths,
            ),
            RunStep(
                id="scanner",
                words="Enter the numbers, plug in, turn on",
                when=Moment.OPENING,
                station_type="ballot-scanner",
                starts_min=0,
                ends_min=24,
                people=2,
                critical=True,
                times=scanners,
                caution="power",
            ),
            RunStep(
                id="unpack",
                words="Unpack the check-in case",
                when=Moment.OPENING,
                station_type="check-in-desk",
                starts_min=24,
                ends_min=36,
                people=2,
                critical=True,
            ),
        ),
        seal_needs=(
            SealNeed(seal_kind="pull-tight seal", moment=Moment.CLOSING, quantity=check_ins + scanners),
        ),
        assumptions=(
            Assumption(
                subject=f"site/{site}",
                field="outlets",
                value="12",
                why=message("no list of rooms was given"),
                list_wanted="sites.csv",
            ),
        ),
    )


def county(
    *, practice: bool = False, invented: bool = True, confirmed: bool = True, sites: int = 2
) -> Election:
    """Larkmoor with `sites` sites; the rules confirmed by an invented person, or by nobody."""
    settings = tuple(
        RuleSetting(
            rule=rule,
            value=value,
            level=RuleLevel.POLICY,
            source="invented",
            confirmed_by="Ida Fenwright" if confirmed else "",
        )
        for rule, value in (
            ("serial-differs", "device out of service"),
            ("seal-differs", "device out of service"),
            ("clock-differs", "record and go on"),
            ("counts-at-closing", 2),
            ("second-person-at-closing", "yes"),
        )
    )
    names = ("Ansel Civic Hall", "Harbor Lane Library", "Southgate Library")
    return Election(
        county="Larkmoor County",
        name="General election",
        election_day=DAY,
        zone_name="EST5EDT",
        rules=CountyRules(settings=settings),
        station_types=(CHECK_IN, BOOTH, SCANNER),
        site_kinds=(KIND,),
        sites=tuple(
            Site(
                id=f"S{n + 1:02d}",
                name=names[n % 3],
                address=f"{n + 1} Civic Square, Port Ansel",
                kind="hand-marked",
                hours=(Hours(date=DAY, opens_min=420, closes_min=1200),),
                access_from_min=300,
                openers=("P001",),
                contact="P002",
            )
            for n in range(sites)
        ),
        devices=(
            Device(id="device/scanner/0001", serial="LM-V-0001", kind="scanner", lifetime_counter=41_001),
        ),
        people=(
            Person(id="P001", name="Ida Fenwright", role="site lead", phone="555-0110"),
            Person(id="P002", name="Tobin Marsh-Oakley", role="deputy lead", phone="555-0111"),
        ),
        seal_ranges=(
            SealRange(seal_kind="pull-tight seal", series="LM-A", first="0048001", last="0090000"),
            SealRange(seal_kind="wire seal", series="LM-W", first="0310001", last="0310120"),
        ),
        practice=practice,
        invented=invented,
    )


def plan(*sites: SitePlan) -> PlanVersion:
    """A plan version of these sites; without any, of one small site and one with many devices."""
    return PlanVersion(
        snapshot="a" * 64,
        decisions="b" * 64,
        seed=1,
        effort=Effort.QUICK,
        engines=(),
        sites=sites
        or (
            site_plan("S01", "Ansel Civic Hall", 2, 6, 1),
            site_plan("S02", "Harbor Lane Library", 5, 10, 7, unit=100),
        ),
        notices=(
            Notice(
                kind=NoticeKind.OPEN_ITEM,
                rule="openers",
                subject="site/S01",
                text=message("Only {count} person can open the building", count=1),
                remedy=message("Name a second person who has a key"),
            ),
        ),
    )


def lists(election: Election, version: PlanVersion, site: str) -> tuple[ExpectedList, ...]:
    """The expected lists of a site, one for each of its operating days."""
    return tuple(expected_list(election, version, site, day.date) for day in version.site(site).demand)


def changed(language: str = "en-US") -> tuple[SiteGiven, Only, Consequence]:
    """Site S01 after its first scanner was swapped: what to print there, and all that the swap brings."""
    election, before = county(), plan()
    old = before.site("S01")
    stations = tuple(_swapped(station) for station in old.stations)
    sites = (msgspec.structs.replace(old, stations=stations), before.site("S02"))
    after = msgspec.structs.replace(before, sites=sites)
    states = []
    for version, digest in ((before, DIGEST), (after, DIGEST[::-1])):
        at = given(election=election, version=version, digest=digest, language=language)
        lists_now = lists(election, version, "S01")
        states.append(
            (
                at,
                State(
                    election=election, plan=version, digest=digest, lists=lists_now, sheets=planned_sheets(at)
                ),
            )
        )
    (was, first), (now, last) = states
    in_hand = tuple(SheetInHand(serial=serial_of(was, sheet.key), sheet=sheet) for sheet in first.sheets)
    words = message("Scanner 1 was swapped.")
    change = Change(act=Act.SWAP_DEVICE, sites=("S01",), words=words, site_words=words)
    found = consequence(
        change, first, last, Issued(lists=first.lists, events=("",) * len(first.lists)), in_hand
    )
    notice = change_notice(now, Earlier(election, old), found, 3, "It does not start.")
    return now, only_of(now, found, notice), found


def _swapped(station: Station) -> Station:
    """The station with another scanner, where it is the first."""
    if not station.id.endswith("ballot-scanner/1"):
        return station
    parts = tuple(
        msgspec.structs.replace(p, device="device/scanner/0077", serial="LM-V-0077", tag="LM-TAG-V077")
        if p.device
        else p
        for p in station.parts
    )
    seals = tuple(
        msgspec.structs.replace(s, closure=f"closure/scanner/0077/{s.closure.rpartition('/')[2]}", number="")
        for s in station.seals
    )
    return msgspec.structs.replace(station, parts=parts, seals=seals)


def given(
    site: str = "S01",
    *,
    election: Election | None = None,
    version: PlanVersion | None = None,
    language: str = "en-US",
    digest: str = DIGEST,
    swaps: tuple[Swap, ...] = (),
) -> SiteGiven:
    """What the packet of one sample site is made from."""
    election = election or county()
    version = version or plan()
    return SiteGiven(
        election=election,
        plan=version,
        digest=digest,
        site=site,
        printed_at=PRINTED,
        language=language,
        expected=lists(election, version, site),
        swaps=swaps,
    )
