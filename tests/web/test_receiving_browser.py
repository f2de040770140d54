"""A receiving table in a real browser: the scanner's keys alone, access rules, narrow screens, longer words.

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
TABLE = "/receiving?day=2028-11-07&table=1&second=P011&site=S01"


def page_at(browser: Browser, base: str, *, width: int = 1280, language: str = ENGLISH) -> Page:
    """A page under a helper's name."""
    context = browser.new_context(viewport={"width": width, "height": 800}, base_url=base)
    who = to_cookie(Who(person="person/P012", role=Role.HELPER))
    context.add_cookies(
        [
            {"name": WHO_COOKIE, "value": who, "url": base},
            {"name": LANGUAGE_COOKIE, "value": language, "url": base},
        ]
    )
    return context.new_page()


def test_a_scanner_alone_takes_in_a_site_and_a_thing_and_undoes(browser: Browser, serving: str) -> None:
    """Codes and Enter, never the mouse: a site, its forms, a command card that takes the last scan back.

    After a code that nobody knows the next scan is not lost: it takes the place of the unknown one.
    """
    page = page_at(browser, serving)
    page.goto("/receiving?day=2028-11-07&table=1&second=P011")
    page.keyboard.type("S02\n", delay=1)
    page.wait_for_selector("#site")
    assert "Harbor Lane Library" in page.inner_text("#site")
    page.keyboard.type("XYZ-99\n", delay=1)
    page.wait_for_selector("#faults")
    page.keyboard.type("FORMS-S02\n", delay=1)
    page.wait_for_selector("text=is taken in for")
    assert page.evaluate("document.activeElement.id") == "code"
    page.keyboard.type("=UNDO=LAST=SCAN=\n", delay=1)
    page.wait_for_selector("text=Taken back")
    assert "0 of" in page.inner_text("#site + p")


def test_access_rules_and_a_narrow_screen(browser: Browser, serving: str) -> None:
    """axe-core names nothing on the pages; at 320 px nothing scrolls sideways, in longer words too."""
    page = page_at(browser, serving)
    for address in ("/receiving", TABLE, "/not-back?day=2028-11-07"):
        page.goto(address)
        page.evaluate(AXE)
        result = page.evaluate("(rules) => axe.run({runOnly: rules})", RULES)
        assert [v["id"] for v in result["violations"]] == [], address
    narrow = page_at(browser, serving, width=320, language=PSEUDO)
    for address in (TABLE, "/not-back?day=2028-11-07"):
        narrow.goto(address)
        assert narrow.evaluate("document.documentElement.scrollWidth") <= 320, address
