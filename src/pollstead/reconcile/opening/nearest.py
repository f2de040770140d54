"""What a value that differs is close to: one character, two that changed places, another thing's value.

These are possible explanations for a person to look at; nothing is decided by them.
"""

from __future__ import annotations

from collections.abc import Iterable

from pollstead.election.identity import look_alike_key
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message


class Belongs(Value, frozen=True, kw_only=True):
    """Where a value is expected: site, station and subject."""

    site: str
    station: str
    subject: str
    words: str


class WhereExpected:
    """Every expected value of the day by what it is, to find the place that a value belongs to."""

    def __init__(self, entries: Iterable[tuple[str, str, Belongs]]) -> None:
        self._places: dict[tuple[str, str], list[Belongs]] = {}
        for what, value, place in entries:
            if value:
                self._places.setdefault((what, plain_value(value)), []).append(place)

    def of(self, what: str, value: str) -> tuple[Belongs, ...]:
        """The places where `value` is expected."""
        return tuple(self._places.get((what, plain_value(value)), ()))


def plain_value(value: str) -> str:
    """A value as it is compared: without outer spaces, capital and small letters alike."""
    return value.strip().upper()


def explain(
    what: str, site: str, subject: str, found: str, wanted: str, where: WhereExpected
) -> Message | None:
    """One sentence on what `found` is close to; None where nothing comes to mind.

    A value that belongs to another thing comes first, because it says where to look.
    """
    elsewhere = [place for place in where.of(what, found) if (place.site, place.subject) != (site, subject)]
    here = [place for place in elsewhere if place.site == site]
    if here:
        return message(
            N_("This value belongs to {words} of {station}, at this site."),
            words=here[0].words,
            station=here[0].station,
        )
    if elsewhere:
        return message(
            N_("This value belongs to {words} of {station}, at site {site}."),
            words=elsewhere[0].words,
            station=elsewhere[0].station,
            site=elsewhere[0].site,
        )
    return _shape(plain_value(found), plain_value(wanted))


def _shape(found: str, wanted: str) -> Message | None:
    if not wanted or not found:
        return None
    if look_alike_key(found) == look_alike_key(wanted):
        return message(N_("Only characters that look alike differ."))
    if len(found) != len(wanted):
        if len(found) + 1 == len(wanted) and _one_left_out(found, wanted):
            return message(N_("One character may have been left out."))
        if len(wanted) + 1 == len(found) and _one_left_out(wanted, found):
            return message(N_("One character may be too many."))
        return None
    places = [index for index, (a, b) in enumerate(zip(found, wanted, strict=True)) if a != b]
    if len(places) == 1:
        return message(N_("One character differs, at position {position}."), position=places[0] + 1)
    if (
        len(places) == 2
        and places[1] == places[0] + 1
        and found[places[0]] == wanted[places[1]]
        and found[places[1]] == wanted[places[0]]
    ):
        return message(
            N_("Two neighbors changed places, at positions {first} and {second}."),
            first=places[0] + 1,
            second=places[1] + 1,
        )
    return None


def _one_left_out(shorter: str, longer: str) -> bool:
    return any(longer[:i] + longer[i + 1 :] == shorter for i in range(len(longer)))
