"""A county that has told nothing but its sites opens every page, and no page says that all is well."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from pollstead.cli.plan import plan_folder
from pollstead.intake.cells import CellKind
from pollstead.plan.terms.part import NoWatch
from pollstead.show.web.capabilities import Role
from pollstead.show.web.navigation import links_for
from pollstead.show.web.site_facts import with_unit

pytestmark = pytest.mark.full

SETTINGS = (
    'county = "Larkmoor County"\nname = "General election"\n'
    'election_day = 2028-11-07\nzone = "America/New_York"\npractice = false\ninvented = true\n'
)
SITES = "id,name,kind\nS01,Ansel Civic Hall,\nS02,Harbor Lane Library,\n"
MORE = ("/tests", "/scan", "/scan/inventory", "/scan/pack", "/copies/laptop", "/calendar/month", "/site/S01")


def filled(folder: Path, files: dict[str, str]) -> Path:
    """A county folder with these files."""
    folder.mkdir()
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def test_without_a_plan_every_page_opens_or_says_what_comes_next(
    tmp_path: Path, app_of: Callable[[Path], Any]
) -> None:
    """No page breaks; one that cannot be shown leads to a page that can."""
    app = app_of(filled(tmp_path / "new", {"sites.csv": SITES}))
    with app.client(Role.COORDINATOR) as client:
        led_to = set()
        for address in (*links_for(Role.COORDINATOR), *MORE):
            answer = client.get(address)
            assert answer.status_code in (200, 409), address
            if answer.status_code == 409:
                led = re.search(r'class="button" href="([^"]+)"', answer.text)
                assert led, address
                led_to.add(led[1])
        assert all(client.get(address).status_code == 200 for address in led_to), led_to


def test_a_plan_without_voters_names_the_sites_that_it_lacks(
    tmp_path: Path, app_of: Callable[[Path], Any]
) -> None:
    """The list of sites does not say that nothing is needed while no site could be planned."""
    folder = filled(tmp_path / "new", {"county.toml": SETTINGS, "sites.csv": SITES})
    plan_folder(folder, watch=NoWatch(), workers=1)
    with app_of(folder).client(Role.COORDINATOR) as client:
        first = client.get("/").text
        assert "2</bdi> sites of the tables are not in the plan" in first
        assert "Harbor Lane Library" in first
        assert "No site needs anything next" not in first
        assert "No site has a rule not met" not in first
        lacking = client.get("/site/S01")
        assert lacking.status_code == 404
        assert "Ansel Civic Hall" in lacking.text
        assert 'href="/open"' in lacking.text
        for address in links_for(Role.COORDINATOR):
            assert client.get(address).status_code in (200, 409), address


@pytest.mark.parametrize(
    ("kind", "cell", "shown"),
    [
        (CellKind.LENGTH, "34", "34 in"),
        (CellKind.LENGTH, "31 7/8", "31 7/8 in"),
        (CellKind.LENGTH, "576", "48' 0\""),
        (CellKind.LENGTH, "915 mm", "915 mm"),
        (CellKind.PERCENT, "8.5", "8.5 %"),
        (CellKind.WHOLE, "13", "13"),
    ],
)
def test_a_measure_of_a_building_has_its_unit(kind: CellKind, cell: str, shown: str) -> None:
    """A bare number in a column of lengths is inches (12 to a foot), and says so."""
    assert with_unit(kind, cell) == shown
