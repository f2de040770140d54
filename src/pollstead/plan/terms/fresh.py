"""What fresh days say of a split, of what sites have now, and of a split in proportion to load."""

from __future__ import annotations

from pollstead.election.values import Value
from pollstead.plan.terms.split import Counts, Response


class FreshSite(Value, frozen=True, kw_only=True):
    """One site on fresh days: the responses to what it has, to the split, to the split by load.

    `voters` are those of all fresh days.
    """

    site: str
    voters: int
    by_load: Counts
    now: Response
    split: Response
    load: Response


class EquityRow(Value, frozen=True, kw_only=True):
    """A group of sites: mean wait in ms for each voter, and voters over the limit in parts per million.

    `more_ms` is the mean wait of the split less the county's.
    """

    group: str
    sites: int
    voters: int
    now_ms: int
    split_ms: int
    more_ms: int
    now_over_ppm: int
    split_over_ppm: int


class Fresh(Value, frozen=True, kw_only=True):
    """All sites on `days` fresh days, which no split has seen; waits in ms over all those days."""

    days: int
    sites: tuple[FreshSite, ...]
    now_ms: int
    split_ms: int
    load_ms: int
    areas: tuple[EquityRow, ...] = ()
    languages: tuple[EquityRow, ...] = ()
    county: EquityRow

    @property
    def gain_ppm(self) -> int:
        """How much less waiting the split has than the one by load, of the latter; below 0: more."""
        return (self.load_ms - self.split_ms) * 1_000_000 // max(1, self.load_ms)

    @property
    def change_ppm(self) -> int:
        """How much less waiting the split has than what sites have now, of the latter."""
        return (self.now_ms - self.split_ms) * 1_000_000 // max(1, self.now_ms)
