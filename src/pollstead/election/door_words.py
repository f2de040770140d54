"""The word on the door card of each site: one word and two digits, asked for when things are handed over.

Two rooms of one name are told apart by it. It is no secret, opens nothing and belongs to no device. Our own
invention; the words are plain nouns of our choosing.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from types import MappingProxyType
from typing import Final

NOUNS: Final = (
    "ANCHOR APPLE BARREL BASKET BEACON BIRCH BLANKET BOTTLE BRIDGE BUCKET BUTTON CANDLE CANOE CARPET "
    "CEDAR CHERRY CIRCLE CLOVER COPPER COTTON CURTAIN DRAGON EAGLE ENGINE FALCON FEATHER FERRY FIDDLE "
    "FOREST GARDEN GINGER GRANITE HAMMER HARBOR HAZEL HONEY ISLAND JACKET KETTLE LADDER LANTERN LEMON "
    "LINEN LOCKET MAPLE MARBLE MEADOW MIRROR MITTEN MOUNTAIN NEEDLE NICKEL OCEAN ORANGE ORCHARD OTTER "
    "PADDLE PEPPER PILLOW PLANET POCKET QUARRY QUILT RABBIT RIBBON RIVER ROBIN ROCKET SADDLE SALMON "
    "SANDAL SHOVEL SILVER SPARROW SPRUCE SUMMER TEMPLE THIMBLE TICKET TIGER TUNNEL TURTLE VALLEY VELVET "
    "VIOLIN WAGON WALNUT WILLOW WINDOW WINTER YARN ZEBRA"
).split()
"""Words of one sound each that are not taken for one another on a phone."""

FIRST_NUMBER: Final = 12
NUMBERS: Final = 88


def door_words(sites: Iterable[str]) -> MappingProxyType[str, str]:
    """Word by site id. It follows from the id alone, so that a new site changes no card that hangs.

    Only where two ids fall on one word does the greater id take its next one; ids in any order.
    """
    found: dict[str, str] = {}
    taken: set[str] = set()
    for site in sorted(set(sites)):
        word = next(one for one in map(_word, (site,) * MOST_TRIES, range(MOST_TRIES)) if one not in taken)
        found[site] = word
        taken.add(word)
    return MappingProxyType(found)


MOST_TRIES: Final = len(NOUNS) * NUMBERS


def _word(site: str, attempt: int) -> str:
    digest = int.from_bytes(hashlib.sha256(f"door card {site} {attempt}".encode()).digest()[:8], "big")
    return f"{NOUNS[digest % len(NOUNS)]}-{FIRST_NUMBER + digest // len(NOUNS) % NUMBERS}"


def tidy_word(typed: str) -> str:
    """A word as it is compared: capitals, one dash between word and digits however it was typed."""
    return "-".join(typed.upper().replace("-", " ").split())
