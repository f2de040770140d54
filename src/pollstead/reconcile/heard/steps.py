"""The calls that a site is expected to make on an operating day, each with the minute by which it is heard.

Which calls and by when are the county's rules; the defaults are common practice, no source; varies by county.
"""

from __future__ import annotations

import enum

from pollstead.election.county import Hours
from pollstead.election.rules import CountyRules
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.reconcile.counts.midday import hours_of

LAST_MIN = 48 * 60 - 1


class Step(enum.StrEnum):
    """A step of a site's day that somebody tells the office, in the order of the day."""

    CREW_INSIDE = "crew_inside"
    READY_TO_OPEN = "ready_to_open"
    OPENED = "opened"
    COUNT = "count"
    CLOSED = "closed"
    ON_THE_WAY = "on_the_way"
    ARRIVED = "arrived"


STEP_WORDS = {
    Step.CREW_INSIDE: N_("crew inside"),
    Step.READY_TO_OPEN: N_("ready to open"),
    Step.OPENED: N_("doors open to voters"),
    Step.COUNT: N_("count of the hour"),
    Step.CLOSED: N_("last voter has voted"),
    Step.ON_THE_WAY: N_("on the way to the receiving table"),
    Step.ARRIVED: N_("arrived at the receiving table"),
}
RANK = {step: place for place, step in enumerate(Step)}
DOOR_STEPS = (Step.CREW_INSIDE, Step.READY_TO_OPEN, Step.OPENED)
"""Steps before which whoever opens the building is called as well."""

RULES = (
    "heard-crew",
    "heard-ready-call",
    "heard-ready",
    "heard-opened",
    "heard-counts",
    "cross-check-at",
    "heard-count",
    "heard-counters",
    "heard-closed",
    "heard-way-call",
    "closing-work",
    "receiving-due",
)
"""The county rules that decide which calls are expected, by when, and which counters they tell."""


class ExpectedCall(Value, frozen=True, kw_only=True):
    """One call that is expected: its step, and by which minute of the operating day it is heard.

    `hour_min` is the hour that a count is of; None for every other step.
    """

    step: Step
    due_min: int
    hour_min: int | None = None

    @property
    def key(self) -> str:
        """What tells the calls of a day apart: the step, with the hour of a count (``count-1200``)."""
        return self.step.value if self.hour_min is None else count_key(self.hour_min)


def count_key(hour_min: int) -> str:
    """The key of a count's call."""
    return f"{Step.COUNT.value}-{hour_min // 60:02d}{hour_min % 60:02d}"


def expected_calls(hours: Hours, rules: CountyRules) -> tuple[ExpectedCall, ...]:
    """The calls expected on one operating day of one site, in the order of the day."""
    opens, closes = hours.opens_min, hours.closes_min
    found = [_call(Step.CREW_INSIDE, opens - rules.whole("heard-crew"))]
    if rules.choice("heard-ready-call") == "yes":
        found.append(_call(Step.READY_TO_OPEN, opens - rules.whole("heard-ready")))
    found.append(_call(Step.OPENED, opens + rules.whole("heard-opened")))
    for hour in count_hours(hours, rules):
        found.append(_call(Step.COUNT, hour + rules.whole("heard-count"), hour))
    found.append(_call(Step.CLOSED, closes + rules.whole("heard-closed")))
    if rules.choice("heard-way-call") == "yes":
        found.append(_call(Step.ON_THE_WAY, closes + rules.whole("closing-work")))
        found.append(_call(Step.ARRIVED, closes + rules.whole("receiving-due")))
    return tuple(found)


def count_hours(hours: Hours, rules: CountyRules) -> tuple[int, ...]:
    """The hours whose count is phoned in, as minutes of the operating day, between opening and closing.

    Those at which check-ins are compared with counters are among them.
    """
    told = hours_of(rules.choice("heard-counts"), hours)
    return tuple(sorted({*told, *hours_of(rules.choice("cross-check-at"), hours)}))


def _call(step: Step, due_min: int, hour_min: int | None = None) -> ExpectedCall:
    return ExpectedCall(step=step, due_min=min(max(due_min, 0), LAST_MIN), hour_min=hour_min)
