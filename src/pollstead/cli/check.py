"""``pollstead check``: faults, contradictions and open items of a county folder. Thin: read, print."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import cyclopts

from pollstead.cli.options import AsJson
from pollstead.election.notice import Grade, Notice, NoticeKind
from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    from pollstead.intake.folder import Intake

FORMAT = "pollstead check 1"

app = cyclopts.App(
    name="check", help=text(N_("Name faults, contradictions and open items of a county folder."))
)


@app.default
def check(folder: Path, /, *, as_json: AsJson = False) -> int:
    """Name everything that cannot be read, contradicts itself or is not known; writes nothing.

    Returns 0 where there are only open items, 1 where a table cannot be read or contradicts itself.
    """
    from pollstead.cli.county import with_letters
    from pollstead.intake.folder import read_folder
    from pollstead.work.clock import date_everywhere

    intake = with_stock(with_letters(read_folder(folder, date_everywhere())), folder)
    if as_json:
        json.dump(report(intake, folder), sys.stdout, ensure_ascii=False, indent=2)
        print()
    else:
        print_report(intake)
    return 1 if intake.faults else 0


def with_stock(intake: Intake, folder: Path) -> Intake:
    """The same with what does not add up in the seal stock, by tables, plan and record; no seal numbers."""
    import msgspec

    from pollstead.cli.standing import standing_of
    from pollstead.work.stock import stock_notices

    if intake.election is None:
        return intake
    plan, folded, _ = standing_of(folder)
    notices = stock_notices(intake.election, plan, folded)
    return msgspec.structs.replace(intake, notices=(*intake.notices, *notices))


def report(intake: Intake, folder: Path) -> dict[str, Any]:
    """The stable JSON form: counts by grade, then every notice in the order they are printed."""
    return {
        "format": FORMAT,
        "folder": str(folder),
        "snapshot": intake.digest,
        "tables": list(intake.tables),
        "not_planned": list(intake.not_planned),
        "counts": {
            "cannot_read": len(intake.of_kind(NoticeKind.FAULT, Grade.CANNOT_READ)),
            "contradicts_itself": len(intake.of_kind(NoticeKind.FAULT, Grade.CONTRADICTS)),
            "open_item": len(intake.of_kind(NoticeKind.OPEN_ITEM)),
            "rule_not_met": len(intake.of_kind(NoticeKind.RULE_NOT_MET)),
        },
        "notices": [_object(notice) for notice in intake.notices],
    }


def _object(notice: Notice) -> dict[str, Any]:
    place = notice.place
    return {
        "key": notice.key,
        "kind": str(notice.kind),
        "grade": str(notice.grade) if notice.grade else None,
        "rule": notice.rule,
        "subject": notice.subject,
        "day": notice.day,
        "text": notice.text.english(),
        "file": place.file if place else None,
        "row": place.row if place else None,
        "column": place.column if place else None,
        "found": notice.found,
        "wanted": notice.wanted,
        "remedy": notice.remedy.english() if notice.remedy else "",
        "owner": notice.owner,
        "due": notice.due,
    }


def print_report(intake: Intake) -> None:
    """Print the notices under their grades, worst first, then what they mean for the plan."""
    groups = (
        (N_("Cannot read: these tables are not taken in"), NoticeKind.FAULT, Grade.CANNOT_READ),
        (N_("Contradicts itself: what depends on it is not planned"), NoticeKind.FAULT, Grade.CONTRADICTS),
        (N_("Rules not met: somebody decides"), NoticeKind.RULE_NOT_MET, None),
        (N_("Open items: nothing waits for them"), NoticeKind.OPEN_ITEM, None),
    )
    for title, kind, grade in groups:
        notices = intake.of_kind(kind, grade)
        if not notices:
            continue
        print(fill(message(N_("{title} ({count})"), title=text(title), count=len(notices))))
        for notice in notices:
            _print_notice(notice)
        print()
    if intake.election is not None:
        print(
            fill(
                message(
                    N_("{tables} tables taken in, {sites} sites; snapshot {digest}"),
                    tables=len(intake.tables),
                    sites=len(intake.election.sites),
                    digest=intake.digest[:16],
                )
            )
        )
    else:
        print(text(N_("No plan can be made until county.toml and sites.csv can be read.")))
    if intake.not_planned:
        listed = ", ".join(intake.not_planned[:20]) + (" …" if len(intake.not_planned) > 20 else "")
        print(
            fill(
                message(
                    N_("Not planned: {count} sites ({sites})"), count=len(intake.not_planned), sites=listed
                )
            )
        )
    if not intake.notices:
        print(text(N_("Nothing to tell.")))


def _print_notice(notice: Notice) -> None:
    place = f"{notice.place.english()}: " if notice.place else ""
    print(f"  {place}{fill(notice.text)}")
    if notice.found or notice.wanted:
        found = fill(message(N_("found {found}"), found=notice.found)) if notice.found else ""
        wanted = fill(message(N_("wanted {wanted}"), wanted=text(notice.wanted))) if notice.wanted else ""
        print("      " + "; ".join(filter(None, (found, wanted))))
    if notice.remedy:
        print(f"      {fill(notice.remedy)}")
    if notice.owner:
        print(
            "      "
            + fill(message(N_("for the {owner}, by {due}"), owner=text(notice.owner), due=notice.due or "-"))
        )
