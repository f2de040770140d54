"""The words for what was found: one sentence for everywhere, each explanation for the office desk alone.

Neutral throughout: what may stand where, never who did what, never how likely. A difference has possible
explanations; the canvassing body decides what it means.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from pollstead.election.fault_odds import FaultKind
from pollstead.election.next_acts import LookAgain
from pollstead.election.words import N_, Message, message
from pollstead.reconcile.counts.differences import names_of
from pollstead.reconcile.explain.next_act import Act, Outcome
from pollstead.reconcile.explain.system import column_key
from pollstead.reconcile.explain.terms import Explained, Explanation, Fault

_FIT = (
    N_("Difference of {size}; nothing known here explains it."),
    N_("Difference of {size}; one explanation fits."),
    N_("Difference of {size}; two explanations fit."),
    N_("Difference of {size}; three explanations fit."),
    N_("Difference of {size}; four explanations fit."),
    N_("Difference of {size}; five explanations fit."),
    N_("Difference of {size}; six explanations fit."),
    N_("Difference of {size}; seven explanations fit."),
    N_("Difference of {size}; eight explanations fit."),
    N_("Difference of {size}; nine explanations fit."),
)
_MORE_FIT = N_("Difference of {size}; more than nine explanations fit.")
TRAVEL = N_("Counted as often as your rule says: the site writes the difference and travels.")


def sentence(explained: Explained) -> Message | None:
    """The one sentence that may stand anywhere; None without a difference."""
    sizes = sorted({abs(line.difference) for line in explained.differences})
    if not sizes:
        return None
    return how_many_fit(", ".join(map(str, sizes)), explained.fits)


def how_many_fit(size: str, fits: int) -> Message:
    """The sentence for differences of `size` that so many explanations fit."""
    return message(_FIT[fits] if fits < len(_FIT) else _MORE_FIT, size=size)


Label = Callable[[str], str]
"""How a device is called where the words stand: its id, or the station's own name."""


def explanation_words(one: Explanation, read: Mapping[str, int], label: Label = str) -> tuple[Message, ...]:
    """The words of an explanation, one message for each fault; `read` are the numbers by column."""
    return tuple(fault_words(fault, read, label) for fault in one.faults)


def number_name(key: str, label: Label = str) -> str:
    """The English name of a number, with its style and with its device as it is called."""
    name, device = names_of((key,)), key.partition("@")[2]
    return name.replace(device, label(device)) if device else name


_WHY: Mapping[FaultKind, str] = {
    FaultKind.DIGITS_SWAPPED: N_(
        "{number}: {read} was written, {meant} would fit. Two neighboring digits may have changed places."
    ),
    FaultKind.DIGIT_MISREAD: N_(
        "{number}: {read} was written, {meant} would fit. One digit may have been misread."
    ),
    FaultKind.PAIR_MISREAD: N_(
        "{number}: {read} was written, {meant} would fit. A pair of equal digits may have been misread."
    ),
    FaultKind.DIGIT_DROPPED: N_(
        "{number}: {read} was written, {meant} would fit. A digit may have been left out."
    ),
    FaultKind.DIGIT_ADDED: N_("{number}: {read} was written, {meant} would fit. A digit may be too many."),
    FaultKind.NEIGHBOR_ROW: N_(
        "{number}: {read} was written, {meant} would fit. The line beside it has the same number: {other}."
    ),
    FaultKind.NEIGHBOR_COLUMN: N_(
        "{number}: {read} was written, {meant} would fit. The column beside it has the same number: {other}."
    ),
    FaultKind.OTHER_DEVICE: N_(
        "{number}: {read} was written, {meant} would fit. Another device has the same number: {other}."
    ),
    FaultKind.OTHER_COUNTER: N_(
        "{number}: {read} was written, {meant} would fit. The device's other counter has the same number: "
        "{other}."
    ),
    FaultKind.OTHER_SITE: N_(
        "{number}: {read} was written, {meant} would fit. Site {other} has the same number."
    ),
    FaultKind.DAY_BEFORE: N_(
        "{number}: {read} was written, {meant} would fit. The number of {other} is the same."
    ),
    FaultKind.OTHER_NUMBER: N_("{number}: {read} was written, {meant} would fit."),
    FaultKind.MISCOUNTED: N_("{number}: {read} was counted, {meant} would fit."),
    FaultKind.PACK_MISCOUNTED: N_(
        "{number}: {read} was counted, {meant} would fit. A pack may be in it too often or not at all."
    ),
    FaultKind.WRITTEN_DOUBLE: N_(
        "{number}: {read} was written, {meant} would fit. It may have been counted twice."
    ),
    FaultKind.NOT_WRITTEN: N_("{number}: 0 was written, {meant} would fit. It may not have been counted."),
    FaultKind.PART_TWICE: N_("{number}: {read} was written, {meant} would fit. {other} may be in it twice."),
    FaultKind.PART_LEFT_OUT: N_("{number}: {read} was written, {meant} would fit. {other} may not be in it."),
    FaultKind.SHEETS_FOR_BALLOTS: N_(
        "{number}: {read} was written, {meant} would fit. Sheets may have been written for ballots."
    ),
    FaultKind.BALLOTS_FOR_SHEETS: N_(
        "{number}: {read} was written, {meant} would fit. Ballots may have been written for sheets."
    ),
    FaultKind.OPENING_NOT_ZERO: N_(
        "{number}: 0 was written, {meant} would fit. The counter may not have begun at zero."
    ),
    FaultKind.CLOSING_NOT_READ: N_(
        "{number}: {read} was written, {meant} would fit. At closing all counts of {device} stand as at "
        "opening; nobody may have read them again."
    ),
    FaultKind.READ_TOO_EARLY: N_(
        "The screen of {device} may have been read before the last voters; it would show {size} more."
    ),
    FaultKind.SPOILED_NOT_WRITTEN: N_("Spoiled ballots may be {size} more than was written."),
    FaultKind.REISSUE_NOT_WRITTEN: N_("Ballots issued again may be {size} more than was written."),
    FaultKind.SPOILED_AND_REISSUE: N_(
        "Spoiled ballots and ballots issued again may both be {size} more than was written."
    ),
    FaultKind.FLED_NOT_WRITTEN: N_("Ballots whose voter left may be {size} more than was written."),
    FaultKind.CAST_AFTER_FLED: N_("Written as held, whose voter left, and cast after all: {size}."),
    FaultKind.CANCELLED_NOT_WRITTEN: N_("Cancelled check-ins may be {size} more than was written."),
    FaultKind.CHECK_IN_TWICE: N_("Lines that may stand twice on the check-in list: {size}."),
    FaultKind.CHECK_IN_LEFT_OUT: N_("Lines that the check-in list may have too few: {size}."),
    FaultKind.LEFT_WITH_BALLOT: N_(
        "Ballots issued that may be in no other count, neither cast nor held nor spoiled: {size}."
    ),
    FaultKind.HANDED_OUT_TWO: N_("Two ballots may have been handed out as one and both cast: {size}."),
    FaultKind.PROVISIONAL_SCANNED: N_(
        "Provisional ballots that {device} may have counted, with no envelope in the bag: {size}."
    ),
    FaultKind.PROVISIONAL_NOT_WRITTEN: N_("Provisional ballots issued may be {size} more than was written."),
    FaultKind.AUXILIARY_LEFT_OUT: N_("The auxiliary bin may have held {size} more than was written."),
    FaultKind.AUXILIARY_TWICE: N_(
        "Ballots of the auxiliary bin that may have been scanned later and still stand in its count: {size}."
    ),
    FaultKind.DAMAGED_NOT_WRITTEN: N_("Damaged ballots may be {size} more than was written."),
    FaultKind.TEST_PRINT_COUNTED: N_("Test prints that the printer's count may hold: {size}."),
    FaultKind.TEST_NOT_WRITTEN: N_("Sheets of a test that may not be in the log: {size}."),
    FaultKind.SCANNED_TWICE: N_("Ballots that {device} may have counted once too often: {size}."),
    FaultKind.IN_BOX_NOT_COUNTED: N_("Ballots in the box of {device} that it may not have counted: {size}."),
}
_NO_TALLY = N_("Ballots spoiled and replaced that may stand in no envelope and on no tally: {size}.")
_EXCHANGED = N_("{number} and {second} may stand in each other's place.")
_INSIDE = N_("Provisional ballots may be counted in: {number}.")


def fault_words(fault: Fault, read: Mapping[str, int], label: Label = str) -> Message:
    """One fault in words, with every number that a person needs to look."""
    names = [number_name(key, label) for key in fault.keys]
    if fault.kind is FaultKind.PROVISIONAL_INSIDE:
        return message(_INSIDE, number=", ".join(names))
    if len(names) == 2 and fault.kind in _EXCHANGES:
        return message(_EXCHANGED, number=names[0], second=names[1])
    if fault.kind is FaultKind.SPOILED_AND_REISSUE and "ballots_issued" in fault.keys:
        return message(_NO_TALLY, size=fault.size)
    column, amount = fault.moves[0]
    device = next((key.partition("@")[2] for key in fault.keys if "@" in key), "")
    filled: dict[str, int | str] = {
        "number": names[0],
        "read": read.get(column, 0),
        "meant": read.get(column, 0) - amount,
        "other": number_name(column_key(fault.other), label) if fault.other else "",
        "size": fault.size,
        "device": label(device) if device else "",
    }
    template = _WHY[fault.kind]
    return message(template, **{name: v for name, v in filled.items() if "{" + name + "}" in template})


_EXCHANGES = (FaultKind.ROWS_EXCHANGED, FaultKind.COLUMNS_EXCHANGED, FaultKind.DEVICES_EXCHANGED)

_ACT_WORDS: Mapping[LookAgain, str] = {
    LookAgain.REREAD_PAPER: N_("Read again what is written: {number}."),
    LookAgain.SECOND_LOOK: N_("Look at the screen again: {number}."),
    LookAgain.READ_MEMORY: N_("Read the memory device again: {number}."),
    LookAgain.COUNT_ENTRIES: N_("Count the lines once more: {number}."),
    LookAgain.COUNT_ENVELOPES: N_("Count the envelopes once more: {number}."),
    LookAgain.COUNT_SPOILED: N_("Count once more: {number}."),
    LookAgain.COUNT_UNUSED: N_("Count the unused ballots once more: {number}."),
}


def act_words(act: Act, label: Label = str) -> Message:
    """What to do next, in one sentence."""
    return message(_ACT_WORDS[act.act], number=number_name(act.key, label))


def outcome_words(outcome: Outcome) -> Message:
    """What an outcome would settle."""
    if outcome.as_written and not outcome.left:
        return message(N_("If it is {value} again, none of these explanations is left."), value=outcome.value)
    if outcome.left == 1:
        again = N_("If it is {value} again, one explanation is left:")
        other = N_("If it is {value}, one explanation is left:")
        return message(again if outcome.as_written else other, value=outcome.value)
    if outcome.as_written:
        return message(
            N_("If it is {value} again, this many are left: {left}."), value=outcome.value, left=outcome.left
        )
    return message(
        N_("If it is {value}, this many are left: {left}."), value=outcome.value, left=outcome.left
    )
