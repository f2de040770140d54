"""The county's own forms: a table of terms and lines, its faults, and what the workbook makes of it."""

from __future__ import annotations

from pathlib import Path

from pollstead.election.forms import COUNT_TERMS, FormLine
from pollstead.intake.folder import Intake, read_folder
from pollstead.intake.tab_rows import TabRows, row_of
from pollstead.intake.tabs import tab_named
from pollstead.intake.workbook_in import read_workbook
from pollstead.intake.workbook_out import Origin, write_workbook
from pollstead.reconcile.counts.terms import REGISTRY

COUNTY = 'county = "Tarn"\nname = "General"\nelection_day = 2028-11-07\nzone = "EST5EDT"\ninvented = true\n'
LARKMOOR = Path(__file__).resolve().parents[2] / "larkmoor"


def read(folder: Path, lines: str) -> Intake:
    """A county of one site with this table of form lines."""
    (folder / "county.toml").write_text(COUNTY, "utf-8")
    (folder / "sites.csv").write_text("id,name\nS1,Hall\n", "utf-8")
    (folder / "form_lines.csv").write_text(lines, "utf-8")
    return read_folder(folder)


def test_terms_of_forms_are_the_terms_of_the_balance() -> None:
    """Neither list has a number that the other lacks, and both are in one order."""
    assert tuple(term.id for term in REGISTRY) == COUNT_TERMS


def test_each_row_that_cannot_be_taken_is_named_by_row_and_column(tmp_path: Path) -> None:
    """A term that no balance has and an empty form are faults where they stand; all are told at once."""
    table = "term,form,line\nballots_spoilt,Leaf,3\nballots_fled,,4\nballots_spoiled,Leaf,5\n"
    intake = read(tmp_path, table)
    where = {(n.place.row, n.place.column): n.text.english() for n in intake.faults if n.place is not None}
    assert set(where) == {(2, None), (3, "form")}
    assert "term must be one of" in where[2, None] and "'ballots_spoilt'" in where[2, None]


def test_one_term_twice_on_one_form_is_a_contradiction(tmp_path: Path) -> None:
    """Two lines of one form for one number stand against each other; on two forms both are taken."""
    table = "term,form,line\nballots_fled,Leaf,4\nballots_fled,Leaf,5\ncheck_ins,Leaf,6\ncheck_ins,Roll,1\n"
    intake = read(tmp_path, table)
    assert [n.subject for n in intake.notices if n.rule == "row-twice"] == ["form_lines/ballots_fled/Leaf"]
    assert intake.election is not None
    assert FormLine(term="check_ins", form="Roll", line="1") in intake.election.form_lines


def test_larkmoors_forms_pass_through_the_workbook(tmp_path: Path) -> None:
    """What the invented county's table says comes back from the workbook's tab as it was."""
    intake = read_folder(LARKMOOR)
    assert intake.election is not None and len(intake.election.form_lines) > 15
    told = intake.election.form_lines
    rows = TabRows(tab="form_lines", rows=tuple(row_of(tab_named("form_lines"), line) for line in told))
    path = tmp_path / "county.xlsx"
    write_workbook([rows], path, Origin(facts="", made="", program=""))
    assert tuple(record.value for record in read_workbook(path).facts.taken.records) == told
