"""The page about copies, and the line about them at the foot of every page."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest

from pollstead.record.event import Means, Part, Person
from pollstead.record.write import Moment
from pollstead.show.web.capabilities import Role
from pollstead.store.backup import copy_after_change, make_copy
from pollstead.store.copy_list import copies_in
from pollstead.store.copy_state import copy_target
from pollstead.store.desk import begin_desk

NOW = 1_857_724_800_000
ME = (Person(person="person/P001", means=Means.OWN_DEVICE, part=Part.AUTHOR),)
TABLES = ("county.toml", "sites.csv", "people.csv", "station_types.toml", "precincts.csv")


@pytest.fixture
def tiny(tmp_path: Path) -> Path:
    """A county folder with a record and no plan: enough for these pages."""
    folder = tmp_path / "county"
    folder.mkdir()
    for name in TABLES:
        shutil.copyfile(Path(__file__).resolve().parents[2] / "small" / name, folder / name)
    begin_desk(
        folder,
        county="Larkmoor County",
        election="General election",
        practice=False,
        people=ME,
        moment=Moment(utc_ms=NOW - 60_000, offset_min=-300, uncertainty_ms=0),
    ).close()
    return folder


@pytest.fixture
def at_desk(tiny: Path, app_of: Any) -> Any:
    """The app, with a client of a coordinator."""
    app = app_of(tiny)
    app.office = app.client(Role.COORDINATOR)
    return app


@pytest.fixture
def stick(tmp_path: Path) -> Path:
    """The second place."""
    (tmp_path / "stick").mkdir()
    return tmp_path / "stick"


def send(app: Any, **fields: str) -> Any:
    """Send the form of the page."""
    return app.office.post("/copies", data=fields)


def test_every_page_says_when_the_last_good_copy_was_made(at_desk: Any, stick: Path, tiny: Path) -> None:
    """Before there is one, after one, and when the stick is out: the same line on each page."""
    for address in ("/", "/help", "/copies", "/copies/laptop", "/nowhere"):
        assert "No copy of this folder was ever made." in at_desk.office.get(address).text, address
    assert send(at_desk, act="choose", place=str(stick), keep="7").status_code == 200
    page = at_desk.office.get("/help").text
    assert "Last good copy: " in page
    assert "05:40</bdi>" in page, "on the county's clock: 10:40 UTC is 05:40 in zone EST5EDT in November"
    stick.rename(stick.with_name("pocket"))
    at_desk.folder.add_person("Wren Ashdown")
    copy_after_change(tiny, utc_ms=NOW + 60_000)
    page = at_desk.office.get("/help").text
    assert "No copy since" in page and "is not there. Put the stick in" in page
    assert "Copy needs you" in page, "the state stands in words, beside its shape"


def test_a_place_is_taken_only_after_a_good_copy_was_made_there(
    at_desk: Any, stick: Path, tiny: Path
) -> None:
    """Not there, inside the county folder, relative, a wrong number: told, and what was typed is kept."""
    for place, said in (
        (str(stick / "absent"), "is not there"),
        (str(tiny / "keys"), "is inside"),
        ("stick", "Type the whole path"),
        ("", "Type the whole path"),
    ):
        answer = send(at_desk, act="choose", place=place, keep="7")
        assert answer.status_code == 422 and said in answer.text, place
        assert not place or f'value="{place}"' in answer.text, "what was typed is kept"
    answer = send(at_desk, act="choose", place=str(stick), keep="0")
    assert answer.status_code == 422 and "from 1 to" in answer.text
    assert copy_target(at_desk.folder.store) is None
    assert "From now on a copy goes to" in send(at_desk, act="choose", place=str(stick), keep="3").text
    target = copy_target(at_desk.folder.store)
    assert target is not None and (target.path, target.keep) == (str(stick), 3)
    assert len(copies_in(stick)) == 1
    assert "asked for" in send(at_desk, act="make").text and len(copies_in(stick)) == 2
    assert send(at_desk, act="forget").status_code == 303
    assert copy_target(at_desk.folder.store) is None


def test_a_copy_is_read_back_on_request_and_a_changed_file_is_named(at_desk: Any, stick: Path) -> None:
    """Check now: all match, or the file that does not."""
    send(at_desk, act="choose", place=str(stick), keep="7")
    name = copies_in(stick)[0].name
    assert "was read back just now" in send(at_desk, act="check", name=name).text
    (stick / name / "county" / "sites.csv").write_text("id,name\nS01,Elm\n", encoding="utf-8")
    answer = send(at_desk, act="check", name=name)
    assert answer.status_code == 422
    assert "county/sites.csv</bdi> does not match" in answer.text
    for wrong in ("../county", "copy-/../..", "", "copy-absent"):
        assert send(at_desk, act="check", name=wrong).status_code == 422


def test_only_copies_of_this_folder_are_listed(at_desk: Any, stick: Path, tiny: Path, tmp_path: Path) -> None:
    """Another county's copies on the same stick are not shown."""
    send(at_desk, act="choose", place=str(stick), keep="7")
    other = tmp_path / "other"
    other.mkdir()
    begin_desk(
        other,
        county="Larkmoor County",
        election="Practice",
        practice=True,
        people=ME,
        moment=Moment(utc_ms=NOW, offset_min=-300, uncertainty_ms=0),
    ).close()
    theirs = Path(make_copy(other, stick, utc_ms=NOW + 5_000).path).name
    assert theirs not in at_desk.office.get("/copies").text


def test_a_shared_folder_is_told_on_the_page_with_the_way_out(at_desk: Any, tiny: Path) -> None:
    """A store that is there already goes on; the page says which sign was found."""
    assert "shared or synchronized" not in at_desk.office.get("/copies").text
    (tiny.parent / ".sync").mkdir()
    page = at_desk.office.get("/copies").text
    assert "This folder seems to be shared or synchronized" in page and str(tiny.parent / ".sync") in page


def test_a_reader_sees_the_copies_and_changes_nothing(at_desk: Any, stick: Path) -> None:
    """Reading is for everybody, making and choosing for who holds it."""
    with at_desk.client(Role.READER) as reader:
        page = reader.get("/copies")
        assert page.status_code == 200 and '<form method="post" action="/copies"' not in page.text
        assert reader.post("/copies", data={"act": "make"}).status_code == 403


def test_the_sheet_for_a_dead_laptop_says_each_step_and_where_the_copy_is(at_desk: Any, stick: Path) -> None:
    """The commands, the place of the copies, who decides; and that the key is not here, where it is not."""
    send(at_desk, act="choose", place=str(stick), keep="7")
    page = at_desk.office.get("/copies/laptop").text
    for said in ("pollstead restore STICK NEW-FOLDER", "restore admit NEW-FOLDER --by PERSON", str(stick)):
        assert said in page
    assert "the election official" in page and "The key of the office is not on this computer" not in page
    (at_desk.folder.path / "keys" / "office.pem").unlink()
    assert "The key of the office is not on this computer" in at_desk.office.get("/copies/laptop").text
