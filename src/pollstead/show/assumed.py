"""Assumptions in a reader's words, the same on pages and paper: what it is about, what was taken."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from pollstead.election.county import Assumption, Election
from pollstead.election.rules import BY_ID
from pollstead.election.units import PPM
from pollstead.election.words import N_

SERVICE = "service"
_PPM = " ppm"
_ONE_OF = {"1 stations": "1 station", "1 sheets": "1 sheet", "1 days": "1 day", "1 times": "1 time"}


def about(assumption: Assumption, election: Election, say: Callable[[str], str]) -> str:
    """What the assumption is about: the rule's words, the station type's name, or the field."""
    kind, _, ref = assumption.subject.partition("/")
    if kind == "rule" and ref in BY_ID:
        return say(BY_ID[ref].words)
    names = {t.id: t.name for t in election.station_types}
    if kind == "station_type" and ref in names:
        what = say(N_("mean time of a voter")) if assumption.field == SERVICE else assumption.field
        return f"{names[ref]}: {what}"
    return assumption.field


def taken(assumption: Assumption) -> str:
    """The value taken; parts per million as percent."""
    if not assumption.value.endswith(_PPM):
        return _ONE_OF.get(assumption.value, assumption.value)
    share = Fraction(int(assumption.value.removesuffix(_PPM)) * 100, PPM)
    return f"{float(share):g} %"


def of_types(assumptions: tuple[Assumption, ...], type_ids: frozenset[str]) -> tuple[Assumption, ...]:
    """Those of the county that bear on a site: all but those of station types that do not stand there."""
    return tuple(
        a
        for a in assumptions
        if not a.subject.startswith("station_type/") or a.subject.partition("/")[2] in type_ids
    )
