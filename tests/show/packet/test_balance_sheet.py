"""The balance sheet asks for every term of the balance once and writes every equation out."""

from __future__ import annotations

import re

import pytest

from pollstead.plan.terms.version import SheetKind
from pollstead.show.packet.balance_sheet import balance_of
from pollstead.show.packet.packet import packet


def tables(sample, site):
    """The tables of a site's balance sheet."""
    made = packet(sample.given(site), (SheetKind.BALANCE,))
    return [b for b in made.sheets[0].blocks if type(b).__name__ == "Table"]


@pytest.mark.parametrize("site", ["S01", "S02"])
def test_every_term_has_one_place_to_write_per_subject(sample, site):
    """Each number of the balance has one box, or two where a second person counts; no other is there."""
    balance, devices = balance_of(sample.given(site))
    site_terms = [line for line in balance.lines if not line.device]
    device_terms = [line for line in balance.lines if line.device]
    found = tables(sample, site)
    assert len(found[0].rows) == len(site_terms)
    assert [len([c for c in row if c.fields]) for row in found[0].rows] == [3] * len(site_terms)
    boxes = 0
    for table in found[1:]:
        if table.columns[0].title in ("", "Device"):
            boxes += sum(bool(c.fields) for row in table.rows for c in row)
    assert boxes == len(device_terms)
    assert devices


@pytest.mark.parametrize("site", ["S01", "S02"])
def test_every_equation_is_written_out_with_known_letters(sample, site):
    """Every equation has a row with the letters of its own terms, plus on the left, minus on the right."""
    balance, _ = balance_of(sample.given(site))
    found = tables(sample, site)
    sums = next(t for t in found if t.columns[0].title == "What must be equal")
    assert len(sums.rows) == len(balance.equations)
    letters = {}
    for line in balance.lines:
        letters.setdefault(line.term.id, chr(ord("A") + len(letters)))
    for row, equation in zip(sums.rows, balance.equations, strict=True):
        for cell, sign in ((row[1], 1), (row[2], -1)):
            wanted = {letters[key.partition("@")[0]] for c, key in equation.terms if c * sign > 0}
            assert set(re.findall(r"\b[A-Z]\b", cell.words)) == wanted


def test_memory_devices_out_and_in_are_compared_where_any_travel(sample):
    """Devices taken out and counted in the case stand side by side; no number is printed there."""
    found = next(t for t in tables(sample, "S01") if t.columns[0].title == "Memory devices of")
    assert [row[0].words for row in found.rows] == ["Scanner"]
    assert all(len(row[n].fields) == 1 for row in found.rows for n in (1, 2, 3))
