"""Fix a number from a site's page, see what it costs, take it back; two plans beside each other."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from pollstead.plan.terms.part import NoWatch
from pollstead.show.planning import plan_folder
from pollstead.show.web.capabilities import Role
from pollstead.work.overruling import decisions_standing

CELL = {"table": "stations", "row": "S01/check-in-desk", "field": "count"}
FORM = "/site/S01/fix"


def words(answered: Any) -> str:
    """The text of a page without its marks."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]*>", "", answered.text))


def send(client: Any, **fields: str) -> Any:
    """Send the form of the cell."""
    return client.post(FORM, params=CELL, data=fields)


@pytest.fixture
def office(app: Any) -> Any:
    """A coordinator's browser."""
    return app.client(Role.COORDINATOR)


def test_a_number_is_fixed_planned_compared_and_taken_back(app: Any, office: Any, county: Path) -> None:
    """The whole way: form, decision, plan in line, cost, difference, taking back."""
    page = office.get(FORM, params=CELL)
    assert "Fix this number?" in words(page) and "from 0 to 500" in words(page) and 'value="7"' in page.text
    gone = send(office, value="9", reason="A second door")
    assert gone.status_code == 303 and gone.headers["location"].startswith("/fixed?job=")
    waiting = words(office.get(gone.headers["location"]))
    assert "waits for the next plan" in waiting and "Planning again" in waiting and "A second door" in waiting
    (job,) = app.folder.store.jobs.list(5)
    assert job.kind == "plan"

    newest = plan_folder(county, watch=NoWatch(), workers=1)
    page = words(office.get("/fixed"))
    assert "in the newest plan" in page and "Stations of the site" in page and "without it" in page
    compared = words(office.get("/compare"))
    for said in ("Cells that differ", "S01/check-in-desk", "Values that people fixed: 1 new, 0 gone"):
        assert said in compared, said
    assert "S01/check-in-desk" in office.get("/compare", params={"a": "1", "b": "2", "by": "table"}).text
    other = office.get("/compare", params={"a": "1", "b": "2", "site": "S02"}).text
    assert "Nothing differs at this site" in other and "S01/check-in-desk" not in other

    refused = office.post("/fixed", data={**CELL, "act": "take_back", "reason": ""})
    assert refused.status_code == 422 and "Say in a few words why" in refused.text
    assert office.post("/fixed", data={**CELL, "act": "take_back", "reason": "closed"}).status_code == 303
    assert "taken back" in office.get("/fixed").text and not decisions_standing(app.folder.fold())
    assert office.post("/fixed", data={**CELL, "act": "take_back", "reason": "x"}).status_code == 409
    back = plan_folder(county, watch=NoWatch(), workers=1)
    assert back != newest and "S01/check-in-desk" not in office.get("/fixed").text


@pytest.mark.parametrize(
    ("value", "reason", "said"),
    [
        ("many", "why", "Give a whole number from 0 to 500"),
        ("501", "why", "Give a whole number from 0 to 500"),
        ("", "why", "Give a whole number from 0 to 500"),
        ("9", "", "Say in a few words why"),
        ("9", "x" * 501, "at most 500 characters"),
    ],
)
def test_what_does_not_fit_is_said_at_its_field_and_kept(
    app: Any, office: Any, value: str, reason: str, said: str
) -> None:
    """Nothing is recorded; the words stand in the summary and at the field; what was typed stays."""
    answered = send(office, value=value, reason=reason)
    assert answered.status_code == 422
    assert words(answered).count(said) == 2 and f'value="{value}"' in answered.text
    assert not decisions_standing(app.folder.fold())


def test_who_may_not_change_fixes_nothing(app: Any) -> None:
    """Helper, warehouse, site lead and reader are refused; all may read what is fixed."""
    for role in (Role.HELPER, Role.WAREHOUSE, Role.SITE_LEAD, Role.READER):
        client = app.client(role)
        assert send(client, value="9", reason="x").status_code == 403, role
        assert client.post("/fixed", data={**CELL, "act": "take_back", "reason": "x"}).status_code == 403
        assert client.get("/fixed").status_code == client.get("/compare").status_code == 200
    assert not decisions_standing(app.folder.fold())


def test_an_unknown_number_or_version_is_named(office: Any) -> None:
    """A cell or version that is not there gives a plain page, not an error."""
    assert office.get(FORM, params={**CELL, "row": "S01/none"}).status_code == 404
    assert office.get("/site/S99/fix", params=CELL).status_code == 404
    for address in ("/compare?a=99", "/compare?a=zz", "/compare?site=S99"):
        assert office.get(address).status_code == 404, address


def test_every_kind_of_number_has_its_form(app: Any, office: Any) -> None:
    """Voters, machines, packing, seals, set-up and the kind of the site: each cell opens with its value."""
    from pollstead.plan.cells import cells_of

    version, election = app.folder.current(), app.folder.election()
    seen: dict[tuple[str, str], Any] = {}
    for cell in cells_of(election, version, "S01"):
        seen.setdefault((cell.table, cell.field), cell)
    assert len(seen) == 11
    for cell in seen.values():
        asked = {"table": cell.table, "row": cell.row, "field": cell.field}
        page = office.get(FORM, params=asked)
        assert page.status_code == 200 and cell.value in page.text, cell


def test_the_page_says_that_nothing_is_fixed_or_stands_in_the_table(app: Any, office: Any) -> None:
    """The small county fixes one number in its table; that row cannot be taken back by a decision."""
    page = office.get("/fixed").text
    assert "S02/marker-check-in" in page and "stands in the table of fixed values" in page
    assert "Take it back" not in page
