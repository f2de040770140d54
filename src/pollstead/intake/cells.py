"""One cell of a county's table: from the text that people type to a value, and back without loss.

A length is typed in inches (``36``, ``36 1/2``, ``3' 0"``) or millimetres (``915 mm``), a share in
percent, a clock time as ``07:00``, a date as ``2026-11-03``, a list with spaces or semicolons.
"""

from __future__ import annotations

import datetime as dt
import enum
import re
import unicodedata
from fractions import Fraction
from typing import Any

from pollstead.election.instants import format_clock, parse_clock
from pollstead.election.units import UM_PER_INCH, parse_feet_inches, parse_scaled
from pollstead.election.words import N_, Message, message

LARGEST = 2**53 - 1
"""No whole number beyond this is taken in: every JSON reader keeps it exactly."""

_WHOLE = re.compile(r"[0-9]{1,15}|[0-9]{1,3}(?:,[0-9]{3}){1,4}")
_WHOLE_POINT_ZERO = re.compile(r"([0-9]{1,15})\.0{1,6}")
_DECIMAL = re.compile(r"[0-9]{1,9}(?:\.[0-9]{1,9})?")
_METRIC = re.compile(r"([0-9]{1,9}(?:\.[0-9]{1,9})?)\s*(mm|cm|m)")
_ISO_DATE = re.compile(r"([0-9]{4})-([0-9]{2})-([0-9]{2})")
_US_DATE = re.compile(r"([0-9]{1,2})/([0-9]{1,2})/([0-9]{4})")
_ID_PART = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
_FORMULA_START = "=+-@"


class CellKind(enum.StrEnum):
    """What a cell holds, in the words of the county folder's page."""

    TEXT = "text"
    ID = "id"
    WHOLE = "whole number"
    SIGNED = "whole number, also below 0"
    LENGTH = "length"
    PERCENT = "percent"
    PER_VOTER = "number per voter"
    SECONDS = "seconds"
    CLOCK = "clock time"
    DATE = "date"
    YES_NO = "yes or no"
    LIST = "list"


WANTED = {
    CellKind.TEXT: N_("text"),
    CellKind.ID: N_("letters, digits, dot, dash or underscore (1 to 64)"),
    CellKind.WHOLE: N_("a whole number, 0 or more"),
    CellKind.SIGNED: N_("a whole number, also below 0"),
    CellKind.LENGTH: N_("inches such as 36, 36 1/2 or 3' 0\", or millimeters such as 915 mm"),
    CellKind.PERCENT: N_("percent such as 12.5"),
    CellKind.PER_VOTER: N_("a number such as 1.05"),
    CellKind.SECONDS: N_("seconds such as 75"),
    CellKind.CLOCK: N_("a time such as 07:00 (24:40 is past midnight)"),
    CellKind.DATE: N_("a date such as 2026-11-03"),
    CellKind.YES_NO: N_("yes or no"),
    CellKind.LIST: N_("items with a space or a semicolon between them"),
}

_SCALES = {CellKind.PERCENT: 10_000, CellKind.PER_VOTER: 1_000_000, CellKind.SECONDS: 1_000}


class CellFault(ValueError):
    """A cell that cannot be read; `wanted` says what should stand there, `remedy` what to do."""

    def __init__(self, wanted: str, remedy: Message | None = None) -> None:
        super().__init__(wanted)
        self.wanted = wanted
        self.remedy = remedy or message(N_("Correct the cell, or leave it blank while it is not known."))


def looks_like_formula(text: str) -> bool:
    """Whether a spreadsheet would compute this text when it opens the file.

    A phone number (``+1 555 0100``), a negative number and a lone dash are not taken for one.
    """
    bare = text.strip()
    if len(bare) < 2 or bare[0] not in _FORMULA_START:
        return False
    return bare[0] in "=@" or bool(re.search(r"[A-Za-z(|!]", bare[1:]))


def unescape(cell: str) -> str:
    """The text that `escape` wrote; any other cell loses only the white space around it."""
    if len(cell) > 1 and cell[0] == "'" and (_guarded(cell[1]) or cell[-1].isspace()):
        return unicodedata.normalize("NFC", cell[1:])
    return unicodedata.normalize("NFC", cell.strip())


def escape(text: str) -> str:
    """`text` with a leading apostrophe where a spreadsheet would compute it or white space be lost."""
    if text and (_guarded(text[0]) or text[-1].isspace()):
        return "'" + text
    return text


def _guarded(first: str) -> bool:
    return first in _FORMULA_START or first == "'" or first.isspace()


def read_cell(kind: CellKind, cell: str, unit: str = "") -> Any:
    """The value in `cell`; raises `CellFault` saying what was wanted.

    `unit` is the unit that the column's name gives (``in``, ``ft``, ``mm``), or "" for the kind's own.
    A blank cell is the caller's business.
    """
    text = unescape(cell)
    if kind is CellKind.TEXT:
        return text
    if kind is CellKind.LIST:
        return _read_list(cell)
    if len(text) > 200:
        raise CellFault(WANTED[kind])
    if kind is CellKind.ID:
        if not all(_ID_PART.fullmatch(part) for part in text.split("/")):
            raise CellFault(WANTED[kind])
        return text
    if kind is CellKind.WHOLE:
        return _read_whole(text)
    if kind is CellKind.SIGNED:
        return _read_signed(text)
    if kind is CellKind.LENGTH:
        return _read_length(text, unit)
    if kind is CellKind.CLOCK:
        return _read_clock(text)
    if kind is CellKind.DATE:
        return _read_date(text)
    if kind is CellKind.YES_NO:
        return _read_yes_no(text)
    return _read_scaled(kind, text)


def _read_clock(text: str) -> int:
    try:
        return parse_clock(text)
    except ValueError:
        raise CellFault(WANTED[CellKind.CLOCK]) from None


def _read_scaled(kind: CellKind, text: str) -> int:
    bare = text.removesuffix("%").rstrip() if kind is CellKind.PERCENT else text
    if not _DECIMAL.fullmatch(bare):
        raise CellFault(WANTED[kind])
    try:
        return parse_scaled(bare, _SCALES[kind], kind.value)
    except ValueError:
        raise CellFault(WANTED[kind], message(N_("Use fewer decimals."))) from None


def _read_whole(text: str) -> int:
    found = _WHOLE_POINT_ZERO.fullmatch(text)
    bare = found[1] if found else text
    if not _WHOLE.fullmatch(bare) or int(bare.replace(",", "")) > LARGEST:
        raise CellFault(WANTED[CellKind.WHOLE])
    return int(bare.replace(",", ""))


def _read_signed(text: str) -> int:
    below = text.startswith("-")
    try:
        size = _read_whole(text.removeprefix("-"))
    except CellFault:
        raise CellFault(WANTED[CellKind.SIGNED]) from None
    return -size if below else size


def _read_length(text: str, unit: str) -> int:
    """A length in micrometres; a bare number is in `unit`, inches where the column names none."""
    wanted = WANTED[CellKind.LENGTH]
    metric = _METRIC.fullmatch(text)
    if metric:
        length = round(Fraction(metric[1]) * {"mm": 1_000, "cm": 10_000, "m": 1_000_000}[metric[2]])
    elif _DECIMAL.fullmatch(text) and unit in ("mm", "ft"):
        length = round(Fraction(text) * (1_000 if unit == "mm" else 12 * UM_PER_INCH))
    elif unit == "mm":
        raise CellFault(N_("millimeters such as 915"))
    else:
        try:
            length = parse_feet_inches(text)
        except ValueError:
            raise CellFault(wanted) from None
    if not 0 <= length <= LARGEST:
        raise CellFault(wanted)
    return length


def _read_date(text: str) -> dt.date:
    found = _ISO_DATE.fullmatch(text)
    if found:
        year, month, day = (int(part) for part in found.groups())
    else:
        found = _US_DATE.fullmatch(text)
        if not found:
            raise CellFault(WANTED[CellKind.DATE])
        month, day, year = (int(part) for part in found.groups())
    if not 1900 <= year <= 2200:
        raise CellFault(WANTED[CellKind.DATE], message(N_("Look at the year.")))
    try:
        return dt.date(year, month, day)
    except ValueError:
        raise CellFault(
            WANTED[CellKind.DATE], message(N_("That day is not in the calendar; look at month and day."))
        ) from None


def is_us_date(cell: str) -> bool:
    """Whether a date cell was written as month/day/year, which is worth a second look."""
    return bool(_US_DATE.fullmatch(unescape(cell)))


def _read_yes_no(text: str) -> bool:
    word = text.casefold()
    if word in ("yes", "y", "true", "1"):
        return True
    if word in ("no", "n", "false", "0"):
        return False
    raise CellFault(WANTED[CellKind.YES_NO])


def _read_list(cell: str) -> tuple[str, ...]:
    r"""Items with semicolons between them, or, where there is none, with white space between them.

    ``\;`` is a semicolon inside an item, ``\\`` a backslash, ``\e`` an empty item; ``\'`` before an
    item keeps the white space around it.
    """
    text = unescape(cell)
    if ";" not in text and "\\" not in text:
        return tuple(text.split())
    items: list[str] = []
    current = ""
    kept = escaped = False
    for char in text + ";":
        if escaped:
            kept = kept or char in "e'"
            current = current.lstrip() if char in "e'" else current + char
            escaped = False
        elif char == "\\":
            escaped = True
        elif char == ";":
            item = current if kept else current.strip()
            if item or kept:
                items.append(item)
            current, kept = "", False
        else:
            current += char
    return tuple(items)


def _write_list(items: tuple[str, ...]) -> str:
    if all(item and not re.search(r"[\s;\\]", item) for item in items):
        return " ".join(items)
    return ";".join(map(_write_item, items)) + ";"


def _write_item(item: str) -> str:
    body = item.replace("\\", "\\\\").replace(";", "\\;")
    if not item:
        return "\\e"
    return "\\'" + body if item != item.strip() else body


def write_cell(kind: CellKind, value: Any, unit: str = "") -> str:
    """The text of `value`, such that `read_cell` with the same `unit` gives it back; None is blank."""
    if value is None:
        return ""
    if kind in (CellKind.TEXT, CellKind.ID):
        return escape(value)
    if kind is CellKind.LIST:
        return escape(_write_list(value))
    if kind is CellKind.LENGTH:
        return length_text(value, unit)
    if kind is CellKind.CLOCK:
        return format_clock(value)
    if kind is CellKind.DATE:
        return str(value.isoformat())
    if kind is CellKind.YES_NO:
        return "yes" if value else "no"
    if kind in (CellKind.WHOLE, CellKind.SIGNED):
        return str(value)
    return decimal_text(Fraction(value, _SCALES[kind]))


def length_text(length_um: int, unit: str = "") -> str:
    """A length in inches (feet for unit ``ft``) where that is exact, else in millimetres with the unit."""
    per = 12 * UM_PER_INCH if unit == "ft" else UM_PER_INCH
    exact = Fraction(length_um, per)
    if unit != "mm" and _terminates(exact):
        return decimal_text(exact)
    body = decimal_text(Fraction(length_um, 1_000))
    return body if unit == "mm" else f"{body} mm"


def _terminates(number: Fraction) -> bool:
    """Whether the decimal form ends within the nine places that are read back."""
    return (number * 10**9).denominator == 1


def decimal_text(number: Fraction) -> str:
    """A fraction whose decimal form ends, as plain decimal text without needless zeros."""
    scaled = number * 10**9
    assert scaled.denominator == 1, number  # noqa: S101 - callers keep to nine decimals
    whole, part = divmod(scaled.numerator, 10**9)
    return f"{whole}.{part:09d}".rstrip("0").rstrip(".")
