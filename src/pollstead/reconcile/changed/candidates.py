"""Which device may take another's place: every one of its kind, ranked, with why and why not."""

from __future__ import annotations

import math

from pollstead.election.county import Device, Election
from pollstead.election.station_type import Moment, NumberPolicy, StationType
from pollstead.election.surroundings import SiteRoute
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.plan.terms.version import PlanVersion, SitePlan, Station
from pollstead.record.fold import Fold

IN_SERVICE = "in service"
METERS_PER_KM = 1000
UNTOLD = message(N_("Whether it was tested is not on record: ask before it goes."))


class StandsIn(Value, frozen=True, kw_only=True):
    """Where a device stands in the plan; empty for one that is held back."""

    site: str = ""
    station: str = ""


class Candidate(Value, frozen=True, kw_only=True):
    """One device that could take the place: where it is now, what speaks for it, what a person must weigh.

    `blocked` says why it must not be taken; such a device is shown last and cannot be chosen.
    """

    device: str
    serial: str
    tag: str
    site: str
    why: tuple[Message, ...]
    warnings: tuple[Message, ...] = ()
    blocked: tuple[Message, ...] = ()


def standing_of(plan: PlanVersion) -> dict[str, StandsIn]:
    """Every device of the plan and where it stands."""
    return {
        part.device: StandsIn(site=site.site, station=station.id)
        for site in plan.sites
        for station in site.stations
        for part in station.parts
        if part.device
    }


def candidates(
    election: Election,
    plan: PlanVersion,
    old: str,
    *,
    contradicted: frozenset[str] = frozenset(),
    tested: frozenset[str] | None = None,
) -> tuple[Candidate, ...]:
    """Every device of the kind of `old`, the best first.

    The order: what may be taken before what may not; held back before standing at a site; sealed, tested
    and with its memory devices; then the site that keeps most devices for its voters; then the nearest home,
    then the serial. `contradicted` are devices whose facts contradict one another, `tested` those with a
    test on record (None: no test is recorded for any). Raises ValueError where `old` is no device.
    """
    devices = {device.id: device for device in election.devices}
    if old not in devices:
        raise ValueError(f"no device has the id {old!r}")
    stands = standing_of(plan)
    ranker = _Ranker(election, plan, stands, stands.get(old, StandsIn()), contradicted, tested)
    same = [d for d in election.devices if d.kind == devices[old].kind and d.id != old]
    ranked = sorted((ranker.rank(device, devices[old]) for device in same), key=lambda found: found[0])
    return tuple(candidate for _, candidate in ranked)


_Rank = tuple[bool, bool, int, int, int, str]


def tested_of(folded: Fold) -> frozenset[str] | None:
    """The devices whose last test passed; None where no test of any device is on record."""
    facts = folded.named("device.tested")
    if not facts:
        return None
    return frozenset(
        fact.subject
        for fact in facts
        if fact.current and all(reading.value.get("result") == "pass" for reading in fact.current)
    )


class _Ranker:
    def __init__(
        self,
        election: Election,
        plan: PlanVersion,
        stands: dict[str, StandsIn],
        place: StandsIn,
        contradicted: frozenset[str],
        tested: frozenset[str] | None,
    ) -> None:
        self.election = election
        self.plans = {site.site: site for site in plan.sites}
        self.stands = stands
        self.place = place
        self.contradicted = contradicted
        self.tested = tested
        self.types = {t.id: t for t in election.station_types}
        self.routes = {route.site: route for route in election.site_routes}
        self.sealed: dict[str, set[tuple[str, int]]] = {}
        for seal in election.closure_seals:
            self.sealed.setdefault(seal.device, set()).add((seal.closure, seal.position))

    def rank(self, device: Device, old: Device) -> tuple[_Rank, Candidate]:
        """The device's place in the order, and what is said of it."""
        now = self.stands.get(device.id, StandsIn())
        why: list[Message] = []
        warnings: list[Message] = []
        blocked = self._blocked(device)
        if now.site:
            warnings += self._taken_from(now, device.kind)
        else:
            why.append(message(N_("Held back: it stands at no site.")))
        lacking = 0
        for good, words in (self._seals(device), self._memory(device, old), self._test(device)):
            (why if good else warnings).append(words)
            # Where no device has a test on record, none of them is ranked by it.
            lacking += not good and (self.tested is not None or words != UNTOLD)
        away, told = self._distance(device)
        if told is not None:
            why.append(told)
        rank = (bool(blocked), bool(now.site), lacking, self._urgency(now, device.kind), away, device.serial)
        return rank, Candidate(
            device=device.id,
            serial=device.serial,
            tag=device.tag,
            site=now.site,
            why=tuple(why),
            warnings=tuple(warnings),
            blocked=tuple(blocked),
        )

    def _blocked(self, device: Device) -> list[Message]:
        found = []
        if device.state != IN_SERVICE:
            found.append(message(N_("Not in service: {state}."), state=device.state))
        if device.id in self.contradicted:
            found.append(message(N_("Facts about it contradict one another.")))
        if self.place.site and self.stands.get(device.id, StandsIn()).site == self.place.site:
            found.append(message(N_("It stands at the same site already.")))
        return found

    def _station_type(self) -> StationType | None:
        plan = self.plans.get(self.place.site)
        station = _station(plan, self.place.station) if plan is not None else None
        return self.types.get(station.station_type) if station is not None else None

    def _seals(self, device: Device) -> tuple[bool, Message]:
        kind = self._station_type()
        wanted = {
            (closure.id, position)
            for closure in (kind.closures if kind is not None else ())
            if closure.applied is Moment.AFTER_TEST
            and closure.number is NumberPolicy.RECORDED
            and any(
                p.id == closure.part and p.device_kind == device.kind for p in (kind.parts if kind else ())
            )
            for position in range(1, closure.seals + 1)
        }
        there = len(wanted & self.sealed.get(device.id, set()))
        words = message(N_("Seals on record: {there} of {wanted}."), there=there, wanted=len(wanted))
        return there == len(wanted), words

    def _memory(self, device: Device, old: Device) -> tuple[bool, Message]:
        kind = self._station_type()
        wanted = kind.memory_devices.count if kind is not None and old.memory_devices else 0
        there = len(device.memory_devices)
        words = message(N_("Memory devices on record: {there} of {wanted}."), there=there, wanted=wanted)
        return there >= wanted, words

    def _test(self, device: Device) -> tuple[bool, Message]:
        if self.tested is None:
            return False, UNTOLD
        if device.id in self.tested:
            return True, message(N_("Tested."))
        return False, message(N_("No test of it is on record."))

    def _taken_from(self, now: StandsIn, kind: str) -> list[Message]:
        plan = self.plans[now.site]
        left = _of_kind(plan, kind, self.election) - 1
        found = [message(N_("{site} would keep {left} of {all}."), site=plan.name, left=left, all=left + 1)]
        if plan.waits is not None:
            here = self.plans.get(self.place.site)
            minutes = -(-plan.waits.p95_longest_wait_ms // 60_000)
            limit = plan.waits.limit_ms // 60_000
            template = N_("Longest wait planned there: {minutes} min (P95), limit {limit} min.")
            if here is not None and here.waits is not None and plan.waits.limit_ms < here.waits.limit_ms:
                template = N_(
                    "Its limit is tighter than here. Longest wait planned there: {minutes} min (P95), "
                    "limit {limit} min."
                )
            found.append(message(template, minutes=minutes, limit=limit))
        return found

    def _urgency(self, now: StandsIn, kind: str) -> int:
        """Voters of the busiest day for each device of the kind that the site would keep; 0 for a spare."""
        if not now.site:
            return 0
        plan = self.plans[now.site]
        left = _of_kind(plan, kind, self.election) - 1
        voters = max((day.voters.p50 for day in plan.demand), default=0)
        return voters // left if left else 1_000_000 + voters

    def _distance(self, device: Device) -> tuple[int, Message | None]:
        """Meters from the device's home, else the warehouse, to the place: straight, on the grid."""
        here = self.routes.get(self.place.site)
        home = self.routes.get(device.home) if device.home else None
        if here is None or here.x_m is None or here.y_m is None or (device.home and home is None):
            return 0, None
        x, y = _grid(home)
        squared = (here.x_m - x) ** 2 + (here.y_m - y) ** 2
        meters = math.isqrt(squared)
        words = message(N_("About {km} km from its home."), km=-(-meters // METERS_PER_KM))
        if not device.home:
            words = message(N_("About {km} km from the warehouse."), km=-(-meters // METERS_PER_KM))
        return meters, words


def _grid(route: SiteRoute | None) -> tuple[int, int]:
    """Where a site lies; the zero point, where the warehouse is, for none."""
    if route is None or route.x_m is None or route.y_m is None:
        return 0, 0
    return route.x_m, route.y_m


def _station(plan: SitePlan, station_id: str) -> Station | None:
    return next((s for s in plan.stations if s.id == station_id), None)


def _of_kind(plan: SitePlan, kind: str, election: Election) -> int:
    """Devices of a kind that stand at a site."""
    kinds = {device.id: device.kind for device in election.devices}
    return sum(kinds.get(part.device) == kind for station in plan.stations for part in station.parts)
