"""What a person asks for when something changes late, and what it is drawn up to."""

from __future__ import annotations

import datetime as dt

from pollstead.election.county import Election
from pollstead.election.values import Value
from pollstead.election.words import Message
from pollstead.intake.fact_edits import Edit
from pollstead.intake.tab_rows import TabRows
from pollstead.intake.tabs import tab_named
from pollstead.plan.terms.version import PlanVersion
from pollstead.reconcile.changed.terms import Act, Change


class Asked(Value, frozen=True, kw_only=True):
    """One act as a person asks for it: what it is about, what comes in its place, what else was said.

    `old` and `new` are ids of devices or people; for a re-sealing `old` is the closure and `new` the number;
    for a move `old` is the site; for an undo it is the event of the change. `said` are pairs of a field and
    its text, such as ``address`` and ``2 Mill Lane``.
    """

    act: Act
    old: str = ""
    new: str = ""
    said: tuple[tuple[str, str], ...] = ()

    def text(self, field: str) -> str:
        """What was said for a field, "" for nothing."""
        return dict(self.said).get(field, "")

    def has(self, field: str) -> bool:
        """Whether anything was said for a field, an empty text too."""
        return field in dict(self.said)


class Drafted(Value, frozen=True, kw_only=True):
    """An act drawn up: the edits of the tables, what is being changed, what to weigh before doing it.

    `subject` is the id that the event is about; `undoes` the event of the change that is taken back;
    `party_warnings` are for those who see parties.
    """

    change: Change
    edits: tuple[Edit, ...]
    subject: str
    warnings: tuple[Message, ...] = ()
    party_warnings: tuple[Message, ...] = ()
    second_person: bool = False
    undoes: str = ""


class Ground(Value, frozen=True, kw_only=True):
    """What an act is drawn up on: the facts, their rows as text, the plan that holds if any, today."""

    election: Election
    rows: tuple[TabRows, ...]
    plan: PlanVersion | None
    today: dt.date
    contradicted: frozenset[str] = frozenset()
    tested: frozenset[str] | None = None

    def cell(self, table: str, row: str, column: str) -> str:
        """The text of one cell, "" where the row is not there; `row` is its id or first cells by `` | ``."""
        tab = tab_named(table)
        for found in self.rows_of(table):
            name = row.split(" | ")
            if list(found[: len(name)]) == name:
                return found[tab.index(column)]
        return ""

    def rows_of(self, table: str) -> tuple[tuple[str, ...], ...]:
        """Every row of a table."""
        return next((one.rows for one in self.rows if one.tab == table), ())

    def named(self, table: str, *cells: str) -> tuple[str, ...]:
        """The names of the rows of a table that begin with these cells: all their cells joined."""
        return tuple(" | ".join(row) for row in self.rows_of(table) if row[: len(cells)] == cells)
