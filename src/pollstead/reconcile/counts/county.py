"""I13: what the sites counted is what was received is what the canvass has, per quantity, mode and style.

Each comparison is a row of whole numbers like any balance: the readings of a site's days, minus what
receiving or the canvass has of it. A number that nobody read is missing and never zero; a row that misses
one says which. Every count is in once and only once: a memory device read twice and one never read are told
by the same rows (`uploads`).
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator

import msgspec

from pollstead.election.station_type import CountUnit
from pollstead.election.words import N_
from pollstead.reconcile.counts.balance import BalanceLine, Origin, Reading, evaluate
from pollstead.reconcile.counts.county_shapes import (
    LEDGER_WORD,
    TOLD,
    CountyRow,
    CountyTable,
    SiteCounts,
    place_key,
    total_key,
    uploaded_key,
)
from pollstead.reconcile.counts.equations import Equation
from pollstead.reconcile.counts.quantities import (
    ALL_MODES,
    BY_QUANTITY,
    CAST,
    PUBLIC_CLOSE,
    REGISTRY,
    SiteSum,
    mode_of,
    site_sum,
)
from pollstead.reconcile.counts.received_uploads import held_before, uploads_of_place
from pollstead.reconcile.counts.terms import key_of
from pollstead.reconcile.counts.totals import Ledger, TypedTotal
from pollstead.reconcile.counts.uploads import MachineOut, MachineUploads, Upload, machine_uploads
from pollstead.reconcile.day import DayReport

RECEIVED_WORDS = N_("What the site counted is what was received")
CANVASS_WORDS = N_("What the site counted is what the canvass has")
UPLOADED_WORDS = N_("What the machine counted is what was read of its memory device")
CARRIED_COUNTER = "I10-public"
"""The row of a public counter that begins a day where it ended the day before."""
COUNTY_WORDS = N_("What the sites have together is the total of the county")


def site_counts(reports: Iterable[DayReport], election_day: dt.date) -> tuple[SiteCounts, ...]:
    """What every site counted on every day, by site and date."""
    found = []
    for report in reports:
        for day in report.sites:
            mode = mode_of(report.date, election_day)
            # A device that marks and does not count has nothing to be read twice.
            counting = {line.key for line in (day.balance.lines if day.balance is not None else ())}
            machines = tuple(
                MachineOut(
                    site=day.site,
                    mode=mode,
                    day=report.date.isoformat(),
                    device=machine.device,
                    memory=tuple(line.id for line in machine.lines),
                )
                for machine in day.memory
                if machine.must_travel and key_of(PUBLIC_CLOSE, machine.device) in counting
            )
            carried = {line.subject for line in day.lines if line.equation == CARRIED_COUNTER}
            found.append(
                SiteCounts(
                    site=day.site,
                    name=day.name,
                    date=report.date,
                    mode=mode,
                    balance=day.balance,
                    readings=day.readings,
                    machines=machines,
                    carried=tuple(sorted(carried)),
                )
            )
    return tuple(sorted(found, key=lambda one: (one.site, one.date)))


def county_table(
    days: tuple[SiteCounts, ...], totals: tuple[TypedTotal, ...], uploads: tuple[Upload, ...]
) -> CountyTable:
    """The county table from what the sites counted, typed totals and uploads; their order is no matter."""
    days = tuple(sorted(days, key=lambda one: (one.site, one.date)))
    out = _machines(days)
    machines, strangers = machine_uploads(out, uploads)
    numbers = _Numbers(days, totals, machines)
    rows = tuple(_site_rows(days, numbers))
    placed = {(row.site, row.mode, row.quantity) for row in rows}
    county = tuple(_county_rows(rows, numbers))
    known = placed | {("", row.mode, row.quantity) for row in county}
    return CountyTable(
        rows=rows,
        totals=county,
        machines=machines,
        uploaded=tuple(numbers.evaluated(_uploaded(one, days)) for one in machines),
        strangers=strangers,
        unplaced=tuple(one for one in totals if (one.site, one.mode, one.quantity) not in known),
    )


class _Numbers:
    """Every reading that the rows stand on, and which totals were typed of what."""

    def __init__(
        self,
        days: tuple[SiteCounts, ...],
        totals: tuple[TypedTotal, ...],
        machines: tuple[MachineUploads, ...],
    ) -> None:
        self.machines = machines
        self.typed: dict[tuple[str, str, str], set[tuple[Ledger, str, str]]] = defaultdict(set)
        found = [
            msgspec.structs.replace(reading, key=place_key(day.site, day.date, reading.key))
            for day in days
            for reading in day.readings
        ]
        groups: dict[tuple[str, int], list[TypedTotal]] = defaultdict(list)
        for one in totals:
            for style in ("", *(style for style, _ in one.styles)):
                self.typed[(one.site, one.mode, one.quantity)].add((one.ledger, style, one.day))
                value = one.value(style)
                if value is not None:
                    key = total_key(one.ledger, one.site, one.mode, one.quantity, style, one.day)
                    groups[(key, value)].append(one)
        for (key, value), group in sorted(groups.items(), key=lambda item: item[0]):
            found.append(_reading(key, value, tuple(one.origin for one in group)))
        found += held_before(days)
        found += [
            _reading(uploaded_key(one.machine.device), one.count, tuple(u.origin for u in one.taken))
            for one in machines
            if one.count is not None
        ]
        self.readings: dict[str, list[Reading]] = defaultdict(list)
        for reading in found:
            self.readings[reading.key].append(reading)

    def evaluated(self, equation: Equation) -> BalanceLine:
        """One row on the readings of its own keys."""
        (line,) = evaluate((equation,), [r for _, key in equation.terms for r in self.readings.get(key, ())])
        return line

    def days_of(
        self, ledger: Ledger, site: str, mode: str, quantity: str, style: str, dates: Iterable[dt.date]
    ) -> tuple[str, ...]:
        """The days whose totals make up what a ledger has: "" for one of the whole election; () for none.

        Where totals were typed day by day every operating day is wanted.
        """
        told = {
            day
            for of, part, day in self.typed.get((site, mode, quantity), set())
            if (of, part) == (ledger, style)
        }
        if not told or "" in told:
            return ("",) if told else ()
        return tuple(sorted({*told, *(date.isoformat() for date in dates)}))


def _reading(key: str, value: int, origins: tuple[Origin, ...]) -> Reading:
    last = max(origins, key=lambda origin: (origin.utc_ms, origin.event))
    people = tuple(dict.fromkeys(person for origin in origins for person in origin.people))
    return Reading(key=key, value=value, event=last.event, people=people, utc_ms=last.utc_ms, origins=origins)


def _machines(days: tuple[SiteCounts, ...]) -> tuple[MachineOut, ...]:
    """Each machine once, with the last day on which its memory devices left it."""
    last: dict[str, MachineOut] = {}
    for day in sorted(days, key=lambda one: (one.date, one.site)):
        for machine in day.machines:
            last[machine.device] = machine
    return tuple(sorted(last.values(), key=lambda machine: (machine.site, machine.device)))


def _uploaded(one: MachineUploads, days: tuple[SiteCounts, ...]) -> Equation:
    machine = one.machine
    key = key_of(PUBLIC_CLOSE, machine.device)
    here = next(d for d in days if (d.site, d.date.isoformat()) == (machine.site, machine.day))
    lines = () if here.balance is None else here.balance.lines
    in_sheets = any(line.key == key and line.unit == CountUnit.SHEETS for line in lines)
    in_ballots = bool(one.taken) and all(upload.unit == "ballots" for upload in one.taken)
    times = here.balance.sheets_per_ballot if here.balance and in_sheets and in_ballots else 1
    return Equation(
        id="I13-uploaded",
        words=UPLOADED_WORDS,
        subject=machine.device,
        unit=CountUnit.SHEETS if in_sheets and times != 1 else CountUnit.BALLOTS,
        terms=((1, place_key(machine.site, here.date, key)), (-times, uploaded_key(machine.device))),
    )


def _site_rows(days: tuple[SiteCounts, ...], numbers: _Numbers) -> Iterator[CountyRow]:
    by_place: dict[tuple[str, str], list[SiteCounts]] = defaultdict(list)
    together = {site for site, mode, _ in numbers.typed if mode == ALL_MODES}
    for day in days:
        by_place[(day.site, day.mode)].append(day)
        if day.site in together:
            by_place[(day.site, ALL_MODES)].append(day)
    for (site, mode), here in by_place.items():
        for quantity in REGISTRY:
            typed = numbers.typed.get((site, mode, quantity.id), set())
            # Where the canvass knows no ways of voting, nothing is missing of each one.
            apart = not numbers.typed.get((site, ALL_MODES, quantity.id))
            expected = quantity.always and mode != ALL_MODES and apart
            if not (expected or typed):
                continue
            for style in ("", *sorted({style for _, style, _ in typed if style})):
                row = _site_row(here, mode, quantity.id, style, numbers, expected=expected and not style)
                if row is not None:
                    yield row


def _site_row(
    here: list[SiteCounts], mode: str, quantity: str, style: str, numbers: _Numbers, *, expected: bool
) -> CountyRow | None:
    site = here[0].site
    sums = [
        (day, found)
        for day in here
        if day.balance is not None and (found := site_sum(quantity, day.balance, style)) is not None
    ]
    if not sums:
        return None
    terms = tuple((c, place_key(site, day.date, key)) for day, found in sums for c, key in found.terms)
    shape = sums[-1][1]
    dates = [day.date for day, _ in sums]
    told = {ledger: numbers.days_of(ledger, site, mode, quantity, style, dates) for ledger in Ledger}
    of = (site, mode, quantity, style, shape)
    received = _ledger_terms(Ledger.RECEIVING, *of, told[Ledger.RECEIVING])
    if not received and quantity == CAST and not style:
        received = uploads_of_place([day for day, _ in sums], mode, shape, numbers.machines)
    canvass = _ledger_terms(Ledger.CANVASS, *of, told[Ledger.CANVASS] or (("",) if expected else ()))
    subject = f"site/{site}"
    return CountyRow(
        site=site,
        name=here[0].name,
        mode=mode,
        quantity=quantity,
        style=style,
        unit=shape.unit.value,
        per_ballot=0 if shape.by_style else shape.per_ballot,
        own=_line("I13-own", BY_QUANTITY[quantity].words, subject, shape.unit, terms, numbers),
        received=_compared("I13-received", RECEIVED_WORDS, subject, shape, terms, received, numbers),
        canvass=_compared("I13-canvass", CANVASS_WORDS, subject, shape, terms, canvass, numbers),
    )


Terms = tuple[tuple[int, str], ...]


def _ledger_terms(
    ledger: Ledger,
    site: str,
    mode: str,
    quantity: str,
    style: str,
    shape: SiteSum,
    days: tuple[str, ...],
) -> Terms:
    """The terms of what a ledger has, one for each of `days`; by style where ballots differ in sheets."""
    parts = shape.by_style or ((style, shape.per_ballot),)
    return tuple(
        (-sheets, total_key(ledger, site, mode, quantity, part, day))
        for day in days
        for part, sheets in parts
    )


def _compared(
    name: str, words: str, subject: str, shape: SiteSum, own: Terms, told: Terms, numbers: _Numbers
) -> BalanceLine | None:
    if not told:
        return None
    return _line(name, words, subject, shape.unit, (*own, *told), numbers)


def _line(
    name: str, words: str, subject: str, unit: CountUnit, terms: Terms, numbers: _Numbers
) -> BalanceLine:
    equation = Equation(id=name, words=words, subject=subject, unit=unit, terms=terms)
    return numbers.evaluated(equation)


def _county_rows(rows: tuple[CountyRow, ...], numbers: _Numbers) -> Iterator[CountyRow]:
    """What the sites have together, in each ledger, against the county's own total where one was typed."""
    groups: dict[tuple[str, str, str], list[CountyRow]] = defaultdict(list)
    for row in rows:
        groups[(row.mode, row.quantity, row.style)].append(row)
    for (mode, quantity, style), group in groups.items():
        if len({(row.unit, row.per_ballot) for row in group}) > 1:
            continue  # Sheets and ballots are never added up.
        unit = CountUnit(group[0].unit)
        own = tuple((t.coefficient, t.key) for row in group for t in row.own.terms)
        words = BY_QUANTITY[quantity].words
        yield CountyRow(
            site="",
            name="",
            mode=mode,
            quantity=quantity,
            style=style,
            unit=unit.value,
            per_ballot=group[0].per_ballot,
            own=_line("I13-own", words, "county", unit, own, numbers),
            received=_county_line(Ledger.RECEIVING, group, mode, quantity, style, own, numbers),
            canvass=_county_line(Ledger.CANVASS, group, mode, quantity, style, own, numbers),
        )


def _county_line(
    ledger: Ledger,
    group: list[CountyRow],
    mode: str,
    quantity: str,
    style: str,
    own: Terms,
    numbers: _Numbers,
) -> BalanceLine | None:
    unit, per_ballot = CountUnit(group[0].unit), group[0].per_ballot
    name = f"I13-{LEDGER_WORD[ledger]}-county"
    days = numbers.days_of(ledger, "", mode, quantity, style, ())
    if days and per_ballot:
        told: Terms = tuple((-per_ballot, total_key(ledger, "", mode, quantity, style, day)) for day in days)
        return _line(name, COUNTY_WORDS, "county", unit, (*own, *told), numbers)
    lines = [row.received if ledger is Ledger.RECEIVING else row.canvass for row in group]
    if not all(lines):
        return None
    told = tuple(
        (t.coefficient, t.key)
        for line in lines
        if line is not None
        for t in line.terms
        if t.key.startswith(TOLD)
    )
    return _line(name, COUNTY_WORDS, "county", unit, (*own, *told), numbers)
