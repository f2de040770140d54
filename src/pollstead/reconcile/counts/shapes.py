"""The shapes of a balance: counting devices, equations as whole-number rows, the numbers that they need."""

from __future__ import annotations

from pollstead.election.station_type import CountUnit
from pollstead.election.values import Value, require
from pollstead.reconcile.counts.rows import Step
from pollstead.reconcile.counts.styles import NO_STYLES, StylesHere
from pollstead.reconcile.counts.terms import Term, TermUnit


class CountingDevice(Value, frozen=True, kw_only=True):
    """One device at the site whose counters enter the balance."""

    id: str
    station: str
    station_type: str


class Equation(Value, frozen=True, kw_only=True):
    """One equation of one site: ``sum(coefficient x reading of key) = 0``, in `unit`.

    `terms` are pairs (coefficient, key); `subject` is the site or the device it is about.
    """

    id: str
    words: str
    subject: str
    unit: CountUnit | TermUnit
    terms: tuple[tuple[int, str], ...]

    def __post_init__(self) -> None:
        require(bool(self.terms), f"equation {self.id} of {self.subject} needs terms")
        require(
            all(coefficient != 0 for coefficient, _ in self.terms),
            f"equation {self.id} of {self.subject}: no coefficient may be 0",
        )
        keys = [key for _, key in self.terms]
        require(len(keys) == len(set(keys)), f"equation {self.id} of {self.subject}: each key once")


class TermLine(Value, frozen=True, kw_only=True):
    """One number to be read at a site: key, term, device ("" for the site), what it counts here.

    `style` is the ballot style that it is of, "" for all styles together.
    """

    key: str
    term: Term
    device: str
    unit: str
    style: str = ""

    @property
    def name(self) -> str:
        """The term with its style, without the device: ``ballots_unused%E07``."""
        return self.key.partition("@")[0]


class Balance(Value, frozen=True, kw_only=True):
    """All equations of a site on a day and the numbers that they need, in the order to read them.

    `unknown_steps` are words in the site kind's ``balance`` that name no step.
    """

    site: str
    sheets_per_ballot: int
    steps: tuple[Step, ...]
    lines: tuple[TermLine, ...]
    equations: tuple[Equation, ...]
    unknown_steps: tuple[str, ...] = ()
    styles: StylesHere = NO_STYLES
