"""One option for each site under limits that all sites share: least cost, with a proved bound.

The multiple-choice knapsack problem with several limits. Its linear relaxation gives multipliers; the bound
is then computed from them in whole numbers (Lagrangian relaxation, weak duality: for any multipliers >= 0 the
sum over the sites of the least of cost plus multipliers times use, less multipliers times limits, is at most
the cost of every choice that keeps the limits). So it does not rest on the solver's arithmetic. A corner of
the relaxation splits at most as many sites as there are limits (Sinha and Zoltners 1979, from memory: for one
limit); the rest is settled by a search over the options that the bound does not rule out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    Ints = np.ndarray[Any, np.dtype[np.int64]]
    Floats = np.ndarray[Any, np.dtype[np.float64]]

MOST_NODES = 5_000
"""Nodes of the search for whole numbers; a count, never a time, so that every machine ends alike."""

FINE = 1 << 20
"""The grain of multipliers in a proof that limits cannot be kept."""


@dataclass(frozen=True, slots=True)
class Choices:
    """Options in the order of the sites: `cost` (n,), `use` (n, limits), `starts` (sites + 1,), `limits`."""

    cost: Ints
    use: Ints
    starts: Ints
    limits: Ints

    @property
    def sites(self) -> int:
        """How many sites choose."""
        return len(self.starts) - 1

    @property
    def site_of(self) -> Ints:
        """The site of each option."""
        return np.repeat(np.arange(self.sites), np.diff(self.starts))

    def kept(self, keep: np.ndarray[Any, np.dtype[np.bool_]]) -> tuple[Choices, Ints]:
        """The choices with the options of `keep` alone, and where these stood."""
        at = np.flatnonzero(keep)
        starts = np.searchsorted(at, self.starts)
        return Choices(self.cost[at], self.use[at], starts.astype(np.int64), self.limits), at

    def least_of(self, values: Any) -> Any:
        """The least of `values` (one for each option) at each site."""
        return np.minimum.reduceat(values, self.starts[:-1])


@dataclass(frozen=True, slots=True)
class Chosen:
    """The option of each site, their cost, the bound with the multipliers that prove it.

    `best`: the search for whole numbers came to its end, so that no other choice costs less.
    """

    picks: tuple[int, ...]
    cost: int
    bound: int
    multipliers: tuple[int, ...]
    best: bool


def choices(sites: Sequence[Sequence[tuple[int, Sequence[int]]]], limits: Sequence[int]) -> Choices:
    """Choices from ``(cost, uses)`` of each option of each site; every site needs an option."""
    flat = [option for site in sites for option in site]
    return Choices(
        np.array([cost for cost, _ in flat], np.int64),
        np.array([use for _, use in flat], np.int64).reshape(len(flat), len(limits)),
        np.cumsum([0, *(len(site) for site in sites)]).astype(np.int64),
        np.array(limits, np.int64),
    )


def lagrangian_bound(given: Choices, multipliers: Sequence[int]) -> int:
    """The bound that these multipliers (integers >= 0) prove; exact."""
    if min(multipliers, default=0) < 0:
        raise ValueError(f"multipliers must be >= 0, got {tuple(multipliers)}")
    weights = np.array(multipliers, np.int64)
    return int(given.least_of(given.cost + given.use @ weights).sum()) - int(weights @ given.limits)


def choose(given: Choices) -> Chosen | None:
    """The least-cost choice that keeps the limits, with its bound; None where there is none.

    The same choices in the same order give the same answer.
    """
    slim, at = given.kept(_undominated(given))
    relaxed = _relaxed(slim)
    if relaxed is None:
        return None
    shares, multipliers = relaxed
    bound = lagrangian_bound(slim, multipliers)
    first = _rounded(slim, shares)
    if first is not None and _cost(slim, first) <= bound:
        return Chosen(_at(at, first), _cost(slim, first), bound, multipliers, True)
    found, best = _search(slim, multipliers, bound, first)
    if found is None:
        return None
    return Chosen(_at(at, found), _cost(slim, found), bound, multipliers, best)


def limits_kept(given: Choices) -> bool:
    """Whether the relaxation can keep the limits; where not, a proof in whole numbers was found."""
    least = given.least_of(given.use)
    ideal = (given.use == np.repeat(least, np.diff(given.starts), axis=0)).all(axis=1)
    if bool(np.logical_or.reduceat(ideal, given.starts[:-1]).all()):
        return bool((least.sum(axis=0) <= given.limits).all())
    if bool((least.sum(axis=0) > given.limits).any()):
        return False
    excess, duals = _least_excess(given)
    if excess <= 0:
        return True
    weights = np.rint(duals * FINE).astype(np.int64)
    return int(given.least_of(given.use @ weights).sum()) <= int(weights @ given.limits)


def _at(at: Ints, picks: list[int]) -> tuple[int, ...]:
    return tuple(int(at[pick]) for pick in picks)


def _cost(given: Choices, picks: list[int]) -> int:
    return int(given.cost[picks].sum())


def _undominated(given: Choices) -> np.ndarray[Any, np.dtype[np.bool_]]:
    """Options for which no other of the site costs and uses at most as much; the first of equals stays."""
    keep = np.ones(len(given.cost), bool)
    for low, high in zip(given.starts[:-1].tolist(), given.starts[1:].tolist(), strict=True):
        whole = np.column_stack([given.cost[low:high], given.use[low:high]])
        order = np.lexsort((np.arange(high - low), *whole.T[::-1]))
        front: list[Ints] = []
        for one in order.tolist():
            if front and bool((np.array(front) <= whole[one]).all(axis=1).any()):
                keep[low + one] = False
            else:
                front.append(whole[one])
    return keep


def _model(given: Choices, cost: Floats, excess: bool = False) -> Any:
    """The relaxation for the solver: a row for each limit, then one for each site."""
    import highspy

    options, kinds = given.use.shape
    rows = kinds + given.sites
    lp = highspy.HighsLp()
    columns = options + (1 if excess else 0)
    lp.num_col_, lp.num_row_ = columns, rows
    lp.col_cost_ = np.concatenate([cost, np.ones(columns - options)])
    lp.col_lower_ = np.zeros(columns)
    lp.col_upper_ = np.concatenate([np.ones(options), np.full(columns - options, highspy.kHighsInf)])
    lp.row_lower_ = np.concatenate([np.full(kinds, -highspy.kHighsInf), np.ones(given.sites)])
    lp.row_upper_ = np.concatenate([given.limits.astype(float), np.ones(given.sites)])
    whole = np.column_stack([given.use, np.ones(options, np.int64)])
    index = np.column_stack([np.tile(np.arange(kinds), (options, 1)), kinds + given.site_of])
    filled = whole != 0
    counts = filled.sum(axis=1)
    values, indexes = whole[filled].astype(float), index[filled]
    if excess:
        counts = np.append(counts, kinds)
        values = np.concatenate([values, np.full(kinds, -1.0)])
        indexes = np.concatenate([indexes, np.arange(kinds)])
    lp.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    lp.a_matrix_.start_ = np.concatenate([[0], np.cumsum(counts)]).astype(np.int32)
    lp.a_matrix_.index_ = indexes.astype(np.int32)
    lp.a_matrix_.value_ = values
    return lp


def _solved(lp: Any) -> Any:
    """The solver after it has run, silent, on one thread; None where no values keep the rows."""
    import highspy

    # The class that the package shows prints a banner when it is made; the one beneath does not.
    solver = highspy._core._Highs()
    options = highspy.HighsOptions()
    options.output_flag = False
    options.log_to_console = False
    options.threads = 1
    options.random_seed = 0
    options.mip_max_nodes = MOST_NODES
    options.mip_rel_gap = 0.0
    solver.passOptions(options)
    solver.passModel(lp)
    solver.run()
    status = solver.getModelStatus()
    if status == highspy.HighsModelStatus.kInfeasible:
        return None
    ended = (highspy.HighsModelStatus.kOptimal, highspy.HighsModelStatus.kSolutionLimit)
    if status not in ended:
        raise ArithmeticError(f"the solver ended without an answer: {status}")
    return solver


def _scale(cost: Ints) -> float:
    return max(1.0, float(np.abs(cost).max(initial=0)) / 1e6)


def _relaxed(given: Choices) -> tuple[Floats, tuple[int, ...]] | None:
    """Shares of the options in the relaxation, and the multipliers of the limits as whole numbers."""
    scale = _scale(given.cost)
    solver = _solved(_model(given, given.cost / scale))
    if solver is None:
        return None
    solution = solver.getSolution()
    duals = -np.array(solution.row_dual[: len(given.limits)]) * scale
    return np.array(solution.col_value), tuple(max(0, round(d)) for d in duals.tolist())


def _least_excess(given: Choices) -> tuple[float, Floats]:
    """How far the relaxation must pass some limit, and the duals of the limits."""
    solver = _solved(_model(given, np.zeros(len(given.cost)), excess=True))
    duals = -np.array(solver.getSolution().row_dual[: len(given.limits)])
    return float(solver.getInfo().objective_function_value), np.maximum(duals, 0.0)


def _rounded(given: Choices, shares: Floats) -> list[int] | None:
    """The option of the greatest share at each site, made to keep the limits, then bettered; None if not."""
    picks = []
    for low, high in zip(given.starts[:-1].tolist(), given.starts[1:].tolist(), strict=True):
        picks.append(low + int(np.argmax(shares[low:high])))
    used = given.use[picks].sum(axis=0)
    site_of = given.site_of
    # From too many devices down: each step the swap that costs least for each device it gives back.
    while bool((used > given.limits).any()):
        now = np.array(picks)[site_of]
        over = np.maximum(used - given.limits, 0)
        gives = np.minimum(np.maximum(given.use[now] - given.use, 0), over).sum(axis=1)
        adds = np.maximum(np.maximum(given.use - given.use[now], 0) - np.maximum(given.limits - used, 0), 0)
        fits = (gives > 0) & (adds.sum(axis=1) == 0)
        if not bool(fits.any()):
            return None
        rate = np.where(fits, (given.cost - given.cost[now]) / np.maximum(gives, 1), np.inf)
        take = int(np.argmin(rate))
        used = used + given.use[take] - given.use[picks[site_of[take]]]
        picks[site_of[take]] = take
    # With what is left: each step the swap that saves most and fits.
    while True:
        now = np.array(picks)[site_of]
        fits = ((used + given.use - given.use[now]) <= given.limits).all(axis=1)
        saves = np.where(fits, given.cost[now] - given.cost, 0)
        take = int(np.argmax(saves))
        if int(saves[take]) <= 0:
            return picks
        used = used + given.use[take] - given.use[picks[site_of[take]]]
        picks[site_of[take]] = take


def _search(
    given: Choices, multipliers: tuple[int, ...], bound: int, first: list[int] | None
) -> tuple[list[int] | None, bool]:
    """The best whole choice and whether the search ended; only options that can still be in one better."""
    import highspy

    keep = np.ones(len(given.cost), bool)
    if first is not None:
        priced = given.cost + given.use @ np.array(multipliers, np.int64)
        above = priced - np.repeat(given.least_of(priced), np.diff(given.starts))
        keep = above <= _cost(given, first) - bound
        keep[first] = True
    slim, at = given.kept(keep)
    lp = _model(slim, slim.cost / _scale(slim.cost))
    lp.integrality_ = [highspy.HighsVarType.kInteger] * len(slim.cost)
    solver = _solved(lp)
    if solver is None:
        return first, True
    ended = solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
    values = np.array(solver.getSolution().col_value)
    if len(values) != len(slim.cost) or float(values.sum()) < 0.5:
        return first, False
    starts = zip(slim.starts[:-1].tolist(), slim.starts[1:].tolist(), strict=True)
    found = [int(at[low + int(np.argmax(values[low:high]))]) for low, high in starts]
    keeps = bool((given.use[found].sum(axis=0) <= given.limits).all())
    if not keeps or (first is not None and _cost(given, first) <= _cost(given, found)):
        return first, ended and keeps
    return found, ended
