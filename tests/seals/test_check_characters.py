"""What our labels' check character catches, leaves out and refuses."""

from __future__ import annotations

import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pollstead.election.check_characters import ALPHABET, check_character, is_right, with_check


@given(st.text(alphabet=ALPHABET, min_size=1, max_size=24), st.data())
def test_every_wrong_single_character_is_noticed(label: str, data: st.DataObject) -> None:
    """No label with one character changed passes (a property of MOD 37,36, from memory)."""
    right = with_check(label)
    place = data.draw(st.integers(0, len(right) - 1))
    for character in ALPHABET:
        changed = right[:place] + character + right[place + 1 :]
        assert is_right(changed) == (character == right[place])


def test_separators_do_not_count() -> None:
    """A label set in groups has the same character as one set without."""
    assert check_character("LM-V.00 4/2") == check_character("LMV0042")
    assert is_right(with_check("LM-V-0042", "-"))


@pytest.mark.parametrize("text", ["", "- -", "lm0042", "LM*42", "É1"])
def test_what_cannot_be_checked_is_refused_with_its_name(text: str) -> None:
    """An empty text, a small letter or a sign is a caller's mistake and never gets a character."""
    with pytest.raises(ValueError, match="checked"):
        check_character(text)
    assert not is_right(text)


def test_the_alphabet_is_digits_then_letters() -> None:
    """ISO/IEC 7064 numbers the digits 0 to 9 and the letters 10 to 35."""
    assert string.digits + string.ascii_uppercase == ALPHABET
