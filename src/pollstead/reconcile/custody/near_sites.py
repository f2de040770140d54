"""Sites that a driver or a table takes for one another: names that sound alike, one address, one number.

Another question than whether two rows are one building: "Kiln Road School" and "Mill Road School" are two
schools, and a cart for one comes to the other.
"""

from __future__ import annotations

from collections import defaultdict

from rapidfuzz import fuzz, utils

from pollstead.election.county import Election
from pollstead.election.values import Value
from pollstead.election.words import N_

ALIKE = 82
"""How alike (0 to 100, rapidfuzz's ratio over sorted words) two names must be. Our own setting."""

NAME, CAMPUS = N_("names are alike"), N_("one address")


class NearSite(Value, frozen=True, kw_only=True):
    """A site that another is taken for, and why."""

    site: str
    name: str
    why: str


def near_sites(election: Election) -> dict[str, tuple[NearSite, ...]]:
    """For each site those that are easily taken for it; sites without any are left out."""
    found: dict[str, list[NearSite]] = defaultdict(list)
    rows = [
        (site, utils.default_process(site.name), utils.default_process(site.address))
        for site in election.sites
    ]
    for place, (one, name, address) in enumerate(rows):
        for other, other_name, other_address in rows[place + 1 :]:
            if address and address == other_address:
                why = CAMPUS
            elif fuzz.token_sort_ratio(name, other_name, score_cutoff=ALIKE) > 0:
                why = NAME
            else:
                continue
            found[one.id].append(NearSite(site=other.id, name=other.name, why=why))
            found[other.id].append(NearSite(site=one.id, name=one.name, why=why))
    return {site: tuple(near) for site, near in found.items()}
