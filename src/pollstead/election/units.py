"""Whole-number quantities: micrometres, grams, watts, milliseconds, cents, parts per million.

No float decides a limit. A county's own units are turned into these at the edge and back again
only for showing. Exact factors: 1 in = 25.4 mm, 1 lb = 0.45359237 kg (international yard and
pound agreement of 1959).
"""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction

UM_PER_INCH = 25_400
UM_PER_MM = 1_000
PPM = 1_000_000

_DECIMAL = re.compile(r"[+-]?[0-9]{1,12}(?:\.[0-9]{1,12})?")
_FEET = re.compile(
    r"""^\s*(?:(?P<feet>\d+)\s*(?:'|ft|feet)\s*)?
        (?:(?P<inches>\d+(?:\.\d+)?)?\s*(?:(?P<num>\d+)\s*/\s*(?P<den>\d+))?\s*(?:"|in|inches)?)?\s*$""",
    re.VERBOSE,
)


def inch(inches: int | str | Fraction) -> int:
    """Inches (whole, fraction or decimal text) as micrometres; raises ValueError if not exact."""
    exact = Fraction(inches) * UM_PER_INCH
    if exact.denominator != 1:
        raise ValueError(f"inches must be a whole number of micrometres, got {inches!r}")
    return int(exact)


def foot(feet: int) -> int:
    """Feet as micrometres."""
    return feet * 12 * UM_PER_INCH


def mm(millimetres: int) -> int:
    """Millimetres as micrometres."""
    return millimetres * UM_PER_MM


def minutes(count: int) -> int:
    """Minutes as milliseconds."""
    return count * 60_000


def parse_feet_inches(text: str) -> int:
    """Read ``5' 6 1/2"``, ``66.5 in`` or ``5 ft 6 in`` as micrometres.

    Raises ValueError naming the text when it is not a length in feet and inches.
    """
    found = _FEET.match(text)
    if found is None or not any(found.group("feet", "inches", "num")):
        raise ValueError(f"a length must look like 5' 6 1/2\" or 66.5 in, got {text!r}")
    total = Fraction(found["feet"] or 0) * 12 + Fraction(found["inches"] or 0)
    if found["num"]:
        if int(found["den"]) == 0:
            raise ValueError(f"a length must look like 5' 6 1/2\" or 66.5 in, got {text!r}")
        total += Fraction(int(found["num"]), int(found["den"]))
    return round(total * UM_PER_INCH)


def parse_scaled(text: str, scale: int, unit: str) -> int:
    """Read a decimal number of `unit` as a whole number of 1/`scale` units, exactly.

    ``parse_scaled("5", 10_000, "percent")`` is 5 percent in parts per million, 50_000.
    Raises ValueError when the text is not a plain decimal or needs finer steps than 1/`scale`.
    """
    if not _DECIMAL.fullmatch(text.strip()):
        raise ValueError(f"expected a number of {unit} such as 12 or 12.5, got {text!r}")
    scaled = Decimal(text.strip()) * scale
    if scaled != scaled.to_integral_value():
        raise ValueError(f"{unit} must be a multiple of 1/{scale}, got {text!r}")
    return int(scaled)


def format_feet_inches(length_um: int) -> str:
    """A length as feet and inches to the nearest quarter inch, for showing only."""
    quarters = round(Fraction(length_um, UM_PER_INCH) * 4)
    feet, rest = divmod(quarters, 48)
    whole, quarter = divmod(rest, 4)
    fraction = {0: "", 1: " 1/4", 2: " 1/2", 3: " 3/4"}[quarter]
    inches_text = f"{whole}{fraction}" if whole or not fraction else fraction.strip()
    return f"{feet}' {inches_text}\"" if feet else f'{inches_text}"'


def share_ppm(part: int, whole: int) -> int:
    """`part` of `whole` in parts per million, rounded half up; raises ValueError if whole < 1."""
    if whole < 1:
        raise ValueError(f"whole must be >= 1, got {whole}")
    return (part * PPM * 2 + whole) // (2 * whole)
