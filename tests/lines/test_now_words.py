"""Told waits: learned from the words of the day whether one stands, ended by counted people."""

from __future__ import annotations

import numpy as np
from tests.lines.true_day import CLOSE_MS, HOUR_MS, MINUTE_MS, OPEN_MS, TrueDay, at, site_of

from pollstead.plan.lines import now
from pollstead.plan.lines.now_cloud import Cloud, Model
from pollstead.plan.lines.now_filter import Heard, hear
from pollstead.plan.lines.now_words import Words
from pollstead.plan.terms.now import Known, LineReport

HALF_SHARE = (0.5, 6 * HOUR_MS)


def word(minute: int, wait_min: int) -> LineReport:
    """A told wait at a minute of the day."""
    return LineReport(at_ms=minute * MINUTE_MS, wait_ms=wait_min * MINUTE_MS, event=f"w{minute}")


def share_after(waits_min: tuple[int, ...]) -> float:
    """How many of the states think that words stand, after these half-hourly words from nine on."""
    cloud = Cloud(Model(site_of("A")), 256, 1, HALF_SHARE)
    heard = Heard(cloud)
    for place, wait in enumerate(waits_min):
        one = word(9 * 60 + 30 * place, wait)
        cloud.go(one.at_ms)
        hear(cloud, one, heard)
    return float(cloud.words.stands.mean())


def test_a_long_wait_told_again_and_again_is_taken_to_stand_and_changing_ones_are_not() -> None:
    """Thirty minutes five times over; short waits that come and go as lines do."""
    assert share_after((30, 30, 30, 30, 30)) > 0.9
    assert share_after((6, 8, 6, 7, 6, 7)) < 0.5


def test_a_wait_that_stands_is_what_is_estimated_an_hour_later() -> None:
    """The plan alone has hardly a line at noon; the site has told 40 minutes since nine."""
    site = site_of("A", tuple(word(minute, 40) for minute in range(9 * 60, 12 * 60 + 1, 30)))
    found = now.run(at((site,), 12 * HOUR_MS + MINUTE_MS), 1).sites[0]
    assert found.known is Known.ESTIMATED
    assert found.wait is not None and found.in_60 is not None
    for band in (found.wait, found.in_60):
        assert 33 * MINUTE_MS <= band.middle <= 47 * MINUTE_MS
    assert found.in_60.high - found.in_60.low > found.wait.high - found.wait.low


def test_counted_people_end_what_was_told() -> None:
    """After a count of few people the told wait no longer holds the line."""
    words = tuple(word(minute, 40) for minute in range(9 * 60, 12 * 60 + 1, 30))
    count = LineReport(at_ms=12 * HOUR_MS + 5 * MINUTE_MS, in_line=2, event="c")
    found = now.run(at((site_of("A", (*words, count)),), 12 * HOUR_MS + 10 * MINUTE_MS), 1).sites[0]
    assert found.wait is not None and found.wait.middle <= 5 * MINUTE_MS


def test_a_stretch_takes_the_words_of_its_states_along() -> None:
    """A copy is moved on apart; chosen states keep their view."""
    words = Words(4, np.random.default_rng(1), 0.5, HOUR_MS)
    words.stands[:] = (True, False, True, False)
    other = words.copy()
    other.take(np.array([0, 0, 2, 2]))
    assert other.stands.all() and list(words.stands) == [True, False, True, False]


def test_where_waits_are_timed_truly_the_estimate_is_nearer_than_the_last_word() -> None:
    """Hourly words on days whose waits are known, a sixth wrong, in fives; the wait an hour later."""
    near, last = [], []
    for seed in range(6):
        day = TrueDay(seed, shape_spread=0.15)
        told = []
        for moment in range(OPEN_MS + 30 * MINUTE_MS, CLOSE_MS, HOUR_MS):
            wait = day.wait_ms(moment) / MINUTE_MS * (1 + day.rng.gauss(0, 0.15))
            told.append(word(moment // MINUTE_MS, round(wait) if wait < 10 else round(wait / 5) * 5))
        for hours in (9.0, 17.0, 18.5):
            now_ms = round(hours * HOUR_MS)
            found = now.run(at((site_of(f"S{seed}", tuple(told)),), now_ms), 1, states=256).sites[0]
            true_ms = day.wait_ms(now_ms + HOUR_MS)
            before = next(one for one in reversed(told) if one.at_ms <= now_ms)
            assert found.in_60 is not None and before.wait_ms is not None
            near.append(abs(found.in_60.middle - true_ms))
            last.append(abs(before.wait_ms - true_ms))
    assert sum(near) < 0.9 * sum(last)
