"""Series with a check character: which number has one, what does not fit, how whole numbers are counted."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pollstead.election.check_characters import CheckScheme, scheme_character
from pollstead.election.county import SealRange
from pollstead.election.seal_checks import SealChecks
from pollstead.election.seal_stock import SealReceipt, SealVoid
from pollstead.plan.seals.ledger import At, LedgerGiven, seal_ledger
from pollstead.plan.seals.spans import span_of
from pollstead.plan.seals.stock import seals_in_stock

KIND = "pull-tight seal"
SCHEMES = st.sampled_from([CheckScheme.DAMM, CheckScheme.LUHN, CheckScheme.ISO_37_36])


def whole(body: str, scheme: CheckScheme = CheckScheme.DAMM) -> str:
    """A number as it stands on a seal of such a series."""
    return body + scheme_character(scheme, body)


def row(first: str, last: str, scheme: CheckScheme = CheckScheme.DAMM, **more: str) -> SealRange:
    """A range of whole numbers."""
    made = {"seal_kind": KIND, "series": "LM-A", "check_character": scheme.value} | more
    return SealRange(first=whole(first, scheme), last=whole(last, scheme), **made)


@given(st.integers(0, 9_000), st.integers(0, 900), SCHEMES)
def test_a_range_counts_its_seals_and_writes_each_whole(low: int, more: int, scheme: CheckScheme) -> None:
    """From and to hold one seal for each body between them, and every one fits its check character."""
    block = row(f"LM{low:05d}", f"LM{low + more:05d}", scheme)
    assert seals_in_stock((block,)) == {KIND: more + 1}
    span = span_of(KIND, "LM-A", block.first, block.last, "", scheme)
    assert span is not None and span.count == more + 1 and span.shape.text(span.high) == block.last
    checks = SealChecks.of((block,))
    middle = span.shape.text((span.low + span.high) // 2)
    assert checks.scheme_of(KIND, middle) is scheme and not checks.misread(KIND, middle)


def test_a_number_of_no_series_with_a_check_character_is_never_held_against_one() -> None:
    """Nothing is said where no range of the kind has one, nor of a number shaped like a series without."""
    plain = SealRange(seal_kind="wire seal", series="LM-W", first="0310001", last="0310120")
    mixed = SealRange(seal_kind=KIND, series="LM-B", first="B0001", last="B0400")
    checks = SealChecks.of((plain, mixed, row("0048001", "0048400")))
    assert not checks.misread("wire seal", "0310009") and not checks.misread(KIND, "B0017")
    assert checks.misread(KIND, whole("0048017")[:-1] + "x") and not checks.misread(KIND, whole("0048017"))
    assert checks.misread("", "00480170") != checks.misread("", whole("0048017"))
    assert not SealChecks.of((plain, mixed)).runs


def test_where_every_series_has_one_a_number_of_any_length_must_fit() -> None:
    """A digit left out makes a number of another shape, and it is told as well."""
    checks = SealChecks.of((row("0048001", "0048400"),))
    right = whole("0048017")
    assert checks.misread(KIND, right[1:-1]) and checks.misread(KIND, right[:3] + right[4:])


def test_the_ledger_places_whole_numbers() -> None:
    """Receipts without a column of their own take the check character of their range; voids are found."""
    block = row("0048001", "0048010")
    receipt = SealReceipt(
        id="R-1", seal_kind=KIND, series="LM-A", first=block.first, last=block.last, counted=10,
        counted_by=("P1", "P2"),
    )  # fmt: skip
    void = SealVoid(seal_kind=KIND, number=whole("0048005"))
    ledger = seal_ledger(LedgerGiven(ranges=(block,), receipts=(receipt,), voids=(void,)))
    assert not ledger.troubles
    line = ledger.line(KIND)
    assert line is not None and (line.received, line.void, line.outside) == (10, 1, 0)
    assert [(s.first, s.last) for s in ledger.stretches if s.at is At.STORE] == [
        (whole("0048001"), whole("0048004")),
        (whole("0048006"), whole("0048010")),
    ]


def test_an_unknown_word_is_refused_and_a_blank_leaves_the_row_as_it_was() -> None:
    """The column has four words; a row without it is written, and so digested, as before."""
    import msgspec

    with pytest.raises(ValueError, match="damm"):
        row("0048001", "0048400", check_character="crc32")
    plain = SealRange(seal_kind=KIND, series="LM-A", first="1", last="9")
    assert set(msgspec.to_builtins(plain)) == {"seal_kind", "series", "first", "last"}
