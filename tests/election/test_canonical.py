"""The quick way to canonical bytes gives what the long way gives, or leaves the value to it."""

from __future__ import annotations

import datetime as dt
import enum
import unicodedata
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pollstead.election import canonical
from pollstead.election.canonical import canonical_bytes, canonical_object
from pollstead.election.values import Value
from pollstead.record.frozen_json import FrozenObject


class Shape(enum.StrEnum):
    """An enumeration inside a value."""

    ROUND = "round"
    LONG = "long"


class Inner(Value, frozen=True, omit_defaults=True):
    """A value inside, one field of which is not written at its default."""

    text: str
    number: int = 0


class Outer(Value, frozen=True, kw_only=True):
    """Every sort of field that values have."""

    zone: str
    alpha: tuple[Inner, ...]
    on: dt.date
    shape: Shape
    maybe: int | None
    yes: bool
    fields: FrozenObject
    pair: tuple[int, str]


class Measured(Value, frozen=True):
    """A value with a float, which the quick way does not take."""

    value: float


texts = st.text(st.characters(codec="utf-8"), max_size=12)
whole = st.integers(-(2**53) + 1, 2**53 - 1)
keys = st.text("abz09_", min_size=1, max_size=5)
composed = texts.map(lambda text: unicodedata.normalize("NFC", text))
outers = st.builds(
    Outer,
    zone=texts,
    alpha=st.lists(st.builds(Inner, text=texts, number=whole), max_size=3).map(tuple),
    on=st.dates(),
    shape=st.sampled_from(Shape),
    maybe=st.none() | whole,
    yes=st.booleans(),
    fields=st.dictionaries(keys, whole | composed | st.none(), max_size=4).map(FrozenObject),
    pair=st.tuples(whole, texts),
)


def the_long_way(value: Value) -> bytes:
    """The bytes as the writer in this package alone makes them."""
    out: list[str] = []
    canonical._write(value, out, "$")
    return "".join(out).encode()


@given(outers)
def test_the_quick_way_gives_the_bytes_of_the_long_way(value: Outer) -> None:
    """Whatever texts, keys, numbers and dates a value holds, both ways write the same bytes."""
    quick = canonical._quickly(value)
    assert quick is None or quick == the_long_way(value)
    assert canonical_bytes(value) == the_long_way(value)


plain_json = st.recursive(
    st.none() | st.booleans() | whole | texts | st.floats(allow_nan=False, allow_infinity=False),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(texts, inner, max_size=3),
    max_leaves=6,
)


@given(st.dictionaries(texts, plain_json, max_size=4))
def test_a_plain_object_has_the_bytes_of_the_long_way(fields: dict[str, Any]) -> None:
    """Whatever keys, texts and numbers it holds, floats and letters beyond U+FFFF among them."""
    out: list[str] = []
    canonical._write(fields, out, "$")
    assert canonical_object(fields) == "".join(out).encode()


def test_a_plain_object_that_does_not_fit_is_refused_as_any_other() -> None:
    """Too large a number, no number, half a letter: named with the place."""
    for value, words in ((2**53, "whole number"), (float("nan"), "finite"), ("\ud800", "surrogates")):
        with pytest.raises(ValueError, match=words):
            canonical_object({"a": value})


def test_plain_values_take_the_quick_way() -> None:
    """Letters with accents and large whole numbers that are within bounds keep it."""
    assert canonical._quickly(Inner(text='ü "\\\n\x1f/\x7f', number=2**49)) == the_long_way(
        Inner(text='ü "\\\n\x1f/\x7f', number=2**49)
    )


def test_a_value_with_a_float_takes_the_long_way() -> None:
    """Floats are written as RFC 8785 asks, and what is no number is refused."""
    assert canonical._quickly(Measured(1e21)) is None
    assert canonical_bytes(Measured(1e21)) == b'{"value":1e+21}'
    with pytest.raises(ValueError, match="finite"):
        canonical_bytes(Measured(float("nan")))


def test_what_does_not_fit_is_refused_by_both_ways() -> None:
    """A whole number beyond 2^53 - 1 and a lone surrogate are named as before."""
    with pytest.raises(ValueError, match="whole number"):
        canonical_bytes(Inner(text="", number=2**53))
    with pytest.raises(ValueError, match="surrogates"):
        canonical_bytes(Inner(text="\ud800"))
