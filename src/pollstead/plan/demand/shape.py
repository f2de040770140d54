"""When in the day voters come: whole-number weights of the quarter hours from opening to closing."""

from __future__ import annotations

from pollstead.election.county import ArrivalShare

MINUTES_PER_SLOT = 15

# Percent of an election day's voters by clock hour from 07:00, taken where the county has given no
# arrivals: a morning, a noon and an evening peak. Common practice, no source; varies by county.
ASSUMED_TENTHS_OF_PERCENT = (125, 95, 75, 70, 75, 80, 70, 60, 60, 75, 95, 80, 40)
ASSUMED_FIRST_HOUR = 7


def assumed_arrivals() -> tuple[ArrivalShare, ...]:
    """The shape taken where nothing is known."""
    return tuple(
        ArrivalShare(hour=ASSUMED_FIRST_HOUR + i, share_ppm=tenths * 1_000)
        for i, tenths in enumerate(ASSUMED_TENTHS_OF_PERCENT)
    )


def slot_weights(arrivals: tuple[ArrivalShare, ...], opens_min: int, closes_min: int) -> tuple[int, ...]:
    """Weights of the quarter hours of one site-day; they need not sum to anything.

    A quarter hour takes its clock hour's share by the minutes that it is open in that hour. Hours
    of the day that the table does not hold take the nearest hour that it does hold. Past midnight
    the clock hour starts again at 0.
    """
    by_hour = {a.hour: a.share_ppm for a in arrivals}
    hours = sorted(by_hour)
    weights = []
    for start in range(opens_min, closes_min, MINUTES_PER_SLOT):
        end = min(start + MINUTES_PER_SLOT, closes_min)
        hour = start // 60 % 24
        nearest = min(hours, key=lambda known: (abs(known - hour), known))
        weights.append(by_hour[nearest] * (end - start))
    if not any(weights):
        return tuple(MINUTES_PER_SLOT for _ in weights)
    return tuple(weights)
