"""Carry a change out: facts, plan, approval, lists, void sheets, print. Each step is done once.

A program may be stopped anywhere: `carry_on` does what is left, and nothing twice.
"""

from __future__ import annotations

import enum
from collections.abc import Callable
from pathlib import Path

from msgspec.structs import replace

from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.plan.terms.part import Watch
from pollstead.record.write import Moment
from pollstead.store.desk import Desk
from pollstead.work.changing import Ready
from pollstead.work.changing_kept import Intent, close, forget, note, open_intent
from pollstead.work.changing_work import Work, event_of
from pollstead.work.county_folder import MoreNotices, refuse
from pollstead.work.paper import Printer


class Step(enum.StrEnum):
    """The steps of a change, in their order."""

    FACTS = "facts"
    PLAN = "plan"
    APPROVAL = "approval"
    LISTS = "lists"
    SWAP = "swap"
    VOID = "void sheets"
    PRINT = "print"


STEP_WORDS = {
    Step.FACTS: N_("The tables are changed."),
    Step.PLAN: N_("The plan is made again."),
    Step.APPROVAL: N_("The plan is approved by name."),
    Step.LISTS: N_("The expected lists are amended."),
    Step.SWAP: N_("A swap on the day is on record with its time and counter."),
    Step.VOID: N_("The void sheets are on record."),
    Step.PRINT: N_("The new sheets are ready to print."),
}


class Carried(Value, frozen=True, kw_only=True):
    """What is done of a change: its number and event, the steps done here just now, its files."""

    number: int
    event: str
    steps: tuple[Step, ...]
    files: tuple[str, ...]


def begin(
    desk: Desk,
    proposal: Ready,
    *,
    by: str,
    reason: str,
    moment: Moment,
    second: str = "",
) -> Intent:
    """Note what is to be done; nothing of it is done yet.

    Raises `Refused` where another change is not finished, a reason or the second person is lacking.
    """
    if open_intent(desk.store) is not None:
        refuse(N_("A change was begun and is not finished. Finish it first by: pollstead changes FOLDER"))
    if not reason.strip():
        refuse(N_("Say in a few words why this changes."))
    if proposal.drafted.second_person and not second:
        refuse(N_("Two people seal: your county's rule asks for a second person. Give one, too."))
    if second and second == by:
        refuse(N_("The second person must be another one than the first."))
    return note(
        desk.store,
        Intent(
            asked=proposal.asked,
            change=proposal.drafted.change,
            by=by,
            second=second,
            reason=reason.strip(),
            utc_ms=moment.utc_ms,
            offset_min=moment.offset_min,
            uncertainty_ms=moment.uncertainty_ms,
            before=proposal.before,
            approve=proposal.approved,
        ),
    )


def carry_on(
    folder: Path,
    desk: Desk,
    printer: Printer,
    *,
    watch: Watch,
    also_told: MoreNotices | None = None,
    after_step: Callable[[Step], None] | None = None,
) -> Carried | None:
    """Do what is left of the change that was begun; None where none was.

    `after_step` hears of each step done, a test ends the program there.
    """
    intent = open_intent(desk.store)
    if intent is None:
        return None
    work = Work(folder, desk, printer, intent, watch, also_told)
    done = []
    steps = (
        (Step.FACTS, work.facts),
        (Step.PLAN, work.plan),
        (Step.APPROVAL, work.approval),
        (Step.LISTS, work.lists),
        (Step.SWAP, work.swap),
        (Step.VOID, work.void),
        (Step.PRINT, work.print),
    )
    for step, do in steps:
        if do():
            done.append(step)
        if step.value not in work.intent.steps:
            work.intent = note(desk.store, replace(work.intent, steps=(*work.intent.steps, step.value)))
        if after_step is not None:
            after_step(step)
    close(desk.store, work.intent, work.files)
    return Carried(number=work.intent.number, event=work.intent.event, steps=tuple(done), files=work.files)


def drop(desk: Desk) -> bool:
    """Let go of a change that was begun and of which nothing is written; whether there was one."""
    intent = open_intent(desk.store)
    if intent is None:
        return False
    if event_of(desk.store, intent) is not None:
        refuse(N_("The tables are changed already: finish this change, then undo it."))
    forget(desk.store)
    return True


def steps_left(intent: Intent) -> tuple[Step, ...]:
    """The steps that are not done for sure of a change that was begun.

    One that was done just before the program was stopped may still stand among them; it is not done twice.
    """
    return tuple(step for step in Step if step.value not in intent.steps)
