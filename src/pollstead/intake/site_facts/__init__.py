"""Rules that read the facts of a site and say what should be looked at before anybody drives there.

Each rule is a small function from the facts and one site to notices. It reads fields only, never a
name or a note, and says nothing where a field has not been told. Pure: no file, clock or setting.
"""

from __future__ import annotations

from pollstead.election.county import Election
from pollstead.election.notice import Notice
from pollstead.intake.site_facts.building import RULES as BUILDING
from pollstead.intake.site_facts.doing import RULES as DOING
from pollstead.intake.site_facts.facts import Facts, Rule
from pollstead.intake.site_facts.power import RULES as POWER
from pollstead.intake.site_facts.roads import RULES as ROADS
from pollstead.intake.site_facts.voters import RULES as VOTERS

RULES: tuple[Rule, ...] = (*BUILDING, *POWER, *DOING, *ROADS, *VOTERS)


def notices_of(election: Election) -> list[Notice]:
    """What the rules say about every site, sites in the order of their ids."""
    facts = Facts(election)
    return [
        notice
        for site in sorted(election.sites, key=lambda site: site.id)
        for rule in RULES
        for notice in rule(facts, site)
    ]
