"""The columns of tables with one row a site, and the rows of the sites: what a bulk edit works on."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from pollstead.election.values import Value
from pollstead.intake.fact_edits import Edit, set_cell
from pollstead.intake.row_names import row_index
from pollstead.intake.tab_rows import TabRows
from pollstead.intake.tabs import tab_named
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.seen_cells import may_see

TABLES_BY_SITE: Final = ("sites", "site_access", "site_survey", "site_routes", "site_voters")
NOT_EDITED: Final = frozenset({"id", "site", "seed_key"})


class SiteColumn(Value, frozen=True, kw_only=True):
    """A column of a table with one row a site, and what its cells hold in words."""

    table: str
    name: str
    words: str

    @property
    def id(self) -> str:
        """The column's name in a form."""
        return f"{self.table}.{self.name}"


class SiteCell(Value, frozen=True, kw_only=True):
    """One cell of the grid: what stands there, what was typed; `there` is false without a row."""

    before: str
    typed: str
    there: bool

    @property
    def changed(self) -> bool:
        """Whether it would change."""
        return self.there and self.before != self.typed


def site_columns(may: Callable[[Capability], bool]) -> tuple[SiteColumn, ...]:
    """Every column that a role may see and edit for many sites, table by table."""
    return tuple(
        SiteColumn(table=table, name=cell.name, words=cell.column.words)
        for table in TABLES_BY_SITE
        for cell in tab_named(table).cells
        if cell.name not in NOT_EDITED and may_see(may, table, cell.name)
    )


def cells_of(rows: tuple[TabRows, ...], column: SiteColumn) -> dict[str, str]:
    """The text of a column by site; sites without a row in the table are left out."""
    tab = tab_named(column.table)
    held = next((one.rows for one in rows if one.tab == column.table), ())
    place = tab.index(column.name)
    return {name: held[places[0]][place] for name, places in row_index(tab, held).items() if len(places) == 1}


def filled(cells: Mapping[str, SiteCell], text: str, *, blank_only: bool) -> dict[str, SiteCell]:
    """The cells of a column with `text` put into all of them, or into the blank ones alone."""
    return {
        site: SiteCell(before=cell.before, typed=text, there=True)
        if cell.there and not (blank_only and cell.typed)
        else cell
        for site, cell in cells.items()
    }


def edits_of(column: SiteColumn, cells: Mapping[str, SiteCell]) -> tuple[Edit, ...]:
    """The edits that make the facts what was typed; each names what it found, so that nothing is lost."""
    return tuple(
        set_cell(column.table, site, column.name, cell.typed, before=cell.before)
        for site, cell in cells.items()
        if cell.changed
    )
