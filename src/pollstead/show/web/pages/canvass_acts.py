"""Acts of the canvass page: who has a row and how far it is; a version is kept."""

from __future__ import annotations

from typing import Any

from litestar import Request, Response, post

from pollstead.election.words import N_, message
from pollstead.reconcile.counts.canvass_version import WORK_STATES
from pollstead.show.web.canvass_view import Canvass
from pollstead.show.web.open_folder import person_id
from pollstead.show.web.pages.canvass import canvass_page
from pollstead.show.web.pages.frame import Ask, Trouble, answer, go, in_thread
from pollstead.show.web.pages.who_page import FieldFault
from pollstead.show.web.total_view import totals_explained
from pollstead.work.canvass import NothingNew, freeze, say_work


@post("/canvass")
@in_thread
def take_canvass(request: Request[Any, Any, Any]) -> Response[Any]:
    """Write down who has a row and how far it is, or keep a version."""
    ask = Ask(request)
    found = Canvass(ask)
    act = ask.form.text("do")
    if act == "work":
        return _take_work(ask, found)
    if act == "freeze":
        return _freeze(ask, found)
    raise Trouble(400, N_("This form is not known here."), N_("Open the page again."), "/canvass")


def _take_work(ask: Ask, found: Canvass) -> Response[Any]:
    form = ask.form
    row = next((r for r in (*found.now.rows, *found.now.totals) if r.key == form.text("row")), None)
    if row is None:
        raise Trouble(404, N_("There is no such row any more."), N_("Look at the list again."), "/canvass")
    state, who = form.text("state"), form.text("who")
    faults = []
    if state not in WORK_STATES:
        faults.append(FieldFault(field="work", words=message(N_("Choose how far it is."))))
    if who and who not in {person_id(one) for one in found.election.people}:
        faults.append(FieldFault(field="work", words=message(N_("Choose a person of the office."))))
    note = form.text("note")
    if form.text("explanation"):
        shown = totals_explained(found.table, found.election).get(row.key, ())
        words = next(
            (
                fit.words.english()
                for total in shown
                for fit in (*total.fitting, *total.less_likely)
                if fit.id == form.text("explanation")
            ),
            "",
        )
        if not words:
            faults.append(FieldFault(field="work", words=message(N_("Choose an explanation of the list."))))
        note = " ".join(filter(None, (words, note)))
    if state in ("explained", "recorded_unexplained") and not note:
        words = N_("Write in a few words what was found, or why it stays unexplained.")
        faults.append(FieldFault(field="work", words=message(words)))
    if row.numbers != form.text("numbers"):
        words = N_("The numbers of this row changed meanwhile. Look at them, then say it again.")
        faults.append(FieldFault(field="work", words=message(words)))
    if faults:
        return answer(ask, canvass_page(ask, found, tuple(faults)), 422)
    with ask.folder.at_desk(ask.person()) as (desk, people, moment):
        say_work(desk, row, state=state, who=who, note=note, people=people, moment=moment)
    return go("/canvass?done=work#work-list")


def _freeze(ask: Ask, found: Canvass) -> Response[Any]:
    if not ask.form.text("reason"):
        fault = FieldFault(field="reason", words=message(N_("Say what this version is for.")))
        return answer(ask, canvass_page(ask, found, (fault,)), 422)
    try:
        with ask.folder.at_desk(ask.person()) as (desk, people, moment):
            kept = freeze(desk, found.now, reason=ask.form.text("reason"), people=people, moment=moment)
    except NothingNew:
        words = N_("The last version holds just these numbers; nothing new was kept.")
        return answer(ask, canvass_page(ask, found, (FieldFault(field="reason", words=message(words)),)), 409)
    return go(f"/canvass/version/{kept.digest[:16]}?done=kept")
