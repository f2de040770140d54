"""Each planted fault of a county folder is named: its rule, its file and row, and what is not planned."""

from __future__ import annotations

import csv
import io
import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from pollstead.election.notice import Grade, Notice, NoticeKind
from pollstead.election.rules import REGISTRY
from pollstead.intake import Intake, read_folder
from pollstead.intake.export import blank_rules

SMALL = Path(__file__).resolve().parents[2] / "small"
Rows = list[dict[str, str]]

LAST = 0
"""Stands for the last row of the changed table."""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of the small county's tables."""
    for path in SMALL.iterdir():
        if path.suffix in (".csv", ".toml"):
            shutil.copyfile(path, tmp_path / path.name)
    return tmp_path


def change(folder: Path, file: str, edit: Callable[[Rows], object]) -> Intake:
    """Edit the rows of one table and read the folder."""
    path = folder / file
    rows = list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"), newline="")))
    names = list(rows[0])
    edit(rows)
    stream = io.StringIO(newline="")
    writer = csv.DictWriter(stream, names, restval="")
    writer.writeheader()
    writer.writerows(rows)
    path.write_text(stream.getvalue(), encoding="utf-8")
    return read_folder(folder)


def named(intake: Intake, rule: str) -> Notice:
    """The first notice of a rule; fails with all rules where there is none."""
    found = [n for n in intake.notices if n.rule == rule]
    assert found, f"no {rule!r} among {sorted({n.rule for n in intake.notices})}"
    return found[0]


def put(rows: Rows, row: int, **cells: str) -> None:
    """Change cells of the row with this number, as people count it."""
    rows[row - 2] |= cells


def double(rows: Rows, row: int, **cells: str) -> None:
    """Add the row once more at the end, with some cells changed."""
    rows.append(rows[row - 2] | cells)


CONTRADICTIONS: list[tuple[str, str, int | None, Callable[[Rows], object], tuple[str, ...] | None]] = [
    ("sites.csv", "site-id-twice", LAST, lambda r: double(r, 2, name="Other Hall"), ("S01",)),
    ("sites.csv", "site-kind-unknown", 3, lambda r: put(r, 3, kind="hand-market"), ("S02",)),
    ("precincts.csv", "precinct-twice", LAST, lambda r: double(r, 2, site="S02"), ("S01", "S02")),
    ("precincts.csv", "precinct-site-unknown", 5, lambda r: put(r, 5, site="S20"), None),
    ("people.csv", "person-twice", LAST, lambda r: double(r, 2), ()),
    ("people.csv", "person-site-unknown", 2, lambda r: put(r, 2, site="S77"), ()),
    ("hours.csv", "closing-before-opening", 3, lambda r: put(r, 3, opens="18:00", closes="09:00"), ("S36",)),
    ("hours.csv", "hours-too-short", 3, lambda r: put(r, 3, opens="09:00", closes="09:01"), ("S36",)),
    ("hours.csv", "hours-site-unknown", 3, lambda r: put(r, 3, site="S99"), ()),
    ("hours.csv", "hours-overlap", LAST, lambda r: double(r, 3, opens="17:00", closes="21:00"), ("S36",)),
    ("hours.csv", "hours-overlap", 4, lambda r: put(r, 3, closes="34:00"), ("S36",)),
    ("hours.csv", "voting-after-election-day", 6, lambda r: put(r, 6, date="2028-11-08"), ("S36",)),
    ("arrivals.csv", "arrivals-sum", None, lambda r: put(r, 2, share_percent="2.5"), ("S01", "S02", "S36")),
    ("arrivals.csv", "arrival-hour-twice", 3, lambda r: put(r, 3, hour="7"), ("S01", "S02", "S36")),
    ("history.csv", "ballots-above-registered", 2, lambda r: put(r, 2, ballots="99999"), ("S01",)),
    ("history.csv", "past-count-twice", LAST, lambda r: double(r, 2, ballots="1"), ("S01",)),
    ("history.csv", "past-election-not-past", 3, lambda r: put(r, 3, date="2028-11-07"), ("S01",)),
    ("history.csv", "ballots-counted-twice", 2, lambda r: double(r, 2, unit="S01", registered=""), ("S01",)),
    ("devices.csv", "device-at-two-homes", LAST, lambda r: double(r, 2, home="S02"), ()),
    ("devices.csv", "device-twice", LAST, lambda r: double(r, 2), ()),
    ("devices.csv", "serial-twice", 3, lambda r: put(r, 3, serial="LM-C-0001"), ()),
    ("devices.csv", "device-fixed-unknown", 2, lambda r: put(r, 2, fixed="S9", reason="agreed"), ()),
    ("devices.csv", "device-fixed-reason", 2, lambda r: put(r, 2, fixed="S01"), ()),
    (
        "seal_ranges.csv",
        "seal-ranges-overlap",
        LAST,
        lambda r: double(r, 2, first="0048400", last="0048500"),
        (),
    ),
    ("seal_ranges.csv", "seal-range", 2, lambda r: put(r, 2, first="0048500"), ()),
    ("seal_ranges.csv", "seal-range", 2, lambda r: put(r, 2, first="48001"), ()),
    ("closure_seals.csv", "closure-twice", LAST, lambda r: double(r, 2, number="0048399"), ("S01",)),
    ("closure_seals.csv", "seal-number-twice", 3, lambda r: put(r, 3, number="0048001"), ("S01",)),
    ("closure_seals.csv", "closure-unknown", 2, lambda r: put(r, 2, closure="case-top"), ("S01",)),
    ("closure_seals.csv", "closure-device-unknown", 2, lambda r: put(r, 2, device="device/scanner/9"), ()),
    ("fixed.csv", "fixed-twice", LAST, lambda r: double(r, 2, value="6"), ()),
]


@pytest.mark.parametrize(
    ("file", "rule", "row", "edit", "sites"),
    CONTRADICTIONS,
    ids=[f"{c[1]}-{i}" for i, c in enumerate(CONTRADICTIONS)],
)
def test_contradiction_is_named_and_what_depends_on_it_is_not_planned(
    folder: Path,
    file: str,
    rule: str,
    row: int | None,
    edit: Callable[[Rows], object],
    sites: tuple[str, ...] | None,
) -> None:
    """A planted contradiction gives its own notice with file and row, and keeps only its sites back."""
    intake = change(folder, file, edit)
    notice = named(intake, rule)
    assert notice.kind is NoticeKind.FAULT
    assert notice.grade is Grade.CONTRADICTS
    assert notice.place is not None
    last = len((folder / file).read_text(encoding="utf-8").splitlines())
    assert (notice.place.file, notice.place.row) == (file, last if row == LAST else row)
    assert notice.remedy is not None
    assert intake.election is not None
    if sites is not None:
        assert intake.not_planned == sites


def test_the_small_county_has_no_fault() -> None:
    """The county that ships for tests reads clean, so that each planted fault is the only one."""
    intake = read_folder(SMALL)
    assert intake.faults == ()
    assert intake.not_planned == ()
    assert {n.rule for n in intake.notices} == {
        "clock-change",
        "evening-not-agreed",
        "language-nobody-speaks",
        "site-field-not-known",
        "styles-in-one-precinct",
    }


def test_neither_side_of_a_contradiction_is_taken(folder: Path) -> None:
    """Of two rows with one id neither comes into the snapshot."""
    intake = change(folder, "devices.csv", lambda r: double(r, 2, home="S02"))
    assert intake.election is not None
    assert "device/check-in-computer/0001" not in {d.id for d in intake.election.devices}
    before = read_folder(SMALL).election
    assert before is not None
    assert len(intake.election.devices) == len(before.devices) - 1


@pytest.mark.parametrize(
    ("date", "opens", "rule"),
    [("2026-03-08", "02:30", "wall-time-skipped"), ("2026-11-01", "01:30", "wall-time-doubled")],
)
def test_a_time_that_the_clock_change_touches_is_a_contradiction(
    folder: Path, date: str, opens: str, rule: str
) -> None:
    """In 2026 the clocks change on March 8 and November 1 at 02:00 (15 U.S.C. 260a: second Sunday of
    March, first Sunday of November)."""
    county = (folder / "county.toml").read_text(encoding="utf-8")
    (folder / "county.toml").write_text(county.replace("EST5EDT", "America/New_York"), encoding="utf-8")
    intake = change(folder, "hours.csv", lambda r: double(r, 3, date=date, opens=opens, closes="12:00"))
    notice = named(intake, rule)
    assert notice.day == date
    assert notice.place is not None
    assert notice.place.column == "opens"


@pytest.mark.parametrize("days", [-1, 1])
def test_election_day_off_by_one_is_a_contradiction(folder: Path, days: int) -> None:
    """Hours whose only election-day row is a day early or late keep every site back, or name the row."""
    only = f"site,date,opens,closes\n*,2028-11-0{7 + days},07:00,20:00\n"
    (folder / "hours.csv").write_text(only, encoding="utf-8")
    intake = read_folder(folder)
    notice = named(intake, "election-day-not-in-hours")
    assert notice.found == f"2028-11-0{7 + days}"
    assert notice.wanted == "2028-11-07"
    assert intake.not_planned == ("S01", "S02", "S36")


OPEN_ITEMS: list[tuple[str, str, Callable[[Rows], object], tuple[str, ...]]] = [
    ("devices.csv", "look-alike", lambda r: put(r, 3, serial="LM-C-OOO1"), ("LM-C-0001", "LM-C-OOO1")),
    ("precincts.csv", "look-alike", lambda r: double(r, 2, id="OO1"), ("001", "OO1")),
    ("precincts.csv", "lost-zeros", lambda r: double(r, 2, id="1"), ("1", "001")),
    (
        "history.csv",
        "lost-zeros",
        lambda r: [row.update(unit=row["unit"].lstrip("0")) for row in r],
        ("1", "001"),
    ),
    ("precincts.csv", "id-lengths-differ", lambda r: double(r, 2, id="75"), ("75",)),
    ("sites.csv", "formula", lambda r: put(r, 2, notes='=HYPERLINK("x")'), ("=HYPERLINK",)),
    (
        "sites.csv",
        "same-building",
        lambda r: double(r, 3, id="S90", address="22 Harbor Ln., Port Ansel"),
        ("S02", "S90"),
    ),
    ("history.csv", "past-unit-unknown", lambda r: put(r, 2, unit="999"), ("999",)),
    ("devices.csv", "device-kind-unknown", lambda r: put(r, 2, kind="toaster"), ("toaster",)),
    ("sites.csv", "person-unknown", lambda r: put(r, 2, contact="P999"), ("P999",)),
    ("sites.csv", "access-after-opening", lambda r: put(r, 2, access_from="07:00"), ("S01", "07:00")),
    ("hours.csv", "date-order", lambda r: put(r, 3, date="11/4/2028"), ("11/4/2028",)),
    ("sites.csv", "registered-differs", lambda r: put(r, 2, registered="3"), ("3", "3900")),
]


@pytest.mark.parametrize(
    ("file", "rule", "edit", "said"), OPEN_ITEMS, ids=[f"{c[1]}-{i}" for i, c in enumerate(OPEN_ITEMS)]
)
def test_what_is_worth_a_look_is_an_open_item(
    folder: Path, file: str, rule: str, edit: Callable[[Rows], object], said: tuple[str, ...]
) -> None:
    """A planted doubt gives an open item that names both sides and blocks nothing of its own."""
    if file == "sites.csv":
        path = folder / file
        lines = path.read_text(encoding="utf-8").splitlines()
        path.write_text("\n".join([f"{lines[0]},registered,notes", *(f"{line},," for line in lines[1:])]))
    intake = change(folder, file, edit)
    notice = named(intake, rule)
    assert notice.kind is NoticeKind.OPEN_ITEM
    words = " ".join((notice.text.english(), notice.found, notice.wanted))
    assert all(part in words for part in said), words
    assert notice.remedy is not None


@pytest.mark.parametrize("file", ["hours.csv", "history.csv", "devices.csv", "people.csv", "rules.toml"])
def test_a_list_that_is_not_there_says_what_it_would_add(folder: Path, file: str) -> None:
    """An absent list is an open item with an owner and a date before election day, and no fault."""
    (folder / file).unlink()
    for dependent in ("closure_seals.csv", "hours.csv"):
        (folder / dependent).unlink(missing_ok=True)
    intake = read_folder(folder)
    [notice] = [n for n in intake.notices if n.rule == "list-not-there" and n.place and n.place.file == file]
    assert "it would add" in notice.text.english()
    assert notice.owner
    assert "2028-06-01" < notice.due < "2028-11-07"
    assert intake.faults == ()


def test_everything_is_told_at_once(folder: Path) -> None:
    """Faults in five tables come in one reading; tables without fault are taken in."""
    change(folder, "sites.csv", lambda r: put(r, 3, outlets="many"))
    change(folder, "hours.csv", lambda r: put(r, 2, opens="7 am"))
    change(folder, "people.csv", lambda r: put(r, 2, name=""))
    change(folder, "devices.csv", lambda r: double(r, 2))
    (folder / "rules.toml").write_text("[[setting]]\nrule = 'wait-limit'\nvalue = 'soon'\n")
    intake = read_folder(folder)
    places = {(n.place.file, n.place.row, n.place.column) for n in intake.faults if n.place}
    assert ("sites.csv", 3, "outlets") in places
    assert ("hours.csv", 2, "opens") in places
    assert ("people.csv", 2, "name") in places
    assert ("devices.csv", "id") in {(file, column) for file, _, column in places}
    assert "rules.toml" in {file for file, _, _ in places}
    assert {"sites.csv", "hours.csv", "people.csv", "rules.toml"}.isdisjoint(intake.tables)
    assert "precincts.csv" in intake.tables
    assert intake.election is None


def test_checking_writes_nothing(folder: Path) -> None:
    """Reading leaves every file as it was and adds none."""
    before = {p.name: (p.read_bytes(), p.stat().st_mtime_ns) for p in folder.iterdir()}
    read_folder(folder)
    assert {p.name: (p.read_bytes(), p.stat().st_mtime_ns) for p in folder.iterdir()} == before


def test_the_order_of_rows_changes_no_digest(folder: Path) -> None:
    """Every table turned upside down gives the same snapshot."""
    before = read_folder(folder).digest
    for path in folder.glob("*.csv"):
        change(folder, path.name, lambda r: r.reverse())
    assert read_folder(folder).digest == before


def test_a_seal_number_outside_stock_is_told_without_the_number(folder: Path) -> None:
    """The notice names the row, not the number: a printed list of notices must not tell it."""
    intake = change(folder, "closure_seals.csv", lambda r: put(r, 2, number="7777777"))
    notice = named(intake, "seal-outside-stock")
    assert notice.place is not None
    assert notice.place.row == 2
    assert "7777777" not in repr(notice)


@pytest.mark.parametrize(
    ("rule", "edit", "numbers"),
    [
        ("seal-range", lambda r: put(r, 2, first="0048500"), ("48500", "48400")),
        (
            "seal-ranges-overlap",
            lambda r: double(r, 2, first="0048390", last="0048500"),
            ("48390", "48500", "48400"),
        ),
    ],
)
def test_a_fault_in_a_range_of_seals_is_told_without_its_numbers(
    folder: Path, rule: str, edit: Callable[[Rows], object], numbers: tuple[str, ...]
) -> None:
    """The key, and what its decision would sign, name rows; nothing of them tells a number or a range."""
    notice = named(change(folder, "seal_ranges.csv", edit), rule)
    told = " ".join((notice.key, notice.text.english(), notice.found, *notice.depends))
    assert not [number for number in numbers if number in told]


def test_a_fault_with_another_value_is_open_again(folder: Path) -> None:
    """What a decision rests on follows what was found, so that another wrong value asks again."""
    first = named(change(folder, "sites.csv", lambda r: put(r, 2, outlets="many")), "cell")
    again = named(change(folder, "sites.csv", lambda r: put(r, 2, outlets="plenty")), "cell")
    assert first.key == again.key
    assert first.depends != again.depends


def test_a_share_may_be_set_in_percent(folder: Path) -> None:
    """`percent = 5` is 50,000 parts per million for a rule that is a share, and a fault for any other."""
    rules = folder / "rules.toml"
    rules.write_text('[[setting]]\nrule = "wait-risk"\npercent = 2.5\n', encoding="utf-8")
    election = read_folder(folder).election
    assert election is not None
    assert election.rules.whole("wait-risk") == 25_000
    for text in ('rule = "wait-limit"\npercent = 5', 'rule = "wait-risk"\npercent = "much"'):
        rules.write_text(f"[[setting]]\n{text}\n", encoding="utf-8")
        assert {n.place.file for n in read_folder(folder).faults if n.place} == {"rules.toml"}


def test_blank_rules_read_back_as_their_defaults(folder: Path) -> None:
    """The rules as they ship set nothing; with the # removed each sets its own default."""
    (folder / "rules.toml").write_text(blank_rules(), encoding="utf-8")
    election = read_folder(folder).election
    assert election is not None
    assert election.rules.settings == ()
    lines = [line.removeprefix("# ") for line in blank_rules().splitlines()]
    kept = [line for line in lines if line.startswith("[[") or re.match(r"[a-z_]+ = ", line)]
    (folder / "rules.toml").write_text("\n".join(kept), encoding="utf-8")
    intake = read_folder(folder)
    assert intake.faults == ()
    assert intake.election is not None
    assert {s.rule: s.value for s in intake.election.rules.settings} == {r.id: r.default for r in REGISTRY}
