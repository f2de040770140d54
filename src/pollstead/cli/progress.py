"""How far a long command is: one line that changes on a terminal, else a line at each tenth of many."""

from __future__ import annotations

import sys
from typing import Final

from pollstead.election.words import N_, message
from pollstead.plan.terms.part import Watch
from pollstead.show.words import fill, text

MANY: Final = 20
"""Where nobody looks at a terminal, a part with fewer things than these is over before a line helps."""


def progress_watch() -> Watch:
    """The watch for where errors go: a terminal, or a file or pipe that keeps each line. Never the output."""
    return OneLine() if sys.stderr is not None and sys.stderr.isatty() else Tenths()


class OneLine:
    """Progress on one line of the terminal."""

    def step(self, part: str, done: int, total: int) -> None:
        """Show how far the part is."""
        end = "\n" if done >= total > 0 else ""
        print(f"\r{text(part)} {done}/{total}   ", end=end, file=sys.stderr, flush=True)


class Tenths:
    """Progress as one line of its own at each 10 % of a part that has many things to do."""

    def __init__(self) -> None:
        self._said: dict[str, int] = {}

    def step(self, part: str, done: int, total: int) -> None:
        """Print a line where another tenth of the part is done."""
        if total < MANY:
            return
        tenth = min(done, total) * 10 // total
        if tenth <= self._said.get(part, 0):
            return
        self._said[part] = tenth
        words = N_("{part}: {done} of {total}, {percent} %")
        said = message(words, part=text(part), done=done, total=total, percent=tenth * 10)
        print(fill(said), file=sys.stderr, flush=True)
