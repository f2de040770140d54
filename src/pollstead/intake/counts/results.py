"""The open results format as a table of counts: one row for each way of voting of a reporting unit.

The format is NIST SP 1500-100, Election Results Common Data Format, version 2. Of a report only the counts of
ballots are read; contests, candidates and votes are passed over and never held. Units nest, so one level is
read: sites where the report counts by site, else precincts. Counts of wider areas and of single devices would
count the same ballots again; they are kept as skipped, with the reason.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable

from pollstead.election.notice import Notice, Place
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.intake.counts.mapping import ALL_MODES, ColumnUse, CountMapping, Meaning, Role, Target
from pollstead.intake.counts.table import CountTable
from pollstead.intake.csv_text import Row
from pollstead.intake.foreign import Skipped
from pollstead.intake.notices import cannot_read

STANDARD = "NIST SP 1500-100 version 2"

SITES = frozenset({"polling-place", "vote-center", "drop-box"})
PRECINCTS = frozenset({"precinct", "split-precinct", "combined-precinct", "ballot-style-area"})
WHOLE = frozenset({"county"})
ABSENTEE = "absentee"
"""A value of CountItemType whose parts have values of their own, such as absentee-mail."""
NO_BALLOTS = frozenset({"seats", "write-in"})
"""Values of CountItemType that count no ballots."""

UNIT, IDENTIFIER, KIND, ITEM, CAST, OUTSTANDING, REJECTED = (
    "ReportingUnit",
    "GpUnitId",
    "ReportingUnitType",
    "CountItemType",
    "BallotsCast",
    "BallotsOutstanding",
    "BallotsRejected",
)
HEADER = (UNIT, IDENTIFIER, KIND, ITEM, CAST, OUTSTANDING, REJECTED)

ITEM_MODES = (
    Meaning(id=ALL_MODES, words=("total",)),
    Meaning(id="election_day", words=("election-day",)),
    Meaning(id="early", words=("early", "absentee-in-person")),
    Meaning(id="absentee", words=("absentee", "absentee-mail", "absentee-fwab", "uocava")),
    Meaning(id="provisional", words=("provisional",)),
)
"""CountItemType in the coded words of this tool (ours; a person confirms them with the rest)."""


class Unit(Value, frozen=True, kw_only=True):
    """A reporting unit or device of the report: `kind` is its type, ``device`` for a device."""

    id: str
    kind: str
    name: str = ""
    others: tuple[str, ...] = ()

    @property
    def texts(self) -> tuple[str, ...]:
        """Every text by which a county may know it."""
        return tuple(filter(None, (self.name, self.id, *self.others)))


class BallotCount(Value, frozen=True, kw_only=True):
    """One BallotCounts of the report, in its order, from 1; `device` is its device class, "" for all."""

    number: int
    unit: str
    item: str
    device: str = ""
    cast: int | None = None
    outstanding: int | None = None
    rejected: int | None = None
    suppressed: bool = False
    round: int | None = None


class ElectionCounts(Value, frozen=True, kw_only=True):
    """The ballot counts of one election of a report."""

    name: str
    counts: tuple[BallotCount, ...]


class Report(Value, frozen=True, kw_only=True):
    """What is read of a report."""

    file: str
    status: str
    is_test: bool
    units: tuple[Unit, ...]
    elections: tuple[ElectionCounts, ...]


def standard_mapping(target: Target = Target.CANVASS) -> CountMapping:
    """What the columns of the format hold; a person confirms the names."""
    return CountMapping(
        header=HEADER,
        target=target,
        columns=(
            ColumnUse(theirs=UNIT, role=Role.SITE),
            ColumnUse(theirs=ITEM, role=Role.MODE),
            ColumnUse(theirs=CAST, role=Role.COUNT, quantity="ballots_cast"),
        ),
    )


def tables_of(
    report: Report, is_site: Callable[[str], bool], *, practice: bool
) -> tuple[tuple[CountTable, ...], tuple[Notice, ...]]:
    """The tables of a report, one for each election that counts ballots; faults instead where there are some.

    `is_site` says whether a text names a site of the county: of a unit's name and identifiers the first that
    does is shown. A test report is taken by a practice election alone.
    """
    if report.is_test and not practice:
        said = message(N_("{file} says that it is a test report"), file=report.file)
        remedy = message(N_("Take a test report into a practice election only."))
        place = Place(file=report.file, column="IsTest")
        return (), (cannot_read("test-report", place, said, found="IsTest", remedy=remedy),)
    units = {unit.id: unit for unit in report.units}
    counted = [one for one in report.elections if one.counts]
    tables, faults = [], []
    for election in counted:
        many = len(counted) > 1
        name = f"{report.file}#{election.name}" if many else report.file
        table, wrong = _table(name, election, units, is_site)
        faults += wrong
        if table is not None:
            tables.append(table)
    if not tables and not faults:
        said = message(N_("{file} counts no ballots by site or precinct"), file=report.file)
        remedy = message(
            N_("Ask for a report with BallotCounts for each reporting unit, or send a CSV file.")
        )
        faults.append(
            cannot_read(
                "no-ballot-counts", Place(file=report.file), said, wanted="BallotCounts", remedy=remedy
            )
        )
    return (tuple(tables), ()) if not faults else ((), tuple(faults))


def _table(
    name: str, election: ElectionCounts, units: dict[str, Unit], is_site: Callable[[str], bool]
) -> tuple[CountTable | None, list[Notice]]:
    faults, skipped = [], []
    by_unit: dict[str, list[BallotCount]] = defaultdict(list)
    for count in election.counts:
        unit = units.get(count.unit)
        if unit is None:
            faults.append(_fault(name, count, "GpUnitId", count.unit, N_("the id of a unit of this report")))
        elif why := _passed_over(count):
            skipped.append(_skip(count, unit, why))
        else:
            by_unit[count.unit].append(count)
    level = next(
        (kinds for kinds in (SITES, PRECINCTS) if any(units[u].kind in kinds for u in by_unit)), None
    )
    rows, totals = [], []
    for own, counts in by_unit.items():
        unit = units[own]
        whole = any(count.item == ABSENTEE for count in counts)
        parts = [count for count in counts if whole and count.item.startswith(f"{ABSENTEE}-")]
        skipped += [_skip(count, unit, N_("a part of absentee, which is read")) for count in parts]
        read, wrong, beside = _by_item(name, [count for count in counts if count not in parts], unit)
        faults += wrong
        skipped += beside
        if level is not None and unit.kind in level:
            rows += [_row(count, unit, is_site) for count in read]
        elif unit.kind in WHOLE:
            totals += [_row(count, unit, is_site) for count in read]
        else:
            why = N_("counts of one device") if unit.kind == "device" else N_("counts of a wider area")
            skipped += [_skip(count, unit, why) for count in read]
    if not rows:
        return None, faults
    return CountTable(
        name=name,
        header_row=0,
        header=HEADER,
        rows=tuple(sorted(rows, key=lambda row: row.number)),
        # A county's own number is of all rows only where neither is split by way of voting.
        totals=tuple(totals) if len(totals) == 1 and {row.cells[3] for row in rows} == {"total"} else (),
        skipped=tuple(sorted(skipped, key=lambda one: one.row)),
        standard=STANDARD,
    ), faults


def _passed_over(count: BallotCount) -> str:
    """Why a count is not read, or ""."""
    if count.suppressed:
        return N_("suppressed for privacy")
    if count.item in NO_BALLOTS:
        return N_("counts no ballots")
    if count.round not in (None, 1):
        return N_("a later round of counting")
    if count.cast is None and count.outstanding is None and count.rejected is None:
        return N_("holds no number")
    return ""


def _by_item(
    name: str, counts: list[BallotCount], unit: Unit
) -> tuple[list[BallotCount], list[Notice], list[Skipped]]:
    """One count for each way of voting of a unit: that of all devices where there is one, else their sum."""
    groups: dict[str, list[BallotCount]] = defaultdict(list)
    for count in counts:
        groups[count.item].append(count)
    read, faults, beside = [], [], []
    for group in groups.values():
        seen: dict[str, BallotCount] = {}
        for count in group:
            earlier = seen.setdefault(count.device, count)
            if earlier is not count:
                wanted = N_("each unit, way of voting and kind of device once")
                faults.append(_fault(name, count, IDENTIFIER, " ".join(unit.texts[:1]), wanted))
        whole = seen.get("")
        if whole is not None:
            read.append(whole)
            beside += [
                _skip(one, unit, N_("by kind of device; the number of all devices is read"))
                for one in group
                if one.device
            ]
        else:
            read.append(_together(group))
    return read, faults, beside


def _together(group: list[BallotCount]) -> BallotCount:
    def added(values: list[int | None]) -> int | None:
        known = [value for value in values if value is not None]
        return sum(known) if len(known) == len(values) else None

    first = group[0]
    return BallotCount(
        number=first.number,
        unit=first.unit,
        item=first.item,
        cast=added([one.cast for one in group]),
        outstanding=added([one.outstanding for one in group]),
        rejected=added([one.rejected for one in group]),
    )


def _row(count: BallotCount, unit: Unit, is_site: Callable[[str], bool]) -> Row:
    shown = next((text for text in unit.texts if is_site(text)), unit.texts[0])
    numbers = ("" if n is None else str(n) for n in (count.cast, count.outstanding, count.rejected))
    return Row(number=count.number, cells=(shown, unit.id, unit.kind, count.item, *numbers))


def _skip(count: BallotCount, unit: Unit, why: str) -> Skipped:
    return Skipped(row=count.number, why=why, text=" ".join((*unit.texts[:1], unit.kind, count.item)))


def _fault(name: str, count: BallotCount, column: str, found: str, wanted: str) -> Notice:
    return cannot_read(
        "ballot-counts",
        Place(file=name, row=count.number, column=column),
        message(N_("BallotCounts {n} of {file} cannot be read"), n=count.number, file=name),
        found=found,
        wanted=wanted,
        remedy=message(N_("Ask whoever made the report for a corrected one.")),
    )
