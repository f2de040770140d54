"""Events of a site's word to the office that have no kind of their own: crew inside, ready, on the way.

Doors opened, last voter, counts and things received have their kinds; a word by phone says so in each of
them (`by_phone`), with the caller as giver and whoever typed as author.
"""

from __future__ import annotations

from typing import ClassVar, Literal

from pollstead.record.kinds.body import DayBody, Minute

HeardStep = Literal["crew_inside", "ready_to_open", "on_the_way", "arrived"]


class SiteHeard(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``site.heard``: a site said that a step of its day was done at `at_min`. Subject: the site."""

    kind: ClassVar[str] = "site.heard"
    key: ClassVar[tuple[str, ...]] = ("step",)
    subjects: ClassVar[tuple[str, ...]] = ("site",)

    step: HeardStep
    at_min: Minute
