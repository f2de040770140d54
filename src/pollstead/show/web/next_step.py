"""What a site needs next: one sentence and the page where it is done, from the plan and the record."""

from __future__ import annotations

import datetime as dt
from typing import Final

from pollstead.election.county import Election
from pollstead.election.station_type import Moment
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.plan.terms.version import PlanVersion, SitePlan
from pollstead.reconcile.counts.balance import LineState
from pollstead.reconcile.day import SiteDay
from pollstead.reconcile.opening.states import ItemState
from pollstead.show.web.day import Days, days_now, days_of, due_day, held_back, still_open
from pollstead.show.web.open_folder import OpenFolder

SECOND_AT_CLOSING = "second-person-at-closing"


class NextStep(Value, frozen=True, kw_only=True):
    """The sentence, where it is done, its mark, whether somebody must act, and its place in the table."""

    words: Message
    link: str
    shape: str
    needs: bool
    order: int
    day: dt.date


_PAGES_OF_A_DAY: Final = ("/expected", "/opening", "/closing")
"""Pages of a site that show one operating day; every other step names its whole address."""


def next_steps(folder: OpenFolder, election: Election, version: PlanVersion) -> dict[str, NextStep]:
    """The next step of every site of the plan, by site."""
    days = days_now(folder)
    return {plan.site: next_step(days, election, plan) for plan in version.sites}


def next_step(days: Days, election: Election, plan: SitePlan) -> NextStep:
    """The next step of one site on the day that is due there."""
    date = due_day(days, plan, election)
    link = f"/site/{plan.site.removeprefix('site/')}"
    query = f"?day={date.isoformat()}"

    def step(words: Message, page: str, shape: str, order: int, needs: bool = True) -> NextStep:
        place = f"{link}{page}{query}" if page in _PAGES_OF_A_DAY else page
        return NextStep(words=words, link=place, shape=shape, needs=needs, order=order, day=date)

    found = days.site(plan.site, date)
    if found is None or not found.list_issued:
        return step(message(N_("Issue the expected list.")), "/expected", "diamond", 3)
    hidden = held_back(found)
    differing = [n for n in still_open(found.notices, days.folded) if n.key not in hidden]
    if differing:
        words = (
            message(N_("Look at 1 difference."))
            if len(differing) == 1
            else message(N_("Look at {n} differences."), n=len(differing))
        )
        return step(words, f"/open?site={plan.site.removeprefix('site/')}", "diamond", 0)
    opening = _readings_missing(found, Moment.OPENING)
    if opening is not None:
        words, shape, order = opening
        return step(words, "/opening", shape, order)
    if not found.opened.values:
        return step(message(N_("Write down when the doors opened.")), "/opening", "diamond", 1)
    if _counts_missing(found, election):
        return step(message(N_("Enter the closing readings.")), "/closing", "diamond", 2)
    if not found.closed.values:
        return step(message(N_("Write down when the last voter had voted.")), "/closing", "diamond", 1)
    if date != days_of(plan, election)[-1]:
        return step(message(N_("Nothing more on this day.")), "", "square", 9, needs=False)
    return step(message(N_("Nothing.")), "", "square", 9, needs=False)


def _readings_missing(found: SiteDay, moment: Moment) -> tuple[Message, str, int] | None:
    results = [r for r in found.at(moment) if r.item is not None]
    empty = sum(r.state is ItemState.NOT_SEEN for r in results)
    waiting = sum(r.state is ItemState.WAITING for r in results)
    if results and empty == len(results):
        return message(N_("Enter the opening readings.")), "diamond", 4
    if waiting:
        return message(N_("A second person enters the opening readings.")), "half", 1
    if empty:
        return message(N_("{n} opening readings are still empty."), n=empty), "half", 1
    return None


def _counts_missing(found: SiteDay, election: Election) -> bool:
    if any(r.state is ItemState.NOT_SEEN for r in found.at(Moment.CLOSING) if r.item is not None):
        return True
    if any(line.state is LineState.NOT_READ and not line.waits_for_receiving for line in found.lines):
        return True
    two = election.rules.choice(SECOND_AT_CLOSING) == "yes"
    return two and any(
        len(reading.people) < 2 for reading in found.readings if not reading.key.endswith("_open")
    )
