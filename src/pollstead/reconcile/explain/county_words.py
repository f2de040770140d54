"""The words for what may have been done to a total of the county table; for the office desk alone."""

from __future__ import annotations

from collections.abc import Mapping

from pollstead.election.fault_odds import FaultKind
from pollstead.election.words import N_, Message, message
from pollstead.reconcile.counts.totals import Ledger
from pollstead.reconcile.explain.county import CountyExplained
from pollstead.reconcile.explain.county_acts import CountyAct, CountyLook, CountyOutcome
from pollstead.reconcile.explain.next_act import Outcome
from pollstead.reconcile.explain.terms import Explanation
from pollstead.reconcile.explain.words import Label, how_many_fit, outcome_words

_WORDS: Mapping[FaultKind, str] = {
    FaultKind.DIGITS_SWAPPED: N_("{read} stands there, {counted} was counted. Two digits may be swapped."),
    FaultKind.DIGIT_MISREAD: N_(
        "{read} stands there, {counted} was counted. One digit may have been misread."
    ),
    FaultKind.PAIR_MISREAD: N_(
        "{read} stands there, {counted} was counted. A pair of equal digits may have been misread."
    ),
    FaultKind.DIGIT_DROPPED: N_("{read} stands there, {counted} was counted. A digit may be left out."),
    FaultKind.DIGIT_ADDED: N_("{read} stands there, {counted} was counted. A digit may be too many."),
    FaultKind.OTHER_NUMBER: N_("{read} stands there, {counted} was counted."),
    FaultKind.OTHER_SITE: N_("{read} stands there, which is the number of {other}."),
    FaultKind.SITES_EXCHANGED: N_("The totals of this site and of {other} may stand in each other's place."),
    FaultKind.STYLE_ROW_SHIFTED: N_(
        "The numbers of the ballot styles may stand one row off: here is that of style {other}."
    ),
}
_MISSED = N_("The number of {other} may not have been taken in.")
_TWICE = N_("The number of {other} may have been taken in twice.")
_ALL_MISSED = N_("Nothing of this site may have been taken in.")
_ALL_TWICE = N_("This site may have been taken in twice.")


_READ_AGAIN: Mapping[Ledger, str] = {
    Ledger.RECEIVING: N_("Read the receiving table's number again where it was written."),
    Ledger.CANVASS: N_("Read the canvass's number again where it was typed from."),
}
_TAKEN_IN: Mapping[Ledger, str] = {
    Ledger.RECEIVING: N_("Look at the list of what was taken in: is each machine and day there once?"),
    Ledger.CANVASS: N_("Look at the list of what the canvass adds up: is each machine and day there once?"),
}


def county_sentence(one: CountyExplained) -> Message:
    """The one sentence about a comparison, as everywhere."""
    return how_many_fit(str(abs(one.read - one.counted)), one.fits)


def by_ledger(
    found: tuple[CountyExplained, ...],
) -> tuple[tuple[tuple[Ledger, ...], CountyExplained], ...]:
    """The comparisons of one row, each once: where receiving and the canvass say the same it is said once."""
    groups: dict[tuple[Message, ...], list[CountyExplained]] = {}
    for one in found:
        said = (county_sentence(one), *(county_words(one, e) for e in one.explanations))
        groups.setdefault(said, []).append(one)
    return tuple((tuple(one.ledger for one in same), same[0]) for same in groups.values())


def county_words(one: CountyExplained, explanation: Explanation, label: Label = str) -> Message:
    """One explanation in words; `label` says how a day, device or site is called."""
    fault = explanation.faults[0]
    other = label(fault.other) if fault.other else ""
    if fault.kind is FaultKind.UPLOAD_MISSED:
        return message(_MISSED, other=other) if other else message(_ALL_MISSED)
    if fault.kind is FaultKind.UPLOAD_TWICE:
        return message(_TWICE, other=other) if other else message(_ALL_TWICE)
    template = _WORDS[fault.kind]
    filled: dict[str, int | str] = {"read": one.read, "counted": one.counted, "other": other}
    return message(template, **{name: v for name, v in filled.items() if "{" + name + "}" in template})


def county_act_words(one: CountyExplained, act: CountyAct) -> Message:
    """What to look at next, in one sentence."""
    words = _READ_AGAIN if act.look is CountyLook.TOTAL else _TAKEN_IN
    return message(words[one.ledger])


def county_outcome_words(outcome: CountyOutcome) -> Message:
    """What an outcome would settle; the explanation that is left stands behind it where it is one."""
    left = len(outcome.leaves)
    if outcome.value is not None:
        leaves = tuple(e.id for e in outcome.leaves)
        return outcome_words(
            Outcome(value=outcome.value, as_written=outcome.as_before, leaves=leaves, share=0.0)
        )
    if not outcome.as_before:
        return message(N_("If not, one explanation is left:"))
    if not left:
        return message(N_("If it is so, none of these explanations is left."))
    if left == 1:
        return message(N_("If it is so, one explanation is left:"))
    return message(N_("If it is so, this many are left: {left}."), left=left)
