"""The seeded day of the invented county: reconcile says exactly what was planted, and nothing else."""

from __future__ import annotations

import datetime as dt
import fnmatch
import runpy
import shutil
import tomllib
from pathlib import Path
from typing import Any

import pytest

from pollstead.cli.county import facts_of, store_of, version_of
from pollstead.cli.plan import plan_folder
from pollstead.cli.reconcile import reports_of
from pollstead.plan.terms.part import NoWatch
from pollstead.reconcile.opening.states import DeviceState, ItemState

SMALL = Path(__file__).parents[2] / "small"
SCRIPT = SMALL / "day" / "seed_day.py"


def _seed(folder: Path, digest: str) -> Any:
    """Play the day into a planned folder; gives the record's head."""
    script = runpy.run_path(str(SCRIPT), run_name="seed_day")
    election, _ = facts_of(folder)
    with store_of(folder) as store:
        plan = version_of(store, digest)
    desk, tablets = script["office_part"](folder, election, plan, digest)
    try:
        script["packets_printed"](desk, election, plan, digest)
        script["play"](desk, tablets, election, plan)
        return desk.store.events.head()
    finally:
        desk.close()


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """The invented county, copied and planned."""
    folder = tmp_path_factory.mktemp("county") / "small"
    shutil.copytree(SMALL, folder, ignore=shutil.ignore_patterns("day", "*.py", "__pycache__"))
    return folder, plan_folder(folder, watch=NoWatch())


@pytest.fixture(scope="module")
def seeded(planned: tuple[Path, str], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The planned county with its seeded day."""
    folder = tmp_path_factory.mktemp("seeded") / "small"
    shutil.copytree(planned[0], folder)
    _seed(folder, planned[1])
    return folder


@pytest.mark.full
def test_reconcile_names_every_planted_trouble_and_nothing_else(seeded: Path) -> None:
    """The notices of all days are those of troubles.toml, one to one."""
    wanted = tomllib.loads((SMALL / "day" / "troubles.toml").read_text(encoding="utf-8"))["notice"]
    with store_of(seeded) as store:
        found = [
            (report.date.isoformat(), site.site, n.rule, n.subject, n.found)
            for report in reports_of(store, None)
            for site in report.sites
            for n in site.notices
        ]
    left = list(found)
    for notice in wanted:
        pattern = tuple(str(notice[key]) for key in ("day", "site", "rule", "subject", "found"))
        fits = [f for f in left if all(fnmatch.fnmatchcase(a, b) for a, b in zip(f, pattern, strict=True))]
        assert fits, f"nothing was said of {pattern}; left: {left}"
        left.remove(fits[0])
    assert left == []


@pytest.mark.full
def test_the_corrected_seal_shows_both_entries(seeded: Path) -> None:
    """The mistyped digit matches after the correction, and the wrong entry is still there with its author."""
    with store_of(seeded) as store:
        (report,) = reports_of(store, dt.date(2028, 11, 7))
    corrected = [
        r for r in report.site("S01").results if any(o.corrects for o in r.observations) and r.what == "seal"
    ]
    (item,) = corrected
    assert item.state is ItemState.MATCH
    wrong = [o for o in item.observations if o.replaced_by]
    assert len(wrong) == 1 and wrong[0].value != item.expected


@pytest.mark.full
def test_two_devices_of_the_seeded_day_are_out_of_service_and_the_others_go_on(seeded: Path) -> None:
    """At S02 the clock and the swapped seals stop one device each."""
    with store_of(seeded) as store:
        (report,) = reports_of(store, dt.date(2028, 11, 7))
    site = report.site("S02")
    out = [d for d in site.devices if d.state is DeviceState.OUT_OF_SERVICE]
    assert len(out) == 2
    assert all(d.recorded for d in out)
    assert {d.state for d in site.devices if d not in out} == {DeviceState.READY}
    assert site.opened.late_min == 12


@pytest.mark.full
def test_one_plan_version_gives_one_record(planned: tuple[Path, str], tmp_path: Path) -> None:
    """Played twice, the record has the same root: keys, salts, numbers and minutes are fixed."""
    heads = []
    for name in ("one", "two"):
        shutil.copytree(planned[0], tmp_path / name)
        heads.append(_seed(tmp_path / name, planned[1]))
    assert heads[0] == heads[1]


@pytest.mark.full
def test_the_seeded_record_checks(seeded: Path) -> None:
    """Certificates, chains, signatures and private parts of the seeded record all check."""
    from pollstead.store.exchange import check_store

    with store_of(seeded) as store:
        report = check_store(store)
    assert report.troubles == ()
