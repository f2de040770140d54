"""The seeded days of Larkmoor: reconcile says exactly what was planted, and nothing else."""

from __future__ import annotations

import fnmatch
import runpy
import shutil
import tomllib
from pathlib import Path

import pytest

from pollstead.cli.count_table import county_at
from pollstead.cli.county import store_of, version_of
from pollstead.cli.plan import plan_folder
from pollstead.cli.reconcile import reports_of
from pollstead.intake import read_folder
from pollstead.plan.seals.trouble import TroubleKind
from pollstead.plan.terms.now import Known
from pollstead.plan.terms.part import NoWatch
from pollstead.record.fold import fold
from pollstead.work.stock import stock_report
from pollstead.work.waits import waits_at

LARKMOOR = Path(__file__).resolve().parents[2] / "larkmoor"


@pytest.mark.full
@pytest.mark.begins_first
def test_reconcile_names_every_planted_trouble_and_nothing_else(tmp_path: Path) -> None:
    """Forty sites and eleven early days played: the notices are those of troubles.toml, one to one."""
    for path in LARKMOOR.iterdir():
        if path.suffix in (".csv", ".toml"):
            shutil.copy(path, tmp_path)
    digest = plan_folder(tmp_path, watch=NoWatch())
    election = read_folder(tmp_path).election
    assert election is not None
    with store_of(tmp_path) as store:
        plan = version_of(store, digest)
    assert plan is not None
    script = runpy.run_path(str(LARKMOOR / "day" / "seed_day.py"), run_name="seed_day")
    desk, tablets = script["office_part"](tmp_path, election, plan, digest)
    try:
        assert script["play"](desk, tablets, election, plan) > 10_000
    finally:
        desk.close()
    with store_of(tmp_path) as store:
        left = [
            (report.date.isoformat(), site.site, n.rule, n.subject, n.found)
            for report in reports_of(store, None)
            for site in report.sites
            for n in site.notices
        ]
        folded = fold(store.events.all(), store.sides.fields())
    stock = stock_report(election, plan, folded)
    # Sites put on the seals of their bags: the stock has nothing to say but the two that were swapped.
    assert [(t.kind, t.count) for t in stock.ledger.troubles] == [(TroubleKind.USED_TWICE, 1)] * 2
    told = tomllib.loads((LARKMOOR / "day" / "troubles.toml").read_text(encoding="utf-8"))
    for notice in told["notice"]:
        pattern = tuple(str(notice[key]) for key in ("day", "site", "rule", "subject", "found"))
        fits = [f for f in left if all(fnmatch.fnmatchcase(a, b) for a, b in zip(f, pattern, strict=True))]
        assert fits, f"nothing was said of {pattern}; left: {left}"
        left.remove(fits[0])
    assert left == []
    _, table, county = county_at(tmp_path)
    found = [(n.rule, n.subject, n.found, n.wanted) for n in county]
    for notice in told["county"]:
        pattern = tuple(str(notice[key]) for key in ("rule", "subject", "found", "wanted"))
        fitting = [
            f for f in found if all(fnmatch.fnmatchcase(a, b) for a, b in zip(f, pattern, strict=True))
        ]
        assert fitting, f"nothing was said of {pattern}; left: {found}"
        found.remove(fitting[0])
    assert found == []
    assert {row.mode for row in table.rows} == {"early", "election_day"}
    at = election.operating_day(election.election_day).at_wall_clock(12 * 60 + 40).utc_ms
    waits = waits_at(election, plan, folded, election.election_day, at)
    known = {one.site: one.wait.known for one in waits.sites}
    # One site stopped ringing at 11:00, one never rang; silence is no empty line.
    assert known.pop("S20") is Known.STALE
    assert known.pop("S28") is Known.NEVER_TOLD
    assert set(known.values()) == {Known.ESTIMATED}
    early = {
        told.site: sum(told.number(name) or 0 for name in ("at_check_in", "at_mark", "at_cast"))
        for site in waits.sites
        for told in site.told
        if told.at_min == 8 * 60
    }
    # The doors of S24 opened 25 minutes late; at 8 o'clock its line is the longest of all.
    assert max(early, key=lambda site: early[site]) == "S24"
