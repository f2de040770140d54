"""What the explainer is asked: all that the office knows of a night, and nothing of what was seeded."""

from __future__ import annotations

from bench.counts.asking import Product, mis_set, site_night
from bench.counts.night import Fault, Seeded
from bench.counts.process import Process
from bench.counts.site_days import site_days

from pollstead.election.fault_odds import USUAL_ODDS
from pollstead.reconcile.explain.odds import USUAL, odds_of
from pollstead.reconcile.explain.terms import FromWhere


def _night(kind: str, index: int = 0) -> Seeded:
    days = tuple(day for day in site_days(1) if day.kind == kind)
    return Process(days).draw(3, index, 1)


def test_the_question_holds_nothing_of_the_truth() -> None:
    """Another truth and another label behind the same numbers give the same question."""
    night = _night("vote-center", 4)
    other = night._replace(
        truth={key: value + 1 for key, value in night.read.items()},
        faults=(Fault("another", (("check_ins", 1, 2),)),),
    )
    assert site_night(night, 25) == site_night(other, 25)


def test_every_number_of_the_night_is_asked_once() -> None:
    """Readings of the day, and the numbers of the day before as known ones: together all keys."""
    night = _night("vote-center", 4)
    asked = site_night(night, 25)
    told = {one.key: one.value for one in (*asked.readings, *asked.known)}
    assert told == dict(night.read)
    assert len(asked.readings) + len(asked.known) == len(told)
    assert any(one.where is FromWhere.DAY_BEFORE for one in asked.others)


def test_a_number_that_another_site_read_too_is_told_with_its_site() -> None:
    """The other site's number counts where it is the one that was read here, as in the office."""
    night = _night("hand-marked")
    alike = night._replace(
        elsewhere={"S99": {"check_ins": night.read["check_ins"]}, "S98": {"check_ins": -1}}
    )
    named = [one.name for one in site_night(alike, 25).others if one.where is FromWhere.ANOTHER_SITE]
    assert named == ["S99"]


def test_a_clean_night_is_told_nothing() -> None:
    """No difference, no explanation."""
    days = tuple(day for day in site_days(1) if day.kind == "hand-marked")
    told = Product(25, USUAL)(Process(days).draw(3, 0, 0))
    assert told.groups == ()
    assert not told.differs


def test_odds_set_wrongly_are_twice_or_half_the_usual_ones_and_the_two_ways_are_opposite() -> None:
    """Each kind is doubled in one way and halved in the other."""
    usual, one, other = odds_of(), mis_set(0), mis_set(1)
    for place in range(len(usual.of_kind)):
        assert (one.of_kind[place] < usual.of_kind[place]) == (other.of_kind[place] > usual.of_kind[place])
    changed = sum(one.of_kind[place] != cost for place, cost in enumerate(usual.of_kind))
    assert changed == len(USUAL_ODDS)
