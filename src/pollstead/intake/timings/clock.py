"""A moment as lists write it, read as the wall clock of the county: a date and the second of the day."""

from __future__ import annotations

import datetime as dt
import re
from functools import lru_cache
from zoneinfo import ZoneInfo

_CLOCK = r"(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,]\d{1,9})?)?\s*([AaPp])?\.?(?:[Mm]\.?)?"
_ISO_DAY = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})")
_US_DAY = re.compile(r"(\d{1,2})/(\d{1,2})/(\d{4}|\d{2})")
_TIME = re.compile(_CLOCK + r"\s*(Z|[+-]\d{2}:?\d{2})?")


@lru_cache(maxsize=512)
def read_day(text: str) -> dt.date:
    """A date as 2028-11-07 or 11/7/2028 (month first). Raises ValueError."""
    found = _ISO_DAY.fullmatch(text)
    if found:
        return dt.date(int(found[1]), int(found[2]), int(found[3]))
    found = _US_DAY.fullmatch(text)
    if not found:
        raise ValueError("expected a date such as 2028-11-07 or 11/7/2028")
    year = int(found[3])
    return dt.date(year + 2000 if year < 100 else year, int(found[1]), int(found[2]))


def read_moment(text: str, day: dt.date | None, zone_name: str) -> tuple[dt.date | None, int, bool]:
    """Date, second of the day, and whether seconds were written.

    `day` is the date where the text has none. A time with an offset (Z, -05:00) is taken to the county's
    clock. Raises ValueError.
    """
    head, _, rest = text.replace("T", " ", 1).partition(" ")
    if "-" in head or "/" in head:
        day, text = read_day(head), rest.strip()
    found = _TIME.fullmatch(text)
    if not found:
        raise ValueError("expected a time such as 07:15:30 or 7:15 AM")
    hour, minute, second = int(found[1]), int(found[2]), int(found[3] or 0)
    half = (found[4] or "").lower()
    if half:
        if not 1 <= hour <= 12:
            raise ValueError("expected 1 to 12 o'clock before AM or PM")
        hour = hour % 12 + (12 if half == "p" else 0)
    if hour > 23 or minute > 59 or second > 59:
        raise ValueError("expected a time of the day")
    if found[5]:
        if day is None:
            raise ValueError("expected a date beside a time with an offset")
        return _local(day, hour, minute, second, found[5], zone_name, written=found[3] is not None)
    return day, hour * 3600 + minute * 60 + second, found[3] is not None


def _local(
    day: dt.date, hour: int, minute: int, second: int, offset: str, zone_name: str, *, written: bool
) -> tuple[dt.date, int, bool]:
    away = dt.timedelta()
    if offset != "Z":
        digits = offset[1:].replace(":", "")
        away = dt.timedelta(hours=int(digits[:2]), minutes=int(digits[2:])) * (-1 if offset[0] == "-" else 1)
    if abs(away) >= dt.timedelta(hours=24):
        raise ValueError("expected an offset below 24 hours")
    moment = dt.datetime(day.year, day.month, day.day, hour, minute, second, tzinfo=dt.timezone(away))
    local = moment.astimezone(ZoneInfo(zone_name))
    return local.date(), local.hour * 3600 + local.minute * 60 + local.second, written
