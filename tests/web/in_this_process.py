"""Let the app of a test answer a real browser in this process, on the test's own clock and folder."""

from __future__ import annotations

from typing import Any

from playwright.sync_api import Page, Route

ADDRESS = "http://127.0.0.1:8734"


def answered_here(page: Page, client: Any) -> None:
    """Answer every request of `page` by `client`; what leads on is followed."""

    def answer(route: Route) -> None:
        asked = route.request
        path = asked.url.removeprefix(ADDRESS)
        if asked.method == "POST":
            kind = asked.headers.get("content-type", "application/x-www-form-urlencoded")
            got = client.post(path, content=asked.post_data_buffer or b"", headers={"content-type": kind})
        else:
            got = client.get(path)
        while got.status_code == 303:
            got = client.get(got.headers["location"])
        shown = got.headers.get("content-type", "text/plain")
        route.fulfill(status=got.status_code, headers={"content-type": shown}, body=got.content)

    page.route("**/*", answer)
