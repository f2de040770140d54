"""Printed sheets by serial, and settings, in the store."""

from __future__ import annotations

from collections.abc import Iterable

import sqlalchemy as sa

from pollstead.election.values import Value
from pollstead.store.database import Database
from pollstead.store.schema import settings, sheets


class Sheet(Value, frozen=True):
    """One printed sheet: its serial, what it is, the site and day, and the digests it belongs to.

    `key` tells it apart within its site, `content` is the digest of what stands on it; both, and the
    language, are empty for a sheet that was printed before they were kept. `replaces` are the serials of the
    sheets whose place it takes, by blanks.
    """

    serial: str
    kind: str
    site: str
    day: str
    plan_digest: str
    list_digest: str
    printed_utc_ms: int
    key: str = ""
    language: str = ""
    content: str = ""
    replaces: str = ""


class Sheets:
    """Every sheet that was printed; a serial is used once."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, printed: Iterable[Sheet]) -> None:
        """Keep printed sheets, all or none; raises ValueError naming a serial that was used before."""
        rows = [{name: getattr(sheet, name) for name in sheet.__struct_fields__} for sheet in printed]
        if not rows:
            return
        try:
            with self._database.writing() as connection:
                connection.execute(sa.insert(sheets), rows)
        except sa.exc.IntegrityError as error:
            used = [row["serial"] for row in rows if self.get(str(row["serial"])) is not None]
            named = ", ".join(map(str, used)) or "one given twice"
            raise ValueError(f"a sheet serial must be new, used before: {named}") from error

    def get(self, serial: str) -> Sheet | None:
        """The sheet with this serial, or None."""
        with self._database.reading() as connection:
            row = connection.execute(sa.select(sheets).where(sheets.c.serial == serial)).mappings().first()
        return None if row is None else Sheet(**row)

    def of(self, *, site: str | None = None, day: str | None = None) -> tuple[Sheet, ...]:
        """The sheets of a site or day, or all, by serial."""
        query = sa.select(sheets).order_by(sheets.c.serial)
        if site is not None:
            query = query.where(sheets.c.site == site)
        if day is not None:
            query = query.where(sheets.c.day == day)
        with self._database.reading() as connection:
            return tuple(Sheet(**row) for row in connection.execute(query).mappings())


class Settings:
    """Settings of this store, bytes by key; never what a record depends on, but for its header."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def get(self, key: str) -> bytes | None:
        """The value under `key`, or None."""
        with self._database.reading() as connection:
            found = connection.execute(sa.select(settings.c.value).where(settings.c.key == key)).scalar()
        return None if found is None else bytes(found)

    def set(self, key: str, value: bytes) -> None:
        """Keep `value` under `key`, in place of what was there."""
        with self._database.writing() as connection:
            connection.execute(sa.delete(settings).where(settings.c.key == key))
            connection.execute(sa.insert(settings).values(key=key, value=value))

    def set_once(self, key: str, value: bytes) -> bytes:
        """Keep `value` under `key` unless something is there already; what is there now."""
        with self._database.writing() as connection:
            found = connection.execute(sa.select(settings.c.value).where(settings.c.key == key)).scalar()
            if found is not None:
                return bytes(found)
            connection.execute(sa.insert(settings).values(key=key, value=value))
        return value
