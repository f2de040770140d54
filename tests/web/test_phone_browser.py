"""Phone-in and Not heard from in a real browser: keyboard alone, access rules, narrow, refreshed, printed.

Checks by axe-core (rules for WCAG 2.0 to 2.2, levels A and AA); 320 px is success criterion 1.4.10.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, Route
from tests.once import copied
from tests.web.conftest import PORT, App, issue_all

from pollstead.show.web.capabilities import Role
from pollstead.show.web.who import LANGUAGE_COOKIE
from pollstead.show.words import ENGLISH, PSEUDO

pytestmark = pytest.mark.browser

AXE = (Path(__file__).resolve().parents[1] / "vendor" / "axe" / "axe.min.js").read_text(encoding="utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
EARLY_MS = 1_857_207_600_000 + 20 * 60_000  # 06:20 on election day in New York
CALL_LIST_PAGES = 1


@pytest.fixture(scope="module")
def morning(planned: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[App]:
    """The small county at 06:20 on election day: three silent sites."""
    app = App(copied(planned, tmp_path_factory.mktemp("dawn") / "county"))
    issue_all(app.folder)
    app.folder.clock = lambda: EARLY_MS
    yield app
    app.folder.close()


def page_at(browser: Browser, app: App, *, width: int = 1280, language: str = ENGLISH) -> Page:
    """A page whose requests the app of this process answers, so that its clock is the test's."""
    client: Any = app.client(Role.HELPER, "person/P012")
    client.cookies.set(LANGUAGE_COOKIE, language)

    def answer(route: Route) -> None:
        asked = route.request
        headers = {"sec-fetch-site": "same-origin"}
        if asked.method == "POST":
            headers["content-type"] = asked.headers["content-type"]
        address = asked.url.partition(str(PORT))[2]
        got = client.request(asked.method, address, content=asked.post_data_buffer, headers=headers)
        while got.status_code == 303:
            got = client.get(got.headers["location"])
        route.fulfill(status=got.status_code, headers=dict(got.headers), body=got.content)

    base = f"http://127.0.0.1:{PORT}"
    page = browser.new_context(viewport={"width": width, "height": 800}, base_url=base).new_page()
    page.route("**/*", answer)
    return page


def test_an_opening_call_is_taken_by_keyboard_alone(browser: Browser, morning: App) -> None:
    """Site, caller, time, two counters, read back, yes: keys only, and the next call can begin at once."""
    page = page_at(browser, morning)
    page.goto("/phone")
    assert page.evaluate("document.activeElement.id") == "site"
    page.keyboard.type("1\n")
    page.wait_for_selector("#caller")
    page.goto("/phone?site=S01&step=opened")
    page.keyboard.type("ida\n702\n0\n0\n\n")
    page.wait_for_selector("#read-back")
    assert "Ansel Civic Hall" in page.inner_text("#read-back") and "07:02" in page.inner_text("#read-back")
    # A second Enter too many says nothing: the answer is one step away from where the focus is.
    assert page.evaluate("document.activeElement.id") == "read-back"
    page.keyboard.press("Enter")
    assert page.query_selector("#read-back") is not None
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "said-yes"
    page.keyboard.press("Enter")
    page.wait_for_selector(".done")
    assert page.evaluate("document.activeElement.id") == "site"


def test_access_rules_a_narrow_screen_and_one_character_keys(browser: Browser, morning: App) -> None:
    """axe-core names nothing; at 320 px nothing scrolls sideways; letters outside a field do nothing."""
    page, narrow = page_at(browser, morning), page_at(browser, morning, width=320, language=PSEUDO)
    for address in ("/heard", "/phone", "/phone?site=library", "/phone?site=S02&step=opened"):
        page.goto(address)
        page.evaluate(AXE)
        result = page.evaluate("(rules) => axe.run({runOnly: rules})", RULES)
        assert [v["id"] for v in result["violations"]] == [], address
        narrow.goto(address)
        assert narrow.evaluate("document.documentElement.scrollWidth") <= 320, address
    page.goto("/heard")
    page.focus("#work")
    before = page.content()
    page.keyboard.type("LM-V-0042 abcdefghijklmnopqrstuvwxyz")
    assert page.content() == before


def test_the_list_takes_itself_in_anew_without_moving_the_focus(browser: Browser, morning: App) -> None:
    """A button that has the focus keeps it when the list comes anew with another moment."""
    page = page_at(browser, morning)
    page.goto("/heard")
    assert page.get_attribute("#heard-list", "hx-trigger") == "every 20s"
    page.focus("#no-answer-S36")
    morning.folder.clock = lambda: EARLY_MS + 60_000
    page.evaluate("htmx.ajax('GET', '/heard?part=list', {target: '#heard-list', swap: 'outerMorph'})")
    page.wait_for_selector("text=06:21")
    morning.folder.clock = lambda: EARLY_MS
    assert page.evaluate("document.activeElement.id") == "no-answer-S36"


def test_the_call_list_prints_on_one_page(browser: Browser, morning: App) -> None:
    """Names, phones and what is overdue; no button, on one page of letter paper."""
    page = page_at(browser, morning)
    page.goto("/heard")
    paper = page.pdf(format="Letter", prefer_css_page_size=True)
    page.emulate_media(media="print")
    assert page.locator("main select, main button").locator("visible=true").count() == 0
    assert paper.count(b"/Type /Page\n") + paper.count(b"/Type /Page ") == CALL_LIST_PAGES
