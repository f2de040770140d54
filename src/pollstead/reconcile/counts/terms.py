"""The terms of the balance: every number that people read or count at closing, each with its place.

A term is read per site or per device. Its key in readings is the id alone, or ``id@device``. A number of
one ballot style has that style in its key: ``ballots_unused%E07``, ``style_count_close%E07@device/…``.
"""

from __future__ import annotations

import enum

from pollstead.election.station_type import Moment
from pollstead.election.values import Value, require_unique
from pollstead.election.words import N_
from pollstead.reconcile.observed import STYLE_MARK


class Per(enum.StrEnum):
    """Whether there is one number for the site, one for each device or, of rows only, each ballot style."""

    SITE = "site"
    DEVICE = "device"
    STYLE = "style"


class TermUnit(enum.StrEnum):
    """What a term counts."""

    BALLOTS = "ballots"
    SHEETS = "sheets"
    CHECK_INS = "check-ins"
    VOTERS = "voters"
    ENVELOPES = "envelopes"
    ENTRIES = "entries"
    THINGS = "things"
    AS_COUNTER = "as the counter says"


class Term(Value, frozen=True, kw_only=True):
    """One number: what it is, its unit, where and when it is read, by which source of ``count.read``.

    `by_style` says whether it may be counted for each ballot style as well.
    """

    id: str
    words: str
    unit: TermUnit
    where: str
    source: str
    per: Per = Per.SITE
    moment: Moment = Moment.CLOSING
    by_style: bool = False


def _site(
    term: str,
    words: str,
    unit: TermUnit,
    where: str,
    source: str = "hand",
    moment: Moment = Moment.CLOSING,
) -> Term:
    by_style = unit is TermUnit.BALLOTS
    return Term(id=term, words=words, unit=unit, where=where, source=source, moment=moment, by_style=by_style)


def _device(
    term: str,
    words: str,
    where: str,
    source: str,
    unit: TermUnit = TermUnit.AS_COUNTER,
    moment: Moment = Moment.CLOSING,
    *,
    by_style: bool = False,
) -> Term:
    return Term(
        id=term,
        words=words,
        unit=unit,
        where=where,
        source=source,
        per=Per.DEVICE,
        moment=moment,
        by_style=by_style,
    )


_LIST = N_("On the check-in list")
_STOCK = N_("Count the unused stock by hand")
_RECEIPT = N_("On the delivery receipt, and counted when opened")
_ENVELOPE = N_("Count inside its envelope by hand")
_SCREEN = N_("On the device's screen")

REGISTRY: tuple[Term, ...] = (
    _site(
        "ballots_received",
        N_("Blank ballots at opening"),
        TermUnit.BALLOTS,
        _RECEIPT,
        moment=Moment.OPENING,
    ),
    _site("ballots_resupplied", N_("Blank ballots brought during the day"), TermUnit.BALLOTS, _RECEIPT),
    _site(
        "ballots_printed",
        N_("Ballots printed on demand"),
        TermUnit.BALLOTS,
        N_("On the printer's count"),
        "report",
    ),
    _site("ballots_transferred_out", N_("Blank ballots sent to another site"), TermUnit.BALLOTS, _RECEIPT),
    _site("ballots_unused", N_("Unused ballots at closing"), TermUnit.BALLOTS, _STOCK),
    _site("ballots_spoiled", N_("Spoiled ballots"), TermUnit.BALLOTS, _ENVELOPE),
    _site("ballots_fled", N_("Ballots held whose voter left"), TermUnit.BALLOTS, _ENVELOPE),
    _site("ballots_damaged", N_("Damaged ballots kept aside"), TermUnit.BALLOTS, _ENVELOPE),
    _site(
        "ballots_auxiliary",
        N_("Ballots in the auxiliary bin, not scanned"),
        TermUnit.BALLOTS,
        N_("Count the auxiliary bin by hand"),
    ),
    _site(
        "ballots_held_apart",
        N_("Ballots held apart, in no device's counter"),
        TermUnit.BALLOTS,
        N_("Count what is held apart by an order or from a device that was swapped"),
    ),
    _site(
        "ballots_in_box",
        N_("Ballots in the ballot box"),
        TermUnit.BALLOTS,
        N_("Where the box is opened and counted"),
        moment=Moment.RECEIVING,
    ),
    _site("check_ins", N_("Voters checked in"), TermUnit.CHECK_INS, _LIST, "screen"),
    _site(
        "check_ins_added",
        N_("Voters written down outside the check-in list"),
        TermUnit.CHECK_INS,
        N_("On the curbside tally or the hand-written list"),
    ),
    _site("check_ins_cancelled", N_("Check-ins cancelled"), TermUnit.CHECK_INS, _LIST, "screen"),
    _site(
        "ballots_issued",
        N_("Regular ballots issued, reissues included"),
        TermUnit.BALLOTS,
        N_("On the tally of ballots handed out"),
    ),
    _site(
        "ballots_reissued",
        N_("Ballots issued again after a spoiled one"),
        TermUnit.BALLOTS,
        N_("On the tally of ballots handed out"),
    ),
    _site("voters_left", N_("Voters who left before casting"), TermUnit.VOTERS, N_("On the tally card")),
    _site("provisional_issued", N_("Provisional ballots issued"), TermUnit.BALLOTS, N_("On the tally card")),
    _site(
        "provisional_envelopes",
        N_("Envelopes in the provisional bag"),
        TermUnit.ENVELOPES,
        N_("Count the envelopes before the bag is sealed"),
    ),
    _site(
        "provisional_entries",
        N_("Entries on the provisional list"),
        TermUnit.ENTRIES,
        N_("Count the lines of the list"),
    ),
    _site(
        "curbside_voters",
        N_("Voters served at the curb"),
        TermUnit.VOTERS,
        N_("On the curbside tally"),
    ),
    _site(
        "curbside_ballots",
        N_("Ballots brought to the curb, reissues not counted"),
        TermUnit.BALLOTS,
        N_("On the tally of ballots handed out"),
    ),
    _site(
        "provisional_voters",
        N_("Voters sent to the provisional table"),
        TermUnit.VOTERS,
        N_("On the check-in list or the tally card"),
    ),
    *(
        _site(f"{things}_{way}", words, TermUnit.THINGS, where, "hand", moment)
        for things, out, back in (
            ("keys", N_("Keys handed out"), N_("Keys that came back")),
            ("credentials", N_("Credentials handed out"), N_("Credentials that came back")),
            ("phones", N_("Phones handed out"), N_("Phones that came back")),
            ("tablets", N_("Tablets handed out"), N_("Tablets that came back")),
            ("memory_devices", N_("Memory devices that went out"), N_("Memory devices that came back")),
        )
        for way, words, where, moment in (
            ("out", out, N_("On the delivery receipt, and counted when opened"), Moment.OPENING),
            ("in", back, N_("Counted at the receiving table"), Moment.RECEIVING),
        )
    ),
    _device("public_counter_open", N_("Public counter at opening"), _SCREEN, "screen", moment=Moment.OPENING),
    _device("public_counter_close", N_("Public counter at closing"), _SCREEN, "screen"),
    _device(
        "lifetime_counter_open", N_("Lifetime counter at opening"), _SCREEN, "screen", moment=Moment.OPENING
    ),
    _device("lifetime_counter_close", N_("Lifetime counter at closing"), _SCREEN, "screen"),
    _device("report_count_close", N_("Count on the closing report"), N_("On the printed report"), "report"),
    _device(
        "memory_count_close",
        N_("Count on the memory device"),
        N_("Where the memory device is read"),
        "memory_device",
        moment=Moment.RECEIVING,
    ),
    _device(
        "paper_in_box",
        N_("Paper in this device's ballot box"),
        N_("Count the paper by hand"),
        "hand",
        TermUnit.SHEETS,
    ),
    _device(
        "test_sheets",
        N_("Sheets of a test that was written down"),
        N_("In the device's log"),
        "hand",
    ),
)
STYLE_COUNTS: tuple[Term, ...] = (
    _device(
        "style_count_open",
        N_("Ballots of this style on the report at opening"),
        N_("On the printed report"),
        "report",
        moment=Moment.OPENING,
        by_style=True,
    ),
    _device(
        "style_count_close",
        N_("Ballots of this style on the closing report"),
        N_("On the printed report"),
        "report",
        by_style=True,
    ),
)
"""What a device counted of one ballot style; read by style only (VVSG 2.0, requirement 1.1.9-B)."""

REGISTRY = (*REGISTRY, *STYLE_COUNTS)
require_unique(tuple(term.id for term in REGISTRY), "terms")
BY_ID = {term.id: term for term in REGISTRY}

READ_ELSEWHERE: tuple[tuple[str, str, str], ...] = (
    ("public_counter_close", "report", "report_count_close"),
    ("public_counter_close", "memory_device", "memory_count_close"),
)
"""A closing counter read from another source is a term of its own: (term, source, term meant)."""

_MEANT = {(term, source): meant for term, source, meant in READ_ELSEWHERE}


def term_of(term: str, source: str) -> str:
    """The term that a reading of `term` from `source` stands for."""
    return _MEANT.get((term, source), term)


def key_of(term: str, subject: str, style: str = "") -> str:
    """The key of a reading: the term alone for a site's number, ``term@device`` for a device's.

    A `style`, given apart or within the term (``term%style``), stays with the term. A term that this version
    does not know keeps its subject, so that nothing is mixed up.
    """
    name, _, within = term.partition(STYLE_MARK)
    style = style or within
    known = BY_ID.get(name)
    name = f"{name}{STYLE_MARK}{style}" if style else name
    return name if known is not None and known.per is Per.SITE else f"{name}@{subject}"


def split_key(key: str) -> tuple[str, str]:
    """The term and the device of a key; the device is empty for a site's number. The style is left out."""
    term, _, device = key.partition("@")
    return term.partition(STYLE_MARK)[0], device


def style_of(key: str) -> str:
    """The ballot style that a key is of; empty for a number of all styles together."""
    return key.partition("@")[0].partition(STYLE_MARK)[2]


def counter_term(counter: str, moment: Moment) -> str:
    """The term of a device's counter at a moment: ``public`` at opening is ``public_counter_open``.

    Counters of other names keep theirs: ``check-ins`` at closing is ``check_ins_close``.
    """
    base = counter.strip().lower().replace("-", "_").replace(" ", "_")
    stem = f"{base}_counter" if base in ("public", "lifetime") else base
    return f"{stem}_open" if moment in (Moment.OPENING, Moment.EVENING_BEFORE) else f"{stem}_close"


def hour_term(term: str, hour_min: int) -> str:
    """A term as read at an hour of the operating day: ``check_ins`` at 15:00 is ``check_ins_at_1500``."""
    return f"{term}_at_{hour_min // 60:02d}{hour_min % 60:02d}"


def hour_of(term: str) -> int | None:
    """The hour that a counter's term is of (``public_counter_at_1200``); None for another term."""
    stem, _, digits = term.rpartition("_at_")
    if not stem or len(digits) != 4 or not digits.isdigit():
        return None
    return int(digits[:2]) * 60 + int(digits[2:])
