"""A device that fails at noon, the whole way over HTTP: out of service, swapped, opened, closed, received."""

from __future__ import annotations

import html
import re
from typing import Any

import pytest
from tests.web.test_entry import DAY, IDA, TOBIN, answers, lines_of
from tests.work.changing_county import QuickPrinter

from pollstead.cli.change import carry_on_folder
from pollstead.plan.terms.part import NoWatch
from pollstead.reconcile.counts.balance import LineState
from pollstead.reconcile.opening.states import ItemState
from pollstead.show.web.capabilities import Role
from pollstead.show.web.day import days_now, issued
from pollstead.show.web.readings import Asked, Line

pytestmark = pytest.mark.full

MIDNIGHT_MS = 1_857_186_000_000  # 2028-11-07 00:00 in the county
OLD, NEW, OTHER = "device/scanner/0001", "device/scanner/0007", "device/scanner/0002"
COUNTED = {OLD: 312, NEW: 505, OTHER: 90}
HELD_APART = 3
# 312 + 505 + 90 + 3 ballots cast by 910 voters; 5 spoiled and issued again; 4 provisional; 1,000 brought.
COUNTS = {
    "ballots_received": 1000,
    "ballots_held_apart": HELD_APART,
    "ballots_spoiled": 5,
    "ballots_issued": 915,
    "ballots_reissued": 5,
    "check_ins": 910,
    "provisional_issued": 4,
    "provisional_envelopes": 4,
    "provisional_entries": 4,
    "ballots_unused": 81,
}
TABLE = {"table": "1", "day": DAY.isoformat(), "site": "S01", "second": "P012", "giver": "P001"}


def words(page: Any) -> str:
    """A page's text."""
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", page.text)))


def at(app: Any, hour: int, minute: int) -> None:
    """Set the office's clock."""
    app.folder.clock = lambda: MIDNIGHT_MS + (hour * 60 + minute) * 60_000


def typed(line: Line, lifetimes: dict[str, int]) -> dict[str, str]:
    """What people type on a line of this story."""
    if line.ask is not Asked.COUNT or (line.items and line.items[0].expected):
        return answers(line)
    if line.detail in ("public_counter_close", "report_count_close"):
        return {line.id: str(COUNTED[line.device])}
    if line.detail == "lifetime_counter_close":
        return {line.id: str(lifetimes[line.device] + COUNTED[line.device])}
    return {line.id: str(COUNTS.get(line.detail, 0))}


def read_by_two(app: Any, *, opening: bool) -> None:
    """Two people read every line that is open to them."""
    page = "opening" if opening else "closing"
    lifetimes = {
        d.id: d.lifetime_counter for d in app.folder.election().devices if d.lifetime_counter is not None
    }
    for person in (IDA, TOBIN):
        form = {"do": "readings", "day": DAY.isoformat(), "list": issued(app.folder).event_of("S01", DAY)}
        for line in lines_of(app, "S01", opening=opening):
            if line.open_for(person):
                form |= typed(line, lifetimes)
        answer = app.client(Role.SITE_LEAD, person).post(f"/site/S01/{page}", data=form)
        assert answer.status_code == 303, words(answer)[:600]


def swap(app: Any) -> None:
    """The call, out of service, and the swap as one act of the coordinator."""
    desk, office = app.client(Role.HELPER, "person/P012"), app.client(Role.COORDINATOR, "person/P010")
    # Days of early voting whose closing nobody wrote down do not keep the page from today.
    assert f'name="day" value="{DAY.isoformat()}"' in desk.get("/incidents").text
    told = {"do": "report", "day": DAY.isoformat(), "i-site": "S01", "i-what": "device", "i-at": "12:05"}
    told |= {"i-device": "LM-S-0001", "i-service": "goes_on", "i-words": "Takes no ballot", "i-caller": "Ida"}
    kinds = re.findall(r'<option value="([^"]+)"[^>]*>device does not work', desk.get("/incidents").text)
    assert desk.post("/incidents", data=told | {"i-what": kinds[0]}).status_code == 303
    out = {"do": "service", "day": DAY.isoformat(), "no": f"incident/{DAY.isoformat()}/1", "state": "out"}
    assert desk.post("/incidents", data=out).status_code == 303
    assert f"/change/swap-device?old={OLD.replace('/', '%2F')}" in office.get("/incidents").text
    review = "/change/swap-device/review"
    asked = {"old": OLD, "new": NEW, "at": "12:05", "counter": "312", "ballots": "held_apart"}
    page = office.get(review, params=asked)
    hidden = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', page.text))
    begun = office.post(review, data=hidden | {"reason": "Takes no ballot"})
    assert (begun.status_code, begun.headers["location"]) == (303, "/changes/now")
    carried = carry_on_folder(app.folder.path, watch=NoWatch())
    assert carried is not None
    done = words(office.get("/changes/1"))
    assert "is replaced by LM-S-0007" in done and "Whom to call" in done
    swapped = app.folder.store.events.of_kinds("device.swapped")
    assert [e.event.body["public_counter"] for e in swapped] == [312]


def test_a_swap_at_noon_from_the_call_to_the_receiving_table(
    issued_app: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Both devices are opened, closed, balanced and received; ballots held apart are in no counter."""
    monkeypatch.setattr("pollstead.show.packet.changed_printer.PacketPrinter", QuickPrinter)
    app = issued_app
    at(app, 5, 30)
    read_by_two(app, opening=True)
    at(app, 12, 6)
    swap(app)

    at(app, 12, 40)
    new = [x for x in lines_of(app, "S01", opening=True) if not x.complete]
    assert {x.device for x in new} == {NEW} and {x.group for x in new} == {"Scanner 1 (LM-TAG-S007, 12:05–)"}
    read_by_two(app, opening=True)
    opened = [r for r in days_now(app.folder).site("S01", DAY).results if r.item and r.item.device == NEW]
    states = {r.state for r in opened if r.people}
    assert states == {ItemState.MATCH}

    at(app, 20, 20)
    closing = lines_of(app, "S01", opening=False)
    groups = {x.group for x in closing if x.ask is Asked.SEAL and x.device in (OLD, NEW)}
    assert groups == {"Scanner 1 (LM-TAG-S001, –12:05)", "Scanner 1 (LM-TAG-S007, 12:05–)"}
    read_by_two(app, opening=False)
    balance = days_now(app.folder).site("S01", DAY).lines
    told = {(one.equation, one.subject): one.state for one in balance}
    assert told[("I1", "site/S01")] is told[("I3", "site/S01")] is LineState.ZERO
    assert all(told[("I5", device)] is LineState.ZERO for device in COUNTED)
    others = {key: state for key, state in told.items() if state is not LineState.ZERO}
    assert set(others.values()) <= {LineState.NOT_READ} and {key[0] for key in others} <= {"I4-memory"}
    page = words(app.client(Role.SITE_LEAD, IDA).get(f"/site/S01/closing?day={DAY}"))
    assert "Every line has been entered." in page

    at(app, 21, 10)
    table = app.client(Role.HELPER, "person/P010")
    wanted = [f"LM-M-S00{device}{side}" for device in "127" for side in "AB"]
    shown = words(table.get("/receiving", params=TABLE))
    assert all(code in shown for code in wanted) and "from machine LM-S-0007" in shown
    for code in wanted:
        taken = table.post("/receiving", data={**TABLE, "do": "scan", "seals": "intact", "code": code})
        assert taken.status_code == 200 and f"{code} is taken in for S01" in words(taken), words(taken)[:900]
    received = {e.event.subject for e in app.folder.store.events.of_kinds("thing.received")}
    assert received == {f"memory/{code}" for code in wanted}
