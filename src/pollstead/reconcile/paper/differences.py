"""What is said of signed paper: two keyings that differ, paper against an earlier entry, odd sheets."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from pollstead.election.instants import format_clock
from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.rules import CountyRules
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.reconcile.counts.differences import who_decides
from pollstead.reconcile.observed import Observation, What
from pollstead.reconcile.paper.keyed import Keyed, KeyedLine, from_paper, keyed_lines, said
from pollstead.reconcile.paper.sheets import SheetBack, SheetState

WHO_DECIDES = N_("the canvassing body; your office says what to do now")


class AgainstPaper(Value, frozen=True, kw_only=True):
    """A line of paper that says something else than what came before or beside it another way.

    `other` are the standing entries that came another way, the first one first; all are kept.
    """

    line: KeyedLine
    other: tuple[Observation, ...]


def against_paper(
    lines: Iterable[KeyedLine], observations: Iterable[Observation]
) -> tuple[AgainstPaper, ...]:
    """The lines on which two people agree, and which an entry that came another way contradicts."""
    by_thing: dict[tuple[object, ...], list[Observation]] = {}
    for seen in observations:
        if seen.stands and not from_paper(seen):
            by_thing.setdefault(_thing(seen), []).append(seen)
    found = []
    for line in lines:
        if line.state is not Keyed.AGREED:
            continue
        paper = line.keyings[0]
        other = tuple(o for o in by_thing.get(_thing(paper), ()) if said(o) != said(paper))
        if other:
            found.append(AgainstPaper(line=line, other=other))
    return tuple(found)


def keyed_notices(
    counting: tuple[Observation, ...], aside: tuple[Observation, ...], date: dt.date, rules: CountyRules
) -> tuple[Notice, ...]:
    """The notices about what was keyed from the sheets of one site and day.

    `counting` are the observations that count, `aside` those keyed from paper that do not.
    """
    if not aside and not any(map(from_paper, counting)):
        return ()
    lines = keyed_lines((*counting, *aside))
    found = [_two_keyings(line, date) for line in lines if line.state is Keyed.DIFFERS]
    return (*found, *(_paper_differs(one, date, rules) for one in against_paper(lines, counting)))


def shown(seen: Observation) -> str:
    """What an entry says, as people write it."""
    if seen.what is What.CLOCK:
        return f"{format_clock(seen.number or 0)} / {format_clock(seen.other_number or 0)} {seen.date_shown}"
    if seen.number is not None:
        return str(seen.number)
    state = "" if seen.state == "intact" and seen.value else seen.state.replace("_", " ")
    return f"{seen.value} {state}".strip()


def _thing(seen: Observation) -> tuple[object, ...]:
    """What an observation is of, whatever it says: equal for two readings of one thing."""
    return (seen.what, seen.subject, seen.detail, seen.source if seen.what is What.COUNT else "")


def _two_keyings(line: KeyedLine, date: dt.date) -> Notice:
    values = tuple(dict.fromkeys(shown(seen) for seen in line.keyings))
    return Notice(
        kind=NoticeKind.DIFFERENCE,
        rule="paper-keyed-differently",
        subject=f"sheet/{line.sheet}/{line.line}",
        day=date.isoformat(),
        text=message(
            N_("Sheet {sheet}, line {line}: the keyings differ. Nothing of this line counts yet."),
            sheet=line.sheet,
            line=line.line,
        ),
        found="; ".join(values),
        remedy=message(N_("Both look at the sheet once more; whoever misread it corrects that keying.")),
        who_decides=N_("the two people who keyed it"),
        depends=tuple(f"{seen.event}={shown(seen)}" for seen in line.keyings),
    )


def _paper_differs(one: AgainstPaper, date: dt.date, rules: CountyRules) -> Notice:
    paper = one.line.keyings[0]
    return Notice(
        kind=NoticeKind.DIFFERENCE,
        rule="paper-differs",
        subject=f"sheet/{one.line.sheet}/{one.line.line}",
        day=date.isoformat(),
        text=message(
            N_(
                "Sheet {sheet}, line {line}: paper says {paper}; entered before, or another way: {other}. "
                "All are kept."
            ),
            sheet=one.line.sheet,
            line=one.line.line,
            paper=shown(paper),
            other="; ".join(dict.fromkeys(shown(seen) for seen in one.other)),
        ),
        found="; ".join(dict.fromkeys(shown(seen) for seen in (*one.other, paper))),
        remedy=message(
            N_("Look at the sheet and ask whoever entered the other; whoever was wrong corrects that entry.")
        ),
        who_decides=who_decides(rules, WHO_DECIDES),
        depends=tuple(f"{seen.event}={shown(seen)}" for seen in (paper, *one.other)),
    )


def sheet_notices(sheets: Iterable[SheetBack]) -> tuple[Notice, ...]:
    """The notices about sheets that came back void, twice, or as two prints of one sheet."""
    found = []
    for one in sheets:
        if one.state is SheetState.VOID_BACK:
            found.append(_void_back(one))
        if one.twice or one.two_boxes or one.prints:
            found.append(_twice(one))
    return tuple(found)


def _void_back(one: SheetBack) -> Notice:
    template = (
        N_("Sheet {sheet} is void and came back; sheet {other} took its place.")
        if one.replaced_by
        else N_("Sheet {sheet} is void and came back; no other sheet took its place.")
    )
    params = {"sheet": one.sheet.serial} | ({"other": one.replaced_by} if one.replaced_by else {})
    return Notice(
        kind=NoticeKind.OPEN_ITEM,
        rule="paper-void-back",
        subject=f"sheet/{one.sheet.serial}",
        day=one.sheet.day,
        text=message(template, **params),
        found=", ".join(one.boxes),
        remedy=message(
            N_(
                "Nothing is keyed from it. Where the site wrote on this one, the coordinator says which "
                "sheet counts."
            )
        ),
        owner="coordinator",
        depends=tuple(held.event for held in one.held),
    )


def _twice(one: SheetBack) -> Notice:
    if one.twice:
        template = N_("Several sheets with the serial {sheet} came back, in box {boxes}.")
    elif one.two_boxes:
        template = N_("Sheet {sheet} is said to lie in several boxes: {boxes}.")
    else:
        template = N_("Sheet {sheet} is in box {boxes}; another print of it came back too: {prints}.")
    params = {"sheet": one.sheet.serial, "boxes": ", ".join(one.boxes)}
    if not (one.twice or one.two_boxes):
        params["prints"] = ", ".join(one.prints)
    return Notice(
        kind=NoticeKind.OPEN_ITEM,
        rule="paper-doubled",
        subject=f"sheet/{one.sheet.serial}",
        day=one.sheet.day,
        text=message(template, **params),
        found=", ".join(one.boxes),
        remedy=message(
            N_("Put them side by side. A line that says the same counts once; tell the office of others.")
        ),
        owner="coordinator",
        depends=tuple(held.event for held in one.held),
    )
