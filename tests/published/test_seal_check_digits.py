"""Check characters on seals, against published values and a reference library."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st
from stdnum import damm, luhn
from stdnum.iso7064 import mod_37_36

from pollstead.election.check_characters import ALPHABET, CheckScheme, fits, scheme_character

DIGITS = st.text(alphabet="0123456789", min_size=1, max_size=15)


def test_luhns_published_examples() -> None:
    """7894 gets 9 (python-stdnum, documentation of stdnum.luhn); 7992739871 gets 3 (from memory)."""
    assert scheme_character(CheckScheme.LUHN, "7894") == "9"
    assert scheme_character(CheckScheme.LUHN, "7992739871") == "3"


def test_damms_example() -> None:
    """572 gets 4 (H. M. Damm, Total anti-symmetrische Quasigruppen, 2004: from memory)."""
    assert scheme_character(CheckScheme.DAMM, "572") == "4"
    assert fits(CheckScheme.DAMM, "5724") and not fits(CheckScheme.DAMM, "5274")


def test_the_standards_alphanumeric_example() -> None:
    """A12425GABC1234002 gets M (python-stdnum, documentation of stdnum.iso7064.mod_37_36)."""
    assert scheme_character(CheckScheme.ISO_37_36, "A12425GABC1234002") == "M"


@given(DIGITS)
def test_digits_are_those_of_the_reference_library(body: str) -> None:
    """For any number both digits are what python-stdnum computes, with a prefix of letters or without."""
    assert scheme_character(CheckScheme.DAMM, body) == damm.calc_check_digit(body)
    assert scheme_character(CheckScheme.LUHN, body) == luhn.calc_check_digit(body)
    assert scheme_character(CheckScheme.DAMM, f"LM-{body}-") == damm.calc_check_digit(body)


@given(st.text(alphabet=ALPHABET, min_size=1, max_size=15))
def test_characters_are_those_of_the_reference_library(body: str) -> None:
    """For any digits and letters the character is that of ISO/IEC 7064 MOD 37,36 in python-stdnum."""
    assert scheme_character(CheckScheme.ISO_37_36, body) == mod_37_36.calc_check_digit(body)


@given(DIGITS, st.data())
def test_one_wrong_digit_never_fits_and_damm_sees_every_swap(body: str, data: st.DataObject) -> None:
    """Each scheme sees each wrong digit, Damm's each pair of neighbors that changed places (from memory)."""
    for scheme in (CheckScheme.DAMM, CheckScheme.LUHN, CheckScheme.ISO_37_36):
        whole = body + scheme_character(scheme, body)
        at = data.draw(st.integers(0, len(body) - 1))
        for digit in "0123456789":
            changed = whole[:at] + digit + whole[at + 1 :]
            assert fits(scheme, changed) == (digit == whole[at]), (scheme, whole, changed)
        if scheme is CheckScheme.DAMM and whole[at] != whole[at + 1]:
            assert not fits(scheme, whole[:at] + whole[at + 1] + whole[at] + whole[at + 2 :])
