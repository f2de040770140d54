"""The county table: sites, receiving and canvass as one number per quantity, mode and style, never twice."""

from __future__ import annotations

import datetime as dt
import random
from typing import Any

import msgspec
from hypothesis import given
from hypothesis import strategies as st

from pollstead.election.rules import CountyRules, RuleSetting
from pollstead.election.station_type import (
    Counter,
    CountUnit,
    OpeningValue,
    SiteKind,
    StationType,
    StationUse,
    VoterStep,
)
from pollstead.reconcile.counts.balance import LineState, Origin, Reading
from pollstead.reconcile.counts.county import county_table
from pollstead.reconcile.counts.county_shapes import CountyRow, CountyTable, SiteCounts
from pollstead.reconcile.counts.equations import Balance, CountingDevice, build_balance
from pollstead.reconcile.counts.quantities import ALL_MODES, EARLY, ELECTION_DAY
from pollstead.reconcile.counts.totals import Ledger, TypedTotal
from pollstead.reconcile.counts.uploads import MachineOut, Upload

DAY = dt.date(2028, 11, 7)
EARLY_DAYS = (dt.date(2028, 11, 3), dt.date(2028, 11, 4))


def balance_of(site: str, device: str, unit: CountUnit, sheets: int) -> Balance:
    """A site with one scanner whose counter carries over."""
    counter = Counter(id="public", name="public counter", unit=unit, opening=OpeningValue.CARRIED_OVER)
    scanner = StationType(id="scanner", name="Scanner", step=VoterStep.CAST, counters=(counter,))
    kind = SiteKind(id="k", name="k", uses=(StationUse(station_type="scanner"),), balance=("provisional",))
    rules = CountyRules(settings=(RuleSetting(rule="sheets-per-ballot", value=sheets),))
    devices = (CountingDevice(id=device, station=f"station/{site}/scanner/1", station_type="scanner"),)
    return build_balance(site, kind, (scanner,), devices, rules)


def counted(
    site: str, date: dt.date, opened: int, closed: int, *, unit: CountUnit = CountUnit.SHEETS, sheets: int = 1
) -> SiteCounts:
    """What a site counted on a day: its scanner went from one number to another."""
    mode = ELECTION_DAY if date == DAY else EARLY
    device = f"device/scanner/{site}-{mode}"
    ballots = (closed - opened) // (sheets if unit is CountUnit.SHEETS else 1)
    values = {
        f"public_counter_open@{device}": opened,
        f"public_counter_close@{device}": closed,
        "check_ins": ballots + 1,
        "check_ins_cancelled": 1,
        "provisional_envelopes": 2,
    }
    return SiteCounts(
        site=site,
        name=f"Site {site}",
        date=date,
        mode=mode,
        balance=balance_of(site, device, unit, sheets),
        readings=tuple(Reading(key=key, value=value) for key, value in values.items()),
        machines=(
            MachineOut(
                site=site, mode=mode, day=date.isoformat(), device=device, memory=(f"M-{site}-{mode}",)
            ),
        ),
    )


def typed(ledger: Ledger, site: str, mode: str, quantity: str, value: int, day: str = "") -> TypedTotal:
    """A total as somebody typed it."""
    return TypedTotal(
        ledger=ledger,
        site=site,
        mode=mode,
        quantity=quantity,
        source="export",
        day=day,
        total=value,
        styles=(),
        origin=Origin(event=f"{ledger}{site}{mode}{quantity}{value}{day}", source="export"),
    )


def uploaded(site: str, mode: str, count: int, unit: str = "ballots") -> Upload:
    """A memory device read at the central place."""
    return Upload(
        memory=f"M-{site}-{mode}",
        count=count,
        unit=unit,
        state="taken",
        machine="",
        site=site,
        mode=mode,
        origin=Origin(event=f"{site}{mode}{count}", source="screen"),
    )


def county(*, unit: CountUnit = CountUnit.SHEETS, sheets: int = 1) -> tuple[SiteCounts, ...]:
    """Two sites on election day, one of them on two early days too; 400, 300 and 120 + 80 ballots."""
    n = sheets if unit is CountUnit.SHEETS else 1
    how: dict[str, Any] = {"unit": unit, "sheets": sheets}
    return (
        counted("S01", DAY, 0, 400 * n, **how),
        counted("S02", DAY, 0, 300 * n, **how),
        counted("S02", EARLY_DAYS[0], 0, 120 * n, **how),
        counted("S02", EARLY_DAYS[1], 120 * n, 200 * n, **how),
    )


CANVASS = tuple(
    typed(Ledger.CANVASS, site, mode, quantity, value)
    for site, mode, ballots, envelopes in (
        ("S01", ELECTION_DAY, 400, 2),
        ("S02", ELECTION_DAY, 300, 2),
        ("S02", EARLY, 200, 4),
    )
    for quantity, value in (
        ("ballots_cast", ballots),
        ("check_ins", ballots),
        ("provisional_envelopes", envelopes),
    )
)
UPLOADS = (
    uploaded("S01", ELECTION_DAY, 400),
    uploaded("S02", ELECTION_DAY, 300),
    uploaded("S02", EARLY, 200),
)


def row(table: CountyTable, site: str, mode: str, quantity: str) -> CountyRow:
    """One row of a table; site "" for the county."""
    rows = table.rows if site else table.totals
    return next(r for r in rows if (r.site, r.mode, r.quantity) == (site, mode, quantity))


def states(table: CountyTable) -> set[LineState]:
    """Every state that a comparison of the table has."""
    return {line.state for r in (*table.rows, *table.totals) for line in r.lines} | {
        line.state for line in table.uploaded
    }


def test_early_days_add_up_to_one_total_of_the_mode() -> None:
    """What a counter that carries over moved on each day is the mode's total; no day is counted twice."""
    table = county_table(county(), CANVASS, UPLOADS)
    assert row(table, "S02", EARLY, "ballots_cast").own.difference == 200
    assert row(table, "S02", EARLY, "provisional_envelopes").own.difference == 4
    assert row(table, "", ELECTION_DAY, "ballots_cast").own.difference == 700
    assert states(table) == {LineState.ZERO}


def test_sheets_are_compared_with_ballots_by_the_sheets_of_one_ballot() -> None:
    """Scanners that count two sheets a ballot: the canvass has ballots, the row is in sheets and zero."""
    table = county_table(county(sheets=2), CANVASS, UPLOADS)
    found = row(table, "S01", ELECTION_DAY, "ballots_cast")
    assert (found.unit, found.own.difference, found.value_of(Ledger.CANVASS)) == ("sheets", 800, 800)
    assert states(table) == {LineState.ZERO}
    one_off = county_table(county(sheets=2), CANVASS, (uploaded("S01", ELECTION_DAY, 399), *UPLOADS[1:]))
    assert row(one_off, "S01", ELECTION_DAY, "ballots_cast").received.difference == 2  # type: ignore[union-attr]
    in_sheets = tuple(uploaded(u.site, u.mode, u.count * 2, "sheets") for u in UPLOADS)
    assert states(county_table(county(sheets=2), CANVASS, in_sheets)) == {LineState.ZERO}


def test_totals_typed_day_by_day_want_every_day_of_the_mode() -> None:
    """One of two early days was typed: the other is named missing; both make the total."""
    rest = tuple(t for t in CANVASS if (t.site, t.mode, t.quantity) != ("S02", EARLY, "check_ins"))
    first = typed(Ledger.CANVASS, "S02", EARLY, "check_ins", 120, EARLY_DAYS[0].isoformat())
    line = row(county_table(county(), (*rest, first), UPLOADS), "S02", EARLY, "check_ins").canvass
    assert line is not None and line.state is LineState.NOT_READ
    assert line.missing == ("canvass/S02/early/check_ins/2028-11-04",)
    second = typed(Ledger.CANVASS, "S02", EARLY, "check_ins", 80, EARLY_DAYS[1].isoformat())
    assert states(county_table(county(), (*rest, first, second), UPLOADS)) == {LineState.ZERO}


def test_a_total_of_all_ways_together_is_compared_with_their_sum() -> None:
    """Where the canvass knows no modes, early voting and election day are one row."""
    together = (*CANVASS, typed(Ledger.CANVASS, "S02", "all", "ballots_cast", 501))
    found = row(county_table(county(), together, UPLOADS), "S02", "all", "ballots_cast")
    assert found.own.difference == 500
    assert found.canvass is not None and found.canvass.difference == -1


def test_a_total_of_the_county_is_compared_with_all_sites() -> None:
    """Each site's total is right and the county's is one too high."""
    table = county_table(
        county(), (*CANVASS, typed(Ledger.CANVASS, "", ELECTION_DAY, "ballots_cast", 701)), UPLOADS
    )
    line = row(table, "", ELECTION_DAY, "ballots_cast").canvass
    assert line is not None and line.difference == -1
    assert not any(r.is_difference for r in table.rows)


def test_receiving_and_canvass_are_two_comparisons_of_one_row() -> None:
    """Envelopes counted where they arrived and by the canvass: each differs on its own."""
    table = county_table(
        county(),
        (*CANVASS, typed(Ledger.RECEIVING, "S01", ELECTION_DAY, "provisional_envelopes", 1)),
        UPLOADS,
    )
    found = row(table, "S01", ELECTION_DAY, "provisional_envelopes")
    assert found.received is not None and found.received.difference == 1
    assert found.canvass is not None and found.canvass.state is LineState.ZERO
    assert table.by_difference()[0] == found


def test_an_expected_total_that_nobody_typed_is_missing() -> None:
    """A row of the canvass that nobody typed is there and waits; a quantity nobody asks for has no row."""
    table = county_table(county(), (), ())
    assert {r.quantity for r in table.rows} == {"ballots_cast", "check_ins", "provisional_envelopes"}
    assert {line.state for r in table.rows for line in r.lines} == {LineState.NOT_READ}
    assert all(r.received is None for r in table.rows), "nobody has begun to receive"


@given(st.integers(0, len(CANVASS) - 1), st.integers(0, len(UPLOADS) - 1), st.randoms())
def test_what_is_left_out_is_missing_whatever_the_rest_is_and_no_order_matters(
    gone: int, not_read: int, shuffled: random.Random
) -> None:
    """Take away one total and one upload: no row differs, the rows without them miss them by name."""
    days, totals = list(county()), [t for i, t in enumerate(CANVASS) if i != gone]
    uploads = [u for i, u in enumerate(UPLOADS) if i != not_read]
    table = county_table(tuple(days), tuple(totals), tuple(uploads))
    for some in (days, totals, uploads):
        shuffled.shuffle(some)
    assert county_table(tuple(days), tuple(totals), tuple(uploads)) == table
    assert not any(r.is_difference for r in table.rows)
    missing = {key for r in table.rows for line in r.lines for key in line.missing}
    left = CANVASS[gone]
    assert f"canvass/{left.site}/{left.mode}/{left.quantity}" in missing
    assert sum(line.state is LineState.NOT_READ for line in table.uploaded) == 1


@given(st.integers(0, len(CANVASS) - 1), st.integers(-50, 50).filter(bool))
def test_one_total_that_is_off_is_off_in_its_own_row_by_just_that_much(place: int, by: int) -> None:
    """The difference is the site's number minus the other; no other row moves."""
    wrong = CANVASS[place]
    value = max(0, (wrong.total or 0) + by)
    totals = (
        *CANVASS[:place],
        typed(wrong.ledger, wrong.site, wrong.mode, wrong.quantity, value),
        *CANVASS[place + 1 :],
    )
    table = county_table(county(), totals, UPLOADS)
    off = [r for r in table.rows if r.is_difference]
    assert [(r.site, r.mode, r.quantity) for r in off] == (
        [(wrong.site, wrong.mode, wrong.quantity)] if value != wrong.total else []
    )
    for r in off:
        assert r.canvass is not None and r.canvass.difference == (wrong.total or 0) - value


def carried_over(*, early: int = 80, both: int = 380) -> tuple[SiteCounts, ...]:
    """One site whose scanner counts on an early day and goes on counting on election day."""
    first = counted("S09", EARLY_DAYS[0], 0, early)
    last = counted("S09", DAY, early, both)
    device = f"device/scanner/S09-{ELECTION_DAY}"
    same = tuple(
        msgspec.structs.replace(r, key=r.key.replace(f"S09-{EARLY}", f"S09-{ELECTION_DAY}"))
        for r in first.readings
    )
    return (
        msgspec.structs.replace(first, balance=last.balance, readings=same, machines=()),
        msgspec.structs.replace(last, carried=(device,)),
    )


def test_a_counter_that_carries_over_is_received_less_what_it_held_when_the_day_began() -> None:
    """Read once at the end it holds 380, of which 300 are election day's; early alone is not compared."""
    days = carried_over()
    table = county_table(days, (), (uploaded("S09", ELECTION_DAY, 380),))
    cast = row(table, "S09", ELECTION_DAY, "ballots_cast")
    assert cast.received is not None
    assert (cast.own.difference, cast.value_of(Ledger.RECEIVING)) == (300, 300)
    assert cast.received.difference == 0 and table.uploaded[0].difference == 0
    assert row(table, "S09", EARLY, "ballots_cast").received is None
    short = county_table(days, (), (uploaded("S09", ELECTION_DAY, 371),))
    line = row(short, "S09", ELECTION_DAY, "ballots_cast").received
    assert line is not None and line.difference == 9


def test_all_ways_together_are_received_as_the_whole_that_a_carried_counter_holds() -> None:
    """Typed for all ways: what was read at the end is just what both days moved."""
    totals = (typed(Ledger.CANVASS, "S09", ALL_MODES, "ballots_cast", 380),)
    table = county_table(carried_over(), totals, (uploaded("S09", ELECTION_DAY, 380),))
    whole = row(table, "S09", ALL_MODES, "ballots_cast")
    assert (whole.own.difference, whole.value_of(Ledger.RECEIVING)) == (380, 380)


def test_without_the_opening_counter_what_a_carried_counter_brought_is_missing_not_zero() -> None:
    """Nobody read the counter that morning: received is missing, and named."""
    first, last = carried_over()
    last = msgspec.structs.replace(
        last, readings=tuple(r for r in last.readings if not r.key.startswith("public_counter_open"))
    )
    table = county_table((first, last), (), (uploaded("S09", ELECTION_DAY, 380),))
    line = row(table, "S09", ELECTION_DAY, "ballots_cast").received
    assert line is not None and line.state is LineState.NOT_READ
    assert f"before/{ELECTION_DAY}/device/scanner/S09-{ELECTION_DAY}" in line.missing
