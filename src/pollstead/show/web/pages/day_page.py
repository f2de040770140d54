"""The day: every site on one operating day; doors as they come in, what goes wrong, what differs."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar

from litestar import Request, Response, get

from pollstead.election.station_type import Moment
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.reconcile.counts.balance import LineState
from pollstead.reconcile.day import Minute, SiteDay
from pollstead.reconcile.happening.orders import acknowledgements, holding
from pollstead.reconcile.opening.states import DeviceState, ItemState
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.day import Days, days_now, held_back, still_open
from pollstead.show.web.entered import MinuteTold, minutes_told
from pollstead.show.web.happening_view import Happening
from pollstead.show.web.pages.county import site_link
from pollstead.show.web.pages.frame import Ask, Page, answer, in_thread
from pollstead.show.web.pages.ready import chosen_county_day
from pollstead.show.web.readings import is_asked
from pollstead.show.web.stray_view import StrayLine, stray_lines

LATEST = 5


class SiteOfDay(Value, frozen=True, kw_only=True):
    """A site on the day: doors, readings, devices, counts, differences."""

    link: str
    name: str
    opened: Minute
    closed: Minute
    opened_told: tuple[MinuteTold, ...]
    closed_told: tuple[MinuteTold, ...]
    opening_read: int
    opening_lines: int
    waiting: int
    out_of_service: int
    counts_zero: int
    counts_lines: int
    open_notices: int
    order: int
    incidents: int
    lost_min: int


class DayPage(Page, frozen=True, kw_only=True):
    """The day: which doors are not open yet, what was read, what differs."""

    template: ClassVar[str] = "day.html"

    day: dt.date
    days: tuple[dt.date, ...]
    sites: tuple[SiteOfDay, ...]
    not_open: tuple[SiteOfDay, ...]
    elsewhere: int
    strays: tuple[StrayLine, ...]
    corrected: int
    now_ms: int
    zone: str
    latest: tuple[SiteOfDay, ...]
    open_incidents: int
    bursts: int
    sites_lost: int
    supplies_soon: int
    orders_open: int


def day_page(ask: Ask) -> DayPage:
    """The day, as entered."""
    date, dates = chosen_county_day(ask)
    days = days_now(ask.folder)
    report = days.report(date)
    happening = Happening(ask)
    lost = {one.site: one.site_min for one in happening.lost}
    going_on = [one.site for one in happening.incidents if one.goes_on and not one.into]
    sites = tuple(
        sorted(
            (
                site_of_day(ask, days, site, going_on.count(site.site), lost.get(site.site, 0))
                for site in report.sites
            ),
            key=lambda s: (s.order, s.name),
        )
    )
    told = [site for site in sites if site.opened.values]
    return DayPage(
        **ask.frame(N_("The day: which doors are not open yet?")),
        day=date,
        days=dates,
        sites=sites,
        not_open=tuple(site for site in sites if not site.opened.values),
        elsewhere=len(report.elsewhere),
        strays=stray_lines(ask, days, report, date),
        corrected=sum(len(site.corrections()) for site in report.sites),
        now_ms=happening.now_ms,
        zone=happening.election.zone_name,
        latest=tuple(sorted(told, key=lambda s: s.opened.observations[-1].utc_ms, reverse=True)[:LATEST]),
        open_incidents=len(going_on),
        bursts=len(happening.spreads),
        sites_lost=sum(minutes > 0 for minutes in lost.values()),
        supplies_soon=sum(line.soon or line.not_here for line in happening.supplies),
        orders_open=orders_not_read_back(happening),
    )


def orders_not_read_back(happening: Happening) -> int:
    """How many orders hold somewhere and are not read back by every site that they are for."""
    sites = tuple(happening.site_names)
    return sum(
        any(order in holding(happening.orders, said.site) and said.state != "same" for said in told)
        for order in happening.orders
        for told in [acknowledgements(happening.folded, order, sites)]
    )


def site_of_day(ask: Ask, days: Days, site: SiteDay, incidents: int, lost_min: int) -> SiteOfDay:
    """One site's row."""
    names = ask.may(Capability.SEE_PEOPLE)
    opening = [r for r in site.at(Moment.OPENING) if r.item is not None and is_asked(r, days.election)]
    hidden = held_back(site)
    notices = sum(n.key not in hidden for n in still_open(site.notices, days.folded))
    return SiteOfDay(
        link=site_link(site.site),
        name=site.name,
        opened=site.opened,
        closed=site.closed,
        opened_told=minutes_told(ask.folder, site.opened, names=names),
        closed_told=minutes_told(ask.folder, site.closed, names=names),
        opening_read=sum(r.state not in (ItemState.NOT_SEEN, ItemState.WAITING) for r in opening),
        opening_lines=len(opening),
        waiting=sum(r.state is ItemState.WAITING for r in opening),
        out_of_service=sum(d.state is DeviceState.OUT_OF_SERVICE for d in site.devices),
        counts_zero=sum(line.state is LineState.ZERO for line in site.lines),
        counts_lines=len(site.lines),
        open_notices=notices,
        incidents=incidents,
        lost_min=lost_min,
        order=0 if notices else 1 if not site.opened.values else 2 if not site.closed.values else 3,
    )


@get("/day")
@in_thread
def day(request: Request[Any, Any, Any]) -> Response[str]:
    """The day."""
    ask = Ask(request)
    return answer(ask, day_page(ask))
