"""Only this app's own pages on this computer can change anything.

What a browser sends for a request from another site (Sec-Fetch-Site, Origin): W3C Fetch Metadata Request
Headers, section 2.4, and RFC 6454, section 7.
"""

from __future__ import annotations

from typing import Any

import pytest

from pollstead.show.web.capabilities import Role
from pollstead.show.web.gate import CONTENT_POLICY

pytestmark = pytest.mark.full

PORT = 8734


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "evil.example:8734",
        "127.0.0.1",
        "127.0.0.1:80",
        "[::1]:8734",
        "127.0.0.1.evil:8734",
        "",
    ],
)
def test_another_host_name_is_not_answered(app: Any, host: str) -> None:
    """A name that somebody re-points to 127.0.0.1 opens nothing, not even a page."""
    with app.client(Role.COORDINATOR) as client:
        assert client.get("/", headers={"host": host}).status_code == 421


def test_own_names_are_answered(app: Any) -> None:
    """127.0.0.1 and localhost at the app's port are the app."""
    with app.client(Role.COORDINATOR) as client:
        for host in ("127.0.0.1:8734", "localhost:8734"):
            assert client.get("/help", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    ("site", "origin", "taken"),
    [
        ("same-origin", "http://127.0.0.1:8734", True),
        ("same-origin", "", True),
        ("", "http://localhost:8734", True),
        ("none", "", True),
        ("cross-site", "", False),
        ("same-site", "", False),
        ("cross-site", "http://127.0.0.1:8734", False),
        ("same-origin", "http://evil.example", False),
        ("", "null", False),
        ("", "http://127.0.0.1:9999", False),
        ("", "https://127.0.0.1:8734", False),
        ("", "", False),
    ],
)
def test_a_form_is_taken_from_own_pages_alone(app: Any, site: str, origin: str, taken: bool) -> None:
    """A form that another website sends through the same browser changes nothing."""
    headers = {name: value for name, value in (("sec-fetch-site", site), ("origin", origin)) if value}
    with app.client(Role.COORDINATOR) as client:
        del client.headers["sec-fetch-site"]
        answer = client.post("/jobs", data={"kind": "plan", "effort": "quick"}, headers=headers)
    assert (answer.status_code == 303) is taken
    assert (answer.status_code == 403) is not taken
    assert len(app.folder.store.jobs.list()) == int(taken)


@pytest.mark.parametrize("method", ["PUT", "PATCH", "DELETE", "OPTIONS", "TRACE"])
def test_other_methods_are_refused(app: Any, method: str) -> None:
    """The app reads pages and takes forms, and does nothing else."""
    with app.client(Role.COORDINATOR) as client:
        assert client.request(method, "/").status_code == 405


@pytest.mark.parametrize("path", ["/", "/help", "/nowhere", "/static/app.css", "/site/none", "/who"])
def test_every_answer_carries_the_policy(app: Any, path: str) -> None:
    """Pages, files, refusals and pages not found all say the same strict policy."""
    with app.client(Role.READER) as client:
        headers = client.get(path).headers
    assert headers["content-security-policy"] == CONTENT_POLICY
    assert headers["x-content-type-options"] == "nosniff"
    assert "unsafe" not in CONTENT_POLICY and "default-src 'none'" in CONTENT_POLICY
    assert (headers.get("cache-control") == "no-store") is not path.startswith("/static/")


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("application/json", b'{"kind": "plan"}'),
        ("text/plain", b"kind=plan"),
        ("application/x-www-form-urlencoded", b"kind=plan&kind=print"),
        ("application/x-www-form-urlencoded", b"kind=%ff%fe"),
        ("application/x-www-form-urlencoded", b"\xff\xfe"),
        ("application/x-www-form-urlencoded", b"kind=a%00b"),
        ("application/x-www-form-urlencoded", b"nothing"),
        ("application/x-www-form-urlencoded", b"a=" + b"x" * 3_000),
        ("application/x-www-form-urlencoded", b"a=" + b"x" * 300_000),
    ],
)
def test_a_body_that_no_form_of_ours_sends_is_refused_in_words(app: Any, kind: str, body: bytes) -> None:
    """Other content types, doubled fields, broken and long text end in 400 with words, never a traceback."""
    with app.client(Role.COORDINATOR) as client:
        answer = client.post("/jobs", content=body, headers={"content-type": kind})
    assert answer.status_code == 400
    assert "could not be read" in answer.text and "Traceback" not in answer.text
    assert app.folder.store.jobs.list() == ()


def test_a_redirect_stays_in_the_app(app: Any) -> None:
    """The page to go to after choosing a name is a path of this app, whatever the form says."""
    with app.client(None) as client:
        for wanted in ("https://evil.example/", "//evil.example", "/\\evil.example", "javascript:alert(1)"):
            form = {"person": "person/P010", "role": "helper", "next": wanted}
            answer = client.post("/who", data=form)
            assert answer.status_code == 303 and answer.headers["location"] == "/", wanted


def test_the_office_is_named_before_the_people_of_sites_and_the_warehouse_goes_to_its_station(
    app: Any,
) -> None:
    """Hundreds of poll workers stand below the few who use this computer; a chosen page is kept."""
    with app.client(None) as client:
        page = client.get("/who").text
        office, at_sites = page.index('<optgroup label="In the office">'), page.index('label="At sites"')
        assert office < page.index('value="person/P010"') < at_sites < page.index('value="person/P001"')
        form = {"person": "person/P010", "role": "warehouse"}
        assert client.post("/who", data=form).headers["location"] == "/scan"
        assert client.post("/who", data={**form, "next": "/stock"}).headers["location"] == "/stock"
        assert client.post("/who", data={**form, "role": "reader"}).headers["location"] == "/"
