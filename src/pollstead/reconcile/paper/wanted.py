"""Which values of a site's paper are to be keyed: the terms of its balance and the lines marked different.

At most 25 values a site and day. Where more would be needed, those that come first in `Why` are chosen and
the others are named; the paper stays in its box and tells them.
"""

from __future__ import annotations

import enum
from typing import Final

from pollstead.election.station_type import Moment
from pollstead.election.values import Value
from pollstead.reconcile.counts.equations import Balance

MOST_VALUES: Final = 25
"""So many values of one site and day are keyed twice; our own bound, so that paper is keyed within a day."""


class Why(enum.StrEnum):
    """Why a value is keyed, in the order of priority."""

    WHOLE_SITE = "a sum of the whole site needs it"
    MARKED = "somebody marked the line as different"
    ONE_DEVICE = "a sum of one device needs it"


class MarkedLine(Value, frozen=True, kw_only=True):
    """A line that somebody marked as different; `key` is its term of the balance, "" where it is none."""

    sheet: str
    line: str
    key: str = ""


class WantedValue(Value, frozen=True, kw_only=True):
    """One value to key: a term of the balance by `key`, or a marked line by `sheet` and `line`."""

    why: Why
    key: str = ""
    sheet: str = ""
    line: str = ""


class Wanted(Value, frozen=True, kw_only=True):
    """The values to key, the most needed first, and those left out because the bound was reached.

    `not_on_paper` are terms that no sheet asks for, such as those that a change on the day brought.
    """

    values: tuple[WantedValue, ...]
    left_out: tuple[WantedValue, ...] = ()
    not_on_paper: tuple[str, ...] = ()

    def has(self, sheet: str, line: str, key: str) -> bool:
        """Whether a line is to be keyed: as a term, or because it was marked."""
        return any(
            (key and value.key == key) or (value.sheet == sheet and value.line == line)
            for value in self.values
        )


def wanted_values(
    balance: Balance | None,
    marked: tuple[MarkedLine, ...],
    most: int = MOST_VALUES,
    on_paper: frozenset[str] | None = None,
) -> Wanted:
    """The values of one site and day; numbers that are read at receiving stand on no sheet of the site.

    `on_paper` are the terms that its balance sheet asks for, None while that is not known.
    """
    whole, single = _terms(balance)
    without = () if on_paper is None else tuple(key for key in (*whole, *single) if key not in on_paper)
    whole, single = (tuple(key for key in keys if key not in without) for keys in (whole, single))
    terms = {*whole, *single}
    other = [m for m in _once(marked) if m.key not in terms]
    chosen = (
        *(WantedValue(why=Why.WHOLE_SITE, key=key) for key in whole),
        *(WantedValue(why=Why.MARKED, key=m.key, sheet=m.sheet, line=m.line) for m in other),
        *(WantedValue(why=Why.MARKED, key=key) for key in single if any(m.key == key for m in marked)),
        *(
            WantedValue(why=Why.ONE_DEVICE, key=key)
            for key in single
            if not any(m.key == key for m in marked)
        ),
    )
    return Wanted(values=chosen[:most], left_out=chosen[most:], not_on_paper=without)


def _once(marked: tuple[MarkedLine, ...]) -> tuple[MarkedLine, ...]:
    """The marked lines, each once, by sheet and line; of several of one term the first."""
    found: dict[tuple[str, str], MarkedLine] = {}
    for one in sorted(marked, key=lambda m: (m.sheet, int(m.line[1:]))):
        found.setdefault(("", one.key) if one.key else (one.sheet, one.line), one)
    return tuple(found.values())


def _terms(balance: Balance | None) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The keys that sums of the whole site need, and those that only sums of one device need, by equation."""
    if balance is None:
        return (), ()
    later = {line.key for line in balance.lines if line.term.moment is Moment.RECEIVING}
    whole: dict[str, None] = {}
    single: dict[str, None] = {}
    for equation in balance.equations:
        of_site = not any(line.device == equation.subject for line in balance.lines if line.device)
        for _, key in equation.terms:
            if key not in later:
                (whole if of_site else single).setdefault(key)
    return tuple(whole), tuple(key for key in single if key not in whole)
