"""Triggers that refuse to change or delete what is append-only.

They stop accidents and honest mistakes, not a person with the file in hand: that is what
signatures, chains and heads are for. A migration that recreates a table must call `create_guards`
again, since SQLite drops a table's triggers with it.
"""

from __future__ import annotations

from typing import Final

import sqlalchemy as sa

GUARDS: Final = (
    ("events", "UPDATE", ""),
    ("events", "DELETE", ""),
    ("snapshots", "UPDATE", ""),
    ("side_objects", "DELETE", ""),
    # The one change allowed: redaction takes the bytes away and says when.
    (
        "side_objects",
        "UPDATE",
        "NOT (OLD.bytes IS NOT NULL AND NEW.bytes IS NULL AND NEW.digest = OLD.digest)",
    ),
)


def guard_name(table: str, verb: str) -> str:
    """The name of the trigger on `table` against `verb`."""
    return f"{table}_refuse_{verb.lower()}"


def create_guards(connection: sa.Connection) -> None:
    """Create every guard on SQLite or PostgreSQL."""
    dialect = connection.dialect.name
    if dialect == "postgresql":
        connection.exec_driver_sql(
            "CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS "
            # Two percent signs: the driver takes one for a placeholder.
            "$$ BEGIN RAISE EXCEPTION '%% is append-only', TG_TABLE_NAME; END $$"
        )
    for table, verb, condition in GUARDS:
        when = f"WHEN ({condition}) " if condition else ""
        name = guard_name(table, verb)
        if dialect == "postgresql":
            body = f"FOR EACH ROW {when}EXECUTE FUNCTION refuse_change()"
        else:
            body = f"FOR EACH ROW {when}BEGIN SELECT RAISE(ABORT, '{table} is append-only'); END"
        connection.exec_driver_sql(f"CREATE TRIGGER {name} BEFORE {verb} ON {table} {body}")
