"""What changed between two splits: which sites gain or lose, and why."""

from __future__ import annotations

import enum
import hashlib
from typing import TYPE_CHECKING

import msgspec

from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.plan.lines.words import minutes
from pollstead.plan.terms.split import Counts, FleetKind, Goal, SplitAnswer, SplitGiven, SplitSite

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pollstead.plan.terms.lines import ArrivalDay


class Why(enum.StrEnum):
    """Why a site's numbers moved."""

    ITS_VOTERS = "its voters"
    ITS_PATH = "its stations"
    ITS_BOUNDS = "its bounds"
    THE_FLEET = "the fleet"
    THE_GOAL = "the goal"
    OTHERS = "other sites"


class SiteFacts(Value, frozen=True, kw_only=True):
    """What a site's split follows from, as digests that tell equal from changed; voters of a middle day."""

    site: str
    voters: int
    days: str
    path: str
    bounds: str


class SplitFacts(Value, frozen=True, kw_only=True):
    """What a split follows from, small enough to be kept with it; sites by seed key."""

    fleet: tuple[FleetKind, ...]
    sites: tuple[SiteFacts, ...]
    goal: Goal
    within_ppm: int
    stay_ms: int


class SplitMove(Value, frozen=True, kw_only=True):
    """One site whose numbers differ between two splits, with the reason in words."""

    site: str
    before: Counts
    after: Counts
    why: Why
    words: Message


def facts_of(given: SplitGiven) -> SplitFacts:
    """What to keep of a split's input for a later comparison."""
    return SplitFacts(
        fleet=given.fleet,
        sites=tuple(_site_facts(site) for site in sorted(given.sites, key=lambda one: one.key)),
        goal=given.goal,
        within_ppm=given.within_ppm,
        stay_ms=given.stay_ms,
    )


def _site_facts(site: SplitSite) -> SiteFacts:
    lines = site.lines
    return SiteFacts(
        site=site.id,
        voters=max(int(sorted(day.totals.tolist())[len(day.totals) // 2]) for day in lines.days),
        days=_digest([_day(day) for day in lines.days]),
        path=_digest((lines.path, site.takes)),
        bounds=_digest((lines.floor, lines.ceiling, lines.fixed, site.bounds, site.law_floor)),
    )


def _day(day: ArrivalDay) -> tuple[object, ...]:
    """All that makes a day what it is but its date."""
    arrays = day.slot_weights.tobytes() + day.totals.tobytes()
    return (
        day.open_ms,
        day.close_ms,
        hashlib.sha256(arrays).hexdigest(),
        day.opening_line_share_ppm,
        day.breaks,
        day.absences,
    )


def _digest(value: object) -> str:
    return hashlib.sha256(msgspec.json.encode(value)).hexdigest()[:16]


def what_moved(
    facts: SplitFacts, answer: SplitAnswer, facts_then: SplitFacts, answer_then: SplitAnswer
) -> tuple[SplitMove, ...]:
    """The sites that gain or lose against the earlier split (`_then`), by seed key; those in both only.

    A site whose own facts changed moved for them; any other moved because the fleet, the goal or other sites
    did, and the words say what a device was and is worth.
    """
    then = {site.site: site for site in facts_then.sites}
    counts_then = {one.site: one.counts for one in answer_then.sites}
    counts_now = {one.site: one.counts for one in answer.sites}
    moves = []
    for site in facts.sites:
        before, after = counts_then.get(site.site), counts_now[site.site]
        if before is None or before == after:
            continue
        why, words = _why(site, then[site.site], facts, facts_then, (answer, answer_then))
        moves.append(SplitMove(site=site.site, before=before, after=after, why=why, words=words))
    return tuple(moves)


def _why(
    site: SiteFacts,
    then: SiteFacts,
    facts: SplitFacts,
    facts_then: SplitFacts,
    answers: tuple[SplitAnswer, SplitAnswer],
) -> tuple[Why, Message]:
    if site.days != then.days:
        words = N_("Its voters or hours changed: {before} voters on a middle day before, {after} now.")
        return Why.ITS_VOTERS, message(words, before=then.voters, after=site.voters)
    if site.path != then.path:
        return Why.ITS_PATH, message(N_("What voters do here, or what a station takes, changed."))
    if site.bounds != then.bounds:
        words = N_("A least number, a most, or a number that a person fixed changed here.")
        return Why.ITS_BOUNDS, message(words)
    earlier = {kind.id: kind.available for kind in facts_then.fleet}
    for kind in facts.fleet:
        if earlier.get(kind.id) != kind.available:
            words = N_("There are {after} of {kind} for the sites; before there were {before}.")
            return Why.THE_FLEET, message(
                words, kind=kind.id, before=earlier.get(kind.id, 0), after=kind.available
            )
    asked = (facts.goal, facts.within_ppm, facts.stay_ms)
    if asked != (facts_then.goal, facts_then.within_ppm, facts_then.stay_ms):
        return Why.THE_GOAL, message(N_("Another goal was asked for."))
    words = N_(
        "Other sites changed. Worth of one more, minutes of all voters' waiting a day, "
        "before and now: {worth}."
    )
    return Why.OTHERS, message(words, worth="; ".join(_worths(*answers)))


def _worths(answer: SplitAnswer, then: SplitAnswer) -> Iterator[str]:
    earlier = {price.kind: price.worth_ms for price in then.prices}
    for price in answer.prices:
        before = earlier.get(price.kind)
        yield f"{price.kind} {'–' if before is None else minutes(before)} → {minutes(price.worth_ms)}"
