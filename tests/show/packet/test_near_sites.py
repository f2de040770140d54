"""The packing list of a site says which other site it is easily taken for."""

from __future__ import annotations

from types import ModuleType

import msgspec

from pollstead.show.packet.content import Words
from pollstead.show.packet.packing_sheet import packing


def test_the_packing_list_names_a_site_of_a_like_name(sample: ModuleType) -> None:
    """Kiln Road School names Mill Road School; beside a library the list says nothing."""
    given = sample.given("S01")
    others = [site for site in given.election.sites if site.id != "S01"]
    assert others, "the sample has more than one site"

    def warnings(first: str, second: str) -> list[str]:
        sites = tuple(
            msgspec.structs.replace(
                site, name=first if site.id == "S01" else second, address=f"{n} Long Road"
            )
            for n, site in enumerate((given.election.site("S01"), others[0]), start=1)
        )
        mine = sample.given("S01", election=msgspec.structs.replace(given.election, sites=sites))
        return [
            block.words
            for block in packing(mine).blocks
            if isinstance(block, Words) and "another site" in block.words
        ]

    told = warnings("Kiln Road School", "Mill Road School")
    assert len(told) == 1 and "Mill Road School" in told[0] and others[0].id in told[0]
    assert warnings("Kiln Road School", "Harbor Lane Library") == []
