"""The scan station in a real browser: a scanner's keys alone, faster than pages load; cards; narrow screens.

Checks by axe-core (rules for WCAG 2.0 to 2.2, levels A and AA); 320 px is success criterion 1.4.10; that no
single character is a shortcut is 2.1.4.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect
from tests.web.test_stock_browser import AXE, RULES, page_of

from pollstead.show.commands import Command

pytestmark = pytest.mark.browser
SMALL = Path(__file__).resolve().parents[2] / "small"


def test_a_count_by_scanner_alone(browser: Browser, serving: str) -> None:
    """Twelve labels in one burst, the focus on a button: all are kept, in order; a card undoes one."""
    with (SMALL / "devices.csv").open(encoding="utf-8", newline="") as stream:
        serials = [row["serial"] for row in csv.DictReader(stream)][:12]
    page = page_of(browser, serving, "person/P011")
    page.goto("/scan/inventory")
    page.get_by_role("button", name="Begin a count").press("Enter")
    expect(page.locator(".scan-word")).to_contain_text("Ready")
    expect(page.locator("#code")).to_be_focused()
    page.get_by_role("button", name="The count is over").focus()
    for serial in serials:
        page.keyboard.type(serial)
        page.keyboard.press("Enter")
    expect(page.locator(".scan-count")).to_contain_text("12 of")
    expect(page.locator(".scan-code")).to_contain_text(serials[-1])
    page.keyboard.type(Command.UNDO.value)
    page.keyboard.press("Enter")
    expect(page.locator(".scan-word")).to_contain_text("Taken back")
    expect(page.locator(".scan-count")).to_contain_text("11 of")
    for sign in "uvnsx1=?":
        page.keyboard.type(sign)
    expect(page.locator("#code")).to_have_value("uvnsx1=?")
    expect(page.locator(".scan-count")).to_contain_text("11 of")
    page.evaluate(AXE)
    result = page.evaluate("(rules) => axe.run({runOnly: rules})", RULES)
    assert [v["id"] for v in result["violations"]] == []
    narrow = page_of(browser, serving, "person/P011", width=320)
    for address in ("/scan", page.url, "/scan/pack", "/scan/inventory"):
        narrow.goto(address)
        assert narrow.evaluate("document.documentElement.scrollWidth <= innerWidth + 1"), address
        narrow.evaluate(AXE)
        result = narrow.evaluate("(rules) => axe.run({runOnly: rules})", RULES)
        assert [v["id"] for v in result["violations"]] == [], address


def test_cards_act_on_a_form_of_seals(browser: Browser, serving: str) -> None:
    """Undo clears the last line, a single character stays one, Stop goes to the sites, Void opens a form."""
    page = page_of(browser, serving, "person/P011")
    page.goto("/tests/spares?device=device/scanner/0007#device")
    first = page.locator("input[data-check]").first
    expect(first).to_be_focused()
    page.keyboard.type("0048399")
    page.keyboard.press("Enter")
    page.keyboard.type(Command.UNDO.value)
    page.keyboard.press("Enter")
    expect(first).to_have_value("")
    expect(first).to_be_focused()
    page.keyboard.type("=")
    page.keyboard.press("Enter")
    expect(first).to_have_value("=")
    first.fill("")
    page.keyboard.type(Command.NEXT.value)
    page.keyboard.press("Enter")
    page.wait_for_url(lambda address: "device=" in address and "0007" not in address)
    expect(page.locator("input[data-check]").first).to_be_focused()
    page.keyboard.type(Command.STOP.value)
    page.keyboard.press("Enter")
    page.wait_for_url("**/tests")
    page.go_back()
    page.keyboard.type(Command.VOID.value)
    page.keyboard.press("Enter")
    page.wait_for_url("**/stock?form=void#void")
    expect(page.get_by_label("Number on the seal")).to_be_visible()


def test_a_device_is_tested_and_sealed_by_scans_alone(browser: Browser, serving: str) -> None:
    """Second person, device, counter and card by keys; the card Next leads to its seals, ready to scan."""
    page = page_of(browser, serving, "person/P011")

    def scan(*codes: str) -> None:
        for code in codes:
            page.keyboard.type(code)
            page.keyboard.press("Enter")

    page.goto("/scan/test")
    page.get_by_label("Second person").focus()
    scan("P012")
    expect(page.locator("#code")).to_be_focused()
    scan("LM-S-0006", "LM-M-S006A", "8590", Command.PASSED.value)
    expect(page.locator(".scan-word")).to_contain_text("Test recorded")
    expect(page.locator("#scan-result")).to_contain_text("8590")
    page.evaluate(AXE)
    result = page.evaluate("(rules) => axe.run({runOnly: rules})", RULES)
    assert [v["id"] for v in result["violations"]] == []
    page.set_viewport_size({"width": 320, "height": 800})
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth + 1")
    scan(Command.NEXT.value)
    page.wait_for_url("**/tests/S36?device=device/scanner/0006*")
    expect(page.locator("input[data-check]").first).to_be_focused()
