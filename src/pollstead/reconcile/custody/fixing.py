"""The fixing list of a site: what must be tested and sealed before its expected list is issued.

Nothing here blocks the day. What lacks is named, and a named person may issue the list anyway.
"""

from __future__ import annotations

import datetime as dt
import enum

from pollstead.election.station_type import Moment, NumberPolicy
from pollstead.election.values import Value
from pollstead.plan.terms.version import ExpectedSeal, PlanVersion, SitePlan, Station
from pollstead.reconcile.custody.pairs import PairState, SealedPosition, TestState, Warehouse


class Lack(enum.StrEnum):
    """What lacks at one device or closure."""

    NOT_TESTED = "not tested"
    NOT_PASSED = "test not passed"
    NOT_RUN = "test not run"
    ONE_TESTED = "tested by one person"
    NOT_SEALED = "not sealed"
    ONE_READ = "seal read by one person"
    DIFFERS = "two people read different numbers"
    PLAN_DIFFERS = "the plan has another number"


class FixedSeal(Value, frozen=True, kw_only=True):
    """One position of a closure: what the plan has for it and what the pair said; `lacks` may be None."""

    closure: str
    position: int
    name: str
    seal_kind: str
    told: SealedPosition
    in_table: str
    lacks: Lack | None


class FixedDevice(Value, frozen=True, kw_only=True):
    """One device: its test and its seals. `station` is where it stands, or its own id for a spare.

    `counts_from` is set for a device that is deployed again after early voting: the day from which its new
    numbers count.
    """

    device: str
    serial: str
    tag: str
    station: str
    site: str
    test: TestState | None
    seals: tuple[FixedSeal, ...]
    lacks: Lack | None
    counts_from: dt.date | None = None

    @property
    def complete(self) -> bool:
        """Whether nothing lacks here."""
        return self.lacks is None and all(seal.lacks is None for seal in self.seals)


def fixing_list(
    plan: SitePlan, told: Warehouse, date: dt.date | None = None, *, two_people: bool = True
) -> tuple[FixedDevice, ...]:
    """Every device of a site with what lacks; `date` leaves out those that do not stand there on that day."""
    stations = plan.stations if date is None else plan.stations_on(date)
    return tuple(
        device for station in stations for device in _devices(station, plan.site, told, two_people=two_people)
    )


def spare_list(plan: PlanVersion, told: Warehouse, *, two_people: bool = True) -> tuple[FixedDevice, ...]:
    """The spares: they are tested and sealed like the others."""
    return tuple(
        _device(
            spare.device, spare.serial, spare.tag, spare.device, "", spare.seals, told, two_people=two_people
        )
        for spare in plan.spares
    )


def lacking(devices: tuple[FixedDevice, ...]) -> tuple[tuple[str, ...], int]:
    """Device ids whose test lacks something, and how many closures do."""
    untested = tuple(device.device for device in devices if device.lacks is not None)
    return untested, sum(seal.lacks is not None for device in devices for seal in device.seals)


def _devices(station: Station, site: str, told: Warehouse, *, two_people: bool) -> list[FixedDevice]:
    """The devices of a station; seals of the station itself go with its first device."""
    held = [part for part in station.parts if part.by_serial and part.device]
    rest = list(station.seals)
    found = []
    for number, part in enumerate(held):
        own = f"closure/{part.device.removeprefix('device/')}/"
        mine = tuple(seal for seal in rest if seal.closure.startswith(own))
        rest = [seal for seal in rest if seal not in mine]
        if number == len(held) - 1:
            mine += tuple(rest)
        found.append(
            _device(
                part.device,
                part.serial,
                part.tag,
                station.id,
                site,
                mine,
                told,
                two_people=two_people,
                counts_from=station.first_day if part.again else None,
            )
        )
    return found


def _device(
    device: str,
    serial: str,
    tag: str,
    station: str,
    site: str,
    seals: tuple[ExpectedSeal, ...],
    told: Warehouse,
    *,
    two_people: bool,
    counts_from: dt.date | None = None,
) -> FixedDevice:
    test = told.test(device)
    return FixedDevice(
        device=device,
        serial=serial,
        tag=tag,
        station=station,
        site=site,
        test=test,
        seals=tuple(
            _seal(seal, told, two_people=two_people)
            for seal in seals
            if seal.applied is Moment.AFTER_TEST and seal.number_policy is NumberPolicy.RECORDED
        ),
        lacks=_test_lacks(test, two_people=two_people),
        counts_from=counts_from,
    )


def _test_lacks(test: TestState | None, *, two_people: bool) -> Lack | None:
    if test is None:
        return Lack.NOT_TESTED
    if test.result == "not_run":
        return Lack.NOT_RUN
    if not test.passed:
        return Lack.NOT_PASSED
    return Lack.ONE_TESTED if two_people and len(test.people) < 2 else None


def _seal(seal: ExpectedSeal, told: Warehouse, *, two_people: bool) -> FixedSeal:
    said = told.position(seal.closure, seal.position)
    lacks: Lack | None = None
    if said.state is PairState.NOBODY:
        # A number in the table was entered by two people before: the table's own meaning.
        lacks = None if seal.number else Lack.NOT_SEALED
    elif said.state is PairState.DIFFERS:
        lacks = Lack.DIFFERS
    elif said.state is PairState.ONE and two_people:
        lacks = Lack.ONE_READ
    elif said.state is PairState.MATCHED and seal.number != said.number:
        lacks = Lack.PLAN_DIFFERS
    return FixedSeal(
        closure=seal.closure,
        position=seal.position,
        name=seal.name,
        seal_kind=seal.seal_kind,
        told=said,
        in_table=seal.number,
        lacks=lacks,
    )
