"""Calendar paper: months for the wall, a list for each owner, the sheet of what is due and late this week."""

from __future__ import annotations

import datetime as dt
import enum
from typing import Any, Final

from pollstead.election.county import Election
from pollstead.election.words import N_, Message, message
from pollstead.plan.calendar.states import Standing, TaskState
from pollstead.show.calendar_words import (
    MONTHS,
    NO_OWNER,
    WEEKDAYS,
    clock_words,
    counted_from,
    is_owned_by,
    owner_key,
    owner_words,
    owners,
    week_of,
)
from pollstead.show.cautions import Place, for_place
from pollstead.show.one_paper import Template, set_paper
from pollstead.show.words import ENGLISH, fill, is_right_to_left, text
from pollstead.work.calendar_view import CalendarView

TEMPLATE = Template("wall", "calendar.typ", "job")
LONGEST_S = 120


class Sheets(enum.StrEnum):
    """What can be printed."""

    WALL = "wall"
    OWNERS = "owners"
    WEEK = "week"


PAPERS: Final = {Sheets.WALL: ("tabloid", "letter"), Sheets.OWNERS: ("letter",), Sheets.WEEK: ("letter",)}
MARKS: Final = {
    TaskState.DONE: "square",
    TaskState.LATE: "diamond",
    TaskState.DUE: "ring",
    TaskState.BEGIN: "diamond",
    TaskState.LATER: "ring",
}
WEEK_DAYS = 7


def calendar_pdf(
    election: Election,
    view: CalendarView,
    sheets: Sheets,
    *,
    paper: str = "letter",
    owner: str = "",
    names: bool = False,
    language: str = ENGLISH,
) -> bytes:
    """One PDF in UA-1 mode; the same input gives the same bytes.

    `owner` (a person's id or a role) leaves the others out. Raises ValueError for paper that these sheets
    are not made for.
    """
    if paper not in PAPERS[sheets]:
        raise ValueError(f"{sheets.value} is printed on {' or '.join(PAPERS[sheets])}, got {paper!r}")
    job = calendar_job(election, view, sheets, paper=paper, owner=owner, names=names, language=language)
    midnight = dt.datetime.combine(view.today, dt.time(), tzinfo=dt.UTC)
    return set_paper(TEMPLATE, job, int(midnight.timestamp()), LONGEST_S)


def calendar_job(
    election: Election,
    view: CalendarView,
    sheets: Sheets,
    *,
    paper: str,
    owner: str,
    names: bool,
    language: str,
) -> dict[str, Any]:
    """What the template sets."""
    made = _Making(election, view, owner, names, language)
    pages = {Sheets.WALL: made.months, Sheets.OWNERS: made.owner_lists, Sheets.WEEK: made.week}[sheets]()
    say = made.say
    return {
        "title": f"{election.county}: {say(_TITLES[sheets])}",
        "language": language,
        "right_to_left": is_right_to_left(language),
        "paper": paper,
        "landscape": sheets is Sheets.WALL,
        "county": f"{election.county} · {election.name} · {view.election_day.isoformat()}",
        "practice": say(N_("PRACTICE")) if election.practice else "",
        "invented": say(N_("Invented data: this county does not exist.")) if election.invented else "",
        "cautions": [say(caution.words) for caution in for_place(Place.CALENDAR)],
        "source": made.fill(message(N_("As of {date}. Unofficial, staff use."), date=view.today.isoformat())),
        "page_of": say(N_("Page {page} of {pages}")),
        "sheets": pages,
    }


_TITLES = {
    Sheets.WALL: N_("Wall calendar"),
    Sheets.OWNERS: N_("Tasks by owner"),
    Sheets.WEEK: N_("Due and late"),
}
_COLUMNS = (N_("Done"), N_("Date"), N_("Task"), N_("How it stands"), N_("Shown by"))
_WIDTHS = (14, 30, 0, 38, 38)


class _Making:
    """One job while it is made."""

    def __init__(
        self, election: Election, view: CalendarView, owner: str, names: bool, language: str
    ) -> None:
        self.election, self.view, self.names, self.language = election, view, names, language
        self.rows = tuple(s for s in view.standings if not owner or is_owned_by(s.task, owner))
        self.crossing = {one.task for one in view.conflicts}

    def say(self, english: str) -> str:
        return text(english, self.language)

    def fill(self, said: Message) -> str:
        return fill(said, self.language)

    # Months ---------------------------------------------------------------------------------------

    def months(self) -> list[dict[str, Any]]:
        """A page for each month from the first task that is not done to the last."""
        dates = [s.dates.by for s in self.rows if not s.dates.done] or [self.view.election_day]
        first, last = min(dates), max([*dates, self.view.election_day])
        found = []
        year, month = first.year, first.month
        while (year, month) <= (last.year, last.month):
            found.append(self._month(year, month))
            year, month = (year, month + 1) if month < 12 else (year + 1, 1)
        return found

    def _month(self, year: int, month: int) -> dict[str, Any]:
        first = dt.date(year, month, 1)
        after = dt.date(year + month // 12, month % 12 + 1, 1)
        begin = week_of(first)
        weeks = []
        while begin < after:
            weeks.append([begin + dt.timedelta(days=n) for n in range(WEEK_DAYS)])
            begin += dt.timedelta(days=WEEK_DAYS)
        return {
            "kind": "month",
            "title": f"{self.say(MONTHS[month - 1])} {year}",
            "weekdays": [self.say(WEEKDAYS[(n - 1) % WEEK_DAYS]) for n in range(WEEK_DAYS)],
            "weeks": [[self._day(date, month) for date in week] for week in weeks],
            "shaded": [[not self.view.days.is_working(date) for date in week] for week in weeks],
        }

    def _day(self, date: dt.date, month: int) -> dict[str, Any]:
        here = date.month == month
        items = [self._item(s) for s in self.rows if here and s.dates.by == date]
        counted = counted_from(date, self.view.election_day) if here else ""
        return {
            "day": str(date.day) if here else "",
            "counted": counted,
            "other": not here,
            "notes": self._notes(date) if here else [],
            "items": items,
        }

    def _notes(self, date: dt.date) -> list[str]:
        notes = [self.say(N_("Election day"))] if date == self.view.election_day else []
        for holiday in self.election.holidays:
            if holiday.date == date:
                words = N_("Office closed: {name}") if holiday.closed else N_("{name} (office works)")
                notes.append(self.fill(message(words, name=holiday.name)))
        notes += [self.fill(clock_words(c.shift_min)) for c in self.view.changes if c.date == date]
        return notes

    def _item(self, standing: Standing) -> dict[str, Any]:
        about = [owner_words(standing.task, self.election, names=False) or self.say(NO_OWNER)]
        if standing.unconfirmed:
            about.append(self.say(N_("date not confirmed")))
        if standing.state in (TaskState.LATE, TaskState.DONE):
            about.append(self.say(standing.state.value))
        return {
            "words": standing.task.words,
            "about": f"({'; '.join(about)})",
            "mark": MARKS[standing.state],
            "done": standing.dates.done,
        }

    # Lists ----------------------------------------------------------------------------------------

    def owner_lists(self) -> list[dict[str, Any]]:
        """A list that starts on a front page for each owner; those without owner last."""
        found = []
        for key in owners(tuple(s.task for s in self.rows)):
            own = [s for s in self.rows if owner_key(s.task) == key]
            title = owner_words(own[0].task, self.election, names=self.names) or self.say(
                N_("Tasks without owner")
            )
            still = sum(not s.dates.done for s in own)
            about = self.fill(message(N_("{count} tasks, {open} not done"), count=len(own), open=still))
            found.append(self._list(title, about, [self._section("", own)]))
        return found or [self._list(self.say(_TITLES[Sheets.OWNERS]), "", [self._section("", [])])]

    def week(self) -> list[dict[str, Any]]:
        """One list: late, due this week, should have begun, dates not confirmed, tasks without owner."""
        open_rows = [s for s in self.rows if not s.dates.done]
        last = self.view.today + dt.timedelta(days=WEEK_DAYS - 1)
        groups = (
            (N_("Late"), [s for s in open_rows if s.state is TaskState.LATE]),
            (N_("Due this week"), [s for s in open_rows if s.state is TaskState.DUE]),
            (N_("Should have begun"), [s for s in open_rows if s.state is TaskState.BEGIN]),
            (N_("Date not confirmed"), [s for s in open_rows if s.unconfirmed]),
            (N_("No owner"), [s for s in open_rows if not s.owned]),
        )
        about = self.fill(
            message(N_("From {first} to {last}"), first=self.view.today.isoformat(), last=last.isoformat())
        )
        sections = [self._section(self.say(title), rows, with_owner=True) for title, rows in groups]
        return [self._list(self.say(_TITLES[Sheets.WEEK]), about, sections)]

    def _list(self, title: str, about: str, sections: list[dict[str, Any]]) -> dict[str, Any]:
        return {"kind": "list", "title": title, "about": about, "sections": sections}

    def _section(self, title: str, rows: list[Standing], *, with_owner: bool = False) -> dict[str, Any]:
        columns = [self.say(c) for c in _COLUMNS]
        if with_owner:
            columns[-1] = self.say(N_("Owner"))
        return {
            "title": title,
            "columns": columns,
            "widths": list(_WIDTHS),
            "rows": [self._row(standing, with_owner) for standing in rows],
            "empty": self.say(N_("Nothing here.")),
        }

    def _row(self, standing: Standing, with_owner: bool) -> list[dict[str, Any]]:
        task, dates = standing.task, standing.dates
        date = f"{dates.by.isoformat()}\n{self.say(WEEKDAYS[dates.by.weekday()])}, " + counted_from(
            dates.by, self.view.election_day
        )
        last = owner_words(task, self.election, names=self.names) or self.say(NO_OWNER)
        return [
            _cell("", "square" if dates.done else "tick"),
            _cell(date),
            _cell(f"{task.words}\n{task.id}", strong=True),
            _cell(self._stands(standing), MARKS[standing.state]),
            _cell(last if with_owner else task.done_shown_by),
        ]

    def _stands(self, standing: Standing) -> str:
        parts = [self.say(standing.state.value)]
        if standing.unconfirmed:
            parts.append(self.say(N_("date not confirmed: call the office")))
        if standing.task.id in self.crossing and not standing.dates.done:
            parts.append(self.say(N_("needed earlier: dates cross")))
        if standing.waits_for and not standing.dates.done:
            parts.append(self.fill(message(N_("waits for {tasks}"), tasks=", ".join(standing.waits_for))))
        return "; ".join(parts)


def _cell(words: str, mark: str = "", *, strong: bool = False) -> dict[str, Any]:
    return {"words": words, "mark": mark, "strong": strong}
