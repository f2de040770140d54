"""The edits that lead from the rows of one side to those of another."""

from __future__ import annotations

from pollstead.intake.fact_difference import key_width, keyed_rows
from pollstead.intake.fact_edits import Edit, EditKind, row_cells
from pollstead.intake.tab_rows import TabRows
from pollstead.intake.tabs import Tab, tabs


def edits_between(before: tuple[TabRows, ...], after: tuple[TabRows, ...]) -> tuple[Edit, ...]:
    """Every edit that leads from the rows `before` to the rows `after`, whole rows cell by cell."""
    olds, news = ({held.tab: held.rows for held in side} for side in (before, after))
    found: list[Edit] = []
    for tab in tabs():
        old_rows, new_rows = olds.get(tab.name, ()), news.get(tab.name, ())
        if old_rows != new_rows:
            width = key_width(tab, [old_rows, new_rows])
            found += _in_tab(tab, keyed_rows(old_rows, width), keyed_rows(new_rows, width))
    return tuple(found)


def _in_tab(tab: Tab, old: dict[str, tuple[str, ...]], new: dict[str, tuple[str, ...]]) -> list[Edit]:
    found = [_row_edit(tab, key, row, EditKind.REMOVED, old) for key, row in old.items() if key not in new]
    for key, row in new.items():
        if key not in old:
            continue
        for index, cell in enumerate(tab.cells):
            if row[index] != old[key][index]:
                found.append(
                    Edit(
                        table=tab.name,
                        row=key,
                        column=cell.name,
                        before=old[key][index],
                        after=row[index],
                    )
                )
    found += [_row_edit(tab, key, row, EditKind.ADDED, new) for key, row in new.items() if key not in old]
    if tab.ordered:
        for owner in dict.fromkeys(row[0] for row in new.values()):
            ways = tuple(
                tuple(key for key, row in side.items() if row[0] == owner and key in old and key in new)
                for side in (old, new)
            )
            if ways[0] != ways[1]:
                found.append(
                    Edit(
                        table=tab.name,
                        row=owner,
                        kind=EditKind.ORDER,
                        order_before=ways[0],
                        order_after=ways[1],
                    )
                )
    return found


def _row_edit(
    tab: Tab, key: str, row: tuple[str, ...], kind: EditKind, rows: dict[str, tuple[str, ...]]
) -> Edit:
    names = list(rows)
    place = names.index(key)
    follows = names[place - 1] if place else ""
    return Edit(table=tab.name, row=key, kind=kind, cells=row_cells(tab, row), follows=follows)
