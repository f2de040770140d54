"""Ready to open? and Calls as pages: who sees what, a call in one press, undo, paper."""

from __future__ import annotations

import datetime as dt
import re
from typing import Any

import pytest

from pollstead.election.instants import OperatingDay
from pollstead.show.web.capabilities import Role

EVENING = OperatingDay(date=dt.date(2028, 11, 6), zone_name="America/New_York").at_wall_clock(18 * 60).utc_ms


@pytest.fixture
def evening(app: Any) -> Any:
    """The app at 18:00 on the evening before."""
    app.folder.clock = lambda: EVENING
    return app


def test_a_call_is_taken_down_by_one_press_and_undone_by_another(evening: Any) -> None:
    """The quick answer writes events, the list ranks anew, undo takes all of them back."""
    client = evening.client(Role.COORDINATOR)
    page = client.get("/ready").text
    first = re.search(r'name="person" value="(P\d+)"', page)
    mark = re.search(r'name="mark" value="([0-9a-f]{16})"', page)
    assert first and mark and "Which ten calls make the morning open on time?" in page
    sent = {"person": first[1], "mark": mark[1], "phone": "555-0112", "all": "answered_yes"}
    taken = client.post("/calls", data={**sent, "day": "2028-11-07"})
    assert taken.status_code == 303
    after = client.get(taken.headers["location"]).text
    assert "Undo this call" in after
    assert evening.folder.fold().named("call.made")
    again = client.post("/calls", data={**sent, "day": "2028-11-07"})
    assert again.status_code in (409, 422), "the questions have changed meanwhile"
    events = re.search(r'name="events" value="([^"]+)"', after)
    assert events
    undone = client.post("/calls", data={"do": "undo", "events": events[1], "day": "2028-11-07"})
    assert undone.status_code == 303
    assert not [r for f in evening.folder.fold().named("call.made") for r in f.current]
    assert client.get("/ready").text == page


def test_answers_one_by_one_keep_what_was_typed(evening: Any) -> None:
    """A time that cannot be read is named at its field, and the answers stay."""
    client = evening.client(Role.CLERK)
    page = client.get("/calls?person=P002&day=2028-11-07").text
    mark = re.search(r'name="mark" value="([0-9a-f]{16})"', page[page.index('id="call"') :])
    assert mark
    sent = {"person": "P002", "day": "2028-11-07", "mark": mark[1], "phone": "555-0111"}
    wrong = client.post("/calls", data={**sent, "answer-0": "answered_yes", "there_by": "5 ish"})
    assert wrong.status_code == 422
    assert "Type a time such as 05:15" in wrong.text and 'value="5 ish"' in wrong.text
    assert client.post("/calls", data=sent).status_code == 422
    right = client.post(
        "/calls", data={**sent, "answer-0": "answered_yes", "there_by": "05:45", "words": "has tried the key"}
    )
    assert right.status_code == 303
    shown = client.get("/calls?person=P002&day=2028-11-07").text
    assert "has tried the key" in shown


@pytest.mark.parametrize(
    ("role", "phones", "calls", "doors"),
    [
        (Role.COORDINATOR, True, 200, 200),
        (Role.CLERK, True, 200, 403),
        (Role.WAREHOUSE, False, 403, 403),
        (Role.SITE_LEAD, False, 403, 403),
        (Role.READER, False, 403, 403),
    ],
)
def test_phones_and_paper_only_for_roles_that_call(
    evening: Any, monkeypatch: pytest.MonkeyPatch, role: Role, phones: bool, calls: int, doors: int
) -> None:
    """Phones stand on no page and on no paper of a role that does not call; door cards ask for keys too."""
    monkeypatch.setattr("pollstead.show.packet.ready_sheets.paper_pdf", lambda paper: b"%PDF")
    client = evening.client(role)
    assert ("555-" in client.get("/ready").text) is phones
    assert ("555-" in client.get("/calls").text) is phones
    assert client.get("/ready/print/ten").status_code == calls
    assert client.get("/ready/print/doors").status_code == doors
    sent = {"person": "P003", "all": "no_answer"}
    assert client.post("/calls", data=sent).status_code == (303 if phones else 403)


def test_what_was_seen_is_written_down_and_taken_back(evening: Any) -> None:
    """A seen cart is good with its author; without words nothing is taken."""
    client = evening.client(Role.HELPER)
    sent = {"site": "S01", "question": "delivery", "result": "good", "day": "2028-11-07"}
    assert client.post("/ready", data=sent).status_code == 422
    assert client.post("/ready", data={**sent, "seen": "in the gym, locked"}).status_code == 303
    assert "Seen or said in this window." in client.get("/ready").text
    client.post("/ready", data={**sent, "result": "unknown", "seen": "another cart"})
    assert "What was seen counts no longer." in client.get("/ready").text


@pytest.mark.full
def test_ten_calls_fit_on_one_page_and_each_site_has_its_own_door_card(evening: Any) -> None:
    """The real PDF: one page of calls, one page for each site, no code on it."""
    from pollstead.show.packet.typesetting import page_count

    client = evening.client(Role.COORDINATOR)
    assert page_count(client.get("/ready/print/ten").content) == 1
    assert page_count(client.get("/ready/print/doors").content) == 3
