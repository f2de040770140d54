"""From a table and its confirmed mapping to numbers: all of them, or every fault with its row and column.

A blank cell is no number and never zero. Rows that stand for one site are added up only where their names
differ, or where a person said so; a sum of which one part is blank is not made.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping

from pollstead.election.notice import Notice, Place
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.intake.counts.mapping import ALL_MODES, CountMapping, Role, Target
from pollstead.intake.counts.names import MOST_WITH_NEAREST, Names, Unknown, folded
from pollstead.intake.counts.sums import sum_differences
from pollstead.intake.counts.table import CountTable
from pollstead.intake.csv_text import Row
from pollstead.intake.foreign import read_number
from pollstead.intake.notices import cannot_read

STYLE_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ._/-]{0,39}")
LARGEST_COUNT = 10**12


class CellRead(Value, frozen=True, kw_only=True):
    """One number of the table: where it stands, what it is of, by the ids that its names mean."""

    row: int
    column: str
    value: int | None
    site: str
    device: str
    memory: str
    mode: str
    quantity: str
    style: str
    named: tuple[str, ...]
    note: str = ""


class Counted(Value, frozen=True, kw_only=True):
    """One number to record: of a site (or a memory device), a way of voting and a quantity.

    `total` is the number without style, None where there are only parts by ballot style. `parts` are the
    cells that it was read from; more than one where they were added up.
    """

    target: Target
    subject: str
    mode: str
    quantity: str
    total: int | None
    styles: tuple[tuple[str, int], ...] = ()
    machine: str = ""
    parts: tuple[CellRead, ...] = ()

    @property
    def amount(self) -> int:
        """The total; where there is none, what its styles add up to."""
        return sum(count for _, count in self.styles) if self.total is None else self.total


class CountsRead(Value, frozen=True, kw_only=True):
    """What a table says. Nothing of it may be recorded while there are faults or unknown names.

    `differences` is what does not add up within the table; `not_made` are sums of which a part is blank;
    `blanks` is how many cells are blank, `left_out` how many rows a person left out.
    """

    counted: tuple[Counted, ...]
    unknown: tuple[Unknown, ...]
    faults: tuple[Notice, ...]
    differences: tuple[Notice, ...]
    not_made: tuple[Notice, ...]
    notes: tuple[CellRead, ...]
    blanks: int
    left_out: int

    @property
    def may_be_taken(self) -> bool:
        """Whether there is something to record and nothing in its way."""
        return bool(self.counted) and not self.unknown and not self.faults


def read_counted(
    table: CountTable,
    mapping: CountMapping,
    names: Names,
    site_of_device: Mapping[str, str],
    *,
    any_style: bool,
) -> CountsRead:
    """Every number of the table by the mapping; see `CountsRead`.

    `site_of_device` says where a device stands, for a table without a column of sites. `any_style` takes
    ballot styles that the county's tables do not list.
    """
    reader = _Reader(table, mapping, names, site_of_device, any_style)
    for row in table.rows:
        reader.row(row)
    uploads = mapping.target is Target.UPLOADS
    if not uploads and not mapping.add_rows:
        reader.say_again()
    counted, not_made = reader.uploads() if uploads else reader.totals()
    return CountsRead(
        counted=counted,
        unknown=reader.unknown(),
        faults=tuple(reader.faults),
        differences=sum_differences(table, mapping, counted),
        not_made=not_made,
        notes=tuple(cell for cell in reader.cells if cell.note),
        blanks=reader.blanks,
        left_out=reader.left_out,
    )


class _Reader:
    def __init__(
        self,
        table: CountTable,
        mapping: CountMapping,
        names: Names,
        site_of_device: Mapping[str, str],
        any_style: bool,
    ) -> None:
        self.table, self.mapping, self.names = table, mapping, names
        self.site_of_device, self.any_style = site_of_device, any_style
        self.cells: list[CellRead] = []
        self.faults: list[Notice] = []
        self.blanks = self.left_out = 0
        self._asked: dict[tuple[Role, str], list[tuple[str, str, int]]] = defaultdict(list)
        self._place = {heading: place for place, heading in enumerate(table.header)}

    def row(self, row: Row) -> None:
        """Read one row: what it names, then each of its numbers."""
        named: dict[Role, str] = {}
        texts: list[str] = []
        known = True
        for role in Role:
            if role is Role.COUNT:
                continue
            use = next(iter(self.mapping.of(role)), None)
            if use is None:
                continue
            text = row.cells[self._place[use.theirs]]
            texts.append(folded(text))
            found = self._named(role, text, use.theirs, row.number)
            if found is None:
                known = False
            elif found == "" and text and role is not Role.STYLE:
                self.left_out += 1
                return
            else:
                named[role] = found
        if known:
            self._numbers(row, named, tuple(texts))

    def _named(self, role: Role, text: str, column: str, row: int) -> str | None:
        """The id of a text; "" for none; None where it is not known, which is kept to be asked."""
        if not text and role in (Role.MODE, Role.STYLE, Role.DEVICE, Role.QUANTITY):
            return ""
        if not text:
            self.faults.append(self._fault(row, column, "", N_("the name of a {role}"), role=role.value))
            return None
        found = self.names.find(role, text)
        if found is None and role is Role.STYLE and self.any_style:
            if STYLE_NAME.fullmatch(text):
                return text
            wanted = N_("a ballot style of plain letters, digits and . _ / -, at most 40")
            self.faults.append(self._fault(row, column, text, wanted))
            return None
        if found is None:
            self._asked[(role, folded(text))].append((text, column, row))
        return found

    def _numbers(self, row: Row, named: dict[Role, str], texts: tuple[str, ...]) -> None:
        device = named.get(Role.DEVICE, "")
        site = named.get(Role.SITE, "") or self.site_of_device.get(device, "")
        uploads = self.mapping.target is Target.UPLOADS
        if not uploads and not site:
            column = next((use.theirs for use in self.mapping.of(Role.DEVICE)), "")
            self.faults.append(self._fault(row.number, column, device, N_("a device that stands at a site")))
            return
        for use in self.mapping.of(Role.COUNT):
            cell = row.cells[self._place[use.theirs]]
            quantity = use.quantity or named.get(Role.QUANTITY, "") or self.mapping.quantity
            if not quantity and not uploads:
                self.faults.append(self._fault(row.number, use.theirs, "", N_("a quantity")))
                continue
            try:
                number = read_number(cell)
            except ValueError:
                self.faults.append(self._fault(row.number, use.theirs, cell, N_("a whole number, 0 or more")))
                continue
            if number.count is not None and number.count > LARGEST_COUNT:
                self.faults.append(
                    self._fault(row.number, use.theirs, cell, N_("a count of ballots or people"))
                )
                continue
            self.blanks += number.count is None
            self.cells.append(
                CellRead(
                    row=row.number,
                    column=use.theirs,
                    value=number.count,
                    site=site,
                    device=device,
                    memory=named.get(Role.MEMORY, ""),
                    mode=use.mode or named.get(Role.MODE, "") or self.mapping.mode or ALL_MODES,
                    quantity=quantity,
                    style=named.get(Role.STYLE, ""),
                    named=(*texts, use.theirs),
                    note=number.note,
                )
            )

    def say_again(self) -> None:
        """A fault for each row that names just what an earlier row named: twice, or to be added up?"""
        first: dict[tuple[str, ...], int] = {}
        told: set[int] = set()
        for cell in self.cells:
            earlier = first.setdefault(cell.named, cell.row)
            if earlier != cell.row and cell.row not in told:
                told.add(cell.row)
                self.faults.append(
                    cannot_read(
                        "row-again",
                        Place(file=self.table.name, row=cell.row),
                        message(
                            N_("Row {row} names the same as row {earlier}"), row=cell.row, earlier=earlier
                        ),
                        found=" ".join(filter(None, cell.named[:-1])),
                        wanted=N_("each name once"),
                        remedy=message(
                            N_("Take one row out, or say that rows with the same names are added up.")
                        ),
                    )
                )

    def totals(self) -> tuple[tuple[Counted, ...], tuple[Notice, ...]]:
        """The numbers by site, way of voting and quantity; sums with a blank part are not made."""
        groups: dict[tuple[str, str, str], list[CellRead]] = defaultdict(list)
        for cell in self.cells:
            groups[(cell.site, cell.mode, cell.quantity)].append(cell)
        made, not_made = [], []
        for (site, mode, quantity), cells in sorted(groups.items()):
            filled = tuple(cell for cell in cells if cell.value is not None)
            if not filled:
                continue
            if len(filled) < len(cells):
                blank = next(cell for cell in cells if cell.value is None)
                not_made.append(self._not_made(site, blank, len(filled)))
                continue
            made.append(
                Counted(
                    target=self.mapping.target,
                    subject=site,
                    mode=mode,
                    quantity=quantity,
                    total=_added(filled, ""),
                    styles=tuple(
                        (style, _added(filled, style) or 0)
                        for style in sorted({cell.style for cell in filled} - {""})
                    ),
                    parts=filled,
                )
            )
        return tuple(made), tuple(not_made)

    def uploads(self) -> tuple[tuple[Counted, ...], tuple[Notice, ...]]:
        """Each reading of a memory device, in the order of the rows; a second one stays a second one."""
        entries: list[tuple[tuple[str, str, str], list[CellRead]]] = []
        for cell in self.cells:
            if cell.value is None:
                continue
            key = (cell.memory, cell.mode, cell.quantity)
            last = next((held for own, held in reversed(entries) if own == key), None)
            if last is None or cell.style in {held.style for held in last}:
                entries.append((key, [cell]))
            else:
                last.append(cell)
        return tuple(
            Counted(
                target=Target.UPLOADS,
                subject=memory,
                mode="" if mode == ALL_MODES else mode,
                quantity=quantity,
                total=_added(tuple(cells), ""),
                styles=tuple((c.style, c.value or 0) for c in cells if c.style),
                machine=cells[0].device,
                parts=tuple(cells),
            )
            for (memory, mode, quantity), cells in entries
        ), ()

    def unknown(self) -> tuple[Unknown, ...]:
        """Every name that nobody knows, each once, by its first row."""
        found = [
            self.names.unknown(
                role,
                seen[0][0],
                column=seen[0][1],
                row=seen[0][2],
                times=len(seen),
                near_too=number < MOST_WITH_NEAREST,
            )
            for number, ((role, _), seen) in enumerate(self._asked.items())
        ]
        return tuple(sorted(found, key=lambda one: (tuple(Role).index(one.role), one.row)))

    def _fault(self, row: int, column: str, found: str, wanted: str, **params: str) -> Notice:
        return cannot_read(
            "count-cell",
            Place(file=self.table.name, row=row, column=column),
            message(
                N_("Row {row} of {file}, column {column}: this cannot be read"),
                row=row,
                file=self.table.name,
                column=column,
            ),
            found=found,
            wanted=wanted.format_map(params),
            remedy=message(N_("Correct the file and send it again; nothing was recorded.")),
        )

    def _not_made(self, site: str, blank: CellRead, filled: int) -> Notice:
        return cannot_read(
            "sum-with-a-blank",
            Place(file=self.table.name, row=blank.row, column=blank.column),
            message(
                N_("{site}: row {row} is blank, so the {n} other numbers of this site are not added up"),
                site=site,
                row=blank.row,
                n=filled,
            ),
            found=N_("blank"),
            wanted=N_("a number; 0 where there is none"),
            remedy=message(N_("Type the number into the file and send it again.")),
        )


def _added(cells: tuple[CellRead, ...], style: str) -> int | None:
    """What the cells of a style add up to; None where there is none."""
    values = [cell.value for cell in cells if cell.style == style and cell.value is not None]
    return sum(values) if values else None
