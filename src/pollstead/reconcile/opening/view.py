"""One day's lists and observations, arranged once so that each site and item finds its own quickly."""

from __future__ import annotations

import datetime as dt
import functools
from collections import defaultdict
from collections.abc import Iterable

from pollstead.election.county import Election
from pollstead.plan.terms.version import ExpectedList
from pollstead.reconcile.diagnosis.costs import Costs, costs_of
from pollstead.reconcile.diagnosis.known import KnownNumbers, plain_value
from pollstead.reconcile.diagnosis.of_day import COMPARED, known_numbers
from pollstead.reconcile.observed import Observation, What
from pollstead.reconcile.opening.matching import WHAT_OF_ITEM
from pollstead.record.fold import Fold

COMPARED_BY_VALUE = COMPARED
"""Items whose value belongs to one thing alone, so that it can turn up at another."""


def in_order(seen: Observation) -> tuple[int, str]:
    """The order in which observations are shown: by their clock, then by event."""
    return (seen.utc_ms, seen.event)


class DayView:
    """The county on one day: `lists` are those in force on `date`, `observations` those of all days.

    Not a value: it only arranges what it is given, and nothing in it changes afterwards.
    """

    def __init__(
        self,
        election: Election,
        date: dt.date,
        lists: tuple[ExpectedList, ...],
        observations: tuple[Observation, ...],
        folded: Fold | None = None,
    ) -> None:
        self.election, self.date, self.lists = election, date, lists
        self._folded = folded
        day = date.isoformat()
        self._of_day: dict[tuple[str, str], list[Observation]] = defaultdict(list)
        self._today: dict[tuple[str, str], list[Observation]] = defaultdict(list)
        self._standing: dict[str, list[Observation]] = defaultdict(list)
        for seen in sorted(observations, key=in_order):
            self._of_day[(seen.site, seen.day)].append(seen)
            if seen.day == day:
                self._today[(seen.site, seen.subject)].append(seen)
            if seen.stands:
                self._standing[seen.subject].append(seen)
        self.places = Places(lists, (o for o in observations if o.day == day))

    @functools.cached_property
    def known(self) -> KnownNumbers:
        """Every number that is known on the day; made when the first one differs."""
        return known_numbers(self.election, self.lists, self._folded)

    @functools.cached_property
    def costs(self) -> Costs:
        """The county's costs of reading errors."""
        return costs_of(self.election.reading_errors)

    def of_the_day(self, site: str) -> tuple[Observation, ...]:
        """Everything seen at a site on the day, in order."""
        return self.on(site, self.date)

    def on(self, site: str, date: dt.date) -> tuple[Observation, ...]:
        """Everything seen at a site on another day, in order."""
        return tuple(self._of_day.get((site, date.isoformat()), ()))

    def at_site(self, site: str, subjects: Iterable[str]) -> tuple[Observation, ...]:
        """What was seen of some subjects at a site on the day, in order."""
        found = [o for s in dict.fromkeys(subjects) for o in self._today.get((site, s), ())]
        return tuple(sorted(found, key=in_order))

    def standing(self, subjects: Iterable[str]) -> tuple[Observation, ...]:
        """The standing observations of some subjects on every day, in order."""
        found = [o for s in dict.fromkeys(subjects) for o in self._standing.get(s, ())]
        return tuple(sorted(found, key=in_order))


class Places:
    """Where each value is expected, and where it was seen on the day, over all sites."""

    def __init__(self, lists: tuple[ExpectedList, ...], today: Iterable[Observation]) -> None:
        items = [item for one in lists for item in one.items if item.what in COMPARED_BY_VALUE]
        self._wanted = {(item.what, item.subject, plain_value(item.value)) for item in items}
        of_value: dict[str, set[str]] = defaultdict(set)
        for item in items:
            of_value[plain_value(item.value)].add(item.subject)
        self.doubled = frozenset(value for value, subjects in of_value.items() if len(subjects) > 1)
        self._seen: dict[tuple[What, str], set[tuple[str, str]]] = defaultdict(set)
        for seen in today:
            if seen.stands and seen.value and seen.what in (What.SERIAL, What.SEAL):
                self._seen[(seen.what, plain_value(seen.value))].add((seen.site, seen.subject))

    def also_seen(self, what: str, value: str, subject: str) -> tuple[str, ...]:
        """Other things at which the value was seen, save those where it is expected as well."""
        found = self._seen.get((WHAT_OF_ITEM[what], plain_value(value)), set())
        return tuple(
            sorted(
                f"{other} ({site})"
                for site, other in found
                if other != subject and (what, other, plain_value(value)) not in self._wanted
            )
        )
