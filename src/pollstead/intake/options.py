"""What a person says when a county folder is made: options of the command line, answers to questions."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from pollstead.election.instants import parse_clock, zone
from pollstead.election.values import Value
from pollstead.intake.cells import CellFault, CellKind, read_cell
from pollstead.intake.mapping import (
    FLEET,
    Given,
    Where,
)
from pollstead.intake.shipped import shipped_text
from pollstead.intake.synonyms import COLUMNS


class Options(Value, frozen=True, kw_only=True):
    """What a person said on the command line or in answers."""

    tables: tuple[str, ...] = ()
    given: tuple[Given, ...] = ()
    wheres: tuple[Where, ...] = ()
    fill_down: tuple[tuple[str, str], ...] = ()
    county: str = ""
    name: str = ""
    election_day: dt.date | None = None
    zone: str = ""
    kind: str = ""
    past_election: dt.date | None = None
    opens_min: int | None = None
    closes_min: int | None = None
    same: tuple[tuple[str, str], ...] = ()
    different: tuple[tuple[str, str], ...] = ()
    confirmed: tuple[str, ...] = ()
    yes: bool = False
    typed: int = 0

    @classmethod
    def parse(
        cls,
        *,
        tables: tuple[Path, ...] = (),
        maps: tuple[str, ...] = (),
        wheres: tuple[str, ...] = (),
        fill_down: tuple[str, ...] = (),
        county: str = "",
        name: str = "",
        election_day: str = "",
        zone: str = "",
        kind: str = "",
        past_election: str = "",
        opens: str = "",
        closes: str = "",
        same: tuple[str, ...] = (),
        different: tuple[str, ...] = (),
        yes: bool = False,
    ) -> Options:
        """Options from their texts; raises ValueError naming the option and what it should look like."""
        words = (county, name, election_day, zone, kind, past_election, opens, closes)
        lists = (maps, wheres, fill_down, same, different)
        if bool(opens) != bool(closes):
            raise ValueError("--opens and --closes belong together, got only one of them")
        return cls(
            tables=tuple(str(table) for table in tables),
            given=tuple(parse_given(given) for given in maps),
            wheres=tuple(_where(where) for where in wheres),
            fill_down=tuple(_two(pair, ":", "--fill-down FILE:column") for pair in fill_down),
            county=county.strip(),
            name=name.strip(),
            election_day=parse_date("--election-day", election_day),
            zone=parse_zone(zone),
            kind=parse_kind(kind),
            past_election=parse_date("--past-election", past_election),
            opens_min=parse_option_clock("--opens", opens),
            closes_min=parse_option_clock("--closes", closes),
            same=tuple(_two(pair, "=", "--same A=B") for pair in same),
            different=tuple(_two(pair, "=", "--different A=B") for pair in different),
            yes=yes,
            typed=sum(1 for word in words if word) + sum(len(values) for values in lists),
        )


def _two(text: str, mark: str, wanted: str) -> tuple[str, str]:
    left, found, right = text.rpartition(mark) if mark == ":" else text.partition(mark)
    if not found or not left.strip() or not right.strip():
        raise ValueError(f"expected {wanted}, got {text!r}")
    return left.strip(), right.strip()


def parse_given(text: str) -> Given:
    left, found, theirs = text.partition("=")
    file, colon, ours = left.rpartition(":")
    ours = ours.strip()
    if not found or not colon or not (ours in COLUMNS or ours.startswith(FLEET)):
        known = ", ".join((*COLUMNS, FLEET + "KIND"))
        raise ValueError(f"expected --map FILE:our=their column, got {text!r}; ours are {known}")
    return Given(file=Path(file.strip()).name, ours=ours, theirs=theirs.strip())


def _where(text: str) -> Where:
    left, found, value = text.partition("=")
    file, colon, column = left.rpartition(":")
    if not found or not colon or not column.strip():
        raise ValueError(f"expected --where FILE:column=value, got {text!r}")
    return Where(file=Path(file.strip()).name, column=column.strip(), value=value.strip())


def parse_date(option: str, text: str) -> dt.date | None:
    if not text:
        return None
    try:
        value: dt.date = read_cell(CellKind.DATE, text)
    except CellFault as fault:
        raise ValueError(f"{option} must be {fault.wanted}, got {text!r}") from None
    return value


def parse_option_clock(option: str, text: str) -> int | None:
    try:
        return parse_clock(text) if text else None
    except ValueError as error:
        raise ValueError(f"{option}: {error}") from None


def parse_zone(text: str) -> str:
    if text:
        zone(text)
    return text


def parse_kind(text: str) -> str:
    if text:
        shipped_text(text)
    return text.upper()
