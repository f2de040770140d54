"""The county's list of kinds of incident: what may be told by phone while people vote."""

from __future__ import annotations

from typing import Final

from pollstead.election.identity import require_part
from pollstead.election.values import Value, require
from pollstead.election.words import N_


class IncidentKind(Value, frozen=True, kw_only=True):
    """One kind of incident: its short name and its words as whoever answers the phone would say them."""

    id: str
    words: str

    def __post_init__(self) -> None:
        require_part(self.id, "a kind of incident")
        fine = self.id.replace("_", "a").isalnum() and self.id == self.id.lower() and self.id[0].isalpha()
        require(fine, f"a kind of incident must be small letters, digits and _, got {self.id!r}")
        require(bool(self.words.strip()), f"kind of incident {self.id}: words must not be empty")


LEFT_ROOM: Final = "room_left"
"""The kind of an incident in which people had to leave the room."""

JAM: Final = "jam"
"""The kind under which a ballot that stuck is told."""

# Common practice, no source; varies by county: a county's own table takes the place of this list.
USUAL_KINDS: Final[tuple[IncidentKind, ...]] = (
    IncidentKind(id="door_not_open", words=N_("door locked or nobody there to open")),
    IncidentKind(id="crew_short", words=N_("too few workers")),
    IncidentKind(id="check_in_down", words=N_("check-in does not work")),
    IncidentKind(id="device_down", words=N_("device does not work")),
    IncidentKind(id=JAM, words=N_("ballot stuck in a device")),
    IncidentKind(id="printer_unreadable", words=N_("printer output unreadable")),
    IncidentKind(id="paper_out", words=N_("ballots or paper run out")),
    IncidentKind(id="wrong_style", words=N_("ballots of a style that is not this site's")),
    IncidentKind(id="power_out", words=N_("no power")),
    IncidentKind(id="network_out", words=N_("no network")),
    IncidentKind(id="long_line", words=N_("long line")),
    IncidentKind(id="way_in_blocked", words=N_("way in or accessible way in blocked")),
    IncidentKind(id="thing_not_found", words=N_("box, case or device not found")),
    IncidentKind(id="dispute", words=N_("dispute at the site")),
    IncidentKind(id="injury", words=N_("somebody hurt or ill")),
    IncidentKind(id=LEFT_ROOM, words=N_("people had to leave the room")),
    IncidentKind(id="other", words=N_("something else")),
)
"""What is offered where the county has no table of its own."""


def kinds_of(own: tuple[IncidentKind, ...]) -> tuple[IncidentKind, ...]:
    """The county's own kinds, else the usual ones."""
    return own or USUAL_KINDS
