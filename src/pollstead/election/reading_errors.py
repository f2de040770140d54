"""How people misread and mistype numbers, as costs that a county may replace line by line.

A cost is a negative natural logarithm of a probability in thousandths (millinats): 6,900 is one in a
thousand. The usual costs are our own judgment of one entry in a hundred that is wrong (common practice, no
source; varies by county). Their proportions keep within the ranges that N. R. Wagner, *The Laws of
Cryptography: Verhoeff's Decimal Error Detection* (2002), gives after Verhoeff's study of 1969: one wrong
digit 60 to 95 % of all errors, two neighbors exchanged 10 to 20 %, a digit left out or added 10 to 20 %, a
pair of equal digits read as another pair 0.5 to 1.5 %.
"""

from __future__ import annotations

import enum
from itertools import pairwise
from typing import Final

from pollstead.election.values import Value, require

MOST_COST: Final = 100_000
"""Millinats; above this nothing is told apart any more."""


class ErrorKind(enum.StrEnum):
    """What a cost is of: a way to misread a number, a place that another number comes from, or a measure."""

    SUBSTITUTION = "substitution"
    LOOK_ALIKE = "look-alike"
    NEIGHBOR_KEY = "neighbor key"
    TRANSPOSITION = "transposition"
    DROPPED = "dropped"
    DOUBLED = "doubled"
    INSERTED = "inserted"
    LEADING_ZEROS = "leading zeros"
    TWIN = "twin"
    OTHER_CLOSURE = "another closure"
    OTHER_DEVICE = "another device"
    OTHER_SITE = "another site"
    SPARE = "spare"
    VOIDED = "voided"
    UNKNOWN = "unknown"
    OTHER_COUNT = "another count"
    CHOICE = "choice"
    TIE = "tie"


class ReadingError(Value, frozen=True, kw_only=True):
    """One cost in millinats. `from_` (expected) and `to` (read) name one pair of characters, or are blank.

    Only a substitution has a pair. ``choice`` is the cost of each natural logarithm of the number of things
    to choose from, 1,000 where each is as likely; ``tie`` how far two explanations may be apart and still
    count as equally likely, the only cost that may be 0.
    """

    kind: str
    from_: str = ""
    to: str = ""
    cost_millinats: int

    def __post_init__(self) -> None:
        kinds = [kind.value for kind in ErrorKind]
        require(self.kind in kinds, f"kind must be one of {', '.join(kinds)}, got {self.kind!r}")
        pair = f"{self.from_!r} to {self.to!r}"
        if self.from_ or self.to:
            require(
                self.kind == ErrorKind.SUBSTITUTION,
                f"{self.kind}: only a substitution has a pair of characters; leave from and to blank",
            )
            require(
                len(self.from_) == 1 and len(self.to) == 1 and self.from_.upper() != self.to.upper(),
                f"a pair is one character and another one, got {pair}",
            )
        least = 0 if self.kind == ErrorKind.TIE else 1
        require(
            least <= self.cost_millinats <= MOST_COST,
            f"{self.kind}: cost must be {least} to {MOST_COST:,} millinats, got {self.cost_millinats}",
        )


USUAL: Final = tuple(
    ReadingError(kind=kind.value, cost_millinats=cost)
    for kind, cost in (
        (ErrorKind.SUBSTITUTION, 10_300),
        (ErrorKind.LOOK_ALIKE, 8_000),
        (ErrorKind.NEIGHBOR_KEY, 9_000),
        (ErrorKind.TRANSPOSITION, 8_500),
        (ErrorKind.DROPPED, 9_400),
        (ErrorKind.DOUBLED, 10_100),
        (ErrorKind.INSERTED, 12_500),
        (ErrorKind.LEADING_ZEROS, 6_200),
        (ErrorKind.TWIN, 11_500),
        (ErrorKind.OTHER_CLOSURE, 6_200),
        (ErrorKind.OTHER_DEVICE, 6_900),
        (ErrorKind.OTHER_SITE, 8_000),
        (ErrorKind.SPARE, 7_600),
        (ErrorKind.VOIDED, 9_200),
        (ErrorKind.UNKNOWN, 8_500),
        (ErrorKind.OTHER_COUNT, 6_200),
        (ErrorKind.CHOICE, 1_000),
        (ErrorKind.TIE, 300),
    )
)
"""The costs in use where a county gives none: one line for each kind."""

_LOOK_ALIKE: Final = (
    "17 06 08 68 38 49 56 0O 0Q 0D 1I 1L 8B 5S 2Z 6G OQ OD UV MN"  # what print and handwriting make alike
)
_KEY_ROWS: Final = (
    "1234567890",
    "QWERTYUIOP",
    "ASDFGHJKL",
    "ZXCVBNM",
    "147",
    "258",
    "369",
    "80",  # a telephone's keypad
    "10",  # a calculator's keypad
    "20",
)


def _both_ways(pairs: tuple[str, ...]) -> frozenset[tuple[str, str]]:
    return frozenset(p for pair in pairs for p in ((pair[0], pair[1]), (pair[1], pair[0])))


LOOK_ALIKES: Final = _both_ways(tuple(_LOOK_ALIKE.split()))
"""Pairs that people and poor print confuse, both ways. Common practice, no source; varies by county."""

NEIGHBOR_KEYS: Final = _both_ways(tuple(a + b for row in _KEY_ROWS for a, b in pairwise(row)))
"""Keys beside one another: a keyboard's rows, and the columns of a telephone's and a calculator's keypad."""
