"""How many voters come in person: past elections, partly pooled over the sites of the county.

The model, on the natural log of ballots over registered voters (the rate):

    log rate(site, election) = level(site) + tide(election) + local(site, election)

``level`` is drawn towards the county's mean as far as the site's own past is short or unsteady,
``tide`` lifts or lowers all sites together, ``local`` is the site's own. A new election has a tide
and locals nobody has seen, so the draws of all sites rise and fall together. Spreads are estimated
from the past with a weak prior (scaled inverse chi-square) and drawn, which gives Student t tails:
Gelman et al., Bayesian Data Analysis, 3rd ed., sections 2.6 and 5.4 (formulas from memory).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from pollstead.election.values import Value, require

if TYPE_CHECKING:
    import numpy as np

PRIOR_DEGREES = 3.0
"""Weight of the prior spreads, in elections' worth of evidence (our choice)."""
PRIOR_TIDE_SPREAD = 0.22
"""Prior spread of the tide between elections, log scale (our choice; see docs/background/demand.md)."""
PRIOR_LOCAL_SPREAD = 0.10
"""Prior spread of a site's own movement, log scale (our choice)."""
PRIOR_LEVEL_SPREAD = 0.30
"""Prior spread of the sites' levels around the county's, log scale (our choice)."""
COMPARABLE_WEIGHT = 3.0
"""How much more an election of the same year of the four-year cycle counts towards the new tide."""


class PastRate(Value, frozen=True, kw_only=True):
    """One site in one past election: its place in the lists, ballots and the registered they are of."""

    site: int
    election: int
    ballots: int
    registered: int

    def __post_init__(self) -> None:
        require(self.registered >= 1, f"registered must be >= 1, got {self.registered}")
        require(self.ballots >= 0, f"ballots must be >= 0, got {self.ballots}")


class RateModel(Value, frozen=True, kw_only=True):
    """The fitted model: per-site levels, tides, spreads; everything on the log scale.

    `level` and `level_error` have one entry a site (its level and how unsure it is), `own` the mean of its
    own past with the tides taken out (the county's where it has none), `county` the mean over the sites:
    level = county + own_share × (own − county). `center` is the mean tide for the new election.
    """

    level: tuple[float, ...]
    level_error: tuple[float, ...]
    own: tuple[float, ...]
    own_share: tuple[float, ...]
    county: float
    center: float
    tide_spread: float
    local_spread: float
    level_spread: float
    n_elections: int
    tide_degrees: float
    local_degrees: float


def fit_rates(past: tuple[PastRate, ...], n_sites: int, comparable: tuple[bool, ...]) -> RateModel:
    """Fit the model to `past`; `comparable` has one entry an election.

    Site means and tides are found by alternating weighted means (three sweeps settle them when the
    table has gaps; one is exact when it has none). Raises ValueError when `past` is empty.
    """
    require(bool(past), "a rate model needs at least one past count")
    n_elections = len(comparable)
    logs = [math.log((row.ballots + 0.5) / (row.registered + 1.0)) for row in past]
    tide = [0.0] * n_elections
    site_rows: list[list[int]] = [[] for _ in range(n_sites)]
    election_rows: list[list[int]] = [[] for _ in range(n_elections)]
    for i, row in enumerate(past):
        site_rows[row.site].append(i)
        election_rows[row.election].append(i)
    mean = [0.0] * n_sites
    for _ in range(3):
        for s, rows in enumerate(site_rows):
            if rows:
                mean[s] = math.fsum(logs[i] - tide[past[i].election] for i in rows) / len(rows)
        for e, rows in enumerate(election_rows):
            if rows:
                tide[e] = math.fsum(logs[i] - mean[past[i].site] for i in rows) / len(rows)
        held = [e for e in range(n_elections) if election_rows[e]]
        shift = math.fsum(tide[e] for e in held) / len(held)
        tide = [t - shift for t in tide]
        mean = [m + shift if site_rows[s] else m for s, m in enumerate(mean)]

    seen = [s for s in range(n_sites) if site_rows[s]]
    residual = math.fsum((logs[i] - mean[r.site] - tide[r.election]) ** 2 for i, r in enumerate(past))
    free = max(len(past) - len(seen) - len(held) + 1, 0)
    local_degrees = PRIOR_DEGREES + free
    local_spread = math.sqrt((PRIOR_DEGREES * PRIOR_LOCAL_SPREAD**2 + residual) / local_degrees)
    tide_square = math.fsum(tide[e] ** 2 for e in held)
    tide_degrees = PRIOR_DEGREES + len(held) - 1
    tide_spread = math.sqrt((PRIOR_DEGREES * PRIOR_TIDE_SPREAD**2 + tide_square) / tide_degrees)

    county = math.fsum(mean[s] for s in seen) / len(seen)
    noise = math.fsum(local_spread**2 / len(site_rows[s]) for s in seen) / len(seen)
    between = math.fsum((mean[s] - county) ** 2 for s in seen) - len(seen) * noise
    level_spread = math.sqrt(
        (PRIOR_DEGREES * PRIOR_LEVEL_SPREAD**2 + max(between, 0.0)) / (PRIOR_DEGREES + len(seen))
    )
    level, error, own = [], [], []
    for s in range(n_sites):
        own_noise = local_spread**2 / len(site_rows[s]) if site_rows[s] else math.inf
        share = 0.0 if math.isinf(own_noise) else level_spread**2 / (level_spread**2 + own_noise)
        own.append(share)
        level.append(county + share * (mean[s] - county) if share else county)
        error.append(level_spread * math.sqrt(1.0 - share))
    weights = [COMPARABLE_WEIGHT if comparable[e] else 1.0 for e in held]
    center = math.fsum(w * tide[e] for w, e in zip(weights, held, strict=True)) / math.fsum(weights)
    return RateModel(
        level=tuple(level),
        level_error=tuple(error),
        own=tuple(mean[s] if site_rows[s] else county for s in range(n_sites)),
        own_share=tuple(own),
        county=county,
        center=center,
        tide_spread=tide_spread,
        local_spread=local_spread,
        level_spread=level_spread,
        n_elections=len(held),
        tide_degrees=tide_degrees,
        local_degrees=local_degrees,
    )


def draw_tide(model: RateModel, rng: np.random.Generator, n_draws: int) -> np.ndarray[Any, Any]:
    """Draws of the new election's tide, shape (n_draws,), shared by every site of a draw."""
    scale = model.tide_spread * math.sqrt(1.0 + 1.0 / model.n_elections)
    draws: np.ndarray[Any, Any] = model.center + scale * rng.standard_t(model.tide_degrees, n_draws)
    return draws


def draw_ballots(
    model: RateModel, site: int, registered: int, tide: np.ndarray[Any, Any], rng: np.random.Generator
) -> np.ndarray[Any, Any]:
    """Draws of one site's ballots, whole numbers of shape (n_draws,), 0..registered."""
    import numpy as np

    local = model.local_spread * rng.standard_t(model.local_degrees, tide.shape[0])
    level = model.level[site] + model.level_error[site] * rng.standard_normal(tide.shape[0])
    rate = np.exp(np.minimum(level + tide + local, 0.0))
    return np.asarray(rng.binomial(registered, rate), dtype=np.int32)
