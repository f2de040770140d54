"""The seeded day of the invented county: reconcile says exactly what was planted, and nothing else."""

from __future__ import annotations

import datetime as dt
import fnmatch
import json
import runpy
import shutil
import tomllib
from pathlib import Path

import pytest
from tests.once import copied, facts_and_digest

from pollstead.cli import demo
from pollstead.cli.county import store_of, version_of
from pollstead.cli.main import run
from pollstead.cli.reconcile import reports_of
from pollstead.election.county import Election
from pollstead.reconcile.opening.states import DeviceState, ItemState

SMALL = Path(__file__).parents[2] / "small"

Planned = tuple[Path, Election, str]


@pytest.fixture(scope="module")
def planned(demo_planned: Path) -> Planned:
    """The invented county, copied and planned by the demo command's first half."""
    return demo_planned, *facts_and_digest(demo_planned)


@pytest.fixture(scope="module")
def seeded(demo_played: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the county with packets and its seeded day, by the demo command's second half."""
    return copied(demo_played, tmp_path_factory.mktemp("seeded") / "small")


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
def test_one_plan_version_gives_one_record(planned: Planned, seeded: Path, tmp_path: Path) -> None:
    """Played again, the record has the same root: keys, salts, numbers and minutes are fixed."""
    again = tmp_path / "again"
    shutil.copytree(planned[0], again)
    demo.play(again, SMALL, *planned[1:])
    heads = []
    for folder in (seeded, again):
        with store_of(folder) as store:
            heads.append(store.events.head())
    assert heads[0] == heads[1]
    assert heads[0].size > 1000


@pytest.mark.full
def test_the_demo_uses_a_finished_folder_again(seeded: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A second call changes nothing, says so, and names what to look at."""
    before = (seeded / "pollstead.db").read_bytes()
    assert run(["demo", "--folder", str(seeded), "--no-serve"]) == 0
    said = capsys.readouterr().out
    assert "is used again" in said
    assert "2028-11-07 S02: 4 to look at" in said
    assert (seeded / "pollstead.db").read_bytes() == before


def test_fresh_never_removes_a_folder_that_the_demo_did_not_make(tmp_path: Path) -> None:
    """A folder with somebody's own files stays as it is, with exit code 1."""
    mine = tmp_path / "mine"
    mine.mkdir()
    (mine / "county.toml").write_text("county = 'my own'\n", encoding="utf-8")
    assert run(["demo", "--folder", str(mine), "--fresh", "--no-serve"]) == 1
    assert run(["demo", "--folder", str(mine), "--no-serve"]) == 1
    assert (mine / "county.toml").read_text(encoding="utf-8") == "county = 'my own'\n"


@pytest.mark.full
def test_differences_never_change_the_exit_code(seeded: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The command prints the differences of a site and ends with 0; its JSON names the same notices."""
    assert run(["reconcile", str(seeded), "--site", "S01", "--day", "2028-11-07"]) == 0
    said = capsys.readouterr().out
    assert "site/S01: Every blank ballot has one place. Difference of 1." in said
    assert "Harbor Lane" not in said
    assert "Unofficial staff counts" in said
    assert run(["reconcile", str(seeded), "--json"]) == 0
    content = json.loads(capsys.readouterr().out)
    assert content["format"] == "pollstead reconcile 1"
    keys = [n["key"] for day in content["days"] for site in day["sites"] for n in site["notices"]]
    assert "balance.I1|site/S01|2028-11-07" in keys
    assert len(keys) == len(set(keys))


@pytest.mark.full
def test_no_seal_number_is_told_before_it_is_read(
    planned: Planned, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Lists are issued and nobody has opened: the JSON of reconcile holds none of the expected numbers."""
    folder, election, digest = tmp_path / "issued", *planned[1:]
    shutil.copytree(planned[0], folder)
    script = runpy.run_path(str(SMALL / "day" / "seed_day.py"), run_name="seed_day")
    with store_of(folder) as store:
        plan = version_of(store, digest)
    desk, _ = script["office_part"](folder, election, plan, digest)
    desk.close()
    capsys.readouterr()
    assert run(["reconcile", str(folder), "--json"]) == 0
    said = capsys.readouterr().out
    numbers = {seal.number for seal in election.closure_seals}
    assert len(numbers) > 100
    assert json.loads(said)["days"]
    assert [number for number in numbers if number in said] == []


def test_a_folder_without_a_record_ends_with_one(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing to compare is said with what to do next; a day that is none is a usage error."""
    assert run(["reconcile", str(tmp_path)]) == 1
    assert "pollstead plan" in capsys.readouterr().err
    assert run(["reconcile", str(tmp_path), "--day", "Tuesday"]) == 2


@pytest.mark.full
def test_the_seeded_record_checks(seeded: Path) -> None:
    """Certificates, chains, signatures and private parts of the seeded record all check."""
    from pollstead.store.exchange import check_store

    with store_of(seeded) as store:
        report = check_store(store)
    assert report.troubles == ()
