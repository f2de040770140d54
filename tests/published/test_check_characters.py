"""Check characters against a published value and a reference library."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st
from stdnum.iso7064 import mod_37_36

from pollstead.election.check_characters import ALPHABET, check_character, is_right, with_check


def test_the_published_example_has_its_check_character() -> None:
    """A12425GABC1234002 gets M (python-stdnum, documentation of stdnum.iso7064.mod_37_36)."""
    assert check_character("A12425GABC1234002") == "M"
    assert is_right("A12425GABC1234002M")


@given(st.text(alphabet=ALPHABET, min_size=1, max_size=24))
def test_our_character_is_that_of_the_reference_library(label: str) -> None:
    """For any label the character is what python-stdnum computes for ISO/IEC 7064 MOD 37,36."""
    assert check_character(label) == mod_37_36.calc_check_digit(label)
    assert mod_37_36.is_valid(with_check(label))
