"""The station types that ship for five kinds of site, as data a county copies and changes."""

from __future__ import annotations

import importlib.resources

from pollstead.election.station_type import SiteKind, StationType
from pollstead.intake.toml_values import Reader, parse_toml

LETTERS = ("A", "B", "C", "D", "E")


def shipped_text(letter: str) -> str:
    """``station_types.toml`` for the kind of site `letter`; raises ValueError for a letter that is none."""
    if letter.upper() not in LETTERS:
        raise ValueError(f"kind of site must be one of {', '.join(LETTERS)}, got {letter!r}")
    name = f"station_types_{letter.lower()}.toml"
    return importlib.resources.files("pollstead.intake").joinpath("data", name).read_text(encoding="utf-8")


def shipped_types(letter: str) -> tuple[tuple[StationType, ...], tuple[SiteKind, ...]]:
    """The station types and kinds of site of `shipped_text`; raises ValueError where they do not read."""
    text = shipped_text(letter)
    top, faults = parse_toml(f"station_types_{letter.lower()}.toml", text.encode())
    reader = Reader("station_types.toml")
    types = reader.values(StationType, (top or {}).get("station_type", []), "station_type")
    kinds = reader.values(SiteKind, (top or {}).get("site_kind", []), "site_kind")
    wrong = [*faults, *reader.faults]
    if wrong:
        raise ValueError("; ".join(notice.text.english() for notice in wrong))
    return (
        tuple(t for t in types if isinstance(t, StationType)),
        tuple(k for k in kinds if isinstance(k, SiteKind)),
    )


def shipped_names() -> tuple[tuple[str, str], ...]:
    """Letter and first line of each shipped file: which kind of site it is for."""
    return tuple((letter, shipped_text(letter).splitlines()[0].lstrip("# ")) for letter in LETTERS)
