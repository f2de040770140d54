"""From a real county's own lists to a county folder: Montgomery County, Maryland, 4 November 2014.

Figures: the election-day ballots and places of the data set in tests/data/md2014 (credit there);
2,775 units without paper: EAC, Election Administration and Voting Survey 2014, item F7a.
"""

from __future__ import annotations

import os
import tomllib
from pathlib import Path

import pytest

from pollstead.cli.main import run
from pollstead.election.county import Election
from pollstead.election.notice import NoticeKind
from pollstead.intake import read_folder
from pollstead.intake.look_alikes import alike_places

pytestmark = pytest.mark.full

DATA = Path(__file__).resolve().parents[1] / "data" / "md2014"
FACTS = (
    "--election-day",
    "2014-11-04",
    "--zone",
    "America/New_York",
    "--kind",
    "E",
    "--county",
    "Montgomery",
)


def make(folder: Path, *more: str) -> int:
    """Run the command as a person types it."""
    start = ["new", str(folder), "--from", str(DATA / "precincts.csv"), "--from", str(DATA / "equipment.csv")]
    wheres = ["--where", "precincts.csv:county=Montgomery", "--where", "equipment.csv:fips10=2403100000"]
    return run([*start, *wheres, *FACTS, *more])


def held(folder: Path) -> Election:
    """The election of a folder that has no fault."""
    intake = read_folder(folder)
    assert intake.faults == ()
    assert intake.election is not None
    return intake.election


def look_at_montgomery(election: Election) -> None:
    """Hold the county to what its lists say."""
    assert len(election.sites) == 227
    # 251 rows; one of them, for ballots of no known precinct, has no place and no voters.
    assert len(election.precincts) == 250
    assert sum(count.ballots for count in election.history) == 211_729
    assert sum(precinct.registered or 0 for precinct in election.precincts) == 634_663
    assert [(total.kind, total.count) for total in election.fleet_totals] == [
        ("electronic voting unit", 2775)
    ]
    assert {count.mode for count in election.history} == {"election day"}
    assert {site.kind for site in election.sites} == {election.site_kinds[0].id}
    assert all(site.address for site in election.sites)


def test_three_lists_make_a_county(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Precincts with places and past ballots, and one row of machine counts, need six typed values."""
    assert make(tmp_path / "county", "--yes") == 0
    election = held(tmp_path / "county")
    look_at_montgomery(election)
    said = capsys.readouterr().out
    assert "Values typed by hand: 6" in said
    assert "no place beside the precinct" in said
    assert "hours.csv is not there or holds no rows" in said
    assert [a.value for a in election.assumptions] == ["2012-11-06"]
    kept = tomllib.loads((tmp_path / "county" / "mapping.toml").read_text(encoding="utf-8"))
    ours = {c["ours"]: c["theirs"] for c in kept["table"][0]["column"]}
    assert ours["ballots"] == "ballots_election_day"
    lines = (DATA / "precincts.csv").read_text(encoding="utf-8").splitlines()
    [row] = [n for n, line in enumerate(lines, 1) if line.startswith("Montgomery,Unable to Determine")]
    assert [left["row"] for left in kept["left_out"]] == [row]


def test_a_folder_that_holds_something_is_left_alone(tmp_path: Path) -> None:
    """A second run into the same folder changes nothing and ends with 1."""
    assert make(tmp_path / "county", "--yes") == 0
    before = read_folder(tmp_path / "county").digest
    assert make(tmp_path / "county", "--yes", "--opens", "06:00", "--closes", "20:00") == 1
    assert read_folder(tmp_path / "county").digest == before


def test_without_a_terminal_each_question_names_its_option(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing is asked and nothing is written; every open question says which option settles it."""
    assert make(tmp_path / "county") == 1
    told = capsys.readouterr().err
    for option in ("--map precincts.csv:", "--map equipment.csv:", "--past-election", "--yes"):
        assert option in told
    assert not (tmp_path / "county").exists()
    assert list(tmp_path.iterdir()) == []


def test_given_columns_and_dates_need_no_yes(tmp_path: Path) -> None:
    """A mapping passed column by column, a past election and hours settle every question."""
    columns = {
        "precinct": "precinct",
        "name": "site_name",
        "address": "site_address",
        "registered": "eligible_voters",
        "ballots": "ballots_election_day",
    }
    maps = [part for ours, theirs in columns.items() for part in ("--map", f"precincts.csv:{ours}={theirs}")]
    made = make(
        tmp_path / "county",
        *maps,
        "--map",
        "equipment.csv:fleet.electronic voting unit=n_dre_no_paper_trail",
        "--past-election",
        "2010-11-02",
        "--opens",
        "07:00",
        "--closes",
        "20:00",
    )
    assert made == 0
    election = held(tmp_path / "county")
    look_at_montgomery(election)
    assert election.assumptions == ()
    assert {count.date.isoformat() for count in election.history} == {"2010-11-02"}
    assert {(h.opens_min, h.closes_min) for site in election.sites for h in site.hours} == {(420, 1200)}


def test_places_in_a_list_of_their_own_join_by_name_and_address(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A list of places with ids and a list of precincts without ids give one site a place."""
    start = ["new", str(tmp_path / "county")]
    for name in ("precincts.csv", "sites.csv"):
        start += ["--from", str(DATA / name), "--where", f"{name}:county=Montgomery"]
    assert run([*start, *FACTS, "--yes"]) == 0
    assert "Past ballots of 227 sites are left out" in capsys.readouterr().out
    election = held(tmp_path / "county")
    assert len(election.sites) == 227
    assert {site.id[:5] for site in election.sites} == {"MONT-"}
    assert len(election.precincts) == 250
    assert sum(count.ballots for count in election.history) == 211_729


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("--where", "precincts.csv:county=Nowhere"), 1),
        (("--where", "precincts.csv:no such column=1"), 1),
        (("--map", "other.csv:name=x"), 1),
        (("--map", "precincts.csv:colour=x"), 2),
        (("--zone", "Mars/Olympus"), 2),
        (("--kind", "Z"), 2),
        (("--election-day", "2014-02-30"), 2),
        (("--opens", "07:00"), 2),
        (("--same", "Nowhere Hall=Nobody Hall"), 1),
    ],
)
def test_an_option_that_does_not_fit_is_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], code: int
) -> None:
    """An option naming what is not there ends with a message, not a traceback, and writes nothing."""
    assert make(tmp_path / "county", "--yes", *words) == code
    assert capsys.readouterr().err.strip()
    assert not (tmp_path / "county").exists()


def test_one_building_spelled_two_ways_is_asked_about(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """BALT-004 and BALT-005 of the data set are one building spelled two ways: asked about, then settled."""
    start = [
        "new",
        str(tmp_path / "county"),
        "--from",
        str(DATA / "sites.csv"),
        "--map",
        "sites.csv:ballots=",
    ]
    start += [*FACTS, "--past-election", "2010-11-02"]
    columns = ("site=site_id", "name=site_name", "address=site_address", "registered=eligible_voters")
    start += [part for column in columns for part in ("--map", f"sites.csv:{column}")]
    start += ["--map", "sites.csv:precincts=precincts"]
    assert run(start) == 1
    assert "--same BALT-004=BALT-005" in capsys.readouterr().err
    assert run([*start, "--same", "BALT-004=BALT-005"]) == 0
    ids = {site.id for site in held(tmp_path / "county").sites}
    assert "BALT-004" in ids
    assert "BALT-005" not in ids


def test_a_pair_kept_apart_is_an_open_item_until_a_person_settles_it(tmp_path: Path) -> None:
    """--yes keeps the pair apart and leaves the question open; --different closes it."""
    start = ["--from", str(DATA / "sites.csv"), "--map", "sites.csv:ballots=", *FACTS, "--yes"]
    assert run(["new", str(tmp_path / "apart"), *start]) == 0
    rules = [n.subject for n in read_folder(tmp_path / "apart").of_kind(NoticeKind.OPEN_ITEM)]
    assert "site/BALT-004+BALT-005" in rules
    assert run(["new", str(tmp_path / "settled"), *start, "--different", "BALT-004=BALT-005"]) == 0
    rules = [n.subject for n in read_folder(tmp_path / "settled").of_kind(NoticeKind.OPEN_ITEM)]
    assert "site/BALT-004+BALT-005" not in rules


def test_neighbors_are_not_taken_for_one_building() -> None:
    """Same street with another house number, and like names at different addresses, are no pair."""
    places = [
        ("Elm Street School", "12 Elm Street, Greywether"),
        ("Elm Street Hall", "14 Elm Street, Greywether"),
        ("Fire Station 3", "1 Mill Road, Greywether"),
        ("Fire Station 3", "900 Quarry Line"),
        ("Elm St. School (gym)", "12 Elm St, Greywether"),
    ]
    assert alike_places(places) == [(0, 4)]


@pytest.mark.full
def test_the_whole_data_set_gives_the_same_county(tmp_path: Path) -> None:
    """The whole data set, from the folder that POLLSTEAD_DATA names, gives what its part gives."""
    data = os.environ.get("POLLSTEAD_DATA")
    if not data:
        pytest.skip("absent: POLLSTEAD_DATA names no folder of open data")
    folder = Path(data)
    assert (folder / "md2014_sites" / "precincts.csv").is_file()
    start = ["new", str(tmp_path / "county")]
    for name, where in (
        ("md2014_sites/precincts.csv", "precincts.csv:county=Montgomery"),
        ("eavs/eavs2014_equipment.csv", "eavs2014_equipment.csv:fips10=2403100000"),
    ):
        start += ["--from", str(folder / name), "--where", where]
    assert run([*start, *FACTS, "--yes"]) == 0
    look_at_montgomery(held(tmp_path / "county"))


class Terminal:
    """A person at a terminal: answers in order, then Ctrl-D."""

    def __init__(self, *answers: str) -> None:
        self.answers = list(answers)

    def isatty(self) -> bool:
        """Say that somebody is there."""
        return True

    def readline(self) -> str:
        """The next answer as a line, or nothing at the end."""
        return self.answers.pop(0) + "\n" if self.answers else ""


def at_a_terminal(monkeypatch: pytest.MonkeyPatch, *answers: str) -> Terminal:
    """Let a person answer the questions of the command."""
    terminal = Terminal(*answers)
    monkeypatch.setattr("sys.stdin", terminal)
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    return terminal


def test_a_person_at_a_terminal_answers_the_questions(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Questions come one by one; a column is changed, a wrong date asked again, a pair called the same."""
    terminal = at_a_terminal(
        monkeypatch,
        "ballots=",  # no past ballots here
        "",  # the rest of the table is right
        "Larkmoor County",
        "the third of November",
        "2026-11-03",
        "America/New_York",
        "e",
        "maybe",
        "same",
    )
    assert run(["new", str(tmp_path / "county"), "--from", str(DATA / "sites.csv")]) == 0
    assert terminal.answers == []
    said = capsys.readouterr().out
    assert "a date such as 2026-11-03" in said
    assert "expected same or different, got 'maybe'" in said
    election = held(tmp_path / "county")
    assert election.county == "Larkmoor County"
    assert election.history == ()
    assert len(election.sites) == 228
    assert "Values typed by hand: 6" in said


def test_giving_up_writes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-D at a question ends with 1 and leaves no folder."""
    at_a_terminal(monkeypatch, "")
    assert run(["new", str(tmp_path / "county"), "--from", str(DATA / "sites.csv")]) == 1
    assert list(tmp_path.iterdir()) == []
