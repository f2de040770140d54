"""Many sites are edited at once: a grid, the differences, one change with a reason, or nothing."""

from __future__ import annotations

import html
from pathlib import Path
from typing import Any

import pytest

from pollstead.show.web.capabilities import Role
from pollstead.show.web.site_columns import SiteCell, filled

pytestmark = pytest.mark.full

COLUMN = {"sites.access_from": "yes"}


def post(app: Any, **fields: str) -> Any:
    """Send the form as a coordinator."""
    with app.client(Role.COORDINATOR) as client:
        return client.post("/sites/edit", data={**COLUMN, **fields})


def test_a_reviewed_change_of_two_sites_is_one_entry_and_stands_in_the_table(app: Any, county: Path) -> None:
    """Cells typed differently are listed before and after; with a reason they become one event."""
    with app.client(Role.COORDINATOR) as client:
        grid = client.get("/sites/edit", params=COLUMN).text
    assert 'name="v-0-S01" value="05:00"' in grid and 'name="v-0-S02" value="06:15"' in grid
    typed = {"v-0-S01": "05:15", "b-0-S01": "05:00", "v-0-S02": "05:15", "b-0-S02": "06:15"}
    review = post(app, step="review", **typed)
    text = html.unescape(review.text)
    assert review.status_code == 200 and "06:15" in text and "05:15" in text
    assert post(app, step="take", **typed).status_code == 422
    before = app.folder.store.events.count()
    taken = post(app, step="take", reason="Custodians come earlier.", **typed)
    assert taken.status_code == 303 and taken.headers["location"] == "/facts/changes"
    changed = [s for s in app.folder.store.events.all()[before:] if s.event.kind == "facts.changed"]
    assert len(changed) == 1 and changed[0].event.body["act"] == "bulk_edit"
    assert changed[0].event.body["cells"] == 2
    assert (county / "sites.csv").read_text("utf-8").count("05:15") == 2


def test_a_cell_that_was_changed_meanwhile_or_does_not_fit_changes_nothing(app: Any, county: Path) -> None:
    """A value that is no time, or a cell that held something else: said in words, nothing touched."""
    before = (county / "sites.csv").read_bytes(), app.folder.store.events.count()
    for value, held in (("early", "05:00"), ("05:15", "04:00")):
        answer = post(app, step="take", reason="x", **{"v-0-S01": value, "b-0-S01": held})
        assert answer.status_code == 422 and "Nothing was changed" in answer.text
        kinds = [s.event.kind for s in app.folder.store.events.all()]
        assert (county / "sites.csv").read_bytes() == before[0] and "facts.changed" not in kinds


def test_nothing_different_is_said_and_the_grid_stays(app: Any) -> None:
    """A form without a changed cell names that, and keeps the grid."""
    answer = post(app, step="review", **{"v-0-S01": "05:00", "b-0-S01": "05:00"})
    assert answer.status_code == 422 and "Nothing is different" in answer.text and "v-0-S02" in answer.text


def test_filling_down_puts_one_text_into_all_or_into_blank_rows() -> None:
    """Fill down changes what was typed, never what stands there; blank rows alone where asked for."""
    cells = {
        "S01": SiteCell(before="a", typed="a", there=True),
        "S02": SiteCell(before="", typed="", there=True),
    }
    cells["S03"] = SiteCell(before="", typed="", there=False)
    assert [c.typed for c in filled(cells, "x", blank_only=False).values()] == ["x", "x", ""]
    assert [c.typed for c in filled(cells, "x", blank_only=True).values()] == ["a", "x", ""]
    assert [c.before for c in filled(cells, "x", blank_only=False).values()] == ["a", "", ""]


def test_a_clerk_is_offered_no_column_of_keys_and_a_reader_nothing(app: Any) -> None:
    """Who opens a building is not edited by a role that does not see it."""
    with app.client(Role.CLERK) as client:
        text = client.get("/sites/edit").text
        assert "sites.access_from" in text and "sites.openers" not in text
    with app.client(Role.READER) as client:
        assert client.get("/sites/edit").status_code == 403
