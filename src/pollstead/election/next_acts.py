"""How much each act of looking again disturbs, as a number that a county may replace.

Opening a container is no act here and is never suggested: only the authority that the county's rules name
may order it. The defaults are our own guess of the minutes that two people spend, seals and rest included
(no source; varies by county); only their proportions matter.
"""

from __future__ import annotations

import enum
from typing import Final

from pollstead.election.values import Value, require


class LookAgain(enum.StrEnum):
    """An act of looking at one number again, the least disturbing first."""

    REREAD_PAPER = "read the paper again"
    SECOND_LOOK = "look at the screen again"
    READ_MEMORY = "read the memory device again"
    COUNT_ENTRIES = "count the lines again"
    COUNT_ENVELOPES = "count the envelopes again"
    COUNT_SPOILED = "count the spoiled ballots again"
    COUNT_UNUSED = "count the unused ballots again"


class ActCost(Value, frozen=True, kw_only=True):
    """How much one act disturbs: minutes of two people, above 0."""

    act: str
    intrusiveness: int

    def __post_init__(self) -> None:
        acts = [act.value for act in LookAgain]
        require(self.act in acts, f"act must be one of {', '.join(acts)}, got {self.act!r}")
        require(
            0 < self.intrusiveness <= 10_000,
            f"{self.act}: intrusiveness must be 1 to 10,000, got {self.intrusiveness}",
        )


USUAL_ACTS: Final[tuple[ActCost, ...]] = tuple(
    ActCost(act=act.value, intrusiveness=cost)
    for act, cost in (
        (LookAgain.REREAD_PAPER, 1),
        (LookAgain.SECOND_LOOK, 2),
        (LookAgain.READ_MEMORY, 4),
        (LookAgain.COUNT_ENTRIES, 5),
        (LookAgain.COUNT_ENVELOPES, 8),
        (LookAgain.COUNT_SPOILED, 10),
        (LookAgain.COUNT_UNUSED, 30),
    )
)
"""The costs in use where a county gives none."""


def act_costs(own: tuple[ActCost, ...] = ()) -> dict[LookAgain, int]:
    """The usual costs with a county's own lines in place of ours."""
    lines = {LookAgain(line.act): line.intrusiveness for line in USUAL_ACTS}
    lines.update({LookAgain(line.act): line.intrusiveness for line in own})
    return lines
