"""A practice election in a real browser: the word on every screen, in grey and at 320 px too.

The pages come from the app in this process; Chromium's requests are answered by it.
"""

from __future__ import annotations

import io
import shutil
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from playwright.sync_api import Browser, Route

from pollstead.cli.main import run
from pollstead.show.web.capabilities import Role

pytestmark = pytest.mark.browser

SMALL = Path(__file__).resolve().parents[2] / "small"
TABLES = ("county.toml", "sites.csv", "people.csv", "station_types.toml", "precincts.csv")
SCREENS = ("/", "/ready", "/day", "/open", "/versions", "/jobs", "/copies", "/copies/laptop", "/help", "/who")


@pytest.fixture
def practice(tmp_path: Path) -> Path:
    """A practice folder made from tables of the small county."""
    real = tmp_path / "real"
    real.mkdir()
    for name in TABLES:
        shutil.copyfile(SMALL / name, real / name)
    assert run(["practice", str(real), str(tmp_path / "practice")]) == 0
    return tmp_path / "practice"


def test_practice_stands_on_every_screen(practice: Path, app_of: Any, browser: Browser) -> None:
    """On each screen; and as drawn: seen without scrolling, at both widths, in eight-bit grey."""
    app = app_of(practice)
    client = app.client(Role.COORDINATOR)
    for screen in SCREENS:
        text = client.get(screen).text
        assert '<p class="practice"><span>PRACTICE</span>' in text, screen
        assert "PRACTICE General election" in text, screen

    def answer(route: Route) -> None:
        found = client.get(route.request.url.removeprefix("http://127.0.0.1:8734"))
        headers = {name: value for name, value in found.headers.items() if name != "content-length"}
        route.fulfill(status=found.status_code, headers=headers, body=found.content)

    for width in (320, 1100):
        page = browser.new_page(viewport={"width": width, "height": 700})
        page.route("**/*", answer)
        page.goto("http://127.0.0.1:8734/copies")
        band = page.locator("p.practice")
        box = band.bounding_box()
        assert box is not None and box["y"] < 120 and box["width"] >= width - 1
        assert "PRACTICE General election" in page.locator("header").inner_text()
        grey = Image.open(io.BytesIO(band.screenshot())).convert("L")
        assert grey.getextrema()[1] - grey.getextrema()[0] > 150, "dark words on light, without color"
        page.close()
