"""The contract of every part of the plan: what goes in, what comes out, how it is watched."""

from __future__ import annotations

import enum
import hashlib
from typing import Any, Generic, Protocol, TypeVar

from pollstead.election.notice import Notice
from pollstead.election.values import Value
from pollstead.election.words import Message

T = TypeVar("T")


class Effort(enum.StrEnum):
    """How much work a part may do, counted in work units, never in seconds."""

    QUICK = "quick"
    USUAL = "usual"
    DEEP = "deep"


class Cancelled(Exception):
    """A person asked the job to stop; nothing half-done is kept."""


class Watch(Protocol):
    """Where a part tells its progress and learns that it should stop."""

    def step(self, part: str, done: int, total: int) -> None:
        """Say that `done` of `total` steps of `part` are done; raises `Cancelled` to stop."""


class NoWatch:
    """A watch that nobody looks at."""

    def step(self, part: str, done: int, total: int) -> None:
        """Do nothing."""


class Figure(Value, frozen=True, kw_only=True):
    """One number of a reason, as text for reading, with where it came from."""

    name: str
    value: str
    unit: str = ""
    source: str = ""


class Reason(Value, frozen=True, kw_only=True):
    """Why a number is what it is: a sentence and the figures from which it can be computed again.

    `subject` is an id, `field` the plan table's field; ``pollstead why`` prints these.
    """

    subject: str
    field: str
    text: Message
    figures: tuple[Figure, ...] = ()


class Outcome(Generic[T]):
    """What a part gives back: value, notices, reasons, bound, whether complete, work units used.

    Not a `Value`, because it only carries a result from a part to ``compose``.
    """

    __slots__ = ("bound", "complete", "notices", "reasons", "value", "work_units")

    def __init__(
        self,
        value: T,
        notices: tuple[Notice, ...] = (),
        reasons: tuple[Reason, ...] = (),
        bound: str = "",
        complete: bool = True,
        work_units: int = 0,
    ) -> None:
        self.value = value
        self.notices = notices
        self.reasons = reasons
        self.bound = bound
        self.complete = complete
        self.work_units = work_units


def derive_seed(root: int, part: str, seed_key: str, purpose: str) -> int:
    """A 63-bit seed = hash(root, part, seed key, purpose): a new site changes no other's draws."""
    text = "\x1f".join((str(root), part, seed_key, purpose))
    return int.from_bytes(hashlib.sha256(text.encode()).digest()[:8], "big") >> 1


def plain(value: Any) -> str:
    """A number as a reader sees it in a figure: thousands apart, no needless zeros."""
    return f"{value:,}" if isinstance(value, int) else f"{value:g}"
