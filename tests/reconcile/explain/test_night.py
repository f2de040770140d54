"""What is known of a site's night is taken from the county's own facts and rules."""

from __future__ import annotations

import pytest
from tests.reconcile.conftest import DAY, CountyMaker, RecordMaker, confirmed_rules

from pollstead.election.county import Election
from pollstead.election.fault_odds import FaultKind
from pollstead.reconcile.day import DayReport, reconcile_day
from pollstead.reconcile.explain.night import at_office, explain_site, night_of
from pollstead.reconcile.explain.terms import Explained
from pollstead.record.kinds.custody import ThingSent
from pollstead.record.kinds.days import ThingReceived
from pollstead.record.kinds.supplies import SupplyPacked, SupplyTold

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


def _night(county: CountyMaker, record: RecordMaker, **other: int) -> Election:
    """Every number of the site read once; the facts of the county."""
    election = county.election()
    balance = _report(county, record, election).site("S01").balance
    assert balance is not None
    for line in balance.lines:
        value = (NIGHT | other).get(line.term.id, 0)
        record.number(line.device or "site/S01", line.term.id, value, "P001", source=line.term.source)
    return election


def _report(county: CountyMaker, record: RecordMaker, election: Election) -> DayReport:
    plan = county.plan({"ballot-scanner": 1})
    return reconcile_day(election, plan, county.lists(election, plan), record.fold(), DAY)


Ends = set[tuple[str, int | None, int | None]]


def _bounds(county: CountyMaker, record: RecordMaker, election: Election) -> Ends:
    """Key, least and most of every bound of the site."""
    report, folded = _report(county, record, election), record.fold()
    night = night_of(report.site("S01"), folded, at_office(election, report, folded))
    assert night is not None
    return {(bound.key, bound.least, bound.most) for bound in night.bounds}


def _left(record: RecordMaker, at: int, ballots: int, item: str = "ballots") -> None:
    record.write(SupplyTold(item=item, left=ballots, at_min=at, style=""), "site/S01", "P001")


def test_ballots_left_during_the_day_bound_what_was_there_and_what_is_unused(
    county: CountyMaker, record: RecordMaker
) -> None:
    """780 left at nine and 430 at four: at least 780 were there, at most 430 are unused; pens say nothing."""
    election = _night(county, record)
    assert _bounds(county, record, election) == set()
    _left(record, 540, 780)
    _left(record, 960, 430)
    _left(record, 970, 3, item="pens")
    wanted = {("ballots_received", 780, None), ("ballots_unused", None, 430)}
    assert _bounds(county, record, election) == wanted


def test_ballots_that_came_after_a_telling_may_be_unused_too(
    county: CountyMaker, record: RecordMaker
) -> None:
    """A packet of 200 came after 30 were told to be left: 230 may be unused, and 200 were brought."""
    election = _night(county, record)
    _left(record, 540, 30)
    packet = "supply/2028-11-07/1"
    record.write(SupplyPacked(to_site="site/S01", item="ballots", amount=200), packet)
    record.clock += 6 * 3_600_000  # from a quarter to four in the morning to a quarter to ten
    sent = ThingSent(from_place="place/warehouse", to_place="site/S01", expected_utc_ms=record.clock)
    record.write(sent, packet)
    assert ("ballots_unused", None, 30) in _bounds(county, record, election)
    record.write(ThingReceived(place="site/S01", state="received"), packet)
    wanted = {
        ("ballots_received", 30, None),
        ("ballots_unused", None, 230),
        ("ballots_resupplied", 200, None),
    }
    assert _bounds(county, record, election) == wanted


def test_a_telling_of_the_day_tells_received_from_unused(county: CountyMaker, record: RecordMaker) -> None:
    """One digit of either may be misread, 488 for 388 or 800 for 900; 388 left late in the day tell which."""
    election = _night(county, record, ballots_unused=488)
    before = _explained(county, record, election)
    _left(record, 1190, 388)
    after = _explained(county, record, election)

    def share(explained: Explained, key: str) -> float:
        every = [one for group in explained.groups for one in group.explanations]
        return sum(one.share for one in every if {k for f in one.faults for k in f.keys} == {key})

    assert share(before, "ballots_received") > 0.1 and share(before, "ballots_unused") > 0.1
    assert share(after, "ballots_received") < 0.1 < 0.9 < share(after, "ballots_unused")


def _explained(county: CountyMaker, record: RecordMaker, election: Election) -> Explained:
    report = _report(county, record, election)
    found = explain_site(report.site("S01"), report, record.fold(), election)
    assert found is not None
    return found.explained


@pytest.mark.parametrize(("in_a_pack", "fits"), [(50, True), (0, False), (40, False)])
def test_stock_that_is_off_by_a_pack_fits_where_ballots_come_in_packs_of_that_size(
    county: CountyMaker, record: RecordMaker, in_a_pack: int, fits: bool
) -> None:
    """Fifty unused ballots too many are a pack counted twice only where the county's packs have fifty."""
    county.rules = confirmed_rules(ballots_in_a_pack=in_a_pack)
    explained = _explained(county, record, _night(county, record))
    alone = [one.faults[0].kind for g in explained.groups for one in g.explanations if len(one.faults) == 1]
    assert (FaultKind.PACK_MISCOUNTED in alone) is fits
