"""Events of orders that reach the office on the day, and of sites that read them back.

An order's own words govern. What stands here is its summary: whom it is for, what changes, until when, who
gave it, where its words are. Who told it and people's own words stand in private parts.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from msgspec import Meta

from pollstead.record.kinds.body import Body, DayBody, Id, Minute, Nature, Private
from pollstead.record.kinds.incidents import Told

Reference = Annotated[str, Meta(pattern=r"^[A-Za-z0-9][A-Za-z0-9 .,:;/()_-]{0,119}\Z")]
"""Which document holds the order's words, such as a docket entry; no link and nobody's words."""

Does = Literal["extend_hours", "relocate", "suspend", "resume", "set_apart", "stay", "other"]
"""What an order changes. ``stay``: the orders that it names under `supersedes` hold no longer."""

Apart = Literal["no", "provisional", "held_apart"]
"""Which class ballots cast under it belong to: none of their own, provisional, or held apart uncounted."""


class OrderGiven(Body, frozen=True, kw_only=True, omit_defaults=True):
    """``order.given``: an order for the county or some sites. Subject: the order.

    `sites` are those that it names; none means every site of the county. `from_min` and `until_min` are
    minutes of the operating day. `supersedes` are subjects of earlier orders that hold no longer at the sites
    of this one; both stay in the record.
    """

    kind: ClassVar[str] = "order.given"
    nature: ClassVar[Nature] = Nature.ENTRY
    private: ClassVar[type[Private] | None] = Told
    subjects: ClassVar[tuple[str, ...]] = ("order",)

    does: Does
    issued_by: Literal["court", "election_official", "board", "state_office", "emergency_official", "other"]
    source: Reference
    sites: Annotated[tuple[Id, ...], Meta(max_length=2000)] = ()
    from_min: Minute | None = None
    until_min: Minute | None = None
    to_place: Id | Literal[""] = ""
    apart: Apart = "no"
    supersedes: Annotated[tuple[Id, ...], Meta(max_length=100)] = ()


class OrderAcknowledged(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``order.acknowledged``: somebody at a site read an order back. Subject: the order.

    `read_back` says whether what they read was what the slip says.
    """

    kind: ClassVar[str] = "order.acknowledged"
    nature: ClassVar[Nature] = Nature.DECISION
    key: ClassVar[tuple[str, ...]] = ("at_site",)
    private: ClassVar[type[Private] | None] = Told
    subjects: ClassVar[tuple[str, ...]] = ("order",)

    at_site: Id
    read_back: Literal["same", "not_same", "not_reached"]
    at_min: Minute
