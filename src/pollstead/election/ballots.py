"""What stands on a ballot: contests, their choices, and which contests a style has in which order.

Only what a test deck needs: no layout, no party, no language. The words are the county's own.
"""

from __future__ import annotations

from pollstead.election.identity import require_part
from pollstead.election.values import Value, require

MOST_CHOICES = 60
MOST_WRITE_INS = 20


class Contest(Value, frozen=True, kw_only=True):
    """One contest or question. `vote_for` is the most choices that one ballot may mark in it."""

    id: str
    words: str
    vote_for: int = 1
    write_in_lines: int = 0

    def __post_init__(self) -> None:
        require_part(self.id, "a contest's id")
        require(self.vote_for >= 1, f"vote_for must be >= 1, got {self.vote_for}")
        require(self.vote_for <= MOST_CHOICES, f"vote_for must be <= {MOST_CHOICES}, got {self.vote_for}")
        require(
            0 <= self.write_in_lines <= MOST_WRITE_INS,
            f"write_in_lines must be 0 to {MOST_WRITE_INS}, got {self.write_in_lines}",
        )


class Choice(Value, frozen=True, kw_only=True):
    """One choice of a contest; `order` is its place on a ballot that is not rotated, from 1."""

    contest: str
    id: str
    order: int
    words: str

    def __post_init__(self) -> None:
        require_part(self.id, "a choice's id")
        require(1 <= self.order <= MOST_CHOICES, f"order must be 1 to {MOST_CHOICES}, got {self.order}")


class BallotContest(Value, frozen=True, kw_only=True):
    """A contest on the ballots of a style; `order` is its place there, from 1.

    `rotation` is how many choices of the list go from its top to its end. Rows with a `precinct` are the
    whole ballot of that style in that precinct; rows without one hold for the style's other precincts.
    """

    style: str
    precinct: str = ""
    contest: str
    order: int
    rotation: int = 0

    def __post_init__(self) -> None:
        require_part(self.style, "a ballot style")
        if self.precinct:
            require_part(self.precinct, "a precinct's id")
        require(self.order >= 1, f"order must be >= 1, got {self.order}")
        require(
            0 <= self.rotation < MOST_CHOICES,
            f"rotation must be 0 to {MOST_CHOICES - 1}, got {self.rotation}",
        )
