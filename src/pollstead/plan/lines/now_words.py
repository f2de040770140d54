"""What a told wait says: a word that somebody gave, that is rounded, and that stands until it is changed.

Where nobody counts people, a site tells or posts a wait. Such words repeat themselves, often for hours, far
longer than a line at odds with the plan would last. So each state holds one of two views: told waits follow
the lines as counts do; or a told wait stands for a while, because as many people come as the stations serve
(who sees a long line comes later, who sees none comes now). Which view fits is learned from the words of the
day: a word told again speaks for standing, one that changes with the lines against it.

A page that is not kept up looks the same from outside. No count of words tells them apart; counted people do.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    Ints = np.ndarray[Any, np.dtype[np.int64]]
    Floats = np.ndarray[Any, np.dtype[np.float64]]
    Bools = np.ndarray[Any, np.dtype[np.bool_]]

STANDS_MS = 6 * 3_600_000
"""How long a told wait stands on average where it does. Fitted to posted waits of one county, rounded."""
STANDS_SHARE = 0.8
"""Chance, before any word, that a site's told waits stand. The same."""
ANEW = 0.05
"""Share of states that take up either view anew with each word: what is learned in a day may change."""
SHORT_MS, SHORT_LOAD = 5 * 60_000, 0.8
"""A told wait up to so much is no line; where it stands, at most that share of what stations serve comes."""
ANYWHERE_MS = 3_600_000
"""Where words stand, a new one comes half from the lines and half from anywhere in about so much."""


class Words:
    """The told waits of a site as its states take them: `stands` (states,) and until when, the last word.

    `share` is the chance before any word that words stand, `lasts_ms` for how long on average.
    """

    def __init__(self, states: int, rng: np.random.Generator, share: float, lasts_ms: int) -> None:
        self.share, self.lasts_ms = share, lasts_ms
        self.stands: Bools = rng.random(states) < share
        self.until = np.zeros(states, np.int64)
        self.told: tuple[int, int] | None = None

    def copy(self) -> Words:
        """The same once more, to be changed apart."""
        other = object.__new__(Words)
        other.__dict__.update(self.__dict__)
        other.stands, other.until = self.stands.copy(), self.until.copy()
        return other

    def take(self, chosen: Ints) -> None:
        """Keep these states, some of them more than once."""
        self.stands, self.until = self.stands[chosen], self.until[chosen]

    def hear(self, wait_ms: int | None, now_ms: int, rng: np.random.Generator) -> None:
        """A wait was told and stands from now on, where words stand. None: people were counted instead."""
        if wait_ms is None:
            self.until[:], self.told = 0, None
            return
        self.told = (wait_ms, now_ms)
        states = len(self.stands)
        until = now_ms + rng.exponential(self.lasts_ms, states).astype(np.int64)
        self.until = np.where(self.stands, until, 0)
        self.stands = np.where(rng.random(states) < ANEW, rng.random(states) < self.share, self.stands)

    def chance(self, wait_ms: int, now_ms: int, fresh: Floats, step_ms: int) -> tuple[Floats, Floats]:
        """The chance (a millisecond) of a told wait in each state, and how much of it is "anywhere".

        `fresh` is its chance by the state's lines, `step_ms` the step in which it is told. A short wait told
        again tells nothing of the words: lines are short at most hours.
        """
        if wait_ms <= SHORT_MS:
            return fresh, np.zeros(len(fresh))
        anywhere = 0.5 / (ANYWHERE_MS + 2 * wait_ms)
        chance = np.where(self.stands, 0.5 * fresh + anywhere, fresh)
        if self.told is not None:
            last, at_ms = self.told
            still = math.exp(-(now_ms - at_ms) / self.lasts_ms)
            same = still / step_ms if wait_ms == last else 0.0
            anywhere *= 1 - still
            chance = np.where(self.stands, same + (1 - still) * chance, fresh)
        return chance, np.where(self.stands, anywhere, 0.0) / chance

    def balanced(self, rates: Floats, served: Floats, edges: Ints, now_ms: int) -> Floats:
        """Rates of arrival (states, quarters) where a word stands: as the stations serve, or less."""
        if self.told is None:
            return rates
        stands = self.until[:, None] > np.maximum(edges[None, :-1], now_ms)
        if self.told[0] > SHORT_MS:
            return np.where(stands, served[:, None], rates)
        return np.where(stands, np.minimum(rates, SHORT_LOAD * served[:, None]), rates)
