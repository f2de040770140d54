"""The line about copies at the foot of every page: when the last good one was made, and what is wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pollstead.election.instants import Instant
from pollstead.election.values import Value
from pollstead.election.words import Message
from pollstead.store.copy_status import copy_sentences, copy_status

if TYPE_CHECKING:
    from pollstead.show.web.open_folder import OpenFolder


class CopyLine(Value, frozen=True, kw_only=True):
    """What the foot of a page says of copies; `well` is false where somebody should do something."""

    well: bool
    sentences: tuple[Message, ...]


def copy_line(folder: OpenFolder) -> CopyLine:
    """The line for a folder as it is now."""
    status = copy_status(folder.store)
    return CopyLine(
        well=status.is_well,
        sentences=copy_sentences(status, lambda ms: wall_time(ms, folder.clock(), folder.zone_name)),
    )


def wall_time(utc_ms: int, now_ms: int, zone_name: str) -> str:
    """A moment on the county's clock: the time of day alone where it is of today."""
    zone = "Etc/UTC" if zone_name == "UTC" else zone_name
    local, today = Instant(utc_ms=utc_ms).local(zone), Instant(utc_ms=now_ms).local(zone)
    same = local.date() == today.date()
    return local.strftime("%H:%M" if same else "%Y-%m-%d %H:%M")


def moment_words(utc_ms: int, zone_name: str) -> str:
    """A moment on the county's clock, always with its date."""
    zone = "Etc/UTC" if zone_name == "UTC" else zone_name
    return Instant(utc_ms=utc_ms).local(zone).strftime("%Y-%m-%d %H:%M")
