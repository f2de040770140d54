"""The event of a line that somebody counted: how many stand in it, checked in so far, stations in use."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from msgspec import Meta

from pollstead.record.kinds.body import DayBody, Minute, Nature

People = Annotated[int, Meta(ge=0, le=5_000)]
"""People in a line."""

CheckIns = Annotated[int, Meta(ge=0, le=1_000_000)]
"""Voters checked in so far on the day."""

Stations = Annotated[int, Meta(ge=0, le=500)]
"""Stations in use."""

WaitMinutes = Annotated[int, Meta(ge=0, le=1_440)]
"""A wait that somebody timed or posted, in minutes."""


class LineCounted(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``line.counted``: the lines of a site as somebody counted them at `at_min`. Subject: the site.

    A number that nobody said is not there; 0 is a number. `in_line` are all who stand in line, the others
    those before one step; nobody who is being served is among them. `check_ins` are the day's so far. `way`
    says how the word came where nobody telephoned: text message, radio, a rover who was there. The counter
    is the giver, whoever typed it the author.
    """

    kind: ClassVar[str] = "line.counted"
    nature: ClassVar[Nature] = Nature.ENTRY
    subjects: ClassVar[tuple[str, ...]] = ("site",)

    at_min: Minute
    in_line: People | None = None
    at_check_in: People | None = None
    at_mark: People | None = None
    at_cast: People | None = None
    check_ins: CheckIns | None = None
    open_check_in: Stations | None = None
    open_mark: Stations | None = None
    open_cast: Stations | None = None
    wait_min: WaitMinutes | None = None
    way: Literal["", "text_message", "radio", "there"] = ""
