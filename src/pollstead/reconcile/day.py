"""One operating day, reconciled: expected against observed at every site, the balance, lost minutes.

Pure: the same record gives the same report whatever the order of its events. Every observation of the
day stands somewhere in the report.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

import msgspec

from pollstead.election.county import Election
from pollstead.election.instants import format_clock
from pollstead.election.notice import Notice, NoticeKind, by_key
from pollstead.election.station_type import Moment
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.plan.terms.version import ExpectedList, PlanVersion, SitePlan
from pollstead.reconcile.changed.on_the_day import swap_notices
from pollstead.reconcile.counts.balance import BalanceLine, Reading
from pollstead.reconcile.counts.differences import balance_notices, memory_notices
from pollstead.reconcile.counts.equations import Balance
from pollstead.reconcile.counts.jams import Explained, explained, jam_terms, jams_of
from pollstead.reconcile.counts.memory import MemoryOut, MemoryResult, memory_results
from pollstead.reconcile.counts.midday import (
    NO_CHECKS,
    CrossChecks,
    cross_check_notices,
    cross_checks,
    hours_of,
)
from pollstead.reconcile.counts.upload_readings import TakenIn, standing_by_memory
from pollstead.reconcile.counts.uploads import Upload, uploads_of
from pollstead.reconcile.happening.orders import closes_at, order_notices, orders_of
from pollstead.reconcile.happening.steps import steps_of_day
from pollstead.reconcile.issued import Issued
from pollstead.reconcile.observed import Observation, What, observations_of
from pollstead.reconcile.opening.compare import compare_list
from pollstead.reconcile.opening.devices import device_results
from pollstead.reconcile.opening.differences import with_notices
from pollstead.reconcile.opening.states import DeviceResult, ItemResult
from pollstead.reconcile.opening.view import DayView
from pollstead.reconcile.paper.differences import keyed_notices
from pollstead.reconcile.paper.keyed import counting
from pollstead.reconcile.site_balance import balance_of_day
from pollstead.reconcile.worked import SiteHours, hours_notices, site_hours
from pollstead.record.fold import Fold


class Minute(Value, frozen=True, kw_only=True):
    """A minute that people wrote: when the doors opened, or the last voter had voted.

    `values` are the standing minutes of the operating day (1480 is 24:40), each once; `set_min` what the
    county set; `late_min` how many minutes after that, None while unknown or when two values differ.
    """

    values: tuple[int, ...]
    set_min: int | None
    late_min: int | None
    observations: tuple[Observation, ...]


class SiteDay(Value, frozen=True, kw_only=True):
    """One site on one day: items compared, devices, balance, memory devices, minutes, notices.

    `explained` is what jams may explain of lines with a difference, `checks` are check-ins against counters
    during the day. `recorded` are observations without an
    expected item: counts, seals put on, reports, hand-overs, kinds that this version does not know. `keyed`
    were keyed from paper and do not count, because a second person has not keyed the same yet, or because
    they were corrected or say it again.
    """

    site: str
    name: str
    date: dt.date
    list_issued: bool
    results: tuple[ItemResult, ...]
    devices: tuple[DeviceResult, ...]
    balance: Balance | None
    lines: tuple[BalanceLine, ...]
    readings: tuple[Reading, ...]
    memory: tuple[MemoryResult, ...]
    opened: Minute
    closed: Minute
    recorded: tuple[Observation, ...]
    notices: tuple[Notice, ...]
    keyed: tuple[Observation, ...] = ()
    explained: tuple[Explained, ...] = ()
    checks: CrossChecks = NO_CHECKS

    def observations(self) -> frozenset[str]:
        """The ids of all events that the report of this site shows."""
        shown = {o.event for result in self.results for o in result.observations}
        return frozenset(shown | {o.event for o in (*self.recorded, *self.keyed)})

    def seen(self) -> tuple[Observation, ...]:
        """Everything shown that counts or was corrected, each once; `keyed` does not count, so it is out."""
        found = {o.event: o for result in self.results for o in result.observations}
        found.update({o.event: o for o in self.recorded})
        return tuple(sorted(found.values(), key=lambda o: (o.utc_ms, o.event)))

    def corrections(self) -> tuple[Observation, ...]:
        """The corrections of entries of this day; what each one corrects is still in the report."""
        return tuple(o for o in self.seen() if o.corrects)

    def at(self, moment: Moment) -> tuple[ItemResult, ...]:
        """The results of one moment."""
        return tuple(result for result in self.results if result.moment is moment)


class DayReport(Value, frozen=True, kw_only=True):
    """The whole county on one day. `elsewhere` are observations of the day at no site of the plan.

    `hours` are those that were typed of people: assigned, sworn, paid.
    """

    date: dt.date
    sites: tuple[SiteDay, ...]
    elsewhere: tuple[Observation, ...]
    notices: tuple[Notice, ...]
    hours: tuple[SiteHours, ...] = ()

    def site(self, site: str) -> SiteDay:
        """The report of one site; raises KeyError naming it when the day has none."""
        for one in self.sites:
            if one.site == site:
                return one
        raise KeyError(f"no site {site!r} is open on {self.date}")


def reconcile_day(
    election: Election,
    plan: PlanVersion,
    issued: Issued,
    folded: Fold,
    date: dt.date,
    *,
    observations: tuple[Observation, ...] | None = None,
) -> DayReport:
    """Every site of the plan that is open on `date`, or where something was seen on that day.

    `plan` is the version that the issued lists name; `folded` is made with private parts, else seal
    numbers are unknown. `observations` are those of `folded` where they are at hand already.
    """
    if observations is None:
        observations = observations_of(folded)
    today = tuple(o for o in observations if o.day == date.isoformat())
    lists = tuple(one for one in issued.lists if one.date == date)
    good = counting(observations)
    view = DayView(election, date, lists, good, folded)
    uploads = standing_by_memory(uploads_of(folded))
    counts = {o.event for o in good}
    aside = tuple(o for o in today if o.event not in counts)
    seen_at = {o.site for o in today}
    sites = []
    for site_plan in plan.sites:
        dates = dates_of(election, site_plan)
        if date in dates or site_plan.site in seen_at:
            keyed = tuple(o for o in aside if o.site == site_plan.site)
            expected = issued.of(site_plan.site, date)
            sites.append(_site_day(site_plan, dates, expected, view, folded, keyed, uploads))
    known = {site.site for site in sites}
    worked = site_hours(election, folded, date)
    return DayReport(
        date=date,
        sites=tuple(sites),
        elsewhere=tuple(o for o in today if o.site not in known),
        notices=day_notices(tuple(sites), issued, date, folded, worked),
        hours=worked,
    )


def day_notices(
    sites: tuple[SiteDay, ...],
    issued: Issued,
    date: dt.date,
    folded: Fold,
    worked: tuple[SiteHours, ...] = (),
) -> tuple[Notice, ...]:
    """The notices of a day: of its sites, its lists and orders and the hours of its people, each once."""
    return by_key(
        (
            *(n for site in sites for n in site.notices),
            *(n for n in issued.notices if n.day in ("", date.isoformat())),
            *order_notices(orders_of(folded, date)),
            *hours_notices(worked),
        )
    )


def dates_of(election: Election, plan: SitePlan) -> tuple[dt.date, ...]:
    """The operating days of a site: those of its plan, else those of its hours, else election day."""
    planned = tuple(day.date for day in plan.demand)
    if planned:
        return planned
    try:
        hours = tuple(h.date for h in election.site(plan.site).hours)
    except KeyError:
        hours = ()
    return hours or (election.election_day,)


def _site_day(
    plan: SitePlan,
    dates: tuple[dt.date, ...],
    expected: ExpectedList | None,
    view: DayView,
    folded: Fold,
    keyed: tuple[Observation, ...],
    uploads: Mapping[str, tuple[Upload, ...]],
) -> SiteDay:
    election, date = view.election, view.date
    plan = msgspec.structs.replace(plan, stations=plan.stations_on(date))
    here = view.of_the_day(plan.site)
    opened = minute_of(election, plan.site, date, here, What.OPENED)
    closed = minute_of(election, plan.site, date, here, What.CLOSED)
    orders = orders_of(folded, date)
    if orders and closed.set_min is not None:
        ends = closes_at(orders, plan.site, closed.set_min)
        late = closed.values[0] - ends if len(closed.values) == 1 else None
        closed = msgspec.structs.replace(closed, set_min=ends, late_min=late)
    over = {Moment.AFTER_TEST, Moment.EVENING_BEFORE, Moment.OPENING} if opened.values else set()
    if closed.values:
        over |= {*over, Moment.OPENING, Moment.DURING, Moment.CLOSING}
    compared = compare_list(plan.site, expected, view)
    results = with_notices(compared.results, election, date, folded, frozenset(over))
    devices = device_results(results, tuple(o for o in here if o.what is What.SERVICE))
    more = steps_of_day(folded, plan.site, date, here)
    out = _memory_out(plan, expected, view, travels=date >= max(dates))
    taken = TakenIn(out=out, uploads=uploads)
    balance, lines, readings = balance_of_day(plan, dates, expected, view, here, more, taken)
    jams = explained(lines, jam_terms(jams_of(folded, plan.site, date.isoformat())))
    memory = memory_results(out, here)
    checks = _cross_checks(plan.site, balance, readings, here, view)
    notices = by_key(
        (
            *cross_check_notices(plan.site, date, checks, election.rules),
            *(result.notice for result in results if result.notice is not None),
            *balance_notices(lines, election, date, closed=bool(closed.values), jams=jams),
            *memory_notices(memory, election, date, closed=bool(closed.values)),
            *swap_notices(plan.site, date, here),
            *keyed_notices(here, keyed, date, election.rules),
            *_late_notice(plan.site, date, opened),
            *_unknown_steps(plan, balance),
        )
    )
    return SiteDay(
        site=plan.site,
        name=plan.name,
        date=date,
        list_issued=expected is not None,
        results=results,
        devices=devices,
        balance=balance,
        lines=lines,
        readings=readings,
        memory=memory,
        opened=opened,
        closed=closed,
        recorded=compared.recorded,
        notices=notices,
        keyed=keyed,
        explained=jams,
        checks=checks,
    )


def _cross_checks(
    site: str,
    balance: Balance | None,
    readings: tuple[Reading, ...],
    here: tuple[Observation, ...],
    view: DayView,
) -> CrossChecks:
    if balance is None:
        return NO_CHECKS
    known = next((one for one in view.election.sites if one.id == site), None)
    hours = next((h for h in known.hours if h.date == view.date), None) if known is not None else None
    rules = view.election.rules
    wanted = () if hours is None else hours_of(rules.choice("cross-check-at"), hours)
    opened = 0 if hours is None else hours.opens_min
    return cross_checks(balance, readings, here, rules, opened_min=opened, wanted=wanted)


def _memory_out(
    plan: SitePlan, expected: ExpectedList | None, view: DayView, *, travels: bool
) -> tuple[MemoryOut, ...]:
    """What went out; before a machine's last day here its memory devices stay in it."""
    found = []
    for station in plan.stations:
        kind = view.election.station_type(station.station_type)
        must_travel = kind.memory_devices.travels if travels or station.last_day == view.date else 0
        ids: dict[str, list[str]] = {}
        for item in () if expected is None else expected.items:
            if item.what == "memory device" and item.station == station.id and item.value:
                ids.setdefault(item.device or station.id, []).append(item.value)
        for device, out in ids.items():
            found.append(MemoryOut(device=device, ids=tuple(dict.fromkeys(out)), travels=must_travel))
    return tuple(found)


def minute_of(
    election: Election, site: str, date: dt.date, here: tuple[Observation, ...], what: What
) -> Minute:
    """The minute of opening or closing at a site: `what` is OPENED or CLOSED, `here` what was seen there."""
    observations = tuple(o for o in here if o.what is what)
    values = tuple(sorted({o.number for o in observations if o.stands and o.number is not None}))
    set_min = None
    try:
        hours = next((h for h in election.site(site).hours if h.date == date), None)
    except KeyError:
        hours = None
    if hours is not None:
        set_min = hours.opens_min if what is What.OPENED else hours.closes_min
    late = values[0] - set_min if len(values) == 1 and set_min is not None else None
    return Minute(values=values, set_min=set_min, late_min=late, observations=observations)


def _late_notice(site: str, date: dt.date, opened: Minute) -> tuple[Notice, ...]:
    if opened.late_min is None or opened.late_min <= 0:
        return ()
    return (
        Notice(
            kind=NoticeKind.DIFFERENCE,
            rule="opening-time",
            subject=f"site/{site}",
            day=date.isoformat(),
            text=message(N_("The doors opened {minutes} min late."), minutes=opened.late_min),
            found=format_clock(opened.values[0]),
            wanted=format_clock(opened.set_min or 0),
            remedy=message(N_("Tell the office; an extension is decided by the authority named by law.")),
            who_decides="election official",
            depends=tuple(map(str, opened.values)),
        ),
    )


def _unknown_steps(plan: SitePlan, balance: Balance | None) -> tuple[Notice, ...]:
    if balance is None or not balance.unknown_steps:
        return ()
    words = ", ".join(balance.unknown_steps)
    return (
        Notice(
            kind=NoticeKind.OPEN_ITEM,
            rule="balance-steps",
            subject=f"site/{plan.site}",
            text=message(N_("The kind of site names steps that no balance knows: {words}."), words=words),
            found=words,
            remedy=message(N_("Correct the column balance of the kind of site.")),
            owner="office",
            depends=balance.unknown_steps,
        ),
    )
