"""What sizing has to say of one site: reasons that can be computed again, and rules not met."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.words import N_, Message, message
from pollstead.plan.lines.loads import busiest_hour_milli_voters, load_milli_erlangs, shares_ppm
from pollstead.plan.lines.words import minutes, percent, thousandths
from pollstead.plan.terms.lines import (
    SIZED,
    Change,
    RiskEstimate,
    SiteLines,
    SizingAnswer,
    Stage,
)
from pollstead.plan.terms.part import Figure, Reason, plain

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

FIELDS = {
    Stage.CHECK_IN: "check_in",
    Stage.MARK: "mark",
    Stage.MARK_ACCESSIBLE: "mark_accessible",
    Stage.CAST: "cast",
}
OFFICIAL = "election official"
SIMULATED = N_("simulated")
COMPUTED = N_("computed")

_FOUND = N_(
    "Least-cost numbers found: a day's longest wait passes {limit} minutes on at most {risk} of days."
)
_FOUND_AT_BOUND = N_(
    "Numbers found: a day's longest wait passes {limit} minutes on at most {risk} of days; cheaper may exist."
)
_UNDECIDED = N_(
    "Close to the limit: a day's longest wait passes {limit} minutes on about {risk} of days, the share "
    "accepted; {days} fresh days leave open on which side of it."
)
_NOT_KEPT = N_(
    "With the numbers planned a day's longest wait passes {limit} minutes more often than accepted."
)
_FIXED = N_("A person fixed this number; the figures say what it does.")
_FLOOR = N_("The least number that the county's rules ask for; the lines alone would need no more.")
_SHORT = N_(
    "The most that the bounds allow; the longest wait passes {limit} minutes more often than accepted."
)
_NO_LOAD = N_("No voter is expected to need this station; the number is the rule's least.")


def _interval(risk: RiskEstimate) -> str:
    return f"{percent(risk.risk_ppm)} ({percent(risk.low_ppm)} – {percent(risk.high_ppm)})"


def _why(site: SiteLines, answer: SizingAnswer, k: int, load: int) -> Message:
    count = answer.counts.by_stage()[k]
    ceiling = site.ceiling.by_stage()[k]
    params = {"limit": minutes(site.limit.limit_ms), "risk": percent(site.limit.risk_ppm)}
    if site.fixed.by_stage()[k] is not None:
        return message(_FIXED)
    if load == 0 and k == 2:
        return message(_NO_LOAD)
    if not answer.meets_limit and ceiling is not None and count >= ceiling:
        return message(_SHORT, limit=params["limit"])
    if not answer.meets_limit:
        return message(_NOT_KEPT, limit=params["limit"])
    if count == site.floor.by_stage()[k]:
        return message(_FLOOR)
    if answer.undecided:
        return message(_UNDECIDED, **params, days=f"{answer.figures.risk.days:,}")
    return message(_FOUND if answer.complete else _FOUND_AT_BOUND, **params)


def _neighbours(answer: SizingAnswer, stage: Stage) -> Iterator[Figure]:
    names = {Change.ONE_FEWER: N_("Risk with one fewer"), Change.ONE_MORE: N_("Risk with one more")}
    waits = {
        Change.ONE_FEWER: N_("Waiting with one fewer, more or less than planned"),
        Change.ONE_MORE: N_("Waiting with one more, more or less than planned"),
    }
    for what_if in answer.what_ifs:
        if what_if.stage is stage and what_if.change in names:
            risk = what_if.figures.risk
            yield Figure(name=names[what_if.change], value=_interval(risk), source=SIMULATED)
            if answer.compared is not None:
                more = what_if.figures.voter_minutes_a_day - answer.compared.voter_minutes_a_day
                yield Figure(
                    name=waits[what_if.change],
                    value=f"{more:+,}",
                    unit=N_("voter-minutes a day"),
                    source=SIMULATED,
                )


def site_reasons(site: SiteLines, answer: SizingAnswer) -> tuple[Reason, ...]:
    """Why each number is what it is; the load is voters of the busiest hour times mean time at the station.

    Loads are of the worst day. One reason a stage that can have a line; `field` names it as in
    ``StationCounts``.
    """
    day = next(day for day in site.days if day.date == answer.date)
    voters = busiest_hour_milli_voters(day)
    risk = answer.figures.risk
    reasons = []
    for k, stage in enumerate(SIZED):
        count, work = answer.counts.by_stage()[k], site.path.works()[k]
        if count == 0 or work is None:
            continue
        load = load_milli_erlangs(site, day, k)
        figures = [
            Figure(
                name=N_("Voters in the busiest hour, mean of the demand draws"),
                value=thousandths(voters),
                unit="voters/h",
                source=N_("demand"),
            ),
            Figure(
                name=N_("Share of voters who come to this stage"),
                value=plain(shares_ppm(site.path)[k]),
                unit="ppm",
                source=N_("county rules"),
            ),
            Figure(
                name=N_("Mean time at the station"),
                value=thousandths(work.law.mean_ms),
                unit="s",
                source=N_("station type"),
            ),
            Figure(
                name=N_("Load in the busiest hour"), value=thousandths(load), unit="erlang", source=COMPUTED
            ),
            Figure(name=N_("Stations"), value=plain(count), source=COMPUTED),
            Figure(name=N_("Days simulated"), value=plain(risk.days), source=SIMULATED),
            Figure(
                name=N_("Days on which the longest wait passes the limit"),
                value=plain(risk.over),
                source=SIMULATED,
            ),
            Figure(name=N_("Risk, with 95 % interval"), value=_interval(risk), source=SIMULATED),
            *_neighbours(answer, stage),
        ]
        reasons.append(
            Reason(
                subject=site.site,
                field=FIELDS[stage],
                text=_why(site, answer, k, load),
                figures=tuple(figures),
            )
        )
    return tuple(reasons)


_NOT_MET = N_(
    "A day's longest wait passes {limit} minutes on {over} of {days} simulated days; accepted: {risk}."
)
_REMEDY_FIXED = N_("Raise a number that is fixed, or accept the longer wait by name.")
_REMEDY_BOUND = N_(
    "Find more stations or more room for the site, move voters, or accept the longer wait by name."
)
_REMEDY_CURB = N_(
    "The line at the curb decides, and stations inside do not shorten it: let more voters be served there at "
    "once (rule curbside-stations), or accept the longer wait by name."
)
_REMEDY_SEARCH = N_("Plan again with more effort, or fix the numbers.")
_TOLD_SINGLY = N_(
    "The compiled engine does not do {why}: days of {sites} sites were told event by event, {days} in a "
    "search instead of {usual}. Share of simulated days that it did: {fast}."
)
_REMEDY_SINGLY = N_("Plan with more effort for more days: fewer make the interval of the risk wider.")
_DISTRUSTED = N_(
    "The compiled engine failed its test of itself on this computer; every day was told event by event. The "
    "numbers are the same, and take far longer."
)
_REMEDY_DISTRUSTED = N_("Plan on another computer, or tell whoever looks after this one.")
_CEILING = N_(
    "The rules ask for at least {floor} of a kind of station and the bound is {ceiling}; planned: {floor}."
)
_REMEDY_CEILING = N_("Check the room and the fleet; ask who decides on the rule.")
_FIXED_LOW = N_("A person fixed {fixed} of a kind of station; the rules ask for at least {floor}.")
_FIXED_HIGH = N_("A person fixed {fixed} of a kind of station; the bound of room or fleet is {ceiling}.")
_REMEDY_FIXED_NUMBER = N_("Change the fixed number, or accept it by name.")
_INCOMPLETE = N_("The search ended at its bound of work; cheaper numbers than these may exist.")


def site_notices(site: SiteLines, answer: SizingAnswer) -> tuple[Notice, ...]:
    """Rules that the numbers do not meet, one notice each, with what to do next."""
    notices = list(_bound_notices(site))
    risk = answer.figures.risk
    counts = ", ".join(str(n) for n in answer.counts.by_stage())
    if not answer.meets_limit:
        fixed = any(n is not None for n in site.fixed.by_stage())
        bounded = any(n is not None for n in site.ceiling.by_stage())
        remedy = _REMEDY_FIXED if fixed else _REMEDY_BOUND if bounded else _REMEDY_SEARCH
        if answer.figures.binding is Stage.CURBSIDE:
            remedy = _REMEDY_CURB
        notices.append(
            Notice(
                kind=NoticeKind.RULE_NOT_MET,
                rule="wait-limit",
                subject=site.site,
                day=answer.date.isoformat(),
                text=message(
                    _NOT_MET,
                    limit=minutes(site.limit.limit_ms),
                    over=risk.over,
                    days=risk.days,
                    risk=percent(site.limit.risk_ppm),
                ),
                found=_interval(risk),
                wanted=percent(site.limit.risk_ppm),
                remedy=message(remedy),
                who_decides=OFFICIAL,
                depends=(
                    counts,
                    str(site.limit.limit_ms),
                    str(site.limit.risk_ppm),
                    f"{risk.over}/{risk.days}",
                ),
            )
        )
    if not answer.complete:
        notices.append(
            Notice(
                kind=NoticeKind.OPEN_ITEM,
                rule="lines-search-ended",
                subject=site.site,
                day=answer.date.isoformat(),
                text=message(_INCOMPLETE),
                remedy=message(_REMEDY_SEARCH),
                depends=(counts,),
            )
        )
    return tuple(notices)


def _bound_notices(site: SiteLines) -> Iterator[Notice]:
    rows = zip(SIZED, site.floor.by_stage(), site.ceiling.by_stage(), site.fixed.by_stage(), strict=True)
    for stage, floor, ceiling, fixed in rows:
        text: Message | None = None
        if fixed is not None and fixed < floor:
            text, remedy = message(_FIXED_LOW, fixed=fixed, floor=floor), _REMEDY_FIXED_NUMBER
            found, wanted = str(fixed), str(floor)
        elif fixed is not None and ceiling is not None and fixed > ceiling:
            text, remedy = message(_FIXED_HIGH, fixed=fixed, ceiling=ceiling), _REMEDY_FIXED_NUMBER
            found, wanted = str(fixed), str(ceiling)
        elif fixed is None and ceiling is not None and ceiling < floor:
            text, remedy = message(_CEILING, floor=floor, ceiling=ceiling), _REMEDY_CEILING
            found, wanted = str(ceiling), str(floor)
        if text is not None:
            yield Notice(
                kind=NoticeKind.RULE_NOT_MET,
                rule=f"stations-bound-{FIELDS[stage].replace('_', '-')}",
                subject=site.site,
                text=text,
                found=found,
                wanted=wanted,
                remedy=message(remedy),
                who_decides=OFFICIAL,
                depends=(found, wanted),
            )


def engine_notices(answers: Sequence[SizingAnswer], usual_days: int) -> Iterator[Notice]:
    """Which days of a county the compiled engine did not do, why, and that it failed its test, if it did."""
    singly = [answer for answer in answers if answer.refused]
    if singly:
        fast = sum(answer.fast_ppm for answer in answers) // len(answers)
        yield Notice(
            kind=NoticeKind.OPEN_ITEM,
            rule="lines-told-singly",
            subject="county",
            text=message(
                _TOLD_SINGLY,
                why=", ".join(sorted({answer.refused for answer in singly})),
                sites=len(singly),
                days=singly[0].search_days,
                usual=usual_days,
                fast=percent(fast),
            ),
            remedy=message(_REMEDY_SINGLY),
            depends=(*sorted(answer.site for answer in singly), str(singly[0].search_days)),
        )
    if any(answer.distrusted for answer in answers):
        yield Notice(
            kind=NoticeKind.OPEN_ITEM,
            rule="lines-engine-failed-test",
            subject="county",
            text=message(_DISTRUSTED),
            remedy=message(_REMEDY_DISTRUSTED),
        )
