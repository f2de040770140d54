"""Which devices may be used: ready, out of service, not yet. One device stops, the others go on."""

from __future__ import annotations

from collections import defaultdict

from pollstead.election.station_type import Moment
from pollstead.election.words import N_, message
from pollstead.reconcile.observed import Observation, What
from pollstead.reconcile.opening.differences import holds_device, stops_device
from pollstead.reconcile.opening.states import DeviceResult, DeviceState, ItemResult


def device_results(
    results: tuple[ItemResult, ...], services: tuple[Observation, ...]
) -> tuple[DeviceResult, ...]:
    """A result for each device of the list (or station without one), and each one that an event names.

    `services` are the observations of devices taken out of service or brought back. What people
    recorded goes before what the rule says; two records that do not know each other leave it out.
    """
    groups: dict[str, list[ItemResult]] = defaultdict(list)
    for result in results:
        if result.moment is Moment.OPENING and (result.device or result.station):
            groups[result.device or result.station].append(result)
    events: dict[str, list[Observation]] = defaultdict(list)
    for seen in services:
        if seen.what is What.SERVICE:
            events[seen.subject].append(seen)
    for device in events:
        groups.setdefault(device, [])
    return tuple(_device(device, groups[device], tuple(events.get(device, ()))) for device in groups)


def _device(device: str, items: list[ItemResult], events: tuple[Observation, ...]) -> DeviceResult:
    station = next((item.station for item in items if item.station), "")
    differences = tuple(item.notice.key for item in items if item.notice is not None)
    waiting = tuple(item.subject for item in items if holds_device(item))
    states = {seen.state for seen in events if seen.stands}
    stopped = tuple(item for item in items if stops_device(item))
    state, recorded, why = DeviceState.READY, False, None
    if "out" in states:
        state, recorded = DeviceState.OUT_OF_SERVICE, True
        word = next(seen.value for seen in events if seen.stands and seen.state == "out")
        why = message(N_("Taken out of service: {why}."), why=word.replace("_", " "))
    elif "back" in states:
        recorded = True
        why = message(N_("Brought back into service."))
        rest = tuple(item.subject for item in items if holds_device(item) and item.notice is None)
        state = DeviceState.NOT_YET if rest else DeviceState.READY
        waiting = rest
    elif stopped:
        state = DeviceState.OUT_OF_SERVICE
        why = message(N_("By the county's rule: {words} differs."), words=stopped[0].words)
    elif waiting:
        state = DeviceState.NOT_YET
        why = message(
            N_("{count} item(s) to read, to read again or to ask the office about."), count=len(waiting)
        )
    return DeviceResult(
        device=device,
        station=station,
        state=state,
        recorded=recorded,
        why=why,
        waiting_for=waiting,
        differences=differences,
        observations=events,
    )
