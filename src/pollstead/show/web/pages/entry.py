"""Opening and closing readings of a site: independent entry, then match or difference.

Whoever types sees no expected number. It shows once as many people have entered a line as must.
"""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar

from litestar import Request, Response, get, post
from litestar.params import FromPath

from pollstead.election.instants import parse_hasty_clock
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.reconcile.counts.midday import NO_CHECKS, CrossChecks
from pollstead.reconcile.day import Minute, SiteDay
from pollstead.reconcile.explain.night import explain_site
from pollstead.reconcile.explain.words import sentence
from pollstead.reconcile.opening.pace import advice_on_readings
from pollstead.record.kinds.days import SiteClosed, SiteOpened
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.web.balance_view import BalanceRow, balance_rows
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.day import days_now, days_of, due_day, issued
from pollstead.show.web.entered import DoneLine, MinuteTold, MyEntry, done_lines, mine, minutes_told
from pollstead.show.web.misread import MISREAD, misread_of
from pollstead.show.web.pages.county import site_link
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.pages.site import SiteInPlan, find_site
from pollstead.show.web.readings import Line, closing_lines, opening_lines
from pollstead.show.web.typed import Wrong, field_names, read_lines


class Group(Value, frozen=True, kw_only=True):
    """Lines of one station or device that this person still has to read, or that are done."""

    name: str
    lines: tuple[Line, ...]


class TypedValue(Value, frozen=True, kw_only=True):
    """What stands in a field of the form, kept when something else did not fit."""

    field: str
    value: str


class EntryPage(Page, frozen=True, kw_only=True):
    """The readings of a site at opening or closing."""

    template: ClassVar[str] = "entry.html"

    site: str
    link: str
    opening: bool
    day: dt.date
    days: tuple[dt.date, ...]
    list_event: str
    list_issued: bool
    groups: tuple[Group, ...]
    read_before: bool
    mine: tuple[MyEntry, ...]
    done: tuple[DoneLine, ...]
    waiting: int
    minute: Minute
    minute_told: tuple[MinuteTold, ...]
    balance: tuple[BalanceRow, ...]
    checks: CrossChecks
    typed: tuple[TypedValue, ...]
    faults: tuple[Wrong, ...]
    partial_offered: bool
    misread_offered: bool
    may_enter: bool
    corrected: int
    advice: tuple[Message, ...]
    explained: Message | None
    cautions: tuple[Caution, ...]


class AtSite(Value, frozen=True, kw_only=True):
    """The site, day and lines that a request is about."""

    found: SiteInPlan
    date: dt.date
    day: SiteDay
    lines: tuple[Line, ...]
    list_event: str


def chosen_day(ask: Ask, found: SiteInPlan) -> dt.date:
    """The day of the address, else the day that is due at the site; raises Trouble for another one."""
    text = ask.query.get("day") or ask.form.text("day")
    if not text:
        return due_day(days_now(ask.folder), found.plan, found.election)
    try:
        date = dt.date.fromisoformat(text)
    except ValueError:
        date = None
    if date is None or date not in days_of(found.plan, found.election):
        raise Trouble(
            404,
            N_("{site} is not open on that day."),
            N_("The page of the site names its days."),
            site_link(found.site.id),
            site=found.plan.name,
        )
    return date


def place_of(ask: Ask, key: str, *, opening: bool) -> AtSite:
    """What a request for readings is about."""
    found = find_site(ask.folder, key)
    date = chosen_day(ask, found)
    day = days_now(ask.folder).site(found.plan.site, date)
    if day is None:
        raise Trouble(
            404, N_("{site} is not open on that day."), N_("Choose another day."), "/", site=found.plan.name
        )
    lines = opening_lines(day, found.election) if opening else closing_lines(day, found.election)
    return AtSite(
        found=found,
        date=date,
        day=day,
        lines=lines,
        list_event=issued(ask.folder).event_of(found.plan.site, date),
    )


def entry_page(ask: Ask, place: AtSite, *, opening: bool, faults: tuple[Wrong, ...] = ()) -> EntryPage:
    """The page; with `faults`, what was typed is kept."""
    person = ask.who.person if ask.who else ""
    may_enter = ask.may(Capability.ENTER)
    to_read = tuple(line for line in place.lines if line.open_for(person)) if may_enter else ()
    names = [name for line in to_read for name in field_names(line)]
    title = (
        N_("{site}: what do you read at opening?") if opening else N_("{site}: what do you read at closing?")
    )
    minute = place.day.opened if opening else place.day.closed
    counted = all(line.complete for line in place.lines if not line.items)
    return EntryPage(
        **ask.frame(title, site=place.found.plan.name),
        site=place.found.plan.name,
        link=site_link(place.found.site.id),
        opening=opening,
        day=place.date,
        days=days_of(place.found.plan, place.found.election),
        list_event=place.list_event,
        list_issued=place.day.list_issued,
        groups=grouped(to_read),
        read_before=any(line.people for line in to_read),
        mine=tuple(
            mine(ask.folder, line, person)
            for line in place.lines
            if person in line.people and not line.complete
        ),
        done=done_lines(ask.folder, place.lines, place.day, may_see=ask.may(Capability.SEE_EXPECTED)),
        waiting=sum(1 for line in place.lines if line.people and not line.complete),
        minute=minute,
        minute_told=minutes_told(ask.folder, minute, names=ask.may(Capability.SEE_PEOPLE)),
        balance=balance_rows(
            ask.folder,
            place.found.election,
            () if opening or not counted else place.day.lines,
            names=ask.may(Capability.SEE_PEOPLE),
        ),
        checks=NO_CHECKS if opening else place.day.checks,
        typed=tuple(TypedValue(field=n, value=ask.form.text(n)) for n in names) if faults else (),
        faults=faults,
        partial_offered=bool(faults),
        misread_offered=any(fault.words.template == MISREAD for fault in faults),
        may_enter=may_enter,
        corrected=len(place.day.corrections()),
        advice=advice_on_readings(place.day.seen()) if ask.may(Capability.ISSUE) else (),
        explained=None if opening or not ask.may(Capability.CANVASS) else sentence_for(ask, place),
        cautions=for_place(Place.OPENING_PAGE if opening else Place.CLOSING_PAGE),
    )


def sentence_for(ask: Ask, place: AtSite) -> Message | None:
    """How many explanations fit a site's differences, for the office desk; None without a difference."""
    days = days_now(ask.folder)
    found = explain_site(place.day, days.report(place.date), days.folded, days.election)
    return None if found is None else sentence(found.explained)


def grouped(lines: tuple[Line, ...]) -> tuple[Group, ...]:
    """Lines by station or device, in the order in which they come."""
    groups: dict[str, list[Line]] = {}
    for line in lines:
        groups.setdefault(line.group, []).append(line)
    return tuple(Group(name=name, lines=tuple(found)) for name, found in groups.items())


def take_readings(ask: Ask, place: AtSite) -> tuple[Wrong, ...]:
    """Record what was typed on the lines that this person still has to read; all of it, or nothing."""
    if ask.form.text("list") != place.list_event:
        raise Trouble(
            409,
            N_("The expected list of this site changed while you were typing."),
            N_("Nothing was saved. Open the page again; it shows the lines that hold now."),
            ask.address,
        )
    person = ask.person().person
    lines = [line for line in place.lines if line.open_for(person)]
    misread = misread_of(place.found.election, ask.folder.current(), ask.form)
    answers, wrong = read_lines(lines, ask.form, _not_typed, misread)
    for line, said in answers:
        ask.folder.write(
            said.body,
            who=ask.person(),
            subject=line.subject,
            site=site_subject(place),
            day=place.date.isoformat(),
            private=said.private,
        )
    return wrong


def _not_typed(line: Line) -> Message:
    words = f"{line.group}: {line.words}" if line.group else line.words
    return message(N_("{line}: nothing was typed."), line=words)


def take_minute(ask: Ask, place: AtSite, *, opening: bool) -> tuple[Wrong, ...]:
    """Record the minute when the doors opened, or when the last voter had voted."""
    try:
        minute = parse_hasty_clock(ask.form.text("at"))
    except ValueError:
        words: Message = message(N_("Type the time like 06:00; past midnight like 24:40."))
        return (Wrong(field="at", words=words),)
    body = SiteOpened(at_min=minute) if opening else SiteClosed(at_min=minute)
    subject = site_subject(place)
    ask.folder.write(body, who=ask.person(), subject=subject, site=subject, day=place.date.isoformat())
    return ()


def site_subject(place: AtSite) -> str:
    """The site as events name it."""
    return f"site/{place.found.site.id.removeprefix('site/')}"


def _show(request: Request[Any, Any, Any], key: str, *, opening: bool) -> Response[str]:
    ask = Ask(request)
    return answer(ask, entry_page(ask, place_of(ask, key, opening=opening), opening=opening))


def _take(request: Request[Any, Any, Any], key: str, *, opening: bool) -> Response[Any]:
    ask = Ask(request)
    place = place_of(ask, key, opening=opening)
    faults = (
        take_minute(ask, place, opening=opening)
        if ask.form.text("do") == "minute"
        else take_readings(ask, place)
    )
    if faults:
        return answer(ask, entry_page(ask, place, opening=opening, faults=faults), status=422)
    return go(
        f"{site_link(place.found.site.id)}/{'opening' if opening else 'closing'}?day={place.date.isoformat()}"
    )


@get("/site/{site:str}/opening")
@in_thread
def opening_entry(request: Request[Any, Any, Any], site: FromPath[str]) -> Response[str]:
    """The opening readings of a site."""
    return _show(request, site, opening=True)


@post("/site/{site:str}/opening")
@in_thread
def take_opening(request: Request[Any, Any, Any], site: FromPath[str]) -> Response[Any]:
    """Take opening readings."""
    return _take(request, site, opening=True)


@get("/site/{site:str}/closing")
@in_thread
def closing_entry(request: Request[Any, Any, Any], site: FromPath[str]) -> Response[str]:
    """The closing readings of a site."""
    return _show(request, site, opening=False)


@post("/site/{site:str}/closing")
@in_thread
def take_closing(request: Request[Any, Any, Any], site: FromPath[str]) -> Response[Any]:
    """Take closing readings."""
    return _take(request, site, opening=False)
