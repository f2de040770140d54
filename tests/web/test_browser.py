"""Each page in a real browser: access rules, policy, width, keyboard, scanner, languages.

Checks by axe-core (rules for WCAG 2.0 to 2.2, levels A and AA). Numbers named in tests: WCAG 2.2 success
criteria 1.4.4 (text of twice its size), 1.4.10 (320 px), 2.1.4 (character keys), 2.4.7 (focus visible).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Request

from pollstead.show.web.capabilities import ROUTES, Capability, Role, may
from pollstead.show.web.who import LANGUAGE_COOKIE, WHO_COOKIE, Who, to_cookie
from pollstead.show.words import ENGLISH, PSEUDO, PSEUDO_RTL

pytestmark = pytest.mark.browser

AXE = (Path(__file__).resolve().parents[1] / "vendor" / "axe" / "axe.min.js").read_text(encoding="utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
PAGES = (
    "/",
    "/site/S01",
    "/site/S01/expected",
    "/site/S01/opening",
    "/site/S01/closing",
    "/site/S02/closing",
    "/site/S36/explanations?day=2028-11-07",
    "/ready",
    "/calls",
    "/day?day=2028-11-07",
    "/open",
    "/versions",
    "/fixed",
    "/compare",
    "/lines",
    "/allocation",
    "/timings",
    "/site/S01/lines?check-in=1",
    "/site/S01/fix?table=stations&row=S01/check-in-desk&field=count",
    "/map?show=doors",
    "/search?q=LM-C-0O01",
    "/why?subject=site/S01",
    "/?state=needs&sort=name",
    "/jobs",
    "/copies",
    "/copies/laptop",
    "/calendar?state=all",
    "/calendar/month",
    "/change",
    "/changes",
    "/facts/changes",
    "/workbook",
    "/sites/edit?sites.access_from=yes",
    "/stock",
    "/decks",
    "/decks/report?device=device/scanner/0001",
    "/tests",
    "/tests/S01",
    "/scan",
    "/scan/inventory",
    "/scan/pack",
    "/receiving",
    "/not-back",
    "/heard",
    "/phone",
    "/waits",
    "/waits/count",
    "/paper",
    "/counts/import",
    "/canvass",
    "/help",
    "/who",
    "/nowhere",
)
# Pages that need something made first: the test of this folder that makes it and looks at the page.
LOOKED_AT_ELSEWHERE = {
    "/timings/{look}": "test_timings_are_sent_and_taken_by_keyboard",
    "/versions/{digest}": "test_pages_behind_links_and_refused_forms_break_no_rule",
    "/open/resolve": "test_pages_behind_links_and_refused_forms_break_no_rule",
    "/change/{act}": "test_a_scanner_is_swapped_by_keyboard_alone",
    "/change/{act}/review": "test_a_scanner_is_swapped_by_keyboard_alone",
    "/changes/{number}": "test_a_scanner_is_swapped_by_keyboard_alone",
    "/canvass/version/{digest}": "test_a_version_is_kept_by_keyboard_and_compared",
    "/counts/import/{digest}": "test_a_file_of_counts_is_confirmed_and_recorded_by_keyboard",
    "/workbook/{digest}": "test_pages_pass_the_access_rules_and_work_by_keyboard",
    "/calendar/task/{task}": "test_the_calendar_can_be_read_narrow_and_ticked_by_keyboard",
    "/paper/{serial}": "test_paper_is_put_in_a_box_and_keyed_by_keyboard_alone",
    "/incidents": "test_the_pages_of_the_day_can_be_read_narrow_and_used_by_keyboard",
    "/orders": "test_the_pages_of_the_day_can_be_read_narrow_and_used_by_keyboard",
    "/supplies": "test_the_pages_of_the_day_can_be_read_narrow_and_used_by_keyboard",
    "/scan/load": "test_a_vehicle_is_loaded_and_handed_over_without_a_mouse",
    "/scan/test": "test_a_device_is_tested_and_sealed_by_scans_alone",
    "/scan/pair": "test_two_badges_take_over_by_keys_alone",
    "/entry/{event}": "test_an_opening_with_a_difference_by_keyboard_alone",
}
NO_PAGE = {  # files to save or print, and an address that leads on
    "/timings/sheet",
    "/book",
    "/canvass/file/{name}",
    "/ready/print/{what}",
    "/changes/now",
    "/changes/{number}/file/{name}",
    "/workbook/file",
    "/tests/check",
    "/calendar/file",
    "/calendar/paper",
    "/incidents/paper",
    "/orders/paper",
    "/scan/load/paper",
    "/not-back/slip",
    "/scan/badges",
    "/decks/paper",
    "/static/{file_path}",
}
NARROW, WIDE = {"width": 320, "height": 640}, {"width": 1280, "height": 900}

# A text that is not marked as data must stand in the brackets of the pseudo-language.
UNTRANSLATED = """() => {
  const told = [];
  const fine = (text) => !/[A-Za-z]/.test(text.replace(/\\[[^\\[\\]]*\\]/gs, ""));
  for (const element of document.querySelectorAll("body *:not(script):not(style)")) {
    if (element.closest("[translate=no]")) continue;
    const own = [...element.childNodes].map((node) =>
      node.nodeType === 3 ? node.data : node.nodeName === "BDI" ? "" : "\\u0001").join("");
    if (element.tagName === "BDI") continue;
    for (const piece of own.split("\\u0001")) {
      if (!fine(piece)) told.push(element.tagName + ": " + piece.trim());
    }
    for (const name of ["aria-label", "alt", "title", "placeholder", "data-label"]) {
      const value = element.getAttribute(name);
      if (value && !fine(value)) told.push(name + "=" + value);
    }
  }
  if (!fine(document.title.split(" - ")[0].replace(/^[^\\[]*/, "["))) told.push("title: " + document.title);
  return told;
}"""

STICKING_OUT = """() => [...document.querySelectorAll("main *")].filter((element) => {
  const box = element.getBoundingClientRect();
  const hidden = element.closest(".away, thead, svg") || !box.width;
  return !hidden && (box.right > innerWidth + 1 || box.left < -1);
}).map((element) => element.outerHTML.slice(0, 90))"""

OUTLINE = """() => {
  const element = document.activeElement, style = getComputedStyle(element);
  const box = element.getBoundingClientRect();
  return [parseFloat(style.outlineWidth), style.outlineStyle, box.bottom > 0 && box.top < innerHeight];
}"""


class Told:
    """What a page said: console messages and requests to anywhere else."""

    def __init__(self, base: str) -> None:
        self.base = base
        self.messages: list[str] = []
        self.outside: list[str] = []

    def listen(self, page: Page) -> None:
        """Listen from now on."""
        page.on("console", lambda message: self.messages.append(message.text))
        page.on("pageerror", lambda error: self.messages.append(str(error)))
        page.on("request", lambda request: self._request(request.url))

    def _request(self, address: str) -> None:
        if not address.startswith(self.base + "/"):
            self.outside.append(address)


def route_of(address: str) -> str:
    """The route that answers an address; "" where none does."""
    path = address.partition("?")[0]
    routes = [route for method, route in ROUTES if method == "GET"]
    fitting = [route for route in routes if re.fullmatch(re.sub(r"{\w+}", "[^/]+", route), path)]
    return min(fitting, key=lambda route: route.count("{"), default="")


def pages_of(role: Role) -> list[str]:
    """The addresses that a role may open; how the others are refused is tested without a browser."""
    return [a for a in PAGES if may(role, ROUTES.get(("GET", route_of(a)), Capability.NONE))]


def test_every_page_is_looked_at_in_a_browser() -> None:
    """Each route that shows a page stands in the list of addresses, or names the test that looks at it."""
    looked_at = {route_of(address) for address in PAGES} | set(LOOKED_AT_ELSEWHERE) | NO_PAGE
    assert {path for method, path in ROUTES if method == "GET"} - looked_at == set()
    there = "".join(file.read_text(encoding="utf-8") for file in Path(__file__).parent.glob("test_*.py"))
    assert [name for name in LOOKED_AT_ELSEWHERE.values() if f"def {name}(" not in there] == []


Opener = Callable[..., tuple[Page, Told]]


@pytest.fixture
def open_page(browser: Browser, serving: str) -> Iterator[Opener]:
    """The function that opens a page under a role, width, language and person."""
    contexts: list[BrowserContext] = []

    def opened(
        role: Role = Role.HELPER,
        person: str = "person/P010",
        language: str = ENGLISH,
        viewport: dict[str, int] = WIDE,
        **more: Any,
    ) -> tuple[Page, Told]:
        context = browser.new_context(viewport=viewport, base_url=serving, **more)  # type: ignore[arg-type]
        contexts.append(context)
        cookies = {WHO_COOKIE: to_cookie(Who(person=person, role=role)), LANGUAGE_COOKIE: language}
        context.add_cookies([{"name": n, "value": v, "url": serving} for n, v in cookies.items()])
        page = context.new_page()
        told = Told(serving)
        told.listen(page)
        return page, told

    yield opened
    for context in contexts:
        context.close()


def wider_than_window(page: Page) -> int:
    """How many pixels the page scrolls sideways."""
    return int(page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth"))


TWICE = """() => {
    const all = [...document.querySelectorAll('[id]')].map(one => one.id);
    return all.filter((id, at) => all.indexOf(id) !== at);
}"""
"""The ids that more than one element has; axe-core no longer looks for them."""


def violations(page: Page) -> list[tuple[str, list[Any]]]:
    """What axe-core finds on the page: rule and first places."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE)
    options = {"runOnly": RULES, "resultTypes": ["violations"], "preload": False}
    # What is no violation stays in the browser: handing it over takes longer than some rules do.
    found = page.evaluate("options => axe.run(options).then(found => found.violations)", options)
    return [(one["id"], [node["target"] for node in one["nodes"]][:3]) for one in found]


@pytest.mark.begins_first
@pytest.mark.parametrize(("role", "viewport"), [(Role.HELPER, NARROW), (Role.COORDINATOR, WIDE)])
def test_every_page_keeps_the_access_rules_fits_320_pixels_and_leaves_a_scan_alone(
    open_page: Opener, role: Role, viewport: dict[str, int]
) -> None:
    """axe-core finds 0 violations on each page, wide and narrow, and the policy is never broken.

    Each page is loaded once for all that is asked of it: loading takes longer than asking.
    """
    page, told = open_page(role, viewport=viewport)
    page.add_init_script(AXE)  # sent once, not with each page
    for address in pages_of(role):
        page.set_viewport_size(viewport)  # type: ignore[arg-type]
        page.goto(address)
        said = [m for m in told.messages if "404" not in m or address != "/nowhere"]
        assert said == [] and told.outside == [], address
        assert violations(page) == [], address
        assert page.evaluate(TWICE) == [], f"{address}: an id that stands twice leads to the first alone"
        page.set_viewport_size(NARROW)  # type: ignore[arg-type]
        check_that_it_fits(page, ENGLISH)
        if role is Role.HELPER:
            check_that_a_scan_changes_nothing(page)
        told.messages.clear()  # axe-core itself tries an inline style


def check_that_it_fits(page: Page, language: str) -> None:
    """The page is in the language, and nothing sticks out at 320 px (1.4.10)."""
    assert wider_than_window(page) <= 0, page.url
    assert page.evaluate(STICKING_OUT) == [], page.url
    assert page.get_attribute("html", "lang") == language
    assert page.get_attribute("html", "dir") == ("rtl" if language == PSEUDO_RTL else "ltr")


def check_that_a_scan_changes_nothing(page: Page) -> None:
    """A code and Enter typed with no field focused send nothing and go nowhere (2.1.4)."""
    sent: list[str] = []

    def keep(request: Request) -> None:
        sent.append(request.url)

    page.on("request", keep)
    page.evaluate("document.activeElement.blur()")
    address, before = page.url, page.content()
    page.keyboard.type("lm-v-0042aeiourstp?/.,1234567890")
    page.keyboard.press("Enter")
    page.wait_for_timeout(30)
    page.remove_listener("request", keep)
    assert page.url == address and page.content() == before, address
    assert [url for url in sent if "part=list" not in url and "/static/" not in url] == [], address


def test_text_of_twice_its_size_fits_every_page(
    browser: Browser, serving: str, chromium: str, chromium_arguments: Sequence[str]
) -> None:
    """With the browser's own text size doubled, 16 to 32 px, no page scrolls sideways (1.4.4)."""
    larger = [*chromium_arguments, "--blink-settings=defaultFontSize=32"]
    started = browser.browser_type.launch(executable_path=chromium, args=larger)
    page = started.new_page(viewport=WIDE, base_url=serving)  # type: ignore[arg-type]
    who = to_cookie(Who(person="person/P010", role=Role.COORDINATOR))
    page.context.add_cookies([{"name": WHO_COOKIE, "value": who, "url": serving}])
    for address in pages_of(Role.COORDINATOR):
        page.goto(address)
        assert page.evaluate("getComputedStyle(document.documentElement).fontSize") == "32px"
        assert wider_than_window(page) <= 0, address
    started.close()


def test_pages_behind_links_and_refused_forms_break_no_rule(open_page: Opener) -> None:
    """A version, a decision, and forms that were refused: axe-core finds 0, nothing scrolls sideways."""
    page, _ = open_page(viewport=NARROW, language=PSEUDO)
    for address, link in (("/versions", "tbody a"), ("/open", "section.slip a")):
        page.goto(address)
        page.locator(link).first.click()
        page.wait_for_url(lambda url, address=address: not url.endswith(address))
        assert violations(page) == [] and wider_than_window(page) <= 0, page.url
    for address, button in (
        ("/site/S02/closing", "form[data-readings] button"),
        ("/site/S02/opening", "#minute + form button"),
    ):
        page.goto(address)
        with page.expect_navigation():
            page.locator(button).click()
        assert page.evaluate("document.activeElement.id") == "faults", address
        assert violations(page) == [] and wider_than_window(page) <= 0, address
        assert page.evaluate(UNTRANSLATED) == [], address


@pytest.mark.begins_first
@pytest.mark.parametrize("role", [Role.HELPER, Role.COORDINATOR])
@pytest.mark.parametrize("language", [PSEUDO, PSEUDO_RTL])
def test_every_page_is_translated_and_fits_320_pixels(open_page: Opener, language: str, role: Role) -> None:
    """Nothing sticks out at 320 px, in longer words and from right to left either (1.4.10).

    In a pseudo-language each text is bracketed, or marked as data; no hard-coded word is left.
    """
    page, _ = open_page(role, language=language, viewport=NARROW)
    for address in pages_of(role):
        page.goto(address)
        check_that_it_fits(page, language)
        assert page.evaluate(UNTRANSLATED) == [], address


def test_serials_and_times_keep_their_direction_from_right_to_left(open_page: Opener) -> None:
    """On a right-to-left page serials, seal numbers, times and counts still run from left to right."""
    page, _ = open_page(Role.COORDINATOR, language=PSEUDO_RTL)
    page.goto("/site/S01")
    for selector in (".code", "td.n bdi", "time bdi"):
        for element in page.query_selector_all(selector)[:40]:
            assert element.evaluate("e => getComputedStyle(e).direction") == "ltr"


def test_a_code_scanned_into_the_box_asks_and_changes_nothing(open_page: Opener) -> None:
    """On every page a code typed into the box on top, then Enter, leads to what it is; by keyboard alone."""
    page, told = open_page(viewport=NARROW)
    for address in ("/", "/site/S02/opening", "/map"):
        page.goto(address)
        begins_in_a_field = page.evaluate("document.activeElement !== document.body")
        keyboard_to(page, "#find", 60, "Shift+Tab" if begins_in_a_field else "Tab")
        page.keyboard.type("LM-C-0001")
        send(page)
        assert page.url.endswith("/search?q=LM-C-0001")
        assert "LM-C-0001" in page.locator("ol.plain h2").first.inner_text()
    assert told.messages == [] and told.outside == []


def test_many_sites_are_edited_by_keyboard_and_seen_before_they_change(open_page: Opener) -> None:
    """Fill down, Enter in a cell, the differences: no step changes a fact before the last button."""
    page, told = open_page(Role.COORDINATOR, viewport=NARROW)
    page.goto("/sites/edit?sites.access_from=yes")
    assert violations(page) == [] and wider_than_window(page) <= 0
    told.messages.clear()
    keyboard_to(page, "#fill-0", 120)
    page.keyboard.type("05:10")
    page.keyboard.press("Tab")
    page.keyboard.press("End")
    send_from(page, "#fill-0")
    assert page.input_value("input[name='v-0-S02']") == "05:10"
    keyboard_to(page, "button[value=review]")
    send(page)
    assert violations(page) == [] and wider_than_window(page) <= 0
    assert page.locator("tbody tr").count() == 3 and page.locator("#reason").is_visible()


def send_from(page: Page, selector: str) -> None:
    """Press Enter in a field and wait for the page that comes."""
    page.focus(selector)
    send(page)


def test_a_scan_into_a_reading_fills_one_field_and_goes_to_the_next(open_page: Opener) -> None:
    """In a form of readings a scanner's Enter moves on; nothing is sent before the button is pressed."""
    page, _ = open_page()
    page.goto("/site/S02/opening")
    fields = page.query_selector_all("form[data-readings] input[type=text]")
    fields[0].focus()
    page.keyboard.type("LM-C-0001")
    page.keyboard.press("Enter")
    assert fields[0].input_value() == "LM-C-0001"
    assert page.evaluate("document.activeElement.tagName") == "SELECT"
    assert page.url.endswith("/site/S02/opening")


def test_focus_is_visible_on_everything_that_takes_it(open_page: Opener) -> None:
    """Each stop of the Tab key has an outline of at least 2 px, and stays in the window (2.4.7)."""
    page, _ = open_page(viewport=NARROW)
    for address in ("/", "/site/S02/closing", "/who"):
        page.goto(address)
        for _ in range(18):
            page.keyboard.press("Tab")
            if page.evaluate("document.activeElement === document.body"):
                break  # past the last stop, in the browser's own controls
            width, style, inside = page.evaluate(OUTLINE)
            assert width >= 2 and style == "solid" and inside, address


def test_entered_numbers_are_large_and_tabular(open_page: Opener) -> None:
    """What people type in readings is at least 28 px, each digit as wide as the next."""
    page, _ = open_page()
    page.goto("/site/S02/closing")
    size, figures = page.evaluate(
        "() => { const s = getComputedStyle(document.querySelector('.readings input[type=text]'));"
        " return [parseFloat(s.fontSize), s.fontVariantNumeric] }"
    )
    assert size >= 28 and "tabular-nums" in figures
    widths = page.evaluate(
        "() => ['1111111111', '8888888888'].map(t => { const s = document.createElement('span');"
        " s.className = 'read'; s.textContent = t; document.querySelector('.readings').append(s);"
        " return s.getBoundingClientRect().width })"
    )
    assert widths[0] == widths[1]
    assert page.evaluate("document.fonts.check('16px \"Public Sans\"')")


def test_pages_are_printed_without_their_controls(open_page: Opener) -> None:
    """On paper there is no navigation, button or form of languages, and the caution stays."""
    page, _ = open_page()
    page.goto("/site/S01")
    page.emulate_media(media="print")
    assert page.locator("nav.pages").is_hidden() and page.locator("button").first.is_hidden()
    assert page.locator(".caution").first.is_visible()


def test_forced_colors_keep_every_mark_and_line(open_page: Opener) -> None:
    """With the system's own colors axe-core still finds nothing and marks keep a visible shape."""
    page, _ = open_page(forced_colors="active")
    page.goto("/")
    assert violations(page) == []
    assert page.locator(".state svg").first.bounding_box()["width"] > 8  # type: ignore[index]


def keyboard_to(page: Page, selector: str, presses: int = 400, key: str = "Tab") -> None:
    """Press Tab, or Shift+Tab for what stands before, until the element is focused."""
    for _ in range(presses):
        if page.evaluate("s => document.activeElement.matches(s)", selector):
            return
        page.keyboard.press(key)
    pytest.fail(f"{selector} was not reached by {key}")


def fill_by_keyboard(page: Page, seal: str) -> None:
    """Type every reading of the form by keyboard alone; seal numbers are all `seal`."""
    keyboard_to(page, "form[data-readings] input, form[data-readings] select")
    while not page.evaluate("document.activeElement.matches('button')"):
        kind, name, label = page.evaluate(
            "() => { const e = document.activeElement;"
            " return [e.tagName === 'SELECT' ? 'choice' : e.type, e.name, e.labels[0].innerText] }"
        )
        if kind == "choice":
            page.keyboard.press("ArrowDown")
        elif kind == "date":
            page.keyboard.type("11072028")
        elif name.endswith(("-device", "-reference")):
            page.keyboard.type("05:41")
        elif name.endswith("-number"):
            page.keyboard.type(seal)
        else:
            page.keyboard.type("0" if re.search("counter|check-ins|ballots", label, re.I) else "LM-X-1")
        page.keyboard.press("Tab")
        if kind == "date":
            page.keyboard.press("Tab")
            keyboard_to(page, "form[data-readings] *:not([type=date])", 4)
    send(page)


def send(page: Page) -> None:
    """Press Enter and wait for the page that comes."""
    with page.expect_navigation():
        page.keyboard.press("Enter")


@pytest.mark.begins_first
def test_an_opening_with_a_difference_by_keyboard_alone(open_page: Opener) -> None:
    """Two people enter a site by keys alone; the wrong seal is shown with the county's word, and decided."""
    for person in ("person/P003", "person/P004"):
        page, _ = open_page(Role.SITE_LEAD, person=person)
        page.goto("/site/S01/opening")
        fill_by_keyboard(page, "LM-WRONG-7")
        assert "Still to read" not in page.inner_text("main")
    text = page.inner_text("main")
    assert "value differs" in text and "LM-WRONG-7" in text
    page.locator("a[href^='/entry/']").first.click()
    page.wait_for_url("**/entry/*")
    assert violations(page) == [] and wider_than_window(page) <= 0
    page, told = open_page(Role.HELPER)
    page.goto("/open?site=S01")
    before = page.locator("section.slip").count()
    keyboard_to(page, "section.slip a[href^='/open/resolve']")
    send(page)
    keyboard_to(page, "main button")
    send(page)
    # The summary takes the focus, and its first line leads to the field.
    assert page.evaluate("document.activeElement.id") == "faults"
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    assert page.evaluate("location.hash") == "#resolution-first"
    keyboard_to(page, "#resolution-first")
    page.keyboard.press("Space")
    keyboard_to(page, "#words")
    page.keyboard.type("The seal was changed after test; the log says so.")
    keyboard_to(page, "main button")
    send(page)
    assert page.url.endswith("/open")
    page.goto("/open?site=S01")
    assert page.locator("section.slip").count() == before - 1
    assert told.outside == []


def test_forms_work_without_script(open_page: Opener) -> None:
    """With scripts off a name is chosen, a language too, and a job is asked for."""
    page, _ = open_page(java_script_enabled=False)
    page.goto("/who?next=/jobs")
    page.select_option("#person", "person/P012")
    page.check("#role-2")
    page.click("text=Work under this name")
    page.wait_for_url("**/jobs")
    page.select_option("#language", PSEUDO_RTL)
    page.locator(".foot button").click()
    assert page.get_attribute("html", "dir") == "rtl"


def test_a_job_is_watched_without_moving_the_focus(open_page: Opener) -> None:
    """A plan asked for in the page runs to its end while the focus stays where the person put it."""
    page, told = open_page(Role.COORDINATOR)
    page.goto("/jobs")
    page.get_by_role("button", name="Make a plan version").click()
    page.wait_for_url("**/jobs")
    page.focus("#effort")
    page.locator("#jobs-list li").first.get_by_text("done", exact=True).wait_for(timeout=60_000)
    assert page.evaluate("document.activeElement.id") == "effort"
    assert told.messages == [] and told.outside == []
