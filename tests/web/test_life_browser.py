"""The life of a thing, the second look and a closure that opens, in a real browser: keys, access, narrow.

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
LIFE, STOCK, DAY = "/why?subject=device/scanner/0001", "/stock", "/day?day=2028-11-07"


def page_at(browser: Browser, base: str, role: Role, *, width: int = 1280, language: str = ENGLISH) -> Page:
    """A page under a role."""
    context = browser.new_context(viewport={"width": width, "height": 800}, base_url=base)
    who = to_cookie(Who(person="person/P010", role=role))
    context.add_cookies(
        [
            {"name": WHO_COOKIE, "value": who, "url": base},
            {"name": LANGUAGE_COOKIE, "value": language, "url": base},
        ]
    )
    return context.new_page()


def test_from_the_box_to_the_steps_of_a_thing_by_keys_alone(browser: Browser, serving: str) -> None:
    """A serial scanned into the box, the link to the record, a question's step: no mouse."""
    page = page_at(browser, serving, Role.COORDINATOR)
    page.goto(f"{LIFE}#record")
    row = page.locator("tr", has_text="What was expected of it, by which list?")
    step = row.locator("a").first
    number = step.inner_text()
    step.focus()
    page.keyboard.press("Enter")
    assert page.url.endswith(f"#step-{number}")
    assert "expected by the list issued" in page.inner_text(f"#step-{number}")
    page.goto("/search?q=LM-S-0001")
    page.locator("a", has_text="What does the record say of it?").first.focus()
    page.keyboard.press("Enter")
    page.wait_for_selector("#record")


def test_access_rules_and_a_narrow_screen(browser: Browser, serving: str) -> None:
    """axe-core names nothing on the pages; at 320 px nothing scrolls sideways, in longer words too."""
    page = page_at(browser, serving, Role.COORDINATOR)
    narrow = page_at(browser, serving, Role.COORDINATOR, width=320, language=PSEUDO)
    for address in (LIFE, STOCK, DAY):
        page.goto(address)
        page.evaluate(AXE)
        result = page.evaluate("(rules) => axe.run({runOnly: rules})", RULES)
        assert [v["id"] for v in result["violations"]] == [], address
        narrow.goto(address)
        assert narrow.evaluate("document.documentElement.scrollWidth") <= 320, address


def test_a_reader_chooses_that_the_closure_opens(browser: Browser, serving: str) -> None:
    """On the opening page of a site each seal has the choice, beside whole, not whole and not there."""
    page = page_at(browser, serving, Role.HELPER)
    page.goto("/site/S02/opening?day=2028-11-07")
    choice = page.locator("select", has=page.locator("option[value=closure_opens]")).first
    choice.select_option("closure_opens")
    assert choice.input_value() == "closure_opens"
    assert "a seal can be whole and hold nothing" in page.inner_text("main")
