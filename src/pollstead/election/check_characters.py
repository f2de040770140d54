"""One check character on our own labels and sheet serials: ISO/IEC 7064, MOD 37,36.

The hybrid system of ISO/IEC 7064 over the digits and the 26 letters: one character more, itself a digit or
a letter, catches every wrong single character.
"""

from __future__ import annotations

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
