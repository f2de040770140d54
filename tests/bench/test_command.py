"""``pollstead bench``: parts are found, get their options, and are named when one is not there."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from bench.counts import run as counts

from pollstead.cli import bench as command
from pollstead.cli.main import run

TOP = (
    "single_top1",
    "single_top3",
    "single_top1_bound",
    "double_top5",
    "false_alarms",
    "calibration_error",
    "ms_per_site",
)


def test_a_part_is_a_script_or_a_folder_with_a_run(tmp_path: Path) -> None:
    """Other folders and files beside them are no parts."""
    (tmp_path / "lines.py").write_text("", encoding="utf-8")
    (tmp_path / "counts").mkdir()
    (tmp_path / "counts" / "run.py").write_text("", encoding="utf-8")
    (tmp_path / "results").mkdir()
    assert command.parts(tmp_path) == ("counts", "lines")


def test_a_part_that_is_not_there_is_a_usage_error(capsys: pytest.CaptureFixture[str]) -> None:
    """It names the parts that are."""
    assert run(["bench", "nothing"]) == 2
    assert "counts" in capsys.readouterr().err


def test_outside_a_checkout_there_is_no_bench(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """An installed package says what it lacks instead of failing."""
    monkeypatch.setattr(command, "CHECKOUT", tmp_path)
    assert run(["bench", "counts"]) == 1
    assert "checkout" in capsys.readouterr().err


def test_a_script_gets_its_options_and_its_code_is_returned(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """What stands after the part goes to the part, options too."""
    (tmp_path / "bench").mkdir()
    (tmp_path / "bench" / "echo.py").write_text(
        "import sys\nprint(sys.argv[1:])\nsys.exit(1)\n", encoding="utf-8"
    )
    monkeypatch.setattr(command, "CHECKOUT", tmp_path)
    assert run(["bench", "echo", "--json", "-n", "3"]) == 1
    assert "['--json', '-n', '3']" in capsys.readouterr().out


def test_the_bench_of_counts_prints_its_figures_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    """A few nights through the whole bench: the keys on top, each as the worse of two generators."""
    arguments = ["--json", "--sites", "4", "--workers", "1", "--state-sites", "2", "--seed", "5"]
    assert run(["bench", "counts", *arguments]) == 0
    result = json.loads(capsys.readouterr().out)
    assert set(TOP) <= set(result)
    assert "not field accuracy" in result["what"]
    both = list(result["generators"].values())
    assert len(both) == 2
    for key in ("single_top1", "double_top5"):
        assert result[key] == min(one[key] for one in both)
    assert result["ms_per_site"] == max(one["ms_per_site"] for one in both)


@pytest.mark.parametrize("wrong", [["--sites", "0"], ["--workers", "0"]])
def test_a_number_that_makes_no_sense_is_refused(wrong: list[str]) -> None:
    """Nothing is measured on no night."""
    with pytest.raises(SystemExit) as ended:
        counts.main(wrong)
    assert ended.value.code == 2
