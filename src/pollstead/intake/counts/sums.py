"""What does not add up within a table of counts: its row of totals, its ways of voting, its ballot styles."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from pollstead.election.notice import Notice, NoticeKind, Place
from pollstead.election.words import N_, Message, message
from pollstead.intake.counts.mapping import ALL_MODES, CountMapping, Role, Target
from pollstead.intake.counts.table import CountTable
from pollstead.intake.foreign import read_number

if TYPE_CHECKING:
    from pollstead.intake.counts.counted import Counted

WHO_DECIDES = N_("whoever made the table; the canvassing body decides what the numbers mean")


def sum_differences(
    table: CountTable, mapping: CountMapping, counted: tuple[Counted, ...]
) -> tuple[Notice, ...]:
    """A difference for each sum that the table itself states and does not meet."""
    found = [*_rows_of_totals(table, mapping)]
    if mapping.target is not Target.UPLOADS:
        found += _modes(table, counted)
    for one in counted:
        added = sum(count for _, count in one.styles)
        if one.styles and one.total is not None and added != one.total:
            said = N_("{subject}: ballot styles add up to {added}, the total is {total}.")
            words = message(said, subject=one.subject, added=added, total=one.total)
            found.append(_difference(table, words, one.subject, one.parts[0].row, added, one.total))
    return tuple(found)


def _rows_of_totals(table: CountTable, mapping: CountMapping) -> list[Notice]:
    found = []
    if not table.totals:
        return []
    # Only a single row of totals says for sure that it is of all rows.
    total = table.totals[-1]
    for use in mapping.of(Role.COUNT):
        place = table.header.index(use.theirs)
        said = _count(total.cells[place])
        values = [_count(row.cells[place]) for row in table.rows]
        added = sum(value for value in values if value is not None)
        if said is not None and added != said:
            words = message(
                N_("{column}: the rows add up to {added}, the row of totals says {total}."),
                column=use.theirs,
                added=added,
                total=said,
            )
            found.append(_difference(table, words, use.theirs, total.number, added, said))
    return found


def _modes(table: CountTable, counted: tuple[Counted, ...]) -> list[Notice]:
    groups: dict[tuple[str, str], dict[str, Counted]] = defaultdict(dict)
    for one in counted:
        groups[(one.subject, one.quantity)][one.mode] = one
    found = []
    for (subject, _), by_mode in groups.items():
        whole = by_mode.pop(ALL_MODES, None)
        added = sum(one.amount for one in by_mode.values())
        if whole is not None and by_mode and added != whole.amount:
            said = N_("{subject}: the ways of voting add up to {added}, all together is {total}.")
            words = message(said, subject=subject, added=added, total=whole.amount)
            found.append(_difference(table, words, subject, whole.parts[0].row, added, whole.amount))
    return found


def _count(cell: str) -> int | None:
    try:
        return read_number(cell).count
    except ValueError:
        return None


def _difference(table: CountTable, words: Message, subject: str, row: int, added: int, total: int) -> Notice:
    return Notice(
        kind=NoticeKind.DIFFERENCE,
        rule="counts-table-sum",
        subject=subject,
        text=words,
        place=Place(file=table.name, row=row),
        found=str(added),
        wanted=str(total),
        remedy=message(N_("Ask whoever made the table; both numbers are kept as they are.")),
        who_decides=WHO_DECIDES,
    )
