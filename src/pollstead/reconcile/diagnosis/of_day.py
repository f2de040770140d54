"""The known numbers of one operating day: expected lists, devices on no list, stock, void seals."""

from __future__ import annotations

from collections.abc import Iterator

from pollstead.election.county import Device, Election, SealRange
from pollstead.election.seal_checks import SealChecks
from pollstead.election.seal_stock import SealReceipt
from pollstead.election.words import N_
from pollstead.plan.terms.version import CARRIED_OVER, ExpectedItem, ExpectedList
from pollstead.reconcile.diagnosis.known import Known, KnownNumbers, StockRun, VoidSeal, stock_run
from pollstead.reconcile.opening.labels import station_label
from pollstead.record.fold import Fold

COMPARED = ("serial", "seal", "memory device")
"""Items whose value is a number of one thing alone."""
_NO_NUMBER = ("", CARRIED_OVER, "in place")
TAG = N_("tag")
SERIAL = N_("serial")
MEMORY_DEVICE = N_("Memory device")


def known_numbers(
    election: Election, lists: tuple[ExpectedList, ...], folded: Fold | None = None
) -> KnownNumbers:
    """Every number known on the day that the lists are of; `folded` with private parts, for void seals."""
    labels: dict[str, str] = {}
    listed: list[Known] = []
    places: dict[str, tuple[str, str]] = {}
    for one in lists:
        for item in one.items:
            label = labels.setdefault(item.station, station_label(item.station, election))
            if item.device:
                places[item.device] = (one.site, label)
            if item.what in COMPARED and item.value not in _NO_NUMBER:
                listed.append(_listed(item, one.site, label))
    checks = SealChecks.of(election.seal_ranges)
    return KnownNumbers(
        (*listed, *_of_devices(election, places)), _runs(election, checks), _voids(election, folded), checks
    )


def _listed(item: ExpectedItem, site: str, label: str) -> Known:
    return Known(
        number=item.value,
        what=item.what,
        subject=item.subject,
        words=item.words,
        station=label,
        owner=item.device or item.station,
        site=site,
    )


def _of_devices(election: Election, places: dict[str, tuple[str, str]]) -> Iterator[Known]:
    """Tags of every device; serials, memory devices and seals of those that no list has."""
    closures = {c.id: c.name for kind in election.station_types for c in kind.closures}
    seals: dict[str, dict[tuple[str, int], str]] = {}
    for row in sorted(election.closure_seals, key=lambda r: (r.device, str(r.counts_from or ""))):
        seals.setdefault(row.device, {})[row.closure, row.position] = row.number
    for device in election.devices:
        site, label = places.get(device.id, ("", f"{device.kind} {device.serial}"))
        if device.tag:
            yield _of(device, "tag", TAG, device.tag, f"{device.id}/tag", site, label)
        if site:
            continue
        yield _of(device, "serial", SERIAL, device.serial, device.id, site, label)
        for memory in device.memory_devices:
            subject = f"memory-device/{memory}"
            yield _of(device, "memory device", MEMORY_DEVICE, memory, subject, site, label)
        for (closure, position), number in seals.get(device.id, {}).items():
            subject = f"closure/{device.id.removeprefix('device/')}/{closure}"
            subject += f"/{position}" if position > 1 else ""
            yield _of(device, "seal", closures.get(closure, closure), number, subject, site, label)


def _of(device: Device, what: str, words: str, number: str, subject: str, site: str, label: str) -> Known:
    return Known(
        number=number, what=what, subject=subject, words=words, station=label, owner=device.id, site=site
    )


def _runs(election: Election, checks: SealChecks) -> Iterator[StockRun]:
    rows: tuple[SealRange | SealReceipt, ...] = (*election.seal_ranges, *election.seal_receipts)
    for row in rows:
        check = row.scheme if isinstance(row, SealRange) else checks.scheme_of(row.seal_kind, row.first)
        run = stock_run(row.series, row.first, row.last, check)
        # Rows whose ends do not belong together are named when the tables are read.
        if run is not None:
            yield run


def _voids(election: Election, folded: Fold | None) -> Iterator[VoidSeal]:
    for row in election.seal_voids:
        yield VoidSeal(number=row.number, reason=row.reason)
    for fact in () if folded is None else folded.named("seal.voided"):
        for reading in fact.current:
            number = None if reading.private is None else reading.private.get("number")
            if isinstance(number, str) and number:
                yield VoidSeal(number=number, reason=str(reading.value.get("why", "")))
