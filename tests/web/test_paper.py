"""Signed paper as pages: a serial, its box, two people who key apart, differences, void and doubled."""

from __future__ import annotations

import html
import json
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from tests.once import copied
from tests.web.conftest import ELECTION_DAY, App, issue_all
from tests.web.paper_rows import keep_sheets, sheet_at

from pollstead.cli.main import run
from pollstead.record.kinds.days import CountRead
from pollstead.record.kinds.swaps import SheetsVoided, VoidedSheet
from pollstead.show.paper_back import asked_lines, printed_sheets, term_key
from pollstead.show.web.capabilities import Role
from pollstead.show.web.day import days_now
from pollstead.show.web.who import Who
from pollstead.store.sheets import Sheet

DAY = "2028-11-07"
FIRST, SECOND, THIRD = "person/P010", "person/P011", "person/P012"


class Office:
    """The small county the morning after, with sheets printed and lists issued."""

    def __init__(self, path: Path) -> None:
        self.app = App(path)
        issue_all(self.app.folder)
        self.sheets = keep_sheets(self.app.folder)

    def sheet(self, site: str, kind: str = "balance sheet") -> Sheet:
        """A sheet of a site."""
        return sheet_at(self.sheets, site, kind)

    def page(self, serial: str, person: str = FIRST, role: Role = Role.HELPER, more: str = "") -> str:
        """A sheet's page as one person sees it, as plain text of its markup."""
        return html.unescape(self.app.client(role, person).get(f"/paper/{serial}{more}").text)

    def hold(self, serial: str, *different: str, box: str = "3", do: str = "hold") -> Any:
        """Put a sheet into a box."""
        ticks = {f"different-{line}": "yes" for line in different} or {"all": "yes"}
        data = {"do": do, "box": box, **ticks}
        return self.app.client(Role.CLERK).post(f"/paper/{serial}", data=data)

    def key(self, serial: str, person: str, values: dict[str, str], **more: str) -> Any:
        """One person keys some lines of a sheet."""
        data = {"do": "key", "partial": "yes", **values, **more}
        return self.app.client(Role.HELPER, person).post(f"/paper/{serial}/keyed", data=data)

    def keys(self, serial: str) -> dict[str, str]:
        """The lines of a sheet by the terms that they hold."""
        store = self.app.folder.store
        sheet = next(s for s in printed_sheets(store) if s.serial == serial)
        return {term_key(one): one.line for one in asked_lines(store, store.fold(), sheet) if term_key(one)}

    def line(self, serial: str, key: str) -> str:
        """The line of a sheet that holds a term."""
        return self.keys(serial)[key]

    def device(self, serial: str) -> str:
        """A device whose lifetime counter stands on a sheet."""
        keys = self.keys(serial)
        return next(key.partition("@")[2] for key in keys if key.startswith("lifetime_counter_open@"))

    def values(self, site: str, key: str) -> list[int]:
        """The values of a term that enter the balance."""
        day = days_now(self.app.folder).site(site, ELECTION_DAY)
        assert day is not None
        return [reading.value for reading in day.readings if reading.key == key]


@pytest.fixture(scope="module")
def office(planned: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Office]:
    """One office for this file; each test uses a site or a line of its own."""
    made = Office(copied(planned, tmp_path_factory.mktemp("paper") / "county"))
    yield made
    made.app.folder.close()


def fields(page: str) -> list[str]:
    """The names of the keying form's fields, in their order."""
    form = re.search(r"<form [^>]*data-readings.*?</form>", page, re.S)
    return re.findall(r'<input type="text" id="(L\d+)', form[0]) if form else []


def test_a_serial_is_found_however_it_was_typed(office: Office) -> None:
    """Small letters and no hyphens lead to the sheet; a near one is named; a practice one is told apart."""
    client, serial = office.app.client(Role.READER), office.sheet("S01").serial
    typed = serial.replace("-", "").lower()
    assert client.get(f"/paper?serial={typed}").headers["location"] == f"/paper/{serial}"
    wrong = client.get(f"/paper?serial={serial[:-1]}")
    assert wrong.status_code == 422 and serial in wrong.text
    practice = client.get(f"/paper?serial=P-{serial}")
    assert practice.status_code == 422 and "practice election" in practice.text
    assert "not of" in office.page(serial, more="?site=S02")


def test_a_box_and_a_choice_are_needed_before_a_sheet_is_held(office: Office) -> None:
    """Neither a box alone nor both answers are taken; what was typed stays; a reader may not write."""
    serial = office.sheet("S01", "opening sheet").serial
    client = office.app.client(Role.CLERK)
    none = client.post(f"/paper/{serial}", data={"do": "hold", "box": "7"})
    both = client.post(
        f"/paper/{serial}", data={"do": "hold", "box": "7", "all": "yes", "different-L1": "yes"}
    )
    assert none.status_code == both.status_code == 422
    assert 'value="7"' in none.text and "not both" in both.text
    assert office.app.client(Role.READER).post(f"/paper/{serial}", data={"do": "hold"}).status_code == 403
    assert "not back" in office.page(serial)
    assert office.hold(serial, box="7").status_code == 303
    page = office.page(serial)
    assert "box" in page and "all as expected" in page and fields(page) == []


def test_two_people_key_apart_and_the_number_enters_once(office: Office) -> None:
    """The second sees neither the first's numbers nor expected ones; after both the page names both."""
    serial = office.sheet("S01").serial
    office.hold(serial)
    asked = fields(office.page(serial))
    assert 0 < len(asked) <= 25
    assert asked == sorted(asked, key=lambda name: int(name[1:])), "the sheet's own order"
    numbers = {line: str(7000 + n) for n, line in enumerate(asked)}
    assert office.key(serial, FIRST, numbers).status_code == 303
    spoiled = office.line(serial, "ballots_spoiled")
    assert office.values("S01", "ballots_spoiled") == []
    second = office.page(serial, SECOND)
    assert fields(second) == asked
    assert not any(value in second for value in numbers.values())
    for address in ("/site/S01/closing", "/site/S01", "/open", f"/paper?day={DAY}"):
        shown = office.app.client(Role.HELPER, SECOND).get(address).text
        assert not any(value in shown for value in numbers.values()), address
    mine = office.page(serial, FIRST)
    assert fields(mine) == [] and numbers[spoiled] in mine and "waiting for the second person" in mine
    office.key(serial, SECOND, numbers)
    page = office.page(serial, THIRD)
    assert "re-entered from paper by" in page and "second reading by" in page
    assert office.values("S01", "ballots_spoiled") == [int(numbers[spoiled])]
    assert fields(page) == []


def test_an_entry_that_waits_for_the_second_person_is_shown_to_nobody_else(office: Office) -> None:
    """The address of the first keying is refused to the second person until both have keyed."""
    serial = office.sheet("S02").serial
    office.hold(serial)
    line = office.line(serial, "ballots_unused")
    office.key(serial, FIRST, {line: "8111"})
    fact = office.app.folder.fold().find("site/S02", "count.read", DAY, term="ballots_unused", source="hand")
    assert fact is not None
    event = fact.readings[0].event
    assert office.app.client(Role.HELPER, SECOND).get(f"/entry/{event}").status_code == 403
    counter = next(k for k in office.keys(serial) if k.startswith("public_counter_close@"))
    device = counter.partition("@")[2]
    office.key(serial, FIRST, {office.line(serial, counter): "8222"})
    life = f"/why?subject={device}"
    assert "8222" not in office.app.client(Role.HELPER, SECOND).get(life).text
    assert "8222" in office.app.client(Role.HELPER, FIRST).get(life).text
    assert "8111" in office.app.client(Role.HELPER, FIRST).get(f"/entry/{event}").text


def test_two_who_key_differently_look_once_more(office: Office) -> None:
    """Nothing enters the balance; both see both; whoever misread it corrects, and then it counts."""
    serial = office.sheet("S36").serial
    office.hold(serial)
    line = office.line(serial, "ballots_spoiled")
    office.key(serial, FIRST, {line: "21"})
    office.key(serial, SECOND, {line: "12"})
    assert office.values("S36", "ballots_spoiled") == []
    for person in (FIRST, SECOND):
        page = office.page(serial, person)
        assert "two keyings differ" in page and ">21<" in page and ">12<" in page
        assert "1 line waits: its two keyings differ." in page and "Nothing more is to be keyed" not in page
        assert f"look-{line}" in page
    assert f"look-{line}" not in office.page(serial, THIRD)
    look = {"do": "look", "line": line, f"look-{line}": "21"}
    stranger = office.app.client(Role.HELPER, THIRD).post(f"/paper/{serial}/keyed", data=look)
    assert stranger.status_code == 409
    office.app.client(Role.HELPER, SECOND).post(f"/paper/{serial}/keyed", data=look)
    assert office.values("S36", "ballots_spoiled") == [21]
    page = office.page(serial)
    assert "before:" in page and ">12<" in page, "the misread keying stays visible"


def test_paper_that_differs_from_the_telephone_shows_all_authors(office: Office) -> None:
    """The number that came by telephone is kept as the first entry; paper stands beside it with its two."""
    serial = office.sheet("S02").serial
    office.hold(serial)
    office.app.folder.write(
        CountRead(term="ballots_spoiled", value=45, source="hand"),
        who=Who(person="person/P001", role=Role.SITE_LEAD),
        subject="site/S02",
        site="site/S02",
        day=DAY,
    )
    line = office.line(serial, "ballots_spoiled")
    for person in (FIRST, SECOND):
        office.key(serial, person, {line: "54"})
    page = office.page(serial)
    names = [office.app.folder.person_name(p) for p in ("person/P001", FIRST, SECOND)]
    assert "First entry, kept:" in page and ">45<" in page and ">54<" in page
    assert all(name in page for name in names)
    assert sorted(office.values("S02", "ballots_spoiled")) == [45, 54]


def test_a_marked_line_is_keyed_from_its_own_sheet(office: Office) -> None:
    """With the balance back, an opening sheet asks for its marked line alone; keyed twice it is a reading."""
    office.hold(office.sheet("S36").serial)
    serial = office.sheet("S36", "opening sheet").serial
    store = office.app.folder.store
    sheet = next(s for s in printed_sheets(store) if s.serial == serial)
    line = next(one.line for one in asked_lines(store, store.fold(), sheet) if one.item == "serial")
    office.hold(serial, line)
    assert fields(office.page(serial)) == [line]
    for person in (FIRST, SECOND):
        office.key(serial, person, {line: "LM-X-0999"})
    page = office.page(serial)
    assert "LM-X-0999" in page and fields(page) == []


def test_a_void_sheet_names_the_one_in_its_place_and_takes_no_number(office: Office) -> None:
    """It can be put into a box and is noticed; keying from it is refused."""
    old, new = office.sheet("S02", "seal sheet"), office.sheet("S02", "closing sheet")
    office.app.folder.write(
        SheetsVoided(
            change="0" * 64,
            sheets=(VoidedSheet(serial=f"sheet/{old.serial}", replaced_by=f"sheet/{new.serial}"),),
        ),
        who=Who(person=FIRST, role=Role.COORDINATOR),
        subject="site/S02",
        site="site/S02",
    )
    office.hold(old.serial, "L1")
    page = office.page(old.serial)
    assert "This sheet is void" in page and f"/paper/{new.serial}" in page and fields(page) == []
    assert office.key(old.serial, FIRST, {"L1": "5"}).status_code == 409
    for address in (f"/paper?day={DAY}", "/open"):
        assert f"{old.serial}" in office.app.client(Role.HELPER).get(address).text


def test_a_second_sheet_with_the_same_serial_is_noticed_and_can_be_taken_back(office: Office) -> None:
    """Two copies in two boxes are named on both pages; taken back, neither is here."""
    serial = office.sheet("S01", "seal sheet").serial
    office.hold(serial)
    office.hold(serial, box="9", do="another")
    assert "side by side" in office.page(serial)
    assert "Several sheets" in html.unescape(office.app.client(Role.HELPER).get(f"/paper?day={DAY}").text)
    office.app.client(Role.CLERK).post(f"/paper/{serial}", data={"do": "take_back"})
    page = office.page(serial)
    assert "not back" in page and "side by side" not in page


def test_of_another_sheet_with_the_serial_nothing_is_ticked_before_somebody_looks(office: Office) -> None:
    """What was said of the first sheet stands in its own form, and not in that of the second one."""
    for site, lines in (("S01", ()), ("S02", ("L1",))):
        serial = office.sheet(site).serial
        office.hold(serial, *lines)
        own, other = (office.page(serial, role=Role.CLERK, more=f"?act={act}") for act in ("hold", "another"))
        assert own.count(" checked>") == 1 and other.count(" checked>") == 0


def test_the_list_says_what_is_missing_by_name(office: Office) -> None:
    """Sheets that are not back by serial, values by their words; a role without names sees none."""
    page = html.unescape(office.app.client(Role.READER, THIRD).get(f"/paper?day={DAY}").text)
    assert office.sheet("S36", "closing sheet").serial in page
    assert "Voters checked in" in page and "Sheets not back" in page
    serial = office.sheet("S01").serial
    office.hold(serial)
    reader = office.page(serial, THIRD, Role.READER)
    assert office.app.folder.person_name(FIRST) not in reader


def test_the_command_tells_what_the_page_tells(office: Office, capsys: pytest.CaptureFixture[str]) -> None:
    """Sheets, boxes and states as JSON and as lines; what one person alone has keyed has no number there."""
    serial = office.sheet("S36").serial
    office.hold(serial)
    line = office.line(serial, "lifetime_counter_open@" + office.device(serial))
    office.key(serial, FIRST, {line: "9333"})
    path = str(office.app.folder.path)
    assert run(["paper", path, "--site", "S36", "--json"]) == 0
    out = capsys.readouterr().out
    (site,) = json.loads(out)["sites"]
    states = {one["serial"]: one["state"] for one in site["sheets"]}
    assert states[serial] == "back" and serial not in site["not_back"]
    assert len(site["values"]) <= 25
    (keyed,) = [one for one in site["lines"] if (one["sheet"], one["line"]) == (serial, line)]
    assert "9333" not in out and keyed["keyings"][0]["value"] == ""
    assert run(["paper", path, "--site", "S36", "--day", DAY]) == 0
    said = capsys.readouterr().out
    assert "S36 Southgate Library" in said and office.sheet("S36", "closing sheet").serial in said
    assert run(["paper", path, "--day", "2028-01-01"]) == 1
    assert "2028-01-01" in capsys.readouterr().err


KEY_AND_DIE = """
import os, sys
from pathlib import Path
from litestar.testing import TestClient
from pollstead.show.web.app import make_app
from pollstead.show.web.capabilities import Role
from pollstead.show.web.open_folder import OpenFolder
from pollstead.show.web.who import WHO_COOKIE, Who, to_cookie
from pollstead.work.foreman import Foreman

path, serial, *lines = sys.argv[1:]
folder = OpenFolder(Path(path))
written = 0
write = folder.write

def dying(*args, **named):
    global written
    if written == 3:
        os.kill(os.getpid(), 9)
    written += 1
    return write(*args, **named)

folder.write = dying
app = make_app(folder, Foreman(folder.store, Path(path)), 8734)
client = TestClient(app, base_url="http://127.0.0.1:8734")
client.headers["sec-fetch-site"] = "same-origin"
client.cookies.set(WHO_COOKIE, to_cookie(Who(person="person/P010", role=Role.HELPER)))
client.post(f"/paper/{serial}/keyed", data={"do": "key", **{line: "77" for line in lines}})
"""


@pytest.mark.full
def test_a_power_cut_while_keying_keeps_what_was_kept_and_asks_for_the_rest(
    planned: Path, tmp_path: Path
) -> None:
    """The process is killed after the third line: three stand as keyed once, the rest is asked for."""
    path = copied(planned, tmp_path / "county")
    before = Office(path)
    serial = before.sheet("S01").serial
    before.hold(serial)
    asked = fields(before.page(serial))
    before.app.folder.close()
    done = subprocess.run(
        [sys.executable, "-c", KEY_AND_DIE, str(path), serial, *asked], capture_output=True, check=False
    )
    assert done.returncode == -signal.SIGKILL, done.stderr.decode()
    after = App(path)
    try:
        page = html.unescape(after.client(Role.HELPER, FIRST).get(f"/paper/{serial}").text)
        assert fields(page) == asked[3:]
        second = html.unescape(after.client(Role.HELPER, SECOND).get(f"/paper/{serial}").text)
        assert fields(second) == asked and ">77<" not in second
        day = days_now(after.folder).site("S01", ELECTION_DAY)
        assert day is not None and day.readings == () and len(day.keyed) == 3
    finally:
        after.folder.close()
