"""The page of a site in the order of the job: facts as far as a role sees, void sheets, calls and changes."""

from __future__ import annotations

from typing import Any

import pytest

from pollstead.record.kinds.swaps import SheetsVoided, VoidedSheet
from pollstead.show.web.capabilities import Capability, Role
from pollstead.show.web.open_folder import OpenFolder
from pollstead.show.web.site_facts import facts_of_site
from pollstead.show.web.site_record import CHANGES, entries_of, sheets_of
from pollstead.show.web.who import Who
from pollstead.store.sheets import Sheet

pytestmark = pytest.mark.full

WHO = Who(person="person/P010", role=Role.COORDINATOR)


def sheet(serial: str, replaces: str = "", plan: str = "p1") -> Sheet:
    """A printed sheet."""
    return Sheet(
        serial=serial,
        kind="opening",
        site="S01",
        day="2028-11-07",
        plan_digest=plan,
        list_digest="",
        printed_utc_ms=0,
        replaces=replaces,
    )


def test_a_sheet_is_void_when_another_took_its_place_or_the_record_says_so(app: Any) -> None:
    """Those in force come first; a void one names the sheet that took its place, if there is one."""
    folder: OpenFolder = app.folder
    body = SheetsVoided(
        change="a" * 64,
        sheets=(VoidedSheet(serial="sheet/A3", replaced_by="sheet/A4"), VoidedSheet(serial="A5")),
    )
    written = folder.write(body, who=WHO, subject="site/S01", site="site/S01")
    plain = [sheet(serial) for serial in ("A1", "sheet/A3", "A5")]
    printed = (*plain, sheet("A2", replaces="A1"), sheet("A9", plan="p0"))
    rows = {r.serial: r for r in sheets_of(printed, folder.fold(), "S01", "p1")}
    assert [r.serial for r in rows.values() if r.void] == ["A1", "A5", "sheet/A3"]
    assert (rows["A1"].replaced_by, rows["sheet/A3"].replaced_by, rows["A5"].replaced_by) == (
        "A2",
        "sheet/A4",
        "",
    )
    assert next(iter(rows)) == "A2" and rows["A9"].other_version and not rows["A9"].void
    changes = entries_of(folder.fold(), "S01", dict(CHANGES))
    assert written.id in [entry.event for entry in changes]
    assert entries_of(folder.fold(), "S02", dict(CHANGES)) == ()


def test_facts_of_a_site_show_every_cell_but_those_that_a_role_does_not_need(app: Any) -> None:
    """All non-blank cells of the site's row stand there; who opens only for those who may see keys."""
    folder: OpenFolder = app.folder
    election, digest = folder.election(), folder.current().snapshot  # type: ignore[union-attr]
    assert election is not None
    for sees in (True, False):
        tables = facts_of_site(election, digest, "S01", lambda c: sees or c is Capability.READ)  # noqa: B023
        site = next(t for t in tables if t.file == "sites.csv")
        columns = {cell.column for row in site.rows for cell in row}
        assert {"name", "address", "access_from", "outlets"} <= columns
        assert ("openers" in columns) is sees and (site.hidden == 0) is sees
    other = facts_of_site(election, digest, "S02", lambda c: True)
    texts = {cell.text for table in other for row in table.rows for cell in row}
    assert "Harbor Lane Library" in texts and "Ansel Civic Hall" not in texts


def test_numbers_lead_to_their_reasons_and_to_what_changed(app: Any) -> None:
    """Each count has a why link that opens on reasons; one who may not change is offered no fixing."""
    with app.client(Role.READER) as client:
        text = client.get("/site/S01").text
        step = app.folder.current().site("S01").counts[0].step
        assert f"/why?subject=site/S01&amp;field={step}" in text and "/fix?" not in text
        why = client.get("/why", params={"subject": "site/S01", "field": step}).text
        assert why.count('<section class="slip">') >= 1 and "says nothing of this" not in why
        assert "says nothing of this" in client.get("/why", params={"subject": "site/S99"}).text
    with app.client(Role.COORDINATOR) as client:
        assert "/fix?" in client.get("/site/S01").text
