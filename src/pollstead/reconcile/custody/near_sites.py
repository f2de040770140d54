"""Sites that a driver or a table takes for one another: names that sound alike, one address, one number.

Another question than whether two rows are one building: "Kiln Road School" and "Mill Road School" are two
schools, and a cart for one comes to the other.
"""

from __future__ import annotations

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


def near_to(election: Election, site_id: str) -> tuple[NearSite, ...]:
    """The sites that are easily taken for one site; the time is linear in the sites. () for an unknown id."""
    site = next((one for one in election.sites if one.id == site_id), None)
    if site is None:
        return ()
    name, address = utils.default_process(site.name), utils.default_process(site.address)
    found = []
    for other in election.sites:
        if other.id == site_id:
            continue
        if address and address == utils.default_process(other.address):
            found.append(NearSite(site=other.id, name=other.name, why=CAMPUS))
        elif fuzz.token_sort_ratio(name, utils.default_process(other.name), score_cutoff=ALIKE) > 0:
            found.append(NearSite(site=other.id, name=other.name, why=NAME))
    return tuple(found)
