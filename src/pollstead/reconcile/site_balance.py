"""The balance of one site on one day: its counting devices, what the day brought, the lines evaluated."""

from __future__ import annotations

import datetime as dt

from pollstead.election.county import Election
from pollstead.election.station_type import VoterStep
from pollstead.plan.terms.version import ExpectedList, SitePlan
from pollstead.reconcile.counts.balance import BalanceLine, Reading, evaluate
from pollstead.reconcile.counts.carried import carried_equations, readings_of_day
from pollstead.reconcile.counts.equations import Balance, CountingDevice, asks_by_style, build_balance
from pollstead.reconcile.counts.readings import readings_of
from pollstead.reconcile.counts.rows import Step
from pollstead.reconcile.counts.styles import styles_here
from pollstead.reconcile.counts.upload_readings import TakenIn, with_uploads
from pollstead.reconcile.happening.steps import counters_at_swap, with_swapped
from pollstead.reconcile.observed import Observation, What
from pollstead.reconcile.opening.matching import owner_of
from pollstead.reconcile.opening.view import DayView


def counting_devices(
    plan: SitePlan, expected: ExpectedList | None, election: Election
) -> tuple[CountingDevice, ...]:
    """The devices at a site whose counters enter the balance: those of the list in force, else the plan's.

    A station whose device was exchanged during the day has both in the amended list, and both count.
    """
    found: list[CountingDevice] = []
    # A list is about one day, and devices of early voting do not count election day's ballots.
    for station in plan.stations if expected is None else plan.stations_on(expected.date):
        kind = election.station_type(station.station_type)
        if kind.step not in (VoterStep.CAST, VoterStep.MARK_AND_CAST) or kind.counter("public") is None:
            continue
        listed = [
            owner_of(item)
            for item in (() if expected is None else expected.items)
            if item.what == "counter" and item.station == station.id
        ]
        planned = [part.device for part in station.parts if part.by_serial and part.device][:1]
        for device in dict.fromkeys(listed or planned or [station.id]):
            found.append(CountingDevice(id=device, station=station.id, station_type=kind.id))
    return tuple(found)


def site_balance(
    plan: SitePlan,
    devices: tuple[CountingDevice, ...],
    election: Election,
    more: frozenset[Step] = frozenset(),
    typed: tuple[str, ...] = (),
) -> Balance | None:
    """The balance of a site: what its closing sheet asks for and how it adds up; None without a kind.

    `more` are steps that the day brought beside those of the kind; `typed` the keys of numbers typed there,
    so that a number of a ballot style brings its style in.
    """
    try:
        kind = election.site_kind(plan.kind)
    except KeyError:
        return None
    asked = asks_by_style(kind)
    styles = styles_here(election, plan.site, typed, asked=asked)
    if styles.sheets and not asked:
        more |= {Step.BY_STYLE}
    return build_balance(plan.site, kind, election.station_types, devices, election.rules, more, styles)


def balance_of_day(
    plan: SitePlan,
    dates: tuple[dt.date, ...],
    expected: ExpectedList | None,
    view: DayView,
    here: tuple[Observation, ...],
    more: frozenset[Step],
    taken: TakenIn,
) -> tuple[Balance | None, tuple[BalanceLine, ...], tuple[Reading, ...]]:
    """The balance of a site on one of its `dates`, evaluated on what was seen `here`, with its readings.

    `more` are the steps that the day brought; both devices of each swap are in it. `taken` is what the
    central place read of the memory devices that left.
    """
    counting = with_swapped(counting_devices(plan, expected, view.election), here)
    typed = tuple(o.detail for o in here if o.what is What.COUNT and o.stands)
    balance = site_balance(plan, counting, view.election, more, typed)
    if balance is None:
        return None, (), ()
    readings, _ = readings_of(balance, here)
    readings += counters_at_swap(readings, frozenset(line.key for line in balance.lines), here)
    readings = with_uploads(readings, balance, taken)
    lines = evaluate(balance.equations, readings)
    if view.date < max(dates):
        # Memory devices are read after the last day; until then nobody waits for it.
        lines = tuple(line for line in lines if not line.waits_for_receiving)
    earlier = [date for date in dates if date < view.date]
    if earlier:
        previous = max(earlier)
        before = view.on(plan.site, previous)
        # Devices that begin on this day carry nothing over from the day before.
        begun = {station.id for station in plan.stations if station.first_day == view.date}
        devices = tuple(device for device in counting if device.station not in begun)
        carried = carried_equations(balance, devices, view.election.station_types, previous)
        closing, _ = readings_of(balance, before)
        lines += evaluate(carried, (*readings, *readings_of_day(previous, closing)))
    return balance, lines, readings
