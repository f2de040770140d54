"""How the seals run down: what each day takes by the event plan, and when a kind runs short.

Every closure takes its seals after test, and again whenever it is sealed anew: at opening, every night,
at closing. The county's share for spoiled seals comes on top, rounded up by kind at each date.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter

from pollstead.election.county import Election
from pollstead.election.rules import CountyRules
from pollstead.election.station_type import Moment, StationType
from pollstead.election.units import PPM
from pollstead.election.values import Value
from pollstead.plan.seals.policy import needs_by_day, owners_of
from pollstead.plan.terms.version import PlanVersion, SitePlan


class ForecastLine(Value, frozen=True, kw_only=True):
    """What one kind of seal needs on one date (None: after test), with the share for spoiled ones.

    `total` is what was needed up to and with this line; `left` what is then left of the stock, below 0
    where it runs short; None while no stock is known.
    """

    seal_kind: str
    date: dt.date | None
    moment: Moment
    needed: int
    total: int
    left: int | None


class Forecast(Value, frozen=True, kw_only=True):
    """The lines of all kinds by kind and date."""

    lines: tuple[ForecastLine, ...]

    def short(self, seal_kind: str) -> ForecastLine | None:
        """The first line of a kind at which the stock does not suffice."""
        return next(
            (
                line
                for line in self.lines
                if line.seal_kind == seal_kind and line.left is not None and line.left < 0
            ),
            None,
        )


def forecast(
    election: Election, plan: PlanVersion, stock: dict[str, int], applied: dict[str, int]
) -> Forecast:
    """Needs by date against the stock: `stock` counts what came in and is not void, by kind.

    `applied` are seals of that stock that stand on closures already; they cover needs after test.
    """
    needs: Counter[tuple[str, dt.date | None, Moment]] = Counter()
    types = {t.id: t for t in election.station_types}
    for site in plan.sites:
        needs.update(site_needs(site, types))
    for spare in plan.spares:
        for seal in spare.seals:
            if seal.applied is Moment.AFTER_TEST:
                needs[seal.seal_kind, None, Moment.AFTER_TEST] += 1
    lines = []
    for kind in sorted({key[0] for key in needs}):
        mine = sorted(
            ((date, moment, count) for (k, date, moment), count in needs.items() if k == kind),
            key=lambda n: (n[0] or dt.date.min, list(Moment).index(n[1])),
        )
        total = 0
        for date, moment, count in mine:
            to_come = max(0, count - applied.get(kind, 0)) if date is None else count
            needed = min(count, applied.get(kind, 0)) if date is None else 0
            needed += with_spoiled(to_come, election.rules)
            total += needed
            left = stock[kind] - total if kind in stock else None
            lines.append(
                ForecastLine(seal_kind=kind, date=date, moment=moment, needed=needed, total=total, left=left)
            )
    return Forecast(lines=tuple(lines))


def with_spoiled(count: int, rules: CountyRules) -> int:
    """`count` seals with the county's share for those that are spoiled while they are put on, rounded up."""
    return count + -(-count * rules.whole("seal-spoil") // PPM)


def site_needs(site: SitePlan, types: dict[str, StationType]) -> Counter[tuple[str, dt.date | None, Moment]]:
    """Seals that one site takes, by kind, date (None: after test) and moment."""
    needs: Counter[tuple[str, dt.date | None, Moment]] = Counter()
    for station in site.stations:
        station_type = types.get(station.station_type)
        dates = [day.date for day in site.demand if station.stands_on(day.date)]
        # A station type may have gone from the tables since the plan was made.
        if station_type is None or not dates:
            continue
        for closure in station_type.closures:
            carried = sum(times for _, times in owners_of(closure, station_type, station))
            for (moment, day), quantity in needs_by_day(closure, len(dates)).items():
                date = None if moment is Moment.AFTER_TEST else _date_of(dates, moment, day)
                needs[closure.seal_kind, date, moment] += quantity * carried
    return +needs


def _date_of(dates: list[dt.date], moment: Moment, day: int | None) -> dt.date:
    """The date of a moment; the evening before the first day, receiving on the evening of the last one."""
    if day is not None:
        return dates[day]
    return dates[0] - dt.timedelta(days=1) if moment is Moment.EVENING_BEFORE else dates[-1]
