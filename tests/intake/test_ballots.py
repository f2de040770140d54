"""Contests, choices and ballots: what each table may not say, told all at once; the workbook's tabs."""

from __future__ import annotations

from pathlib import Path

from pollstead.intake.folder import Intake, read_folder
from pollstead.intake.tab_rows import TabRows, row_of
from pollstead.intake.tabs import tab_named
from pollstead.intake.workbook_in import read_workbook
from pollstead.intake.workbook_out import Origin, write_workbook

COUNTY = 'county = "Tarn"\nname = "General"\nelection_day = 2028-11-07\nzone = "EST5EDT"\ninvented = true\n'
ROOT = Path(__file__).resolve().parents[2]
SOUND = {
    "contests": "id,words,vote_for,write_in_lines\nmayor,Mayor,1,1\nboard,Board,2,\n",
    "choices": "contest,id,order,words\nmayor,a,1,Ann\nmayor,b,2,Ben\n"
    "board,a,1,Cy\nboard,b,2,Di\nboard,c,3,Ed\n",
    "ballot_contests": "style,precinct,contest,order,rotation\n01,,mayor,1,\n01,,board,2,1\n02,,board,1,2\n",
}


def read(folder: Path, **changed: str) -> Intake:
    """A county of one site with these ballots, some tables changed."""
    (folder / "county.toml").write_text(COUNTY, "utf-8")
    (folder / "sites.csv").write_text("id,name\nS1,Hall\n", "utf-8")
    (folder / "precincts.csv").write_text("id,site,styles\n001,S1,01 02\n", "utf-8")
    for name, text in (SOUND | changed).items():
        (folder / f"{name}.csv").write_text(text, "utf-8")
    return read_folder(folder)


def test_ballots_that_fit_together_give_no_notice_of_their_own(tmp_path: Path) -> None:
    """All rows are taken, in the order of the ballot."""
    intake = read(tmp_path)
    assert intake.election is not None and not intake.faults
    rows = [(r.style, r.contest, r.rotation) for r in intake.election.ballot_contests]
    assert rows == [("01", "mayor", 0), ("01", "board", 1), ("02", "board", 2)]
    assert not [n for n in intake.notices if "ballot" in n.rule or "contest" in n.rule]


def test_everything_wrong_with_the_ballots_is_told_at_once(tmp_path: Path) -> None:
    """Twice the same choice, an unknown contest, a rotation too long, a contest with nothing to mark."""
    intake = read(
        tmp_path,
        contests=SOUND["contests"] + "levy,Fire levy,1,0\n",
        choices=SOUND["choices"] + "mayor,b,3,Bea\nsherif,a,1,Flo\n",
        ballot_contests=SOUND["ballot_contests"]
        + "03,,board,1,3\n04,,mayr,1,0\n05,,board,1,0\n05,,levy,1,0\n",
    )
    told = {n.rule: (n.place.file, n.place.row) for n in intake.faults if n.place is not None}
    assert told == {
        "choice-id-twice": ("choices.csv", 7),
        "choice-of-unknown-contest": ("choices.csv", 8),
        "contest-without-choices": ("contests.csv", 4),
        "rotation-too-long": ("ballot_contests.csv", 5),
        "ballot-of-unknown-contest": ("ballot_contests.csv", 6),
        "ballot-order-twice": ("ballot_contests.csv", 8),
    }


def test_a_fault_in_a_contest_keeps_out_every_ballot_that_holds_it(tmp_path: Path) -> None:
    """Two choices in one place of the mayor's list: style 01 has no ballot left, style 02 keeps its own."""
    intake = read(tmp_path, choices=SOUND["choices"].replace("mayor,b,2", "mayor,b,1"))
    assert intake.election is not None
    assert [n.rule for n in intake.faults] == ["choice-order-twice"]
    assert {row.style for row in intake.election.ballot_contests} == {"02"}
    assert {contest.id for contest in intake.election.contests} == {"board"}


def test_styles_that_do_not_join_are_open_items(tmp_path: Path) -> None:
    """A style without a ballot, a ballot of no style, a precinct without the style, an unused contest."""
    ballots = "style,precinct,contest,order,rotation\n01,009,mayor,1,\n07,,mayor,1,\n"
    intake = read(tmp_path, ballot_contests=ballots)
    found = {n.rule: n.found for n in intake.notices if "ballot" in n.rule or "contest" in n.rule}
    assert found == {
        "style-without-ballot": "02",
        "ballot-of-unknown-style": "07",
        "ballot-of-unknown-precinct": "01/009",
        "contest-on-no-ballot": "board",
    }


def test_ballots_pass_through_the_workbook(tmp_path: Path) -> None:
    """What the small county's tables say comes back from the tabs as it was."""
    intake = read_folder(ROOT / "small")
    election = intake.election
    assert election is not None and len(election.contests) == 3
    told = (*election.contests, *election.choices, *election.ballot_contests)
    tabs = [
        TabRows(tab=name, rows=tuple(row_of(tab_named(name), row) for row in rows))
        for name, rows in (
            ("contests", election.contests),
            ("choices", election.choices),
            ("ballot_contests", election.ballot_contests),
        )
    ]
    path = tmp_path / "county.xlsx"
    write_workbook(tabs, path, Origin(facts="", made="", program=""))
    assert tuple(record.value for record in read_workbook(path).facts.taken.records) == told
