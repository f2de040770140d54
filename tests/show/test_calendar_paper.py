"""Calendar on paper and as a file: what stands on each sheet, in each language, and the same bytes again."""

from __future__ import annotations

import datetime as dt
import io
import json
from pathlib import Path

import icalendar
import pypdf
import pytest

from pollstead.cli.main import run
from pollstead.election.calendar import Holiday, Task
from pollstead.election.county import Election, Person
from pollstead.plan.calendar.network import Done
from pollstead.show.cautions import Place, for_place
from pollstead.show.export.icalendar import calendar_file
from pollstead.show.wall.sheets import PAPERS, Sheets, calendar_job, calendar_pdf
from pollstead.show.words import ENGLISH, PSEUDO, PSEUDO_RTL, text
from pollstead.work.calendar_view import calendar_view

SMALL = Path(__file__).resolve().parents[2] / "small"
TODAY = dt.date(2028, 11, 1)


@pytest.fixture(scope="module")
def county() -> Election:
    """A county with three tasks and a holiday."""
    return Election(
        county="Tarn County",
        name="General",
        election_day=dt.date(2028, 11, 7),
        zone_name="America/Chicago",
        invented=True,
        people=(Person(id="P1", name="Wren; Moss, the Älder", role="clerk", phone="555-0199"),),
        tasks=(
            Task(id="late", words="Order \\ pens, paper; and rolls " + "ß" * 60, owner="P1", offset_days=-10),
            Task(id="law", words="Post the notice", owner_role="clerk", offset_days=-5, kind="law"),
            Task(id="vote", words="Election day", offset_days=0, timing="on", duration_days=0),
        ),
        holidays=(Holiday(date=dt.date(2028, 11, 10), name="Long Friday"),),
    )


@pytest.mark.parametrize("language", [ENGLISH, PSEUDO, PSEUDO_RTL])
@pytest.mark.parametrize("sheets", list(Sheets))
def test_every_calendar_sheet_carries_the_caution(county: Election, sheets: Sheets, language: str) -> None:
    """Each print job holds the sentence about computed dates, which the template sets on every page."""
    view = calendar_view(county, None, TODAY)
    job = calendar_job(county, view, sheets, paper="letter", owner="", names=True, language=language)
    assert job["cautions"] == [text(caution.words, language) for caution in for_place(Place.CALENDAR)]
    assert job["invented"]
    if sheets is not Sheets.WALL:
        assert ("555" in json.dumps(job)) is False, "no telephone number"


def largest_letters(page: pypdf.PageObject) -> float:
    """The size of the largest letters of a page, in points."""
    found = [0.0]
    page.extract_text(visitor_text=lambda _, cm, tm, font, size: found.append(size * abs(tm[0]) * abs(cm[0])))
    return max(found)


@pytest.mark.full
def test_pages_say_months_heads_and_cautions_and_come_out_the_same_again(county: Election) -> None:
    """Tabloid is 17 by 11 in, letter 11 by 8.5; the caution is on every page; same input, same bytes."""
    view = calendar_view(county, None, TODAY)
    caution = "counsel confirms each date"
    for paper, size in (("tabloid", (1224, 792)), ("letter", (792, 612))):
        made = calendar_pdf(county, view, Sheets.WALL, paper=paper)
        pages = pypdf.PdfReader(io.BytesIO(made)).pages
        assert [round(float(side)) for side in pages[0].mediabox[2:]] == list(size)
        assert all(caution in " ".join(page.extract_text().split()) for page in pages)
        assert "November 2028" in pages[-1].extract_text() and "Long Friday" in pages[-1].extract_text()
        assert largest_letters(pages[0]) >= 24, "wall sheets have heads of 24 pt or more"
    assert calendar_pdf(county, view, Sheets.WALL, paper="letter") == made
    with pytest.raises(ValueError, match="printed on letter"):
        calendar_pdf(county, view, Sheets.OWNERS, paper="tabloid")


def test_an_owner_list_starts_a_page_for_each_owner_and_those_without_come_last(county: Election) -> None:
    """Lists of a person, of a role, and of nobody."""
    view = calendar_view(county, None, TODAY)
    job = calendar_job(county, view, Sheets.OWNERS, paper="letter", owner="", names=True, language=ENGLISH)
    assert [s["title"] for s in job["sheets"]] == [
        "Wren; Moss, the Älder, clerk",
        "clerk",
        "Tasks without owner",
    ]
    hidden = calendar_job(
        county, view, Sheets.OWNERS, paper="letter", owner="P1", names=False, language=ENGLISH
    )
    assert [s["title"] for s in hidden["sheets"]] == ["clerk"]


def test_the_week_sheet_has_a_part_for_each_question(county: Election) -> None:
    """Late, due, begun, not confirmed, without owner; empty parts say so."""
    view = calendar_view(county, None, TODAY)
    (sheet,) = calendar_job(
        county, view, Sheets.WEEK, paper="letter", owner="", names=True, language=ENGLISH
    )["sheets"]
    assert [(part["title"], len(part["rows"])) for part in sheet["sections"]] == [
        ("Late", 1),
        ("Due this week", 2),
        ("Should have begun", 0),
        ("Date not confirmed", 1),
        ("No owner", 1),
    ]


def test_any_text_survives_the_calendar_file(county: Election) -> None:
    """Commas, semicolons, backslashes and folded letters read back as typed (RFC 5545, 3.1 and 3.3.11)."""
    made = calendar_file(county, calendar_view(county, None, TODAY), names=True, alarm_days=3)
    events = {str(e["SUMMARY"]): e for e in icalendar.Calendar.from_ical(made).walk("VEVENT")}
    late = events[county.tasks[0].words]
    assert "Wren; Moss, the Älder" in str(late["DESCRIPTION"])
    (alarm,) = late.walk("VALARM")
    assert alarm.decoded("TRIGGER") == dt.timedelta(days=-3)
    assert str(events["Post the notice"]["STATUS"]) == "TENTATIVE"
    assert late.decoded("DTEND") - late.decoded("DTSTART") == dt.timedelta(days=1)
    assert b"555-0199" not in made
    done = msg_done(county)
    assert "Done: Post the notice" in {str(e["SUMMARY"]) for e in done.walk("VEVENT")}


def msg_done(county: Election) -> icalendar.Calendar:
    """The file after the notice was posted."""
    from pollstead.plan.calendar.network import schedule
    from pollstead.plan.calendar.states import standings

    view = calendar_view(county, None, TODAY)
    made = schedule(
        county.tasks, county.election_day, view.days, begin=TODAY, done=(Done(task="law", on=TODAY),)
    )
    fields = {name: getattr(view, name) for name in view.__struct_fields__}
    fields |= {"schedule": made, "standings": standings(county.tasks, made, TODAY)}
    found = icalendar.Calendar.from_ical(calendar_file(county, type(view)(**fields)))
    assert isinstance(found, icalendar.Calendar)
    return found


def test_the_command_prints_late_tasks_json_and_a_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """As of a date: text with the caution, JSON with why and slip, a file; the folder stays as it is."""
    for name in ("county.toml", "sites.csv", "people.csv"):
        (tmp_path / name).write_bytes((SMALL / name).read_bytes())
    (tmp_path / "tasks.csv").write_text(
        "id,words,owner_role,offset_days,after,kind\na,Sort,clerk,-30,,practice\nb,Post,clerk,-28,a,law\n",
        "utf-8",
    )
    given = ["calendar", str(tmp_path), "--as-of", "2028-10-10"]
    assert run([*given, "--ics", str(tmp_path / "x.ics")]) == 0
    out = capsys.readouterr().out
    assert "Late (1)" in out and "counsel confirms each date" in out
    assert (tmp_path / "x.ics").read_bytes().startswith(b"BEGIN:VCALENDAR\r\n")
    assert run(["calendar", str(tmp_path), "--as-of", "2028-10-02", "--slip", "a:5"]) == 0
    assert "tasks that move: 2; dates that break: 2" in capsys.readouterr().out
    assert run([*given, "--json", "--slip", "a:1", "--before", str(tmp_path)]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["format"] == "pollstead calendar 1"
    assert [row["task"] for row in found["tasks"]] == ["a", "b"]
    assert found["tasks"][0]["counted"] == "E-30" and found["last_list"]["changed"] == []
    for wrong in (["--as-of", "soon"], ["--slip", "a"], ["--slip", "z:1"], ["--alarm", "99"]):
        assert run(["calendar", str(tmp_path), *wrong]) == 1
        assert "got" in (said := capsys.readouterr().err) or "no task" in said
    assert not list(tmp_path.glob("*.db"))


def test_every_kind_of_sheet_has_its_paper() -> None:
    """Wall calendars in both sizes, lists on letter."""
    assert set(PAPERS) == set(Sheets)
    assert PAPERS[Sheets.WALL] == ("tabloid", "letter")
