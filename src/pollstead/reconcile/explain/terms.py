"""The values of an explanation: what is known of a site's night, a fault, an explanation, what fits.

Working notes of the office desk. A posterior is a number for ranking and for benches; people are told in
words what fits, never how likely it is.
"""

from __future__ import annotations

import enum

from pollstead.election.fault_odds import FaultKind
from pollstead.election.values import Value, require
from pollstead.reconcile.counts.balance import Reading
from pollstead.reconcile.counts.equations import Balance, Equation
from pollstead.reconcile.counts.jams import Jam


class FromWhere(enum.StrEnum):
    """Where a number that is known from elsewhere stands."""

    ANOTHER_SITE = "another site"
    DAY_BEFORE = "day before"
    PART = "part of it"


class OtherNumber(Value, frozen=True, kw_only=True):
    """A number known from elsewhere that may have been written for the number of `key`.

    ANOTHER_SITE: the same number of site `name`. DAY_BEFORE: the same number of the day `name`. PART: what
    the check-in station, bin or pack `name` adds to the sum that `key` is.
    """

    key: str
    value: int
    where: FromWhere
    name: str
    among: int = 0


class Bound(Value, frozen=True, kw_only=True):
    """The least and the most that a number can be, from a note of the day (hourly counts, stock counts).

    None where the note says nothing. `note` says what it was, in the words of the desk.
    """

    key: str
    least: int | None = None
    most: int | None = None
    note: str = ""

    def __post_init__(self) -> None:
        require(
            self.least is None or self.most is None or self.least <= self.most,
            f"bound of {self.key}: least {self.least} is above most {self.most}",
        )


class KnownNumber(Value, frozen=True, kw_only=True):
    """A number that nobody read tonight and that may enter a row of `more`: a stock count, an expected zero.

    `exact` numbers are not explained away; others may be misread or miscounted like any reading.
    """

    key: str
    value: int
    exact: bool = False
    by_hand: bool = False


class SiteNight(Value, frozen=True, kw_only=True):
    """All that is known of one site's closing numbers.

    `balance` holds the rows and the order of the sheet; `more` are further rows over the same keys (numbers
    carried over, stock counts), whose other keys stand in `known`. A key without a reading is unknown,
    never zero. Two readings of one key with two values are both held.
    """

    site: str
    balance: Balance
    readings: tuple[Reading, ...]
    more: tuple[Equation, ...] = ()
    known: tuple[KnownNumber, ...] = ()
    others: tuple[OtherNumber, ...] = ()
    bounds: tuple[Bound, ...] = ()
    jams: tuple[Jam, ...] = ()
    pack_sizes: tuple[int, ...] = ()


class Fault(Value, frozen=True, kw_only=True):
    """One mistake: its kind, the keys it touches, by how much each reading stands above what is meant.

    `moves` are pairs (key, amount): the reading of the key is `amount` above the number that closes every
    row. `size` is the number of ballots, entries or voters where the kind is counted one by one, else 0.
    `other` is the key, site or day whose number was written, "" where there is none.
    """

    kind: FaultKind
    keys: tuple[str, ...]
    moves: tuple[tuple[str, int], ...]
    size: int = 0
    other: str = ""


class Explanation(Value, frozen=True, kw_only=True):
    """One fault, or two together, after which every row is zero. `cost` is in millinats.

    `id` is the same for the same faults on the same numbers. `share` is its part of all that was
    considered, 0 to 1: an internal number.
    """

    id: str
    faults: tuple[Fault, ...]
    cost: int
    share: float


class Group(Value, frozen=True, kw_only=True):
    """Explanations that the numbers cannot tell apart, likeliest first; `share` is that of all together."""

    explanations: tuple[Explanation, ...]
    share: float

    @property
    def keys(self) -> frozenset[str]:
        """Every key that any explanation of the group touches."""
        return frozenset(key for one in self.explanations for fault in one.faults for key in fault.keys)


class RowDifference(Value, frozen=True, kw_only=True):
    """What one row says before any explanation: its equation, subject and difference."""

    equation: str
    subject: str
    difference: int


class Explained(Value, frozen=True, kw_only=True):
    """What explains the differences of a site: groups, likeliest first, and the share of none of them.

    `differences` are the rows that are not zero; without one there are no groups. `fits` is how many
    explanations, over all groups, are near enough to the likeliest to be told as fitting; `fitting` the
    groups that hold them. `digest` names the numbers that were explained.
    """

    site: str
    differences: tuple[RowDifference, ...]
    groups: tuple[Group, ...]
    unknown: float
    fits: int
    fitting: int
    digest: str

    @property
    def near(self) -> frozenset[str]:
        """The ids of the explanations that are told as fitting."""
        every = (one for group in self.groups for one in group.explanations)
        return frozenset(one.id for one in sorted(every, key=lambda e: (e.cost, e.id))[: self.fits])
