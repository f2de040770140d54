"""Events of signed paper that comes back: a sheet lies in a box, with the lines that somebody marked."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from msgspec import Meta

from pollstead.record.kinds.body import Body, LineNumber, Nature

BoxNumber = Annotated[str, Meta(pattern=r"^[A-Za-z0-9][A-Za-z0-9 ._-]{0,19}\Z")]
"""The number or short word on a box of paper."""


class SheetHeld(Body, frozen=True, kw_only=True, omit_defaults=True):
    """``sheet.held``: a printed sheet came back and lies in a box. Subject: ``sheet/SERIAL``.

    `different` are the lines that somebody marked as different from what was expected; none means all as
    expected. `copy_no` is 1, and 2 or more for further sheets that came back with the same serial.
    ``taken_back`` says that it was written by mistake.
    """

    kind: ClassVar[str] = "sheet.held"
    nature: ClassVar[Nature] = Nature.DECISION
    key: ClassVar[tuple[str, ...]] = ("copy_no",)
    subjects: ClassVar[tuple[str, ...]] = ("sheet",)

    copy_no: Annotated[int, Meta(ge=1, le=99)]
    box: BoxNumber
    different: Annotated[tuple[LineNumber, ...], Meta(max_length=200)] = ()
    state: Literal["held", "taken_back"] = "held"
