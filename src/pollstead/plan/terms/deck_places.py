"""Which decks a device needs: the ballots of the precincts that vote where it stands."""

from __future__ import annotations

from collections import defaultdict

from pollstead.election.county import Election


def faces_by_site(election: Election) -> dict[str, tuple[str, ...]]:
    """The keys of the faces of all precincts that vote at each site, each once, in order."""
    own = {(row.style, row.precinct) for row in election.ballot_contests}
    found: dict[str, set[str]] = defaultdict(set)
    for precinct in election.precincts:
        for style in precinct.styles:
            if (style, precinct.id) in own:
                found[precinct.site].add(f"{style}/{precinct.id}")
            elif (style, "") in own:
                found[precinct.site].add(style)
    return {site: tuple(sorted(keys)) for site, keys in found.items()}
