"""What ``pollstead facts undo`` does: one change back, or all tables as they were kept."""

from __future__ import annotations

import sys
from pathlib import Path

from pollstead.cli.fact_desk import moment_now, person, told
from pollstead.election.words import N_, message
from pollstead.intake.kept_tables import kept
from pollstead.show.words import fill, text
from pollstead.store.desk import Desk
from pollstead.work.fact_changes import SET_ASIDE, Standing
from pollstead.work.facts import all_changes, bring_back_tables, undo_change


def print_kept(folder: Path) -> int:
    """List the copies of earlier tables, the newest first."""
    copies = kept(folder)
    for held in copies:
        event = f"  {held.event[:8]}" if held.event else ""
        print(f"{held.name}  {held.before[:16]} → {held.after[:16]}  {held.why}{event}")
    if not copies:
        print(text(N_("No tables are kept.")))
    return 0


def undo(folder: Path, change: str, desk: Desk, by: str, reason: str, changed_too: bool) -> int:
    """Take back the change that `change` names, or the last that is in the tables."""
    from pollstead.cli.fact_changes import named

    if change:
        event = named(folder, desk.store, change)
    else:
        there = [
            one.change.event
            for one in all_changes(folder, desk.store, desk.recorder.device)
            if one.standing in (Standing.IN_TABLES, Standing.CHANGED_SINCE)
            and one.change.act not in ("undo", SET_ASIDE)
        ]
        if not there:
            print(text(N_("No change of facts is in the tables.")), file=sys.stderr)
            return 1
        event = there[-1]
    taken = undo_change(
        folder,
        event,
        reason=reason,
        people=person(by),
        desk=desk,
        moment=moment_now(),
        changed_too=changed_too,
    )
    told(folder, taken)
    return 0


def bring_back(folder: Path, name: str, desk: Desk, by: str, reason: str) -> int:
    """Make all tables those kept under `name`, by an event that names every cell."""
    copy = next((held for held in kept(folder) if held.name == name), None)
    if copy is None:
        print(text(N_("No tables of that name are kept; see --list.")), file=sys.stderr)
        return 1
    taken = bring_back_tables(folder, copy, reason=reason, people=person(by), desk=desk, moment=moment_now())
    print(fill(message(N_("The tables are those of {name} again."), name=copy.name)))
    told(folder, taken)
    return 0
