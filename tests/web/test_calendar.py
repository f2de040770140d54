"""The calendar in the app: what is due and whose it is, done by evidence, why, slips, files to take along."""

from __future__ import annotations

import html
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import icalendar
import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from pollstead.intake.folder import read_folder
from pollstead.record.fold import fold
from pollstead.record.kinds.body import Reason
from pollstead.record.kinds.calendars import TaskReopened
from pollstead.record.write import MemoryJournal, Moment, Recorder
from pollstead.show.cautions import Place, for_place
from pollstead.show.web.capabilities import Role
from pollstead.show.web.open_folder import pair
from pollstead.show.web.who import LANGUAGE_COOKIE
from pollstead.show.words import ENGLISH, PSEUDO, text
from pollstead.store.desk import begin_desk
from pollstead.work.calendar_view import calendar_view, done_tasks, today_in

MONDAY_MS = 1_857_724_800_000  # 2028-11-13 10:40 UTC
SMALL = Path(__file__).resolve().parents[2] / "small"
TASKS = """id,words,owner_role,owner,offset_days,roll,timing,duration_days,after,kind,"""
TASKS += """confirmed_by,confirmed_on
definition,Receive the definition media,equipment manager,,-45,none,by,2,,practice,,
test,Test every device,test crew,P002,-25,none,by,8,definition,practice,,
seal,"Seal every device, two people",,P003,-20,none,by,2,test,law,counsel,2028-05-02
vote,Election day,election official,,0,none,on,0,seal,law,,
thanks,Thank the <buildings>,,,20,next working day,by,1,vote,practice,,
"""


@pytest.fixture(scope="module")
def begun(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A county with five tasks, a record that has begun, and no plan."""
    folder = tmp_path_factory.mktemp("calendar") / "county"
    folder.mkdir()
    for name in ("county.toml", "sites.csv", "people.csv", "hours.csv"):
        shutil.copyfile(SMALL / name, folder / name)
    (folder / "tasks.csv").write_text(TASKS, "utf-8")
    (folder / "holidays.csv").write_text("date,name\n2028-11-27,Long Weekend\n", "utf-8")
    begin_desk(
        folder,
        county="Larkmoor County",
        election="General election",
        practice=False,
        people=pair("person/P001"),
        moment=Moment(utc_ms=MONDAY_MS - 60_000, offset_min=-300, uncertainty_ms=0),
    ).close()
    return folder


@pytest.fixture
def office(begun: Path, tmp_path: Path, app_of: Callable[[Path], Any]) -> Any:
    """The app around this test's own copy, on Monday 2028-11-13."""
    made = app_of(Path(shutil.copytree(begun, tmp_path / "county")))
    made.events = made.folder.store.events.count()
    return made


def shown(page: Any) -> str:
    """The page's text without tags."""
    marked = re.sub(r"</?(bdi|a)\b[^>]*>", "", page.text)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", marked)).split())


def tick(client: Any, *tasks: str, evidence: str = "binder 3", on: str = "2028-11-06") -> Any:
    """Tick tasks in the list."""
    return client.post(
        "/calendar", data={f"task-{t}": "yes" for t in tasks} | {"evidence": evidence, "on": on}
    )


def test_the_list_says_what_is_late_and_that_nobody_owns_a_task(office: Any) -> None:
    """Nothing is done by default; each task stands in its week with owner, state and slack."""
    page = office.client(Role.COORDINATOR).get("/calendar")
    words = shown(page)
    assert page.status_code == 200
    assert "What is due, and whose is it?" in words
    assert "Late: 4" in words and "Due this week: 0" in words and "No owner: 1" in words
    assert "Date not confirmed: 1" in words
    assert "Thank the <buildings>" in words, "what people typed is shown and never run"
    assert "2028-11-28" in words, "E+20 is the holiday 2028-11-27 and rolls to the next working day"
    assert "Clocks go back by 60 minutes" in words
    late = shown(office.client(Role.COORDINATOR).get("/calendar?state=late&owner=equipment manager"))
    assert "Test every device" not in late, "it is another's"
    assert "Test every device" in shown(
        office.client(Role.COORDINATOR).get("/calendar?state=late&owner=P002")
    )


def test_a_task_is_done_by_evidence_alone_and_open_again_by_another_event(office: Any) -> None:
    """Two tasks at once with what shows it; taken back with a reason; both entries stay to be read."""
    client = office.client(Role.HELPER)
    assert tick(client, "definition", "test").status_code == 303
    assert "Done: 2" in shown(client.get("/calendar"))
    page = shown(client.get("/calendar/task/test"))
    assert "binder 3" in page and "done on 2028-11-06" in page
    refused = client.post("/calendar/task/test", data={"act": "reopen", "reason": ""})
    assert refused.status_code == 422 and "Write why it is open again." in shown(refused)
    client.post("/calendar/task/test", data={"act": "reopen", "reason": "three devices were left out"})
    page = shown(client.get("/calendar/task/test"))
    assert "three devices were left out" in page and "(replaced since)" in page
    assert "Done: 1" in shown(client.get("/calendar"))
    for signed in office.folder.store.events.all():
        assert b"binder" not in signed.event.to_bytes(), "evidence stands in the private part alone"


def test_a_tick_that_does_not_fit_writes_nothing(office: Any) -> None:
    """What was typed is kept, what needs another look is named, nothing is written."""
    client = office.client(Role.COORDINATOR)
    for tasks, evidence, on, said in (
        ((), "binder", "2028-11-06", "Tick at least one task"),
        (("test",), "", "2028-11-06", "Write what shows that it is done"),
        (("test",), "binder", "soon", "Type the date on which it was done"),
        (("test",), "binder", "2028-11-14", "Nothing can be done on a day to come"),
    ):
        page = tick(client, *tasks, evidence=evidence, on=on)
        assert page.status_code == 422
        assert said in shown(page)
        assert page.text.count("checked") == len(tasks)
    assert office.folder.store.events.count() == office.events


def test_two_desks_that_say_different_things_are_both_shown(office: Any) -> None:
    """A task that one says is done and another says is open, not knowing each other, counts as open."""
    folder, client = office.folder, office.client(Role.COORDINATOR)
    tick(client, "definition")

    journal = MemoryJournal()
    other = Recorder(folder.store.header(), "device/desk-other", Ed25519PrivateKey.generate(), journal)
    other.record(
        TaskReopened(),
        subject="task/definition",
        people=pair("person/P002"),
        moment=folder.moment(),
        private=Reason(reason="media of the wrong election"),
    )
    election = folder.tables_election()
    both = fold([*folder.store.events.all(), *journal.events])
    assert done_tasks(both, election.tasks) == ((), ("definition",))


def test_a_reader_sees_no_names_and_no_evidence_and_ticks_nothing(office: Any) -> None:
    """Roles: names and evidence only for those who see people, ticking only for those who call."""
    tick(office.client(Role.COORDINATOR), "test", evidence="Wren has the tapes")
    reader = office.client(Role.READER)
    name = next(p.name for p in office.folder.tables_election().people if p.id == "P002")
    for address in ("/calendar?state=all", "/calendar/task/test", "/calendar/file"):
        page = reader.get(address).text
        assert name not in page and "Wren has the tapes" not in page, address
    assert name in office.client(Role.COORDINATOR).get("/calendar?state=all").text
    assert reader.post("/calendar", data={"task-seal": "yes"}).status_code == 403
    assert reader.post("/calendar/start").status_code == 403


def test_why_and_what_if_are_told_for_a_task(office: Any) -> None:
    """Each step to the date; a slip that cannot be read is refused; one that can names what it breaks."""
    client = office.client(Role.COORDINATOR)
    page = shown(client.get("/calendar/task/thanks"))
    assert "20 days after it. → Monday, 2028-11-27" in page
    assert "The office is closed then; the table says: next working day. → Tuesday, 2028-11-28" in page
    assert client.get("/calendar/task/thanks?slip=x").status_code == 422
    page = shown(client.get("/calendar/task/thanks?slip=2"))
    assert "would end on 2028-11-30, 2 working days after 2028-11-28" in page
    assert client.get("/calendar/task/nobody").status_code == 404


def test_a_county_without_tasks_can_begin_with_the_list_that_ships(office: Any) -> None:
    """The list comes by one event that can be undone; nothing of it is law; a second time is refused."""
    (office.folder.path / "tasks.csv").unlink()
    client = office.client(Role.CLERK)
    assert "This county has no tasks yet." in shown(client.get("/calendar"))
    assert client.post("/calendar/start").status_code == 303
    election = read_folder(office.folder.path).election
    assert election is not None
    assert len(election.tasks) >= 40 and not any(task.bound for task in election.tasks)
    assert "Build the working calendar" in shown(client.get("/calendar?state=all"))
    assert client.post("/calendar/start").status_code == 409


def test_the_caution_stands_on_every_page_of_the_calendar(office: Any) -> None:
    """List, month and task carry the sentence about computed dates, in each language."""
    client = office.client(Role.READER)
    for language, address in (
        (ENGLISH, "/calendar"),
        (PSEUDO, "/calendar/month?month=2028-10"),
        (ENGLISH, "/calendar/task/seal"),
        (PSEUDO, "/calendar"),
    ):
        client.cookies.set(LANGUAGE_COOKIE, language)
        page = shown(client.get(address))
        for caution in for_place(Place.CALENDAR):
            assert text(caution.words, language) in page, address


def test_the_month_shows_days_off_tasks_and_the_change_of_the_clocks(office: Any) -> None:
    """November 2028 as a table from Sunday; months that there are none of are not found."""
    client = office.client(Role.READER)
    page = shown(client.get("/calendar/month?month=2028-11"))
    assert "November 2028" in page and "Office closed: Long Weekend" in page
    assert "Clocks go back by 60 minutes" in page and "Election day" in page
    for month in ("2028-13", "x", "0001-01"):
        assert client.get(f"/calendar/month?month={month}").status_code == 404


def test_the_file_reads_back_by_another_library_and_keeps_its_uids(office: Any) -> None:
    """RFC 5545, read by the icalendar library: all-day events, the dates of the list, UIDs that stay."""
    client = office.client(Role.COORDINATOR)
    answer = client.get("/calendar/file")
    assert answer.headers["content-type"] == "text/calendar; charset=utf-8"
    read = icalendar.Calendar.from_ical(answer.content)
    assert read["VERSION"] == "2.0" and read["PRODID"]
    events = {str(e["UID"]): e for e in read.walk("VEVENT")}
    election = office.folder.tables_election()
    view = calendar_view(election, None, today_in(election, office.folder.clock()))
    dates = {s.task.id: s.dates.by for s in view.standings}
    found = {uid.split("-")[1]: e for uid, e in events.items() if uid.startswith("task-")}
    assert {name: e.decoded("DTSTART") for name, e in found.items()} == dates
    assert found["seal"]["SUMMARY"] == "Seal every device, two people"
    assert str(found["vote"]["STATUS"]) == "TENTATIVE" and str(found["seal"]["STATUS"]) == "CONFIRMED"
    assert len(events) == 7, "five tasks, one holiday, one change of the clocks"
    phones = [p.phone for p in election.people if p.phone]
    assert phones and not any(phone.encode() in answer.content for phone in phones)
    tick(client, "definition")
    again = icalendar.Calendar.from_ical(client.get("/calendar/file").content)
    assert {str(e["UID"]) for e in again.walk("VEVENT")} == set(events)
    own = icalendar.Calendar.from_ical(client.get("/calendar/file?owner=P002").content)
    assert str(own.walk("VEVENT")[0]["SUMMARY"]) == "Test every device"
    for line in answer.content.split(b"\r\n"):
        assert len(line) <= 75, "RFC 5545, 3.1"


def test_late_tasks_and_dates_that_cross_stand_among_what_is_open(office: Any) -> None:
    """An open item for each late task until it is done; a rule not met where dates cross."""
    client = office.client(Role.COORDINATOR)
    page = shown(client.get("/open"))
    assert "Test every device was due on 2028-10-13 and nobody said that it is done" in page
    assert "test is due on 2028-10-13; seal, dated 2028-10-18" not in page
    tick(client, "test")
    assert "Test every device was due on" not in shown(client.get("/open"))
    tasks = office.folder.path / "tasks.csv"
    tasks.write_text(tasks.read_text("utf-8").replace(",-25,", ",-19,"), "utf-8")
    assert "test is due on 2028-10-19; seal, dated 2028-10-18, waits for it" in shown(client.get("/open"))
