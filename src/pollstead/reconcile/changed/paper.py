"""Which printed sheets a change makes void, which stay good, and which are to be printed."""

from __future__ import annotations

from collections import defaultdict

from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.plan.terms.version import SheetKind
from pollstead.reconcile.changed.items import changed_stations
from pollstead.reconcile.changed.terms import (
    NewSheet,
    PlannedSheet,
    SheetInHand,
    SiteDayChange,
    State,
    VoidSheet,
)

# A sheet on which somebody writes the numbers of one station belongs to the list that it was issued with.
_WRITTEN = (SheetKind.OPENING, SheetKind.CLOSING)


class Paper(Value, frozen=True, kw_only=True):
    """Sheets void, sheets that stay good at the same sites, sheets to print."""

    void: tuple[VoidSheet, ...]
    good: tuple[SheetInHand, ...]
    prints: tuple[NewSheet, ...]


def changed_paper(
    before: State,
    after: State,
    days: tuple[SiteDayChange, ...],
    in_hand: tuple[SheetInHand, ...],
    *,
    on_the_day: bool = False,
) -> Paper:
    """What becomes of every sheet in people's hands.

    A sheet is void where what stands on it no longer fits, where an opening or closing sheet is about a
    station of which another thing is now expected, and where nothing of it is left. A sheet which the
    change leaves as it was stays good, whatever plan version it names. `on_the_day` people have begun to
    write: opening and closing sheets stay, and those of the new device are printed beside them.
    """
    next_by_place = {sheet.place: sheet for sheet in after.sheets}
    changed = changed_stations(days)
    good: list[SheetInHand] = []
    unfit: list[tuple[SheetInHand, Message]] = []
    beside: set[tuple[str, str, str]] = set()
    for held in sorted(in_hand, key=lambda held: (held.sheet.site, held.sheet.key, held.serial)):
        why = _why_void(held, next_by_place.get(held.sheet.place), changed)
        if why is not None and on_the_day and held.sheet.kind in _WRITTEN:
            beside.add(held.sheet.place)
            why = None
        if why is None:
            good.append(held)
        else:
            unfit.append((held, why))
    covered = {held.sheet.place: held.serial for held in good}
    void = [_void(held, why, next_by_place, covered, after) for held, why in unfit]
    touched = {one.sheet.site for one in void} | {day.site for day in days}
    return Paper(
        void=tuple(void),
        good=tuple(held for held in good if held.sheet.site in touched),
        prints=_prints(before, after, in_hand, void, frozenset(covered), frozenset(beside)),
    )


def _void(
    held: SheetInHand,
    why: Message,
    next_by_place: dict[tuple[str, str, str], PlannedSheet],
    covered: dict[tuple[str, str, str], str],
    after: State,
) -> VoidSheet:
    place = held.sheet.place
    successor, without = next_by_place.get(place), None
    if place in covered:
        # A good copy is in the same hands: a third one would only be mixed up with it.
        successor, without = (
            None,
            message(N_("Sheet {serial} was printed too and is good."), serial=covered[place]),
        )
    elif successor is None:
        without = _without(held.sheet, after)
    return VoidSheet(serial=held.serial, sheet=held.sheet, why=why, successor=successor, without=without)


def _why_void(
    held: SheetInHand, successor: PlannedSheet | None, changed: frozenset[tuple[str, str]]
) -> Message | None:
    sheet = held.sheet
    if successor is None:
        return message(N_("Nothing of this sheet is left in the plan."))
    if sheet.kind in _WRITTEN and any((sheet.day, station) in changed for station in sheet.stations):
        return message(N_("Other things are now expected where this sheet is filled in."))
    if successor.content != sheet.content:
        return message(N_("What stands on it no longer fits."))
    return None


def _without(sheet: PlannedSheet, after: State) -> Message:
    """Why no other sheet takes a void one's place."""
    if all(plan.site != sheet.site for plan in after.plan.sites):
        return message(N_("The plan no longer has this site: nothing takes its place."))
    if sheet.day and all(day.site != sheet.site or day.day != sheet.day for day in after.sheets):
        return message(N_("The site is no longer open on this day: nothing takes its place."))
    return message(N_("What it was for is no longer there: nothing takes its place."))


def _prints(
    before: State,
    after: State,
    in_hand: tuple[SheetInHand, ...],
    void: list[VoidSheet],
    covered: frozenset[tuple[str, str, str]],
    beside: frozenset[tuple[str, str, str]],
) -> tuple[NewSheet, ...]:
    """Each void sheet's successor once, and sheets that are new at a site whose packet was printed."""
    replaces: dict[tuple[str, str, str], list[str]] = defaultdict(list)
    for one in void:
        if one.successor is not None:
            replaces[one.successor.place].append(one.serial)
    printed_before = {(held.sheet.site, held.sheet.language) for held in in_hand}
    known = {sheet.place for sheet in before.sheets}
    found = []
    for sheet in after.sheets:
        appeared = sheet.place not in known and (sheet.site, sheet.language) in printed_before
        if sheet.place in replaces or sheet.place in beside or (appeared and sheet.place not in covered):
            found.append(NewSheet(sheet=sheet, replaces=tuple(replaces.get(sheet.place, ()))))
    return tuple(found)
