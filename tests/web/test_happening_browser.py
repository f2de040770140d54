"""The pages of the day in a real browser: access rules by axe-core, 320 px, entry by keyboard, no shortcut.

Checks by axe-core (rules for WCAG 2.0 to 2.2, levels A and AA); 1.4.10 asks for 320 px, 2.1.4 for no
shortcut of one character.
"""

from __future__ import annotations

import datetime as dt
import os
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from playwright.sync_api import Browser, Route

from pollstead.record.kinds.days import SiteOpened
from pollstead.show.web.capabilities import Role
from pollstead.show.web.who import Who

pytestmark = pytest.mark.browser

AXE = (Path(__file__).resolve().parents[1] / "vendor" / "axe" / "axe.min.js").read_text(encoding="utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
FAULTS = f"axe.run({{runOnly: {RULES}}}).then(found => found.violations.map(one => one.id))"
STICKING_OUT = """() => [...document.querySelectorAll("main *")].filter((element) => {
  const box = element.getBoundingClientRect();
  const hidden = element.closest(".away, thead, svg") || !box.width;
  return !hidden && (box.right > innerWidth + 1 || box.left < -1);
}).map((element) => element.outerHTML.slice(0, 90))"""
ADDRESS = "http://127.0.0.1:8734"
DAY = "2028-11-07"
NOON = dt.datetime(2028, 11, 7, 14, 20, tzinfo=ZoneInfo("America/New_York"))


def busy(app: Any, client: Any) -> None:
    """A day on which much happens: late doors, a burst, a jam's device, an order, paper that runs out."""
    ticks = iter(range(round(NOON.timestamp() * 1000), 2**53, 1000))
    app.folder.clock = lambda: next(ticks)
    who = Who(person="person/P010", role=Role.HELPER)
    for site, at in (("S01", 420), ("S02", 447)):
        app.folder.write(SiteOpened(at_min=at), who=who, subject=f"site/{site}", site=f"site/{site}", day=DAY)
    base = {"day": DAY, "do": "report", "i-service": "slower", "i-what": "printer_unreadable"}
    for site, at in (("S01", "13:58"), ("S02", "14:03"), ("S36", "14:10")):
        client.post(
            "/incidents",
            data={**base, "i-site": site, "i-at": at, "i-words": "lines are grey", "i-caller": "lead"},
        )
    device = next(d.serial for d in app.folder.election().devices if d.kind.endswith("scanner"))
    stopped = {**base, "i-what": "device_down", "i-service": "stopped", "i-device": device}
    client.post("/incidents", data={**stopped, "i-site": "S01", "i-at": "12:10"})
    tell = {
        "day": DAY,
        "do": "tell",
        "t-site": "S02",
        "t-item": "ballots",
        "t-first": "A-101",
        "t-last": "A-400",
    }
    for left, at in (("300", "07:00"), ("90", "13:50")):
        client.post("/supplies", data={**tell, "t-left": left, "t-at": at})
    pack = {
        "day": DAY,
        "do": "pack",
        "p-site": "S02",
        "p-item": "ballots",
        "p-amount": "100",
        "p-by": "14:00",
    }
    client.post("/supplies", data={**pack, "p-carrier": "P011", "p-first": "A-901", "p-last": "A-1000"})
    give = {"day": DAY, "do": "give", "by": "court", "source": "Case 28-1107, entry 4", "apart": "held_apart"}
    client.post("/orders", data={**give, "does": "extend_hours", "until": "21:00", "from": "20:00"})
    said = {"day": DAY, "do": "read-back", "order": f"order/{DAY}/1", "site": "S01", "said": "same"}
    client.post("/orders", data=said)


def test_the_pages_of_the_day_can_be_read_narrow_and_used_by_keyboard(
    issued_app: Any, browser: Browser
) -> None:
    """No access rule broken, nothing sticks out at 320 px, an incident is written down by keys alone."""
    client = issued_app.client(Role.HELPER)
    busy(issued_app, client)

    def answer(route: Route) -> None:
        """Let the app answer in this process, so that the page is seen on the test's own day."""
        asked = route.request
        path = asked.url.removeprefix(ADDRESS)
        headers = {"content-type": "application/x-www-form-urlencoded"}
        if asked.method == "POST":
            got = client.post(path, content=asked.post_data or "", headers=headers)
        else:
            got = client.get(path)
        while got.status_code == 303:
            got = client.get(got.headers["location"])
        kind = got.headers.get("content-type", "text/plain")
        route.fulfill(status=got.status_code, headers={"content-type": kind}, body=got.content)

    page = browser.new_page(viewport={"width": 320, "height": 640})
    page.route("**/*", answer)
    for path in ("/incidents", "/supplies", "/orders", "/day"):
        page.set_viewport_size({"width": 320, "height": 640})
        page.goto(f"{ADDRESS}{path}?day={DAY}")
        sticking = page.evaluate(STICKING_OUT)
        page.evaluate(AXE)
        faults = page.evaluate(FAULTS)
        if os.environ.get("POLLSTEAD_LOOK"):
            for width in (390, 1280):
                page.set_viewport_size({"width": width, "height": 900})
                page.screenshot(path=f"{os.environ['POLLSTEAD_LOOK']}{path}-{width}.png", full_page=True)
        assert (sticking, faults) == ([], []), path
    page.goto(f"{ADDRESS}/incidents?day={DAY}")
    rows = page.locator("#list tbody tr").count()
    page.locator("h1").click()
    page.keyboard.type("jkxdu14:05")
    assert page.url.endswith(f"?day={DAY}") and page.locator("#list tbody tr").count() == rows
    page.locator("#i-site").focus()
    page.keyboard.type("S02")
    page.keyboard.press("Tab")
    page.keyboard.type("ballot st")
    page.keyboard.press("Tab")
    page.keyboard.press("ControlOrMeta+a")
    page.keyboard.type("14:15")
    for _ in range(3):
        page.keyboard.press("Tab")
    page.keyboard.type("cleared at once")
    page.keyboard.press("Enter")
    page.get_by_text("Number 5 is written down.").wait_for()
    page.get_by_role("button", name="Undo this").focus()
    page.keyboard.press("Enter")
    page.get_by_text("It is taken back.").wait_for()
    assert page.locator("#list tbody tr").count() == rows
    page.close()
