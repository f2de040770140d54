"""Time: instants, operating days and quarter-hour slots, from a pinned zone database.

An operating day begins at local 00:00 and may pass the next midnight: 24:40 is forty minutes past
it. A slot counts elapsed quarter hours since the day began, so the next midnight is slot 92, 96 or
100 depending on whether the clocks change.
"""

from __future__ import annotations

import datetime as dt
import functools
import importlib.resources
import re
import zoneinfo
from typing import Final

from pollstead.election.values import Value, require

MS_PER_MINUTE = 60_000
MS_PER_SLOT = 15 * MS_PER_MINUTE
LAST_MINUTE: Final = 48 * 60 - 1
"""The last minute of an operating day's wall clock: 47:59."""
_CLOCK = re.compile(r"^(\d{1,2}):(\d{2})$")
_HASTY_CLOCK = re.compile(r"([0-9]{1,2}):?([0-9]{2})")


@functools.cache
def zone(name: str) -> zoneinfo.ZoneInfo:
    """The named zone from the pinned ``tzdata`` package, never from the machine's own files.

    Raises ValueError naming the zone when the package does not hold it.
    """
    parts = name.split("/")
    if not all(re.fullmatch(r"[A-Za-z0-9_+-]+", part) for part in parts):
        raise ValueError(f"time zone must be a name of the IANA zone database, got {name!r}")
    resource = importlib.resources.files("tzdata.zoneinfo").joinpath(*parts)
    if not resource.is_file():
        raise ValueError(f"time zone must be a name of the IANA zone database, got {name!r}")
    with resource.open("rb") as stream:
        return zoneinfo.ZoneInfo.from_file(stream, key=name)


class Instant(Value, frozen=True, kw_only=True, order=True):
    """A moment: whole milliseconds since 1970-01-01T00:00:00Z."""

    utc_ms: int

    def local(self, zone_name: str) -> dt.datetime:
        """This moment on the wall clock of `zone_name` (an aware datetime)."""
        utc = dt.datetime(1970, 1, 1, tzinfo=dt.UTC) + dt.timedelta(milliseconds=self.utc_ms)
        return utc.astimezone(zone(zone_name))

    def offset_min(self, zone_name: str) -> int:
        """Minutes east of UTC on the wall clock of `zone_name` at this moment."""
        offset = self.local(zone_name).utcoffset()
        assert offset is not None  # noqa: S101 - an aware datetime always has one
        return int(offset.total_seconds() // 60)


class OperatingDay(Value, frozen=True, kw_only=True, order=True):
    """A day of work at a site: its date and zone; it may run past midnight."""

    date: dt.date
    zone_name: str

    def __post_init__(self) -> None:
        zone(self.zone_name)

    @property
    def key(self) -> str:
        """The date as ISO 8601 text, the day's part of ids and tables."""
        return self.date.isoformat()

    def start(self) -> Instant:
        """The instant of local 00:00."""
        local = dt.datetime.combine(self.date, dt.time(0), tzinfo=zone(self.zone_name))
        return Instant(utc_ms=round(local.timestamp() * 1000))

    def slots_to_midnight(self) -> int:
        """Quarter hours until the next local midnight: 92, 96 or 100."""
        following = OperatingDay(date=self.date + dt.timedelta(days=1), zone_name=self.zone_name)
        return (following.start().utc_ms - self.start().utc_ms) // MS_PER_SLOT

    def at_wall_clock(self, minute: int) -> Instant:
        """The instant at `minute` minutes of the wall clock (1480 is 24:40 of this day).

        A wall time that the change to daylight time skips is taken with the offset before the
        change; one that comes twice is its first.
        """
        require(0 <= minute <= LAST_MINUTE, f"minute of the day must be 0..2879, got {minute}")
        day = self.date + dt.timedelta(days=minute // 1440)
        clock = dt.time(minute % 1440 // 60, minute % 60)
        local = dt.datetime.combine(day, clock, tzinfo=zone(self.zone_name))
        return Instant(utc_ms=round(local.timestamp() * 1000))

    def wall_clock_of(self, instant: Instant) -> int:
        """The minute of this day's wall clock at `instant`, 0 before the day and 2879 at most."""
        local = instant.local(self.zone_name)
        minute = (local.date() - self.date).days * 1440 + local.hour * 60 + local.minute
        return min(max(minute, 0), LAST_MINUTE)

    def slot_of(self, instant: Instant) -> int:
        """The elapsed quarter hour since the day began that holds `instant`."""
        return (instant.utc_ms - self.start().utc_ms) // MS_PER_SLOT


def parse_clock(text: str) -> int:
    """Read ``07:00`` or ``24:40`` as minutes of the operating day; raises ValueError otherwise."""
    found = _CLOCK.match(text.strip())
    if found is None or int(found[2]) > 59 or int(found[1]) > 47:
        raise ValueError(f"a clock time must look like 07:00 (24:40 is past midnight), got {text!r}")
    return int(found[1]) * 60 + int(found[2])


def parse_hasty_clock(text: str) -> int:
    """Read a minute typed in haste, ``702``, ``07:02`` or ``2440``; raises ValueError for anything else."""
    found = _HASTY_CLOCK.fullmatch(text.strip())
    if found is None:
        raise ValueError(f"a time must look like 0702 or 07:02, got {text!r}")
    return parse_clock(f"{found[1]}:{found[2]}")


def format_clock(minute: int) -> str:
    """Minutes of the operating day as ``07:00`` or ``24:40``."""
    return f"{minute // 60:02d}:{minute % 60:02d}"
