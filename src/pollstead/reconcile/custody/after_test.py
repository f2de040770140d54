"""The lifetime counter that a device must show at opening: what it showed after its last test.

The tables tell it "as last recorded"; a test that the record knows is later than any table.
"""

from __future__ import annotations

import msgspec

from pollstead.plan.terms.version import PartOfStation, PlanVersion, SitePlan, Station
from pollstead.record.facts import Fold
from pollstead.record.kinds.decks import DeckCompared
from pollstead.record.kinds.stocks import DeviceTested


def counters_after_test(folded: Fold) -> dict[str, int]:
    """The lifetime counter after the last recorded test or test deck, by device, where one was read."""
    last: dict[str, tuple[int, int]] = {}
    for kind, field in ((DeviceTested.kind, "lifetime_counter"), (DeckCompared.kind, "lifetime_after")):
        for fact in folded.named(kind):
            for reading in fact.current:
                count = reading.value.get(field)
                at = folded.place_in_order[reading.event]
                if isinstance(count, int) and (fact.subject not in last or at > last[fact.subject][0]):
                    last[fact.subject] = at, count
    return {device: count for device, (_, count) in last.items()}


def as_tested(plan: PlanVersion, folded: Fold) -> PlanVersion:
    """The plan with the lifetime counters of the record, for expected lists; itself where none differ."""
    counters = counters_after_test(folded)
    if not counters:
        return plan
    sites = tuple(_site(site, counters) for site in plan.sites)
    same = all(new is old for new, old in zip(sites, plan.sites, strict=True))
    return plan if same else msgspec.structs.replace(plan, sites=sites)


def _site(site: SitePlan, counters: dict[str, int]) -> SitePlan:
    stations = tuple(_station(station, counters) for station in site.stations)
    same = all(new is old for new, old in zip(stations, site.stations, strict=True))
    return site if same else msgspec.structs.replace(site, stations=stations)


def _station(station: Station, counters: dict[str, int]) -> Station:
    parts = tuple(_part(part, counters) for part in station.parts)
    same = all(new is old for new, old in zip(parts, station.parts, strict=True))
    return station if same else msgspec.structs.replace(station, parts=parts)


def _part(part: PartOfStation, counters: dict[str, int]) -> PartOfStation:
    count = counters.get(part.device) if part.device else None
    if count is None or count == part.lifetime_counter:
        return part
    return msgspec.structs.replace(part, lifetime_counter=count)
