"""The fleet as it stands: stays, work in between, carts, spares, what is short, from plan and record."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from pollstead.election.values import Value
from pollstead.plan.stations.carts import CartList, cart_lists
from pollstead.plan.stations.edges import DeviceState, Evidence, lacks, state_of
from pollstead.plan.stations.timeline import Between, DeviceTimeline, timelines
from pollstead.reconcile.custody.pairs import PairState, warehouse

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.election.words import Message
    from pollstead.plan.terms.version import PlanVersion
    from pollstead.reconcile.custody.pairs import Warehouse
    from pollstead.record.facts import Fold


class SiteShort(Value, frozen=True, kw_only=True):
    """Places of one kind of device that stay empty at a site; `early`: before election day."""

    site: str
    kind: str
    count: int
    early: bool


class FleetReport(Value, frozen=True, kw_only=True):
    """Every device with its days, every cart, the spares by device id, what is short by site."""

    lines: tuple[DeviceTimeline, ...]
    carts: tuple[CartList, ...]
    spares: tuple[str, ...]
    short: tuple[SiteShort, ...]
    evidence: tuple[tuple[str, Evidence], ...] = ()

    def _of(self, device: str) -> Evidence:
        return next((found for name, found in self.evidence if name == device), Evidence())

    def state(self, device: str) -> DeviceState:
        """How far a device that is deployed again has come, by the record."""
        return state_of(self._of(device))

    def lacks(self, device: str) -> tuple[Message, ...]:
        """What lacks before it may count election day's ballots."""
        return lacks(self._of(device), DeviceState.ELECTION_DAY)


def fleet_report(election: Election, plan: PlanVersion, folded: Fold | None) -> FleetReport:
    """The fleet by this plan version and the facts that it was made from."""
    lines = timelines(election, plan)
    sites_of = {line.device.id: tuple(stay.site for stay in line.stays) for line in lines}
    told = None if folded is None else warehouse(folded)
    return FleetReport(
        lines=lines,
        carts=cart_lists(election.devices, election.carts, sites_of),
        spares=tuple(spare.device for spare in plan.spares),
        short=_short(election, plan),
        evidence=tuple(
            (work.device, _evidence(election, plan, work, folded, told))
            for line in lines
            for work in line.between
        ),
    )


def _short(election: Election, plan: PlanVersion) -> tuple[SiteShort, ...]:
    kinds = {(t.id, part.id): part.device_kind for t in election.station_types for part in t.parts}
    empty: Counter[tuple[str, str, bool]] = Counter()
    for site in plan.sites:
        for station in site.stations:
            for part in station.parts:
                if part.by_serial and not part.device:
                    kind = kinds.get((station.station_type, part.part), part.name)
                    empty[site.site, kind, station.last_day is not None] += 1
    return tuple(
        SiteShort(site=site, kind=kind, count=count, early=early)
        for (site, kind, early), count in sorted(empty.items())
    )


def _evidence(
    election: Election, plan: PlanVersion, work: Between, folded: Fold | None, told: Warehouse | None
) -> Evidence:
    """What the record shows of one device after its last early day: only what came after counts."""
    device = next(d for d in election.devices if d.id == work.device)
    if folded is None or told is None:
        return Evidence(seals_wanted=work.seals, holds_memory=bool(device.memory_devices))
    ended = election.operating_day(work.after).start().utc_ms
    closed = any(
        reading.utc_ms >= ended
        for fact in folded.of_subject(f"site/{work.from_site}")
        if fact.name == "site.closed" and fact.day == work.after.isoformat()
        for reading in fact.current
    )
    out = {
        fact.subject.rpartition("/")[2]
        for fact in folded.named("memory_device.packed")
        for reading in fact.current
        if reading.utc_ms >= ended and reading.value.get("state") == "in_case"
    }
    test = told.test(work.device)
    after = test if test is not None and test.utc_ms >= ended else None
    own = f"closure/{work.device.removeprefix('device/')}/"
    sealed = sum(
        1
        for position in told.positions
        if position.closure.startswith(own)
        and position.state is PairState.MATCHED
        and all(word.utc_ms >= ended for word in position.words)
    )
    return Evidence(
        closed=closed,
        memory_out=bool(device.memory_devices) and set(device.memory_devices) <= out,
        tested=after is not None and after.passed,
        zero=after is not None and after.zero == "zero",
        sealed=sealed,
        seals_wanted=work.seals,
        holds_memory=bool(device.memory_devices),
    )
