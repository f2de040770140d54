"""The passphrase of protected keys: asked for at most once in a process, in its memory alone."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Final, TypeVar

from pollstead.election.words import N_, message
from pollstead.store.refusal import Refusal

Opened = TypeVar("Opened")


class Locked(Refusal):
    """A key is protected, and the passphrase is not known here or not the right one."""


class Passphrase:
    """What a person typed, once it fitted. It is never written anywhere, and ends with the process."""

    def __init__(self) -> None:
        self._ask: Callable[[Path], str | None] | None = None
        self._known: str | None = None

    def ask_by(self, ask: Callable[[Path], str | None] | None) -> None:
        """Let `ask` ask a person when a protected key is first needed; None forgets all."""
        self._ask, self._known = ask, None

    def ask_no_more(self) -> None:
        """Keep what is known and ask nobody from here on: a page has no terminal."""
        self._ask = None

    def know(self, passphrase: str | None) -> None:
        """Take a passphrase that was asked for elsewhere, as a child process does from its parent."""
        self._known = passphrase

    @property
    def known(self) -> str | None:
        """The passphrase, where it was given and fitted."""
        return self._known

    def open(self, path: Path, read: Callable[[str], Opened]) -> Opened:
        """What `read` makes of the passphrase; raises `Locked` where there is none, or it does not fit."""
        given = self._known
        if given is None and self._ask is not None:
            given = self._ask(path)
        if given is None:
            raise Locked(
                message(
                    N_("{file} is protected by a passphrase, and nobody was here to type it."), file=str(path)
                )
            )
        try:
            opened = read(given)
        except Locked:
            self._known = None
            raise
        self._known = given
        return opened


PASSPHRASE: Final = Passphrase()
"""The one of this process."""
