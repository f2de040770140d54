"""The balance equations I1 to I6, I9 and I11, each written once: parts, signs, the steps each part needs.

No vote is counted here: ballots, sheets, check-ins, envelopes and things only. The identities are those of
ballot accounting as in the U.S. Election Assistance Commission's guidelines (received = issued +
unused; issued = cast + spoiled + provisional + left) and the trade's definition of the public and
the lifetime counter (from memory; common practice, no source).
"""

from __future__ import annotations

import enum

from pollstead.election.values import Value, require
from pollstead.election.words import N_
from pollstead.reconcile.counts.terms import BY_ID, Per


class Step(enum.StrEnum):
    """What a site does, as far as the balance cares. A county names the optional ones."""

    PAPER = "paper ballots"
    ELECTRONIC = "electronic"
    SCANNER = "scanner"
    BOX = "ballot box counted elsewhere"
    FLED_HELD = "fled ballots held"
    LEFT = "voters who left"
    PROVISIONAL = "provisional"
    SPOILED = "spoiled"
    FLED = "fled"
    DAMAGED = "damaged"
    AUXILIARY = "auxiliary bin"
    HELD_APART = "held apart"
    ON_DEMAND = "on-demand printing"
    RESUPPLY = "resupply"
    TRANSFER = "transfer"
    CURBSIDE = "curbside"
    PAPER_COUNT = "paper counted by hand"
    MEMORY_COUNT = "memory device read"
    TESTS = "tests"
    BY_STYLE = "ballots by style"
    CURBSIDE_TALLY = "curbside tally"
    PROVISIONAL_TALLY = "provisional tally"
    KEYS = "keys"
    CREDENTIALS = "credentials"
    PHONES = "phones"
    TABLETS = "tablets"
    MEMORY_TALLY = "memory devices counted"


OPTIONAL_STEPS: tuple[Step, ...] = (
    Step.PROVISIONAL,
    Step.SPOILED,
    Step.FLED,
    Step.DAMAGED,
    Step.AUXILIARY,
    Step.HELD_APART,
    Step.ON_DEMAND,
    Step.RESUPPLY,
    Step.TRANSFER,
    Step.CURBSIDE,
    Step.PAPER_COUNT,
    Step.TESTS,
    Step.BY_STYLE,
    Step.CURBSIDE_TALLY,
    Step.PROVISIONAL_TALLY,
    Step.KEYS,
    Step.CREDENTIALS,
    Step.PHONES,
    Step.TABLETS,
    Step.MEMORY_TALLY,
)
"""The steps that a kind of site switches on by naming them in ``balance``; the others follow from its
station types."""

USUAL_STEPS: tuple[Step, ...] = (Step.PROVISIONAL, Step.SPOILED, Step.FLED)
"""What counts where a kind of site names no step (common practice, no source; varies by county)."""

CAST_ON_PAPER = "cast on paper"
CAST_ELECTRONIC = "cast without paper"


class Part(Value, frozen=True, kw_only=True):
    """One part of an equation: sign, term (or one of the two ``cast …`` sums), the steps it needs."""

    sign: int
    term: str
    needs: tuple[Step, ...] = ()

    def __post_init__(self) -> None:
        require(self.sign in (-1, 1), f"sign must be -1 or 1, got {self.sign}")
        require(
            self.term in BY_ID or self.term in (CAST_ON_PAPER, CAST_ELECTRONIC),
            f"term must be in the registry of terms, got {self.term!r}",
        )


class Row(Value, frozen=True, kw_only=True):
    """One equation of the trade: its parts add up to zero wherever the steps it needs are there."""

    id: str
    words: str
    per: Per
    parts: tuple[Part, ...]
    needs: tuple[Step, ...] = ()


def _p(sign: int, term: str, *needs: Step) -> Part:
    return Part(sign=sign, term=term, needs=needs)


I1_PARTS: tuple[Part, ...] = (
    _p(1, "ballots_received"),
    _p(1, "ballots_resupplied", Step.RESUPPLY),
    _p(1, "ballots_printed", Step.ON_DEMAND),
    _p(-1, CAST_ON_PAPER),
    _p(-1, "ballots_auxiliary", Step.AUXILIARY),
    _p(-1, "ballots_held_apart", Step.HELD_APART),
    _p(-1, "provisional_issued", Step.PROVISIONAL),
    _p(-1, "ballots_spoiled", Step.SPOILED),
    _p(-1, "ballots_fled", Step.FLED_HELD),
    _p(-1, "ballots_damaged", Step.DAMAGED),
    _p(-1, "ballots_unused"),
    _p(-1, "ballots_transferred_out", Step.TRANSFER),
)

ROWS: tuple[Row, ...] = (
    Row(
        id="I1",
        words=N_("Every blank ballot has one place"),
        per=Per.SITE,
        needs=(Step.PAPER,),
        parts=I1_PARTS,
    ),
    Row(
        id="I1-style",
        words=N_("Every blank ballot of a style has one place"),
        per=Per.STYLE,
        needs=(Step.PAPER, Step.BY_STYLE),
        parts=I1_PARTS,
    ),
    Row(
        id="I2",
        words=N_("Voters checked in are the voters given a ballot"),
        per=Per.SITE,
        parts=(
            _p(1, "check_ins"),
            _p(1, "check_ins_added", Step.CURBSIDE),
            _p(-1, "check_ins_cancelled"),
            _p(-1, "ballots_issued", Step.PAPER),
            _p(1, "ballots_reissued", Step.PAPER, Step.SPOILED),
            _p(-1, "voters_left", Step.ELECTRONIC, Step.LEFT),
            _p(-1, CAST_ELECTRONIC),
        ),
    ),
    Row(
        id="I2-curbside",
        words=N_("Voters served at the curb are the ballots brought there"),
        per=Per.SITE,
        needs=(Step.PAPER, Step.CURBSIDE_TALLY),
        parts=(_p(1, "curbside_voters"), _p(-1, "curbside_ballots")),
    ),
    Row(
        id="I2-provisional",
        words=N_("Voters at the provisional table are the provisional ballots issued"),
        per=Per.SITE,
        needs=(Step.PROVISIONAL, Step.PROVISIONAL_TALLY),
        parts=(_p(1, "provisional_voters"), _p(-1, "provisional_issued")),
    ),
    Row(
        id="I3",
        words=N_("Ballots issued are the ballots cast"),
        per=Per.SITE,
        needs=(Step.PAPER,),
        parts=(
            _p(1, "ballots_issued"),
            _p(-1, "ballots_spoiled", Step.SPOILED),
            _p(-1, "ballots_fled", Step.FLED_HELD),
            _p(-1, CAST_ON_PAPER),
            _p(-1, "ballots_auxiliary", Step.AUXILIARY),
            _p(-1, "ballots_held_apart", Step.HELD_APART),
        ),
    ),
    Row(
        id="I4-report",
        words=N_("The screen and the closing report show one count"),
        per=Per.DEVICE,
        parts=(_p(1, "public_counter_close"), _p(-1, "report_count_close")),
    ),
    Row(
        id="I4-memory",
        words=N_("The screen and the memory device show one count"),
        per=Per.DEVICE,
        needs=(Step.MEMORY_COUNT,),
        parts=(_p(1, "public_counter_close"), _p(-1, "memory_count_close")),
    ),
    Row(
        id="I4-paper",
        words=N_("The counter moved by the paper in the box"),
        per=Per.DEVICE,
        needs=(Step.PAPER_COUNT, Step.SCANNER),
        parts=(
            _p(1, "public_counter_close"),
            _p(-1, "public_counter_open"),
            _p(-1, "paper_in_box"),
        ),
    ),
    Row(
        id="I5",
        words=N_("Both counters of a device moved by the same number"),
        per=Per.DEVICE,
        parts=(
            _p(1, "lifetime_counter_close"),
            _p(-1, "lifetime_counter_open"),
            _p(-1, "public_counter_close"),
            _p(1, "public_counter_open"),
            _p(-1, "test_sheets", Step.TESTS),
        ),
    ),
    Row(
        id="I6-envelopes",
        words=N_("Provisional ballots issued are the envelopes in the bag"),
        per=Per.SITE,
        needs=(Step.PROVISIONAL,),
        parts=(_p(1, "provisional_issued"), _p(-1, "provisional_envelopes")),
    ),
    Row(
        id="I6-entries",
        words=N_("Provisional ballots issued are the entries on the list"),
        per=Per.SITE,
        needs=(Step.PROVISIONAL,),
        parts=(_p(1, "provisional_issued"), _p(-1, "provisional_entries")),
    ),
    *(
        Row(
            id=name,
            words=words,
            per=Per.SITE,
            needs=(step,),
            parts=(_p(1, f"{things}_out"), _p(-1, f"{things}_in")),
        )
        for name, words, step, things in (
            (
                "I9-counted",
                N_("Memory devices out are memory devices in"),
                Step.MEMORY_TALLY,
                "memory_devices",
            ),
            ("I11-keys", N_("Keys out are keys in"), Step.KEYS, "keys"),
            ("I11-credentials", N_("Credentials out are credentials in"), Step.CREDENTIALS, "credentials"),
            ("I11-phones", N_("Phones out are phones in"), Step.PHONES, "phones"),
            ("I11-tablets", N_("Tablets out are tablets in"), Step.TABLETS, "tablets"),
        )
    ),
)
