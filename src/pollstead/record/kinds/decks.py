"""Events of test decks: a device read decks, and its report was compared with what the decks must give.

The numbers are those of test ballots, read before any vote is cast. No total of an election is ever here.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from msgspec import Meta

from pollstead.election.values import require
from pollstead.record.kinds.body import Body, Count, Digest, DigestOrNone, Id, Nature, Private, Reason

MOST_CELLS = 500


class DeckCompared(Body, frozen=True, kw_only=True, omit_defaults=True):
    """``deck.compared``: a device's report over test decks was compared. Subject: the device.

    `decks` are the ballot styles read (style/precinct where a precinct has its own), `digest` is over those
    decks, `ballots` how many they have. `compared` says how many totals were typed; `cells` are those that
    differ with what was `expected` and `observed`, in one order. `again` is the event of the earlier
    comparison that this one repeats. The lifetime counter is told before and after.
    """

    kind: ClassVar[str] = "deck.compared"
    nature: ClassVar[Nature] = Nature.ENTRY
    private: ClassVar[type[Private] | None] = Reason
    subjects: ClassVar[tuple[str, ...]] = ("device",)

    result: Literal["matched", "differs"]
    decks: Annotated[tuple[Id, ...], Meta(min_length=1, max_length=2000)]
    digest: Digest
    ballots: Count
    compared: Count
    cells: Annotated[tuple[Id, ...], Meta(max_length=MOST_CELLS)] = ()
    expected: Annotated[tuple[Count, ...], Meta(max_length=MOST_CELLS)] = ()
    observed: Annotated[tuple[Count, ...], Meta(max_length=MOST_CELLS)] = ()
    again: DigestOrNone = ""
    lifetime_before: Count | None = None
    lifetime_after: Count | None = None

    def __post_init__(self) -> None:
        require(
            len(self.cells) == len(self.expected) == len(self.observed),
            "each total that differs needs what was expected and what was observed",
        )
        require(
            bool(self.cells) == (self.result == "differs"),
            "a report differs where at least one total does",
        )
