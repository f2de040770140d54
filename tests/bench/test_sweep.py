"""The bench of sweeps: it goes on from where it was stopped, with the same sums."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import msgspec
import pytest

from bench import sweep
from pollstead.plan.terms.spreading import InThreads


def test_a_sweep_that_was_stopped_goes_on_with_the_same_sums(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Stopped after the first chunk; sites already told are not told again."""
    monkeypatch.setattr(sweep, "SITES_A_PART", 1)
    monkeypatch.setattr(sweep, "PARTS_A_CHUNK", 1)
    keep, sites, days = tmp_path / "sums.json", 3, 2
    told: list[int] = []
    true_sweep = sweep.sweep

    def stops(given: list[tuple[int, int, int]], *more: Any, **named: Any) -> Any:
        if told and given[0][0] == 1 and named:
            raise KeyboardInterrupt
        told.append(given[0][0])
        return true_sweep(given, *more, **named)

    monkeypatch.setattr(sweep, "sweep", stops)
    with pytest.raises(KeyboardInterrupt):
        sweep.figures(sites, days, 1, sweep.begun(keep, sites, days, "c"), keep)
    monkeypatch.setattr(sweep, "sweep", true_sweep)
    half = sweep.begun(keep, sites, days, "c")
    assert half.done == 1
    sweep.figures(sites, days, 1, half, keep)
    whole = true_sweep(sweep.parts(sites, days), sweep.part, spreading=InThreads(1))
    assert half.done == sites
    assert msgspec.json.encode(sweep.begun(keep, sites, days, "c").tallies) == msgspec.json.encode(whole)
    assert half.runs == 2


def test_sums_of_another_sweep_are_not_gone_on_with(tmp_path: Path) -> None:
    """Other days or another commit: the file is named and nothing is done."""
    keep = tmp_path / "sums.json"
    keep.write_bytes(msgspec.json.encode(sweep.Kept(sites=3, days=2, commit="c", done=1)))
    assert sweep.begun(keep, 3, 2, "c").done == 1
    for other in ((3, 4, "c"), (5, 2, "c"), (3, 2, "d")):
        with pytest.raises(SystemExit, match=r"sums\.json"):
            sweep.begun(keep, *other)
