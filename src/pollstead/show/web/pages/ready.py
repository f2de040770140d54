"""Ready to open, and the day: every site on one operating day, the one to call first at the top."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar

from litestar import Request, Response, get

from pollstead.election.station_type import Moment
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.reconcile.counts.balance import LineState
from pollstead.reconcile.day import Minute, SiteDay
from pollstead.reconcile.opening.states import DeviceState, ItemState
from pollstead.reconcile.readiness.ready import ReadyState, SiteReady, ready_to_open
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.web.day import Days, all_days, county_day, days_now, held_back, still_open
from pollstead.show.web.pages.county import site_link
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, in_thread

READY_SHAPES = {ReadyState.DONE: "square", ReadyState.NOT_DONE: "diamond", ReadyState.UNKNOWN: "ring"}


class ReadySite(Value, frozen=True, kw_only=True):
    """A site with its items; `left` counts those not done by evidence."""

    link: str
    ready: SiteReady
    left: int


class ReadyPage(Page, frozen=True, kw_only=True):
    """Which sites are ready to open."""

    template: ClassVar[str] = "ready.html"

    day: dt.date
    days: tuple[dt.date, ...]
    sites: tuple[ReadySite, ...]
    ready: int
    shapes: tuple[tuple[str, str], ...]
    cautions: tuple[Caution, ...]


class SiteOfDay(Value, frozen=True, kw_only=True):
    """A site on the day: doors, readings, devices, counts, differences."""

    link: str
    name: str
    opened: Minute
    closed: Minute
    opening_read: int
    opening_lines: int
    waiting: int
    out_of_service: int
    counts_zero: int
    counts_lines: int
    open_notices: int
    order: int


class DayPage(Page, frozen=True, kw_only=True):
    """The day: which doors are not open yet, what was read, what differs."""

    template: ClassVar[str] = "day.html"

    day: dt.date
    days: tuple[dt.date, ...]
    sites: tuple[SiteOfDay, ...]
    not_open: tuple[SiteOfDay, ...]
    elsewhere: int


def chosen_county_day(ask: Ask) -> tuple[dt.date, tuple[dt.date, ...]]:
    """The day of the address, else the one that is due; raises Trouble before there is a plan."""
    if not ask.folder.current_digest():
        raise Trouble(
            409,
            N_("There is no plan yet, so no day can be shown."),
            N_("Make a plan on the page Jobs."),
            "/jobs",
        )
    days = days_now(ask.folder)
    dates = all_days(days.version, days.election)
    text = ask.query.get("day", "")
    if not text:
        return county_day(days, days.version, days.election), dates
    found = next((date for date in dates if date.isoformat() == text), None)
    if found is None:
        raise Trouble(404, N_("No site is open on that day."), N_("Choose another day."), ask.path)
    return found, dates


def ready_page(ask: Ask) -> ReadyPage:
    """Ready to open, on one day."""
    date, dates = chosen_county_day(ask)
    days = days_now(ask.folder)
    found = ready_to_open(days.election, days.version, days.issued, days.folded, days.report(date))
    sites = tuple(
        ReadySite(
            link=site_link(one.site),
            ready=one,
            left=sum(item.state is not ReadyState.DONE for item in one.items),
        )
        for one in found
    )
    return ReadyPage(
        **ask.frame(N_("Ready to open?")),
        day=date,
        days=dates,
        sites=sites,
        ready=sum(one.ready.ready for one in sites),
        shapes=tuple((state.value, shape) for state, shape in READY_SHAPES.items()),
        cautions=for_place(Place.READY_PAGE),
    )


def day_page(ask: Ask) -> DayPage:
    """The day, as entered."""
    date, dates = chosen_county_day(ask)
    days = days_now(ask.folder)
    report = days.report(date)
    sites = tuple(sorted((site_of_day(days, site) for site in report.sites), key=lambda s: (s.order, s.name)))
    return DayPage(
        **ask.frame(N_("The day: which doors are not open yet?")),
        day=date,
        days=dates,
        sites=sites,
        not_open=tuple(site for site in sites if not site.opened.values),
        elsewhere=len(report.elsewhere),
    )


def site_of_day(days: Days, site: SiteDay) -> SiteOfDay:
    """One site's row."""
    opening = [r for r in site.at(Moment.OPENING) if r.item is not None]
    hidden = held_back(site)
    notices = sum(n.key not in hidden for n in still_open(site.notices, days.folded))
    return SiteOfDay(
        link=site_link(site.site),
        name=site.name,
        opened=site.opened,
        closed=site.closed,
        opening_read=sum(r.state not in (ItemState.NOT_SEEN, ItemState.WAITING) for r in opening),
        opening_lines=len(opening),
        waiting=sum(r.state is ItemState.WAITING for r in opening),
        out_of_service=sum(d.state is DeviceState.OUT_OF_SERVICE for d in site.devices),
        counts_zero=sum(line.state is LineState.ZERO for line in site.lines),
        counts_lines=len(site.lines),
        open_notices=notices,
        order=0 if notices else 1 if not site.opened.values else 2 if not site.closed.values else 3,
    )


@get("/ready")
@in_thread
def ready(request: Request[Any, Any, Any]) -> Response[str]:
    """Ready to open?"""
    ask = Ask(request)
    return answer(ask, ready_page(ask))


@get("/day")
@in_thread
def day(request: Request[Any, Any, Any]) -> Response[str]:
    """The day."""
    ask = Ask(request)
    return answer(ask, day_page(ask))
