"""From the trade's equations to the whole-number rows of one site: signs, sheets, devices and styles."""

from __future__ import annotations

from pollstead.election.station_type import CountUnit, OpeningValue, StationType, VoterStep
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.reconcile.counts.rows import CAST_ELECTRONIC, CAST_ON_PAPER, Part, Row, Step
from pollstead.reconcile.counts.shapes import CountingDevice, Equation, TermLine
from pollstead.reconcile.counts.styles import StylesHere
from pollstead.reconcile.counts.terms import (
    BY_ID,
    STYLE_COUNTS,
    Per,
    Term,
    TermUnit,
    key_of,
    split_key,
    style_of,
)


class Here(Value, frozen=True, kw_only=True):
    """What the rows of one site are made from: its devices, all station types, steps, sheets and styles."""

    site: str
    devices: tuple[CountingDevice, ...]
    types: tuple[StationType, ...]
    steps: frozenset[Step]
    sheets: int
    styles: StylesHere

    def kind_of(self, device: CountingDevice) -> StationType:
        """The station type of a device."""
        return next(t for t in self.types if t.id == device.station_type)

    def cast(self, term: str) -> tuple[tuple[str, CountUnit], ...]:
        """The devices whose counters are in one of the two ``cast …`` sums, each with what it counts."""
        step = VoterStep.CAST if term == CAST_ON_PAPER else VoterStep.MARK_AND_CAST
        found = []
        for device in self.devices:
            kind = self.kind_of(device)
            counter = kind.counter("public")
            if kind.step is step and counter is not None:
                # A unit without paper can count no sheets, whatever its table says.
                found.append((device.id, CountUnit.BALLOTS if term == CAST_ELECTRONIC else counter.unit))
        return tuple(found)

    def carries(self, device: str) -> bool:
        """Whether the public counter of a device may begin the day above zero."""
        kind = self.kind_of(next(d for d in self.devices if d.id == device))
        counter = kind.counter("public")
        return counter is not None and counter.opening is not OpeningValue.ZERO


def site_equation(row: Row, here: Here, style: str = "") -> Equation | None:
    """A row of a site; of one ballot style where `style` is given."""
    parts = tuple(p for p in row.parts if all(step in here.steps for step in p.needs))
    cast = {p.term: here.cast(p.term) for p in parts if p.term not in BY_ID}
    if style and not all(here.styles.asks(key) for key in _style_keys(parts, here)):
        return None  # Nobody counts all of its numbers by style.
    sheets = dict(here.styles.sheets).get(style, here.sheets)
    in_sheets = CountUnit.SHEETS in {unit for found in cast.values() for _, unit in found}
    # Ballots of different numbers of sheets can be turned into sheets style by style only.
    spread = in_sheets and here.styles.mixed and not style and here.styles.typed is None
    ballot = sheets if in_sheets else 1
    terms: list[tuple[int, str]] = []
    for part in parts:
        if part.term in BY_ID:
            terms += _ballots(part.sign, part.term, here, ballot, style, spread=spread)
            continue
        for device, unit in cast[part.term]:
            step = part.sign * (1 if unit is CountUnit.SHEETS else ballot)
            terms += _moved(step, device, here, style)
        if part.term == CAST_ON_PAPER and Step.BOX in here.steps:
            terms += _ballots(part.sign, "ballots_in_box", here, ballot, style, spread=spread)
    if len({coefficient > 0 for coefficient, _ in terms}) < 2:
        return None  # Nothing to compare with: a site without devices yet.
    counted = CountUnit.SHEETS if ballot != 1 or spread else CountUnit.BALLOTS
    subject = f"site/{here.site}/style/{style}" if style else f"site/{here.site}"
    return Equation(
        id=row.id, words=row.words, subject=subject, unit=_unit_of_row(parts, counted), terms=tuple(terms)
    )


def _style_keys(parts: tuple[Part, ...], here: Here) -> tuple[str, ...]:
    """The terms that a row needs by style."""
    found = [part.term for part in parts if part.term in BY_ID]
    if any(part.term == CAST_ON_PAPER for part in parts):
        found += ["ballots_in_box"] if Step.BOX in here.steps else []
        found += ["style_count_close"] if here.cast(CAST_ON_PAPER) else []
    return tuple(found)


def _ballots(
    sign: int, term: str, here: Here, ballot: int, style: str, *, spread: bool
) -> list[tuple[int, str]]:
    if spread and BY_ID[term].by_style:
        return [(sign * sheets, key_of(term, "", one)) for one, sheets in here.styles.sheets]
    return [(sign * ballot, key_of(term, "", style))]


def _moved(step: int, device: str, here: Here, style: str) -> list[tuple[int, str]]:
    """By how much a device's counter moved; of one style, by how much that style on its report did."""
    if not style:
        return [
            (step, key_of("public_counter_close", device)),
            (-step, key_of("public_counter_open", device)),
        ]
    closing, opening = STYLE_COUNTS[1].id, STYLE_COUNTS[0].id
    carried = [(-step, key_of(opening, device, style))] if here.carries(device) else []
    return [(step, key_of(closing, device, style)), *carried]


def _unit_of_row(parts: tuple[Part, ...], unit: CountUnit) -> CountUnit | TermUnit:
    units = {BY_ID[part.term].unit for part in parts if part.term in BY_ID}
    return TermUnit.THINGS if units == {TermUnit.THINGS} else unit


def style_sums(made: tuple[Equation, ...], here: Here) -> tuple[Equation, ...]:
    """The styles of a number add up to its total, for each number that the site has both ways."""
    styles = [style for style, _ in here.styles.sheets]
    keys = dict.fromkeys(key for equation in made for _, key in equation.terms if not style_of(key))
    found = []
    for key in keys:
        term, device = split_key(key)
        if not styles or device or term not in BY_ID or not here.styles.asks(term):
            continue
        found.append(
            Equation(
                id="I1-styles",
                words=N_("The ballot styles of a number add up to its total"),
                subject=f"site/{here.site}/number/{term}",
                unit=CountUnit.BALLOTS,
                terms=((1, key), *((-1, key_of(term, "", style)) for style in styles)),
            )
        )
    closing = STYLE_COUNTS[1].id
    for device, unit in here.cast(CAST_ON_PAPER) if styles and here.styles.asks(closing) else ():
        terms = _moved(1, device, here, "")
        for style in styles:
            terms += [(-step, key) for step, key in _moved(1, device, here, style)]
        found.append(
            Equation(
                id="I4-styles",
                words=N_("The counter moved by the ballot styles on the report together"),
                subject=device,
                unit=unit,
                terms=tuple(terms),
            )
        )
    return tuple(found)


def device_equation(row: Row, device: CountingDevice, here: Here) -> Equation | None:
    """A row of one device; None where the device has no such numbers."""
    kind = here.kind_of(device)
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
    to_sheets = public.unit is CountUnit.BALLOTS and "paper_in_box" in names
    if to_sheets and here.styles.mixed:
        return _paper_by_style(row, device.id, here)
    per_count = here.sheets if to_sheets else 1
    terms = tuple(
        (part.sign * (1 if part.term == "paper_in_box" else per_count), key_of(part.term, device.id))
        for part in row.parts
        if all(step in here.steps for step in part.needs)
    )
    unit = CountUnit.SHEETS if per_count != 1 else public.unit
    return Equation(id=row.id, words=row.words, subject=device.id, unit=unit, terms=terms)


def _paper_by_style(row: Row, device: str, here: Here) -> Equation | None:
    """Paper in the box against a counter of ballots whose styles have different numbers of sheets."""
    if not here.styles.asks(STYLE_COUNTS[1].id):
        return None  # A count of ballots alone says nothing about sheets then.
    terms: list[tuple[int, str]] = [(-1, key_of("paper_in_box", device))]
    for style, sheets in here.styles.sheets:
        terms += _moved(sheets, device, here, style)
    return Equation(id=row.id, words=row.words, subject=device, unit=CountUnit.SHEETS, terms=tuple(terms))


def lines_of(equations: tuple[Equation, ...], here: Here) -> tuple[TermLine, ...]:
    """Every key of the equations once: in the registry's order, then by style, then in the devices' order."""
    wanted = {key for equation in equations for _, key in equation.terms}
    styles = ("", *(style for style, _ in here.styles.sheets))
    lines: list[TermLine] = []
    for term in BY_ID.values():
        for style in styles if term.by_style else ("",):
            for device in ("",) if term.per is Per.SITE else tuple(d.id for d in here.devices):
                key = key_of(term.id, device, style)
                if key in wanted:
                    unit = _unit(term, device, here)
                    lines.append(TermLine(key=key, term=term, device=device, unit=unit, style=style))
    return tuple(lines)


def _unit(term: Term, device: str, here: Here) -> str:
    if term.unit is not TermUnit.AS_COUNTER:
        return term.unit.value
    kind = here.kind_of(next(d for d in here.devices if d.id == device))
    counter = kind.counter("public")
    if counter is None or kind.step is VoterStep.MARK_AND_CAST:
        return CountUnit.BALLOTS.value
    return counter.unit.value
