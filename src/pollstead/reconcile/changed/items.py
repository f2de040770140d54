"""Which expected things change between two plans, site by site and day by day."""

from __future__ import annotations

from collections import defaultdict

from pollstead.plan.terms.version import ExpectedItem, ExpectedList
from pollstead.reconcile.changed.terms import ItemChange, SiteDayChange, State
from pollstead.reconcile.issued import Issued


def changed_days(before: State, after: State, in_force: Issued) -> tuple[SiteDayChange, ...]:
    """Every site and day whose list differs between the two plans, in the order of sites and dates.

    A day that only one of them has counts too: its list comes or goes as a whole.
    """
    places = sorted({(one.site, one.date) for one in (*before.lists, *after.lists)})
    found = []
    for site, date in places:
        old, new = before.list_of(site, date), after.list_of(site, date)
        if _items(old) == _items(new):
            continue
        changes = item_changes(old, new)
        found.append(
            SiteDayChange(
                site=site,
                date=date,
                in_force=in_force.of(site, date) is not None,
                kept=len(set(_items(old)) & set(_items(new))),
                items=changes,
            )
        )
    return tuple(found)


def item_changes(old: ExpectedList | None, new: ExpectedList | None) -> tuple[ItemChange, ...]:
    """What differs between two lists, old beside new: matched by station, what is read, words and moment.

    So a seal on the lid of scanner 1 stands beside the seal on the lid of what stands there now.
    """
    here: dict[tuple[str, ...], tuple[list[ExpectedItem], list[ExpectedItem]]] = defaultdict(lambda: ([], []))
    for side, items in enumerate((_items(old), _items(new))):
        for item in items:
            here[_place(item)][side].append(item)
    found = []
    for olds, news in here.values():
        rest = [item for item in olds if item not in news], [item for item in news if item not in olds]
        for index in range(max(map(len, rest))):
            was = rest[0][index] if index < len(rest[0]) else None
            now = rest[1][index] if index < len(rest[1]) else None
            one = now or was
            if one is not None:
                found.append(
                    ItemChange(
                        station=one.station,
                        what=one.what,
                        words=one.words,
                        moment=one.moment,
                        subject_before="" if was is None else was.subject,
                        subject_after="" if now is None else now.subject,
                        before=None if was is None else was.value,
                        after=None if now is None else now.value,
                    )
                )
    return tuple(found)


def changed_stations(days: tuple[SiteDayChange, ...]) -> frozenset[tuple[str, str]]:
    """Pairs (day as ISO 8601, station) of which something expected changes."""
    return frozenset((day.date.isoformat(), item.station) for day in days for item in day.items)


def _items(expected: ExpectedList | None) -> tuple[ExpectedItem, ...]:
    return () if expected is None else expected.items


def _place(item: ExpectedItem) -> tuple[str, ...]:
    return (item.station, item.what, item.words, item.moment.value)
