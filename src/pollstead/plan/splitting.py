"""What the split of the fleet is given: sites, fleet and bounds as a plan version and its facts say."""

from __future__ import annotations

from collections import Counter
from typing import Final

from pollstead.election.county import Assumption, Election, Site
from pollstead.election.identity import make_id
from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.rules import RuleLevel
from pollstead.election.station_type import StationType
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.plan import inputs
from pollstead.plan.lines.spares import FailureHours, KindSpares, kind_spares
from pollstead.plan.planned_lines import sizing_again
from pollstead.plan.sizing import site_lines, wait_limit
from pollstead.plan.stations.early import phases_of
from pollstead.plan.terms.lines import SIZED, Stage
from pollstead.plan.terms.part import Watch, plain
from pollstead.plan.terms.split import Counts, FleetKind, Goal, SiteBound, SplitGiven, SplitSite
from pollstead.plan.terms.stations import SiteCounts
from pollstead.plan.terms.version import PlanVersion, Told

ASSUMED_HOURS_BETWEEN: Final = 1_500
"""Hours of use between failures until somebody counts. Common practice, no source; varies by county."""

LOAD_PERCENT: Final = 80
"""Share of a circuit that a load of three hours or more may take: a breaker of 125 % of it.

NFPA 70, 210.19(A)(1) and 210.20(A), from memory. A licensed electrician or the building's engineer confirms.
"""

UM_PER_FOOT: Final = 304_800
MS_PER_HOUR: Final = 3_600_000


class StagedStation(Value, frozen=True, kw_only=True):
    """The station type behind each stage of a site that the split may choose, in the order of `SIZED`."""

    site: str
    types: tuple[str, str, str, str]


class Splitting(Value, frozen=True, kw_only=True):
    """The split's input with what stands behind it.

    `no_number` are the kinds of device that stations take and that nobody has counted: the split leaves
    their stations as planned.
    """

    given: SplitGiven
    staged: tuple[StagedStation, ...]
    spares: tuple[KindSpares, ...]
    assumptions: tuple[Assumption, ...]
    no_number: tuple[str, ...]
    notices: tuple[Notice, ...] = ()


def splitting_of(
    election: Election,
    version: PlanVersion,
    told: Told,
    watch: Watch,
    *,
    goal: Goal = Goal.TOTAL,
    within_ppm: int = 100_000,
    stay_ms: int = 0,
    days: int = 64,
    spare_share_ppm: int | None = None,
    run_out_ppm: int | None = None,
) -> Splitting:
    """The split's input for a plan version; demand is drawn again from its seed, as the plan has it.

    `spare_share_ppm` and `run_out_ppm` stand for the rules `spare-share` and `spare-run-out`: None takes the
    county's own.
    """
    making = _Making(election, version, told, watch)
    if spare_share_ppm is not None:
        making.spare_share_ppm = spare_share_ppm
    if run_out_ppm is not None:
        making.run_out_ppm = max(1, run_out_ppm)
    return making.splitting(goal, within_ppm, stay_ms, days)


class _Making:
    """One input while it is being put together."""

    def __init__(self, election: Election, version: PlanVersion, told: Told, watch: Watch) -> None:
        self.election, self.version = election, version
        self.types: dict[str, StationType] = {t.id: t for t in election.station_types}
        self.areas = {site.id: site.area for site in election.sites}
        self.sizing = sizing_again(election, version, told, watch)
        self.plans = {plan.site: plan for plan in version.sites}
        self.sites = sorted(self.sizing.sites, key=lambda site: site.key)
        self.days = inputs.arrival_days(election, self.sizing.draws)
        self.paths = {site.id: self.sizing.path(site, self.sizing.fixed.of(site.id)) for site in self.sites}
        self.owned = {total.kind: total.owned for total in version.totals}
        self.assumptions: list[Assumption] = []
        self.notices: list[Notice] = []
        self.spare_share_ppm = election.rules.whole("spare-share")
        self.run_out_ppm = max(1, election.rules.whole("spare-run-out"))

    def splitting(self, goal: Goal, within_ppm: int, stay_ms: int, days: int) -> Splitting:
        used = sorted({kind for site in self.sites for kind in self._kinds_of(site)})
        known = [kind for kind in used if self.owned.get(kind) is not None]
        spares = tuple(self._spares(kind) for kind in known)
        setting = self.election.rules.setting("spare-share")
        policy = setting.level in (RuleLevel.POLICY, RuleLevel.ASSUMED)
        fleet = tuple(
            FleetKind(
                id=one.kind,
                owned=one.owned,
                held_back=min(one.held, one.owned),
                elsewhere=self._elsewhere(one.kind),
                # What the county's law or a directive asks to hold back has no price.
                hold_back_is_policy=policy or one.by_share <= one.by_risk,
            )
            for one in spares
        )
        limit = wait_limit(self.election.rules)
        sites = tuple(
            SplitSite(
                lines=site_lines(site, self.paths[site.id], self.days[site.id], limit),
                takes=tuple(self._takes(site, kind.id) for kind in fleet),
                has=self._has(site),
                law_floor=self._law_floor(site),
                bounds=self._bounds(site),
                area=site.area,
                languages=site.language_assistance,
            )
            for site in self.sites
        )
        return Splitting(
            given=SplitGiven(
                fleet=fleet, sites=sites, goal=goal, within_ppm=within_ppm, stay_ms=stay_ms, days=days
            ),
            staged=tuple(StagedStation(site=site.id, types=self._staged(site)) for site in self.sites),
            spares=spares,
            assumptions=tuple(self.assumptions),
            no_number=tuple(kind for kind in used if self.owned.get(kind) is None),
            notices=tuple(self.notices),
        )

    def _staged(self, site: Site) -> tuple[str, str, str, str]:
        by_stage = {one.stage: one.station_type for one in self.paths[site.id].sized}
        a, b, c, d = (by_stage.get(stage, "") for stage in SIZED)
        return (a, b, c, d)

    def _kinds_of(self, site: Site) -> set[str]:
        """The kinds of device at the stages that the split may choose."""
        types = [self.types[t] for t in self._staged(site) if t]
        return {part.device_kind for t in types for part in t.serial_parts()}

    def _devices(self, site: Site, station_type: str, kind: str) -> int:
        """Devices of a kind that one station of a type takes at a site: twice where early ones stay apart."""
        each = sum(
            part.per_station for part in self.types[station_type].serial_parts() if part.device_kind == kind
        )
        if not each:
            return 0
        dates = [day.date for day in self.days[site.id]]
        told = SiteCounts(
            site=site.id,
            key=site.key,
            counts=(),
            early=tuple(date for date in dates if date < self.election.election_day),
            late=tuple(date for date in dates if date >= self.election.election_day),
        )
        phases = phases_of(self.types[station_type], told, self.election.early_devices, self.election.rules)
        return each * sum(1 for phase in phases if not phase.again)

    def _takes(self, site: Site, kind: str) -> Counts:
        a, b, c, d = (self._devices(site, t, kind) if t else 0 for t in self._staged(site))
        return (a, b, c, d)

    def _elsewhere(self, kind: str) -> int:
        """Devices at stations whose number does not follow from lines."""
        return sum(
            count * self._devices(site, station_type, kind)
            for site in self.sites
            for station_type, count in self.paths[site.id].set
        )

    def _has(self, site: Site) -> Counts:
        """The plan's numbers; 0 where nobody can stand in line."""
        planned = {count.station_type: count.count for count in self.plans[site.id].counts}
        limited = self.paths[site.id].path.limited()
        staged = self._staged(site)
        a, b, c, d = (planned.get(t, 0) if can and t else 0 for t, can in zip(staged, limited, strict=True))
        return (a, b, c, d)

    def _law_floor(self, site: Site) -> Counts:
        """The least numbers that are not the office's own choice: one, accessible ones as the rule says."""
        accessible = self.election.rules.whole("accessible-stations")
        floor = []
        for stage, station_type in zip(SIZED, self._staged(site), strict=True):
            marks = stage in (Stage.MARK, Stage.MARK_ACCESSIBLE)
            is_accessible = bool(station_type) and self.types[station_type].accessible and marks
            floor.append(max(1, accessible) if is_accessible else 1)
        a, b, c, d = floor
        return (a, b, c, d)

    def _bounds(self, site: Site) -> tuple[SiteBound, ...]:
        """What is known of the room's floor and the circuits, less the stations with a set number."""
        bounds = []
        if site.room_width_um is not None and site.room_depth_um is not None:
            room = -(-site.room_width_um * site.room_depth_um // UM_PER_FOOT**2)
            bounds.append(self._bound(site, N_("floor"), N_("sq ft"), room))
        circuits = [c for c in self.election.circuits if c.site == site.id and not c.shared_with]
        if circuits:
            watts = sum(c.amps * c.volts for c in circuits) * LOAD_PERCENT // 100
            bounds.append(self._bound(site, N_("power"), N_("W"), watts))
        return tuple(bound for bound in bounds if any(bound.each))

    def _bound(self, site: Site, name: str, unit: str, most: int) -> SiteBound:
        def need(station_type: str) -> int:
            kind = self.types[station_type]
            if name == "power":
                return 0 if kind.power is None else kind.power.peak_w
            if kind.footprint is None:
                return 0
            # Rounded down: the floor is a bound that surely holds, not a drawing of the room.
            depth = kind.footprint.depth_um + kind.footprint.clear_front_um
            return kind.footprint.width_um * depth // UM_PER_FOOT**2

        set_apart = sum(need(t) * count for t, count in self.paths[site.id].set)
        limited = self.paths[site.id].path.limited()
        planned = {count.station_type: count.count for count in self.plans[site.id].counts}
        staged = self._staged(site)
        # A step without a line keeps the number that the plan gives it.
        set_apart += sum(
            need(t) * planned.get(t, 0) for t, can in zip(staged, limited, strict=True) if t and not can
        )
        a, b, c, d = (need(t) if t and can else 0 for t, can in zip(staged, limited, strict=True))
        taken = sum(x * y for x, y in zip((a, b, c, d), self._has(site), strict=True))
        if taken > most - set_apart:
            # What the plan has stands; the split sends nothing further there.
            self.notices.append(_over_bound(site, name, unit, taken + set_apart, most))
        return SiteBound(name=name, unit=unit, each=(a, b, c, d), most=max(most - set_apart, taken))

    def _spares(self, kind: str) -> KindSpares:
        at_sites: Counter[str] = Counter()
        hours = 1
        told: list[tuple[bool, int]] = []
        for site in self.sites:
            area = self.areas[site.id]
            for standing in self.plans[site.id].counts:
                t = standing.station_type
                devices = standing.count * self._devices(site, t, kind)
                if not devices:
                    continue
                at_sites[area] += devices
                for day in self.days[site.id]:
                    hours = max(hours, -(-(day.close_ms - day.open_ms) // MS_PER_HOUR))
                failure = self.types[t].failure
                if failure is not None:
                    told.append((failure.assumed, failure.mean_use_hours))
        # What was counted goes before what was assumed; of several the most failures.
        assumed, between = min(told, default=(True, ASSUMED_HOURS_BETWEEN))
        if assumed:
            self.assumptions.append(
                Assumption(
                    subject=f"device/{kind}",
                    field="failure",
                    value=f"{between} h",
                    why=message(N_("Nobody has counted the failures of this kind of device.")),
                    list_wanted="station_types.toml",
                )
            )
        return kind_spares(
            kind,
            self.owned[kind] or 0,
            dict(at_sites),
            hours=hours,
            failures=FailureHours(hours_between=between, own=not assumed),
            share_ppm=self.spare_share_ppm,
            risk_ppm=self.run_out_ppm,
        )


def _over_bound(site: Site, name: str, unit: str, taken: int, most: int) -> Notice:
    return Notice(
        kind=NoticeKind.OPEN_ITEM,
        rule="split-bound-passed",
        subject=make_id("site", site.id),
        day=name,
        text=message(
            N_("The stations planned here take {taken} {unit} of {what}; entered are {most}."),
            taken=plain(taken),
            unit=unit,
            what=name,
            most=plain(most),
        ),
        found=plain(taken),
        wanted=plain(most),
        remedy=message(N_("Look at what was entered, and ask whoever decides; the split adds nothing here.")),
        depends=(name, str(taken), str(most)),
    )
