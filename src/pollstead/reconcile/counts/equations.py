"""The balance of one site as whole-number rows that follow from what stands there.

`build_balance` keeps of the trade's equations (`rows.ROWS`) what the site has and gives plain rows
``sum(coefficient x reading) = 0``. A step that a site lacks leaves no empty term. The rows are
lists of whole numbers and keys, so that a small interpreter elsewhere evaluates the same rows.
"""

from __future__ import annotations

from pollstead.election.rules import CountyRules
from pollstead.election.station_type import CountUnit, SiteKind, StationType, VoterStep
from pollstead.election.values import Value, require
from pollstead.reconcile.counts.rows import (
    CAST_ELECTRONIC,
    CAST_ON_PAPER,
    OPTIONAL_STEPS,
    ROWS,
    USUAL_STEPS,
    Row,
    Step,
)
from pollstead.reconcile.counts.terms import BY_ID, Per, Term, TermUnit, key_of


class CountingDevice(Value, frozen=True, kw_only=True):
    """One device at the site whose counters enter the balance."""

    id: str
    station: str
    station_type: str


class Equation(Value, frozen=True, kw_only=True):
    """One equation of one site: ``sum(coefficient x reading of key) = 0``, in `unit`.

    `terms` are pairs (coefficient, key); `subject` is the site or the device it is about.
    """

    id: str
    words: str
    subject: str
    unit: CountUnit
    terms: tuple[tuple[int, str], ...]

    def __post_init__(self) -> None:
        require(bool(self.terms), f"equation {self.id} of {self.subject} needs terms")
        require(
            all(coefficient != 0 for coefficient, _ in self.terms),
            f"equation {self.id} of {self.subject}: no coefficient may be 0",
        )
        keys = [key for _, key in self.terms]
        require(len(keys) == len(set(keys)), f"equation {self.id} of {self.subject}: each key once")


class TermLine(Value, frozen=True, kw_only=True):
    """One number to be read at a site: key, term, device ("" for the site), what it counts here."""

    key: str
    term: Term
    device: str
    unit: str


class Balance(Value, frozen=True, kw_only=True):
    """All equations of a site on a day and the numbers that they need, in the order to read them.

    `unknown_steps` are words in the site kind's ``balance`` that name no step.
    """

    site: str
    sheets_per_ballot: int
    steps: tuple[Step, ...]
    lines: tuple[TermLine, ...]
    equations: tuple[Equation, ...]
    unknown_steps: tuple[str, ...] = ()


def build_balance(
    site: str,
    kind: SiteKind,
    types: tuple[StationType, ...],
    devices: tuple[CountingDevice, ...],
    rules: CountyRules,
    more: frozenset[Step] = frozenset(),
) -> Balance:
    """The equations of one site from its kind, its station types, its devices and the county rules.

    `types` are all station types of the county; `devices` those at this site; `more` the steps that the day
    brought beside those of the kind, such as ballots held apart by an order. Raises ValueError when
    a device names a station type that is not among them, or the county's sheets per ballot is 0.
    """
    known = {t.id: t for t in types}
    for device in devices:
        require(device.station_type in known, f"{device.id}: no station type {device.station_type!r}")
    used = tuple(known[use.station_type] for use in kind.uses if use.station_type in known)
    steps, unknown = steps_of(kind, used, rules, more)
    sheets = rules.whole("sheets-per-ballot")
    require(sheets >= 1, f"sheets-per-ballot must be >= 1, got {sheets}")
    equations: list[Equation] = []
    for row in ROWS:
        if not all(step in steps for step in row.needs):
            continue
        if row.per is Per.SITE:
            made = _site_equation(row, site, steps, devices, known, sheets)
            equations.extend([] if made is None else [made])
        else:
            for device in devices:
                made = _device_equation(row, device, known[device.station_type], steps, sheets)
                equations.extend([] if made is None else [made])
    return Balance(
        site=site,
        sheets_per_ballot=sheets,
        steps=tuple(s for s in Step if s in steps),
        lines=_lines(tuple(equations), devices, known),
        equations=tuple(equations),
        unknown_steps=unknown,
    )


def steps_of(
    kind: SiteKind,
    used: tuple[StationType, ...],
    rules: CountyRules,
    more: frozenset[Step] = frozenset(),
) -> tuple[frozenset[Step], tuple[str, ...]]:
    """The steps of a kind of site, and the words in its ``balance`` that name none."""
    by_word = {_plain(step.value): step for step in Step}
    named = {by_word[_plain(word)] for word in kind.balance if _plain(word) in by_word}
    unknown = tuple(word for word in kind.balance if _plain(word) not in by_word)
    # Paper, scanner and the like follow from the station types: naming them changes nothing.
    steps = named & set(OPTIONAL_STEPS) if kind.balance else set(USUAL_STEPS)
    steps |= more
    voter_steps = {t.step for t in used}
    if VoterStep.MARK in voter_steps or VoterStep.CAST in voter_steps:
        steps.add(Step.PAPER)
        scans = any(t.step is VoterStep.CAST and t.counter("public") for t in used)
        steps.add(Step.SCANNER if scans else Step.BOX)
    if VoterStep.MARK_AND_CAST in voter_steps:
        steps.add(Step.ELECTRONIC)
    if any(t.memory_devices.count for t in used):
        steps.add(Step.MEMORY_COUNT)
    if Step.FLED in steps and rules.choice("fled-ballots") == "held, not cast":
        # A ballot that workers cast for the voter is in the counter already and is no term.
        steps.add(Step.FLED_HELD if Step.PAPER in steps else Step.LEFT)
        if Step.ELECTRONIC in steps:
            steps.add(Step.LEFT)
    if Step.PAPER not in steps:
        steps -= {Step.SPOILED, Step.DAMAGED, Step.AUXILIARY, Step.HELD_APART}
        steps -= {Step.ON_DEMAND, Step.RESUPPLY, Step.TRANSFER, Step.PAPER_COUNT}
    return frozenset(steps), unknown


def _plain(word: str) -> str:
    return word.strip().lower().replace("_", " ").replace("-", " ")


def _per_ballot(counter_units: set[CountUnit], sheets: int) -> int:
    """How many units of the equation one ballot is: sheets where any counter counts sheets."""
    return sheets if CountUnit.SHEETS in counter_units else 1


def _cast_devices(
    term: str, devices: tuple[CountingDevice, ...], known: dict[str, StationType]
) -> tuple[tuple[str, CountUnit], ...]:
    step = VoterStep.CAST if term == CAST_ON_PAPER else VoterStep.MARK_AND_CAST
    found = []
    for device in devices:
        kind = known[device.station_type]
        counter = kind.counter("public")
        if kind.step is step and counter is not None:
            # A unit without paper can count no sheets, whatever its table says.
            found.append((device.id, CountUnit.BALLOTS if term == CAST_ELECTRONIC else counter.unit))
    return tuple(found)


def _site_equation(
    row: Row,
    site: str,
    steps: frozenset[Step],
    devices: tuple[CountingDevice, ...],
    known: dict[str, StationType],
    sheets: int,
) -> Equation | None:
    parts = tuple(p for p in row.parts if all(step in steps for step in p.needs))
    cast = {p.term: _cast_devices(p.term, devices, known) for p in parts if p.term not in BY_ID}
    ballot = _per_ballot({unit for found in cast.values() for _, unit in found}, sheets)
    terms: list[tuple[int, str]] = []
    for part in parts:
        if part.term in BY_ID:
            terms.append((part.sign * ballot, part.term))
            continue
        for device, unit in cast[part.term]:
            step = part.sign * (1 if unit is CountUnit.SHEETS else ballot)
            terms.append((step, key_of("public_counter_close", device)))
            terms.append((-step, key_of("public_counter_open", device)))
        if part.term == CAST_ON_PAPER and Step.BOX in steps:
            terms.append((part.sign * ballot, "ballots_in_box"))
    if len({coefficient > 0 for coefficient, _ in terms}) < 2:
        return None  # Nothing to compare with: a site without devices yet.
    unit = CountUnit.SHEETS if ballot != 1 else CountUnit.BALLOTS
    return Equation(id=row.id, words=row.words, subject=f"site/{site}", unit=unit, terms=tuple(terms))


def _device_equation(
    row: Row, device: CountingDevice, kind: StationType, steps: frozenset[Step], sheets: int
) -> Equation | None:
    if kind.step not in (VoterStep.CAST, VoterStep.MARK_AND_CAST):
        return None
    public, lifetime = kind.counter("public"), kind.counter("lifetime")
    names = {p.term for p in row.parts}
    if public is None or (lifetime is None and "lifetime_counter_close" in names):
        return None
    if "memory_count_close" in names and not kind.memory_devices.count:
        return None
    if "paper_in_box" in names and kind.step is VoterStep.MARK_AND_CAST:
        return None
    if "report_count_close" in names and not kind.reports:
        return None
    # Paper is counted in sheets; a counter of ballots moves once for all sheets of one.
    per_count = sheets if public.unit is CountUnit.BALLOTS and "paper_in_box" in names else 1
    terms = tuple(
        (part.sign * (1 if part.term == "paper_in_box" else per_count), key_of(part.term, device.id))
        for part in row.parts
        if all(step in steps for step in part.needs)
    )
    unit = CountUnit.SHEETS if per_count != 1 else public.unit
    return Equation(id=row.id, words=row.words, subject=device.id, unit=unit, terms=terms)


def _lines(
    equations: tuple[Equation, ...], devices: tuple[CountingDevice, ...], known: dict[str, StationType]
) -> tuple[TermLine, ...]:
    """Every key of the equations once, in the registry's order and, within it, the devices' order."""
    wanted = {key for equation in equations for _, key in equation.terms}
    lines: list[TermLine] = []
    for term in BY_ID.values():
        for device in ("",) if term.per is Per.SITE else tuple(d.id for d in devices):
            key = key_of(term.id, device)
            if key in wanted:
                unit = _unit(term, device, devices, known)
                lines.append(TermLine(key=key, term=term, device=device, unit=unit))
    return tuple(lines)


def _unit(term: Term, device: str, devices: tuple[CountingDevice, ...], known: dict[str, StationType]) -> str:
    if term.unit is not TermUnit.AS_COUNTER:
        return term.unit.value
    kind = next(known[d.station_type] for d in devices if d.id == device)
    counter = kind.counter("public")
    if counter is None or kind.step is VoterStep.MARK_AND_CAST:
        return CountUnit.BALLOTS.value
    return counter.unit.value
