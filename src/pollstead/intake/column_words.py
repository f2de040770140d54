"""What the columns of tabs made from station types, kinds of site, rules and the county mean."""

from __future__ import annotations

import re

from pollstead.election.words import N_

FIELD_WORDS: dict[str, str] = {
    "id": N_("Short name, never used again for another; kept as text"),
    "name": N_("Name as it is printed"),
    "step": N_("What a voter does here"),
    "law": N_("Shape of the service time"),
    "mean_use_hours": N_("Hours of use between two failures, on average"),
    "repair_minutes": N_("Minutes until a station that failed is back, on average"),
    "entry": N_("Whether the reader sees the expected value before typing"),
    "order": N_("In which order devices get the numbers of stations, left to right"),
    "device_kind": N_("Kind of device, as the tab devices names it"),
    "identified_by": N_("Told apart by serial, or only counted"),
    "seal_kind": N_("Kind of seal, as the tab seal_ranges names it"),
    "words": N_("What the sheet says"),
    "minutes": N_("Minutes of work"),
    "people": N_("People at once"),
    "after": N_("Ids of the steps that come before it"),
    "when": N_("When it is done"),
    "item": N_("Thing, as the supply list names it"),
    "rule": N_("Id of the rule"),
    "value": N_("Your county's value; shares in percent; blank means not set"),
    "level": N_("Whether law, directive or policy says so"),
    "source": N_("Where it is written"),
    "confirmed_by": N_("Who confirmed it; blank means nobody has"),
    "effective_from": N_("First day on which it holds"),
    "election_day": N_("Election day"),
    "zone": N_("Time zone, a name such as America/New_York"),
    "practice": N_("Whether this is a practice election"),
    "invented": N_("Whether the county is invented"),
    "applied": N_("When the seal is put on"),
    "checked": N_("When the seal is compared; several with semicolons between them"),
    "cut": N_("When the seal is cut"),
    "resealed": N_("When a new seal is put on; several with semicolons between them"),
    "lead_min": N_("Minutes that the device's clock is ahead of the reference; below 0 it is behind"),
    "fixed": N_("Number decided by the office; blank where it is computed"),
}


def words_of(path: tuple[str, ...]) -> str:
    """What a column means: words of ours where there are some, else its name in plain words."""
    last = path[-1]
    if last in FIELD_WORDS:
        return FIELD_WORDS[last]
    plain = re.sub(r"_(um|ppm|ms)$", "", last)
    return " ".join((*(part.replace("_", " ") for part in path[:-1]), plain.replace("_", " ")))
