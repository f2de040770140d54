"""What ``change`` and ``changes`` print: old and new, sheets void and new, whom to call; and their JSON."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec

from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    from pollstead.election.notice import Notice
    from pollstead.reconcile.changed.terms import Consequence
    from pollstead.work.changing import Proposal
    from pollstead.work.changing_kept import Intent
    from pollstead.work.changing_steps import Carried, Step

FORMAT = "pollstead change 1"


def tell_proposal(folder: Path, proposal: Proposal, carried: Carried | None) -> None:
    """Print everything that a change brings, and what was done of it."""
    from pollstead.work.changing_steps import STEP_WORDS

    found = proposal.consequence
    print(fill(proposal.drafted.change.words))
    for words in (*proposal.drafted.warnings, *proposal.drafted.party_warnings):
        print(f"  {text(N_('Weigh:'))} {fill(words)}")
    _edits(proposal)
    _lists(found)
    _sheets(found)
    _calls(found)
    for notice in proposal.notices:
        print(
            f"{text(notice.kind.value)}: {fill(notice.text)}"
            + (f" {fill(notice.remedy)}" if notice.remedy else "")
        )
    if carried is None:
        print()
        print(text(N_("Nothing was done. To do it, give --by PERSON and --reason WORDS.")))
        return
    print()
    print(fill(message(N_("Done: change {number}."), number=carried.number)))
    for step in carried.steps:
        print(f"  {text(STEP_WORDS[step])}")
    for name in carried.files:
        print(f"  {folder / 'packets' / 'changes' / name}")
    if any(name.endswith("expected.pdf") for name in carried.files):
        print(text(N_("Print the expected lists apart and pack them in their own envelopes.")))


def _edits(proposal: Proposal) -> None:
    print(text(N_("In the tables:")))
    for edit in proposal.edits:
        where = f"{edit.table}, {edit.row}"
        if edit.column:
            print(f"  {where}, {edit.column}: {edit.before or '-'} → {edit.after or '-'}")
        else:
            print(f"  {where}: {text(edit.kind.value)}")


def _lists(found: Consequence) -> None:
    for day in found.site_days:
        head = message(
            N_("Expected at {site} on {date}: {changed} change, {kept} stay."),
            site=day.site,
            date=day.date.isoformat(),
            changed=len(day.items),
            kept=day.kept,
        )
        print(fill(head))
        for item in (item for item in day.items if item.before != item.after):
            values = " → ".join(
                value or "?" if value is not None else "-" for value in (item.before, item.after)
            )
            print(f"  {item.station}: {text(item.words)}: {values}")


def _sheets(found: Consequence) -> None:
    print(fill(message(N_("Sheets void: {count}"), count=len(found.void))))
    for one in found.void:
        why = fill(one.without) if one.without is not None else fill(one.why)
        print(f"  {one.serial}  {one.sheet.site} {one.sheet.title} {one.sheet.about} {one.sheet.day}: {why}")
    print(fill(message(N_("Sheets to print: {count}"), count=len(found.prints))))
    for new in found.prints:
        takes = f" ({text(N_('replaces'))} {', '.join(new.replaces)})" if new.replaces else ""
        print(f"  {new.sheet.site} {new.sheet.title} {new.sheet.about} {new.sheet.day}{takes}")
    if found.good:
        print(fill(message(N_("Sheets at these sites that stay good: {count}"), count=len(found.good))))


def _calls(found: Consequence) -> None:
    print(fill(message(N_("People to call: {count}"), count=len(found.calls))))
    for call in found.calls:
        roles = ", ".join(fill(role) for role in call.roles)
        phone = call.phone or text(N_("no phone told"))
        name = call.name if call.person else text(call.name)
        print(f"  [ ] {name} ({roles}) {phone}: {' '.join(fill(why) for why in call.why)}")


def tell_finished(intent: Intent, left: tuple[Step, ...]) -> None:
    """Say which change was interrupted and is finished now."""
    print(
        fill(
            message(
                N_("A change was interrupted and is finished now: {what} Steps that were left: {steps}."),
                what=intent.change.words.english(),
                steps=", ".join(text(step.value) for step in left),
            )
        ),
        file=sys.stderr,
    )


def tell_faults(faults: tuple[Notice, ...]) -> None:
    """Print every fault of cells that do not fit, with its place."""
    for fault in faults:
        place = f"{fault.place.english()}: " if fault.place is not None else ""
        found = f" {text(N_('Found:'))} {fault.found}." if fault.found else ""
        wanted = f" {text(N_('Wanted:'))} {fault.wanted}." if fault.wanted else ""
        print(f"{place}{fill(fault.text)}.{found}{wanted}", file=sys.stderr)


def as_object(proposal: Proposal, carried: Carried | None) -> dict[str, Any]:
    """The stable JSON form of a change."""
    found = proposal.consequence
    return {
        "format": FORMAT,
        "act": proposal.asked.act.value,
        "words": fill(proposal.drafted.change.words),
        "done": carried is not None,
        "number": None if carried is None else carried.number,
        "files": [] if carried is None else list(carried.files),
        "warnings": [fill(words) for words in (*proposal.drafted.warnings, *proposal.drafted.party_warnings)],
        "edits": [
            {
                "table": e.table,
                "row": e.row,
                "kind": e.kind.value,
                "column": e.column,
                "before": e.before,
                "after": e.after,
            }
            for e in proposal.edits
        ],
        "site_days": [
            {
                "site": day.site,
                "date": day.date.isoformat(),
                "in_force": day.in_force,
                "items": [msgspec.to_builtins(item) for item in day.items],
            }
            for day in found.site_days
        ],
        "void": [
            {
                "serial": one.serial,
                "site": one.sheet.site,
                "sheet": one.sheet.key,
                "why": fill(one.why),
                "replaced_by": None if one.successor is None else one.successor.key,
                "without": None if one.without is None else fill(one.without),
            }
            for one in found.void
        ],
        "print": [
            {"site": one.sheet.site, "sheet": one.sheet.key, "replaces": list(one.replaces)}
            for one in found.prints
        ],
        "good": [held.serial for held in found.good],
        "calls": [
            {
                "person": call.person,
                "name": call.name,
                "phone": call.phone,
                "site": call.site,
                "roles": [fill(role) for role in call.roles],
                "why": [fill(why) for why in call.why],
            }
            for call in found.calls
        ],
        "notices": [{"key": n.key, "kind": n.kind.value, "text": fill(n.text)} for n in proposal.notices],
    }
