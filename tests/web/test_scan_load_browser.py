"""Load-out in a real browser: keys of a scanner alone, the focus stays in the field, narrow screens.

Checks by axe-core (rules for WCAG 2.0 to 2.2, levels A and AA); 320 px is success criterion 1.4.10.
"""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Route, expect
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


def test_the_list_of_what_is_not_back_renews_itself_and_leaves_the_focus(
    browser: Browser, serving: str
) -> None:
    """News comes after a minute and is told; the focus stays; inside the list it waits; a button stops it."""
    page = page_of(browser, serving, "person/P011")
    page.clock.install()
    page.goto("/not-back?day=2028-11-07")
    before = page.content()
    marks = iter(("NEWS-1", "NEWS-2", "NEWS-3"))

    def newer(route: Route) -> None:
        mark = next(marks)
        body = before.replace('data-state="', f'data-state="{mark}').replace(
            'data-seconds="60"', f'data-seconds="60" data-x="{mark}"'
        )
        head, rest = body.split('<div id="fresh"', 1)
        opening, inner = rest.split(">", 1)
        link = f'<p>{mark} <a href="/help">row</a></p>'
        route.fulfill(body=f'{head}<div id="fresh"{opening}>{link}{inner}', content_type="text/html")

    page.route("**/not-back*", newer)
    page.locator("#fresh-stop").focus()
    page.clock.run_for(61_000)
    expect(page.locator("#fresh")).to_contain_text("NEWS-1")
    expect(page.locator("#fresh-told")).to_contain_text("brought up to date")
    expect(page.locator("#fresh-stop")).to_be_focused()
    page.locator("#fresh a").first.focus()
    page.clock.run_for(61_000)
    expect(page.locator("#fresh-told")).to_contain_text("There is news")
    expect(page.locator("#fresh a").first).to_be_focused()
    expect(page.locator("#fresh")).to_contain_text("NEWS-1")
    page.locator("#fresh-stop").press("Enter")
    page.clock.run_for(61_000)
    expect(page.locator("#fresh")).to_contain_text("NEWS-1")
    expect(page.locator("#fresh-stop")).to_have_text("Look for news again")
