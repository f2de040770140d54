"""Contradictions between devices, seals, totals and decisions; the same contract as `contradictions`."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Iterator

from pollstead.election.check_characters import fits
from pollstead.election.county import ClosureSeal, Device, FixedValue, FleetTotal, SealRange, Site
from pollstead.election.notice import Place
from pollstead.election.seal_stock import body_of
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.intake.clashes import drops, grouped, row_list
from pollstead.intake.notices import contradicts
from pollstead.intake.records import nearest
from pollstead.intake.taken import Clash, Drop, Taken

_NUMBER = re.compile(r"(.*?)([0-9]{1,15})", re.DOTALL)


class SealNumber(Value, frozen=True, kw_only=True):
    """A seal number as what stands before its digits, how many digits, and their value."""

    before: str
    digits: int
    value: int


def seal_number(text: str) -> SealNumber | None:
    """The parts of a seal number; None where it does not end in digits."""
    found = _NUMBER.fullmatch(text)
    return SealNumber(before=found[1], digits=len(found[2]), value=int(found[2])) if found else None


def devices_twice(taken: Taken) -> Iterator[Clash]:
    """A device listed twice (perhaps at two homes), a serial or tag of two devices."""
    rows = taken.of(Device)
    for group in grouped(rows, lambda d: d.id):
        device = group[0][1].id
        homes = [d.home or "-" for _, d in group]
        two = len(set(homes)) > 1
        yield Clash(
            notice=contradicts(
                "device-at-two-homes" if two else "device-twice",
                f"device/{device.removeprefix('device/')}",
                Place(file="devices.csv", row=group[1][0], column="home" if two else "id"),
                message(
                    N_("Device {device} stands in rows {rows}, at {found}"),
                    device=device,
                    rows=row_list(group),
                    found=", ".join(homes),
                ),
                found=", ".join(homes),
                wanted="each device once",
                remedy=message(N_("Keep the row that is right.")),
                depends=tuple(homes),
            ),
            drops=drops("devices", group),
        )
    for field, rule in (("serial", "serial-twice"), ("tag", "tag-twice")):
        filled = [(n, d) for n, d in rows if getattr(d, field)]
        for group in grouped(filled, lambda d, field=field: (d.kind, getattr(d, field))):  # type: ignore[misc]
            ids = sorted({d.id for _, d in group})
            if len(ids) < 2 or (field == "tag" and len({d.home for _, d in group}) == 1):
                continue
            found = getattr(group[0][1], field)
            yield Clash(
                notice=contradicts(
                    rule,
                    f"{field}/{group[0][1].kind}/{found}",
                    Place(file="devices.csv", row=group[1][0], column=field),
                    message(
                        N_("{field} {found} stands in rows {rows} of devices.csv"),
                        field=field,
                        found=found,
                        rows=row_list(group),
                    ),
                    found=found,
                    wanted="each once within a kind of device",
                    remedy=message(N_("Read the plate of both devices again.")),
                    depends=tuple(ids),
                ),
                drops=drops("devices", group),
            )


def memory_devices_twice(taken: Taken) -> Iterator[Clash]:
    """A memory device that stands in two machines."""
    holders: dict[str, list[tuple[int, Device]]] = defaultdict(list)
    for number, device in taken.of(Device):
        for memory in device.memory_devices:
            holders[memory].append((number, device))
    for memory, group in sorted(holders.items()):
        if len(group) > 1:
            yield Clash(
                notice=contradicts(
                    "memory-device-twice",
                    f"memory device/{memory}",
                    Place(file="devices.csv", row=group[1][0], column="memory_devices"),
                    message(
                        N_("Memory device {memory} stands in rows {rows} of devices.csv"),
                        memory=memory,
                        rows=row_list(group),
                    ),
                    found=memory,
                    wanted="each memory device in one machine",
                    remedy=message(N_("Look into both machines.")),
                    depends=tuple(sorted(d.id for _, d in group)),
                ),
                drops=drops("devices", group),
            )


def decided_places(taken: Taken) -> Iterator[Clash]:
    """A device decided for a site that is not listed, or without a reason."""
    sites = tuple(s.id for _, s in taken.of(Site))
    for number, device in taken.of(Device):
        if device.fixed and sites and device.fixed not in sites:
            rule, column, found = "device-fixed-unknown", "fixed", device.fixed
            text = N_("Device {device} is decided for site {found}, which sites.csv does not list")
            wanted = nearest(found, sites) or "a site id from sites.csv"
        elif device.fixed and not device.reason.strip():
            rule, column, found = "device-fixed-reason", "reason", "blank"
            text = N_("Device {device} is decided for a site without a reason")
            wanted = "the reason"
        else:
            continue
        yield Clash(
            notice=contradicts(
                rule,
                f"device/{device.id.removeprefix('device/')}",
                Place(file="devices.csv", row=number, column=column),
                message(text, device=device.id, found=found),
                found=found,
                wanted=wanted,
                remedy=message(N_("Correct the row, or leave both cells blank.")),
            ),
            drops=(Drop(table="devices", row=number),),
        )


def totals_and_decisions_twice(taken: Taken) -> Iterator[Clash]:
    """Two totals for one kind of device, two decisions about one field."""
    totals = grouped(taken.of(FleetTotal), lambda t: t.kind)
    decisions = grouped(taken.of(FixedValue), lambda f: (f.table, f.row, f.field))
    found = [
        ("fleet_totals", f"kind/{g[0][1].kind}", g, " / ".join(str(t.count) for _, t in g)) for g in totals
    ] + [
        ("fixed", f"{g[0][1].table}/{g[0][1].row}/{g[0][1].field}", g, " / ".join(f.value for _, f in g))
        for g in decisions
    ]
    for table, subject, group, values in found:
        yield Clash(
            notice=contradicts(
                f"{table.replace('_', '-')}-twice",
                subject,
                Place(file=f"{table}.csv", row=group[1][0]),
                message(
                    N_("{subject} stands in rows {rows} of {file}: {found}"),
                    subject=subject,
                    rows=row_list(group),
                    file=f"{table}.csv",
                    found=values,
                ),
                found=values,
                wanted="one row",
                remedy=message(N_("Keep the row that is right.")),
            ),
            drops=drops(table, group),
        )


def _range_fault(span: SealRange) -> str:
    for text in (span.first, span.last):
        if not fits(span.scheme, text):
            return N_("Row {row} of seal_ranges.csv: a check character does not fit its number")
    first, last = (seal_number(body_of(text, span.scheme)) for text in (span.first, span.last))
    if first is None or last is None:
        return N_("Row {row} of seal_ranges.csv: a seal number must end in digits")
    if first.before != last.before or first.digits != last.digits:
        return N_("Row {row} of seal_ranges.csv: first and last are not of one shape; were zeros lost?")
    if first.value > last.value:
        return N_("Row {row} of seal_ranges.csv: first is above last")
    return ""


def seal_ranges(taken: Taken) -> Iterator[Clash]:
    """A range that cannot be counted, and ranges of one kind and series that overlap.

    Notices name rows, never numbers: their keys are signed when somebody decides about them.
    """
    countable: dict[tuple[str, str, str, int], list[tuple[int, int, int]]] = defaultdict(list)
    for number, span in taken.of(SealRange):
        fault = _range_fault(span)
        if fault:
            yield Clash(
                notice=contradicts(
                    "seal-range",
                    f"seal range/{span.seal_kind}/{span.series}/row {number}",
                    Place(file="seal_ranges.csv", row=number, column="first"),
                    message(fault, row=number),
                    found="first and last as typed",
                    depends=(fault, str(number)),
                    wanted="from and to of one shape, such as 0048001 to 0048400",
                    remedy=message(N_("Read both numbers from the box again.")),
                ),
                drops=(Drop(table="seal_ranges", row=number),),
            )
            continue
        first, last = (seal_number(body_of(text, span.scheme)) for text in (span.first, span.last))
        if first is not None and last is not None:
            shape = (span.seal_kind, span.series, first.before, first.digits)
            countable[shape].append((first.value, last.value, number))
    for (kind, series, _, _), spans in sorted(countable.items()):
        highest, highest_row = -1, 0
        for low, high, number in sorted(spans):
            if low <= highest:
                rows = sorted((highest_row, number))
                yield Clash(
                    notice=contradicts(
                        "seal-ranges-overlap",
                        f"seal range/{kind}/{series}/row {number}",
                        Place(file="seal_ranges.csv", row=number, column="first"),
                        message(
                            N_("Rows {first} and {second} of seal_ranges.csv overlap in series {series}"),
                            first=rows[0],
                            second=rows[1],
                            series=series,
                        ),
                        found="numbers that both rows hold",
                        depends=tuple(map(str, rows)),
                        wanted="ranges that do not overlap",
                        remedy=message(N_("Read the numbers from both boxes again.")),
                    ),
                    drops=tuple(Drop(table="seal_ranges", row=row) for row in rows),
                )
            if high > highest:
                highest, highest_row = high, number


def closure_seals(taken: Taken) -> Iterator[Clash]:
    """A closure with two numbers, a number on two closures, a device or closure that is not described."""
    rows = taken.of(ClosureSeal)
    devices = {d.id: d for _, d in taken.of(Device)}
    kinds = closure_kinds(taken)

    def clash(
        rule: str, group: list[tuple[int, ClosureSeal]], text: str, found: str, wanted: str, column: str
    ) -> Clash:
        number, seal = group[-1]
        home = devices[seal.device].home if seal.device in devices else ""
        return Clash(
            notice=contradicts(
                rule,
                f"closure/{seal.device.removeprefix('device/')}/{seal.closure}/{seal.position}",
                Place(file="closure_seals.csv", row=number, column=column),
                message(text, row=number, rows=row_list(group), device=seal.device, closure=seal.closure),
                found=found,
                wanted=wanted,
                remedy=message(N_("Look at the device and read it again.")),
            ),
            drops=drops("closure_seals", group),
            sites=(home,) if home else (),
        )

    for group in grouped(rows, lambda s: (s.device, s.closure, s.position, s.counts_from)):
        yield clash(
            "closure-twice",
            group,
            N_("Closure {closure} of {device} has two numbers, in rows {rows} of closure_seals.csv"),
            "two numbers",
            "one number for each seal of a closure and day",
            "position",
        )
    for group in grouped(rows, lambda s: (_kind_of(s, devices, kinds), s.number)):
        if len({(s.device, s.closure, s.position) for _, s in group}) > 1:
            yield clash(
                "seal-number-twice",
                group,
                N_("One seal number stands on two closures, in rows {rows} of closure_seals.csv"),
                "the same number twice",
                "each number once within a kind of seal",
                "number",
            )
    if not devices:
        return
    for number, seal in rows:
        device = devices.get(seal.device)
        if device is None:
            yield clash(
                "closure-device-unknown",
                [(number, seal)],
                N_("Row {row} of closure_seals.csv: devices.csv does not list {device}"),
                seal.device,
                nearest(seal.device, tuple(devices)) or "a device id from devices.csv",
                "device",
            )
        elif taken.station_types and (device.kind, seal.closure) not in kinds:
            known = sorted(c for kind, c in kinds if kind == device.kind)
            yield clash(
                "closure-unknown",
                [(number, seal)],
                N_("Row {row} of closure_seals.csv: no station type describes closure {closure} of {device}"),
                seal.closure,
                ", ".join(known) or "a closure from station_types.toml",
                "closure",
            )


def closure_kinds(taken: Taken) -> dict[tuple[str, str], str]:
    """Kind of seal by kind of device and closure, from the station types."""
    kinds: dict[tuple[str, str], str] = {}
    for station_type in taken.station_types:
        device_kind = {part.id: part.device_kind for part in station_type.parts}
        for closure in station_type.closures:
            names = [device_kind.get(closure.part, "")] if closure.part else list(device_kind.values())
            for name in names:
                if name:
                    kinds[(name, closure.id)] = closure.seal_kind
    return kinds


def _kind_of(seal: ClosureSeal, devices: dict[str, Device], kinds: dict[tuple[str, str], str]) -> str:
    device = devices.get(seal.device)
    return kinds.get((device.kind, seal.closure), "") if device else ""


CHECKS: tuple[Callable[[Taken], Iterator[Clash]], ...] = (
    devices_twice,
    memory_devices_twice,
    decided_places,
    totals_and_decisions_twice,
    seal_ranges,
    closure_seals,
)
