"""Changes of facts: what was done to the county's tables, by whom and why; undo; what waits."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, ClassVar, Final

from litestar import Request, Response, get, post
from litestar.params import FromPath

from pollstead.election.notice import Notice
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.intake.fact_edits import Edit, EditKind
from pollstead.intake.fact_writing import NotTaken
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.pages.who_page import FieldFault
from pollstead.show.web.seen_cells import may_see
from pollstead.work import fact_waiting
from pollstead.work.fact_bases import StalePlan, stale_plans
from pollstead.work.fact_changes import CellStanding, Standing, StandingChange
from pollstead.work.fact_words import ACT_WORDS
from pollstead.work.facts import CannotChange, undo_change

MOST_CHANGES: Final = 50
MOST_CELLS: Final = 60


class CellShown(Value, frozen=True, kw_only=True):
    """One cell or row of a change; `hidden` where the reader's role does not see what stood there."""

    table: str
    row: str
    kind: str
    column: str
    before: str
    after: str
    now: str | None
    hidden: bool


class ChangeShown(Value, frozen=True, kw_only=True):
    """One change as a reader sees it, with the acts that are open to the reader."""

    number: int
    event: str
    act: str
    subject: str
    who: str
    utc_ms: int
    reason: str
    standing: str
    shape: str
    known: bool
    count: int
    cells: tuple[CellShown, ...]
    beyond: int
    acts: tuple[str, ...]
    undoes: int
    accepts: int


class FactChangesPage(Page, frozen=True, kw_only=True):
    """Every change, the newest first; what waits stands on top."""

    template: ClassVar[str] = "fact_changes.html"

    waiting: tuple[ChangeShown, ...]
    rows: tuple[ChangeShown, ...]
    total: int
    done: ChangeShown | None
    stale: tuple[StalePlan, ...]
    faults: tuple[FieldFault, ...]
    refused: tuple[Notice, ...]
    at: str
    reason: str
    may_change: bool
    zone: str


SHAPES: Final = {
    Standing.IN_TABLES: "square",
    Standing.REPLACED: "half",
    Standing.UNDONE: "cross",
    Standing.DECIDED: "cross",
    Standing.CHANGED_SINCE: "half",
}


def fact_changes_page(
    ask: Ask,
    *,
    faults: tuple[FieldFault, ...] = (),
    refused: tuple[Notice, ...] = (),
    at: str = "",
) -> FactChangesPage:
    """The page as things are now; `at` is the change whose form was sent."""
    folder = ask.folder
    found = folder.changes_of_facts()
    numbers = {one.change.event: one.change.number for one in found}
    shown = {one.change.event: _shown(ask, one, numbers) for one in reversed(found)}
    election = folder.tables_election()
    return FactChangesPage(
        **ask.frame(N_("What was changed in the facts?")),
        waiting=tuple(shown[one.change.event] for one in found if one.is_open),
        rows=tuple(shown[one.change.event] for one in reversed(found) if not one.is_open)[: _most(ask)],
        total=len(found),
        done=shown.get(ask.query.get("done", "")),
        stale=_stale(ask) if election is not None else (),
        faults=faults,
        refused=refused,
        at=at,
        reason=ask.form.text("reason"),
        may_change=ask.may(Capability.CHANGE),
        zone=folder.zone_name,
    )


def _most(ask: Ask) -> int:
    return 10_000 if ask.query.get("all") == "yes" else MOST_CHANGES


def _stale(ask: Ask) -> tuple[StalePlan, ...]:
    from pollstead.intake.fact_writing import folder_facts

    return stale_plans(ask.folder.store, folder_facts(ask.folder.path).digest)


def _shown(ask: Ask, one: StandingChange, numbers: dict[str, int]) -> ChangeShown:
    change = one.change
    now = {cell.edit: cell for cell in one.cells} if one.is_open else {}
    return ChangeShown(
        number=change.number,
        event=change.event,
        act=ACT_WORDS.get(change.act, change.act),
        subject="" if change.subject == "facts" else change.subject,
        who=ask.folder.person_name(change.author) if ask.may(Capability.SEE_PEOPLE) else change.author,
        utc_ms=change.utc_ms,
        reason=change.reason if ask.may(Capability.SEE_PEOPLE) else "",
        standing=one.standing.value,
        shape=SHAPES.get(one.standing, "diamond"),
        known=change.known,
        count=change.count,
        cells=tuple(_cell(ask, edit, now.get(edit)) for edit in change.cells[:MOST_CELLS]),
        beyond=max(0, len(change.cells) - MOST_CELLS),
        acts=_acts(ask, one),
        undoes=numbers.get(change.undoes, 0),
        accepts=numbers.get(change.accepts, 0),
    )


def _cell(ask: Ask, edit: Edit, standing: CellStanding | None) -> CellShown:
    seen = may_see(ask.may, edit.table, edit.column)
    whole = "; ".join(f"{cell.column} {cell.text}" for cell in edit.cells) if seen else ""
    value = edit.kind is EditKind.VALUE
    other = standing is not None and standing.state == "other"
    return CellShown(
        table=edit.table,
        row=edit.row,
        kind=edit.kind.value,
        column=edit.column,
        before=(edit.before or "") if seen and value else "",
        after=edit.after if seen and value else whole,
        now=(standing.now or "") if seen and standing is not None and other else None,
        hidden=not seen,
    )


def _acts(ask: Ask, one: StandingChange) -> tuple[str, ...]:
    if not ask.may(Capability.CHANGE):
        return ()
    if one.standing is Standing.NOT_WRITTEN:
        return ("finish", "set_aside")
    if one.standing in (Standing.ELSEWHERE, Standing.CLASH):
        return ("accept", "set_aside")
    if one.standing is Standing.NOT_HERE:
        return ("set_aside",)
    undone = one.standing in (Standing.UNDONE, Standing.DECIDED)
    return ("undo",) if one.change.known and one.change.cells and not undone else ()


@get("/facts/changes")
@in_thread
def fact_changes(request: Request[Any, Any, Any]) -> Response[str]:
    """Every change of facts."""
    ask = Ask(request)
    return answer(ask, fact_changes_page(ask))


@post("/facts/changes/{event:str}")
@in_thread
def act_on_change(request: Request[Any, Any, Any], event: FromPath[str]) -> Response[Any]:
    """Undo a change, or end one that waits, with a reason."""
    ask = Ask(request)
    folder = ask.folder
    known = {one.change.event for one in folder.changes_of_facts()}
    act = ask.form.text("act")
    if event not in known or act not in ACTS:
        raise Trouble(404, N_("There is no such change."), N_("This list has every one."), "/facts/changes")
    if not ask.form.text("reason") and act != "finish":
        fault = FieldFault(field=f"reason-{event[:8]}", words=message(N_("Say why, in a few words.")))
        return answer(ask, fact_changes_page(ask, faults=(fault,), at=event), 422)
    try:
        done = ACTS[act](ask, event)
    except NotTaken as error:
        return answer(ask, fact_changes_page(ask, refused=error.faults, at=event), 409)
    except CannotChange as error:
        fault = FieldFault(field=f"change-{event[:8]}", words=error.said)
        return answer(ask, fact_changes_page(ask, faults=(fault,), at=event), 409)
    return go(f"/facts/changes?done={done}")


def _undo(ask: Ask, event: str) -> str:
    with ask.folder.at_desk(ask.person()) as (desk, people, moment):
        return undo_change(
            ask.folder.path,
            event,
            reason=ask.form.text("reason"),
            people=people,
            desk=desk,
            moment=moment,
            changed_too=ask.form.text("changed_too") == "yes",
        ).event.id


def _finish(ask: Ask, event: str) -> str:
    with ask.folder.at_desk(ask.person()) as (desk, _people, _moment):
        fact_waiting.finish(ask.folder.path, event, desk=desk)
    return event


def _accept(ask: Ask, event: str) -> str:
    with ask.folder.at_desk(ask.person()) as (desk, people, moment):
        return fact_waiting.accept(
            ask.folder.path,
            event,
            reason=ask.form.text("reason"),
            people=people,
            desk=desk,
            moment=moment,
        ).event.id


def _set_aside(ask: Ask, event: str) -> str:
    with ask.folder.at_desk(ask.person()) as (desk, people, moment):
        return fact_waiting.set_aside(
            ask.folder.path,
            event,
            reason=ask.form.text("reason"),
            people=people,
            desk=desk,
            moment=moment,
        ).id


ACTS: Final[dict[str, Callable[[Ask, str], str]]] = {
    "undo": _undo,
    "finish": _finish,
    "accept": _accept,
    "set_aside": _set_aside,
}
