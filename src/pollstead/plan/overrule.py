"""Where people's decisions enter the plan: each value put in its place, beside what was computed.

A decision changes the number that it names and what follows from it, nothing else. One that is equal to the
computed number changes nothing but the mark.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter

import msgspec

from pollstead.election.county import Device, Election, FixedValue
from pollstead.election.instants import MS_PER_MINUTE
from pollstead.election.station_type import Moment, StationType
from pollstead.election.values import frozen_array
from pollstead.election.words import N_, Message, message
from pollstead.plan.fixing import (
    DEVICES,
    PACKING,
    SEAL_NEEDS,
    SET_UP,
    SITES,
    VOTERS,
    FixedCells,
    need_row,
    packing_row,
)
from pollstead.plan.setup.run_sheet import minutes_of
from pollstead.plan.stations.counts import TABLE as STATIONS
from pollstead.plan.terms.demand import DemandDraws, SiteDayDemand
from pollstead.plan.terms.lines import SizingAnswer
from pollstead.plan.terms.overruled import Overruled, overruled
from pollstead.plan.terms.stations import FixedStep, SealsAnswer, StandsAt, StationsAnswer
from pollstead.plan.terms.version import PackingLine, RunStep, SealNeed, SealStock, StageCount

Counted = tuple[tuple[StageCount, ...], SizingAnswer]
"""The stations of a site and the answer behind them."""


def kinds(election: Election, computed: dict[str, str], cells: FixedCells) -> dict[str, str]:
    """The kind of each site, as people chose it where they did."""
    known = {kind.id for kind in election.site_kinds}
    chosen = dict(computed)
    for site in election.sites:
        cell = cells.find(SITES, site.id, "kind")
        if cell is not None and cell.value in known:
            chosen[site.id] = cell.value
        elif cell is not None:
            cells.refuse(cell)
    return chosen


def voters(draws: DemandDraws, cells: FixedCells) -> DemandDraws:
    """The draws with the days whose middle a person fixed scaled to it; whole numbers, halves up.

    Scaled, not moved: the range keeps its width in proportion, and the days of one draw stay together.
    """
    import numpy as np

    totals = draws.totals.astype("int64")
    changed = False
    for column, day in enumerate(draws.site_days):
        cell = cells.find(VOTERS, f"{day.site}/{day.date.isoformat()}", "p50")
        if cell is None:
            continue
        changed = True
        middle, wanted = _middle(draws, column), int(cell.value)
        if middle == 0:
            totals[:, column] = wanted
        else:
            totals[:, column] = (totals[:, column] * wanted + middle // 2) // middle
    if not changed:
        return draws
    whole = np.minimum(totals, np.iinfo(np.int32).max)
    return msgspec.structs.replace(draws, totals=frozen_array(whole, "int32"))


def _middle(draws: DemandDraws, column: int) -> int:
    import numpy as np

    return int(np.quantile(draws.totals[:, column], 0.5, method="nearest"))


def mark_days(
    days: list[SiteDayDemand], before: DemandDraws, cells: FixedCells
) -> tuple[list[SiteDayDemand], list[tuple[FixedValue, int]]]:
    """The days with the mark of what people fixed, and each decision with the middle computed."""
    columns: dict[tuple[str, dt.date], int] = {(d.site, d.date): c for c, d in enumerate(before.site_days)}
    marked, found = [], []
    for day in days:
        cell = cells.find(VOTERS, f"{day.site}/{day.date.isoformat()}", "p50")
        if cell is None:
            marked.append(day)
            continue
        middle = _middle(before, columns[day.site, day.date])
        found.append((cell, middle))
        marked.append(msgspec.structs.replace(day, fixed=True, reason=cell.reason, computed=middle))
    return marked, found


def devices(
    election: Election, previous: tuple[StandsAt, ...], planned: set[str], cells: FixedCells
) -> tuple[tuple[Device, ...], tuple[StandsAt, ...]]:
    """The fleet with the sites that people's decisions name, and where each device counts as having stood.

    A device fixed to a station counts as having stood there, and nobody else does.
    """
    fleet: list[Device] = []
    stood = {at.device: at for at in previous}
    for device in election.devices:
        site, cell = _site_of(device, planned, cells)
        if cell is None:
            fleet.append(device)
            continue
        fleet.append(msgspec.structs.replace(device, fixed=site, reason=cell.reason))
        if cell.field == "station":
            stood = {
                name: msgspec.structs.replace(at, station="") if at.station == cell.value else at
                for name, at in stood.items()
            }
            stood[device.id] = StandsAt(device=device.id, site=site, station=cell.value)
    return tuple(fleet), tuple(stood.values())


def _site_of(device: Device, planned: set[str], cells: FixedCells) -> tuple[str, FixedValue | None]:
    """The site to which a decision of people sends a device, and that decision; a station counts first."""
    for field in ("station", "site"):
        cell = cells.find(DEVICES, device.id, field)
        if cell is None:
            continue
        parts = cell.value.split("/")
        site = (
            cell.value if field == "site" else parts[1] if len(parts) >= 4 and parts[0] == "station" else ""
        )
        if site in planned:
            return site, cell
        cells.refuse(cell)
    return "", None


def device_costs(
    election: Election, cells: FixedCells, now: StationsAnswer, before: StationsAnswer
) -> list[Overruled]:
    """For each decision about a device: where it would stand without them, and what else they moved."""
    here, there = _places(now), _places(before)
    found = []
    for device in election.devices:
        for cell in cells.of_table(DEVICES):
            if cell.row != device.id or not here.get(device.id, "").startswith(_start_of(cell)):
                continue
            moved = [d for d in {*here, *there} if d != device.id and here.get(d) != there.get(d)]
            cost: tuple[Message, ...] = ()
            if moved:
                words = N_("Machines that stand elsewhere because of people's decisions: {count}.")
                cost = (message(words, count=len(moved)),)
            site = here[device.id].split("/")[1]
            stood = there.get(device.id, "")
            own = stood if cell.field == "station" or not stood else stood.split("/")[1]
            found.append(overruled(cell, own or "spares", cost, site=site))
    return found


def _start_of(cell: FixedValue) -> str:
    return cell.value if cell.field == "station" else f"station/{cell.value}/"


def _places(answer: StationsAnswer) -> dict[str, str]:
    return {p.device: s.id for site in answer.sites for s in site.stations for p in s.parts if p.device}


def packing(
    site: str, lines: tuple[PackingLine, ...], cells: FixedCells
) -> tuple[tuple[PackingLine, ...], list[Overruled]]:
    """The packing list with the quantities that people fixed."""
    packed, found = [], []
    for line in lines:
        cell = cells.find(PACKING, packing_row(site, line), "quantity")
        if cell is None:
            packed.append(line)
            continue
        wanted = int(cell.value)
        found.append(overruled(cell, line.quantity, _more(wanted - line.quantity)))
        packed.append(
            msgspec.structs.replace(
                line, quantity=wanted, fixed=True, reason=cell.reason, computed=line.quantity
            )
        )
    return tuple(packed), found


def _more(difference: int) -> tuple[Message, ...]:
    if difference == 0:
        return ()
    return (message(N_("Against the computed number: {difference}."), difference=f"{difference:+,}"),)


def seal_needs(answer: SealsAnswer, cells: FixedCells) -> tuple[SealsAnswer, list[Overruled]]:
    """The needs of seals with what people set or added, and the county's stock against them."""
    added: Counter[str] = Counter()
    changed: list[tuple[FixedValue, SealNeed]] = []
    sites = []
    for site in answer.sites:
        needs = []
        for need in site.needs:
            row = need_row(site.site, need)
            total, extra = cells.find(SEAL_NEEDS, row, "quantity"), cells.find(SEAL_NEEDS, row, "extra")
            if total is None and extra is None:
                needs.append(need)
                continue
            quantity = (need.quantity if total is None else int(total.value)) + int(
                extra.value if extra else 0
            )
            added[need.seal_kind] += quantity - need.quantity
            changed += [(cell, need) for cell in (total, extra) if cell is not None]
            reason = "; ".join(cell.reason for cell in (total, extra) if cell is not None)
            needs.append(
                msgspec.structs.replace(
                    need, quantity=quantity, fixed=True, reason=reason, computed=need.quantity
                )
            )
        sites.append(msgspec.structs.replace(site, needs=tuple(needs)))
    stock = tuple(msgspec.structs.replace(s, needed=s.needed + added[s.seal_kind]) for s in answer.stock)
    by_kind = {s.seal_kind: s for s in stock}
    found = []
    for cell, need in changed:
        computed = 0 if cell.field == "extra" else need.quantity
        more = _more(int(cell.value) - computed)
        found.append(overruled(cell, computed, (*more, *_against_stock(by_kind.get(need.seal_kind), more))))
    return msgspec.structs.replace(answer, sites=tuple(sites), stock=stock), found


def _against_stock(stock: SealStock | None, more: tuple[Message, ...]) -> tuple[Message, ...]:
    if not more or stock is None or stock.stock is None:
        return ()
    words = N_("The county then needs {needed} seals of kind {kind} and has {stock}.")
    return (message(words, needed=stock.needed, kind=stock.seal_kind, stock=stock.stock),)


def steps(
    site: str, counts: tuple[StageCount, ...], types: dict[str, StationType], cells: FixedCells
) -> tuple[FixedStep, ...]:
    """Minutes and people that people fixed for the set-up steps of a site."""
    found = []
    for count in counts:
        for step in types[count.station_type].set_up if count.count else ():
            row = f"{site}/{count.station_type}/{step.id}"
            minutes, people = cells.find(SET_UP, row, "minutes"), cells.find(SET_UP, row, "people")
            if minutes is not None or people is not None:
                found.append(
                    FixedStep(
                        step=f"{count.station_type}/{step.id}",
                        minutes=None if minutes is None else int(minutes.value),
                        people=None if people is None else int(people.value),
                    )
                )
    return tuple(found)


def mark_steps(
    site: str,
    sheet: tuple[RunStep, ...],
    before: tuple[RunStep, ...],
    crew_before: int,
    types: dict[str, StationType],
    cells: FixedCells,
) -> tuple[tuple[RunStep, ...], list[Overruled]]:
    """The run sheet with the marks of what people fixed, and how long its parts take without that."""
    cost = _parts(sheet, before)
    found: list[Overruled] = []
    crew = cells.find(SET_UP, site, "crew")
    if crew is not None:
        found.append(overruled(crew, crew_before, cost))
    marked = []
    for step in sheet:
        row = f"{site}/{step.id}"
        mine = [cell for f in ("minutes", "people") if (cell := cells.find(SET_UP, row, f)) is not None]
        own = next(s for s in types[step.station_type].set_up if f"{step.station_type}/{s.id}" == step.id)
        for cell in mine:
            found.append(overruled(cell, own.minutes if cell.field == "minutes" else own.people, cost))
        reason = "; ".join(dict.fromkeys(cell.reason for cell in mine))
        marked.append(msgspec.structs.replace(step, fixed=True, reason=reason) if mine else step)
    return tuple(marked), found


def _parts(sheet: tuple[RunStep, ...], before: tuple[RunStep, ...]) -> tuple[Message, ...]:
    return tuple(
        message(
            N_("Setting up, {when}: {minutes} min; without it {before} min."),
            when=when.value,
            minutes=minutes_of(sheet, when),
            before=minutes_of(before, when),
        )
        for when in Moment
        if minutes_of(sheet, when) != minutes_of(before, when)
    )


def line_costs(now: Counted, before: Counted, decisions: int = 1) -> tuple[Message, ...]:
    """What decisions about voters, kind or stations of a site change: the longest wait, the stations.

    Several at one site are told together: each alone may change another number.
    """
    cost = []
    waits = [answer.figures.p95_longest_ms // MS_PER_MINUTE for _, answer in (now, before)]
    if waits[0] != waits[1]:
        words = N_("Longest wait, 95 of 100 days: {now} min; without it {before} min.")
        cost.append(message(words, now=waits[0], before=waits[1]))
    risks = [answer.figures.risk for _, answer in (now, before)]
    if risks[0].over != risks[1].over:
        words = N_("Days over the limit: {now} of {days}; without it {before}.")
        cost.append(message(words, now=risks[0].over, days=risks[0].days, before=risks[1].over))
    totals = [sum(count.count for count in counts) for counts, _ in (now, before)]
    if totals[0] != totals[1]:
        words = N_("Stations of the site: {now}; without it {before}.")
        cost.append(message(words, now=totals[0], before=totals[1]))
    if cost and decisions > 1:
        words = N_("With all {count} numbers that people fixed at this site:")
        cost.insert(0, message(words, count=decisions))
    return tuple(cost)


def counts_told(
    site: str, counts: tuple[StageCount, ...], cost: tuple[Message, ...], cells: FixedCells
) -> list[Overruled]:
    """The stations' decisions of a site."""
    return [
        overruled(cell, count.computed, cost)
        for count in counts
        if count.fixed and (cell := cells.find(STATIONS, f"{site}/{count.station_type}", "count")) is not None
    ]


def kind_told(
    site: str, computed: str, cost: tuple[Message, ...], cells: FixedCells
) -> tuple[str, list[Overruled]]:
    """The reason for a site's kind where a person chose it, and that decision."""
    cell = cells.find(SITES, site, "kind")
    return ("", []) if cell is None else (cell.reason, [overruled(cell, computed, cost)])
