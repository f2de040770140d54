"""A device swapped while people vote: both stand on the list of the day, and the report tells it."""

from __future__ import annotations

import datetime as dt

from msgspec.structs import replace

from pollstead.election.instants import format_clock
from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.plan.terms.version import ExpectedItem, ExpectedList
from pollstead.reconcile.observed import Observation, What


class Swap(Value, frozen=True, kw_only=True):
    """At `at_min` of the operating day `day` (ISO 8601) `new` took the place of `old` at a station."""

    station: str
    day: str
    old: str
    new: str
    at_min: int


def swaps_of(observations: tuple[Observation, ...]) -> tuple[Swap, ...]:
    """The swaps that stand in the record, in their order."""
    return tuple(
        Swap(station=seen.subject, day=seen.day, old=seen.detail, new=seen.value, at_min=seen.number or 0)
        for seen in observations
        if seen.what is What.SWAPPED and seen.stands
    )


HELD_APART, NONE_LEFT = "held_apart", "none"


def with_both(old: ExpectedList | None, new: ExpectedList) -> ExpectedList:
    """The list of a day on which a device was swapped: everything of `old` stays, what is new comes after it.

    So the readings made of the old device this morning keep what they were compared with, and at closing
    both are read. Items of the new device stand beside those of the old one's station.
    """
    if old is None:
        return new
    added = [item for item in new.items if item not in old.items]
    items: list[ExpectedItem] = []
    for index, item in enumerate(old.items):
        items.append(item)
        last_of_station = all(later.station != item.station for later in old.items[index + 1 :])
        if last_of_station:
            items += [one for one in added if one.station == item.station]
    known = {item.station for item in old.items}
    items += [one for one in added if one.station not in known]
    return replace(new, items=tuple(items))


def swap_notices(site: str, date: dt.date, observations: tuple[Observation, ...]) -> tuple[Notice, ...]:
    """An open item for each swap of the day: what was taken out when, its counter, its ballots."""
    return tuple(
        Notice(
            kind=NoticeKind.OPEN_ITEM,
            rule="device-swapped",
            subject=seen.subject,
            day=date.isoformat(),
            text=_words(seen),
            found=seen.detail,
            wanted="",
            remedy=_remedy(seen),
            owner="site lead",
            depends=(seen.detail, seen.value, str(seen.number), str(seen.other_number), seen.state),
        )
        for seen in observations
        if seen.what is What.SWAPPED and seen.stands
    )


def _words(seen: Observation) -> Message:
    at = format_clock(seen.number or 0)
    if seen.other_number is None:
        return message(
            N_("{old} was taken out at {at}, {new} took its place. Nobody read its public counter."),
            old=seen.detail,
            at=at,
            new=seen.value,
        )
    return message(
        N_("{old} was taken out at {at} with public counter {counter}, {new} took its place."),
        old=seen.detail,
        at=at,
        counter=seen.other_number,
        new=seen.value,
    )


def _remedy(seen: Observation) -> Message:
    if seen.state == NONE_LEFT:
        return message(N_("Both devices stand on the closing statement: read both."))
    if seen.state == HELD_APART:
        return message(
            N_(
                "Both devices stand on the closing statement. Ballots that the old one had not counted are "
                "held apart."
            )
        )
    return message(
        N_(
            "Both devices stand on the closing statement. Ask whether ballots were left that it had not "
            "counted."
        )
    )
