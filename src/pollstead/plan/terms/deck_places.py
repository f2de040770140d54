"""Which decks a device needs: the ballots of the precincts that vote where it stands."""

from __future__ import annotations

from collections import defaultdict

from pollstead.election.county import Election
from pollstead.election.styles_at import precincts_at


def faces_by_site(election: Election) -> dict[str, tuple[str, ...]]:
    """The keys of the faces of all precincts that may vote at each site, each once, in order."""
    own = {(row.style, row.precinct) for row in election.ballot_contests}
    found: dict[str, set[str]] = defaultdict(set)
    sites = {precinct.site for precinct in election.precincts}
    sites |= {site.id.removeprefix("site/") for site in election.sites}
    for site in sites:
        for precinct in precincts_at(election, site):
            for style in precinct.styles:
                if (style, precinct.id) in own:
                    found[site].add(f"{style}/{precinct.id}")
                elif (style, "") in own:
                    found[site].add(style)
    return {site: tuple(sorted(keys)) for site, keys in found.items()}
