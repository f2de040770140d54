"""What was read from a county folder before its tables are compared with one another."""

from __future__ import annotations

import datetime as dt
from typing import TypeVar

from pollstead.election.notice import Notice
from pollstead.election.rules import RuleSetting
from pollstead.election.station_type import SiteKind, StationType
from pollstead.election.values import Value
from pollstead.intake.records import Record
from pollstead.intake.tables import CountyRow

T = TypeVar("T", bound=Value)

EVERY_SITE_NOT_PLANNED = ("*",)


class Taken(Value, frozen=True, kw_only=True):
    """The rows of every table that could be read. `files` names the tables that hold
    something, `unread` those of them that could not be read. `today` is None where nobody said it."""

    county: CountyRow | None = None
    records: tuple[Record, ...] = ()
    station_types: tuple[StationType, ...] = ()
    site_kinds: tuple[SiteKind, ...] = ()
    settings: tuple[RuleSetting, ...] = ()
    different: tuple[tuple[str, str], ...] = ()
    files: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()
    today: dt.date | None = None

    def of(self, row_type: type[T]) -> list[tuple[int, T]]:
        """The row numbers and values of one table, in the order of the file."""
        return [(r.row, r.value) for r in self.records if type(r.value) is row_type]

    @property
    def election_day(self) -> dt.date | None:
        """Election day, or None where county.toml could not be read."""
        return self.county.election_day if self.county else None


class Drop(Value, frozen=True, kw_only=True):
    """A row that is not taken in, because taking it would pick one side of a contradiction."""

    table: str
    row: int


class Clash(Value, frozen=True, kw_only=True):
    """A contradiction, the rows it keeps out, and the sites that are not planned because of it."""

    notice: Notice
    drops: tuple[Drop, ...] = ()
    sites: tuple[str, ...] = ()
