"""Numbers of each device on the balance sheet: a few devices across, many devices down with their sums."""

from __future__ import annotations

from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.reconcile.counts.equations import Balance, Equation, TermLine
from pollstead.show.packet.asked import NumberedLines
from pollstead.show.packet.content import Block, Cell, Column, Field, FieldKind, Table
from pollstead.show.packet.given import SiteGiven


class Letter(Value, frozen=True, kw_only=True):
    """The letter of a term, and the device whose number it is ("" for the site's own)."""

    letter: str
    device: str


DEVICES_ACROSS = 3


def worded(given: SiteGiven, line: TermLine) -> str:
    """A number in words: what it is, its unit, where it is read, and the line of the county's own form."""
    say = given.say
    words = f"{styled(given, line)} ({say(line.unit)}). {say(line.term.where)}."
    return f"{words} {form_line(given, line.term.id)}".rstrip()


def styled(given: SiteGiven, line: TermLine) -> str:
    """A number in words, with the ballot style that it is of."""
    words = given.say(line.term.words)
    return given.say(N_("Style {style}: {words}"), style=line.style, words=words) if line.style else words


def form_line(given: SiteGiven, term: str) -> str:
    """Where the county's own forms have the number of `term`; "" where the county has told no line."""
    say = given.say
    return " ".join(
        say(N_("Your form: {form}, line {line}."), form=one.form, line=one.line)
        for one in given.election.form_lines
        if one.term == term
    )


def device_numbers(
    given: SiteGiven,
    balance: Balance,
    lines: list[TermLine],
    letters: dict[str, Letter],
    names: dict[str, str],
    numbered: NumberedLines,
) -> tuple[Block, ...]:
    """A few devices stand across and their terms down; many devices down and their terms across."""
    say = given.say
    terms: dict[str, TermLine] = {}
    by_device: dict[str, dict[str, TermLine]] = {}
    for line in lines:
        terms.setdefault(line.name, line)
        by_device.setdefault(line.device, {})[line.name] = line

    def box(device: str, term: str) -> Cell:
        if term not in by_device[device]:
            return Cell(words=say(N_("none")))
        number = numbered.add(
            words=f"{names[device]}: {styled(given, terms[term])}", subject=device, item=term
        )
        return Cell(line=number, fields=(Field(kind=FieldKind.BOXES, count=6),))

    if len(by_device) <= DEVICES_ACROSS:
        columns = [Column(title="", width_mm=9), Column(title=say(N_("Number")))]
        columns += [Column(title=names[device], width_mm=46) for device in by_device]
        rows = []
        for term, line in terms.items():
            words = worded(given, line)
            rows.append(
                (
                    Cell(words=letters[line.key].letter, strong=True),
                    Cell(words=words),
                    *(box(device, term) for device in by_device),
                )
            )
        return (Table(columns=tuple(columns), rows=tuple(rows)),)
    return _many_devices(given, balance, letters, names, terms, by_device, numbered)


_TERM_MM, _DIFFERENCE_MM, _LEFT_FOR_TERMS_MM = 25, 27, 150


def _many_devices(
    given: SiteGiven,
    balance: Balance,
    letters: dict[str, Letter],
    names: dict[str, str],
    terms: dict[str, TermLine],
    by_device: dict[str, dict[str, TermLine]],
    numbered: NumberedLines,
) -> tuple[Block, ...]:
    """Devices down; each device's own equations stand beside their terms; a last row for all of them."""
    say = given.say
    line_field = (Field(kind=FieldKind.LINE),)
    tables: list[list[tuple[str, Equation | None]]] = [[]]
    placed: set[str] = set()
    width = 0
    for kind in _shapes(balance, names):
        new = [
            term
            for term in terms
            if term not in placed and term in {k.partition("@")[0] for _, k in kind.terms}
        ]
        wanted = len(new) * _TERM_MM + _DIFFERENCE_MM
        if tables[-1] and width + wanted > _LEFT_FOR_TERMS_MM:
            tables.append([])
            width = 0
        tables[-1] += [(term, None) for term in new]
        tables[-1].append((kind.id, kind))
        placed.update(new)
        width += wanted
    for term in terms:
        if term not in placed:
            tables[-1].append((term, None))
    blocks: list[Block] = []
    for columns_of in tables:
        columns = [Column(title=say(N_("Device")))]
        for term, shape in columns_of:
            if shape is None:
                line = terms[term]
                title = f"{letters[line.key].letter}. {styled(given, line)}"
                form = form_line(given, term)
                columns.append(Column(title=f"{title}. {form}" if form else title, width_mm=_TERM_MM))
            else:
                sides = [side(given, shape, letters, plus=plus) for plus in (True, False)]
                right = f"({sides[1]})" if "+" in sides[1] else sides[1]
                columns.append(Column(title=f"{sides[0]} − {right}", width_mm=_DIFFERENCE_MM))
        rows = []
        for device, read in by_device.items():
            cells = [Cell(words=names[device])]
            for term, shape in columns_of:
                there = term in read if shape is None else _has(balance, device, term)
                if not there:
                    cells.append(Cell(words=say(N_("none"))))
                    continue
                said = styled(given, terms[term]) if shape is None else say(shape.words)
                number = numbered.add(
                    words=f"{names[device]}: {said}",
                    subject=device,
                    item=term if shape is None else "difference",
                    detail="" if shape is None else shape.id,
                    values=("value",) if shape is None else ("difference",),
                )
                cells.append(Cell(line=number, fields=line_field))
            rows.append(tuple(cells))
        totals = [Cell(words=say(N_("All devices")), strong=True)]
        for term, shape in columns_of:
            if shape is not None:
                totals.append(Cell())
                continue
            words = say(N_("{words}, all devices"), words=styled(given, terms[term]))
            number = numbered.add(words=words, subject=f"site/{given.site.id}", item="total", detail=term)
            totals.append(Cell(line=number, fields=line_field))
        rows.append(tuple(totals))
        blocks.append(Table(columns=tuple(columns), rows=tuple(rows)))
    return tuple(blocks)


def _shapes(balance: Balance, names: dict[str, str]) -> tuple[Equation, ...]:
    """One equation of each kind that devices have, the longest of its kind, in the balance's order."""
    found: dict[str, Equation] = {}
    for equation in balance.equations:
        if equation.subject in names:
            known = found.get(equation.id)
            if known is None or len(equation.terms) > len(known.terms):
                found[equation.id] = equation
    return tuple(found.values())


def _has(balance: Balance, device: str, equation_id: str) -> bool:
    return any(e.id == equation_id and e.subject == device for e in balance.equations)


def side(given: SiteGiven, equation: Equation, letters: dict[str, Letter], *, plus: bool) -> str:
    """One side of an equation in letters; "all M" is the sum of M over the devices of the site."""
    say = given.say
    about_device = equation.subject in {letters[key].device for _, key in equation.terms}
    found: dict[tuple[str, int], str] = {}
    for coefficient, key in equation.terms:
        if (coefficient > 0) is not plus:
            continue
        letter = letters[key]
        many = bool(letter.device) and not about_device
        name = say(N_("all {letter}"), letter=letter.letter) if many else letter.letter
        times = "" if abs(coefficient) == 1 else f"{abs(coefficient)} × "
        found[(letter.letter, coefficient)] = f"{times}{name}"
    ordered = sorted(found, key=lambda pair: (len(pair[0]), pair))
    return " + ".join(found[pair] for pair in ordered)
