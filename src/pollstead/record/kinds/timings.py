"""Events of timings: values that were taken from check-in times, line counts or timed samples."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from msgspec import Meta

from pollstead.election.values import Value, require
from pollstead.record.kinds.body import Body, Count, Digest, Id, Nature, Private, Sentence

Day = Annotated[str, Meta(pattern=r"^([0-9]{4}-[0-9]{2}-[0-9]{2})?\Z")]


class TimedFile(Value, frozen=True, omit_defaults=True):
    """A file that the values came from: its digest, what it held, how many rows were read. No row is kept."""

    digest: Digest
    what: Literal["check_in_times", "line_counts", "samples"]
    rows: Count


class TimedValue(Value, frozen=True, omit_defaults=True):
    """One value with its 95 % interval, and how many voters, check-ins or samples it rests on.

    `of` is ``service/TYPE``, ``arrivals`` or ``opening-line``; times in ms, shares in ppm.
    """

    of: Id
    value: Count
    low: Count
    high: Count
    samples: Count

    def __post_init__(self) -> None:
        require(self.low <= self.value <= self.high, f"{self.of}: low <= value <= high must hold")


class TimingsTakenPrivate(Private, frozen=True, omit_defaults=True):
    """Names of the files, and what a person answered of faults in clock and list."""

    files: tuple[str, ...]
    reason: Sentence
    answers: tuple[str, ...] = ()


class TimingsTaken(Body, frozen=True, omit_defaults=True):
    """``timings.taken``: values from timings were taken into the facts. Subject: ``facts``.

    `change` is the change of facts that wrote them; `first` and `last` are the days that were timed, ``""``
    where no file says. Counts and intervals alone: no time of any voter is here.
    """

    kind: ClassVar[str] = "timings.taken"
    nature: ClassVar[Nature] = Nature.ENTRY
    private: ClassVar[type[Private] | None] = TimingsTakenPrivate
    subjects: ClassVar[tuple[str, ...]] = ("facts",)

    change: Digest
    files: Annotated[tuple[TimedFile, ...], Meta(min_length=1, max_length=50)]
    values: Annotated[tuple[TimedValue, ...], Meta(min_length=1, max_length=500)]
    first: Day = ""
    last: Day = ""
