"""Acts of the page of the split: ask for one, fix its numbers by a name and a reason, take them back."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import urlencode

from litestar import Request, Response, post

from pollstead.election.words import N_, message
from pollstead.plan.terms.split import Goal
from pollstead.show.web.pages.allocation import act_id, allocation_page
from pollstead.show.web.pages.fix import LONGEST_REASON, plan_again
from pollstead.show.web.pages.frame import Ask, Trouble, answer, go, in_thread
from pollstead.show.web.typed import Wrong
from pollstead.work.kinds import SplitArguments
from pollstead.work.line import ask_for
from pollstead.work.split_kept import JOB_KIND, report_of
from pollstead.work.splitting import accept, accepted_splits, new_numbers, take_back

if TYPE_CHECKING:
    from pollstead.work.foreman import Foreman
    from pollstead.work.splitting import SplitReport

PERCENT: Final = re.compile(r"[0-9]{1,3}(\.[0-9]{1,4})?")
WHOLE: Final = re.compile(r"[0-9]{1,5}")
MOST_WITHIN, MOST_STAY = 1_000, 10_000


@post("/allocation")
@in_thread
def ask_for_split(request: Request[Any, Any, Any]) -> Response[Any]:
    """Put a split in line."""
    ask = Ask(request)
    if not ask.folder.versions():
        raise Trouble(
            409, N_("There is no plan yet, so there is nothing to split."), N_("Make a plan first."), "/jobs"
        )
    arguments = _asked(ask)
    if not isinstance(arguments, SplitArguments):
        return answer(ask, allocation_page(ask, arguments), status=422)
    job = ask_for(ask.folder.store, JOB_KIND, arguments, by=ask.person().person, utc_ms=ask.folder.clock())
    foreman: Foreman = request.app.state.foreman
    foreman.poke()
    return go(f"/allocation?{urlencode({'job': job.id})}")


def _asked(ask: Ask) -> SplitArguments | tuple[Wrong, ...]:
    wrong: list[Wrong] = []
    goal = ask.form.text("goal")
    if goal not in set(Goal):
        wrong.append(Wrong(field="goal-total", words=message(N_("Choose what is made least."))))
    numbers = {}
    for field, most, own in (("within", MOST_WITHIN, 10), ("stay", MOST_STAY, 5)):
        typed = ask.form.text(field) or str(own)
        if WHOLE.fullmatch(typed) and int(typed) <= most:
            numbers[field] = int(typed)
        else:
            words = message(N_("Type a whole number from {least} to {most}."), least=0, most=most)
            wrong.append(Wrong(field=field, words=words))
    shares: dict[str, int | None] = {}
    for field in ("share", "risk"):
        typed = ask.form.text(field).removesuffix("%").strip()
        fine = PERCENT.fullmatch(typed) is not None and Decimal(typed) <= 100
        if typed and not (fine and (field == "share" or Decimal(typed) > 0)):
            wrong.append(Wrong(field=field, words=message(N_("Type a percentage up to 100, such as 7.5."))))
        shares[field] = int(Decimal(typed) * 10_000) if typed and fine else None
    if wrong:
        return tuple(wrong)
    return SplitArguments(
        goal=Goal(goal),
        within_percent=numbers["within"],
        stay_min=numbers["stay"],
        spare_share_ppm=shares["share"],
        run_out_ppm=shares["risk"],
    )


@post("/allocation/accept")
@in_thread
def accept_split(request: Request[Any, Any, Any]) -> Response[Any]:
    """Fix all numbers of the split by one act, and plan again."""
    ask = Ask(request)
    report = _report(ask)
    newest = ask.folder.versions()[0].digest
    if report.answer is None or report.plan != newest:
        raise Trouble(
            409,
            N_("This split is of an older plan version, so its numbers are not fixed."),
            N_("Split the newest plan, look at it, and accept that split."),
            "/allocation",
        )
    reason = ask.form.text("reason")
    fault = _reason_fault(reason)
    if not fault and not new_numbers(report):
        fault = Wrong(field="reason", words=message(N_("No number changes, so there is nothing to fix.")))
    if fault:
        return answer(ask, allocation_page(ask, (fault,)), status=422)
    with ask.folder.at_desk(ask.person()) as (desk, people, moment):
        fixed = accept(
            desk.recorder, desk.fold(private=True), report, reason=reason, people=people, moment=moment
        )
    if not fixed:
        words = message(N_("All of these numbers are fixed already."))
        return answer(ask, allocation_page(ask, (Wrong(field="reason", words=words),)), status=409)
    return go(f"/fixed?{urlencode({'job': plan_again(request, ask)})}")


def _report(ask: Ask) -> SplitReport:
    try:
        job = ask.folder.store.jobs.get(ask.form.text("job"))
    except ValueError:
        report = None
    else:
        report = report_of(ask.folder.store, job)
    if report is None:
        raise Trouble(
            404,
            N_("This split is not kept any more."),
            N_("Ask for it again; it comes out the same."),
            "/allocation",
        )
    return report


def _reason_fault(reason: str, field: str = "reason") -> Wrong | None:
    if not reason:
        return Wrong(field=field, words=message(N_("Say in a few words why.")))
    if len(reason) > LONGEST_REASON:
        words = message(N_("Say it in at most {most} characters."), most=LONGEST_REASON)
        return Wrong(field=field, words=words)
    return None


@post("/allocation/back")
@in_thread
def take_split_back(request: Request[Any, Any, Any]) -> Response[Any]:
    """Let all numbers of one accepted split follow the plan again, and plan again."""
    ask = Ask(request)
    wanted = ask.form.text("act")
    act = next((one for one in accepted_splits(ask.folder.fold()) if act_id(one) == wanted), None)
    if act is None:
        raise Trouble(
            409,
            N_("No number of this act is fixed any more."),
            N_("The page of fixed values shows what stands now."),
            "/fixed",
        )
    fault = _reason_fault(ask.form.text("reason"), f"back-{wanted}")
    if fault:
        return answer(ask, allocation_page(ask, (fault,)), status=422)
    with ask.folder.at_desk(ask.person()) as (desk, people, moment):
        take_back(
            desk.recorder,
            desk.fold(private=True),
            act,
            reason=ask.form.text("reason"),
            people=people,
            moment=moment,
        )
    return go(f"/fixed?{urlencode({'job': plan_again(request, ask)})}")
