"""What changed between two splits: which sites gain or lose, and why."""

from __future__ import annotations

import enum
from typing import TYPE_CHECKING

from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.plan.lines.run import alike_days
from pollstead.plan.lines.words import minutes
from pollstead.plan.terms.split import Counts, SplitAnswer, SplitGiven, SplitSite

if TYPE_CHECKING:
    from collections.abc import Iterator


class Why(enum.StrEnum):
    """Why a site's numbers moved."""

    ITS_VOTERS = "its voters"
    ITS_PATH = "its stations"
    ITS_BOUNDS = "its bounds"
    THE_FLEET = "the fleet"
    THE_GOAL = "the goal"
    OTHERS = "other sites"


class SplitMove(Value, frozen=True, kw_only=True):
    """One site whose numbers differ between two splits, with the reason in words."""

    site: str
    before: Counts
    after: Counts
    why: Why
    words: Message


def what_moved(
    given: SplitGiven, answer: SplitAnswer, given_then: SplitGiven, answer_then: SplitAnswer
) -> tuple[SplitMove, ...]:
    """The sites that gain or lose against the earlier split (`_then`), by seed key; those in both only.

    A site whose own facts changed moved for them; any other moved because the fleet, the goal or other sites
    did, and the words say what a device was and is worth elsewhere.
    """
    then = {site.id: site for site in given_then.sites}
    counts_then = {one.site: one.counts for one in answer_then.sites}
    counts_now = {one.site: one.counts for one in answer.sites}
    moves = []
    for site in sorted(given.sites, key=lambda one: one.key):
        before, after = counts_then.get(site.id), counts_now[site.id]
        if before is None or before == after:
            continue
        why, words = _why(site, then[site.id], given, answer, given_then, answer_then)
        moves.append(SplitMove(site=site.id, before=before, after=after, why=why, words=words))
    return tuple(moves)


def _why(
    site: SplitSite,
    then: SplitSite,
    given: SplitGiven,
    answer: SplitAnswer,
    given_then: SplitGiven,
    answer_then: SplitAnswer,
) -> tuple[Why, Message]:
    if not _same_days(site, then):
        params = {"before": _voters(then), "after": _voters(site)}
        return Why.ITS_VOTERS, message(
            N_("Its voters or hours changed: {before} voters on a middle day before, {after} now."), **params
        )
    if (site.lines.path, site.takes) != (then.lines.path, then.takes):
        return Why.ITS_PATH, message(N_("What voters do here, or what a station takes, changed."))
    if _bounds(site) != _bounds(then):
        return Why.ITS_BOUNDS, message(
            N_("A least number, a most, or a number that a person fixed changed here.")
        )
    for kind, kind_then in zip(given.fleet, given_then.fleet, strict=False):
        if (kind.id, kind.available) != (kind_then.id, kind_then.available):
            return Why.THE_FLEET, message(
                N_("There are {after} of {kind} for the sites; before there were {before}."),
                kind=kind.id,
                before=kind_then.available,
                after=kind.available,
            )
    asked = (given.goal, given.within_ppm, given.stay_ms)
    if asked != (given_then.goal, given_then.within_ppm, given_then.stay_ms):
        return Why.THE_GOAL, message(N_("Another goal was asked for."))
    return Why.OTHERS, message(
        N_(
            "Other sites changed. Worth of one more, minutes of all voters' waiting a day, "
            "before and now: {worth}."
        ),
        worth="; ".join(_worths(answer, answer_then)),
    )


def _worths(answer: SplitAnswer, then: SplitAnswer) -> Iterator[str]:
    earlier = {price.kind: price.worth_ms for price in then.prices}
    for price in answer.prices:
        before = earlier.get(price.kind)
        yield f"{price.kind} {'–' if before is None else minutes(before)} → {minutes(price.worth_ms)}"


def _voters(site: SplitSite) -> int:
    return max(int(sorted(day.totals.tolist())[len(day.totals) // 2]) for day in site.lines.days)


def _bounds(site: SplitSite) -> tuple[object, ...]:
    lines = site.lines
    return (lines.floor, lines.ceiling, lines.fixed, site.bounds, site.law_floor)


def _same_days(site: SplitSite, then: SplitSite) -> bool:
    """Whether the days are the same voters at the same hours."""
    if len(site.lines.days) != len(then.lines.days):
        return False
    return all(
        len({id(day) for day in alike_days((mine, theirs))}) == 1
        for mine, theirs in zip(site.lines.days, then.lines.days, strict=True)
    )
