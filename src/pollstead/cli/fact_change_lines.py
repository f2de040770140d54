"""Changes of facts on the command line: a heading with when, who and why, then a line for each cell."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

from pollstead.election.words import N_, message
from pollstead.intake.fact_edits import Edit, EditKind
from pollstead.show.words import fill, text
from pollstead.work.fact_changes import CellStanding, Standing, StandingChange
from pollstead.work.fact_words import ACT_WORDS, is_shown

FORMAT = "pollstead facts changes 1"
BLANK = N_("(blank)")
CHANGED = N_("changed")


def print_change(one: StandingChange, values: bool) -> None:
    """One change under its heading."""
    change = one.change
    when = datetime.fromtimestamp(change.utc_ms // 1000, UTC)
    local = when.astimezone(timezone(timedelta(minutes=change.offset_min))).strftime("%Y-%m-%d %H:%M")
    act = text(ACT_WORDS.get(change.act, change.act))
    print(
        fill(
            message(
                N_("{number}. {when}  {who}  {act}  [{standing}]  {event}"),
                number=change.number,
                when=local,
                who=change.author.removeprefix("person/"),
                act=act,
                standing=text(one.standing.value),
                event=change.event[:8],
            )
        )
    )
    if not change.known:
        print("     " + fill(message(N_("{count} cells; what they hold is not here"), count=change.count)))
        return
    print("     " + fill(message(N_("Why: {reason}"), reason=change.reason)))
    now = {cell.edit: cell for cell in one.cells}
    for edit in change.cells:
        print("     " + _line(edit, now.get(edit), values, one.is_open))


def print_remedy(one: StandingChange, folder: Path) -> None:
    """What to do about a change that waits."""
    event = one.change.event[:8]
    aside = f"pollstead facts set-aside {folder} {event} --by PERSON --reason WHY"
    take = f"pollstead facts accept {folder} {event} --by PERSON --reason WHY"
    if one.standing is Standing.NOT_WRITTEN:
        take = f"pollstead facts finish {folder} {event}"
    if one.standing is Standing.CHANGED_SINCE:
        print("     " + text(N_("The tables were edited since. Nothing has to be done.")))
        return
    if one.standing is not Standing.NOT_HERE:
        print("     " + fill(message(N_("Write it into the tables: {command}"), command=take)))
    print("     " + fill(message(N_("Or leave the tables as they are: {command}"), command=aside)))


def _line(edit: Edit, cell: CellStanding | None, values: bool, is_open: bool) -> str:
    shown = values or is_shown(edit.table, edit.column)
    blank = text(BLANK)
    if edit.kind is EditKind.VALUE:
        if not shown:
            said = f"{edit.table}, {edit.row}, {edit.column}: {text(CHANGED)}"
        else:
            said = f"{edit.table}, {edit.row}, {edit.column}: {edit.before or blank} → {edit.after or blank}"
    else:
        template = {
            EditKind.ADDED: N_("{table}: row added: {row}"),
            EditKind.REMOVED: N_("{table}: row removed: {row}"),
            EditKind.ORDER: N_("{table}: the rows of {row} in another order"),
        }[edit.kind]
        said = fill(message(template, table=edit.table, row=edit.row))
        if values and edit.cells:
            said += " (" + "; ".join(f"{one.column} {one.text}" for one in edit.cells) + ")"
    if cell is not None and is_open and cell.state == "other":
        now = (cell.now or blank) if shown and cell.now is not None else text(N_("something else"))
        said += " " + fill(message(N_("[here: {now}]"), now=now))
    return said


def report(found: tuple[StandingChange, ...], values: bool) -> dict[str, Any]:
    """The stable JSON form."""
    return {"format": FORMAT, "changes": [_report(one, values) for one in found]}


def _report(one: StandingChange, values: bool) -> dict[str, Any]:
    change = one.change
    return {
        "number": change.number,
        "event": change.event,
        "act": change.act,
        "subject": change.subject,
        "by": change.author,
        "device": change.device,
        "utc_ms": change.utc_ms,
        "reason": change.reason,
        "standing": one.standing.value,
        "open": one.is_open,
        "undoes": change.undoes,
        "accepts": change.accepts,
        "facts_before": change.before,
        "facts_after": change.after,
        "count": change.count,
        "known": change.known,
        "cells": [
            {
                "table": edit.table,
                "row": edit.row,
                "what": edit.kind.value,
                "column": edit.column,
                **(
                    {"before": edit.before, "after": edit.after}
                    if edit.kind is EditKind.VALUE and (values or is_shown(edit.table, edit.column))
                    else {}
                ),
            }
            for edit in change.cells
        ],
    }
