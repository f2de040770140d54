"""What has been seen of each candidate on a run of days; no day is simulated twice for one candidate."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pollstead.plan.lines.shares import ranks_of, share_of
from pollstead.plan.lines.trials import all_waits_ms, blocks, over_limit

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np

    from pollstead.plan.lines.shares import Share
    from pollstead.plan.lines.trials import Counts, Trials

    Flags = np.ndarray[Any, np.dtype[np.bool_]]
    Ints = np.ndarray[Any, np.dtype[np.int64]]

MOST_AT_ONCE = 2048
"""Days whose voters are drawn together; more would take hundreds of megabytes at a large site."""

Look = tuple[int, int]
"""Days on which the longest wait passes the limit, and all voters' waits added up in ms."""


class Looks:
    """The days from `first_day` on, the same for all candidates; remembers every look at them."""

    def __init__(self, trials: Trials, first_day: int) -> None:
        self._trials, self._first_day = trials, first_day
        self._rows: dict[Counts, Ints] = {}
        self._seen: dict[Counts, tuple[Flags, Ints]] = {}
        self._ranks = ranks_of(trials.day, first_day)

    def look(self, candidates: Sequence[Counts], days: int) -> list[Look]:
        """Days over the limit and all waits added up in the first `days` days, for each candidate."""
        behind: dict[int, list[Counts]] = {}
        for counts in dict.fromkeys(candidates):
            had = self.days_of(counts)
            if had < days:
                behind.setdefault(had, []).append(counts)
        for had, new in behind.items():
            self._add(new, had, days)
        result = []
        for counts in candidates:
            over, waits = self._seen[counts]
            result.append((int(over[:days].sum()), int(waits[:days].sum())))
        return result

    def days_of(self, counts: Counts) -> int:
        """How many days were simulated with `counts`."""
        return len(self._rows[counts]) if counts in self._rows else 0

    def rows(self, counts: Counts) -> Ints:
        """The engine's rows of all days that were simulated with `counts`, int64 of shape (days, columns)."""
        return self._rows[counts]

    def share(self, counts: Counts, days: int) -> Share:
        """The share of the first `days` days that are over the limit, and how sure it is."""
        self.look([counts], days)
        return share_of(self._seen[counts][0][:days], self._ranks)

    def within(self, candidates: Sequence[Counts], days: int, most_over: int) -> list[Counts]:
        """The candidates with at most `most_over` days over the limit among `days`; others end early."""
        kept = list(candidates)
        for until in blocks(days):
            looks = self.look(kept, until)
            kept = [c for c, (over, _) in zip(kept, looks, strict=True) if over <= most_over]
        return kept

    def _add(self, candidates: list[Counts], had: int, days: int) -> None:
        import numpy as np

        for at in range(had, days, MOST_AT_ONCE):
            more = min(MOST_AT_ONCE, days - at)
            found = self._trials.rows(candidates, self._first_day + at, more)
            for counts, rows in zip(candidates, found, strict=True):
                before = self._rows.get(counts)
                self._rows[counts] = rows if before is None else np.concatenate([before, rows])
        for counts in candidates:
            rows = self._rows[counts]
            self._seen[counts] = (over_limit(rows, self._trials.limit), all_waits_ms(rows))
