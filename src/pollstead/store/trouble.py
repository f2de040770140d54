"""What goes wrong with a store's file, in words a person can act on."""

from __future__ import annotations

import sqlite3
from typing import Final

import sqlalchemy as sa

from pollstead.election.canonical import sha256_hex
from pollstead.election.words import N_, Message, message

DAMAGED: Final = N_(
    "{path} is damaged ({why}). Nothing was changed. Keep it, and the files beside it whose names begin "
    "alike, for whoever looks into it; then put back your last copy, or begin an empty folder and bring "
    "the record back by: pollstead record import FOLDER EXPORT"
)
FULL: Final = N_("The disk is full; {path} was not changed. Make room, then do it again.")
READ_ONLY: Final = N_(
    "{path} cannot be opened for writing ({why}), which even reading needs. Copy the whole county folder to "
    "a place where you may write, and work there."
)
BUSY: Final = N_(
    "Another program is still writing to {path}; nothing was changed. Wait until it is done, then do it "
    "again."
)
FAILED: Final = N_(
    "The disk did not do what was asked of it for {path} ({why}); nothing was changed. Look at the disk or "
    "the network drive, then do it again."
)
GONE: Final = N_(
    "{path} is empty, but {keys} holds the keys of a record: a record was here and is gone. Nothing was "
    "changed. Put back your last copy of the file. Where there is none, move the empty file away and bring "
    "the record back by: pollstead record import FOLDER EXPORT"
)
CHANGED: Final = N_(
    "{what} {digest} was changed in the store or is damaged: its bytes have another digest. Put back your "
    "last copy, or plan again in a new folder and bring the record there by: "
    "pollstead record import FOLDER EXPORT"
)

_BY_CODE: Final = {
    sqlite3.SQLITE_CORRUPT: DAMAGED,
    sqlite3.SQLITE_NOTADB: DAMAGED,
    sqlite3.SQLITE_FULL: FULL,
    sqlite3.SQLITE_READONLY: READ_ONLY,
    sqlite3.SQLITE_CANTOPEN: READ_ONLY,
    sqlite3.SQLITE_PERM: READ_ONLY,
    sqlite3.SQLITE_BUSY: BUSY,
    sqlite3.SQLITE_LOCKED: BUSY,
    sqlite3.SQLITE_IOERR: FAILED,
}
_PRIMARY: Final = 0xFF
"""The bits of the primary code in an extended one (sqlite.org/rescode.html)."""


class StoreTrouble(OSError):
    """The file of a store cannot be used now; `said` tells what to do, for every language."""

    def __init__(self, said: Message) -> None:
        super().__init__(said.english())
        self.said = said


class ChangedInStore(StoreTrouble, ValueError):
    """What is kept under a digest has other bytes than those that the digest was made of."""


def in_words(context: sa.engine.ExceptionContext) -> StoreTrouble | None:
    """The trouble that SQLite's error stands for; None where the error is a mistake of this program.

    To be listened to as ``handle_error``: what is returned is raised in place of the library's own error.
    """
    error = context.original_exception
    template = _BY_CODE.get(getattr(error, "sqlite_errorcode", 0) & _PRIMARY)
    if template is None:
        return None
    where = context.engine.url.database if context.engine is not None else ""
    return StoreTrouble(message(template, path=where or "pollstead.db", why=str(error)))


def unchanged(what: str, digest: str, found: object) -> bytes:
    """The bytes that `found` is; raises `ChangedInStore` unless `digest` is their SHA-256."""
    if not isinstance(found, bytes) or sha256_hex(found) != digest:
        raise ChangedInStore(message(CHANGED, what=what, digest=digest[:16]))
    return found
