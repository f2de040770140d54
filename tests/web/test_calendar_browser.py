"""The calendar in a real browser: access rules by axe-core, 320 px, keyboard, grey print.

Checks by axe-core (rules for WCAG 2.0 to 2.2, levels A and AA); 1.4.10 asks for 320 px.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Route

from pollstead.show.web.capabilities import Role

pytestmark = pytest.mark.browser

LARKMOOR = Path(__file__).resolve().parents[2] / "larkmoor"
SMALL = LARKMOOR.parent / "small"
AXE = (LARKMOOR.parent / "tests" / "vendor" / "axe" / "axe.min.js").read_text(encoding="utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
FAULTS = f"axe.run({{runOnly: {RULES}}}).then(found => found.violations.map(one => one.id))"
STICKING_OUT = """() => [...document.querySelectorAll("main *")].filter((element) => {
  const box = element.getBoundingClientRect();
  const hidden = element.closest(".away, thead, svg") || !box.width;
  return !hidden && (box.right > innerWidth + 1 || box.left < -1);
}).map((element) => element.outerHTML.slice(0, 90))"""
ADDRESS = "http://127.0.0.1:8734"
PAGES = ("/calendar?state=all", "/calendar/task/test-devices?slip=6", "/calendar/month?month=2028-11")


def test_the_calendar_can_be_read_narrow_and_ticked_by_keyboard(
    tmp_path: Path, app_of: Callable[[Path], Any], browser: Browser
) -> None:
    """No access rule broken, nothing sticks out at 320 px, a task is ticked with the keyboard alone."""
    folder = tmp_path / "county"
    folder.mkdir()
    for name in ("county.toml", "sites.csv", "people.csv"):
        shutil.copyfile(SMALL / name, folder / name)
    for name in ("tasks.csv", "holidays.csv"):
        shutil.copyfile(LARKMOOR / name, folder / name)
    app = app_of(folder)
    client = app.client(Role.COORDINATOR)

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
    for address in PAGES:
        page.goto(ADDRESS + address)
        assert page.evaluate(STICKING_OUT) == [], address
        page.evaluate(AXE)
        assert page.evaluate(FAULTS) == [], address
    page.goto(f"{ADDRESS}/calendar?state=late")
    before = page.locator("input[type=checkbox]").count()
    page.locator("#task-test-devices").focus()
    page.keyboard.press("Space")
    page.locator("#evidence").focus()
    page.keyboard.type("test records in binder 5")
    page.keyboard.press("Tab")
    page.get_by_role("button", name="These are done").focus()
    page.keyboard.press("Enter")
    page.wait_for_function(f"document.querySelectorAll('input[type=checkbox]').length === {before - 1}")
    page.close()
