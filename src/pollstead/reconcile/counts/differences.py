"""Difference notices of the balance and of the memory devices, in neutral words, with who decides."""

from __future__ import annotations

import datetime as dt

from pollstead.election.county import Election
from pollstead.election.instants import format_clock
from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.rules import BY_ID, CountyRules, RuleLevel
from pollstead.election.words import N_, Message, message
from pollstead.reconcile.counts.balance import BalanceLine, LineState
from pollstead.reconcile.counts.jams import Explained
from pollstead.reconcile.counts.memory import MemoryResult
from pollstead.reconcile.counts.terms import BY_ID as TERMS
from pollstead.reconcile.counts.terms import split_key, style_of
from pollstead.reconcile.opening.labels import device_label

RULE = "counts-at-closing"
_LOOK = N_("Look in the machine and the case; say where it is: travels inside, to follow, not found.")
WHO_DECIDES = N_("the canvassing body; your office says what to do tonight")
BODY = "canvassing-body"
"""The rule that names who decides what a difference means."""


def who_decides(rules: CountyRules, ours: str = WHO_DECIDES) -> str:
    """Who decides what a difference means, as the county's rule says it; `ours` while it says nothing."""
    setting = rules.setting(BODY)
    return ours if setting.level is RuleLevel.ASSUMED else str(setting.value)


def balance_notices(
    lines: tuple[BalanceLine, ...],
    election: Election,
    date: dt.date,
    *,
    closed: bool,
    jams: tuple[Explained, ...] = (),
) -> tuple[Notice, ...]:
    """A notice for each line that is not zero; numbers not read become one only once the site closed.

    `jams` are possible explanations; a difference stays a difference, and the notice names them.
    """
    times = election.rules.whole(RULE)
    found = []
    for line in lines:
        if line.state is LineState.ZERO:
            continue
        if line.state is LineState.NOT_READ and (not closed or line.waits_for_receiving):
            continue
        found.append(
            Notice(
                kind=NoticeKind.DIFFERENCE,
                rule=f"balance.{line.equation}",
                subject=line.subject,
                day=date.isoformat(),
                text=_text(line, times),
                found=_found(line),
                wanted="0",
                remedy=jam_words(jams, line) or _remedy(line, times),
                who_decides=who_decides(election.rules),
                depends=tuple(f"{t.key}={','.join(map(str, t.values))}" for t in line.terms),
            )
        )
    return tuple(found)


def _found(line: BalanceLine) -> str:
    if line.difference is not None:
        return f"{line.difference:+d}"
    if line.possible:
        return " / ".join(f"{value:+d}" for value in line.possible)
    return ""


def _text(line: BalanceLine, times: int) -> Message:
    if line.state is LineState.NOT_READ:
        return message(
            N_("{words}. Not read yet: {numbers}."), words=line.words, numbers=names_of(line.missing)
        )
    if line.state is LineState.TWO_VALUES:
        keys = tuple(t.key for t in line.terms if len(t.values) > 1)
        return message(
            N_("{words}. Two people read different numbers: {numbers}."),
            words=line.words,
            numbers=names_of(keys),
        )
    size = abs(line.difference or 0)
    if line.times_counted >= times:
        template = (
            N_("{words}. Difference of {size}. Counted twice: write the difference and travel.")
            if times == 2
            else N_("{words}. Difference of {size}. Counted {times} times: write the difference and travel.")
        )
        return message(template, words=line.words, size=size, times=line.times_counted)
    return message(N_("{words}. Difference of {size}."), words=line.words, size=size)


def _remedy(line: BalanceLine, times: int) -> Message:
    if line.state is LineState.NOT_READ:
        return message(N_("Read these numbers and type them."))
    if line.state is LineState.TWO_VALUES:
        return message(N_("Both people read it again; each types what is there."))
    by_hand = tuple(t.key for t in line.terms if _by_hand(t.key))
    if line.times_counted < times and by_hand:
        return message(N_("Count once more: {numbers}."), numbers=names_of(by_hand))
    if line.times_counted < times:
        return message(N_("Read once more: {numbers}."), numbers=names_of(tuple(t.key for t in line.terms)))
    return message(N_("Write the difference on the closing sheet and travel; nobody stays to look for it."))


def jam_words(jams: tuple[Explained, ...], line: BalanceLine) -> Message | None:
    """What jam records may explain of a line; None where they do not reach it."""
    one = next((j for j in jams if (j.equation, j.subject) == (line.equation, line.subject)), None)
    if one is None:
        return None
    minutes = ", ".join(format_clock(jam.at_min) for jam in one.jams)
    if one.exact:
        return message(
            N_("Possible explanation: what was written down of the jam at {minutes}. Write both down."),
            minutes=minutes,
        )
    if one.low == one.high:
        return message(
            N_("Beside the jam at {minutes} a difference of {rest} is left open."),
            minutes=minutes,
            rest=f"{one.low:+d}",
        )
    return message(
        N_("The jam at {minutes} may account for some of it: between {low} and {high} is left open."),
        minutes=minutes,
        low=f"{one.low:+d}",
        high=f"{one.high:+d}",
    )


def _by_hand(key: str) -> bool:
    term = TERMS.get(split_key(key)[0])
    return term is not None and term.source == "hand" and "/" not in key.partition("@")[0]


def names_of(keys: tuple[str, ...]) -> str:
    """The English names of some keys, each with its ballot style and its device."""
    names = []
    for key in keys:
        day, _, rest = key.partition("/") if key[:4].isdigit() else ("", "", key)
        term, device = split_key(rest)
        words = TERMS[term].words if term in TERMS else term
        style = style_of(rest)
        named = (words, f"style {style}" if style else "", device, day)
        names.append(" ".join(part for part in named if part))
    return "; ".join(names)


def memory_notices(
    results: tuple[MemoryResult, ...], election: Election, date: dt.date, *, closed: bool
) -> tuple[Notice, ...]:
    """A notice for each machine whose memory devices are short, and for ids that no machine had."""
    found = []
    for result in results:
        short = result.short if result.device else 0
        if not result.device:
            template = N_("From no machine of this site's list came: memory device {ids}.")
        elif short and closed:
            template = N_("Memory devices of {machine} not back: {short}; ids out: {ids}.")
        else:
            continue
        ids = ", ".join(line.id for line in result.lines)
        found.append(
            Notice(
                kind=NoticeKind.DIFFERENCE,
                rule="balance.I9",
                subject=result.device or "memory-devices",
                day=date.isoformat(),
                text=message(template, ids=ids, short=short, machine=device_label(result.device, election)),
                found=", ".join(f"{line.id}: {line.state.value}" for line in result.lines),
                wanted=ids if result.device else "",
                remedy=message(_LOOK),
                who_decides=BY_ID[RULE].who_decides,
                depends=tuple(f"{line.id}={line.state.value}" for line in result.lines),
            )
        )
    return tuple(found)
