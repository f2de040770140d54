"""Every line that is written on a blank sheet has a number, and the number leads back to what was asked."""

from __future__ import annotations

import re

import pytest
from msgspec.structs import replace

from pollstead.election.station_type import Moment
from pollstead.plan.terms.version import SheetKind
from pollstead.reconcile.counts.terms import BY_ID
from pollstead.show.packet.packet import packet
from pollstead.show.packet.sheet_lines import item_of, lines_by_key, lines_of, lines_of_site

NUMBERED = (SheetKind.OPENING, SheetKind.CLOSING, SheetKind.BALANCE)
SITES = ("S01", "S02")


def drawn(sheet):
    """The numbers that stand on a sheet's cells, in the order in which they are drawn."""
    tables = [b for b in sheet.blocks if type(b).__name__ == "Table"]
    return [cell.line for table in tables for row in table.rows for cell in row if cell.line]


@pytest.mark.parametrize("site", SITES)
def test_numbers_are_unique_and_dense_on_each_sheet_that_is_written_on(sample, site):
    """L1, L2 … without gap or doubling on each opening, closing and balance sheet; none on other sheets."""
    given = sample.given(site)
    told = lines_by_key(given)
    for sheet in packet(given).sheets:
        if sheet.kind not in NUMBERED:
            assert sheet.key not in told and drawn(sheet) == []
            continue
        numbers = [line.line for line in told[sheet.key]]
        assert numbers == [f"L{n}" for n in range(1, len(numbers) + 1)] and numbers, sheet.key
        assert sorted(drawn(sheet)) == sorted(numbers), sheet.key


@pytest.mark.full
@pytest.mark.parametrize("site", SITES)
def test_pages_carry_exactly_the_numbers_that_are_told(pages_of, sample, site):
    """The words of each sheet's pages, taken out of the PDF, hold its line numbers once each and no other."""
    pages, told = pages_of(site), lines_by_key(sample.given(site))
    for sheet in pages.made.sheets:
        own = " ".join(text for text in pages.texts if f"Sheet {sheet.serial} " in text)
        found = re.findall(r"\bL\d+\b", own)
        assert sorted(found) == sorted(line.line for line in told.get(sheet.key, ())), sheet.key


def test_numbers_stay_when_a_station_is_added_to_another_sheet(sample):
    """One more check-in station leaves the lines of the scanner's sheets, and their numbers, as they were."""
    version = sample.plan()
    site = version.site("S01")
    more = sample.station("S01", sample.CHECK_IN, 3, 90)
    changed = replace(version, sites=(replace(site, stations=(*site.stations, more)), *version.sites[1:]))
    before, after = (lines_by_key(sample.given("S01", version=v)) for v in (version, changed))
    kept = {key for key, lines in before.items() if any("ballot-scanner" in line.station for line in lines)}
    assert len(kept) == 2
    for key in kept:
        assert before[key] == after[key], key
    assert before["OPENING/2028-11-07/pair-1"] != after["OPENING/2028-11-07/pair-1"]


def expected_subjects(sample, site, moment):
    """What the expected list asks for at a moment: item, subject of the event, and step of a seal."""
    found = set()
    for one in sample.given(site).expected:
        for item in one.items:
            if item.moment is not moment or item.what == "date":
                continue
            if item.what in ("serial", "seal", "memory device"):
                found.add((item.what, item.subject))
            elif item.what == "counter":
                found.add(("counter", item.device))
            else:
                found.add((item.what, item.device))
    return found


@pytest.mark.parametrize("site", SITES)
@pytest.mark.parametrize("moment", [Moment.OPENING, Moment.CLOSING])
def test_every_expected_item_has_its_line_under_the_same_subject(sample, site, moment):
    """What a sheet's lines ask for are the items that are compared, by the subjects of the expected list."""
    kind = {"OPENING": Moment.OPENING, "CLOSING": Moment.CLOSING}
    asked = set()
    for key, lines in lines_by_key(sample.given(site)).items():
        if kind.get(key.split("/")[0]) is not moment:
            continue
        for line in lines:
            is_count = line.item in BY_ID or line.item.startswith("check_ins_")
            asked.add(("counter" if is_count else line.item, line.subject))
    wanted = expected_subjects(sample, site, moment)
    # The sample's opening sheet has no line for the memory devices, whatever the list expects of them.
    assert {one for one in wanted if one[0] != "memory device"} <= asked


def test_counts_of_the_balance_are_lines_by_their_terms(sample):
    """Each term of the balance is asked once, by its own id, of the site or of the device that shows it."""
    from pollstead.show.packet.balance_sheet import balance_of

    given = sample.given("S02")
    balance, _ = balance_of(given)
    lines = lines_of(given, "BALANCE/2028-11-07")
    asked = [(line.item, line.subject) for line in lines if line.item in BY_ID]
    wanted = [(line.term.id, line.device or "site/S02") for line in balance.lines]
    assert sorted(asked) == sorted(wanted)


def test_a_number_as_typed_finds_its_line_and_a_wrong_one_says_how_far_they_go(sample):
    """``L3``, ``l3`` and ``3`` are one line; a number beyond the last names the last."""
    lines = lines_of(sample.given("S01"), "BALANCE/2028-11-07")
    assert item_of(lines, "L3") == item_of(lines, " l3 ") == item_of(lines, "3") == lines[2]
    with pytest.raises(KeyError, match=lines[-1].line):
        item_of(lines, f"L{len(lines) + 1}")
    with pytest.raises(KeyError, match="no blank sheet"):
        lines_of(sample.given("S01"), "BALANCE/2031-01-01")


def test_lines_follow_from_facts_plan_and_key_alone(sample):
    """Neither the plan's digest nor the moment of printing has a part in the numbers."""
    election, version = sample.county(), sample.plan()
    for key, lines in lines_by_key(sample.given("S01")).items():
        assert lines_of_site(election, version, "S01", key) == lines
