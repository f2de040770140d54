"""Load-out in a real browser: keys of a scanner alone, the focus stays in the field, narrow screens.

Checks by axe-core (rules for WCAG 2.0 to 2.2, levels A and AA); 320 px is success criterion 1.4.10.
"""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, expect
from tests.web.test_stock_browser import AXE, RULES, page_of

from pollstead.election.door_words import door_words
from pollstead.show.commands import Command

pytestmark = pytest.mark.browser
AT = "/scan/load?drive=2028-11-06/V2"


def test_a_vehicle_is_loaded_and_handed_over_without_a_mouse(browser: Browser, serving: str) -> None:
    """Names by keys, four labels in one burst, the right door, one thing handed over, undone by a card."""
    page = page_of(browser, serving, "person/P011")

    def scan(*codes: str) -> None:
        for code in codes:
            page.keyboard.type(code)
            page.keyboard.press("Enter")

    page.goto(AT)
    page.get_by_label("First of the two").focus()
    scan("P010", "P012", "")
    page.keyboard.press("Enter")
    expect(page.locator("#code")).to_be_focused()
    scan("cart-S36-S", "case-S36-C", "BOX-S36", "cart-S01-S")
    expect(page.locator(".scan-word")).to_contain_text("Not this vehicle")
    expect(page.locator("#scan-live")).to_contain_text("S01 Ansel Civic Hall")
    expect(page.locator("#scan-result")).to_contain_text("on the vehicle")
    expect(page.locator("#code")).to_be_focused()
    page.goto(f"{AT}&mode=door&first=P010&second=P012&other=P005")
    scan("cart-S36-S")
    expect(page.locator(".scan-word")).to_contain_text("Read the word on the door first")
    scan(door_words(["S01", "S02", "S36"])["S36"], "cart-S36-S")
    expect(page.locator(".scan-word")).to_contain_text("Handed over")
    scan(Command.UNDO.value)
    expect(page.locator(".scan-word")).to_contain_text("Taken back")
    for address in ("/scan/load", AT, page.url):
        page.goto(address)
        page.evaluate(AXE)
        result = page.evaluate("(rules) => axe.run({runOnly: rules})", RULES)
        assert [v["id"] for v in result["violations"]] == [], address
        page.set_viewport_size({"width": 320, "height": 800})
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth + 1"), address
        page.set_viewport_size({"width": 1280, "height": 800})
