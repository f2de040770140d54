"""What offices call a column, and how alike a heading is to what we call it.

Common practice, no source; varies by county. A county's own confirmed mapping always goes first.
"""

from __future__ import annotations

import functools
import re
from types import MappingProxyType

from rapidfuzz import fuzz

from pollstead.election.station_type import StationType, VoterStep
from pollstead.election.words import N_

ALIKE_ENOUGH = 82
"""How alike (0 to 100) a heading must be to a synonym to be proposed."""

COLUMNS = MappingProxyType(
    {
        "site": (
            "site id",
            "location id",
            "place id",
            "polling place id",
            "location code",
            "site code",
            "site",
        ),
        "name": (
            "polling place",
            "polling place name",
            "polling location",
            "polling location name",
            "site name",
            "location name",
            "place name",
            "facility",
            "facility name",
            "building",
            "building name",
            "voting location",
            "vote center",
            "location",
        ),
        "address": (
            "address",
            "street address",
            "site address",
            "location address",
            "facility address",
            "polling place address",
            "street",
        ),
        "city": ("city", "town", "municipality", "city or town"),
        "area": ("area", "district", "region", "zone", "commission district", "council district"),
        "precinct": (
            "precinct",
            "precinct id",
            "precinct code",
            "precinct number",
            "precinct no",
            "precinct name",
            "pct",
            "pct no",
            "prec",
            "voting precinct",
        ),
        "precincts": ("precincts", "precincts served", "precinct list", "precincts at site"),
        "registered": (
            "registered",
            "registered voters",
            "total registered",
            "registration",
            "eligible voters",
            "active voters",
            "active registered voters",
            "number of voters",
            "voters",
            "reg voters",
        ),
        "ballots": (
            "ballots election day",
            "election day ballots",
            "election day",
            "election day voters",
            "election day turnout",
            "ballots cast election day",
            "ballots cast",
            "ballots cast at polls",
            "in person ballots",
            "polling place ballots",
            "voted at polls",
            "votes cast",
            "ballots",
        ),
        "serial": ("serial", "serial number", "serial no", "serial num", "s n", "device serial"),
        "device_kind": (
            "device kind",
            "device type",
            "equipment type",
            "machine type",
            "equipment",
            "kind",
            "type",
        ),
        "tag": ("tag", "asset tag", "property tag", "barcode", "asset number", "inventory number"),
        "count": (
            "count",
            "quantity",
            "qty",
            "how many",
            "number of units",
            "units",
            "total units",
            "on hand",
        ),
    }
)

NUMBERS = frozenset({"registered", "ballots", "count"})

MEANINGS = MappingProxyType(
    {
        "site": N_("id of the site"),
        "name": N_("name of the place"),
        "address": N_("street address"),
        "city": N_("city, added to the address"),
        "area": N_("part of the county"),
        "precinct": N_("precinct"),
        "precincts": N_("precincts of the site"),
        "registered": N_("registered voters"),
        "ballots": N_("in-person ballots of a past election day"),
        "serial": N_("serial of a device"),
        "device_kind": N_("kind of device"),
        "tag": N_("property tag"),
        "count": N_("how many devices"),
    }
)

# What offices call the devices at which a voter takes a step (words of the trade).
DEVICES = MappingProxyType(
    {
        VoterStep.CHECK_IN: (
            "electronic poll book",
            "epollbook",
            "e pollbook",
            "poll book",
            "check in tablet",
            "check in computer",
        ),
        VoterStep.MARK: ("ballot marking device", "bmd", "accessible device", "accessible voting device"),
        VoterStep.CAST: (
            "scanner",
            "ballot scanner",
            "precinct scanner",
            "optical scanner",
            "scanner counters",
            "tabulator",
        ),
        VoterStep.MARK_AND_CAST: (
            "dre",
            "dre no paper trail",
            "direct recording electronic",
            "touch screen",
            "touch screen units",
            "electronic voting machine",
            "voting machine",
        ),
        VoterStep.NONE: (),
    }
)

_COUNT_WORDS = re.compile(r"^(?:n|no|num|number of|count of|total|qty)\s+|\s+(?:count|total|qty|units)$")


def plain(heading: str) -> str:
    """A heading in lower case with single spaces between its words."""
    split = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", heading)
    return re.sub(r"[\W_]+", " ", split).strip().casefold()


def likeness(heading: str, synonyms: tuple[str, ...]) -> float:
    """How alike (0 to 100) a heading is to the nearest synonym: order of words does not matter much."""
    own = plain(heading)
    return max(
        (max(fuzz.ratio(own, word), fuzz.token_sort_ratio(own, word) - 1) for word in synonyms), default=0.0
    )


@functools.cache
def is_known_heading(heading: str) -> bool:
    """Whether a heading is like anything in the list."""
    if len(heading) > 80:
        return False
    return any(likeness(heading, words) >= ALIKE_ENOUGH for words in COLUMNS.values())


def device_words(station_types: tuple[StationType, ...]) -> dict[str, tuple[str, ...]]:
    """By kind of device: its own name, its parts' names, and what offices call devices of that step."""
    words: dict[str, tuple[str, ...]] = {}
    for station_type in station_types:
        main = True
        for part in station_type.serial_parts():
            own = (plain(part.device_kind), plain(part.name))
            step = DEVICES[station_type.step] if main else ()
            words[part.device_kind] = tuple(dict.fromkeys((*words.get(part.device_kind, ()), *own, *step)))
            main = False
    return words


def device_likeness(heading: str, words: tuple[str, ...]) -> float:
    """How alike a heading is to a kind of device, without the words that only say "how many"."""
    return likeness(_COUNT_WORDS.sub("", plain(heading)), words)
