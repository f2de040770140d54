"""The tables of the calendar, the list that ships as a start, and what they leave open."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from pollstead.election.calendar import DateKind, Task
from pollstead.election.notice import NoticeKind
from pollstead.intake.folder import Intake, read_folder
from pollstead.intake.starter_tasks import starter_text
from pollstead.plan.calendar.conflicts import conflict_notices, conflicts
from pollstead.plan.calendar.days import WorkingDays, working_days_of

COUNTY = 'county = "Tarn"\nname = "General"\nelection_day = 2028-11-07\nzone = "EST5EDT"\ninvented = true\n'
LARKMOOR = Path(__file__).resolve().parents[2] / "larkmoor"


def read(folder: Path, tasks: str, holidays: str = "") -> Intake:
    """A county of one site with these tasks and holidays."""
    (folder / "county.toml").write_text(COUNTY, "utf-8")
    (folder / "sites.csv").write_text("id,name\nS1,Hall\n", "utf-8")
    (folder / "people.csv").write_text("id,name\nP1,Wren\n", "utf-8")
    (folder / "tasks.csv").write_text(tasks, "utf-8")
    if holidays:
        (folder / "holidays.csv").write_text(holidays, "utf-8")
    return read_folder(folder)


@pytest.fixture(scope="module")
def starter(tmp_path_factory: pytest.TempPathFactory) -> tuple[Task, ...]:
    """The list that ships, read as a county's table."""
    intake = read(tmp_path_factory.mktemp("starter"), starter_text())
    assert intake.faults == ()
    assert intake.election is not None
    return intake.election.tasks


def test_the_list_that_ships_switches_no_law_on(starter: tuple[Task, ...]) -> None:
    """About 45 tasks from E-180 to E+45: owned by roles, common practice, nothing by law or confirmed."""
    assert 40 <= len(starter) <= 50
    assert (min(t.offset_days or 0 for t in starter), max(t.offset_days or 0 for t in starter)) == (-180, 45)
    for task in starter:
        assert task.owner_role and task.done_shown_by, task.id
        assert task.kind == DateKind.PRACTICE.value
        assert task.source == "common practice, no source; varies by county"
        assert not task.confirmed


@pytest.mark.parametrize("year", [2024, 2026, 2028, 2030])
def test_the_dates_of_the_list_that_ships_go_together(starter: tuple[Task, ...], year: int) -> None:
    """In a Monday-to-Friday week no two dates cross and no tasks wait in a circle, whatever the year."""
    first = dt.date(year, 11, 1)
    day = first + dt.timedelta(days=(7 - first.weekday()) % 7 + 1)
    assert conflicts(starter, day, WorkingDays(weekdays=(0, 1, 2, 3, 4))) == ((), ())


@pytest.mark.full
def test_larkmoor_has_a_list_whose_dates_go_together_and_two_open_things() -> None:
    """One date by law is not confirmed, one task has no owner; with all its holidays no dates cross."""
    intake = read_folder(LARKMOOR)
    assert intake.election is not None
    election = intake.election
    assert conflict_notices(election.tasks, election.election_day, working_days_of(election)) == ()
    told = [(n.rule, n.subject) for n in intake.notices if n.subject.startswith("task/")]
    assert told == [
        ("date-not-confirmed", "task/canvass-papers"),
        ("task-without-owner", "task/thank-buildings"),
    ]
    assert not working_days_of(election).is_working(dt.date(2028, 10, 9))


def test_cells_that_do_not_fit_are_named_by_row_and_column(tmp_path: Path) -> None:
    """A word that is none, a fixed date without reason, a task that waits for itself: all told at once."""
    intake = read(
        tmp_path,
        "id,words,offset_days,roll,fixed_date,after\n"
        "a,A,E-45,,,\nb,B,-3,sometimes,,\nc,C,,,2028-10-01,\nd,D,-1,,,d\n",
        "date,name,closed\n2028-02-30,Lost day,yes\n",
    )
    told = {(n.place.file, n.place.row) for n in intake.faults if n.place is not None}
    assert told == {
        ("tasks.csv", 2),
        ("tasks.csv", 3),
        ("tasks.csv", 4),
        ("tasks.csv", 5),
        ("holidays.csv", 2),
    }


def test_names_that_lead_nowhere_and_rows_twice_are_told(tmp_path: Path) -> None:
    """A predecessor, an anchor and an owner that no table lists; a task and a holiday that stand twice."""
    intake = read(
        tmp_path,
        "id,words,owner_role,owner,offset_days,from_task,after\n"
        "a,A,,P9,-3,,b\nb,B,clerk,,-9,z,y\ne,E,clerk,,-9,,\ne,E too,clerk,,-9,,\n",
        "date,name\n2028-10-09,One\n2028-10-09,Two\n",
    )
    lost = {n.subject for n in intake.notices if n.rule == "task-name-leads-nowhere"}
    assert lost == {"task/a/owner/P9", "task/b/after/y", "task/b/from_task/z"}
    assert {n.subject for n in intake.notices if n.rule == "row-twice"} == {"tasks/e", "holidays/2028-10-09"}


def test_confirming_a_date_and_naming_an_owner_closes_both_items(tmp_path: Path) -> None:
    """Mend the field, and the notice goes."""
    head = "id,words,owner_role,offset_days,kind,confirmed_by,confirmed_on\n"
    rules = {"task-without-owner", "date-not-confirmed"}

    def told(row: str) -> set[str]:
        return {n.rule for n in read(tmp_path, head + row).notices if n.kind is NoticeKind.OPEN_ITEM} & rules

    assert told("a,A,,-30,law,,\n") == rules
    assert told("a,A,clerk,-30,law,counsel,\n") == {"date-not-confirmed"}, (
        "a name without a day is not enough"
    )
    assert told("a,A,clerk,-30,law,counsel,2028-05-02\n") == set()
    assert told("a,A,clerk,-30,practice,,\n") == set()
