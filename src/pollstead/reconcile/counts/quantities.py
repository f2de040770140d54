"""The quantities of the county table: what each is made of at a site, and the words for ways of voting.

A quantity is a whole-number sum of readings of a site's balance. Ways of voting are words: ``election_day``,
``early``, ``all`` for all ways together; a county may type others, such as ``absentee``.
"""

from __future__ import annotations

import datetime as dt

from pollstead.election.station_type import CountUnit
from pollstead.election.values import Value, require_unique
from pollstead.election.words import N_
from pollstead.reconcile.counts.equations import Balance
from pollstead.reconcile.counts.rows import Step
from pollstead.reconcile.counts.terms import STYLE_COUNTS, key_of, style_of

ELECTION_DAY, EARLY, ALL_MODES = "election_day", "early", "all"
MODE_WORDS = {
    ELECTION_DAY: N_("election day"),
    EARLY: N_("early voting"),
    ALL_MODES: N_("all ways of voting"),
}
CAST, SHEETS = "ballots_cast", "sheets"
PUBLIC_OPEN, PUBLIC_CLOSE = "public_counter_open", "public_counter_close"


class Quantity(Value, frozen=True, kw_only=True):
    """One quantity: its words and the terms of a site's balance that make it, each with its sign.

    `always` says that every site that has it is expected in the canvass; the others are compared where
    somebody typed them. The counters of the devices and the ballot box make `ballots_cast`.
    """

    id: str
    words: str
    terms: tuple[tuple[int, str], ...] = ()
    always: bool = False


REGISTRY: tuple[Quantity, ...] = (
    Quantity(id=CAST, words=N_("Ballots cast"), always=True),
    Quantity(id=SHEETS, words=N_("Sheets counted")),
    Quantity(
        id="check_ins",
        words=N_("Voters checked in, cancelled ones taken away"),
        terms=((1, "check_ins"), (1, "check_ins_added"), (-1, "check_ins_cancelled")),
        always=True,
    ),
    Quantity(id="check_ins_cancelled", words=N_("Check-ins cancelled"), terms=((1, "check_ins_cancelled"),)),
    Quantity(
        id="ballots_issued",
        words=N_("Regular ballots issued, reissues included"),
        terms=((1, "ballots_issued"),),
    ),
    Quantity(
        id="provisional_issued", words=N_("Provisional ballots issued"), terms=((1, "provisional_issued"),)
    ),
    Quantity(
        id="provisional_envelopes",
        words=N_("Provisional envelopes"),
        terms=((1, "provisional_envelopes"),),
        always=True,
    ),
    Quantity(
        id="ballots_auxiliary",
        words=N_("Ballots from the auxiliary bin"),
        terms=((1, "ballots_auxiliary"),),
    ),
    Quantity(id="ballots_held_apart", words=N_("Ballots held apart"), terms=((1, "ballots_held_apart"),)),
    Quantity(id="ballots_spoiled", words=N_("Spoiled ballots"), terms=((1, "ballots_spoiled"),)),
    Quantity(id="ballots_fled", words=N_("Ballots held whose voter left"), terms=((1, "ballots_fled"),)),
    Quantity(id="ballots_unused", words=N_("Unused ballots"), terms=((1, "ballots_unused"),)),
    Quantity(id="ballots_received", words=N_("Blank ballots at opening"), terms=((1, "ballots_received"),)),
)
"""The quantities that this version knows, in the order of the table."""
require_unique(tuple(one.id for one in REGISTRY), "quantities")
BY_QUANTITY = {one.id: one for one in REGISTRY}


class SiteSum(Value, frozen=True, kw_only=True):
    """A quantity of one site and day: pairs (coefficient, key of the balance), in `unit`.

    `per_ballot` is how many of that unit one ballot is: sheets where a counter counts sheets. Where ballots
    of two styles have different numbers of sheets, `by_style` has them and a total is compared by style.
    """

    terms: tuple[tuple[int, str], ...]
    unit: CountUnit
    per_ballot: int
    by_style: tuple[tuple[str, int], ...] = ()


def mode_of(date: dt.date, election_day: dt.date) -> str:
    """The way of voting of an operating day."""
    return ELECTION_DAY if date == election_day else EARLY


def site_sum(quantity: str, balance: Balance, style: str = "") -> SiteSum | None:
    """What makes a quantity at a site, of one ballot style where one is given; None where it has none."""
    keys = {line.key: line for line in balance.lines}
    if quantity == CAST:
        return _cast(balance, style)
    if quantity == SHEETS:
        return _sheets(balance, style)
    wanted = BY_QUANTITY[quantity].terms
    terms = tuple((sign, key) for sign, term in wanted if (key := key_of(term, "", style)) in keys)
    if not terms or terms[0][1] != key_of(wanted[0][1], "", style):
        return None
    unit = CountUnit.CHECK_INS if quantity == "check_ins" else CountUnit.BALLOTS
    return SiteSum(terms=terms, unit=unit, per_ballot=1)


def _sheets(balance: Balance, style: str) -> SiteSum | None:
    """What the counters moved, where all of them count sheets."""
    found = _cast(balance, style)
    counters = [x for x in balance.lines if x.term.id in (PUBLIC_CLOSE, STYLE_COUNTS[1].id)]
    if found is None or not counters or any(x.unit != CountUnit.SHEETS for x in counters):
        return None
    return SiteSum(terms=found.terms, unit=CountUnit.SHEETS, per_ballot=1)


def _cast(balance: Balance, style: str) -> SiteSum | None:
    closing, opening = (STYLE_COUNTS[1].id, STYLE_COUNTS[0].id) if style else (PUBLIC_CLOSE, PUBLIC_OPEN)
    lines = [line for line in balance.lines if style_of(line.key) == style]
    in_sheets = any(line.term.id == closing and line.unit == CountUnit.SHEETS for line in lines)
    sheets = dict(balance.styles.sheets).get(style, balance.sheets_per_ballot) if in_sheets else 1
    terms: list[tuple[int, str]] = []
    for line in lines:
        # A device that counts ballots moves once for all sheets of one.
        times = 1 if line.unit == CountUnit.SHEETS else sheets
        if line.term.id in (closing, opening):
            terms.append((times if line.term.id == closing else -times, line.key))
        elif line.term.id == "ballots_in_box" and Step.BOX in balance.steps:
            terms.append((sheets, line.key))
    if not any(coefficient > 0 for coefficient, _ in terms):
        return None
    spread = balance.styles.sheets if in_sheets and balance.styles.mixed and not style else ()
    unit = CountUnit.SHEETS if sheets != 1 or spread else CountUnit.BALLOTS
    return SiteSum(terms=tuple(terms), unit=unit, per_ballot=sheets, by_style=spread)
