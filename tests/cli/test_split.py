"""``pollstead split``: a small county's fleet split, told with its bound, accepted as one act, taken back."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from tests.split_county import make_three_sites

from pollstead.cli import main as command_line
from pollstead.plan.terms.part import NoWatch
from pollstead.store.opening import open_store
from pollstead.work.county_folder import version_of
from pollstead.work.planning import plan_folder
from pollstead.work.splitting import accepted_splits

WHO = ("--by", "P001", "--reason", "the fleet as counted in May")
QUICK = ("--days", "16", "--fresh-days", "32")

pytestmark = pytest.mark.full


def run(*arguments: str | Path) -> int:
    """Run a command in this process and give its exit code."""
    return command_line.run([str(a) for a in arguments])


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A county with fewer electronic voting units than its plan wants."""
    return make_three_sites(tmp_path_factory.mktemp("county"))


def told(capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    """What a command wrote as JSON."""
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def test_the_split_holds_the_fleet_and_is_the_same_again(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """JSON, twice: equal to the byte; the devices are those there are, less the spares."""
    assert run("split", folder, "--json", *QUICK) == 0
    first = told(capsys)
    assert run("split", folder, "--json", *QUICK, "--workers", "1") == 0
    assert told(capsys) == first
    (price,) = first["answer"]["prices"]
    (spares,) = first["spares"]
    assert price["used"] <= price["available"] == 14 - max(spares["by_share"], spares["by_risk"])
    assert price["worth_ms"] > 0
    assert first["answer"]["bound"] <= first["answer"]["value"]
    assert [row["group"] for row in first["fresh"]["areas"]] == ["north", "south"]
    assert [row["group"] for row in first["fresh"]["languages"]] == ["es", ""]


def test_the_bound_is_told_in_plain_words(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What no other split can save, what one more is worth, spares with their assumption, who waits."""
    assert run("split", folder, "--goal", "blend", *QUICK) == 0
    out = capsys.readouterr().out
    for words in ("No other split of these machines", "is worth", "assumed", "Area north", "of voters"):
        assert words in out
    for never in ("optimal", "proved"):
        assert never not in out


def test_what_moved_since_an_earlier_split_is_told(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Against itself nothing; against one more machine the site and the reason; other files are refused."""
    earlier = tmp_path / "earlier.json"
    assert run("split", folder, "--json", *QUICK) == 0
    earlier.write_text(capsys.readouterr().out, encoding="utf-8")
    assert run("split", folder, *QUICK, "--since", earlier) == 0
    assert "No site's numbers moved" in capsys.readouterr().out
    one_more = json.loads(earlier.read_text(encoding="utf-8"))
    one_more["facts"]["fleet"][0]["owned"] += 1
    one_more["answer"]["sites"][0]["counts"][1] += 1
    earlier.write_text(json.dumps(one_more), encoding="utf-8")
    assert run("split", folder, *QUICK, "--since", earlier) == 0
    out = capsys.readouterr().out
    assert "P1 moved from" in out and "electronic voting unit for the sites; before there were" in out
    earlier.write_text("{}", encoding="utf-8")
    assert run("split", folder, "--since", earlier) == 2
    assert "is no split" in capsys.readouterr().err


def test_accepting_fixes_the_numbers_in_one_act_and_the_plan_honors_them(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Who and why are asked for; afterwards the plan has the split's numbers."""
    assert run("split", folder, "--accept", *QUICK) == 2
    assert "Nothing was written" in capsys.readouterr().err
    assert run("split", folder, "--json", *QUICK, "--accept", *WHO) == 0
    wanted = {one["site"]: one["counts"] for one in told(capsys)["answer"]["sites"]}
    digest = plan_folder(folder, watch=NoWatch())
    with open_store(folder) as store:
        version = version_of(store, digest)
        (act,) = accepted_splits(store.fold(private=True))
    assert act.reason == "the fleet as counted in May"
    for site in version.sites:
        machines = next(c.count for c in site.counts if "mark" in c.step)
        assert machines == wanted[site.site][1]
    assert sum(total.short for total in version.totals if total.kind == "electronic voting unit") == 0


def test_a_fleet_too_small_and_one_that_nobody_counted(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The first names what is short and where; the second says which list is wanted."""
    (tmp_path / "small").mkdir()
    small = make_three_sites(tmp_path / "small", "electronic voting unit,2\n")
    assert run("split", small, *QUICK) == 1
    out = capsys.readouterr().out
    assert "cannot be split: electronic voting unit short by" in out and "P1 3" in out
    (tmp_path / "none").mkdir()
    none = make_three_sites(tmp_path / "none", "")
    assert run("split", none, *QUICK) == 1
    assert "Nobody has counted the fleet" in capsys.readouterr().out


def test_numbers_out_of_range_and_a_folder_without_a_plan_are_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """2 for the first, 1 for the second, in words."""
    assert run("split", tmp_path, "--days", "0") == 2
    assert run("split", tmp_path) == 1
    assert "has no plan version yet" in capsys.readouterr().err
