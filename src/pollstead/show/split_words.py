"""How a split of the fleet is told: bound, prices, table; the same words on screen and terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.plan.lines.split_policies import HOLD_BACK
from pollstead.plan.lines.words import STATIONS, minutes, percent
from pollstead.plan.terms.part import plain
from pollstead.plan.terms.split import Goal

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.plan.lines.spares import KindSpares
    from pollstead.plan.terms.split import PolicyPrice, SplitAnswer
    from pollstead.work.splitting import SplitReport

GOAL_WORDS = {
    Goal.TOTAL: N_("least waiting of all voters together"),
    Goal.WORST: N_("the worst site as good as can be, then least waiting"),
    Goal.BLEND: N_("least waiting, with the worst site held near the best it can be"),
}
_STAGES = {stage.value: words for stage, words in STATIONS.items()}

_BEST = N_("No other split of these machines, of all numbers tried, has less waiting.")
_TOTAL = N_(
    "No other split of these machines, of all numbers tried, can save more than {saved} minutes of "
    "waiting a day: {gap} of all."
)
_BLEND_BEST = N_(
    "No other split of these machines, of all numbers tried, that holds every site's longest wait so low has "
    "less waiting."
)
_BLEND = N_(
    "No other split of these machines, of all numbers tried, that holds every site's longest wait so low can "
    "save more than {saved} minutes of waiting a day: {gap} of all."
)
_WORST_BEST = N_("No other split of these machines, of all numbers tried, has a better worst site.")
_WORST = N_(
    "No other split of these machines, of all numbers tried, can make the worst site's longest wait less "
    "than {bound} minutes; here it is {found}."
)


class SiteLine(Value, frozen=True, kw_only=True):
    """One number of one site: the type of station, how many it has and would have.

    The minutes are all voters' waiting on a day at the site, told once with its first number.
    """

    site: str
    name: str
    station_type: str
    has: int
    would: int
    first: bool
    before_min: str
    after_min: str
    over: str
    edge: bool

    @property
    def change(self) -> int:
        """Stations more (above 0) or fewer."""
        return self.would - self.has


def all_minutes(ms: int) -> str:
    """Many voters' waiting together in minutes: with a decimal below ten, whole from there on."""
    return minutes(ms) if abs(ms) < 10 * 60_000 else plain(round(ms / 60_000))


def bound_words(answer: SplitAnswer) -> Message:
    """What is proved about the split."""
    if answer.goal is Goal.WORST:
        if answer.value <= answer.bound:
            return message(_WORST_BEST)
        found, bound = (minutes(ms // answer.days) for ms in (answer.value, answer.bound))
        return message(_WORST, bound=bound, found=found)
    saved = answer.value - answer.bound
    blend = answer.goal is Goal.BLEND
    if saved <= 0 or minutes(saved // answer.days) == "0.0":
        return message(_BLEND_BEST if blend else _BEST)
    return message(
        _BLEND if blend else _TOTAL, saved=minutes(saved // answer.days), gap=percent(max(1, answer.gap_ppm))
    )


def basis_words(report: SplitReport) -> tuple[Message, ...]:
    """What the split was asked for and on what it stands."""
    answer = report.answer
    if answer is None:
        return ()
    words = [
        message(
            N_(
                "{tried} combinations of numbers at {sites} sites were simulated on the same {days} days. "
                "That nothing better lies beyond them is not shown; they were made wider wherever the split "
                "came to their edge."
            ),
            tried=answer.tried,
            sites=len(answer.sites),
            days=answer.days,
        )
    ]
    if report.stay_min:
        words.append(
            message(
                N_(
                    "Each station more or fewer than a site has counts as {minutes} minutes of waiting a day."
                ),
                minutes=report.stay_min,
            )
        )
    if report.goal is Goal.BLEND:
        words.append(
            message(
                N_("No site's longest wait may be more than {percent} % above the least possible worst one."),
                percent=report.within_percent,
            )
        )
    if report.no_number:
        words.append(
            message(
                N_("Nobody has counted these kinds of device, so their stations stay as planned: {kinds}."),
                kinds=", ".join(report.no_number),
            )
        )
    return tuple(words)


def fresh_words(report: SplitReport) -> tuple[Message, ...]:
    """What fresh days say: against what sites have, and against a split by load."""
    fresh = report.fresh
    if fresh is None:
        return ()
    each = fresh.days
    words = [
        message(
            N_("On {days} fresh days: {split} minutes of waiting a day with this split, {now} as planned."),
            days=fresh.days,
            split=all_minutes(fresh.split_ms // each),
            now=all_minutes(fresh.now_ms // each),
        ),
        message(
            N_("The same machines in proportion to load: {load} minutes; this split has {gain} {less}."),
            load=all_minutes(fresh.load_ms // each),
            gain=percent(abs(fresh.gain_ppm)),
            less=N_("less") if fresh.gain_ppm >= 0 else N_("more"),
        ),
    ]
    return tuple(words)


def policy_words(price: PolicyPrice) -> Message:
    """What one of the office's own choices costs."""
    worth = all_minutes(price.worth_ms)
    if price.policy == HOLD_BACK:
        words = N_("One {kind} fewer held back saves up to {worth} minutes of waiting a day.")
        return message(words, kind=price.kind, worth=worth)
    words = N_(
        "One fewer at {site} than its least number saves up to {worth} minutes a day elsewhere: {what}."
    )
    return message(words, site=price.site, worth=worth, what=_STAGES[price.stage])


def spare_words(spares: KindSpares) -> Message:
    """How many spares of a kind are held, and why."""
    words = (
        N_(
            "{kind}: {held} held back. The county's share asks for {share}; {risk} run out on at most "
            "{chance} of days. A store in each area would take {zones}. "
            "{hours} hours of use between failures: {known}."
        )
        if len(spares.zones) > 1
        else N_(
            "{kind}: {held} held back. The county's share asks for {share}; {risk} run out on at most "
            "{chance} of days. {hours} hours of use between failures: {known}."
        )
    )
    return message(
        words,
        kind=spares.kind,
        held=spares.held,
        share=spares.by_share,
        risk=spares.by_risk,
        chance=percent(spares.risk_ppm),
        zones=spares.by_zone,
        hours=plain(spares.failures.hours_between),
        known=N_("the county's own figure") if spares.failures.own else N_("assumed"),
    )


def site_lines(report: SplitReport, election: Election) -> tuple[SiteLine, ...]:
    """A line for each number that a site has, in the order of the sites' ids."""
    if report.answer is None:
        return ()
    types = {one.site: one.types for one in report.staged}
    names = {site.id: site.name for site in election.sites}
    type_names = {t.id: t.name for t in election.station_types}
    days = report.answer.days
    lines = []
    for one in sorted(report.answer.sites, key=lambda one: one.site):
        first = True
        for station_type, has, would in zip(types[one.site], one.has, one.counts, strict=True):
            if not station_type or not (has or would):
                continue
            before = None if one.before is None else one.before.wait_ms // days
            lines.append(
                SiteLine(
                    site=one.site,
                    name=names.get(one.site, one.site),
                    station_type=type_names.get(station_type, station_type),
                    has=has,
                    would=would,
                    first=first,
                    before_min="" if before is None else minutes(before),
                    after_min=minutes(one.after.wait_ms // days),
                    over=percent(one.after.over_days * 1_000_000 // days),
                    edge=one.edge,
                )
            )
            first = False
    return tuple(lines)
