"""``pollstead changes``: every change of the facts; undo one by its number; finish an interrupted one."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import cyclopts

from pollstead.cli.change import finish_open
from pollstead.cli.options import AsJson
from pollstead.election.words import N_, message
from pollstead.reconcile.changed.terms import Act
from pollstead.show.words import fill, text
from pollstead.work.county_folder import Refused, store_of

if TYPE_CHECKING:
    from pollstead.work.changing_list import ChangeLine

FORMAT = "pollstead changes 1"
UNDO, DROP = "undo", "drop"

app = cyclopts.App(name="changes", help=text(N_("List changes of the facts, undo one by its number.")))


@app.default
def changes(
    folder: Path,
    what: Annotated[
        str, cyclopts.Parameter(help=text(N_("Nothing for the list, undo with a NUMBER, or drop.")))
    ] = "",
    number: Annotated[str, cyclopts.Parameter(help=text(N_("Number of the change to undo.")))] = "",
    /,
    *,
    by: Annotated[
        str, cyclopts.Parameter(help=text(N_("Id of the person who does it; without it nothing is done.")))
    ] = "",
    reason: Annotated[str, cyclopts.Parameter(help=text(N_("Why it is undone, in a few words.")))] = "",
    as_json: AsJson = False,
) -> int:
    """List every change; a change that was interrupted is finished first. Undo is a change like it.

    Returns 0 when listed or done, 1 where it cannot be done, 2 for a wrong option.
    """
    from pollstead.cli.change import _change
    from pollstead.cli.change_words import tell_faults
    from pollstead.intake.fact_writing import NotTaken
    from pollstead.work.changing_terms import Asked

    if what not in ("", UNDO, DROP) or (what == UNDO) != bool(number):
        print(text(N_("Give nothing, undo with a number, or drop.")), file=sys.stderr)
        return 2
    try:
        if what == DROP:
            return _drop(folder)
        if what == UNDO:
            asked = Asked(act=Act.UNDO, old=number, said=(("reason", reason),))
            return _change(folder, asked, by=by, second="", reason=reason, as_json=as_json)
        finish_open(folder)
        _list(folder, as_json)
    except Refused as refused:
        print(fill(refused.said), file=sys.stderr)
        return 1
    except NotTaken as not_taken:
        tell_faults(not_taken.faults)
        return 1
    return 0


def _drop(folder: Path) -> int:
    from pollstead.cli.change import desk_for
    from pollstead.work.changing_kept import open_intent
    from pollstead.work.changing_steps import drop

    with store_of(folder) as store:
        intent = open_intent(store)
    if intent is None:
        print(text(N_("No change is waiting to be finished.")))
        return 0
    desk = desk_for(folder, intent.by)
    try:
        drop(desk)
    finally:
        desk.close()
    print(text(N_("The change that was begun is dropped; nothing of it was written.")))
    return 0


def _list(folder: Path, as_json: bool) -> None:
    from pollstead.work.changing_list import change_lines

    with store_of(folder) as store:
        lines = change_lines(folder, store)
    if as_json:
        rows = [_row(line) for line in lines]
        json.dump({"format": FORMAT, "changes": rows}, sys.stdout, ensure_ascii=False, indent=2)
        print()
        return
    if not lines:
        print(text(N_("No change was made yet.")))
    for line in lines:
        print(
            fill(
                message(
                    N_("{number}  {when}  {person}: {what} ({state})"),
                    number=line.number,
                    when=line.when,
                    person=line.person,
                    what=fill(line.words),
                    state=text(line.state),
                )
            )
        )


def _row(line: ChangeLine) -> dict[str, object]:
    return {
        "number": line.number,
        "event": line.event,
        "act": line.act,
        "when": line.when,
        "person": line.person,
        "words": fill(line.words),
        "state": line.state,
        "reason": line.reason,
        "void": line.void,
        "printed": line.printed,
        "files": list(line.files),
    }
