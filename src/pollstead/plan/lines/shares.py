"""How sure a share of days is, when the days go through the draws of demand in turn.

Most of what makes one day worse than another is how many voters come. Days that take each draw equally
often carry no chance of that kind, so their share is surer than as many days drawn blindly. Each draw is a
stratum; while there are few days of each, neighbours in size are put together (collapsed strata, Cochran
1977, Sampling Techniques, section 5A.12, from memory), which can only overstate the spread. From the spread
inside the groups follows how many blindly drawn days would be as sure (`worth`), and with this number the
interval of Clopper and Pearson is taken: Korn and Graubard 1998, Survey Methodology 24, 193-201. A share is
never worth less than its days, since differences between the draws make a count surer (Hoeffding 1956,
Annals of Mathematical Statistics 27, 713-721, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING, Any

from pollstead.plan.lines.intervals import WHOLE_PPM, beta_cdf, exact_interval_ppm
from pollstead.plan.lines.trials import stride
from pollstead.plan.terms.lines import RiskEstimate

if TYPE_CHECKING:
    import numpy as np

    from pollstead.plan.terms.lines import ArrivalDay

    Ints = np.ndarray[Any, np.dtype[np.int64]]
    Flags = np.ndarray[Any, np.dtype[np.bool_]]

GROUP_DAYS = 5
"""Days in a group, at least, but for the last one: draws are put together until there are as many."""

LEAST_FREEDOM = 3
"""Degrees of freedom below which the plain count is taken.

Half of those in the groups that hold days of both kinds, since the groups weigh unequally.
"""

SIDE = 0.025
"""Chance left on each side of an interval that is shown: 95 % between."""


@dataclass(frozen=True, slots=True)
class Share:
    """`over` of `days` days are over the limit; `worth`: as sure as so many blindly drawn days.

    `freedom`: degrees of freedom behind `worth`; 0 where it is the plain count.
    """

    over: int
    days: int
    worth: float
    freedom: int = 0

    def _worth(self, chance: float) -> float:
        """`worth`, less where its own estimate rests on few days (Student's t for the normal quantile)."""
        if self.freedom == 0:
            return float(self.days)
        z = -NormalDist().inv_cdf(chance)
        return max(float(self.days), self.worth * (z / _student(z, self.freedom)) ** 2)

    def is_below(self, risk_ppm: int, chance: float) -> bool:
        """Whether at a true share of `risk_ppm` so few days over come up with at most `chance`."""
        worth = self._worth(chance)
        over = worth * self.over / self.days
        return 1.0 - beta_cdf(over + 1.0, worth - over, risk_ppm / WHOLE_PPM) <= chance

    def is_above(self, risk_ppm: int, chance: float) -> bool:
        """Whether at a true share of `risk_ppm` so many days over come up with at most `chance`."""
        worth = self._worth(chance)
        over = worth * self.over / self.days
        return self.over > 0 and beta_cdf(over, worth - over + 1.0, risk_ppm / WHOLE_PPM) <= chance

    def interval_ppm(self) -> tuple[int, int]:
        """The 95 % interval in ppm, rounded outwards."""
        worth = self._worth(SIDE)
        return exact_interval_ppm(worth * self.over / self.days, worth)


def risk_of(share: Share) -> RiskEstimate:
    """The share as people are told it, with its interval."""
    low, high = share.interval_ppm()
    return RiskEstimate(over=share.over, days=share.days, low_ppm=low, high_ppm=high)


def ranks_of(day: ArrivalDay, first_day: int) -> Ints:
    """The place in order of size of each day's draw, for as many days as draws from `first_day` on."""
    import numpy as np

    draws = len(day.totals)
    turn = (np.arange(first_day, first_day + draws) % draws) * stride(draws) % draws
    ranks = np.empty(draws, np.int64)
    ranks[np.argsort(day.totals[turn], kind="stable")] = np.arange(draws)
    return ranks


def share_of(over: Flags, ranks: Ints) -> Share:
    """What days that are `over` (bool, shape (days,)) say; `ranks` as `ranks_of` gives them.

    Days that do not go through all draws equally often are taken as though they were drawn blindly.
    """
    import numpy as np

    days, draws = len(over), len(ranks)
    total = int(over.sum())
    plain = Share(total, days, float(days))
    if days % draws != 0 or total in (0, days):
        return plain
    rounds = days // draws
    groups = ranks // -(-GROUP_DAYS // rounds)
    in_group = np.bincount(groups) * rounds
    over_in_group = np.bincount(groups, weights=over.reshape(rounds, draws).sum(axis=0))
    mixed = (over_in_group > 0) & (over_in_group < in_group)
    freedom = int((in_group[mixed] - 1).sum()) // 2
    if freedom < LEAST_FREEDOM:
        return plain
    size, hits = in_group[mixed].astype(float), over_in_group[mixed]
    spread = float((hits * (size - hits) / (size - 1.0)).sum()) / days**2
    share = total / days
    return Share(total, days, share * (1.0 - share) / spread, freedom)


def _student(z: float, freedom: int) -> float:
    """Student's t at the chance of the normal quantile `z` (Abramowitz and Stegun 1964, 26.7.5)."""
    g1 = (z**3 + z) / 4
    g2 = (5 * z**5 + 16 * z**3 + 3 * z) / 96
    g3 = (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384
    return z + g1 / freedom + g2 / freedom**2 + g3 / freedom**3
