"""End what waits: finish a change of this computer, accept one of another, or set one aside."""

from __future__ import annotations

from pathlib import Path

import msgspec

from pollstead.election.words import N_, message
from pollstead.intake.fact_edits import EditKind, forced, reverse
from pollstead.intake.fact_writing import NotTaken
from pollstead.record.event import Person, Signed
from pollstead.record.write import Moment
from pollstead.store.desk import Desk
from pollstead.work.fact_changes import ACCEPT, SET_ASIDE, Standing
from pollstead.work.fact_writing import Act, CannotChange, FactsTaken, open_facts
from pollstead.work.facts import pending

_NOTHING_WAITS = N_("This change waits for nothing.")


def finish(folder: Path, event: str, *, desk: Desk) -> tuple[str, ...]:
    """Write a change of this computer into the tables, that was recorded and not written; the files.

    No new event: the one that is there says it all. Raises NotTaken where a cell was changed since.
    """
    with open_facts(folder, desk) as facts:
        found = facts.standing(event)
        if found.standing is not Standing.NOT_WRITTEN:
            raise CannotChange(message(_NOTHING_WAITS))
        ready = facts.prepare(cell.edit for cell in found.cells)
        facts.replace(ready, event, found.change.act, found.change.utc_ms)
        facts.note_written(event)
        return tuple(ready.files)


def finish_stopped(folder: Path, desk: Desk, acts: frozenset[str]) -> int:
    """Finish what a stop left recorded and not written of these acts of this computer; how many.

    Only for acts that two people agreed on before they were recorded, where nothing is left to decide. What
    cannot be finished as it was recorded goes on waiting for a person.
    """
    done = 0
    for one in pending(folder, desk.store, desk.recorder.device):
        if one.standing is Standing.NOT_WRITTEN and one.change.act in acts:
            try:
                finish(folder, one.change.event, desk=desk)
            except (NotTaken, CannotChange):
                continue
            done += 1
    return done


def accept(
    folder: Path,
    event: str,
    *,
    reason: str,
    people: tuple[Person, ...],
    desk: Desk,
    moment: Moment,
) -> FactsTaken:
    """Take a change of another computer into these tables, by an event that names it.

    Its cells take the place of what stands here, also where both changed one cell; what stood here
    is kept in the event.
    """
    with open_facts(folder, desk) as facts:
        facts.check_nothing_waits()
        found = facts.standing(event)
        if found.standing is Standing.NOT_HERE:
            raise CannotChange(message(N_("What this change did is not known here; it can be set aside.")))
        if found.standing not in (Standing.ELSEWHERE, Standing.CLASH):
            raise CannotChange(message(_NOTHING_WAITS))
        ready = facts.prepare(forced(cell.edit) for cell in found.cells)
        act = Act(
            act=ACCEPT,
            subject=found.change.subject,
            reason=reason,
            people=people,
            moment=moment,
            accepts=event,
        )
        return facts.write(ready, act)


def set_aside(
    folder: Path,
    event: str,
    *,
    reason: str,
    people: tuple[Person, ...],
    desk: Desk,
    moment: Moment,
) -> Signed:
    """Leave the tables as they are and record that a change not in them is not wanted; the event.

    It names the cells backwards, so that the computer that made the change can take it back.
    """
    with open_facts(folder, desk) as facts:
        found = facts.standing(event)
        if not found.is_open:
            raise CannotChange(message(_NOTHING_WAITS))
        back = []
        for cell in found.cells:
            edit = reverse(cell.edit)
            if edit.kind is EditKind.VALUE and cell.now is not None:
                edit = msgspec.structs.replace(edit, after=cell.now)
            back.append(edit)
        act = Act(
            act=SET_ASIDE,
            subject=found.change.subject,
            reason=reason,
            people=people,
            moment=moment,
            undoes=event,
        )
        signed = facts.record(back, act, (facts.held.digest, facts.held.digest))
        facts.note_written(signed.id)
        return signed
