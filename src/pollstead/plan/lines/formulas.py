"""Closed formulas for lines that have settled: what the simulation is held against, and a first look.

Rates are per one unit of time of the caller's choice, waits are in that unit. None of these knows an opening
line, a changing rate or a closing hour: they do not size a site.

Sources: Erlang 1917 (loss and delay formulas), Pollaczek 1930 and Khinchine 1932 (one station, any service),
Jackson 1957 (networks); as in Gross and Harris, "Fundamentals of Queueing Theory", 3rd ed. 1998, chapters 2,
4 and 5 (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence


def _positive(name: str, value: float) -> None:
    if not (value > 0 and math.isfinite(value)):
        raise ValueError(f"{name} must be a finite number > 0, got {value!r}")


def _stations(value: int) -> None:
    if value < 1:
        raise ValueError(f"stations must be >= 1, got {value!r}")


def erlang_b(stations: int, load: float) -> float:
    """Chance that all of `stations` are taken when nobody waits; `load` in erlangs, > 0.

    The recursion B(0) = 1, B(c) = load B(c-1) / (c + load B(c-1)). Raises ValueError on other arguments.
    """
    _stations(stations)
    _positive("load", load)
    blocked = 1.0
    for c in range(1, stations + 1):
        blocked = load * blocked / (c + load * blocked)
    return blocked


def erlang_c(stations: int, load: float) -> float:
    """Chance that an arriving voter waits, exponential service; `load` in erlangs, 1 from `stations` on."""
    blocked = erlang_b(stations, load)
    if load >= stations:
        return 1.0
    return blocked / (1.0 - load / stations * (1.0 - blocked))


@dataclass(frozen=True, slots=True)
class SettledLine:
    """Figures of a settled line: utilisation, chance of an empty system, of waiting; people and waits.

    `in_line` and `in_system` are mean numbers of people, `wait` and `time_in_system` means in the caller's
    unit; inf where the line never settles.
    """

    utilisation: float
    empty: float
    waits: float
    in_line: float
    in_system: float
    wait: float
    time_in_system: float


def settled_line(arrival_rate: float, service_rate: float, stations: int) -> SettledLine:
    """Poisson arrivals, exponential service, `stations` alike (M/M/c), first come, first served.

    `service_rate` is of one station. Raises ValueError unless rates are > 0 and stations >= 1.
    """
    _positive("arrival_rate", arrival_rate)
    _positive("service_rate", service_rate)
    load = arrival_rate / service_rate
    waits = erlang_c(stations, load)
    if load >= stations:
        return SettledLine(1.0, 0.0, 1.0, math.inf, math.inf, math.inf, math.inf)
    terms = [1.0]
    for k in range(1, stations + 1):
        terms.append(terms[-1] * load / k)
    empty = 1.0 / (math.fsum(terms[:-1]) + terms[-1] * stations / (stations - load))
    in_line = waits * load / (stations - load)
    return SettledLine(
        utilisation=load / stations,
        empty=empty,
        waits=waits,
        in_line=in_line,
        in_system=in_line + load,
        wait=in_line / arrival_rate,
        time_in_system=(in_line + load) / arrival_rate,
    )


def served_within(arrival_rate: float, service_rate: float, stations: int, within: float) -> float:
    """Chance that a voter of a settled M/M/c line waits at most `within`.

    1 - C exp(-(c mu - lambda) within), C of `erlang_c`.
    """
    line = settled_line(arrival_rate, service_rate, stations)
    if line.utilisation >= 1.0:
        return 0.0
    return 1.0 - line.waits * math.exp(-(stations * service_rate - arrival_rate) * within)


def fewest_stations(arrival_rate: float, service_rate: float, within: float, share: float) -> int:
    """The fewest stations with which at least `share` (0 to 1, below 1) of voters wait at most `within`."""
    if not 0 <= share < 1:
        raise ValueError(f"share must be >= 0 and < 1, got {share!r}")
    stations = max(1, math.floor(arrival_rate / service_rate) + 1)
    while served_within(arrival_rate, service_rate, stations, within) < share:
        stations += 1
    return stations


def one_station_wait(arrival_rate: float, mean_service: float, cv_squared: float) -> float:
    """Mean wait at one station with any service law (Pollaczek-Khinchine); inf where it never settles.

    `cv_squared` is the variance of service over its mean squared, >= 0.
    """
    _positive("arrival_rate", arrival_rate)
    _positive("mean_service", mean_service)
    if cv_squared < 0:
        raise ValueError(f"cv_squared must be >= 0, got {cv_squared!r}")
    busy = arrival_rate * mean_service
    if busy >= 1.0:
        return math.inf
    return busy * mean_service * (1.0 + cv_squared) / (2.0 * (1.0 - busy))


def network_rates(outside: Sequence[float], onward: Sequence[Sequence[float]]) -> list[float]:
    """Rates at which voters reach each place of an open network: the traffic equations of Jackson 1957.

    `outside` are the rates from outside, shape (places,); `onward[i][j]` the share that goes from place i to
    place j, shape (places, places). Solved by elimination. Raises ValueError when nobody can leave.
    """
    n = len(outside)
    rows = [
        [(1.0 if i == j else 0.0) - float(onward[j][i]) for j in range(n)] + [float(outside[i])]
        for i in range(n)
    ]
    for k in range(n):
        pivot = max(range(k, n), key=lambda i: abs(rows[i][k]))
        if abs(rows[pivot][k]) < 1e-12:
            raise ValueError(
                "onward must let people leave the network: its traffic equations have no solution"
            )
        rows[k], rows[pivot] = rows[pivot], rows[k]
        for i in range(n):
            if i != k:
                factor = rows[i][k] / rows[k][k]
                rows[i] = [a - factor * b for a, b in zip(rows[i], rows[k], strict=True)]
    return [rows[i][n] / rows[i][i] for i in range(n)]


def network_lines(
    outside: Sequence[float],
    onward: Sequence[Sequence[float]],
    service_rates: Sequence[float],
    stations: Sequence[int],
) -> list[SettledLine]:
    """The settled lines of an open network of M/M/c places, one entry a place (Jackson 1957)."""
    rates = network_rates(outside, onward)
    return [settled_line(r, m, c) for r, m, c in zip(rates, service_rates, stations, strict=True)]
