"""``pollstead timings`` from a first look to values in the facts and back, as a clerk types it."""

from __future__ import annotations

import json
import random
import shutil
from pathlib import Path

import pytest

from pollstead.cli.main import run
from pollstead.intake import read_folder

SMALL = Path(__file__).resolve().parents[2] / "small"
PLANTED = ("11:13:47", "17:41:09")
"""Times of two rows: they must be nowhere afterwards."""


@pytest.fixture
def county(tmp_path: Path) -> Path:
    """A copy of the small county without plan or record."""
    ignore = shutil.ignore_patterns("*.db*", "keys", "packets", "*.py", "day")
    return Path(shutil.copytree(SMALL, tmp_path / "county", ignore=ignore))


@pytest.fixture(scope="module")
def lists(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path, Path]:
    """Check-in times, line counts and samples of three sites: check-in takes 110 s at two busy stations."""
    top = tmp_path_factory.mktemp("lists")
    draw = random.Random(12)
    times, lines, samples = [], [], []
    for site in ("S01", "S02", "Southgate Library"):
        ends = []
        for _ in range(2):
            at = 7 * 3600.0
            while at < 20 * 3600:
                at += draw.gammavariate(4, 110 / 4)
                ends.append(int(at))
        rows = [(s, f"{s // 3600:02}:{s // 60 % 60:02}:{s % 60:02}") for s in sorted(ends)]
        rows += [(40_427, PLANTED[0]), (63_669, PLANTED[1])]
        times += [f"2028-11-07 {text},{site}" for _, text in sorted(rows)]
        lines += [f"{site},{hour},{draw.randrange(8, 20) if hour < 20 else 0},2" for hour in range(7, 21)]
    for n in range(150):
        samples.append(f"check-in,S01,{draw.gammavariate(4, 30):.1f},{'x' if n % 10 == 0 else ''}")
        samples.append(f"scanning,S02,{draw.lognormvariate(3, 0.4):.1f},")
    files = {
        "times.csv": ["time,site", *times],
        "lines.csv": ["site,hour,people in line,stations open", *lines],
        "samples.csv": ["step,site,seconds,still going", *samples],
    }
    for name, text in files.items():
        (top / name).write_text("\n".join(text), encoding="utf-8")
    return top / "times.csv", top / "lines.csv", top / "samples.csv"


@pytest.mark.full
def test_a_clerk_takes_values_and_takes_them_back(
    county: Path,
    lists: tuple[Path, Path, Path],
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Look, take by a name, see what they rest on, undo; no row of a file is in the folder at any time."""
    monkeypatch.syspath_prepend(str(SMALL.parent / "docs" / "tools"))
    import json_fields

    before = read_folder(county).election
    assert before is not None
    command = ["timings", str(county), *map(str, lists)]
    assert run([*command, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["taken"] is None
    values = {one["of"]: one for one in told["values"]}
    flow = values["service/marker-check-in"]
    assert flow["low"] <= 110_000 <= flow["high"]
    assert not flow["too_thin"]
    assert values["service/tabletop-scanner"]["samples"] == 150
    assert sum(one["value"] for one in told["arrivals"]["hours_ppm"]) == pytest.approx(1_000_000, abs=20)
    assert run([*command, "--accept", "all"]) == 2, "a name and a reason are needed"
    who = ["--by", "P010", "--reason", "timed at the primary"]
    assert run([*command, "--accept", "all", *who, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert json_fields.differences(told, json_fields.documented()["timings FOLDER FILE"]) == []
    after = read_folder(county).election
    assert after is not None
    service = after.station_type("marker-check-in").service
    assert service is not None
    assert not service.assumed
    assert flow["low"] <= service.mean_ms <= flow["high"]
    scanner = after.station_type("tabletop-scanner").service
    assert scanner is not None
    assert scanner.mean_ms == pytest.approx(21_800, rel=0.1)  # exp(3 + 0.4**2 / 2) = 21.76 s
    assert after.station_type("ballot-scanner").service == before.station_type("ballot-scanner").service
    assert sum(one.share_ppm for one in after.arrivals) == 1_000_000

    held = b"".join(path.read_bytes() for path in county.rglob("*") if path.is_file())
    for planted in PLANTED:
        assert planted.encode() not in held
        assert planted.replace(":", "").encode() not in held
    assert b"timings.taken" in held

    capsys.readouterr()
    assert run(["timings", str(county), "--json"]) == 0
    (taken,) = json.loads(capsys.readouterr().out)["taken"]
    assert taken["rows"] == told["files"][0]["rows"] + told["files"][1]["rows"] + told["files"][2]["rows"]
    assert taken["sha256"] == [one["sha256"] for one in told["files"]]
    assert taken["first"] == taken["last"] == "2028-11-07"
    assert run(["facts", "undo", str(county), taken["change"][:8], "--by", "P010", "--reason", "no"]) == 0
    assert read_folder(county).election == before


def test_a_clock_an_hour_off_waits_for_a_person(
    county: Path, lists: tuple[Path, Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing is taken until somebody says shift; then the curve is that of the right clock."""
    lines = lists[0].read_text(encoding="utf-8").splitlines()
    off = tmp_path / "times.csv"
    moved = [
        f"{line[:11]}{int(line[11:13]) - 1:02}{line[13:]}" if line.endswith(",S02") else line
        for line in lines
    ]
    off.write_text("\n".join(moved), encoding="utf-8")
    who = ["--accept", "all", "--by", "P010", "--reason", "primary"]
    assert run(["timings", str(county), str(off), *who]) == 1
    out = capsys.readouterr().out
    assert "S02 on 2028-11-07" in out
    assert "--say 'shift:S02:2028-11-07=…'" in out
    assert not (county / "pollstead.db").exists()
    answer = ["--say", "shift:S02:2028-11-07=shift"]
    assert run(["timings", str(county), str(off), *answer, "--json"]) == 0
    shifted = json.loads(capsys.readouterr().out)
    assert run(["timings", str(county), str(lists[0]), "--json"]) == 0
    right = json.loads(capsys.readouterr().out)
    assert shifted["arrivals"]["shares_ppm"] == right["arrivals"]["shares_ppm"]


def test_a_file_about_voters_leaves_nothing_but_the_error(
    county: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The column is named, its cells are not, and no store is made."""
    file = tmp_path / "list.csv"
    file.write_text("time,site,voter\n2028-11-07 07:00:01,S01,Quince Fellowes\n", encoding="utf-8")
    who = ["--accept", "all", "--by", "P010", "--reason", "primary"]
    assert run(["timings", str(county), str(file), *who]) == 1
    out, err = capsys.readouterr()
    assert "voter" in out + err
    assert "Quince" not in out + err
    assert not (county / "pollstead.db").exists()


@pytest.mark.parametrize(
    ("more", "code"),
    [
        (["--say", "shift:S01"], 2),
        (["--say", "shift:S01=perhaps"], 2),
        (["--column", "time=voter"], 2),
        (["--same", "=S01"], 2),
        (["--day", "November"], 2),
        (["--accept", "99", "--by", "P010", "--reason", "x"], 2),
        (["--paper", "napkin"], 2),
    ],
)
def test_a_word_that_means_nothing_ends_in_one_sentence(
    county: Path, lists: tuple[Path, Path, Path], more: list[str], code: int
) -> None:
    """And nothing is written."""
    assert run(["timings", str(county), str(lists[2]), *more]) == code
    assert not (county / "pollstead.db").exists()


def test_a_step_that_several_station_types_take_is_asked_about(
    county: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without a site, check-in may be at three kinds of station; said by a person, it is one."""
    file = tmp_path / "samples.csv"
    file.write_text("step,seconds\n" + "check-in,61\ncheck-in,88\n" * 20, encoding="utf-8")
    assert run(["timings", str(county), str(file)]) == 1
    assert "--same 'check-in=ID'" in capsys.readouterr().out
    assert run(["timings", str(county), str(file), "--same", "check-in=check-in-desk"]) == 0
    assert "check-in-desk" in capsys.readouterr().out
