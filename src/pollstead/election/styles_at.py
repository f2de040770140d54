"""Whose voters a site takes, and so which ballot styles are counted, stocked and tested there.

A polling place takes the voters of its precincts. A vote center takes any voter of the county, and so does a
site of early voting: every style may be cast there. Which sites those are is a rule of the county.
"""

from __future__ import annotations

from pollstead.election.county import Election, Precinct

RULE = "precincts-at-site"
OWN, ANYWHERE = "its own precincts", "every precinct"
ON_DEMAND = "on-demand printing"
"""The step of a kind of site that prints any voter's ballot."""


def takes_any_voter(election: Election, site: str) -> bool:
    """Whether any voter of the county may vote at a site, by the county's rule; `site` without ``site/``."""
    chosen = election.rules.choice(RULE)
    if chosen in (OWN, ANYWHERE):
        return chosen == ANYWHERE
    known = next((one for one in election.sites if one.id.removeprefix("site/") == site), None)
    if known is None:
        return False
    kind = next((one for one in election.site_kinds if one.id == known.kind), None)
    early = any(hours.date < election.election_day for hours in known.hours)
    return early or (kind is not None and ON_DEMAND in kind.balance)


def precincts_at(election: Election, site: str) -> tuple[Precinct, ...]:
    """The precincts whose voters may vote at a site: its own, or all of the county."""
    if takes_any_voter(election, site):
        return election.precincts
    return tuple(one for one in election.precincts if one.site == site)
