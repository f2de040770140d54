"""The chance that a site opens late, from independent causes: exact whole numbers throughout.

A noisy-or: the site opens on time when no cause occurs. Some causes are a group of which all must fail
together (nobody who can open comes), and within a group people who share a phone or a key are one
member, which fails as seldom as its best person. Pearl, "Probabilistic Reasoning in Intelligent Systems"
(1988), names the model (from memory); tests check it against the enumeration of every combination.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import prod

from pollstead.election.contacts import MILLION
from pollstead.election.values import Value

BILLION = 1_000_000_000


class Cause(Value, frozen=True, kw_only=True):
    """One cause and its chance, parts per million; `group` "" where it is enough alone."""

    id: str
    ppm: int
    group: str = ""
    member: str = ""


def late_ppb(causes: Iterable[Cause]) -> int:
    """The chance that at least one cause, or one whole group, occurs: parts per billion, rounded down."""
    return late_of((cause.ppm, cause.group, cause.member or cause.id) for cause in causes)


def late_of(causes: Iterable[tuple[int, str, str]]) -> int:
    """`late_ppb` of plain triples of chance, group and member, for the many trials of the weights."""
    alone: list[int] = []
    groups: dict[str, dict[str, int]] = {}
    for ppm, group, member in causes:
        if not group:
            alone.append(ppm)
            continue
        members = groups.setdefault(group, {})
        members[member] = min(members.get(member, MILLION), ppm)
    on_time: int = prod(MILLION - ppm for ppm in alone)
    whole: int = MILLION ** len(alone)
    for members in groups.values():
        on_time *= MILLION ** len(members) - prod(members.values())
        whole *= MILLION ** len(members)
    return (whole - on_time) * BILLION // whole
