"""Larkmoor's sites and days as the generators need them: what is read there, and the rows it must meet.

The rows are the product's own balance rows, so that a clean night is clean by the product's arithmetic.
Nothing else of the product is used here.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from pollstead.election.county import Election
from pollstead.election.rules import CountyRules, RuleLevel, RuleSetting
from pollstead.election.station_type import OpeningValue, StationType, VoterStep
from pollstead.intake.folder import read_folder
from pollstead.reconcile.counts.carried import carried_equations
from pollstead.reconcile.counts.equations import Balance, CountingDevice, Equation, build_balance
from pollstead.reconcile.counts.rows import Step

LARKMOOR = Path(__file__).resolve().parents[2] / "larkmoor"
SHEETS_RULE = "sheets-per-ballot"


@dataclass(frozen=True, eq=False)
class SiteDay:
    """One site on one operating day.

    `voters` is the usual number of the day; `sheets` the sheets of one ballot; `carries` whether the public
    counters go on from `previous`, the day before ("" on a first day); `on_demand` whether ballots are
    printed at check-in; `keys` are all numbers read, in the order of the closing form; `rows` must be zero;
    `columns` says by how much each row moves with a number. Two are equal only where they are the same one.
    """

    site: str
    date: dt.date
    kind: str
    voters: int
    sheets: int
    devices: tuple[str, ...]
    on_demand: bool
    day_number: int
    previous: str
    balance: Balance
    carried: tuple[Equation, ...]
    keys: tuple[str, ...]
    rows: tuple[tuple[tuple[int, str], ...], ...]
    columns: dict[str, tuple[int, ...]]


@cache
def larkmoor() -> Election:
    """The facts of the invented county."""
    read = read_folder(LARKMOOR, today=dt.date(2028, 10, 1))
    if read.election is None:
        raise SystemExit("larkmoor cannot be read. Next: pollstead check larkmoor")
    return read.election


def usual_voters(election: Election) -> dict[tuple[str, dt.date], int]:
    """Voters of a site and day, from the mean of the past elections in the county's table."""
    site_of = {one.id: one.site for one in election.precincts}
    elections = {one.election for one in election.history}
    on_day: dict[str, int] = defaultdict(int)
    early: dict[str, int] = defaultdict(int)
    for one in election.history:
        if one.mode == "early":
            early[one.unit] += one.ballots
        elif one.mode == "election day" and one.unit in site_of:
            on_day[site_of[one.unit]] += one.ballots
    found = {(site, election.election_day): total // len(elections) for site, total in on_day.items()}
    for site in election.sites:
        days = [hours.date for hours in site.hours if hours.date != election.election_day]
        for date in days:
            found[site.id, date] = early[site.id] // (len(elections) * len(days))
    return found


def with_sheets(rules: CountyRules, sheets: int) -> CountyRules:
    """The county rules with another number of sheets per ballot."""
    others = tuple(setting for setting in rules.settings if setting.rule != SHEETS_RULE)
    mine = RuleSetting(
        rule=SHEETS_RULE,
        value=sheets,
        level=RuleLevel.POLICY,
        source="set for this measurement",
        confirmed_by="P001",
        effective_from=dt.date(2028, 1, 10),
    )
    return CountyRules(settings=tuple(sorted((*others, mine), key=lambda setting: setting.rule)))


@cache
def site_days(sheets: int = 1) -> tuple[SiteDay, ...]:
    """Every site of Larkmoor on every operating day, with so many sheets per ballot."""
    election = larkmoor()
    return tuple(
        _site_day(election, site, date, voters, sheets, swapped=False)
        for (site, date), voters in sorted(usual_voters(election).items())
    )


@cache
def swapped(day: SiteDay) -> SiteDay:
    """The same site-day after its last device was exchanged at noon: the spare counts too."""
    return _site_day(larkmoor(), day.site, day.date, day.voters, day.sheets, swapped=True)


def _site_day(
    election: Election, site_id: str, date: dt.date, voters: int, sheets: int, *, swapped: bool
) -> SiteDay:
    site = election.site(site_id)
    kind = election.site_kind(site.kind)
    casting = next(
        found
        for use in kind.uses
        if (found := election.station_type(use.station_type)).step is VoterStep.CAST
        and found.counter("public") is not None
    )
    devices = _devices(election, site_id, date, casting)
    spare = CountingDevice(id="device/spare/1", station=devices[-1].station, station_type=casting.id)
    counting = (*devices, spare) if swapped else devices
    balance = build_balance(
        site_id, kind, election.station_types, counting, with_sheets(election.rules, sheets)
    )
    earlier = [hours.date for hours in site.hours if hours.date < date and date != election.election_day]
    carries = _carries(casting)
    previous = max(earlier) if earlier and carries else None
    carried = (
        () if previous is None else carried_equations(balance, devices, election.station_types, previous)
    )
    keys = [line.key for line in balance.lines if not line.device]
    for device in counting:
        keys += [line.key for line in balance.lines if line.device == device.id]
    known = set(keys)
    keys += dict.fromkeys(key for one in carried for _, key in one.terms if key not in known)
    rows = tuple(one.terms for one in (*balance.equations, *carried))
    return SiteDay(
        site=site_id,
        date=date,
        kind=kind.id,
        voters=voters,
        sheets=sheets,
        devices=tuple(device.id for device in counting),
        on_demand=Step.ON_DEMAND in balance.steps,
        day_number=len(earlier) if previous else 0,
        previous=previous.isoformat() if previous else "",
        balance=balance,
        carried=carried,
        keys=tuple(keys),
        rows=rows,
        columns={key: tuple(sum(c for c, one in row if one == key) for row in rows) for key in keys},
    )


def _devices(
    election: Election, site: str, date: dt.date, casting: StationType
) -> tuple[CountingDevice, ...]:
    kinds = {part.device_kind for part in casting.parts if part.device_kind}
    home = [one.id for one in election.devices if one.home == site and one.kind in kinds]
    early_too = any(hours.date != election.election_day for hours in election.site(site).hours)
    if early_too and len(home) > 1:
        # The devices of early voting are kept apart on election day.
        half = len(home) // 2
        home = home[half:] if date == election.election_day else home[:half]
    return tuple(
        CountingDevice(id=one, station=f"station/{site}/{casting.id}/{n}", station_type=casting.id)
        for n, one in enumerate(home, start=1)
    )


def _carries(casting: StationType) -> bool:
    counter = casting.counter("public")
    return counter is not None and counter.opening is not OpeningValue.ZERO
