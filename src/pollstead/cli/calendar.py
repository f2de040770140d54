"""``pollstead calendar``: what is due and late, as text, JSON, iCalendar and paper. Thin: read, print."""

from __future__ import annotations

import datetime as dt
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import cyclopts

from pollstead.election.words import N_, message
from pollstead.show.words import fill, spoken, text

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.plan.calendar.states import Standing
    from pollstead.record.facts import Fold
    from pollstead.work.calendar_view import CalendarView

FORMAT = "pollstead calendar 1"
LONGEST_ALARM_DAYS = 60

app = cyclopts.App(name="calendar", help=text(N_("Say what is due and late, and who owns it.")))


def _option(name: str, words: str) -> cyclopts.Parameter:
    return cyclopts.Parameter(name=name, help=text(words), negative=())


@app.default
def calendar(
    folder: Path,
    /,
    *,
    ics: Annotated[Path | None, _option("--ics", N_("Write an iCalendar file."))] = None,
    paper: Annotated[
        Path | None, _option("--paper", N_("Write wall calendar and lists as PDF here."))
    ] = None,
    owner: Annotated[str, _option("--owner", N_("Only tasks of this person (id) or role."))] = "",
    as_of: Annotated[str, _option("--as-of", N_("Date to look from; otherwise today."))] = "",
    alarm: Annotated[int | None, _option("--alarm", N_("Days before a task to remind, in --ics."))] = None,
    slip: Annotated[str, _option("--slip", N_("What if: a task and working days, such as test:3."))] = "",
    before: Annotated[
        Path | None, _option("--before", N_("Folder of the last election, to compare."))
    ] = None,
    starter: Annotated[
        bool, _option("--starter", N_("Take the list of tasks that ships as a start."))
    ] = False,
    by: Annotated[str, _option("--by", N_("Person who takes the list, an id, for --starter."))] = "",
    as_json: Annotated[bool, _option("--json", N_("Print JSON."))] = False,
) -> int:
    """Print the tasks of FOLDER by date with owner, state and slack; never a telephone number.

    Returns 0, or 1 where the folder cannot be read or something given does not fit.
    """
    from pollstead.cli.county import Refused, county_folder, tell
    from pollstead.show.export.icalendar import calendar_file
    from pollstead.show.packet.typesetting import write_whole
    from pollstead.work.calendar_view import calendar_view

    try:
        county_folder(folder)
        if starter:
            return _take_starter(folder, by)
        election, folded, today = _read(folder, as_of)
        view = calendar_view(election, folded, today)
        if alarm is not None and not 0 <= alarm <= LONGEST_ALARM_DAYS:
            raise ValueError(f"--alarm must be 0 to {LONGEST_ALARM_DAYS} days, got {alarm}")
        if ics is not None:
            write_whole(
                ics,
                calendar_file(election, view, owner=owner, names=True, alarm_days=alarm, language=spoken()),
            )
        if paper is not None:
            _print_paper(paper, election, view, owner)
        found = {"calendar": _rows(election, view, owner)}
        extra: dict[str, Any] = {}
        if slip:
            extra["slip"] = _slip(election, view, slip)
        if before is not None:
            extra["last_list"] = _compared(election, before)
    except Refused as refused:
        return tell(refused)
    except (ValueError, OSError) as error:
        print(error, file=sys.stderr)
        return 1
    if as_json:
        json.dump(
            _report(folder, view, owner, found["calendar"], extra), sys.stdout, ensure_ascii=False, indent=2
        )
        print()
        return 0
    from pollstead.cli.calendar_lines import print_calendar, print_last_list, print_slip

    print_calendar(election, view, owner)
    if "slip" in extra:
        print_slip(extra["slip"])
    if "last_list" in extra:
        print_last_list(extra["last_list"])
    for written in (ics, paper):
        if written is not None:
            print(fill(message(N_("{file} written"), file=str(written))))
    return 0


def _read(folder: Path, as_of: str) -> tuple[Election, Fold | None, dt.date]:
    from pollstead.intake.folder import read_folder
    from pollstead.work.calendar_view import today_in
    from pollstead.work.clock import now_ms
    from pollstead.work.fact_bases import store_if_there

    election = read_folder(folder).election
    if election is None:
        raise ValueError(
            f"{folder} must have county.toml and sites.csv that can be read; run pollstead check"
        )
    try:
        today = dt.date.fromisoformat(as_of) if as_of else today_in(election, now_ms())
    except ValueError:
        raise ValueError(f"--as-of must be a date such as 2028-09-23, got {as_of!r}") from None
    store = store_if_there(folder)
    if store is None:
        return election, None, today
    with store:
        return election, store.fold(private=True), today


def _rows(election: Election, view: CalendarView, owner: str) -> list[dict[str, Any]]:
    from pollstead.show.calendar_words import is_owned_by

    return [_row(election, view, s) for s in view.standings if not owner or is_owned_by(s.task, owner)]


def _row(election: Election, view: CalendarView, standing: Standing) -> dict[str, Any]:
    from pollstead.show.calendar_words import counted_from, owner_words

    task, dates = standing.task, standing.dates
    return {
        "task": task.id,
        "words": task.words,
        "date": dates.by.isoformat(),
        "counted": counted_from(dates.by, view.election_day),
        "own_date": dates.due.isoformat() if dates.due else None,
        "state": str(standing.state.value),
        "owner": task.owner,
        "owner_role": task.owner_role,
        "owner_words": owner_words(task, election, names=True),
        "kind": task.kind,
        "confirmed": task.confirmed,
        "latest_start": dates.late_start.isoformat(),
        "latest_finish": dates.late_finish.isoformat(),
        "earliest_finish": dates.early_finish.isoformat(),
        "total_slack_days": dates.total_slack,
        "free_slack_days": dates.free_slack,
        "critical": dates.critical,
        "waits_for": list(standing.waits_for),
        "why": [
            {"words": step.text.english(), "date": step.date.isoformat() if step.date else None}
            for step in view.schedule.due(task.id).steps
        ],
    }


def _report(
    folder: Path, view: CalendarView, owner: str, rows: list[dict[str, Any]], extra: dict[str, Any]
) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "folder": str(folder),
        "as_of": view.today.isoformat(),
        "election_day": view.election_day.isoformat(),
        "owner": owner,
        "tasks": rows,
        "dates_cross": [
            {
                "task": one.task,
                "due": one.due.isoformat(),
                "behind": one.behind,
                "behind_due": one.behind_due.isoformat(),
                "needed": one.needed.isoformat(),
                "short_days": one.short_days,
            }
            for one in view.conflicts
        ],
        "circles": [list(circle.tasks) for circle in view.schedule.circles],
        "clock_changes": [{"date": one.date.isoformat(), "shift_min": one.shift_min} for one in view.changes],
        "entries_differ": list(view.differing),
        **extra,
    }


def _slip(election: Election, view: CalendarView, asked: str) -> dict[str, Any]:
    import msgspec

    from pollstead.plan.calendar.what_if import what_if_slips

    name, colon, days = asked.rpartition(":")
    if not colon or not days.isascii() or not days.isdecimal():
        raise ValueError(f"--slip must be a task and working days such as test-devices:3, got {asked!r}")
    found = what_if_slips(
        election.tasks,
        election.election_day,
        view.days,
        task=name,
        slip_days=int(days),
        begin=view.today,
        done=view.done,
    )
    made: dict[str, Any] = msgspec.to_builtins(found)
    return made


def _compared(election: Election, before: Path) -> dict[str, Any]:
    import msgspec

    from pollstead.intake.folder import read_folder
    from pollstead.plan.calendar.compare import compare_lists

    last = read_folder(before).election
    if last is None:
        raise ValueError(
            f"{before} must have county.toml and sites.csv that can be read; run pollstead check"
        )
    made: dict[str, Any] = msgspec.to_builtins(compare_lists(last.tasks, election.tasks))
    return made


def _print_paper(folder: Path, election: Election, view: CalendarView, owner: str) -> None:
    from pollstead.show.packet.typesetting import write_whole
    from pollstead.show.wall.sheets import PAPERS, Sheets, calendar_pdf

    folder.mkdir(parents=True, exist_ok=True)
    for sheets in Sheets:
        for paper in PAPERS[sheets]:
            made = calendar_pdf(
                election, view, sheets, paper=paper, owner=owner, names=True, language=spoken()
            )
            write_whole(folder / f"calendar-{sheets.value}-{paper}.pdf", made)


def _take_starter(folder: Path, by: str) -> int:
    from pollstead.cli.fact_desk import desk_for, moment_now, person, told
    from pollstead.intake.folder import read_folder
    from pollstead.work.calendar_view import starter_edits
    from pollstead.work.facts import change_facts

    if not by:
        raise ValueError(
            "--starter needs --by and the id of the person who takes the list, such as --by P001"
        )
    election = read_folder(folder).election
    if election is not None and election.tasks:
        raise ValueError(f"{folder}/tasks.csv holds {len(election.tasks)} tasks already; nothing was changed")
    people = person(by)
    with desk_for(folder, people, None) as desk:
        taken = change_facts(
            folder,
            starter_edits(),
            act="import",
            reason=text(N_("List of tasks that ships as a start")),
            people=people,
            desk=desk,
            moment=moment_now(),
        )
    told(folder, taken)
    return 0
