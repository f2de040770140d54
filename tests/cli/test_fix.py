"""``pollstead fix`` and ``unfix``: a decision by name, honored by the next plan, taken back by another."""

from __future__ import annotations

from pathlib import Path

import pytest

from pollstead.cli import main as command_line
from pollstead.plan.terms.part import NoWatch
from pollstead.store.opening import open_store
from pollstead.work.county_folder import version_of
from pollstead.work.overruling import decisions_standing
from pollstead.work.planning import plan_folder

TYPES = Path(__file__).parents[2] / "src" / "pollstead" / "intake" / "data" / "station_types_d.toml"
CELL = ("stations", "P1/check-in-book", "count")
WHO = ("--by", "P001", "--reason", "a second door")

pytestmark = pytest.mark.full


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A tiny county with one plan version."""
    place = tmp_path_factory.mktemp("county")
    (place / "station_types.toml").write_text(TYPES.read_text(encoding="utf-8"), encoding="utf-8")
    (place / "county.toml").write_text(
        'county = "Larkmoor"\nname = "Invented"\nelection_day = 2028-11-07\nzone = "America/Chicago"\n',
        encoding="utf-8",
    )
    (place / "sites.csv").write_text("id,name,expected_voters\nP1,Fen Hall,60\n", encoding="utf-8")
    plan_folder(place, watch=NoWatch())
    return place


def run(*arguments: str | Path) -> int:
    """Run a command in this process and give its exit code."""
    return command_line.run([str(a) for a in arguments])


def test_a_fixed_number_is_planned_and_taken_back(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Fix, fix again, plan, unfix, plan: the later decision counts, then the computed number is back."""
    assert run("fix", folder, *CELL, "2", *WHO) == 0
    assert "count at 2; the plan has 1" in capsys.readouterr().out
    assert run("fix", folder, *CELL, "3", *WHO) == 0
    with open_store(folder) as store:
        version = version_of(store, plan_folder(folder, watch=NoWatch()))
    (told,) = version.overruled
    assert (told.value, told.computed, told.reason) == ("3", "1", "a second door")
    assert version.site("P1").counts[0].count == 3
    assert not [n for n in version.notices if n.rule == "fixed-twice"]
    assert run("unfix", folder, *CELL, *WHO) == 0
    with open_store(folder) as store:
        version = version_of(store, plan_folder(folder, watch=NoWatch()))
    assert version.site("P1").counts[0].count == 1 and not version.overruled
    assert run("unfix", folder, *CELL, *WHO) == 1
    assert "Nobody fixed" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("cell", "value", "said"),
    [
        (("chairs", "P1", "count"), "3", "no table chairs"),
        (("stations", "P9/check-in-book", "count"), "3", "no row P9/check-in-book"),
        (CELL, "501", "from 0 to 500"),
        (("sites", "P1", "kind"), "palace", "one of these kinds"),
        (("devices", "device/x", "site"), "P1", "no row device/x"),
    ],
)
def test_what_cannot_be_fixed_is_refused_in_words(
    folder: Path, capsys: pytest.CaptureFixture[str], cell: tuple[str, ...], value: str, said: str
) -> None:
    """Nothing is written for a table, row or value that the plan does not have."""
    assert run("fix", folder, *cell, value, *WHO) == 1
    assert said in capsys.readouterr().err


def test_nobody_decides_without_name_and_reason(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Who and why are asked for; without them nothing is recorded."""
    with open_store(folder) as store:
        before = store.events.count()
    assert run("fix", folder, *CELL, "2") == 2 and run("unfix", folder, *CELL, "--by", "P001") == 2
    assert "--by PERSON" in capsys.readouterr().err
    with open_store(folder) as store:
        assert store.events.count() == before


def test_decisions_say_who_when_and_why(folder: Path) -> None:
    """What stands is listed with the person, the moment and the reason."""
    from pollstead.record.fold import fold

    assert run("fix", folder, *CELL, "2", *WHO) == 0
    with open_store(folder) as store:
        (one,) = decisions_standing(fold(store.events.all(), store.sides.fields()))
    assert (one.place.row, one.value, one.reason, one.person) == (
        CELL[1],
        "2",
        "a second door",
        "person/P001",
    )
    assert one.utc_ms > 0
