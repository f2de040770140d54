"""Demand of a county: draws by site-day, assumptions, reasons."""

from __future__ import annotations

import datetime as dt

import msgspec
import numpy as np
import pytest

from pollstead.election.county import ArrivalShare, Election, Hours, PastCount, Precinct, Site
from pollstead.plan.demand.run import DemandGiven, DemandResult, run
from pollstead.plan.demand.shape import slot_weights
from pollstead.plan.demand.summary import summarize
from pollstead.plan.terms.part import Effort, NoWatch, Outcome

DAY = dt.date(2028, 11, 7)
ALL_DAY = Hours(date=DAY, opens_min=420, closes_min=1200)


def _county(**changes: object) -> Election:
    facts = Election(
        county="Larkmoor County",
        name="General election",
        election_day=DAY,
        zone_name="EST5EDT",
        invented=True,
        sites=(
            Site(id="A1", name="First Hall", hours=(ALL_DAY,)),
            Site(id="A2", name="Second Hall", hours=(ALL_DAY,)),
        ),
        precincts=(
            Precinct(id="p1", site="A1", registered=2000),
            Precinct(id="p2", site="A1", registered=1000),
            Precinct(id="p3", site="A2", registered=1500),
        ),
        history=tuple(
            PastCount(
                election=str(year), date=dt.date(year, 11, 4), unit=unit, mode="election day", ballots=b
            )
            for year in (2020, 2024)
            for unit, b in (("p1", 700), ("p2", 300), ("p3", 500))
        ),
        arrivals=(ArrivalShare(hour=7, share_ppm=600_000), ArrivalShare(hour=8, share_ppm=400_000)),
    )
    return msgspec.structs.replace(facts, **changes)


def _demand(county: Election, seed: int = 7) -> Outcome[DemandResult]:
    return run(DemandGiven(election=county), county.rules, seed, Effort.QUICK, NoWatch())


def test_precincts_are_summed_into_the_site_they_vote_at() -> None:
    """700 + 300 ballots of two precincts make about 1,000 voters at their site."""
    draws = _demand(_county()).value.draws
    assert draws.site_days[0].site == "A1"
    assert 700 < np.median(draws.totals[:, 0]) < 1400


def test_a_new_site_changes_no_other_sites_draws_of_its_own() -> None:
    """Local draws hang on the seed key: with tide and levels fixed, other sites move only by pooling."""
    county = _county()
    more = msgspec.structs.replace(
        county, sites=(*county.sites, Site(id="A3", name="Third Hall", expected_voters=400, hours=(ALL_DAY,)))
    )
    before, after = _demand(county).value.draws, _demand(more).value.draws
    assert np.array_equal(before.totals[:, 0], after.totals[:, 0])


def test_row_order_and_new_ids_with_kept_seed_keys_change_nothing() -> None:
    """The same facts in another order, or under other ids, give the same draws."""
    county = _county()
    shuffled = msgspec.structs.replace(
        county,
        sites=county.sites[::-1],
        precincts=county.precincts[::-1],
        history=county.history[::-1],
    )
    renamed = msgspec.structs.replace(
        county,
        sites=tuple(msgspec.structs.replace(s, id="Z" + s.id, seed_key=s.id) for s in county.sites),
        precincts=tuple(msgspec.structs.replace(p, site="Z" + p.site) for p in county.precincts),
    )
    expected = _demand(county).value.draws.totals
    assert np.array_equal(expected, _demand(shuffled).value.draws.totals)
    assert np.array_equal(expected, _demand(renamed).value.draws.totals)


def test_a_site_that_nobody_counted_is_an_open_item_not_a_guess() -> None:
    """Without registered, past or expected voters there is no site-day, and a notice says so."""
    county = _county(sites=(*_county().sites, Site(id="A9", name="Unknown Hall", hours=(ALL_DAY,))))
    outcome = _demand(county)
    assert [d.site for d in outcome.value.draws.site_days] == ["A1", "A2"]
    assert [n.subject for n in outcome.notices] == ["site/A9"]


def test_each_missing_list_is_an_assumption_that_names_it() -> None:
    """No arrivals, no hours, no history: three assumptions, each with the list that would replace it."""
    bare = _county(
        arrivals=(),
        history=(),
        sites=tuple(msgspec.structs.replace(s, hours=()) for s in _county().sites),
    )
    wanted = {a.list_wanted for a in _demand(bare).value.assumptions}
    assert wanted == {"arrivals.csv", "hours.csv", "history.csv"}


def test_early_days_are_split_by_the_past_days() -> None:
    """Two early days with 100 and 300 past ballots: the later gets about three times as many."""
    early = tuple(
        PastCount(
            election="2024",
            date=dt.date(2024, 11, 4) - dt.timedelta(days=d),
            unit="A1",
            mode="early",
            ballots=b,
        )
        for d, b in ((2, 100), (1, 300))
    )
    days = tuple(Hours(date=DAY - dt.timedelta(days=d), opens_min=540, closes_min=1080) for d in (2, 1))
    base = _county()
    sites = (msgspec.structs.replace(base.sites[0], hours=(*days, ALL_DAY)), base.sites[1])
    county = msgspec.structs.replace(base, sites=sites, history=(*base.history, *early))
    draws = _demand(county).value.draws
    first, second = (int(np.median(draws.totals[:, i])) for i in (0, 1))
    assert 2.0 < second / first < 4.5


def test_quarter_hours_follow_the_hours_table_and_add_up_to_the_day() -> None:
    """60 % in the first hour, 40 % in the second, and the middle of the slots adds up to about the day's."""
    assert slot_weights((ArrivalShare(hour=7, share_ppm=3), ArrivalShare(hour=8, share_ppm=1)), 420, 540) == (
        45, 45, 45, 45, 15, 15, 15, 15,
    )  # fmt: skip
    outcome = _demand(_county())
    row = summarize(outcome.value.draws, 7)[0]
    assert len(row.slots) == 52
    assert row.voters.p10 <= row.voters.p50 <= row.voters.p90
    assert sum(s.p50 for s in row.slots) == pytest.approx(row.voters.p50, rel=0.05)


def test_a_wall_clock_past_midnight_and_a_partial_slot_are_kept() -> None:
    """22:00 to 24:40 is ten full quarter hours and ten minutes."""
    weights = slot_weights((ArrivalShare(hour=22, share_ppm=15),), 22 * 60, 24 * 60 + 40)
    assert len(weights) == 11
    assert weights[-1] == 150


def test_the_reason_of_a_number_shows_the_counts_it_came_from() -> None:
    """Why so many voters: registered, each past election's ballots, the weight of the site's own past."""
    reason = next(r for r in _demand(_county()).reasons if r.subject == "site/A1")
    values = [f.value for f in reason.figures]
    assert values[0] == "3000"
    assert "1000 of 3000" in values


@pytest.mark.parametrize("site", ["A1", "A2"])
def test_the_reason_of_a_number_recomputes_it(site: str) -> None:
    """From the printed figures alone: the site's rate, the middle of its range, and the draws around it."""
    county = _county()
    past = tuple(
        msgspec.structs.replace(row, ballots=row.ballots + (90 if row.date.year == 2024 else 0))
        for row in county.history
    )
    done = _demand(msgspec.structs.replace(county, history=past))
    reason = next(r for r in done.reasons if r.subject == f"site/{site}")
    told = {f.name.partition(":")[0].partition(",")[0]: f.value for f in reason.figures}
    own, mean = (
        np.log(float(told[name]))
        for name in ("Rate of the site's own past", "Mean rate of the county's sites")
    )
    weight = float(told["Weight of the site's own past"]) / 100
    rate = np.exp(mean + weight * (own - mean)) / 100
    assert rate * 100 == pytest.approx(float(told["Rate of the site"]), rel=1e-3)
    change = float(told["Change expected of the whole county"])
    middle = float(told["Voters on election day"])
    assert int(told["Registered voters"]) * rate * change == pytest.approx(middle, rel=2e-3)
    row = next(row for row in summarize(done.value.draws, 7) if row.site == site)
    assert row.voters.p50 == pytest.approx(middle, rel=0.05)


def test_a_county_without_a_past_gives_no_site_a_past_of_its_own() -> None:
    """Where turnout is assumed for all, no reason claims that a site's own elections weigh anything."""
    done = _demand(_county(history=()))
    for reason in done.reasons:
        told = {f.name: f.value for f in reason.figures}
        assert told["Weight of the site's own past"] == "0.0"
