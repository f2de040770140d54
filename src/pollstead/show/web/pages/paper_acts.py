"""What people do with a sheet that came back: put it into a box, key its lines, look at a line once more."""

from __future__ import annotations

import re
from typing import Final

import msgspec

from pollstead.election.words import N_, Message, message
from pollstead.reconcile.paper.keyed import Keyed, author_of
from pollstead.reconcile.paper.sheets import PrintedSheet
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds.body import Body, Private
from pollstead.record.kinds.days import CorrectionPrivate, EntryCorrected
from pollstead.record.kinds.papers import SheetHeld
from pollstead.record.kinds.registry import body_object
from pollstead.show.web.misread import misread_of
from pollstead.show.web.pages.frame import Ask, Trouble
from pollstead.show.web.paper_view import PaperDesk, open_for
from pollstead.show.web.readings import Line
from pollstead.show.web.typed import Wrong, read_line, read_lines

BOX: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ._-]{0,19}")
ACTS: Final = ("hold", "another", "take_back")
LOOKED: Final = "Looked at the sheet once more"


def hold(ask: Ask, desk: PaperDesk, sheet: PrintedSheet) -> tuple[Wrong, ...]:
    """Write down that a sheet lies in a box, that another one with its serial came, or that it does not."""
    act, held = ask.form.text("do"), desk.back(sheet).held
    if act not in ACTS:
        raise Trouble(400, N_("This form is not known here."), N_("Open the page again."), "/paper")
    if act == "take_back":
        for one in held:
            _write(ask, desk, sheet, SheetHeld(copy_no=one.copy_no, box=one.box, state="taken_back"))
        return ()
    box = ask.form.text("box")
    lines = [one.line for one in desk.lines(sheet)]
    different = tuple(line for line in lines if ask.form.text(f"different-{line}") == "yes")
    expected = ask.form.text("all") == "yes"
    faults = []
    if not BOX.fullmatch(box):
        faults.append(
            Wrong(
                field="box", words=message(N_("Type the number on the box, such as 3, at most 20 letters."))
            )
        )
    if lines and expected == bool(different):
        words = (
            N_("Tick the lines that somebody marked, or that all is as expected: not both.")
            if expected
            else N_("Tick the lines that somebody marked, or that all is as expected.")
        )
        faults.append(Wrong(field="all", words=message(words)))
    if faults:
        return tuple(faults)
    copies = [one.copy_no for one in held]
    copy_no = max(copies) + 1 if act == "another" and copies else min(copies, default=1)
    _write(ask, desk, sheet, SheetHeld(copy_no=copy_no, box=box, different=different))
    return ()


def _write(ask: Ask, desk: PaperDesk, sheet: PrintedSheet, body: SheetHeld) -> None:
    subject = f"sheet/{sheet.serial}"
    ask.folder.write(
        body,
        who=ask.person(),
        subject=subject,
        site=f"site/{sheet.site}",
        day=sheet.day,
        after=desk.days.folded.heads(subject, SheetHeld.kind, sheet.day, copy_no=body.copy_no),
    )


def key_lines(ask: Ask, desk: PaperDesk, sheet: PrintedSheet) -> tuple[Wrong, ...]:
    """Write down what this person keyed on the lines open for them; nothing while any of it does not fit."""
    person = ask.person().person
    lines = open_for(desk, sheet, person)
    misread = misread_of(desk.days.election, ask.folder.current(), ask.form)
    answers, wrong = read_lines(lines, ask.form, _not_typed, misread)
    for line, said in answers:
        ask.folder.write(
            _from(sheet, line.id, said.body),
            who=ask.person(),
            subject=line.subject,
            site=f"site/{sheet.site}",
            day=sheet.day,
            private=said.private,
        )
    return wrong


def _not_typed(line: Line) -> Message:
    return message(N_("{line}: nothing was typed. Type 0 where the paper says none."), line=line.id)


def look_again(ask: Ask, desk: PaperDesk, sheet: PrintedSheet) -> tuple[Wrong, ...]:
    """Write down what this person reads on a line whose keyings differ; what they keyed stays visible."""
    number, person = ask.form.text("line"), ask.person().person
    known = desk.keyed(sheet).get(number)
    line = look_line(desk, sheet, number)
    own = next((o for o in known.keyings if author_of(o) == person), None) if known else None
    if known is None or line is None or own is None or known.state is not Keyed.DIFFERS:
        raise Trouble(
            409,
            N_("This line is not open for you."),
            N_("Those who keyed it look once more."),
            f"/paper/{sheet.serial}",
        )
    said = read_line(line, ask.form, misread_of(desk.days.election, ask.folder.current(), ask.form))
    if isinstance(said, Wrong):
        return (said,)
    body = _from(sheet, number, said.body)
    ask.folder.write(
        EntryCorrected(
            corrects=own.event,
            of_kind=said.body.kind,
            value=body_object(body),
            sheet=f"sheet/{sheet.serial}",
            line=number,
        ),
        who=ask.person(),
        subject=own.subject,
        site=f"site/{sheet.site}",
        day=sheet.day,
        private=CorrectionPrivate(reason=LOOKED, fields=_fields(said.private)),
    )
    return ()


def look_line(desk: PaperDesk, sheet: PrintedSheet, number: str) -> Line | None:
    """The form's line that asks once more what stands on a line of paper."""
    asked = next((one for one in desk.lines(sheet) if one.line == number), None)
    line = None if asked is None else desk.form_line(asked)
    return None if line is None else msgspec.structs.replace(line, id=f"look-{number}")


def _fields(private: Private | None) -> FrozenObject | None:
    return None if private is None else body_object(private)


def _from(sheet: PrintedSheet, line: str, body: Body) -> Body:
    """The body with the sheet and line that it was keyed from."""
    return msgspec.structs.replace(body, sheet=f"sheet/{sheet.serial}", line=line)
