"""What differs between the facts of a folder and of a workbook, line by line, and what taking lines gives.

Rows are compared by their id, or, where a tab has no id, by as many of their first columns as tell
them apart. With the facts that the workbook was made from, each line also says which side changed.
"""

from __future__ import annotations

import enum
from collections import Counter
from collections.abc import Iterable

from pollstead.election.values import Value
from pollstead.intake.tab_rows import TabRows
from pollstead.intake.tabs import Tab, tabs

Rowed = dict[str, tuple[str, ...]]


class LineKind(enum.StrEnum):
    """What taking a line would do."""

    VALUE = "value"
    ADDED = "row added"
    REMOVED = "row removed"
    ORDER = "order of rows"


class Side(enum.StrEnum):
    """Where the difference arose, seen from what the workbook was made from."""

    WORKBOOK = "changed in the workbook"
    FOLDER = "changed in the folder since"
    BOTH = "changed on both sides"
    UNKNOWN = "not known which side changed"


class FactLine(Value, frozen=True, kw_only=True):
    """One difference: tab, row, field, the folder's value, the workbook's value, what both came from.

    For a row added or removed `field` is "" and the whole row stands in `new` or `old`.
    """

    number: int
    tab: str
    row: str
    field: str
    kind: LineKind
    old: str
    new: str
    side: Side
    base: str | None = None


class Difference(Value, frozen=True, kw_only=True):
    """Every line, in the order of tabs, and the rows of all sides that the lines were found in."""

    lines: tuple[FactLine, ...]
    old: tuple[TabRows, ...]
    new: tuple[TabRows, ...]
    base: tuple[TabRows, ...] | None = None

    def numbers(self, *sides: Side) -> frozenset[int]:
        """The numbers of the lines of these sides."""
        return frozenset(line.number for line in self.lines if line.side in sides)


def compare(
    old: tuple[TabRows, ...],
    new: tuple[TabRows, ...],
    base: tuple[TabRows, ...] | None = None,
    up_to_date: bool = True,
) -> Difference:
    """The differences between the folder's rows and the workbook's; a tab not in `new` is not compared.

    `base` are the rows that the workbook was made from, where they are known and differ from `old`;
    `up_to_date` says that the workbook was made from `old`. Rows that belong to a row which is added
    or removed have no line of their own: they come and go with it.
    """
    difference = Difference(lines=(), old=old, new=new, base=base)
    sides_of = _sides(difference)
    lines: list[FactLine] = []
    for tab in tabs():
        if tab.name not in sides_of:
            continue
        sides = sides_of[tab.name]
        for line in sides.lines(sides_of.get(tab.parent)):
            side = Side.WORKBOOK if up_to_date else Side.UNKNOWN if base is None else sides.side(line)
            lines.append(
                FactLine(
                    number=len(lines) + 1,
                    tab=tab.name,
                    row=line.row,
                    field=line.field,
                    kind=line.kind,
                    old=line.old,
                    new=line.new,
                    side=side,
                    base=sides.base_of(line) if base is not None and not up_to_date else None,
                )
            )
    return Difference(lines=tuple(lines), old=old, new=new, base=base)


def _sides(difference: Difference) -> dict[str, _Sides]:
    """Every tab that the workbook has, on all sides."""
    olds, news, bases = (_by_tab(side or ()) for side in (difference.old, difference.new, difference.base))
    return {
        tab.name: _Sides(tab, olds.get(tab.name), news[tab.name], bases.get(tab.name))
        for tab in tabs()
        if tab.name in news
    }


def taking(difference: Difference, numbers: Iterable[int]) -> tuple[TabRows, ...]:
    """The folder's rows after the lines `numbers` are taken.

    Raises ValueError naming a number that is no line of the difference.
    """
    wanted = frozenset(numbers)
    strange = sorted(wanted - {line.number for line in difference.lines})
    if strange:
        last = len(difference.lines)
        raise ValueError(f"a line must be a number from 1 to {last}, got {', '.join(map(str, strange))}")
    taken: dict[str, list[FactLine]] = {}
    for line in difference.lines:
        if line.number in wanted:
            taken.setdefault(line.tab, []).append(line)
    olds, sides_of = _by_tab(difference.old), _sides(difference)
    result = []
    for tab in tabs():
        held = olds.get(tab.name, TabRows(tab=tab.name, rows=()))
        own, owners = taken.get(tab.name, []), taken.get(tab.parent, [])
        if tab.name in sides_of and (own or owners):
            held = sides_of[tab.name].merged(own, owners)
        result.append(held)
    return tuple(result)


def _by_tab(rows: tuple[TabRows, ...]) -> dict[str, TabRows]:
    return {held.tab: held for held in rows}


class _Line(Value, frozen=True, kw_only=True):
    row: str
    field: str = ""
    kind: LineKind
    old: str = ""
    new: str = ""


class _Sides:
    """One tab on two or three sides, its rows by key."""

    def __init__(self, tab: Tab, old: TabRows | None, new: TabRows, base: TabRows | None) -> None:
        self.tab = tab
        self.absent = frozenset(new.absent)
        sides = [held.rows if held is not None else () for held in (old, new, base)]
        width = key_width(tab, sides)
        self.old, self.new, self.base = (keyed_rows(rows, width) for rows in sides)

    def lines(self, parent: _Sides | None) -> list[_Line]:
        """The differences of this tab: rows removed, then rows changed and added in the workbook's order."""

        def stays(row: tuple[str, ...]) -> bool:
            return parent is None or (row[0] in parent.old and row[0] in parent.new)

        found = [
            _Line(row=key, kind=LineKind.REMOVED, old=whole(row))
            for key, row in self.old.items()
            if key not in self.new and stays(row)
        ]
        for key, row in self.new.items():
            if not stays(row):
                continue
            before = self.old.get(key)
            if before is None:
                found.append(_Line(row=key, kind=LineKind.ADDED, new=whole(row)))
                continue
            for index, cell in enumerate(self.tab.cells):
                if row[index] != before[index] and index not in self.absent:
                    found.append(
                        _Line(
                            row=key, field=cell.name, kind=LineKind.VALUE, old=before[index], new=row[index]
                        )
                    )
        if self.tab.ordered:
            for owner in dict.fromkeys(row[0] for row in self.new.values()):
                old, new = self._common(self.old, owner), self._common(self.new, owner)
                if old != new:
                    found.append(
                        _Line(row=owner, kind=LineKind.ORDER, old=" | ".join(old), new=" | ".join(new))
                    )
        return found

    def _common(self, rows: Rowed, owner: str) -> list[str]:
        """The keys of one owner's rows that are on both sides, in the order of one side."""
        return [key for key, row in rows.items() if row[0] == owner and key in self.old and key in self.new]

    def base_of(self, line: _Line) -> str:
        """What stood there in the facts that the workbook was made from."""
        if line.kind is LineKind.ORDER:
            return " | ".join(self._common(self.base, line.row))
        row = self.base.get(line.row)
        if row is None:
            return ""
        return row[self.tab.index(line.field)] if line.field else whole(row)

    def side(self, line: _Line) -> Side:
        """Which side changed, by what stood there before."""
        base = self.base_of(line)
        if base == line.old:
            return Side.WORKBOOK
        return Side.FOLDER if base == line.new else Side.BOTH

    def merged(self, taken: list[FactLine], owners: list[FactLine]) -> TabRows:
        """The old rows with these lines taken, and with the rows of those owners that come or go."""
        rows = dict(self.old)
        reordered: set[str] = set()
        for line in owners:
            if line.kind is LineKind.REMOVED:
                rows = {key: row for key, row in rows.items() if row[0] != line.row}
            elif line.kind is LineKind.ADDED:
                rows |= {key: row for key, row in self.new.items() if row[0] == line.row}
        for line in taken:
            if line.kind is LineKind.REMOVED:
                del rows[line.row]
            elif line.kind is LineKind.ADDED:
                rows[line.row] = self.new[line.row]
            elif line.kind is LineKind.ORDER:
                reordered.add(line.row)
            else:
                index = self.tab.index(line.field)
                cells = list(rows[line.row])
                cells[index] = self.new[line.row][index]
                rows[line.row] = tuple(cells)
        order = self._order(rows, reordered)
        return TabRows(tab=self.tab.name, rows=tuple(rows[key] for key in order))

    def _order(self, rows: Rowed, reordered: set[str]) -> list[str]:
        """The order of the merged rows: the folder's, the workbook's where that was taken.

        A row that only one side has stands after the row that it followed there.
        """
        if not self.tab.ordered:
            return list(rows)
        by_owner: dict[str, list[str]] = {}
        for key, row in rows.items():
            by_owner.setdefault(row[0], []).append(key)
        order: list[str] = []
        for owner, keys in by_owner.items():
            first, second = (self.new, self.old) if owner in reordered else (self.old, self.new)
            own = [key for key in first if key in rows and rows[key][0] == owner]
            order += _woven(own, [key for key in second if key in keys])
        return order


def _woven(order: list[str], other: list[str]) -> list[str]:
    """`order` with what only `other` has put after the item that it follows there."""
    woven = list(order)
    placed = set(order)
    before: str | None = None
    for key in other:
        if key not in placed:
            woven.insert(woven.index(before) + 1 if before is not None else 0, key)
            placed.add(key)
        before = key
    return woven


def whole(row: tuple[str, ...]) -> str:
    """A whole row on one line, without the blank cells at its end."""
    return " | ".join(row).rstrip(" |")


def key_width(tab: Tab, sides: list[tuple[tuple[str, ...], ...]]) -> int:
    """How many of the first columns tell the rows of every side apart."""
    names = [cell.name for cell in tab.cells]
    if "id" in names:
        return names.index("id") + 1
    start = 2 if tab.parent else 1
    for width in range(start, len(names) + 1):
        if all(len({row[:width] for row in rows}) == len(rows) for rows in sides):
            return width
    return len(names)


def keyed_rows(rows: tuple[tuple[str, ...], ...], width: int) -> Rowed:
    """Rows by their key; rows with the same key are told apart by a number."""
    found: Rowed = {}
    seen: Counter[tuple[str, ...]] = Counter()
    for row in rows:
        key = row[:width]
        seen[key] += 1
        name = whole(key) if seen[key] == 1 else f"{whole(key)} #{seen[key]}"
        while name in found:
            name += "#"
        found[name] = row
    return found
