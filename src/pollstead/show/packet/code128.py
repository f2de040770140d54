"""Code 128 (ISO/IEC 15417): the widths of bars and spaces of a text, with its check character.

Start set B, or set C for digits alone in pairs. The check value is the start value plus the sum of position ×
value, modulo 103. Each character is 11 modules wide, the stop pattern 13; a quiet zone of 10 modules stands
before and after it.
"""

from __future__ import annotations

from typing import Final

from pollstead.election.values import require

QUIET_MODULES: Final = 10
START_B, START_C, STOP = 104, 105, 106
MODULUS: Final = 103

# The patterns of ISO/IEC 15417, table 1: widths of bar, space, bar, space, bar, space for values 0 to 105.
_PATTERNS: Final = (
    "212222 222122 222221 121223 121322 131222 122213 122312 132212 221213 221312 231212 112232 "
    "122132 122231 113222 123122 123221 223211 221132 221231 213212 223112 312131 311222 321122 "
    "321221 312212 322112 322211 212123 212321 232121 111323 131123 131321 112313 132113 132311 "
    "211313 231113 231311 112133 112331 132131 113123 113321 133121 313121 211331 231131 213113 "
    "213311 213131 311123 311321 331121 312113 312311 332111 314111 221411 431111 111224 111422 "
    "121124 121421 141122 141221 112214 112412 122114 122411 142112 142211 241211 221114 413111 "
    "241112 134111 111242 121142 121241 114212 124112 124211 411212 421112 421211 212141 214121 "
    "412121 111143 111341 131141 114113 114311 411113 411311 113141 114131 311141 411131 211412 "
    "211214 211232 "
).split()
_STOP_PATTERN: Final = "2331112"


def values_of(text: str) -> tuple[int, ...]:
    """The values of start and data characters; raises ValueError for what set B does not hold."""
    require(bool(text), "a Code 128 needs at least one character")
    if text.isascii() and text.isdecimal() and len(text) % 2 == 0:
        return (START_C, *(int(text[at : at + 2]) for at in range(0, len(text), 2)))
    foreign = [sign for sign in text if not 32 <= ord(sign) <= 126]
    require(not foreign, f"a Code 128 of set B holds printable ASCII, got {foreign[:3]}")
    return (START_B, *(ord(sign) - 32 for sign in text))


def check_value(values: tuple[int, ...]) -> int:
    """The check character's value: (start + Σ position × value) mod 103 (ISO/IEC 15417)."""
    return (values[0] + sum(place * value for place, value in enumerate(values[1:], start=1))) % MODULUS


def widths_of(text: str) -> tuple[int, ...]:
    """Widths in modules, bar and space by turns, start and check and stop included, without quiet zones."""
    values = values_of(text)
    pattern = "".join(_PATTERNS[value] for value in (*values, check_value(values))) + _STOP_PATTERN
    return tuple(map(int, pattern))


def modules_of(text: str) -> int:
    """The width in modules, quiet zones included."""
    return sum(widths_of(text)) + 2 * QUIET_MODULES
