"""Check characters: ISO/IEC 7064, MOD 37,36, on our own labels; and those that a maker puts on seals.

MOD 37,36 is the hybrid system of ISO/IEC 7064 over the digits and the 26 letters: one character more, itself
a digit or a letter, catches every wrong single character. Seals may carry it, the digit of H. M. Damm's
order-10 quasigroup (*Total anti-symmetrische Quasigruppen*, 2004; every wrong digit and every pair of
neighbors that changed places), or the digit of ISO/IEC 7812-1 (Luhn, modulus 10; every wrong digit, and every
pair of neighbors but 09 and 90).
"""

from __future__ import annotations

import enum
from typing import Final

ALPHABET: Final = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_MODULUS: Final = len(ALPHABET)
_VALUE: Final = {character: value for value, character in enumerate(ALPHABET)}  # never written to


def check_character(text: str) -> str:
    """The MOD 37,36 check character of `text` (digits and capital letters; ISO/IEC 7064).

    Dashes, dots, slashes and blanks are left out of the sum, so that a label may be set in groups.
    Raises ValueError naming a character that is neither a digit nor a capital letter, or an empty text.
    """
    product = _product(text)
    return ALPHABET[(_MODULUS + 1 - product) % _MODULUS]


def with_check(text: str, separator: str = "") -> str:
    """`text` followed by `separator` and its check character; raises as `check_character`."""
    return f"{text}{separator}{check_character(text)}"


def is_right(text: str) -> bool:
    """Whether the last character of `text` is the check character of what comes before it.

    A text that holds anything but digits, capital letters and separators is not right; nothing is raised.
    """
    bare = _bare(text)
    if len(bare) < 2 or any(character not in _VALUE for character in bare):
        return False
    return check_character(bare[:-1]) == bare[-1]


class CheckScheme(enum.StrEnum):
    """How the last character of a seal's number is made from those before it; the value is its column's."""

    NONE = "none"
    DAMM = "damm"
    LUHN = "luhn"
    ISO_37_36 = "iso 37-36"


def scheme_character(scheme: CheckScheme, body: str) -> str:
    """The check character of a seal's number without it; raises ValueError where `body` can have none.

    Damm's and Luhn's digit are over the digits alone: letters and separators before or between do not count.
    """
    if scheme is CheckScheme.NONE:
        return ""
    if scheme is CheckScheme.ISO_37_36:
        return check_character(body.upper())
    digits = [int(character) for character in body if "0" <= character <= "9"]
    if not digits:
        raise ValueError(f"a number with a check digit needs at least one digit before it, got {body!r}")
    if scheme is CheckScheme.DAMM:
        interim = 0
        for digit in digits:
            interim = int(_DAMM[interim][digit])
        return str(interim)
    total = sum(
        sum(divmod(digit * 2, 10)) if place % 2 == 0 else digit
        for place, digit in enumerate(reversed(digits))
    )
    return str(-total % 10)


def fits(scheme: CheckScheme, number: str) -> bool:
    """Whether `number` ends in its check character by `scheme`; a number without one always does."""
    if scheme is CheckScheme.NONE:
        return True
    plain = number.strip().upper()
    try:
        return scheme_character(scheme, plain[:-1]) == plain[-1:]
    except ValueError:
        return False


# The order-10 totally anti-symmetric quasigroup of Damm's thesis, row by interim digit; written here from
# memory, and compared with a public library's table in the tests.
_DAMM: Final = (
    "0317598642",
    "7092154863",
    "4206871359",
    "1750983426",
    "6123045978",
    "3674209581",
    "5869720134",
    "8945362017",
    "9438617205",
    "2581436790",
)


def _bare(text: str) -> str:
    return "".join(character for character in text if character not in "-./ ")


def _product(text: str) -> int:
    """The running product after the last character (ISO/IEC 7064, hybrid systems), 1 to 36 times 2 mod 37."""
    bare = _bare(text)
    if not bare:
        raise ValueError(f"a text to be checked needs at least one digit or letter, got {text!r}")
    product = _MODULUS
    for character in bare:
        if character not in _VALUE:
            raise ValueError(
                f"a text to be checked holds digits and capital letters, got {character!r} in {text!r}"
            )
        total = (product + _VALUE[character]) % _MODULUS or _MODULUS
        product = total * 2 % (_MODULUS + 1)
    return product
