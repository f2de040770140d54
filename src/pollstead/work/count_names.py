"""What a table of counts may name: sites, devices, memory devices, ways of voting, styles, quantities."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from pollstead.election.words import N_
from pollstead.intake.counts.mapping import ALL_MODES, SHEETS, Meaning, Role
from pollstead.intake.counts.names import Named
from pollstead.intake.counts.results import ITEM_MODES
from pollstead.reconcile.counts.quantities import CAST, EARLY, ELECTION_DAY, REGISTRY
from pollstead.reconcile.counts.quantities import MODE_WORDS as KNOWN_MODES

if TYPE_CHECKING:
    from collections.abc import Mapping

    from pollstead.election.county import Election
    from pollstead.plan.terms.version import PlanVersion

_ENVELOPES: Final = "provisional envelopes|envelopes|provisionals|provisional"

_CALLED: Final = {
    CAST: "ballots cast|ballots|cast|ballots counted|voted ballots|public count|ballots scanned",
    SHEETS: "sheets|sheets scanned|cards cast|pages|paper sheets",
    "check_ins": "check-ins|checkins|voters checked in|checked in|signed in|voters|poll book count",
    "check_ins_cancelled": "check-ins cancelled|cancelled check-ins|canceled check-ins",
    "ballots_issued": "ballots issued|issued|ballots handed out",
    "provisional_issued": "provisional ballots|provisional issued|provisionals issued",
    "provisional": _ENVELOPES,
    "provisional_envelopes": _ENVELOPES,
    "ballots_auxiliary": "auxiliary bin|auxiliary bin ballots|unscanned ballots",
    "ballots_held_apart": "held apart|ballots held apart|set apart",
    "ballots_spoiled": "spoiled|spoiled ballots|ballots spoiled|spoilt",
    "ballots_unused": "unused|unused ballots|ballots unused|ballots left",
    "ballots_received": "ballots received|blank ballots received|ballots at opening|ballots delivered",
}
"""What offices call each quantity of the county table (common practice, no source; varies by county)."""

QUANTITY_WORDS: Final = MappingProxyType(
    {SHEETS: N_("Sheets counted")} | {one.id: one.words for one in REGISTRY}
)
"""Every quantity of a table of counts in words, as the county table says them."""

QUANTITIES: Final = tuple(
    Meaning(id=own, words=(*filter(None, _CALLED.get(own, "").split("|")), words))
    for own, words in QUANTITY_WORDS.items()
)

MODE_WORDS: Final = MappingProxyType(
    {
        ALL_MODES: KNOWN_MODES[ALL_MODES],
        **KNOWN_MODES,
        "absentee": N_("absentee and mail"),
        "provisional": N_("provisional"),
    }
)
"""Every way of voting in words."""

_MODES_CALLED: Final = {
    ALL_MODES: "all|total|all modes|all methods|all ways",
    ELECTION_DAY: "election day|ed|e-day|polls|in person election day|polling place",
    EARLY: "early|early voting|ev|advance|advance voting|early in person|in person early",
    "absentee": "absentee|mail|by mail|vote by mail|vbm|absentee by mail|postal",
    "provisional": "provisional",
}

MODES: Final = tuple(Meaning(id=own, words=tuple(words.split("|"))) for own, words in _MODES_CALLED.items())

_NO_HEADING: Final = frozenset({"provisional", "all", "total", "polls", "polling place", "ed", "ev"})
"""Words for a way of voting that in a heading mean something else, or are no word of it."""

HEADING_MODES: Final = tuple(
    Meaning(id=m.id, words=words)
    for m in MODES
    if (words := tuple(w for w in m.words if w not in _NO_HEADING))
)
"""The ways of voting by the words that may stand in a heading beside a quantity."""


def known_names(election: Election) -> tuple[Named, ...]:
    """Everything that a table of counts may name."""
    found = [Named(role=Role.SITE, id=site.id, names=(site.name,)) for site in election.sites]
    for device in election.devices:
        own = device.id.rpartition("/")[2]
        found.append(Named(role=Role.DEVICE, id=device.id, names=(device.serial, device.tag, own)))
        found += [Named(role=Role.MEMORY, id=memory, names=()) for memory in device.memory_devices]
    found += [Named(role=Role.STYLE, id=style, names=()) for style in styles_of(election)]
    found += [Named(role=Role.MODE, id=m.id, names=m.words) for m in (*MODES, *ITEM_MODES)]
    found += [Named(role=Role.QUANTITY, id=q.id, names=(*q.words, QUANTITY_WORDS[q.id])) for q in QUANTITIES]
    return tuple(found)


def styles_of(election: Election) -> tuple[str, ...]:
    """The ballot styles that the county's tables list, in order."""
    return tuple(sorted({style for precinct in election.precincts for style in precinct.styles}))


def sites_of_devices(election: Election, plan: PlanVersion | None) -> Mapping[str, str]:
    """Where each device stands: at the site of the plan, else at its home where that is a site.

    A device that stands at two sites on different days stands at neither here.
    """
    sites = {site.id for site in election.sites}
    found = {device.id: device.home for device in election.devices if device.home in sites}
    planned: dict[str, set[str]] = {}
    for site in plan.sites if plan is not None else ():
        for station in site.stations:
            for part in station.parts:
                if part.device:
                    planned.setdefault(part.device, set()).add(site.site)
    found |= {device: next(iter(at)) for device, at in planned.items() if len(at) == 1}
    for device, at in planned.items():
        if len(at) > 1:
            found.pop(device, None)
    return MappingProxyType(found)


def usual_mode(election: Election) -> str:
    """The way of voting of a number of which nobody says it: election day where no site opens earlier."""
    dates = {hours.date for site in election.sites for hours in site.hours}
    return ELECTION_DAY if dates == {election.election_day} else ALL_MODES
