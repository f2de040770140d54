"""Which precincts' voters a site takes: its own, or at a vote center those of the whole county."""

from __future__ import annotations

import datetime as dt

import msgspec
import pytest

from pollstead.election.county import Election, Hours, Precinct, Site
from pollstead.election.rules import CountyRules, RuleSetting
from pollstead.election.station_type import SiteKind
from pollstead.election.styles_at import ANYWHERE, OWN, RULE, precincts_at
from pollstead.plan.terms.deck_places import faces_by_site
from pollstead.reconcile.counts.styles import styles_here
from pollstead.reconcile.happening.supplies import styles_of

DAY = dt.date(2028, 11, 7)


def county() -> Election:
    """S01 a polling place, S02 with early voting, S03 prints on demand; one precinct each."""
    early = Hours(date=dt.date(2028, 11, 4), opens_min=540, closes_min=1080)
    on_day = Hours(date=DAY, opens_min=420, closes_min=1200)
    return Election(
        county="Larkmoor County",
        name="General",
        election_day=DAY,
        zone_name="America/New_York",
        site_kinds=(
            SiteKind(id="A", name="Polling place", uses=()),
            SiteKind(id="C", name="Vote center", uses=(), balance=("on-demand printing",)),
        ),
        sites=(
            Site(id="S01", name="Ropewalk School", kind="A", hours=(on_day,)),
            Site(id="S02", name="Ferry Hall", kind="A", hours=(early, on_day)),
            Site(id="S03", name="Southgate Library", kind="C", hours=(on_day,)),
        ),
        precincts=tuple(Precinct(id=str(n), site=f"S0{n}", styles=(f"E0{n}",)) for n in (1, 2, 3)),
    )


@pytest.mark.parametrize(("chosen", "counts"), [("", (1, 3, 3)), (OWN, (1, 1, 1)), (ANYWHERE, (3, 3, 3))])
def test_the_rule_says_where_any_voter_of_the_county_may_vote(chosen: str, counts: tuple[int, ...]) -> None:
    """Unset: at early voting and where ballots are printed on demand (common practice, no source)."""
    election = county()
    if chosen:
        rules = CountyRules(settings=(RuleSetting(rule=RULE, value=chosen),))
        election = msgspec.structs.replace(election, rules=rules)
    assert tuple(len(precincts_at(election, site)) for site in ("S01", "S02", "S03")) == counts
    for site, count in zip(("S01", "S02", "S03"), counts, strict=True):
        assert len(styles_here(election, site, (), asked=True).sheets) == count
        assert len(styles_of(election, site)) == count
    assert faces_by_site(election) == {}, "no ballot is defined, so none is tested"
