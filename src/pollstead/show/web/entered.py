"""What has been entered: one's own lines that wait for a second person, and the finished ones."""

from __future__ import annotations

from pollstead.election.instants import format_clock
from pollstead.election.values import Value
from pollstead.reconcile.day import Minute, SiteDay
from pollstead.reconcile.observed import Observation, What
from pollstead.reconcile.opening.states import ItemResult
from pollstead.show.web.likely import Likely, likely_of
from pollstead.show.web.open_folder import OpenFolder
from pollstead.show.web.readings import Asked, Line


class MyEntry(Value, frozen=True, kw_only=True):
    """A line that this person entered and that waits for the second person: their own words only."""

    group: str
    words: str
    own_words: bool
    shown: str
    event: str
    phoned: str = ""
    style: str = ""


class Entered(Value, frozen=True, kw_only=True):
    """Who entered a line and what, and the event that says so; `stands` unless it was corrected since.

    `phoned` is who said it by phone, if anybody did.
    """

    name: str
    event: str
    shown: str = ""
    stands: bool = True
    phoned: str = ""


class DoneLine(Value, frozen=True, kw_only=True):
    """A line that everybody who must has entered: what was read, what was expected, the outcome.

    `lead_min` is how far ahead a device's clock must be; None on lines without a clock. `entries` are all
    of the line, the first ones and what corrected them. `likely` says what a value that differs may be.
    """

    group: str
    words: str
    own_words: bool
    result: ItemResult | None
    shown: tuple[str, ...]
    counted: bool
    lead_min: int | None
    entries: tuple[Entered, ...]
    likely: tuple[Likely, ...] = ()
    style: str = ""


def mine(folder: OpenFolder, line: Line, person: str) -> MyEntry:
    """This person's own entry of a line that waits for somebody else."""
    own = next(o for o in line.standing if person in o.entered_by)
    return MyEntry(
        group=line.group,
        words=line.words,
        own_words=line.own_words,
        style=line.style,
        shown=says(own),
        event=own.event,
        phoned=phoned(folder, own),
    )


def done_lines(
    folder: OpenFolder, lines: tuple[Line, ...], day: SiteDay, *, may_see: bool
) -> tuple[DoneLine, ...]:
    """The finished lines, those that differ first; `may_see`: whether all expected numbers may be seen."""
    done = [done_line(folder, line, day, may_see=may_see) for line in lines if line.complete]
    return tuple(sorted(done, key=lambda d: d.result is None or not d.result.is_difference))


def done_line(folder: OpenFolder, line: Line, day: SiteDay, *, may_see: bool) -> DoneLine:
    """A finished line; of time and date on one face, the one that is a difference is shown."""
    results = sorted(line.items, key=lambda r: r.notice is None)
    return DoneLine(
        group=line.group,
        words=line.words,
        own_words=line.own_words,
        style=line.style,
        result=results[0] if results else None,
        shown=tuple(dict.fromkeys(says(o) for o in line.standing)),
        counted=line.ask is Asked.COUNT,
        lead_min=next((lead_of(r) for r in line.items if r.what == "clock"), None),
        entries=entries_of(folder, line),
        likely=likely_of(results[0], day, may_see=may_see) if results else (),
    )


def entries_of(folder: OpenFolder, line: Line) -> tuple[Entered, ...]:
    """Every entry of a line with its author, in the order in which they were made."""
    return tuple(
        Entered(
            name=folder.person_name(o.entered_by[0]) if o.entered_by else "",
            event=o.event,
            shown=says(o),
            stands=o.stands,
            phoned=phoned(folder, o),
        )
        for o in line.answers
        if not o.withdrawn
    )


def phoned(folder: OpenFolder, seen: Observation) -> str:
    """The name of the person who said it by phone; "" where it did not come by phone."""
    return folder.person_name(seen.phoned_by) if seen.phoned_by else ""


class MinuteTold(Value, frozen=True, kw_only=True):
    """A minute of opening or closing that stands: the event, and who said it by phone, where shown."""

    at_min: int
    event: str
    by_phone: bool
    giver: str


def minutes_told(folder: OpenFolder, minute: Minute, *, names: bool) -> tuple[MinuteTold, ...]:
    """The standing minutes, the earliest first, with the caller where it came by phone and is shown."""
    found = [seen for seen in minute.observations if seen.stands and seen.number is not None]
    return tuple(
        MinuteTold(
            at_min=seen.number or 0,
            event=seen.event,
            by_phone=bool(seen.phoned_by),
            giver=phoned(folder, seen) if names else "",
        )
        for seen in sorted(found, key=lambda one: (one.number or 0, one.utc_ms, one.event))
    )


def lead_of(result: ItemResult) -> int | None:
    """Minutes that the device's clock must be ahead of the reference clock."""
    text = result.item.value if result.item is not None else ""
    return int(text) if text.lstrip("-").isdigit() else None


def says(seen: Observation) -> str:
    """What an observation says, as a reader typed it."""
    if seen.what is What.CLOCK:
        beside = format_clock(seen.other_number or 0)
        return f"{format_clock(seen.number or 0)} / {beside} / {seen.date_shown}"
    if seen.what is What.COUNT:
        return str(seen.number)
    if seen.what is What.SEAL and seen.state != "intact":
        return f"{seen.value} {seen.state.replace('_', ' ')}".strip()
    return seen.value or seen.state.replace("_", " ")
