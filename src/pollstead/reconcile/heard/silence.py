"""*Not heard from*: which expected calls came by a moment, which are overdue, and whom to call next.

Pure, and the same whatever the order of the events. A later step that was heard settles the earlier
ones: nobody is called to ask whether the crew is inside once the doors are open.
"""

from __future__ import annotations

import datetime as dt
import enum
from collections import defaultdict

from pollstead.election.county import Election, Hours
from pollstead.election.instants import MS_PER_MINUTE, Instant, OperatingDay
from pollstead.election.rules import BY_ID
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.plan.terms.version import PlanVersion, SitePlan
from pollstead.reconcile.actions import is_confirmed
from pollstead.reconcile.day import Minute, dates_of, minute_of
from pollstead.reconcile.happening.incidents import Incident, incidents_of
from pollstead.reconcile.happening.orders import orders_of, with_ordered_hours
from pollstead.reconcile.happening.site_lost import lost_of_site
from pollstead.reconcile.heard.callees import (
    Callee,
    Try,
    next_to_call,
    people_to_call,
    tries_about,
    with_tries,
)
from pollstead.reconcile.heard.steps import DOOR_STEPS, RANK, RULES, ExpectedCall, Step, expected_calls
from pollstead.reconcile.heard.told import Word, as_of, words_of
from pollstead.reconcile.observed import Observation, What, observations_of
from pollstead.reconcile.paper.keyed import counting
from pollstead.reconcile.readiness.heard import Calls
from pollstead.record.fold import Fold


class CallState(enum.StrEnum):
    """How an expected call stands at a moment."""

    HEARD = N_("heard")
    SETTLED = N_("settled by another entry")
    NOT_DUE = N_("not due yet")
    OVERDUE = N_("overdue")


class CallHeard(Value, frozen=True, kw_only=True):
    """One expected call at a moment, with every word about it; `late_min` is 0 unless it is overdue."""

    call: ExpectedCall
    state: CallState
    due_ms: int
    late_min: int
    words: tuple[Word, ...]


class RuleUsed(Value, frozen=True, kw_only=True):
    """A county rule that an expected-by minute was made from, and whether anybody has confirmed it."""

    rule: str
    value: int | str
    confirmed: bool

    @property
    def words(self) -> str:
        """What the rule's parameter means."""
        return BY_ID[self.rule].words

    @property
    def unit(self) -> str:
        """The parameter's unit."""
        return BY_ID[self.rule].unit


class SiteHeard(Value, frozen=True, kw_only=True):
    """One site on one operating day at a moment.

    `voters` are the planned voters of the day (P50). `calls` is empty where no hours are told. `lost_min`
    are the lost minutes of the site, those of incidents too; while no opening is told (`lost_running`) the
    minutes since the due opening. None where two minutes differ, none was told, or no hours are. `last` is
    the last word; `callees` are in the order to call.
    """

    site: str
    name: str
    area: str
    voters: int
    hours: Hours | None
    calls: tuple[CallHeard, ...]
    opened: Minute
    lost_min: int | None
    lost_running: bool
    last: Word | None
    callees: tuple[Callee, ...]
    tries: tuple[Try, ...]

    @property
    def overdue(self) -> tuple[CallHeard, ...]:
        """The overdue calls, in the order of the day."""
        return tuple(one for one in self.calls if one.state is CallState.OVERDUE)

    @property
    def late_min(self) -> int:
        """Minutes since the earliest overdue call was due; 0 where none is."""
        return max((one.late_min for one in self.overdue), default=0)

    @property
    def stake(self) -> int:
        """Late minutes times planned voters, for the order; without a number of voters, the minutes alone."""
        return self.late_min * max(1, self.voters)

    @property
    def next_call(self) -> Callee | None:
        """Whom to call next."""
        return next_to_call(self.callees)

    @property
    def next_due(self) -> CallHeard | None:
        """The next call to be heard: the earliest overdue, else the earliest not due yet."""
        return next((o for o in self.calls if o.state in (CallState.OVERDUE, CallState.NOT_DUE)), None)


class HeardList(Value, frozen=True, kw_only=True):
    """Every open site of one operating day at a moment, the longest silence times voters first."""

    date: dt.date
    now_ms: int
    sites: tuple[SiteHeard, ...]
    rules: tuple[RuleUsed, ...]

    @property
    def silent(self) -> tuple[SiteHeard, ...]:
        """The sites with an overdue call."""
        return tuple(site for site in self.sites if site.overdue)

    @property
    def unconfirmed(self) -> tuple[RuleUsed, ...]:
        """The rules that nobody has confirmed."""
        return tuple(rule for rule in self.rules if not rule.confirmed)


def heard_list(
    election: Election,
    plan: PlanVersion,
    folded: Fold,
    date: dt.date,
    now_ms: int,
    *,
    observations: tuple[Observation, ...] | None = None,
) -> HeardList:
    """The sites of the plan that are open on `date`, as the record stood at `now_ms`.

    `election` has hours, rules and people as they are now; orders that hold move the closing. `observations`
    are those of `folded`.
    """
    told = tuple(one for one in orders_of(folded, date) if one.told_utc_ms <= now_ms)
    election = with_ordered_hours(election, told, date) if told else election
    seen = observations_of(folded) if observations is None else observations
    today = counting(as_of((one for one in seen if one.day == date.isoformat()), now_ms))
    at: dict[str, list[Observation]] = defaultdict(list)
    for one in today:
        at[one.site].append(one)
    calls = Calls(folded)
    incidents = tuple(one for one in incidents_of(folded, date) if one.told_utc_ms <= now_ms)
    sites = [
        _site(election, one, date, now_ms, tuple(at[one.site]), calls, folded, incidents)
        for one in plan.sites
        if date in dates_of(election, one)
    ]
    sites.sort(key=lambda one: (not one.overdue, -one.stake, -one.late_min, one.site))
    rules = tuple(
        RuleUsed(
            rule=rule,
            value=election.rules.setting(rule).value,
            confirmed=is_confirmed(election.rules, rule, folded),
        )
        for rule in RULES
    )
    return HeardList(date=date, now_ms=now_ms, sites=tuple(sites), rules=rules)


def _site(
    election: Election,
    plan: SitePlan,
    date: dt.date,
    now_ms: int,
    here: tuple[Observation, ...],
    calls: Calls,
    folded: Fold,
    incidents: tuple[Incident, ...],
) -> SiteHeard:
    clock = OperatingDay(date=date, zone_name=election.zone_name)
    known = next((one for one in election.sites if one.id == plan.site), None)
    hours = next((h for h in known.hours if h.date == date), None) if known is not None else None
    words = words_of(here, clock.start().utc_ms)
    expected = () if hours is None else expected_calls(hours, election.rules)
    heard = tuple(_call(one, words, clock, now_ms) for one in expected)
    late = [one for one in heard if one.state is CallState.OVERDUE]
    asked = next((o for o in heard if o.state in (CallState.OVERDUE, CallState.NOT_DUE)), None)
    door = asked is None or asked.call.step in DOOR_STEPS
    last = words[-1] if words else None
    # Calls about an earlier silence that ended say nothing of who was tried in this one.
    since = max(clock.start().utc_ms, last.utc_ms if last is not None and late else 0)
    tries = tries_about(calls, plan.site, since, now_ms)
    opened = minute_of(election, plan.site, date, here, What.OPENED)
    lost, running = _lost(opened, heard, clock, now_ms)
    if not running and lost is not None and hours is not None:
        # Minutes lost are counted in one place, whoever tells them.
        lost = lost_of_site(
            folded,
            date,
            plan.site,
            incidents,
            hours=(hours.opens_min, hours.closes_min),
            told=opened.values,
            now_min=clock.wall_clock_of(Instant(utc_ms=now_ms)),
        ).site_min
    return SiteHeard(
        site=plan.site,
        name=plan.name,
        area="" if known is None else known.area,
        voters=next((day.voters.p50 for day in plan.demand if day.date == date), 0),
        hours=hours,
        calls=heard,
        opened=opened,
        lost_min=lost,
        lost_running=running,
        last=last,
        callees=with_tries(people_to_call(election, plan.site, door=door), tries),
        tries=tries,
    )


def _call(call: ExpectedCall, words: tuple[Word, ...], clock: OperatingDay, now_ms: int) -> CallHeard:
    due_ms = clock.at_wall_clock(call.due_min).utc_ms
    mine = tuple(word for word in words if word.key == call.key)
    if any(not word.aside for word in mine):
        state = CallState.HEARD
    elif mine or any(_later(word.key, call) for word in words):
        state = CallState.SETTLED
    else:
        state = CallState.OVERDUE if now_ms > due_ms else CallState.NOT_DUE
    late = (now_ms - due_ms) // MS_PER_MINUTE if state is CallState.OVERDUE else 0
    return CallHeard(call=call, state=state, due_ms=due_ms, late_min=late, words=mine)


def _later(key: str, call: ExpectedCall) -> bool:
    """Whether a word about `key` tells that the step of `call` is behind the site."""
    step, _, hour = key.partition("-")
    if Step(step) is call.step:
        return call.hour_min is not None and hour > call.key.partition("-")[2]
    return RANK[Step(step)] > RANK[call.step]


def _lost(
    opened: Minute, heard: tuple[CallHeard, ...], clock: OperatingDay, now_ms: int
) -> tuple[int | None, bool]:
    """Minutes from the due opening to the one told, or to the moment while none is; and which of the two."""
    if opened.set_min is None or len(opened.values) > 1:
        return None, False
    if opened.late_min is not None:
        return max(0, opened.late_min), False
    told = next((one for one in heard if one.call.step is Step.OPENED), None)
    if told is None or told.state is CallState.SETTLED:
        return None, False
    since = now_ms - clock.at_wall_clock(opened.set_min).utc_ms
    return (since // MS_PER_MINUTE, True) if since > 0 else (0, False)
