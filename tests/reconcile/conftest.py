"""A small county, its expected list and a record in memory, for the tests of reconcile."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

import pollstead
from pollstead.election.county import Device, Election, Hours, Site
from pollstead.election.rules import CountyRules, RuleLevel, RuleSetting
from pollstead.election.station_type import SiteKind, StationType
from pollstead.intake.toml_values import Reader, parse_toml
from pollstead.plan.seals.expected import expected_list
from pollstead.plan.seals.policy import closure_id
from pollstead.plan.terms.demand import QuantileRow, SiteDayDemand
from pollstead.plan.terms.part import Effort
from pollstead.plan.terms.version import (
    ExpectedList,
    ExpectedSeal,
    PartOfStation,
    PlanVersion,
    SitePlan,
    StageCount,
    Station,
)
from pollstead.reconcile.issued import Issued, lines_of
from pollstead.record.event import Means, Part, Person, Signed
from pollstead.record.fold import Fold, fold
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.header import Header
from pollstead.record.keys import public_hex
from pollstead.record.kinds import days, offices
from pollstead.record.kinds.body import Body, Private
from pollstead.record.write import MemoryJournal, Moment, Recorder, list_side

DAY = dt.date(2028, 11, 7)  # a Tuesday, in eastern standard time
START = 1_857_200_000_000
SHIPPED = Path(pollstead.__file__).parent / "intake" / "data"
CONFIRMED = (
    "clock-differs",
    "seal-differs",
    "serial-differs",
    "counter-not-as-expected",
    "counts-at-closing",
)


def shipped(letter: str) -> tuple[tuple[StationType, ...], SiteKind]:
    """The shipped station types and the kind of site of one of the five kinds A to E."""
    name = f"station_types_{letter}.toml"
    top, faults = parse_toml(name, (SHIPPED / name).read_bytes())
    assert top is not None and not faults
    reader = Reader(name)
    types = reader.values(StationType, top["station_type"], "station_type")
    kinds = reader.values(SiteKind, top["site_kind"], "site_kind")
    assert not reader.faults
    return tuple(t for t in types if isinstance(t, StationType)), next(
        k for k in kinds if isinstance(k, SiteKind)
    )


def confirmed_rules(**values: str | int) -> CountyRules:
    """Rules of an invented county, confirmed by a person; `values` by rule id with underscores."""
    given = {name.replace("_", "-"): value for name, value in values.items()}
    settings = [
        RuleSetting(
            rule=rule,
            value=given.get(rule, CountyRules().setting(rule).value),
            level=RuleLevel.DIRECTIVE,
            confirmed_by="P010",
        )
        for rule in dict.fromkeys((*CONFIRMED, *given))
    ]
    return CountyRules(settings=tuple(settings))


class CountyMaker:
    """An invented county of kind A whose stations, serials and seals are made from the station types."""

    def __init__(self) -> None:
        self.types, self.kind = shipped("a")
        self.rules = confirmed_rules()
        self.dates: tuple[dt.date, ...] = (DAY,)

    def station(self, site: str, type_id: str, number: int) -> Station:
        """A station with devices ``device/TYPE/SITE-n``, serials, memory devices and seal numbers."""
        kind = next(t for t in self.types if t.id == type_id)
        short = f"{site}-{number}"
        parts = []
        for part in kind.parts:
            serial = part in kind.serial_parts()
            parts.append(
                PartOfStation(
                    part=part.id,
                    name=part.name,
                    quantity=part.per_station,
                    device=f"device/{part.id}/{short}" if serial else "",
                    serial=f"LM-{part.id[:1].upper()}-{site[1:]}{number:02d}" if serial else "",
                    by_serial=serial,
                    lifetime_counter=1000 + number if serial else None,
                    memory_devices=tuple(
                        f"LM-M-{site}{number}{'AB'[i]}" for i in range(kind.memory_devices.count)
                    )
                    if serial
                    else (),
                )
            )
        owner = next((p.device for p in parts if p.device), f"station/{site}/{type_id}/{number}")
        # Far enough apart that no wrong digit gives the number of another closure.
        place = int(site[1:]) * 100 + number * 20 + [t.id for t in self.types].index(type_id) * 500
        seals = tuple(
            ExpectedSeal(
                closure=closure_id(owner, closure),
                name=closure.name,
                position=1,
                seal_kind=closure.seal_kind,
                number_policy=closure.number,
                entry=closure.entry,
                applied=closure.applied,
                checked=closure.checked,
                cut=closure.cut,
                number=f"{2_048_010 + (place + index) * 1213:07d}",
            )
            for index, closure in enumerate(kind.closures)
        )
        return Station(
            id=f"station/{site}/{type_id}/{number}",
            station_type=type_id,
            number=number,
            parts=tuple(parts),
            seals=seals,
        )

    def election(self, sites: tuple[str, ...] = ("S01", "S02")) -> Election:
        """The county's facts."""
        hours = tuple(Hours(date=d, opens_min=420, closes_min=1200) for d in self.dates)
        return Election(
            county="Larkmoor County",
            name="General election",
            election_day=DAY,
            zone_name="America/New_York",
            rules=self.rules,
            station_types=self.types,
            site_kinds=(self.kind,),
            sites=tuple(
                Site(
                    id=s,
                    name=f"Site {s}",
                    kind=self.kind.id,
                    hours=hours,
                    openers=("P001", "P002"),
                    contact="P001",
                )
                for s in sites
            ),
            devices=(
                Device(id="device/scanner/S01-1", serial="LM-S-0101", kind="scanner"),
                Device(id="device/scanner/S01-2", serial="LM-S-0102", kind="scanner"),
            ),
            invented=True,
        )

    def plan(self, counts: dict[str, int], sites: tuple[str, ...] = ("S01", "S02")) -> PlanVersion:
        """A plan version with so many stations of each type at every site."""
        row = QuantileRow(p10=80, p50=100, p90=120)
        made = []
        for site in sites:
            stations = tuple(
                self.station(site, type_id, number)
                for type_id, count in counts.items()
                for number in range(1, count + 1)
            )
            made.append(
                SitePlan(
                    site=site,
                    name=f"Site {site}",
                    kind=self.kind.id,
                    demand=tuple(
                        SiteDayDemand(site=site, date=d, opens_min=420, closes_min=1200, voters=row, slots=())
                        for d in self.dates
                    ),
                    counts=tuple(StageCount(station_type=t, step="", count=c) for t, c in counts.items()),
                    waits=None,
                    stations=stations,
                )
            )
        return PlanVersion(
            snapshot="0" * 64, decisions="", seed=1, effort=Effort.QUICK, engines=(), sites=tuple(made)
        )

    def lists(self, election: Election, plan: PlanVersion) -> Issued:
        """Every site's and day's list, as if issued."""
        lists = tuple(expected_list(election, plan, s.site, d) for s in plan.sites for d in self.dates)
        return Issued(lists=lists, events=("",) * len(lists))


def person(who: str, part: Part = Part.AUTHOR) -> Person:
    """A person's part in an event."""
    return Person(person=f"person/{who}", means=Means.CODE, part=part)


class RecordMaker:
    """A record in memory, written by one tablet, a second apart."""

    def __init__(self, name: str = "tablet/1") -> None:
        key = Ed25519PrivateKey.from_private_bytes(hashlib.sha256(name.encode()).digest())
        self.header = Header(
            county="Larkmoor (invented)",
            election="General",
            practice=False,
            office_key=public_hex(key),
            created_utc_ms=START,
        )
        self.journal = MemoryJournal()
        self.recorder = Recorder(self.header, name, key, self.journal)
        self.clock = START
        self.count = 0

    def write(
        self,
        body: Body,
        subject: str,
        *people: str,
        site: str = "S01",
        day: dt.date = DAY,
        private: Private | None = None,
        salt: bytes | None = None,
    ) -> Signed:
        """One event of a site's day; the first of `people` is its author, a second one its second."""
        self.clock += 1000
        self.count += 1
        who = people or ("P001",)
        parts = (person(who[0]), *(person(w, Part.SECOND) for w in who[1:]))
        return self.recorder.record(
            body,
            subject=subject,
            people=parts,
            moment=Moment(utc_ms=self.clock, offset_min=-300, uncertainty_ms=0),
            site=f"site/{site}",
            day=day.isoformat(),
            private=private,
            salt=salt or self.count.to_bytes(32, "big"),
        )

    def serial(self, subject: str, serial: str, *people: str, **where: Any) -> Signed:
        """A serial read from a plate."""
        return self.write(days.SerialSeen(serial=serial), subject, *people, **where)

    def seal(
        self,
        subject: str,
        number: str,
        *people: str,
        step: str = "opening",
        state: str = "intact",
        **where: Any,
    ) -> Signed:
        """A seal looked at, with its number ("" where only ticked)."""
        private = days.SealNumber(number=number) if number else None
        body = days.SealSeen(step=step, state=state)  # type: ignore[arg-type]
        return self.write(body, subject, *people, private=private, **where)

    def clock_seen(
        self, subject: str, device: int, reference: int, *people: str, shown: dt.date = DAY, **where: Any
    ) -> Signed:
        """A device's clock beside the reference clock, minutes of the day."""
        body = days.ClockSeen(date_shown=shown.isoformat(), device_min=device, reference_min=reference)
        return self.write(body, subject, *people, **where)

    def number(
        self, subject: str, term: str, value: int, *people: str, source: str = "screen", **where: Any
    ) -> Signed:
        """A number read or counted."""
        return self.write(days.CountRead(term=term, value=value, source=source), subject, *people, **where)

    def correct(
        self, wrong: Signed, value: Body | None, *people: str, fields: FrozenObject | None = None
    ) -> Signed:
        """A correction of an earlier event; None withdraws it."""
        from pollstead.record.kinds.registry import body_object

        body = days.EntryCorrected(
            corrects=wrong.id,
            of_kind=wrong.event.kind,
            value=FrozenObject() if value is None else body_object(value),
        )
        private = days.CorrectionPrivate(reason="read again", fields=fields)
        return self.write(
            body,
            wrong.event.subject,
            *people,
            site=wrong.event.site.removeprefix("site/"),
            day=dt.date.fromisoformat(wrong.event.day),
            private=private,
        )

    def issue(self, expected: ExpectedList) -> Signed:
        """Issue an expected list."""
        salt = hashlib.sha256(f"{expected.site}{expected.date}".encode()).digest()
        lines = lines_of(expected)
        side = list_side(lines, salt)
        return self.write(
            offices.ExpectedIssued(list_digest=side.digest, plan=expected.plan),
            f"site/{expected.site}",
            site=expected.site,
            day=expected.date,
            private=offices.ExpectedList(lines=lines),
            salt=salt,
        )

    def follow(self, expected: ExpectedList, *people: str) -> None:
        """Two people read everything of the list at opening exactly as expected."""
        who = people or ("P001", "P002")
        for item in expected.items:
            where = {"site": expected.site, "day": expected.date}
            if item.moment.value != "opening":
                continue
            if item.what in ("serial", "memory device"):
                self.serial(item.subject, item.value, *who, **where)
            elif item.what == "seal":
                self.seal(item.subject, "" if item.value == "in place" else item.value, *who, **where)
            elif item.what == "clock":
                self.clock_seen(item.device, 360 + int(item.value), 360, *who, shown=expected.date, **where)
            elif item.what == "counter":
                term = {"public": "public_counter_open", "lifetime": "lifetime_counter_open"}
                name = item.subject.rpartition("/")[2]
                self.number(
                    item.device,
                    term.get(name, f"{name.replace('-', '_')}_open"),
                    int(item.value),
                    *who,
                    **where,
                )
            elif item.what == "report":
                report = days.ReportSeen(
                    report=item.subject.rpartition("/")[2].replace("-", "_"), state="signed"
                )
                self.write(report, item.device, *who, **where)

    def fold(self, events: list[Signed] | None = None) -> Fold:
        """The fold of the record with its private parts."""
        from pollstead.record.event import read_side

        sides = {digest: read_side(side) for digest, side in self.journal.sides.items()}
        return fold(self.journal.events if events is None else events, sides)


@pytest.fixture
def county() -> CountyMaker:
    """A maker of an invented county."""
    return CountyMaker()


@pytest.fixture
def record() -> RecordMaker:
    """An empty record in memory."""
    return RecordMaker()


@pytest.fixture(scope="session")
def shipped_kind() -> Callable[[str], tuple[tuple[StationType, ...], SiteKind]]:
    """Station types and kind of site as shipped, by letter."""
    return shipped


@pytest.fixture(scope="session")
def rules_of() -> Callable[..., CountyRules]:
    """Confirmed rules of an invented county."""
    return confirmed_rules
