"""Changes: the list with undo, the one being carried out, one that is done with its sheets and calls."""

from __future__ import annotations

from typing import Any, ClassVar

from litestar import Request, Response, get, post
from litestar.params import FromPath

from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.reconcile.changed.terms import Change, NewSheet, VoidSheet
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.pages.change_calls import ChangeCall, change_calls, take_call
from pollstead.show.web.pages.change_review import line_up
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.store.jobs import JobState
from pollstead.work.changing_kept import KeptChange, kept, open_intent
from pollstead.work.changing_list import ChangeLine, change_lines
from pollstead.work.changing_steps import STEP_WORDS, steps_left
from pollstead.work.changing_work import CHANGES_FOLDER

MOVING = (JobState.WAITING, JobState.RUNNING)


class ChangeRow(Value, frozen=True, kw_only=True):
    """One change of the list, with the name of whoever made it and the address of its undo."""

    line: ChangeLine
    words: Message
    name: str
    link: str
    undo: str


class ChangesPage(Page, frozen=True, kw_only=True):
    """Every change, the newest first."""

    template: ClassVar[str] = "changes.html"

    rows: tuple[ChangeRow, ...]
    may_change: bool
    waiting: bool
    zone: str


class StepRow(Value, frozen=True, kw_only=True):
    """One step and whether it is done."""

    words: str
    done: bool


class NowPage(Page, frozen=True, kw_only=True):
    """The change that is being carried out."""

    template: ClassVar[str] = "change_now.html"

    words: Message
    steps: tuple[StepRow, ...]
    moving: bool
    failed: str
    may_change: bool


class FileRow(Value, frozen=True, kw_only=True):
    """One file of sheets; `apart` where it holds expected lists."""

    link: str
    name: str
    apart: bool


class DonePage(Page, frozen=True, kw_only=True):
    """One change that is done: its sheets, the void ones, the calls."""

    template: ClassVar[str] = "change_done.html"

    line: ChangeLine
    words: Message
    reason: str
    name: str
    zone: str
    files: tuple[FileRow, ...]
    void: tuple[VoidSheet, ...]
    prints: tuple[NewSheet, ...]
    good: int
    calls: tuple[ChangeCall, ...]
    may_call: bool
    untold: int
    known: bool
    undo: str
    phones: bool
    cautions: tuple[Caution, ...]


@get("/changes")
@in_thread
def changes(request: Request[Any, Any, Any]) -> Response[str]:
    """The list of changes."""
    ask = Ask(request)
    rows = tuple(
        ChangeRow(
            line=line,
            words=seen_words(ask, line),
            name=ask.folder.person_name(line.person) if ask.may(Capability.SEE_PEOPLE) else "",
            link=f"/changes/{line.number}",
            undo=undo_link(line),
        )
        for line in change_lines(ask.folder.path, ask.folder.store)
    )
    page = ChangesPage(
        **ask.frame(N_("What was changed?")),
        rows=rows,
        may_change=ask.may(Capability.CHANGE),
        waiting=open_intent(ask.folder.store) is not None,
        zone=ask.folder.zone_name,
    )
    return answer(ask, page)


def seen_words(ask: Ask, change: ChangeLine | Change) -> Message:
    """What a change was, without names of people and numbers that this role does not see."""
    if change.names_people and not ask.may(Capability.SEE_PEOPLE):
        return message(N_("A person is replaced; your role does not see names."))
    return change.words if ask.may(Capability.SEE_EXPECTED) else change.site_words


def undo_link(line: ChangeLine) -> str:
    """Where the undo of a change is looked at first; "" where it cannot be undone here."""
    return f"/change/undo/review?old={line.number}" if line.may_undo else ""


@get("/changes/now")
@in_thread
def change_now(request: Request[Any, Any, Any]) -> Response[Any]:
    """How far the change is; once it is done, the page of what it made."""
    ask = Ask(request)
    intent = open_intent(ask.folder.store)
    if intent is None:
        lines = change_lines(ask.folder.path, ask.folder.store)
        return go(f"/changes/{lines[0].number}" if lines else "/changes")
    left = steps_left(intent)
    jobs = [job for job in ask.folder.store.jobs.list() if job.kind == "change"]
    last = max(jobs, key=lambda job: job.requested_utc_ms, default=None)
    page = NowPage(
        **ask.frame(N_("How far is this change?")),
        words=seen_words(ask, intent.change),
        steps=tuple(StepRow(words=words, done=step not in left) for step, words in STEP_WORDS.items()),
        moving=last is not None and last.state in MOVING,
        failed=last.message if last is not None and last.state is JobState.FAILED else "",
        may_change=ask.may(Capability.CHANGE),
    )
    return answer(ask, page)


@post("/changes/now")
@in_thread
def finish_change(request: Request[Any, Any, Any]) -> Response[Any]:
    """Take up again a change that was interrupted."""
    ask = Ask(request)
    if open_intent(ask.folder.store) is not None:
        line_up(request, ask)
    return go("/changes/now")


def line_of(ask: Ask, number: int) -> tuple[ChangeLine, KeptChange | None]:
    """One change by its number; raises Trouble where there is none."""
    for line in change_lines(ask.folder.path, ask.folder.store):
        if line.number == number:
            return line, kept(ask.folder.store, line.event)
    raise Trouble(404, N_("There is no such change."), N_("This list has every one."), "/changes")


@get("/changes/{number:int}")
@in_thread
def change_done(request: Request[Any, Any, Any], number: FromPath[int]) -> Response[str]:
    """One change and what it made."""
    ask = Ask(request)
    line, held = line_of(ask, number)
    found = None if held is None else held.intent.consequence
    folder = ask.folder.path / "packets" / CHANGES_FOLDER
    calls = () if found is None else change_calls(ask, line.event, found)
    page = DonePage(
        **ask.frame(N_("Change {number}: print these, call them"), number=number),
        line=line,
        words=seen_words(ask, line),
        reason=line.reason if ask.may(Capability.SEE_PEOPLE) else "",
        name=ask.folder.person_name(line.person) if ask.may(Capability.SEE_PEOPLE) else "",
        zone=ask.folder.zone_name,
        files=tuple(
            FileRow(link=f"/changes/{number}/file/{name}", name=name, apart="-expected" in name)
            for name in sorted(line.files, key=lambda name: "-expected" in name)
            if (folder / name).is_file() and _may_open(ask, name)
        ),
        void=() if found is None else found.void,
        prints=() if found is None else found.prints,
        good=0 if found is None else len(found.good),
        calls=calls,
        may_call=ask.may(Capability.CALL),
        untold=sum(not one.told for one in calls),
        known=found is not None,
        undo=undo_link(line) if ask.may(Capability.CHANGE) else "",
        phones=ask.may(Capability.SEE_PHONES),
        cautions=for_place(Place.CHANGE_PAGE),
    )
    return answer(ask, page)


@post("/changes/{number:int}")
@in_thread
def told_of_change(request: Request[Any, Any, Any], number: FromPath[int]) -> Response[Any]:
    """Write a call about this change down."""
    ask = Ask(request)
    line, held = line_of(ask, number)
    take_call(ask, number, line.event, None if held is None else held.intent.consequence)
    return go(f"/changes/{number}#calls")


def _may_open(ask: Ask, name: str) -> bool:
    """Whether this person may open a file: sheets name people, expected lists hold expected numbers."""
    needs = Capability.SEE_EXPECTED if "-expected" in name else Capability.SEE_PHONES
    return ask.may(needs)


@get("/changes/{number:int}/file/{name:str}")
@in_thread
def change_file(
    request: Request[Any, Any, Any], number: FromPath[int], name: FromPath[str]
) -> Response[bytes]:
    """One file of the sheets of a change, as PDF."""
    ask = Ask(request)
    line, _ = line_of(ask, number)
    path = ask.folder.path / "packets" / CHANGES_FOLDER / name
    if name not in line.files or not path.is_file() or not _may_open(ask, name):
        raise Trouble(
            404,
            N_("There is no such file of this change for you."),
            N_("Its page has those that you may open."),
            f"/changes/{number}",
        )
    return Response(
        content=path.read_bytes(),
        media_type="application/pdf",
        headers={"content-disposition": f'inline; filename="{name}"'},
    )
