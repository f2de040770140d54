"""Canonical bytes: values recomputed, remembered or compared with another implementation."""

from __future__ import annotations

import json
import math
import struct

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from pollstead.election.canonical import LARGEST_INT, canonical_bytes, digest_of, es6_number

JSON_TEXT = (
    rb'{"numbers":[333333333.33333329,1E30,4.50,2e-3,0.000000000000000000000000001],'
    rb'"string":"\u20ac$\u000F\u000aA' + b"'" + rb'\u0042\u0022\u005c\\\"\/","literals":[null,true,false]}'
)

leaves = (
    st.none()
    | st.booleans()
    | st.integers(-LARGEST_INT, LARGEST_INT)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text()
)
trees = st.recursive(
    leaves,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)


def test_sample_has_the_computed_length_and_digest() -> None:
    """RFC 8785 3.2.2's sample: 118 bytes and this SHA-256, computed with an independent script."""
    assert len(canonical_bytes(json.loads(JSON_TEXT))) == 118
    assert (
        digest_of(json.loads(JSON_TEXT)) == "2d5e01a318d0f0879ab568c4be289c8b1f64ef8921a53c6277d5e069978baacb"
    )


@given(trees)
def test_equals_the_rfc8785_package(tree: object) -> None:
    """Any JSON value gives the same bytes as the PyPI package ``rfc8785``."""
    assert canonical_bytes(tree) == rfc8785.dumps(tree)  # type: ignore[arg-type]


@given(st.integers(0, 2**64 - 1))
def test_every_double_is_written_as_the_rfc8785_package_writes_it(bits: int) -> None:
    """Doubles drawn by their bits, so that all exponents occur, agree and read back exactly."""
    (number,) = struct.unpack("<d", bits.to_bytes(8, "little"))
    if math.isfinite(number):
        assert es6_number(number) == rfc8785.dumps(number).decode()
        assert float(es6_number(number)) == number


@pytest.mark.parametrize(
    ("number", "text"),
    [
        # ECMA-262 Number::toString, worked by hand from its cases (recomputed, not read).
        (1e21, "1e+21"),
        (1e20, "100000000000000000000"),
        (1e-6, "0.000001"),
        (1e-7, "1e-7"),
        (123456789012345680000.0, "123456789012345680000"),
        (-0.0, "0"),
        (5e-324, "5e-324"),
        (1.7976931348623157e308, "1.7976931348623157e+308"),
    ],
)
def test_points_and_exponents_stand_where_ecmascript_puts_them(number: float, text: str) -> None:
    """The borders between plain and exponent notation are ECMAScript's."""
    assert es6_number(number) == text


@pytest.mark.parametrize("value", [math.nan, math.inf, 2**53, -(2**53), "\ud800", {"a": [{"b": 2**60}]}])
def test_what_json_cannot_carry_exactly_is_refused(value: object) -> None:
    """Not-a-number, infinities, whole numbers beyond 2^53 - 1 and lone surrogates are refused."""
    with pytest.raises(ValueError, match=r"must be"):
        canonical_bytes(value)


@pytest.mark.parametrize("value", [{1: 2}, object(), {"a": {2, 3}.__iter__()}])
def test_what_json_has_no_word_for_is_refused(value: object) -> None:
    """Keys that are not text and objects of unknown type are refused with their type named."""
    with pytest.raises(TypeError):
        canonical_bytes(value)


def test_an_array_counts_by_type_shape_and_bytes() -> None:
    """Two arrays have one digest when type, shape and numbers agree, whatever their byte order."""
    numpy = pytest.importorskip("numpy")
    first = numpy.arange(6, dtype="<i8").reshape(2, 3)
    assert digest_of(first) == digest_of(first.astype(">i8"))
    assert digest_of(first) != digest_of(first.reshape(3, 2))
