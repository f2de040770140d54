"""The expected lists in force: from the private parts of ``expected.issued`` and ``expected.amended``.

`lines_of` writes a list as the lines of an event's private part and `issued_lists` reads them back, so
that one place knows the form.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

import msgspec

from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.plan.terms.version import ExpectedItem, ExpectedList
from pollstead.reconcile.observed import short_site
from pollstead.record.fold import Fact, Fold, Reading
from pollstead.record.frozen_json import FrozenObject


class Issued(Value, frozen=True, kw_only=True):
    """The lists in force, each with the event that issued or last amended it, and what is to be said."""

    lists: tuple[ExpectedList, ...]
    events: tuple[str, ...]
    notices: tuple[Notice, ...] = ()

    def of(self, site: str, date: dt.date) -> ExpectedList | None:
        """The list of a site and day, or None where none is in force."""
        return next((one for one in self.lists if one.site == site and one.date == date), None)

    def plan_among(self, digests: Iterable[str]) -> str:
        """The last of `digests` (plan versions, oldest first) that a list in force names; "" for none.

        A later version, even an approved one, is not compared with until lists of it are issued.
        """
        named = {one.plan for one in self.lists}
        return next((digest for digest in reversed(tuple(digests)) if digest in named), "")

    def event_of(self, site: str, date: dt.date) -> str:
        """The event of the list of a site and day, "" where there is none."""
        found = zip(self.lists, self.events, strict=True)
        return next((event for one, event in found if one.site == site and one.date == date), "")


def lines_of(expected: ExpectedList) -> tuple[FrozenObject, ...]:
    """The items of a list as the lines of an event's private part, in order."""
    return tuple(FrozenObject(msgspec.to_builtins(item)) for item in expected.items)


def issued_lists(folded: Fold) -> Issued:
    """Every list in force; the fold must have been made with the private parts.

    Two lists for one site and day that do not know each other both stand in the record: the later is
    taken and a notice says so. A list whose lines are not given here, or do not read, is left out with a
    notice.
    """
    lists: list[ExpectedList] = []
    events: list[str] = []
    notices: list[Notice] = []
    place = {event: index for index, event in enumerate(folded.order)}
    for fact in folded.named("expected"):
        current = sorted(fact.current, key=lambda reading: place.get(reading.event, 0))
        if not current:
            continue
        if len(current) > 1:
            notices.append(
                _notice(fact, N_("Two expected lists stand for this site and day; the later one is used."))
            )
        found = _read(fact, current[-1])
        if isinstance(found, Notice):
            notices.append(found)
        else:
            lists.append(found)
            events.append(current[-1].event)
    return Issued(lists=tuple(lists), events=tuple(events), notices=tuple(notices))


def _read(fact: Fact, reading: Reading) -> ExpectedList | Notice:
    if reading.private is None:
        return _notice(fact, N_("The lines of this expected list are not given here."))
    lines = reading.private.get("lines", ())
    try:
        items = tuple(msgspec.convert(line.thawed(), ExpectedItem) for line in lines)
        date = dt.date.fromisoformat(fact.day)
    except (msgspec.ValidationError, ValueError, AttributeError):
        return _notice(fact, N_("The lines of this expected list cannot be read."))
    plan = reading.value.get("plan", "")
    return ExpectedList(
        site=short_site(fact.subject),
        date=date,
        plan=plan if isinstance(plan, str) else "",
        items=items,
    )


def _notice(fact: Fact, template: str) -> Notice:
    return Notice(
        kind=NoticeKind.OPEN_ITEM,
        rule="expected-list",
        subject=fact.subject,
        day=fact.day,
        text=message(template),
        remedy=message(N_("Issue the list again from the office.")),
        owner="office",
    )
