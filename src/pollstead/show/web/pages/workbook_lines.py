"""Every difference of a workbook that was sent, to be taken line by line, by tab or by side."""

from __future__ import annotations

import re
from itertools import groupby
from typing import Any, ClassVar, Final

from litestar import Request, Response, get, post
from litestar.params import FromPath

from pollstead.election.notice import Notice
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.intake.fact_difference import FactLine, Side
from pollstead.intake.fact_import import Import, look, prepare_lines
from pollstead.intake.fact_writing import NotTaken
from pollstead.intake.held_file import HeldFile
from pollstead.intake.tabs import children
from pollstead.intake.workbook_in import lock_beside
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.pages.who_page import FieldFault
from pollstead.show.web.seen_cells import may_see
from pollstead.show.web.uploads import Upload
from pollstead.work.fact_bases import snapshot_of
from pollstead.work.facts import CannotChange, take_prepared

MOST_LINES: Final = 1_500
"""Lines shown on one page; what lies beyond is taken by side or by tab."""

LINE_OF_FORM = re.compile(r"line-([0-9]{1,6})")
SIDE_FIELDS: Final = {
    "side-workbook": Side.WORKBOOK,
    "side-both": Side.BOTH,
    "side-unknown": Side.UNKNOWN,
    "side-folder": Side.FOLDER,
}


class LineShown(Value, frozen=True, kw_only=True):
    """One difference; `hidden` where the reader's role does not see what stands there."""

    number: int
    row: str
    field: str
    kind: str
    old: str
    new: str
    base: str | None
    side: str
    with_rows: bool
    hidden: bool
    ticked: bool


class TabLines(Value, frozen=True, kw_only=True):
    """The differences of one tab."""

    tab: str
    count: int
    lines: tuple[LineShown, ...]
    ticked: bool


class SideCount(Value, frozen=True, kw_only=True):
    """How many lines arose on one side."""

    field: str
    words: str
    count: int
    ticked: bool


class WorkbookLinesPage(Page, frozen=True, kw_only=True):
    """Every difference of a workbook that was sent, to take line by line."""

    template: ClassVar[str] = "workbook_lines.html"

    digest: str
    warnings: tuple[Message, ...]
    unread: tuple[Notice, ...]
    items: tuple[Notice, ...]
    tabs: tuple[TabLines, ...]
    sides: tuple[SideCount, ...]
    total: int
    beyond: int
    faults: tuple[FieldFault, ...]
    refused: tuple[Notice, ...]
    reason: str


@get("/workbook/{digest:str}")
@in_thread
def workbook_lines(request: Request[Any, Any, Any], digest: FromPath[str]) -> Response[str]:
    """The differences of a workbook that was sent."""
    ask = Ask(request)
    upload, found = _look(ask, digest)
    return answer(ask, lines_page(ask, digest, upload.name, found))


@post("/workbook/{digest:str}")
@in_thread
def take_lines(request: Request[Any, Any, Any], digest: FromPath[str]) -> Response[Any]:
    """Take the lines that were ticked, by one event."""
    ask = Ask(request)
    upload, found = _look(ask, digest)
    numbers = ticked_lines(ask, found)
    faults = []
    if not numbers:
        faults.append(FieldFault(field="lines", words=message(N_("Tick the lines to take."))))
    reason = ask.form.text("reason")
    if not reason:
        faults.append(FieldFault(field="reason", words=message(N_("Say why, in a few words."))))
    if faults:
        return answer(ask, lines_page(ask, digest, upload.name, found, tuple(faults)), 422)
    try:
        ready = prepare_lines(ask.folder.path, found, numbers)
        with ask.folder.at_desk(ask.person()) as (desk, people, moment):
            taken = take_prepared(
                ask.folder.path,
                found.folder,
                ready,
                act="import",
                reason=reason,
                people=people,
                desk=desk,
                moment=moment,
            )
    except NotTaken as error:
        page = lines_page(ask, digest, upload.name, found, refused=error.faults)
        return answer(ask, page, 422)
    except CannotChange as error:
        fault = FieldFault(field="lines", words=error.said)
        return answer(ask, lines_page(ask, digest, upload.name, found, (fault,)), 409)
    ask.folder.uploads.drop(digest)
    return go(f"/facts/changes?done={taken.event.id}")


def _look(ask: Ask, digest: str) -> tuple[Upload, Import]:
    """The upload and its differences; Trouble where it is not held any more."""
    upload = ask.folder.uploads.get(digest)
    if upload is None:
        raise Trouble(404, N_("This file is not held any more."), N_("Send the workbook again."), "/workbook")
    store, folder = ask.folder.store, ask.folder.path
    file = HeldFile("workbook.xlsx", upload.data)
    return upload, look(folder, file, lambda facts: snapshot_of(folder, store, facts))


def ticked_lines(ask: Ask, found: Import) -> frozenset[int]:
    """The numbers of the lines that the form names, one by one, by tab or by side.

    A line whose values the person may not see is not taken.
    """
    known = {line.number for line in found.difference.lines if may_see(ask.may, line.tab, line.field)}
    numbers = set()
    for field in ask.form:
        line = LINE_OF_FORM.fullmatch(field)
        if line is not None:
            numbers.add(int(line[1]))
        elif field.startswith("tab-"):
            numbers |= {one.number for one in found.difference.lines if one.tab == field[4:]}
        elif field in SIDE_FIELDS:
            numbers |= found.difference.numbers(SIDE_FIELDS[field])
    return frozenset(numbers & known)


def lines_page(
    ask: Ask,
    digest: str,
    name: str,
    found: Import,
    faults: tuple[FieldFault, ...] = (),
    refused: tuple[Notice, ...] = (),
) -> WorkbookLinesPage:
    """The list of differences, with what was ticked before kept."""
    lines = found.difference.lines
    shown = lines[:MOST_LINES]
    counts = {tab: sum(line.tab == tab for line in lines) for tab in {line.tab for line in lines}}
    return WorkbookLinesPage(
        **ask.frame(N_("What differs in {name}?"), name=name or N_("the workbook")),
        digest=digest,
        warnings=warnings(ask, name, found),
        unread=found.faults,
        items=found.workbook.facts.items,
        tabs=tuple(
            TabLines(
                tab=tab,
                count=counts[tab],
                lines=tuple(_shown(ask, line) for line in group),
                ticked=f"tab-{tab}" in ask.form,
            )
            for tab, group in groupby(shown, key=lambda line: line.tab)
        ),
        sides=tuple(
            SideCount(
                field=field,
                words=side.value,
                count=len(found.difference.numbers(side)),
                ticked=field in ask.form,
            )
            for field, side in SIDE_FIELDS.items()
            if found.difference.numbers(side)
        ),
        total=len(lines),
        beyond=len(lines) - len(shown),
        faults=faults,
        refused=refused,
        reason=ask.form.text("reason"),
    )


def _shown(ask: Ask, line: FactLine) -> LineShown:
    seen = may_see(ask.may, line.tab, line.field)
    return LineShown(
        number=line.number,
        row=line.row,
        field=line.field,
        kind=line.kind.value,
        old=line.old if seen else "",
        new=line.new if seen else "",
        base=line.base if seen else None,
        side=line.side.value,
        with_rows=bool(children(line.tab)) and not line.field,
        hidden=not seen,
        ticked=f"line-{line.number}" in ask.form,
    )


def warnings(ask: Ask, name: str, found: Import) -> tuple[Message, ...]:
    """What a person should know before taking anything."""
    told = []
    if name and (lock := lock_beside(ask.folder.path / name)):
        told.append(
            message(
                N_("{name} is open in another program ({lock}). What is not saved there is not read."),
                name=name,
                lock=lock,
            )
        )
    if found.older and not found.workbook.origin.facts:
        told.append(message(N_("The file does not say which facts it was made from.")))
    elif found.older:
        words = N_(
            "The file is older than the last change of the facts: it was made {made} from other facts."
        )
        told.append(message(words, made=found.workbook.origin.made or "?"))
    if found.older and not found.base_known:
        words = N_("Those facts are not kept here, so nobody knows which side changed. Read every line.")
        told.append(message(words))
    both = len(found.difference.numbers(Side.BOTH))
    if both:
        words = N_("{count} cells were changed in the workbook and here: look at both values.")
        told.append(message(words, count=both))
    later = len(found.difference.numbers(Side.FOLDER))
    if later:
        words = N_("{count} lines were changed here since: taking them goes back to the older value.")
        told.append(message(words, count=later))
    return tuple(told)
