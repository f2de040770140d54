"""The calendar to take along: months as tables, PDF for wall and desk, one iCalendar file."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar

from litestar import Request, Response, get

from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.plan.calendar.states import Standing
from pollstead.show.calendar_words import MONTHS, WEEKDAYS, clock_words, counted_from, week_of
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.export.icalendar import calendar_file
from pollstead.show.one_paper import NotSet
from pollstead.show.wall.sheets import PAPERS, Sheets, calendar_pdf
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.pages.calendar import TaskRow, row_of, view_now
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, in_thread

WEEK_DAYS = 7


class WallDay(Value, frozen=True, kw_only=True):
    """One day of a month: None outside it."""

    date: dt.date | None
    counted: str = ""
    works: bool = True
    notes: tuple[Message, ...] = ()
    rows: tuple[TaskRow, ...] = ()


class MonthPage(Page, frozen=True, kw_only=True):
    """One month."""

    template: ClassVar[str] = "calendar_month.html"

    month: str
    year: int
    weekdays: tuple[str, ...]
    weeks: tuple[tuple[WallDay, ...], ...]
    earlier: str
    later: str
    cautions: tuple[Caution, ...]


def month_page(ask: Ask) -> MonthPage:
    """The month that the address names, else this one."""
    election, view = view_now(ask)
    asked = ask.query.get("month", "")
    try:
        first = dt.date.fromisoformat(f"{asked}-01") if asked else view.today.replace(day=1)
    except ValueError:
        raise Trouble(
            404, N_("There is no such month."), N_("Choose one from the calendar."), link="/calendar/month"
        ) from None
    if not 1900 < first.year < 2200:
        raise Trouble(
            404, N_("There is no such month."), N_("Choose one from the calendar."), link="/calendar/month"
        )
    following = (first + dt.timedelta(days=31)).replace(day=1)
    by_date: dict[dt.date, list[Standing]] = {}
    for standing in view.standings:
        by_date.setdefault(standing.dates.by, []).append(standing)

    def day(date: dt.date) -> WallDay:
        if date.month != first.month:
            return WallDay(date=None)
        notes = [message(N_("Election day"))] if date == view.election_day else []
        for holiday in election.holidays:
            if holiday.date == date:
                words = N_("Office closed: {name}") if holiday.closed else N_("{name} (office works)")
                notes.append(message(words, name=holiday.name))
        notes += [clock_words(change.shift_min) for change in view.changes if change.date == date]
        return WallDay(
            date=date,
            counted=counted_from(date, view.election_day),
            works=view.days.is_working(date),
            notes=tuple(notes),
            rows=tuple(row_of(ask, election, view, standing) for standing in by_date.get(date, [])),
        )

    weeks, begins = [], week_of(first)
    while begins < following:
        weeks.append(tuple(day(begins + dt.timedelta(days=n)) for n in range(WEEK_DAYS)))
        begins += dt.timedelta(days=WEEK_DAYS)
    return MonthPage(
        **ask.frame(N_("What is due this month?")),
        month=MONTHS[first.month - 1],
        year=first.year,
        weekdays=tuple(WEEKDAYS[(n - 1) % WEEK_DAYS] for n in range(WEEK_DAYS)),
        weeks=tuple(weeks),
        earlier=(first - dt.timedelta(days=1)).strftime("%Y-%m"),
        later=following.strftime("%Y-%m"),
        cautions=for_place(Place.CALENDAR),
    )


@get("/calendar/month")
@in_thread
def calendar_month(request: Request[Any, Any, Any]) -> Response[str]:
    """The page."""
    ask = Ask(request)
    return answer(ask, month_page(ask))


@get("/calendar/file")
@in_thread
def calendar_ics(request: Request[Any, Any, Any]) -> Response[bytes]:
    """The iCalendar file, for one owner where the address names one; names only where the role sees them."""
    ask = Ask(request)
    election, view = view_now(ask)
    made = calendar_file(
        election,
        view,
        owner=ask.query.get("owner", "")[:200],
        names=ask.may(Capability.SEE_PEOPLE),
        language=ask.language,
    )
    return _file(made, "text/calendar", "calendar.ics")


@get("/calendar/paper")
@in_thread
def calendar_paper(request: Request[Any, Any, Any]) -> Response[bytes]:
    """One PDF."""
    ask = Ask(request)
    election, view = view_now(ask)
    sheets = next((s for s in Sheets if s.value == ask.query.get("sheets", "wall")), None)
    paper = ask.query.get("paper", "letter")
    if sheets is None or paper not in PAPERS[sheets]:
        raise Trouble(
            404, N_("There is no such paper."), N_("Choose one from the calendar."), link="/calendar"
        )
    try:
        made = calendar_pdf(
            election,
            view,
            sheets,
            paper=paper,
            owner=ask.query.get("owner", "")[:200],
            names=ask.may(Capability.SEE_PEOPLE),
            language=ask.language,
        )
    except NotSet as error:
        raise Trouble(
            500,
            N_("The calendar was not printed: {why}"),
            N_("Go back to the list; it can be printed from the browser."),
            link="/calendar",
            why=str(error)[:300],
        ) from error
    return _file(made, "application/pdf", f"calendar-{sheets.value}-{paper}.pdf")


def _file(data: bytes, kind: str, name: str) -> Response[bytes]:
    headers = {"content-disposition": f'attachment; filename="{name}"'}
    return Response(content=data, media_type=kind, headers=headers)
