"""What is known of a site's night is taken from the county's own facts and rules."""

from __future__ import annotations

import pytest
from tests.reconcile.conftest import DAY, CountyMaker, RecordMaker, confirmed_rules

from pollstead.election.fault_odds import FaultKind
from pollstead.reconcile.day import reconcile_day
from pollstead.reconcile.explain.night import explain_site, odds_in, pack_sizes_in

NIGHT = {
    "ballots_received": 800,
    "ballots_unused": 388 + 50,
    "check_ins": 412,
    "ballots_issued": 412,
    "public_counter_close": 412,
    "lifetime_counter_close": 412,
    "report_count_close": 412,
    "memory_count_close": 412,
    "paper_in_box": 412,
}
"""A night without a difference but for fifty unused ballots too many; every other number is 0."""


@pytest.mark.parametrize(("in_a_pack", "fits"), [(50, True), (0, False), (40, False)])
def test_stock_that_is_off_by_a_pack_fits_where_ballots_come_in_packs_of_that_size(
    county: CountyMaker, record: RecordMaker, in_a_pack: int, fits: bool
) -> None:
    """Fifty unused ballots too many are a pack counted twice only where the county's packs have fifty."""
    county.rules = confirmed_rules(ballots_in_a_pack=in_a_pack)
    election = county.election()
    plan = county.plan({"ballot-scanner": 1})
    issued = county.lists(election, plan)
    balance = reconcile_day(election, plan, issued, record.fold(), DAY).site("S01").balance
    assert balance is not None
    for line in balance.lines:
        value = NIGHT.get(line.term.id, 0)
        record.number(line.device or "site/S01", line.term.id, value, "P001", source=line.term.source)
    report = reconcile_day(election, plan, issued, record.fold(), DAY)
    odds, packs = odds_in(election), pack_sizes_in(election)
    found = explain_site(report.site("S01"), report, record.fold(), odds, pack_sizes=packs)
    assert found is not None
    alone = [
        one.faults[0].kind for g in found.explained.groups for one in g.explanations if len(one.faults) == 1
    ]
    assert (FaultKind.PACK_MISCOUNTED in alone) is fits
