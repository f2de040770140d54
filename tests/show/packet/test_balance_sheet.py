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


def letters_of(balance):
    """The letter of each term, in the order in which the balance reads them."""
    letters = {}
    for line in balance.lines:
        letters.setdefault(line.term.id, chr(ord("A") + len(letters)))
    return letters


def sides(equation, letters):
    """The letters on the left and on the right of an equation."""
    return tuple(
        {letters[key.partition("@")[0]] for c, key in equation.terms if c * sign > 0} for sign in (1, -1)
    )


@pytest.mark.parametrize("site", ["S01", "S02"])
def test_every_term_has_one_place_to_write_per_subject(sample, site):
    """Each number of the site has a box, two where a second person counts; each device's number has one."""
    balance, devices = balance_of(sample.given(site))
    site_terms = [line for line in balance.lines if not line.device]
    device_terms = [line for line in balance.lines if line.device]
    found = tables(sample, site)
    assert len(found[0].rows) == len(site_terms)
    assert [len([c for c in row if c.fields]) for row in found[0].rows] == [2] * len(site_terms)
    places = 0
    for table in found[1:]:
        if table.columns[0].title not in ("", "Device"):
            continue
        numbers = [
            n for n, c in enumerate(table.columns) if not re.search(" − |^Device$|^Number$|^$", c.title)
        ]
        places += sum(
            bool(row[n].fields) for row in table.rows if row[0].words != "All devices" for n in numbers
        )
    assert places == len(device_terms)
    assert devices


def test_every_equation_of_a_small_site_is_written_out(sample):
    """Every equation has a row with the letters of its own terms, plus on the left, minus on the right."""
    balance, _ = balance_of(sample.given("S01"))
    letters = letters_of(balance)
    sums = next(t for t in tables(sample, "S01") if t.columns[0].title == "What must be equal")
    assert len(sums.rows) == len(balance.equations)
    for row, equation in zip(sums.rows, balance.equations, strict=True):
        found = tuple(set(re.findall(r"\b[A-Z]\b", cell.words)) for cell in row[1:3])
        assert found == sides(equation, letters)


def test_equations_of_many_devices_stand_beside_their_numbers(sample):
    """With many devices each kind of equation is a column, with a place for every device that has it."""
    balance, devices = balance_of(sample.given("S02"))
    letters = letters_of(balance)
    found = tables(sample, "S02")
    sums = next(t for t in found if t.columns[0].title == "What must be equal")
    of_site = [e for e in balance.equations if e.subject.startswith("site/")]
    assert len(sums.rows) == len(of_site)
    columns = {}
    for table in (t for t in found if t.columns[0].title == "Device"):
        for n, column in enumerate(table.columns):
            if " − " in column.title:
                left, right = column.title.split(" − ")
                key = tuple(frozenset(re.findall(r"[A-Z]", side)) for side in (left, right))
                columns[key] = sum(bool(row[n].fields) for row in table.rows)
    wanted = {}
    for equation in balance.equations:
        if equation not in of_site:
            key = tuple(map(frozenset, sides(equation, letters)))
            wanted[key] = wanted.get(key, 0) + 1
    assert columns == wanted
    assert len(devices) > 3


def test_memory_devices_out_and_in_are_compared_where_any_travel(sample):
    """Devices taken out and counted in the case stand side by side; no number is printed there."""
    found = next(t for t in tables(sample, "S01") if t.columns[0].title == "Memory devices of")
    assert [row[0].words for row in found.rows] == ["Scanner"]
    assert all(len(row[n].fields) == 1 for row in found.rows for n in (1, 2, 3))


def test_the_countys_own_form_and_line_stand_beside_each_number(sample):
    """A told line stands with its number, of the site or of a device; nothing stands where none is told."""
    from msgspec.structs import replace

    from pollstead.election.forms import FormLine
    from pollstead.show.packet.packet import texts

    lines = (
        FormLine(term="ballots_spoiled", form="Moor Counts leaf", line="3"),
        FormLine(term="public_counter_close", form="Moor Counter leaf", line="D"),
    )
    election = replace(sample.county(), form_lines=lines)
    for site in ("S01", "S02"):
        made = packet(sample.given(site, election=election), (SheetKind.BALANCE,))
        told = [text for text in texts(made) if "Your form" in text]
        assert len(told) == 2
        assert any("Spoiled ballots" in t and "Your form: Moor Counts leaf, line 3." in t for t in told)
        assert any("Public counter at closing" in t and "Moor Counter leaf, line D." in t for t in told)
    assert "Your form" not in " ".join(texts(packet(sample.given("S01"), (SheetKind.BALANCE,))))
