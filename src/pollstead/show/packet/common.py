"""Small things that several sheets of a site share: moments in words, a tick, a line, words held back."""

from __future__ import annotations

from pollstead.election.station_type import Moment
from pollstead.election.words import N_
from pollstead.show.packet.content import (
    Field,
    FieldKind,
)
from pollstead.show.packet.given import SiteGiven

MOMENTS = {
    Moment.AFTER_TEST: N_("after test"),
    Moment.EVENING_BEFORE: N_("evening before"),
    Moment.OPENING: N_("opening"),
    Moment.DURING: N_("during the day"),
    Moment.CLOSING: N_("closing"),
    Moment.OVERNIGHT: N_("overnight"),
    Moment.RECEIVING: N_("receiving"),
}


def tick(label: str = "") -> Field:
    """A box to tick."""
    return Field(kind=FieldKind.TICK, label=label)


def line(label: str = "") -> Field:
    """A line to write on."""
    return Field(kind=FieldKind.LINE, label=label)


def kept(given: SiteGiven, words: str) -> str:
    """The words, or where they tell a number to be read independently, a pointer to the office."""
    return (
        given.say(N_("Ask the office: a number that is not to stand here.")) if given.tells(words) else words
    )
