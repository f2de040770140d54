"""A county whose seals carry a Damm digit: from the tables to every place where a number is typed."""

from __future__ import annotations

import csv
import html
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from stdnum import damm
from tests.web.conftest import ELECTION_DAY, SMALL, issue_all

from pollstead.cli.plan import plan_folder
from pollstead.intake.folder import read_folder
from pollstead.plan.terms.part import NoWatch
from pollstead.reconcile.diagnosis.costs import USUAL_COSTS
from pollstead.reconcile.diagnosis.diagnose import Asked, Fits, diagnose
from pollstead.reconcile.diagnosis.of_day import known_numbers
from pollstead.show.web.capabilities import Role
from pollstead.show.web.day import days_now, issued
from pollstead.show.web.misread import MISREAD
from pollstead.show.web.readings import Asked as Wanted
from pollstead.show.web.readings import opening_lines

pytestmark = pytest.mark.full

KIND = "pull-tight seal"


def whole(body: str) -> str:
    """The number with the digit that python-stdnum computes."""
    return body + damm.calc_check_digit(body)


def rewrite(folder: Path, table: str, change: Callable[[dict[str, str]], dict[str, str]]) -> None:
    """Change every row of a table."""
    path = folder / f"{table}.csv"
    with path.open(newline="") as file:
        rows = [change(row) for row in csv.DictReader(file)]
    with path.open("w", newline="") as file:
        writer = csv.DictWriter(file, rows[0], lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


@pytest.fixture(scope="module")
def damm_county(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small county with a Damm digit behind every seal number, planned."""
    folder = tmp_path_factory.mktemp("damm") / "county"
    shutil.copytree(SMALL, folder, ignore=shutil.ignore_patterns("*.db*", "keys", "packets", "*.py"))
    ends = ("first", "last")
    rewrite(folder, "seal_ranges", lambda r: r | {e: whole(r[e]) for e in ends} | {"check_character": "damm"})
    rewrite(folder, "closure_seals", lambda r: r | {"number": whole(r["number"])})
    plan_folder(folder, watch=NoWatch(), workers=1)
    return folder


def notices(folder: Path) -> dict[str, Any]:
    """The notices of a folder by rule."""
    return {notice.rule: notice for notice in read_folder(folder).notices}


def test_tables_with_a_wrong_check_character_are_told_by_row(damm_county: Path, tmp_path: Path) -> None:
    """A whole county has no notice; a range or a closure with another digit is told, without its number."""
    folder = Path(shutil.copytree(damm_county, tmp_path / "county"))
    before = notices(folder)
    assert not {"seal-check-character", "seal-range", "seal-outside-stock"} & set(before)
    seals = folder / "closure_seals.csv"
    text = seals.read_text()
    right = whole("0048003")
    seals.write_text(text.replace(right, right[:-1] + str((int(right[-1]) + 1) % 10)))
    told = notices(folder)["seal-check-character"]
    assert (told.place.file, told.place.row) == ("closure_seals.csv", 4) and right[:-1] not in str(told)
    seals.write_text(text)
    ranges = folder / "seal_ranges.csv"
    ranges.write_text(ranges.read_text().replace(whole("0048400"), "00484007"))
    assert "check character" in notices(folder)["seal-range"].text.template


def test_a_misread_number_is_told_before_anything_is_compared(
    damm_county: Path, tmp_path: Path, app_of: Callable[[Path], Any]
) -> None:
    """Sealing and opening say at once to read it again; what was read again may be kept, and is diagnosed."""
    app = app_of(Path(shutil.copytree(damm_county, tmp_path / "county")))
    issue_all(app.folder)
    election = app.folder.election()
    day = days_now(app.folder).site("S01", ELECTION_DAY)
    line = next(x for x in opening_lines(day, election) if x.ask is Wanted.SEAL and x.items[0].expected)
    right = line.items[0].expected
    assert damm.is_valid(right) and len(right) == 8
    wrong = right[:-2] + ("7" if right[-2] != "7" else "1") + right[-1]

    warehouse = app.client(Role.WAREHOUSE)
    field = f"{line.subject}#1"
    said = warehouse.get("/tests/check", params={"field": field, "number": wrong}).text
    assert said == MISREAD
    assert warehouse.get("/tests/check", params={"field": field, "number": right}).text == ""

    lead = app.client(Role.SITE_LEAD, "person/P001")
    form = {
        "do": "readings",
        "day": ELECTION_DAY.isoformat(),
        "list": issued(app.folder).event_of("S01", ELECTION_DAY),
        "partial": "yes",
        f"{line.id}-state": "intact",
    }
    refused = lead.post("/site/S01/opening", data=form | {f"{line.id}-number": wrong})
    page = html.unescape(refused.text)
    assert refused.status_code == 422 and MISREAD in page and right not in page
    assert 'name="read_again"' in refused.text and f'value="{wrong}"' in refused.text
    assert not days_now(app.folder).site("S01", ELECTION_DAY).seen()
    kept = lead.post("/site/S01/opening", data=form | {f"{line.id}-number": wrong, "read_again": "yes"})
    assert kept.status_code == 303
    assert [seen.value for seen in days_now(app.folder).site("S01", ELECTION_DAY).seen()] == [wrong]

    known = known_numbers(election, issued(app.folder).lists)
    asked = Asked(expected=right, what="seal", subject=line.subject, site="S01")
    told = diagnose(wrong, asked, known, USUAL_COSTS)
    bare = diagnose(right[:-2] + "1x", asked, known, USUAL_COSTS)
    assert any("check character" in note.template for note in told.notes) and bare.notes
    typo = next(one for one in told.hypotheses if one.fits is Fits.TYPO)
    single = sum(USUAL_COSTS.substitution(edit.was, edit.found) for edit in typo.edits)
    assert typo.cost == 2 * single  # made twice: it was told after the first time

    stock = warehouse.post(
        "/stock",
        data={"do": "void", "void_kind": KIND, "number": wrong, "why": "lost", "reason": "Fell",
              "void_second": "P011"},
    )  # fmt: skip
    assert stock.status_code == 422 and MISREAD in html.unescape(stock.text)
    box = {"do": "receive", "seal_kind": KIND, "series": "LM-A", "counted": "100", "second": "P011"}
    box |= {"first": whole("0048401"), "last": whole("0048500")}
    assert warehouse.post("/stock", data=box | {"last": "00485000"}).status_code == 422
    assert warehouse.post("/stock", data=box).status_code == 303
    assert (
        f"LM-A,{whole('0048401')},{whole('0048500')},damm"
        in (app.folder.path / "seal_ranges.csv").read_text()
    )
