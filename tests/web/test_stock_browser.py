"""Seal stock and tests in a real browser: access rules, narrow screens, a scanner, the second person.

Checks by axe-core (rules for WCAG 2.0 to 2.2, levels A and AA); 320 px is success criterion 1.4.10.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from pollstead.show.web.capabilities import Role
from pollstead.show.web.who import LANGUAGE_COOKIE, WHO_COOKIE, Who, to_cookie
from pollstead.show.words import ENGLISH, PSEUDO

pytestmark = pytest.mark.browser

AXE = (Path(__file__).resolve().parents[1] / "vendor" / "axe" / "axe.min.js").read_text(encoding="utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
SPARE = "device/scanner/0007"
PAGES = ("/stock", "/tests", "/tests/S01", f"/tests/spares?device={SPARE}")


def page_of(browser: Browser, base: str, person: str, *, width: int = 1280, language: str = ENGLISH) -> Page:
    """A page of the warehouse under one person's name."""
    context = browser.new_context(viewport={"width": width, "height": 800}, base_url=base)
    who = to_cookie(Who(person=person, role=Role.WAREHOUSE))
    context.add_cookies(
        [
            {"name": WHO_COOKIE, "value": who, "url": base},
            {"name": LANGUAGE_COOKIE, "value": language, "url": base},
        ]
    )
    return context.new_page()


def test_access_rules_and_a_narrow_screen(browser: Browser, serving: str) -> None:
    """axe-core names nothing on the four pages; at 320 px nothing scrolls sideways, in longer words too."""
    page = page_of(browser, serving, "person/P011")
    for address in PAGES:
        page.goto(address)
        page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
        page.evaluate(AXE)
        result = page.evaluate("(rules) => axe.run({runOnly: rules})", RULES)
        assert [v["id"] for v in result["violations"]] == [], address
    narrow = page_of(browser, serving, "person/P011", width=320, language=PSEUDO)
    for address in (PAGES[0], PAGES[-1]):
        narrow.goto(address)
        narrow.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
        assert narrow.evaluate("document.documentElement.scrollWidth <= innerWidth + 1"), address


def test_a_scanner_fills_line_by_line_and_the_second_person_sees_nothing(
    browser: Browser, serving: str
) -> None:
    """A scan is the number and Enter: the next line has the focus, a wrong number is told at once; both
    people enter apart, then both see both."""
    first = page_of(browser, serving, "person/P011")
    first.goto(f"/tests/spares?device={SPARE}#device")
    first.focus("#seal-1")
    first.keyboard.type("0099999")
    first.keyboard.press("Enter")
    assert first.evaluate("document.activeElement.id") == "seal-2"
    first.get_by_text("in no range and no receipt").wait_for()
    for field, number in (("#seal-1", "0048301"), ("#seal-2", "0048302")):
        first.fill(field, number)
    first.get_by_role("button", name="Save what I read").click()
    first.get_by_text("Entered by you").wait_for()
    second = page_of(browser, serving, "person/P012")
    second.goto(f"/tests/spares?device={SPARE}#device")
    assert "0048301" not in second.content()
    for field, number in (("#seal-1", "0048301"), ("#seal-2", "0048302")):
        second.fill(field, number)
    second.get_by_role("button", name="Save what I read").click()
    second.get_by_text("matched and are in the table").wait_for()
    assert "0048301" in second.content()
