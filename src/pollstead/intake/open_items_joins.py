"""Open items about values that do not join: names leading nowhere, sums that differ, seals not in stock."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator

from pollstead.election.check_characters import fits
from pollstead.election.county import (
    ArrivalShare,
    ClosureSeal,
    Device,
    FleetTotal,
    PastCount,
    Person,
    Precinct,
    SealRange,
    Site,
)
from pollstead.election.notice import Notice, Place
from pollstead.election.seal_checks import SealChecks
from pollstead.election.seal_stock import SealBlock, SealReceipt, SealReturn, SealVoid, body_of
from pollstead.election.words import N_, message
from pollstead.intake.contradictions_fleet import closure_kinds, seal_number
from pollstead.intake.notices import due_before, open_item
from pollstead.intake.tables import (
    EQUIPMENT,
    OFFICIAL,
    PEOPLE,
    HoursRow,
)
from pollstead.intake.taken import Taken


def names_that_lead_nowhere(taken: Taken) -> Iterator[Notice]:
    """Past counts of unknown units, devices of unknown kinds or homes, people who are not listed."""
    sites = {s.id for _, s in taken.of(Site)}
    units = sites | {p.id for _, p in taken.of(Precinct)}
    past = [(n, r.unit) for n, r in taken.of(PastCount) if r.unit not in units]
    kinds = {p.device_kind for t in taken.station_types for p in t.parts if p.device_kind}
    devices = taken.of(Device)
    persons = {p.id for _, p in taken.of(Person)}
    named = [(n, who) for n, s in taken.of(Site) for who in (*s.openers, s.contact or "") if who]
    cases: tuple[tuple[str, str, str, list[tuple[int, str]], str, str, int], ...] = (
        (
            "past-unit-unknown",
            "history.csv",
            "unit",
            past if sites and not {"sites.csv", "precincts.csv"} & set(taken.unread) else [],
            N_("{count} past counts are of units that are neither a precinct nor a site now ({names})"),
            OFFICIAL,
            120,
        ),
        (
            "device-kind-unknown",
            "devices.csv",
            "kind",
            [(n, d.kind) for n, d in devices if kinds and d.kind not in kinds],
            N_("{count} devices are of a kind that no station type uses ({names})"),
            EQUIPMENT,
            60,
        ),
        (
            "device-home-unknown",
            "devices.csv",
            "home",
            [(n, d.home) for n, d in devices if sites and d.home and d.home not in sites],
            N_("{count} devices have a home that is not a site ({names})"),
            EQUIPMENT,
            60,
        ),
        (
            "person-unknown",
            "sites.csv",
            "openers",
            [(n, who) for n, who in named if persons and who not in persons],
            N_("{count} people named at sites are not in people.csv ({names})"),
            PEOPLE,
            30,
        ),
        (
            "fleet-kind-unknown",
            "fleet_totals.csv",
            "kind",
            [(n, t.kind) for n, t in taken.of(FleetTotal) if kinds and t.kind not in kinds],
            N_("{count} totals are of a kind that no station type uses ({names})"),
            EQUIPMENT,
            90,
        ),
    )
    for rule, file, column, found, text, owner, days in cases:
        if found:
            names = list(dict.fromkeys(name for _, name in found))
            listed = ", ".join(names[:8]) + (" …" if len(names) > 8 else "")
            yield open_item(
                rule,
                f"{file}/{column}",
                message(text, count=len(found), names=listed),
                place=Place(file=file, row=found[0][0], column=column),
                found=listed,
                remedy=message(N_("Look for a typing error; what cannot be joined is not used.")),
                owner=owner,
                due=due_before(taken.election_day, days),
                depends=tuple(names),
            )


def numbers_worth_a_look(taken: Taken) -> Iterator[Notice]:
    """Registration that differs from its precincts' sum, totals unlike the list, seals outside stock."""
    by_site: Counter[str] = Counter()
    unknown = set()
    for _, precinct in taken.of(Precinct):
        if precinct.registered is None:
            unknown.add(precinct.site)
        else:
            by_site[precinct.site] += precinct.registered
    for number, site in taken.of(Site):
        total = by_site.get(site.id)
        if site.registered is None or total is None or site.id in unknown or total == site.registered:
            continue
        yield open_item(
            "registered-differs",
            f"site/{site.id}",
            message(
                N_("Site {site} has {found} registered, its precincts together {wanted}"),
                site=site.id,
                found=site.registered,
                wanted=total,
            ),
            place=Place(file="sites.csv", row=number, column="registered"),
            found=site.registered,
            wanted=str(total),
            remedy=message(N_("Look which of the lists is older.")),
            owner=OFFICIAL,
            due=due_before(taken.election_day, 60),
            depends=(str(site.registered), str(total)),
        )
    listed = Counter(device.kind for _, device in taken.of(Device))
    for number, fleet in taken.of(FleetTotal):
        if fleet.kind in listed and listed[fleet.kind] != fleet.count:
            yield open_item(
                "fleet-differs",
                f"kind/{fleet.kind}",
                message(
                    N_("{kind}: the total is {found}, devices.csv lists {wanted}"),
                    kind=fleet.kind,
                    found=fleet.count,
                    wanted=listed[fleet.kind],
                ),
                place=Place(file="fleet_totals.csv", row=number, column="count"),
                found=fleet.count,
                wanted=str(listed[fleet.kind]),
                remedy=message(N_("Count again, or complete the list.")),
                owner=EQUIPMENT,
                due=due_before(taken.election_day, 60),
                depends=(str(fleet.count), str(listed[fleet.kind])),
            )


def seals_outside_stock(taken: Taken) -> Iterator[Notice]:
    """Numbers on closures that are in no range of their kind of seal."""
    ranges = [span for _, span in taken.of(SealRange)]
    if not ranges:
        return
    kinds = closure_kinds(taken)
    device_kinds = {d.id: d.kind for _, d in taken.of(Device)}
    outside = []
    for number, seal in taken.of(ClosureSeal):
        kind = kinds.get((device_kinds.get(seal.device, ""), seal.closure))
        if kind is not None and not any(
            _holds(span, seal.number) for span in ranges if span.seal_kind == kind
        ):
            outside.append((number, seal))
    if outside:
        yield open_item(
            "seal-outside-stock",
            "closure_seals.csv/number",
            # The number itself is not shown: a printed list of notices must not tell it.
            message(
                N_("{count} seals on closures are in no range of seal_ranges.csv, row {row} first"),
                count=len(outside),
                row=outside[0][0],
            ),
            place=Place(file="closure_seals.csv", row=outside[0][0], column="number"),
            remedy=message(N_("Read the seal again, or add the range it came from.")),
            owner=EQUIPMENT,
            due=due_before(taken.election_day, 7),
            depends=tuple(f"{s.device}/{s.closure}/{s.position}" for _, s in outside),
        )


def check_characters(taken: Taken) -> Iterator[Notice]:
    """Numbers whose check character does not fit their series, table by table; no number is shown."""
    checks = SealChecks.of(span for _, span in taken.of(SealRange))
    if not checks.runs:
        return
    kinds = closure_kinds(taken)
    device_kinds = {d.id: d.kind for _, d in taken.of(Device)}
    rows: list[tuple[str, int, str, str, str]] = [
        (
            "closure_seals.csv",
            n,
            "number",
            kinds.get((device_kinds.get(s.device, ""), s.closure), ""),
            s.number,
        )
        for n, s in taken.of(ClosureSeal)
    ]
    rows += [("seal_voids.csv", n, "number", s.seal_kind, s.number) for n, s in taken.of(SealVoid)]
    for file, found in (
        ("seal_receipts.csv", taken.of(SealReceipt)),
        ("seal_returns.csv", taken.of(SealReturn)),
        ("seal_blocks.csv", taken.of(SealBlock)),
    ):
        for n, row in found:
            rows += [(file, n, column, row.seal_kind, getattr(row, column)) for column in ("first", "last")]
    wrong: dict[str, list[tuple[int, str]]] = {}
    for file, n, column, kind, text in rows:
        if checks.misread(kind, text):
            wrong.setdefault(file, []).append((n, column))
    for file, places in wrong.items():
        yield open_item(
            "seal-check-character",
            f"{file}/check character",
            message(
                N_("{count} numbers in {file} have a check character that does not fit, row {row} first"),
                count=len(places),
                file=file,
                row=places[0][0],
            ),
            place=Place(file=file, row=places[0][0], column=places[0][1]),
            remedy=message(N_("Look at the seal or the box and read it again.")),
            owner=EQUIPMENT,
            due=due_before(taken.election_day, 7),
            depends=tuple(f"{n}/{column}" for n, column in places),
        )


def _holds(span: SealRange, number: str) -> bool:
    if not fits(span.scheme, number):
        return False
    first, last, found = (seal_number(body_of(text, span.scheme)) for text in (span.first, span.last, number))
    if first is None or last is None or found is None:
        return number == span.first
    return (found.before, found.digits) == (
        first.before,
        first.digits,
    ) and first.value <= found.value <= last.value


def arrivals_worth_a_look(taken: Taken) -> Iterator[Notice]:
    """Arrival hours in which no site is open."""
    hours = taken.of(HoursRow)
    if not hours:
        return
    opens = min(row.opens_min for _, row in hours)
    closes = max(row.closes_min for _, row in hours)
    for number, share in taken.of(ArrivalShare):
        if share.share_ppm and (share.hour * 60 + 60 <= opens or share.hour * 60 >= closes):
            yield open_item(
                "arrivals-outside-hours",
                f"arrivals/{share.hour}",
                message(N_("Voters arrive in hour {hour}, when no site is open"), hour=share.hour),
                place=Place(file="arrivals.csv", row=number, column="hour"),
                found=share.hour,
                remedy=message(N_("Compare arrivals.csv with hours.csv.")),
                owner=OFFICIAL,
                due=due_before(taken.election_day, 60),
            )


CHECKS: tuple[Callable[[Taken], Iterator[Notice]], ...] = (
    names_that_lead_nowhere,
    numbers_worth_a_look,
    seals_outside_stock,
    check_characters,
    arrivals_worth_a_look,
)
