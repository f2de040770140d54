"""Signed paper in a real browser: keyboard alone, two people, a stray scan, access rules, a narrow screen.

Checks by axe-core (rules for WCAG 2.0 to 2.2, levels A and AA); 320 px is success criterion 1.4.10.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from pollstead.show.web.capabilities import Role
from pollstead.show.web.who import LANGUAGE_COOKIE, WHO_COOKIE, Who, to_cookie
from pollstead.show.words import ENGLISH, PSEUDO

pytestmark = pytest.mark.browser

AXE = (Path(__file__).resolve().parents[1] / "vendor" / "axe" / "axe.min.js").read_text(encoding="utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
LIST = "/paper?day=2028-11-07"


def page_at(browser: Browser, base: str, person: str, *, width: int = 1280, language: str = ENGLISH) -> Page:
    """A page under a helper's name."""
    context = browser.new_context(viewport={"width": width, "height": 800}, base_url=base)
    who = to_cookie(Who(person=f"person/{person}", role=Role.HELPER))
    context.add_cookies(
        [
            {"name": WHO_COOKIE, "value": who, "url": base},
            {"name": LANGUAGE_COOKIE, "value": language, "url": base},
        ]
    )
    return context.new_page()


def balance_sheet_of(page: Page, site: str) -> str:
    """The serial of a site's balance sheet, as the list of what is missing names it."""
    page.goto(LIST)
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    text = page.locator("details", has_text=site).first.inner_text()
    found = re.search(r"([0-9A-Z]{4}-[0-9A-Z]{4}-[0-9A-Z]{4}) balance sheet", text)
    assert found, text
    return found[1]


def key_all(page: Page, first: int) -> list[str]:
    """Key every field by digits and Enter alone, then send; the fields' names in the order of the keys."""
    page.keyboard.press("Tab")
    names = []
    while page.evaluate("document.activeElement.tagName") == "INPUT":
        names.append(page.evaluate("document.activeElement.name"))
        page.keyboard.type(f"{first + len(names)}\n", delay=0)
    assert page.evaluate("document.activeElement.tagName") == "BUTTON"
    with page.expect_navigation():
        page.keyboard.press("Enter")
    return names


def violations(page: Page) -> list[str]:
    """The access rules that a page breaks."""
    page.evaluate(AXE)
    return [v["id"] for v in page.evaluate("(rules) => axe.run({runOnly: rules})", RULES)["violations"]]


@pytest.mark.begins_first
def test_paper_is_put_in_a_box_and_keyed_by_keyboard_alone(browser: Browser, serving: str) -> None:
    """A serial, a box, a tick; two people key line by line; a stray scan changes nothing."""
    first = page_at(browser, serving, "P010")
    serial = balance_sheet_of(first, "S02")
    first.goto(LIST)
    assert first.evaluate("document.activeElement.id") == "serial"
    first.keyboard.type(serial.replace("-", "").lower() + "\n", delay=1)
    first.wait_for_url(f"**/paper/{serial}")
    assert first.evaluate("document.activeElement.id") == "box"
    assert violations(first) == []
    first.keyboard.type("3")
    first.keyboard.press("Tab")
    first.keyboard.press("Space")
    with first.expect_navigation():
        first.keyboard.press("Enter")
    assert "all as expected" in first.inner_text("main")
    first.evaluate("document.activeElement.blur()")
    before = first.inner_text("main")
    first.keyboard.type("LM-V-0042\n", delay=1)
    assert first.inner_text("main") == before and first.input_value("#L1") == ""
    first.goto(f"/paper/{serial}#key")
    names = key_all(first, 100)
    assert names == sorted(names, key=lambda name: int(name[1:])) and 1 < len(names) <= 25
    assert first.evaluate("document.activeElement.id") == "serial", "the next sheet can be scanned at once"
    second = page_at(browser, serving, "P011")
    second.goto(f"/paper/{serial}#key")
    assert "101" not in second.inner_text("main")
    assert violations(second) == []
    assert key_all(second, 100) == names
    assert second.locator("text=re-entered from paper by").count() == len(names)
    assert violations(second) == []
    second.goto(LIST)
    assert violations(second) == []
    narrow = page_at(browser, serving, "P012", width=320, language=PSEUDO)
    for address in (LIST, f"/paper/{serial}", f"/paper/{serial}?act=another"):
        narrow.goto(address)
        assert narrow.evaluate("document.documentElement.scrollWidth") <= 320, address
