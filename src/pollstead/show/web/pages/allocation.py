"""Which site gets how many machines: ask for a split of the fleet, look at it with its bound, compare."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar, Final

from litestar import Request, Response, get

from pollstead.election.notice import Notice
from pollstead.election.values import Value
from pollstead.election.words import N_, Message
from pollstead.plan.terms.split import Goal
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.split_words import (
    GOAL_WORDS,
    all_minutes,
    basis_words,
    bound_words,
    fresh_words,
    policy_words,
)
from pollstead.show.web.allocation_view import (
    GroupRow,
    MoveRow,
    NumberRow,
    SiteRow,
    SpareRow,
    fix_address,
    group_rows,
    move_rows,
    number_rows,
    site_rows,
    spare_rows,
)
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.pages.frame import Ask, Page, answer, in_thread, part
from pollstead.show.web.pages.jobs import JobLine, job_line
from pollstead.show.web.typed import Wrong
from pollstead.store.jobs import JobState
from pollstead.work.line import sweep
from pollstead.work.overruling import decisions_standing
from pollstead.work.split_kept import JOB_KIND, KeptSplit, kept_split
from pollstead.work.splitting import (
    RUN_OUT,
    SPARE_SHARE,
    STAY_MIN,
    WITHIN_PERCENT,
    AcceptedSplit,
    SplitReport,
    accepted_splits,
    new_numbers,
)

if TYPE_CHECKING:
    from pollstead.election.county import Election

LOOKED_BACK: Final = 100
"""Jobs among which splits are looked for."""


class PriceRow(Value, frozen=True, kw_only=True):
    """What one more of a kind is worth, in minutes of all voters' waiting a day."""

    kind: str
    worth: str
    planned: int
    used: int
    available: int


class Shown(Value, frozen=True, kw_only=True):
    """The split that is looked at, ready for the template."""

    job: str
    number: int
    newest: bool
    goal: str
    bound: Message
    fresh: tuple[Message, ...]
    basis: tuple[Message, ...]
    beyond: bool
    unchanged: int
    sites: tuple[SiteRow, ...]
    numbers: tuple[tuple[NumberRow, str], ...]
    every: bool
    prices: tuple[PriceRow, ...]
    policies: tuple[Message, ...]
    areas: tuple[GroupRow, ...]
    languages: tuple[GroupRow, ...]
    spares: tuple[SpareRow, ...]
    to_fix: int
    all_fixed: bool


class Earlier(Value, frozen=True, kw_only=True):
    """A split that was asked for before: what for, of which plan, when."""

    job: str
    goal: str
    number: int
    utc_ms: int


class AcceptedRow(Value, frozen=True, kw_only=True):
    """Numbers that were fixed in one act; `id` names it for taking back."""

    id: str
    reason: str
    person: str
    utc_ms: int
    count: int


class AllocationPage(Page, frozen=True, kw_only=True):
    """The split of the fleet: the form, how far it is, the answer, accepting and taking back."""

    template: ClassVar[str] = "allocation.html"

    planned: bool
    number: int
    job: JobLine | None
    form: tuple[tuple[str, str], ...]
    goals: tuple[tuple[str, str], ...]
    own_share: int
    own_risk: int
    split: Shown | None
    notices: tuple[Notice, ...]
    gone: bool
    since: str
    earlier: tuple[Earlier, ...]
    moves: tuple[MoveRow, ...]
    accepted: tuple[AcceptedRow, ...]
    reason: str
    zone: str
    may_compute: bool
    may_change: bool
    faults: tuple[Wrong, ...]
    cautions: tuple[Caution, ...]


def allocation_page(ask: Ask, faults: tuple[Wrong, ...] = ()) -> AllocationPage:
    """The page for the split that the address names, else for the newest one."""
    folder = ask.folder
    sweep(folder.store, folder.path, folder.clock())
    jobs = [job for job in folder.store.jobs.list(LOOKED_BACK) if job.kind == JOB_KIND]
    asked = ask.query.get("job", "") or ask.form.text("job")
    moving = next((job for job in jobs if job.id == asked), None)
    if not asked:
        moving = next((job for job in jobs if job.state is not JobState.DONE), None) if jobs else None
        # One that failed is told only while nothing newer came of it.
        moving = moving if moving is not None and moving.id == jobs[0].id else None
    done = [job for job in jobs if job.state is JobState.DONE]
    at = next((job for job in done if job.id == asked), None if asked else (done[0] if done else None))
    found = None if at is None else kept_split(folder.store, at)
    versions = folder.versions()
    election = folder.snapshot(versions[0].snapshot) if versions else None
    earlier = _earlier(folder.store, [job for job in done if at is None or job.id != at.id])
    since = ask.query.get("since", "")
    report = None if found is None else found.report
    compared = next((one for one in earlier if one.job == since), None)
    return AllocationPage(
        **ask.frame(N_("Which site gets how many machines?")),
        planned=bool(versions),
        number=len(versions),
        job=None
        if moving is None or moving.state is JobState.DONE
        else job_line(moving, folder.person_name(moving.requested_by)),
        form=_form(ask, found),
        goals=tuple((goal.value, GOAL_WORDS[goal]) for goal in Goal),
        own_share=0 if election is None else election.rules.whole(SPARE_SHARE),
        own_risk=0 if election is None else election.rules.whole(RUN_OUT),
        split=None if report is None or election is None else _shown(ask, found, report, election),
        notices=() if report is None else report.notices,
        gone=found is not None and report is None,
        since="" if compared is None else compared.job,
        earlier=tuple(
            Earlier(
                job=one.job,
                goal=GOAL_WORDS[one.asked.goal],
                number=one.report.number,
                utc_ms=one.utc_ms,
            )
            for one in earlier
            if one.report is not None
        ),
        moves=()
        if compared is None or compared.report is None or report is None or election is None
        else move_rows(report, compared.report, election),
        accepted=_accepted(ask),
        reason=ask.form.text("reason"),
        zone=folder.zone_name,
        may_compute=ask.may(Capability.COMPUTE),
        may_change=ask.may(Capability.CHANGE),
        faults=faults,
        cautions=for_place(Place.ALLOCATION),
    )


def _earlier(store: Any, jobs: list[Any]) -> tuple[KeptSplit, ...]:
    kept = (kept_split(store, job) for job in jobs[:8])
    return tuple(one for one in kept if one.report is not None and one.report.answer is not None)


def _form(ask: Ask, found: KeptSplit | None) -> tuple[tuple[str, str], ...]:
    """What stands in the fields: what was typed, else what the split shown was asked for."""
    names = ("goal", "within", "stay", "share", "risk")
    if ask.form.text("goal"):
        return tuple((name, ask.form.text(name)) for name in names)
    if found is None:
        return tuple(zip(names, (Goal.TOTAL.value, str(WITHIN_PERCENT), str(STAY_MIN), "", ""), strict=True))
    asked = found.asked
    share, risk = (
        "" if ppm is None else f"{ppm / 10_000:g}" for ppm in (asked.spare_share_ppm, asked.run_out_ppm)
    )
    typed = (asked.goal.value, str(asked.within_percent), str(asked.stay_min), share, risk)
    return tuple(zip(names, typed, strict=True))


def _shown(ask: Ask, found: KeptSplit | None, report: SplitReport, election: Election) -> Shown | None:
    split = report.answer
    if split is None or found is None:
        return None
    every = ask.query.get("sites", "") == "all"
    standing = {decision.place for decision in decisions_standing(ask.folder.fold())}
    wanted = new_numbers(report)
    to_fix = sum(new.place not in standing for new in wanted)
    newest = ask.folder.versions()[0].digest == report.plan
    planned = dict(zip((kind.id for kind in report.facts.fleet), report.planned_use, strict=False))
    return Shown(
        job=found.job,
        number=report.number,
        newest=newest,
        goal=GOAL_WORDS[report.goal],
        bound=bound_words(split),
        fresh=fresh_words(report),
        basis=basis_words(report),
        beyond=any(planned.get(price.kind, 0) > price.available for price in split.prices),
        unchanged=sum(not one.changed for one in split.sites),
        sites=site_rows(report, election),
        numbers=tuple((row, fix_address(row)) for row in number_rows(report, election, every=every)),
        every=every,
        prices=tuple(
            PriceRow(
                kind=price.kind,
                worth=all_minutes(price.worth_ms),
                planned=planned.get(price.kind, 0),
                used=price.used,
                available=price.available,
            )
            for price in split.prices
        ),
        policies=tuple(policy_words(policy) for policy in split.policies),
        areas=() if report.fresh is None else group_rows(report.fresh.areas),
        languages=() if report.fresh is None else group_rows(report.fresh.languages),
        spares=spare_rows(report),
        to_fix=to_fix,
        all_fixed=bool(wanted) and not to_fix,
    )


def _accepted(ask: Ask) -> tuple[AcceptedRow, ...]:
    people = ask.may(Capability.SEE_PEOPLE)
    return tuple(
        AcceptedRow(
            id=act_id(act),
            reason=act.reason,
            person=ask.folder.person_name(act.person) if people else act.person,
            utc_ms=act.utc_ms,
            count=len(act.places),
        )
        for act in accepted_splits(ask.folder.fold())
    )


def act_id(act: AcceptedSplit) -> str:
    """What names an act of accepting in a form: its moment and who did it."""
    return f"{act.utc_ms}-{act.person.removeprefix('person/')}"


@get("/allocation")
@in_thread
def allocation(request: Request[Any, Any, Any]) -> Response[str]:
    """The page, or the part that shows how far the split is."""
    ask = Ask(request)
    page = allocation_page(ask)
    return part(ask, "_allocation_job.html", page) if ask.query.get("part") == "job" else answer(ask, page)
