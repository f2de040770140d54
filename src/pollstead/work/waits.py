"""The wait now at each site of a day: the plan and the counts in the record, put together and estimated."""

from __future__ import annotations

import datetime as dt
import enum
import math
from collections import defaultdict
from statistics import NormalDist
from typing import TYPE_CHECKING

import msgspec

from pollstead.election.instants import MS_PER_MINUTE
from pollstead.election.values import Value, frozen_array
from pollstead.plan import staffing
from pollstead.plan.stations.path import VoterPath, numbers_by_stage, voter_path
from pollstead.plan.terms.lines import WHOLE_PPM, ArrivalDay, Stage, StationCounts
from pollstead.plan.terms.now import (
    LineReport,
    Move,
    NowGiven,
    NowSite,
    StationChange,
    Travel,
    WaitNow,
)
from pollstead.reconcile.actions import is_confirmed
from pollstead.reconcile.happening.orders import orders_of, with_ordered_hours
from pollstead.reconcile.heard.told import as_of
from pollstead.reconcile.lines_told import LineTold, check_ins_told, lines_told
from pollstead.reconcile.observed import Observation, What, observations_of

if TYPE_CHECKING:
    from pollstead.election.county import Election, Hours
    from pollstead.election.instants import OperatingDay
    from pollstead.election.rules import CountyRules
    from pollstead.election.station_type import StationType
    from pollstead.plan.terms.demand import SiteDayDemand
    from pollstead.plan.terms.version import PlanVersion, SitePlan
    from pollstead.record.fold import Fold

RULES = ("line-stale", "line-set-up", "line-travel", "wait-limit")
DRAWS = 64
"""So many equally likely numbers of voters stand for the range that the plan gives."""
P90_SCORE = NormalDist().inv_cdf(0.9)
QUARTER_MIN = 15


class SiteWait(Value, frozen=True, kw_only=True):
    """One site: the estimate, every count that stands, its hours and planned stations by stage."""

    site: str
    name: str
    area: str
    opens_min: int
    closes_min: int
    planned: StationCounts
    wait: WaitNow
    told: tuple[LineTold, ...]


class RuleOfWaits(Value, frozen=True, kw_only=True):
    """A county rule that the estimate uses, its value in minutes, and whether anybody confirmed it."""

    rule: str
    minutes: int
    confirmed: bool


class LeftOut(enum.StrEnum):
    """What the county's rules put into the plan's lines and the estimate does not know."""

    CURB = "curbside-share"
    ACCESSIBLE_OPEN = "accessible-open"
    PATIENCE = "line-patience"


class Waits(Value, frozen=True, kw_only=True):
    """Every open site of a day as of `now_ms` (UTC), in the order of ids; moves, the most worth first.

    `starts_ms` is when the operating day began (UTC): moments of estimates count from it.
    """

    date: dt.date
    now_ms: int
    starts_ms: int
    sites: tuple[SiteWait, ...]
    moves: tuple[Move, ...]
    rules: tuple[RuleOfWaits, ...]
    left_out: tuple[LeftOut, ...] = ()

    @property
    def limit_ms(self) -> int:
        """The wait that the county's rule names as the longest a voter should have."""
        return next(one.minutes for one in self.rules if one.rule == "wait-limit") * MS_PER_MINUTE


def waits_at(
    election: Election,
    plan: PlanVersion,
    folded: Fold,
    date: dt.date,
    now_ms: int,
    *,
    observations: tuple[Observation, ...] | None = None,
    workers: int = 1,
) -> Waits:
    """The waits as the record stood at `now_ms`; orders that hold move the closing."""
    from pollstead.plan.lines import now as lines_now

    orders = tuple(one for one in orders_of(folded, date) if one.told_utc_ms <= now_ms)
    election = with_ordered_hours(election, orders, date) if orders else election
    seen = observations_of(folded) if observations is None else observations
    today = as_of((one for one in seen if one.day == date.isoformat()), now_ms)
    gathered = _Gathered(election, plan, folded, date, now_ms, today)
    answer = lines_now.run(gathered.given, plan.seed, workers)
    return Waits(
        date=date,
        now_ms=now_ms,
        starts_ms=gathered.starts_ms,
        sites=tuple(gathered.site_wait(wait) for wait in answer.sites),
        moves=answer.moves,
        rules=tuple(
            RuleOfWaits(
                rule=rule,
                minutes=election.rules.whole(rule),
                confirmed=is_confirmed(election.rules, rule, folded),
            )
            for rule in RULES
        ),
        left_out=left_out(election.rules),
    )


def left_out(rules: CountyRules) -> tuple[LeftOut, ...]:
    """What these rules ask of the lines that the estimate leaves out."""
    asked = {
        LeftOut.CURB: rules.whole("curbside-share") > 0,
        LeftOut.ACCESSIBLE_OPEN: rules.choice("accessible-open") == "yes",
        LeftOut.PATIENCE: rules.whole("line-patience") > 0,
    }
    return tuple(one for one in LeftOut if asked[one])


class _Gathered:
    """What the estimate is given, from facts, plan and record."""

    def __init__(
        self,
        election: Election,
        plan: PlanVersion,
        folded: Fold,
        date: dt.date,
        now_ms: int,
        today: tuple[Observation, ...],
    ) -> None:
        self.election, self.date = election, date
        self.day = election.operating_day(date)
        self.starts_ms = self.day.start().utc_ms
        self.types = {one.id: one for one in election.station_types}
        self.told = lines_told(folded, self.day, now_ms)
        self.check_ins = check_ins_told(today, date, now_ms)
        self.here: dict[str, list[Observation]] = defaultdict(list)
        for seen in today:
            if seen.stands:
                self.here[seen.site].append(seen)
        self.hours = {site.id: hours for site in election.sites for hours in site.hours if hours.date == date}
        self.areas = {site.id: site.area for site in election.sites}
        self.names: dict[str, str] = {}
        kinds: dict[Stage, set[str]] = defaultdict(set)
        sites = []
        for one in plan.sites:
            demand = next((d for d in one.demand if d.date == date), None)
            hours = self.hours.get(one.site)
            if demand is None or hours is None or demand.voters.p90 <= 0:
                continue
            self.names[one.site] = one.name
            path = voter_path(election.site_kind(one.kind), self.types, election.rules, {})
            for staged in path.sized:
                kinds[staged.stage] |= _device_kinds(self.types[staged.station_type])
            sites.append(self._site(one, demand, hours, path))
        rules = election.rules
        used = {seen.value for seen in today if seen.what is What.SWAPPED and seen.stands}
        held = [spare.kind for spare in plan.spares if spare.device not in used]
        check_in, mark, accessible, cast = (
            sum(kind in kinds[stage] for kind in held)
            for stage in (Stage.CHECK_IN, Stage.MARK, Stage.MARK_ACCESSIBLE, Stage.CAST)
        )
        self.given = NowGiven(
            sites=tuple(sorted(sites, key=lambda site: site.site)),
            now_ms=now_ms - self.starts_ms,
            stale_ms=rules.whole("line-stale") * MS_PER_MINUTE,
            limit_ms=rules.whole("wait-limit") * MS_PER_MINUTE,
            set_up_ms=rules.whole("line-set-up") * MS_PER_MINUTE,
            usual_travel_ms=rules.whole("line-travel") * MS_PER_MINUTE,
            spares=(check_in, mark, accessible, cast),
            travel=tuple(
                Travel(start="office", end=route.site, minutes=route.drive_min)
                for route in election.site_routes
                if route.drive_min is not None
            ),
        )
        self.planned = {site.site: site.counts for site in self.given.sites}

    def site_wait(self, wait: WaitNow) -> SiteWait:
        """An estimate with what belongs to its site."""
        hours = self.hours[wait.site]
        return SiteWait(
            site=wait.site,
            name=self.names[wait.site],
            area=self.areas.get(wait.site, ""),
            opens_min=hours.opens_min,
            closes_min=hours.closes_min,
            planned=self.planned[wait.site],
            wait=wait,
            told=self.told.get(wait.site, ()),
        )

    def _site(self, plan: SitePlan, demand: SiteDayDemand, hours: Hours, path: VoterPath) -> NowSite:
        numbers = numbers_by_stage(plan, path.sized)
        counts = _counts(numbers)
        changes = self._changes(plan, path)
        for change in changes:
            numbers[change.stage] = max(0, numbers[change.stage] + change.by)
        here = self.here[plan.site]
        share = self.election.rules.whole("opening-line-share") if path.path.check_in.limited else 0
        return NowSite(
            site=plan.site,
            seed_key=self.election.site(plan.site).key,
            path=path.path,
            day=self._with_breaks(arrival_day(self.day, demand, hours, share)),
            counts=counts,
            floor=path.floor,
            most=_counts(numbers),
            reports=self._reports(plan.site),
            changes=changes,
            opened_ms=self._moment(here, What.OPENED),
            closed_ms=self._moment(here, What.CLOSED),
        )

    def _with_breaks(self, day: ArrivalDay) -> ArrivalDay:
        """The day with the breaks and slow hours that the county's rules set."""
        rules = self.election.rules
        return msgspec.structs.replace(
            day,
            breaks=staffing.breaks(rules, day.open_ms, day.close_ms),
            absences=staffing.slow_hours(rules, day.open_ms, day.close_ms),
        )

    def _moment(self, here: list[Observation], what: What) -> int | None:
        """The earliest minute told of an opening or closing, as time since the day began."""
        told = [one.number for one in here if one.what is what and one.number is not None]
        return None if not told else self._since(min(told))

    def _since(self, minute: int) -> int:
        return self.day.at_wall_clock(minute).utc_ms - self.starts_ms

    def _reports(self, site: str) -> tuple[LineReport, ...]:
        lines = [_report(told) for told in self.told.get(site, ())]
        lines += [
            LineReport(at_ms=self._since(minute), check_ins=number, event=event)
            for minute, number, event in self.check_ins.get(site, ())
        ]
        return tuple(lines)

    def _changes(self, plan: SitePlan, path: VoterPath) -> tuple[StationChange, ...]:
        """Stations of sized stages whose device went out of service or came back today."""
        stages = {staged.station_type: staged.stage for staged in path.sized}
        stage_of = {
            part.device: stages[station.station_type]
            for station in plan.stations_on(self.date)
            if station.station_type in stages
            for part in station.parts
            if part.device
        }
        out: set[str] = set()
        found = []
        told = sorted(
            (one for one in self.here[plan.site] if one.what is What.SERVICE), key=lambda one: one.utc_ms
        )
        for one in told:
            goes = one.state == "out"
            if one.subject not in stage_of or goes == (one.subject in out):
                continue
            out ^= {one.subject}
            found.append(
                StationChange(
                    stage=stage_of[one.subject],
                    at_ms=max(0, one.utc_ms - self.starts_ms),
                    by=-1 if goes else 1,
                )
            )
        return tuple(found)


def _counts(numbers: dict[Stage, int]) -> StationCounts:
    return StationCounts(
        check_in=numbers.get(Stage.CHECK_IN, 0),
        mark=numbers.get(Stage.MARK, 0),
        mark_accessible=numbers.get(Stage.MARK_ACCESSIBLE, 0),
        cast=numbers.get(Stage.CAST, 0),
    )


def _device_kinds(station_type: StationType) -> set[str]:
    return {part.device_kind for part in station_type.parts if part.device_kind}


def _report(told: LineTold) -> LineReport:
    wait = told.number("wait_min")
    return LineReport(
        at_ms=told.at_ms,
        in_line=told.number("in_line"),
        by_stage=(told.number("at_check_in"), told.number("at_mark"), told.number("at_cast")),
        check_ins=told.number("check_ins"),
        open_stations=(
            told.number("open_check_in"),
            told.number("open_mark"),
            told.number("open_cast"),
        ),
        wait_ms=None if wait is None else wait * MS_PER_MINUTE,
        event=told.event,
    )


def arrival_day(
    day: OperatingDay, demand: SiteDayDemand, hours: Hours, opening_line_share_ppm: int
) -> ArrivalDay:
    """When voters come, from the plan's percentiles; quarters that an order added are like the last one.

    The mean of a quarter's P10, P50 and P90 stands for its share; those in line at opening, who are counted
    in the first quarter, are taken out of it. The totals are even quantiles of two half-normal laws of the
    log that meet the plan's P10, P50 and P90.
    """
    starts = day.start().utc_ms
    opens = day.at_wall_clock(hours.opens_min).utc_ms - starts
    closes = day.at_wall_clock(hours.closes_min).utc_ms - starts
    slots = max(1, math.ceil((closes - opens) / (QUARTER_MIN * MS_PER_MINUTE)))
    weights = [max(1, 1000 * (slot.p10 + slot.p50 + slot.p90)) for slot in demand.slots]
    waiting = sum(weights) * opening_line_share_ppm // WHOLE_PPM
    weights[0] = max(1, weights[0] - waiting)
    weights = (weights + [weights[-1]] * slots)[:slots]
    middle = max(1, demand.voters.p50)
    low = math.log(middle / max(1, min(demand.voters.p10, middle))) / P90_SCORE
    high = math.log(max(demand.voters.p90, middle) / middle) / P90_SCORE
    law = NormalDist()
    scores = [law.inv_cdf((k + 0.5) / DRAWS) for k in range(DRAWS)]
    totals = [round(middle * math.exp(score * (high if score > 0 else low))) for score in scores]
    return ArrivalDay(
        date=demand.date,
        open_ms=opens,
        close_ms=closes,
        slot_weights=frozen_array(weights, "int64"),
        totals=frozen_array(totals, "int64"),
        opening_line_share_ppm=opening_line_share_ppm,
    )
