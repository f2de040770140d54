"""How much each thing that is not done counts towards "may open late": editable, documented, whole numbers.

The order of sites is points x planned voters. The points say which call to make first, not how likely
anything is: no chance is computed here and none is shown. Our own judgment; common practice, no source;
varies by county.
"""

from __future__ import annotations

from pollstead.election.values import Value, require, require_unique
from pollstead.election.words import N_


class Weight(Value, frozen=True, kw_only=True):
    """Points of one item while it is not done or unknown, and why so many."""

    item: str
    points: int
    why: str

    def __post_init__(self) -> None:
        require(self.points >= 0, f"points of {self.item!r} must be >= 0, got {self.points}")


class Weights(Value, frozen=True, kw_only=True):
    """A county's weights, one for each item; an item without one counts `other`."""

    items: tuple[Weight, ...]
    other: int = 1

    def __post_init__(self) -> None:
        require_unique(tuple(w.item for w in self.items), "weights")

    def points(self, item: str) -> int:
        """The points of an item."""
        return next((w.points for w in self.items if w.item == item), self.other)


USUAL_WEIGHTS = Weights(
    items=(
        Weight(item="openers", points=8, why=N_("a locked door stops everything")),
        Weight(item="devices", points=6, why=N_("a missing machine needs a truck")),
        Weight(item="expected-list", points=6, why=N_("without it nothing can be compared")),
        Weight(item="plan-approved", points=5, why=N_("everything else rests on the plan")),
        Weight(item="seals", points=4, why=N_("each number that is not known is a call")),
        Weight(item="packets", points=4, why=N_("people cannot start without their sheets")),
        Weight(item="opening-comparison", points=4, why=N_("a device that waits opens late")),
        Weight(item="contact", points=3, why=N_("nobody answers at five in the morning")),
        Weight(item="accessible-station", points=3, why=N_("required at each site")),
        Weight(item="hours", points=2, why=N_("people come at the wrong minute")),
        Weight(item="rules", points=2, why=N_("each unconfirmed rule is a call to the office")),
        Weight(item="open-items", points=1, why=N_("small things add up")),
    )
)
