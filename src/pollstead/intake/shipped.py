"""The station types that ship for five kinds of site, as data a county copies and changes."""

from __future__ import annotations

import importlib.resources

from pollstead.election.station_type import SiteKind, StationType
from pollstead.intake.files import read_station_types

LETTERS = ("A", "B", "C", "D", "E")


def shipped_text(letter: str) -> str:
    """``station_types.toml`` for the kind of site `letter`; raises ValueError for a letter that is none."""
    if letter.upper() not in LETTERS:
        raise ValueError(f"kind of site must be one of {', '.join(LETTERS)}, got {letter!r}")
    name = f"station_types_{letter.lower()}.toml"
    return importlib.resources.files("pollstead.intake").joinpath("data", name).read_text(encoding="utf-8")


def shipped_types(letter: str) -> tuple[tuple[StationType, ...], tuple[SiteKind, ...]]:
    """The station types and kinds of site of `shipped_text`; raises ValueError where they do not read."""
    types, kinds, faults = read_station_types(shipped_text(letter).encode("utf-8"))
    if faults:
        raise ValueError("; ".join(notice.text.english() for notice in faults))
    return types, kinds


def shipped_names() -> tuple[tuple[str, str], ...]:
    """Letter and first line of each shipped file: which kind of site it is for."""
    return tuple((letter, shipped_text(letter).splitlines()[0].lstrip("# ")) for letter in LETTERS)
