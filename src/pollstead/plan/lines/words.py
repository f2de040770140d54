"""The words in which sizing speaks: templates for the catalogue and their parameters."""

from __future__ import annotations

from pollstead.election.words import N_, Message, message
from pollstead.plan.terms.lines import WHOLE_PPM, Change, Stage

STATIONS = {
    Stage.CHECK_IN: N_("Check-in stations"),
    Stage.MARK: N_("Voting stations"),
    Stage.MARK_ACCESSIBLE: N_("Accessible voting stations"),
    Stage.CAST: N_("Scanners or other places to cast"),
}

_BY_STAGE = {
    (Change.ONE_MORE, Stage.CHECK_IN): N_("One more check-in station"),
    (Change.ONE_MORE, Stage.MARK): N_("One more voting station"),
    (Change.ONE_MORE, Stage.MARK_ACCESSIBLE): N_("One more accessible voting station"),
    (Change.ONE_MORE, Stage.CAST): N_("One more place to cast"),
    (Change.ONE_FEWER, Stage.CHECK_IN): N_("One fewer check-in station"),
    (Change.ONE_FEWER, Stage.MARK): N_("One fewer voting station"),
    (Change.ONE_FEWER, Stage.MARK_ACCESSIBLE): N_("One fewer accessible voting station"),
    (Change.ONE_FEWER, Stage.CAST): N_("One fewer place to cast"),
    (Change.ONE_DOWN, Stage.CHECK_IN): N_("A check-in station out of service all day"),
    (Change.ONE_DOWN, Stage.MARK): N_("A voting station out of service all day"),
    (Change.ONE_DOWN, Stage.MARK_ACCESSIBLE): N_("An accessible voting station out of service all day"),
    (Change.ONE_DOWN, Stage.CAST): N_("A place to cast out of service all day"),
}
_WHOLE_SITE = {
    Change.LATE: N_("Doors open 60 minutes late"),
    Change.TURNOUT: N_("20 % more voters"),
    Change.LONG_BALLOT: N_("A long ballot: marking and casting take longer"),
}


def change_words(change: Change, stage: Stage | None) -> Message:
    """A what-if as a reader sees it."""
    return message(_WHOLE_SITE[change] if stage is None else _BY_STAGE[change, stage])


def stations_words(stage: Stage) -> Message:
    """The stations of a stage, as a heading."""
    return message(STATIONS[stage])


def percent(ppm: int) -> str:
    """A share as percent with one decimal; 0 and 100 only when exactly so."""
    if 0 < ppm < 500:
        return "< 0.1 %"
    if WHOLE_PPM - 500 < ppm < WHOLE_PPM:
        return "> 99.9 %"
    tenths = (ppm + 500) // 1000
    return f"{tenths // 10}.{tenths % 10} %"


def thousandths(value: int) -> str:
    """A number held in thousandths, with three decimals."""
    return f"{value // 1000:,}.{value % 1000:03d}"


def minutes(ms: int) -> str:
    """A time in minutes with one decimal, rounded to nearest."""
    tenths = (ms + 3000) // 6000
    return f"{tenths // 10:,}.{tenths % 10}"
