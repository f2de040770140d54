"""Check-ins against public counters while voters are there, at set times; the hour of a difference.

Who is checked in and not yet counted is inside: check-ins - cancelled = cast + auxiliary bin + voters inside.
Where somebody counted them their number is taken, give or take a few who moved meanwhile; else any number
from none to the county's most may be inside. A difference is told only beyond that, and as nothing more.
"""

from __future__ import annotations

import datetime as dt
import enum
from collections import defaultdict
from collections.abc import Iterable

from pollstead.election.county import Hours
from pollstead.election.instants import format_clock
from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.rules import CountyRules
from pollstead.election.station_type import CountUnit
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.reconcile.counts.balance import BalanceLine, LineState, Reading, evaluate
from pollstead.reconcile.counts.differences import who_decides
from pollstead.reconcile.counts.equations import Balance, Equation
from pollstead.reconcile.counts.readings import key_of_count, origin_of
from pollstead.reconcile.counts.rows import Step
from pollstead.reconcile.counts.terms import hour_of, hour_term, key_of
from pollstead.reconcile.observed import Observation, What

NOON_MIN, HOUR_MIN = 12 * 60, 60
THREE_TIMES = (11 * 60, 15 * 60, 19 * 60)
INSIDE = "voters_inside"
WORDS = N_("Voters checked in are counted or still inside")


class CheckState(enum.StrEnum):
    """How a comparison during the day stands."""

    FITS = "fits"
    DIFFERS = "differs"
    NOT_READ = "not read yet"
    TWO_VALUES = "two values"


class HourCheck(Value, frozen=True, kw_only=True):
    """One comparison at `at_min`: `line` is check-ins minus what is counted, in voters (or sheets).

    `inside` is how many were counted inside, None where nobody did. What is left open beside them lies
    between `low` and `high`: it fits where 0 is within. Both are None while a number is missing.
    """

    at_min: int
    line: BalanceLine
    inside: int | None
    low: int | None
    high: int | None
    state: CheckState


class CrossChecks(Value, frozen=True, kw_only=True):
    """The comparisons of a site's day, in order, and when a difference arose.

    `arose` is between which minutes: the last comparison that fits and the first one after it that does not
    and is followed by none that fits; None where there is no such one.
    """

    checks: tuple[HourCheck, ...]
    arose: tuple[int, int] | None = None


def hours_of(how: str, hours: Hours) -> tuple[int, ...]:
    """The minutes that a rule's word means on a day: ``noon``, ``hourly``, three times, or ``none``."""
    if how == "hourly":
        first = hours.opens_min // HOUR_MIN * HOUR_MIN + HOUR_MIN
        return tuple(range(first, hours.closes_min, HOUR_MIN))
    wanted = {"noon": (NOON_MIN,), "11:00, 15:00 and 19:00": THREE_TIMES}.get(how, ())
    return tuple(minute for minute in wanted if hours.opens_min < minute < hours.closes_min)


def cross_checks(
    balance: Balance,
    readings: Iterable[Reading],
    observations: Iterable[Observation],
    rules: CountyRules,
    *,
    opened_min: int,
    wanted: Iterable[int] = (),
) -> CrossChecks:
    """The comparisons at the `wanted` minutes and at every other for which check-ins were read.

    `readings` are those of the balance (counters at opening), `observations` those of the site's day.
    """
    devices = tuple(dict.fromkeys(line.device for line in balance.lines if line.device))
    at_hours = hour_readings(observations, frozenset(devices))
    known = [*readings, *at_hours]
    told = {reading.key.partition("@")[0] for reading in at_hours}
    typed = {
        hour for name in told if name.startswith("check_ins_at_") and (hour := hour_of(name)) is not None
    }
    checks = tuple(
        _check(balance, devices, known, told, rules, minute) for minute in sorted({*wanted, *typed})
    )
    return CrossChecks(checks=checks, arose=_arose(checks, opened_min))


def hour_readings(observations: Iterable[Observation], devices: frozenset[str]) -> tuple[Reading, ...]:
    """The standing readings of numbers of an hour (``check_ins_at_1500``), by key."""
    groups: dict[tuple[str, int], list[Observation]] = defaultdict(list)
    for seen in observations:
        counts = seen.what is What.COUNT and seen.stands and hour_of(seen.detail) is not None
        if counts and seen.number is not None:
            groups[(key_of_count(seen, devices), seen.number)].append(seen)
    return tuple(
        Reading(
            key=key,
            value=value,
            event=group[-1].event,
            people=tuple(dict.fromkeys(p for seen in group for p in seen.entered_by)),
            utc_ms=group[-1].utc_ms,
            times=len(group),
            origins=tuple(origin_of(seen) for seen in group),
        )
        for (key, value), group in sorted(groups.items())
    )


NO_CHECKS = CrossChecks(checks=())


def cross_check_notices(
    site: str, date: dt.date, found: CrossChecks, rules: CountyRules
) -> tuple[Notice, ...]:
    """A notice for the last comparison of the day where it differs, with the stretch in which that arose."""
    known = [check for check in found.checks if check.low is not None]
    if found.arose is None or not known:
        return ()
    last, (before, first) = known[-1], found.arose
    ends = f"{last.low:+d}" if last.low == last.high else f"{last.low:+d} / {last.high:+d}"
    return (
        Notice(
            kind=NoticeKind.DIFFERENCE,
            rule="cross-check",
            subject=f"site/{site}",
            day=date.isoformat(),
            text=message(
                N_(
                    "Check-ins against counters at {at}: a difference beside the voters inside. It arose "
                    "between {before} and {first}."
                ),
                at=format_clock(last.at_min),
                before=format_clock(before),
                first=format_clock(first),
            ),
            found=ends,
            wanted="0",
            remedy=message(N_("Read the counters and the list once more, and count who is inside.")),
            who_decides=who_decides(rules),
            depends=tuple(f"{t.key}={','.join(map(str, t.values))}" for t in last.line.terms),
        ),
    )


def _check(
    balance: Balance,
    devices: tuple[str, ...],
    readings: list[Reading],
    told: set[str],
    rules: CountyRules,
    minute: int,
) -> HourCheck:
    site = f"site/{balance.site}"

    def at(term: str) -> str:
        return key_of(hour_term(term, minute), site)

    counters = [line for line in balance.lines if line.term.id == "public_counter_open" and not line.style]
    in_sheets = any(line.unit == CountUnit.SHEETS for line in counters)
    ballot = balance.sheets_per_ballot if in_sheets else 1
    terms: list[tuple[int, str]] = [(ballot, at("check_ins"))]
    for term, sign in (("check_ins_cancelled", -1), ("check_ins_added", 1)):
        # Nobody who cancelled none writes that down every hour.
        if hour_term(term, minute) in told:
            terms.append((sign * ballot, at(term)))
    times = {line.device: 1 if line.unit == CountUnit.SHEETS else ballot for line in counters}
    if hour_term("public_counters", minute) in told:
        terms.append((-1, at("public_counters")))
    else:
        terms += [(-times[d], key_of(hour_term("public_counter", minute), d)) for d in devices if d in times]
    terms += [(times[line.device], line.key) for line in counters]
    if Step.AUXILIARY in balance.steps or hour_term("ballots_auxiliary", minute) in told:
        terms.append((-ballot, at("ballots_auxiliary")))
    unit = CountUnit.SHEETS if ballot != 1 else CountUnit.BALLOTS
    row = Equation(id="midday", words=WORDS, subject=site, unit=unit, terms=tuple(terms))
    (line,) = evaluate((row,), readings)
    counted = {r.value for r in readings if r.key == at(INSIDE)}
    inside = next(iter(counted)) if len(counted) == 1 else None
    play = rules.whole("cross-check-play") * ballot
    most = rules.whole("cross-check-inside") * ballot
    if line.difference is None:
        state = CheckState.TWO_VALUES if line.state is LineState.TWO_VALUES else CheckState.NOT_READ
        return HourCheck(at_min=minute, line=line, inside=inside, low=None, high=None, state=state)
    if inside is None:
        low, high = line.difference - most - play, line.difference + play
    else:
        left = line.difference - inside * ballot
        low, high = left - play, left + play
    state = CheckState.FITS if low <= 0 <= high else CheckState.DIFFERS
    return HourCheck(at_min=minute, line=line, inside=inside, low=low, high=high, state=state)


def _arose(checks: tuple[HourCheck, ...], opened_min: int) -> tuple[int, int] | None:
    """The stretch before the first of the comparisons that differ until the last one of the day."""
    known = [check for check in checks if check.state in (CheckState.FITS, CheckState.DIFFERS)]
    if not known or known[-1].state is CheckState.FITS:
        return None
    before = opened_min
    first = known[-1]
    for check in reversed(known):
        if check.state is CheckState.FITS:
            before = check.at_min
            break
        first = check
    return before, first.at_min
