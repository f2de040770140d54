"""Every route stands in one table, and the table is what is enforced."""

from __future__ import annotations

import base64
from typing import Any

import pytest

from pollstead.show.web.capabilities import HELD, ROUTES, Capability, Role, may
from pollstead.show.web.who import WHO_COOKIE

pytestmark = pytest.mark.full


def registered(app: Any) -> set[tuple[str, str]]:
    """Method and path of every route that the app answers."""
    return {
        (method, route.path_format)
        for route in app.app.routes
        for method in route.methods
        if method not in ("OPTIONS", "HEAD")
    }


def test_table_and_routes_are_the_same(app: Any) -> None:
    """No route is missing from the table, and no line of the table is without its route."""
    assert registered(app) == set(ROUTES)


def test_nobody_enters_numbers_and_sees_the_expected_ones_in_one_role() -> None:
    """Independent entry cannot be undone by a role that does both."""
    for role, held in HELD.items():
        assert not {Capability.ENTER, Capability.SEE_EXPECTED} <= held, role


HOLDERS = {
    Capability.READ: "coordinator helper warehouse clerk site_lead reader",
    Capability.SEE_PEOPLE: "coordinator helper clerk site_lead",
    Capability.SEE_PHONES: "coordinator helper clerk",
    Capability.SEE_OWN_PHONES: "coordinator site_lead",
    Capability.SEE_KEYS: "coordinator helper warehouse",
    Capability.SEE_PARTY: "coordinator",
    Capability.SEE_EXPECTED: "coordinator warehouse",
    Capability.ENTER: "helper site_lead",
    Capability.CORRECT: "helper site_lead",
    Capability.RESOLVE: "coordinator helper",
    Capability.COMPUTE: "coordinator helper",
    Capability.APPROVE: "coordinator",
    Capability.ISSUE: "coordinator",
    Capability.CHANGE: "coordinator clerk",
    Capability.CALL: "coordinator helper clerk",
    Capability.TICK: "coordinator helper warehouse clerk",
    Capability.STOCK: "coordinator warehouse",
    Capability.BACK_UP: "coordinator helper",
    Capability.RECEIVE: "coordinator helper warehouse clerk",
    Capability.HAND_OVER: "coordinator helper clerk",
    Capability.TELL: "coordinator helper clerk site_lead",
    Capability.SEE_CANVASS: "coordinator clerk reader",
    Capability.CANVASS: "coordinator clerk",
}


def test_each_capability_is_held_by_the_roles_that_need_it() -> None:
    """The whole table of roles and capabilities, written down a second time; both change together."""
    held = {
        capability: " ".join(role.name.lower() for role in Role if capability in HELD[role])
        for capability in Capability
        if capability is not Capability.NONE
    }
    assert held == HOLDERS


def test_every_capability_is_held_by_somebody() -> None:
    """No action is out of everybody's reach."""
    held = set().union(*HELD.values())
    assert held == set(Capability) - {Capability.NONE}


def example(path: str, app: Any) -> str:
    """An address of the route with real parts."""
    parts = {
        "site": "S01",
        "digest": app.folder.current_digest(),
        "job": "job-1",
        "serial": "AAAA-AAAA-AAAA",
        "event": "0" * 64,
        "what": "none",
    }
    parts |= {"act": "swap-device", "number": "1", "name": "change-001-sheets.pdf", "task": "none"}
    parts |= {"look": "none"}
    return path.format(file_path="app.css", **parts)


@pytest.mark.parametrize("role", [None, *Role])
def test_each_route_refuses_who_lacks_its_capability(app: Any, role: Role | None) -> None:
    """For every route and role: refused without the capability, never refused with it."""
    with app.client(role) as client:
        for (method, path), capability in ROUTES.items():
            answer = client.request(method, example(path, app))
            refused = answer.status_code == 403
            to_names = answer.status_code == 303 and answer.headers["location"].startswith("/who")
            if may(role, capability):
                assert answer.status_code != 500, (method, path, role)
                assert not refused, (method, path, role)
                assert path in ("/who", "/language") or not to_names, (method, path, role)
            elif role is None:
                assert to_names, (method, path)
            else:
                assert refused, (method, path, role)


def test_a_route_outside_the_table_is_refused(app: Any) -> None:
    """A page that somebody forgets to list cannot be opened by anybody."""
    from litestar import get

    @get("/forgotten")
    async def forgotten() -> str:
        return "open"

    app.again = False
    app.app.register(forgotten)
    with app.client(Role.COORDINATOR) as client:
        assert client.get("/forgotten").status_code == 403


def test_a_damaged_cookie_is_nobody(app: Any) -> None:
    """A cookie with another shape, role or person's id gives no rights."""
    for text in (
        "x",
        "%%%",
        base64.urlsafe_b64encode(b'{"person":"person/P1","role":"owner"}').decode(),
        base64.urlsafe_b64encode(b'{"person":"P1","role":"helper"}').decode(),
        base64.urlsafe_b64encode(b'{"person":"person/P1","role":"helper","more":1}').decode(),
        base64.urlsafe_b64encode(b'{"person":["person/P1"],"role":"helper"}').decode(),
        "A" * 5000,
    ):
        with app.client(None) as client:
            client.cookies.set(WHO_COOKIE, text)
            answer = client.get("/jobs")
            assert answer.status_code == 303 and answer.headers["location"].startswith("/who"), text


@pytest.mark.parametrize("old", ["office", "seal custodian"])
def test_a_cookie_with_an_old_name_of_a_role_asks_to_choose_again(app: Any, old: str) -> None:
    """Who chose a role before roles were renamed is told so in words, and holds nothing until then."""
    text = base64.urlsafe_b64encode(f'{{"person":"person/P010","role":"{old}"}}'.encode()).decode()
    with app.client(None) as client:
        assert "Roles have new names" not in client.get("/who").text
        client.cookies.set(WHO_COOKIE, text)
        answer = client.get("/jobs")
        assert answer.status_code == 303 and answer.headers["location"] == "/who?next=/jobs"
        assert "Roles have new names" in client.get("/who").text
