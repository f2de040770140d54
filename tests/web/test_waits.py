"""Waits now as pages: estimates with range and age, unknown apart, counts typed row by row and taken back."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from tests.once import copied
from tests.web.conftest import App

from pollstead.cli.waits import waits as waits_command
from pollstead.cli.waits import waits_object, waits_of
from pollstead.record.kinds.days import DeviceOutOfService, SiteOpened
from pollstead.show.web.capabilities import Role
from pollstead.show.web.who import Who

DAY = "2028-11-07"
NINE_MS = 1_857_207_600_000 + 3 * 3_600_000  # 09:00 on election day in New York
MINUTE_MS = 60_000
CALLER = Who(person="person/P010", role=Role.COORDINATOR)


def at_nine(planned: Path, folder: Path) -> App:
    """A copy of the small county at 09:00 on election day, doors of S01 open."""
    app = App(copied(planned, folder / "county"))
    app.folder.clock = lambda: NINE_MS
    app.folder.write(SiteOpened(at_min=420), who=CALLER, subject="site/S01", site="site/S01", day=DAY)
    return app


@pytest.fixture
def nine(planned: Path, tmp_path: Path) -> Iterator[App]:
    """The county before anybody counted."""
    app = at_nine(planned, tmp_path)
    yield app
    app.folder.close()


@pytest.fixture(scope="module")
def told(planned: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[App]:
    """The county with one count of S01 at 08:55; tests only read it."""
    app = at_nine(planned, tmp_path_factory.mktemp("told"))
    sent = counted(app, at__S01="0855", in_line__S01="35", check_ins__S01="150", by__S01="P011")
    assert sent.status_code in (302, 303), plain(sent.text)
    yield app
    app.folder.close()


def plain(page: str) -> str:
    """A page's words."""
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())


def counted(app: App, **fields: str) -> Any:
    """One form of counts."""
    names = {name.replace("__", "-"): value for name, value in fields.items()}
    return app.client(Role.COORDINATOR).post("/waits/count", data={"day": DAY, "way": "phone", **names})


def test_before_any_count_every_wait_is_unknown_and_none_is_zero(nine: App) -> None:
    """The page says of how many sites nothing is known, and names no number of minutes."""
    words = plain(nine.client(Role.COORDINATOR).get(f"/waits?day={DAY}").text)
    assert "the wait is not known" in words
    assert "nobody has counted the line today" in words
    assert "about 0 min" not in words


def test_one_station_told_till_closing_gives_no_hour_of_the_next_day(nine: App) -> None:
    """What was told cannot go on till then: the page says so in words, and what it stands on."""
    counted(
        nine, at__S01="0855", in_line__S01="60", check_ins__S01="40", open_check_in__S01="1", by__S01="P011"
    )
    client = nine.client(Role.COORDINATOR)
    page = client.get(f"/waits?day={DAY}").text
    words = plain(page)
    assert "hours after closing" in words and "if no more stations open than were told" in words
    told = [int(hour) for hour in re.findall(r">(\d\d):\d\d<", page)]
    assert told and max(told) < 24
    assert (
        f'href="/waits/count?day={DAY}&amp;site=S01"'
        in nine.client(Role.HELPER).get(f"/phone?day={DAY}&site=S01").text
    )
    assert 'href="/waits#site-S01"' in client.get("/site/S01").text and 'id="site-S01"' in page


def test_rows_are_typed_at_once_and_a_blank_is_nobodys_word(nine: App) -> None:
    """Two sites in one form: what was typed is in the record, what was not is absent, and who told it."""
    sent = counted(
        nine, at__S01="0855", in_line__S01="35", check_ins__S01="150", by__S01="P011", in_line__S02="0"
    )
    assert sent.status_code in (302, 303), plain(sent.text)
    found = {
        fact.subject: fact.current[0]
        for fact in nine.folder.fold().named("line.counted")
        if fact.day == DAY and fact.current
    }
    first, second = found["site/S01"], found["site/S02"]
    assert first.value.thawed() == {"at_min": 535, "in_line": 35, "check_ins": 150}
    assert first.by_phone == "not_read_back"
    assert {p.person for p in first.people} == {"person/P010", "person/P011"}
    assert second.value.thawed() == {"at_min": 540, "in_line": 0}
    words = plain(nine.client(Role.COORDINATOR).get(f"/waits?day={DAY}").text)
    assert "counted 5 minutes ago" in words
    assert re.search(r"about \d+ min \( ?\d+ – ?\d+ ?\)", words) or re.search(r"about \d+ min", words)
    done = sent.headers["location"]
    back = nine.client(Role.COORDINATOR).post(
        "/waits/count", data={"day": DAY, "do": "undo", "event": second.event}
    )
    assert done and back.status_code in (302, 303)
    assert not [f for f in nine.folder.fold().named("line.counted") if f.subject == "site/S02" and f.current]


def test_what_cannot_be_a_count_is_asked_again_with_everything_kept(nine: App) -> None:
    """A word for a number, a time to come, more stations than any site has, and an empty form."""
    sent = counted(nine, in_line__S01="many", at__S02="2300", in_line__S02="4", open_cast__S36="900")
    assert sent.status_code == 422
    words = plain(sent.text)
    assert "Type a whole number" in words and "later than now" in words and "more than 500" in words
    assert 'value="many"' in sent.text
    assert counted(nine).status_code == 422


def test_the_wait_grows_old_and_is_then_unknown(told: App) -> None:
    """After the county's 75 minutes the same count gives no estimate, and its age is said."""
    earlier = plain(told.client(Role.COORDINATOR).get(f"/waits?day={DAY}&at={DAY}T10:05").text)
    later = plain(told.client(Role.COORDINATOR).get(f"/waits?day={DAY}&at={DAY}T10:15").text)
    assert "counted 70 minutes ago" in earlier
    assert "counted" not in later.split("What was told")[0] or "minutes ago" not in later
    assert "the last count is too old" in later and "80 minutes old" in later


def test_the_list_alone_is_answered_for_the_open_page(told: App) -> None:
    """The part that asks for itself has no frame, and reads no form."""
    part = told.client(Role.READER).get(f"/waits?day={DAY}&part=list").text
    assert "<html" not in part and 'id="waits-list"' in part
    assert "/waits/count" not in part
    assert told.client(Role.READER).get("/waits/count").status_code == 403


def test_the_command_says_what_the_page_says(told: App, capsys: pytest.CaptureFixture[str]) -> None:
    """JSON and words name the same sites known and unknown; the count stands with its event."""
    assert waits_command(told.folder.path, as_of=f"{DAY}T09:10", as_json=True) == 0
    found = json.loads(capsys.readouterr().out)
    by_site = {one["site"]: one for one in found["sites"]}
    assert found["format"] == "pollstead waits 1"
    assert by_site["S01"]["known"] == "estimated"
    assert by_site["S01"]["counts"][0]["in_line"] == 35
    assert by_site["S02"]["known"] == "never told" and by_site["S02"]["wait_ms"] is None
    assert waits_command(told.folder.path, as_of=f"{DAY}T09:10") == 0
    words = capsys.readouterr().out
    assert "S01" in words and "counted 15 min ago" in words
    assert "nobody has counted the line today" in words
    assert waits_object.__doc__


def test_where_no_accessible_station_works_the_page_says_so_in_place_of_hours(nine: App) -> None:
    """Every accessible station of the site went out: the figure is of all others, the reason beside it."""
    version = nine.folder.current()
    assert version is not None
    [site] = [one for one in version.sites if one.site == "S01"]
    devices = [
        part.device
        for station in site.stations
        if station.station_type == "accessible-marker"
        for part in station.parts
        if part.device
    ]
    assert devices
    for device in devices:
        out = DeviceOutOfService(state="out", why="broken", at_min=530)
        nine.folder.write(out, who=CALLER, subject=device, site="site/S01", day=DAY)
    counted(nine, at__S01="0855", in_line__S01="5", check_ins__S01="150", by__S01="P011")
    nine.folder.clock = lambda: NINE_MS + MINUTE_MS
    words = plain(nine.client(Role.COORDINATOR).get(f"/waits?day={DAY}").text)
    assert "No accessible station works: the few who need one wait until one does." in words
    assert not re.search(r"\d,\d{3} \(", words)
    found = waits_object(waits_of(nine.folder.path, f"{DAY}T09:01", "")[1])
    [told] = [one for one in found["sites"] if one["site"] == "S01"]
    assert told["no_station_works"] == ["mark, accessible"]
    assert told["longest_to_come_of_others_ms"]["high"] < told["longest_to_come_ms"]["middle"]
