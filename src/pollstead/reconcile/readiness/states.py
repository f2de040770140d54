"""What *Ready to open?* says: items with their evidence, and sites in the order to call."""

from __future__ import annotations

import enum

from pollstead.election.values import Value
from pollstead.election.words import Message


class ReadyState(enum.StrEnum):
    """What is known of one item."""

    DONE = "done"
    NOT_DONE = "not done"
    UNKNOWN = "unknown"


class Evidence(Value, frozen=True, kw_only=True):
    """Why an item counts as done: an event with who and when, or (event "") the county's tables."""

    source: str
    event: str = ""
    people: tuple[str, ...] = ()
    utc_ms: int = 0


class ReadyItem(Value, frozen=True, kw_only=True):
    """One thing that must be done before a site opens; `remedy` says the next step while it is not."""

    id: str
    words: str
    state: ReadyState
    text: Message
    evidence: tuple[Evidence, ...] = ()
    remedy: Message | None = None
    points: int = 0


class SiteReady(Value, frozen=True, kw_only=True):
    """One site: its items, the points of those not done, and the rank value points x planned voters."""

    site: str
    name: str
    voters: int
    items: tuple[ReadyItem, ...]
    points: int
    rank: int

    @property
    def ready(self) -> bool:
        """Whether every item is done by evidence."""
        return all(item.state is ReadyState.DONE for item in self.items)
