"""On the day of a swap closing and balance sheets carry both devices: the one taken out, the one put in."""

from __future__ import annotations

import datetime as dt

import msgspec
import pytest

from pollstead.plan.terms.version import SheetKind
from pollstead.reconcile.changed.on_the_day import Swap
from pollstead.show.packet.packet import blank_drafts, content_of, packet, texts
from pollstead.show.packet.sheet_lines import lines_as_printed, lines_by_key

OLD, NEW = "device/scanner/0001", "device/scanner/0077"


@pytest.fixture
def swapped(sample):
    """Site S01 whose scanner was taken out at 14:05, and the same without the swap in the record."""
    now, _, _ = sample.changed()
    version = now.plan
    old = sample.plan().site("S01")
    station = next(s for s in old.stations if s.station_type == "ballot-scanner")
    swap = Swap(station=station.id, day="2028-11-07", old=station.parts[0].device, new=NEW, at_min=845)
    return (
        sample.given("S01", version=version, swaps=(swap,)),
        sample.given("S01", version=version),
        swap,
    )


def subjects(given, key, item):
    """Of which devices a sheet asks for an item."""
    return [line.subject for line in lines_by_key(given)[key] if line.item == item]


def test_both_devices_are_closed_and_both_are_counted(swapped):
    """Closing and balance sheet ask each number of the old device and of the new one, in this order."""
    given, _, swap = swapped
    both = [swap.old, NEW]
    assert subjects(given, "CLOSING/2028-11-07/pair-2", "public_counter_close") == both
    for term in ("public_counter_open", "public_counter_close", "lifetime_counter_close"):
        assert subjects(given, "BALANCE/2028-11-07", term) == both


def test_a_swap_that_was_taken_back_leaves_both_devices_on_the_sheets(swapped, sample):
    """The plan holds the old device again; the one that stood there meanwhile is closed and counted, too."""
    _, _, swap = swapped
    given = sample.given("S01", version=sample.plan(), swaps=(swap,))
    both = [NEW, swap.old]
    assert subjects(given, "CLOSING/2028-11-07/pair-2", "public_counter_close") == both
    assert subjects(given, "BALANCE/2028-11-07", "public_counter_open") == both


def test_a_number_on_paper_means_what_stood_there_when_it_was_printed(swapped, sample):
    """Sheets of before and after the swap are read by their own lines; one that fits neither has none."""
    given, before, swap = swapped
    election, version = sample.county(), sample.changed()[0].plan
    for drawn in (given, before):
        for draft in blank_drafts(drawn):
            lines = lines_as_printed(election, version, "S01", draft.key, content_of(draft), swaps=(swap,))
            assert lines == draft.lines, draft.key
    assert lines_as_printed(election, version, "S01", "BALANCE/2028-11-07", "0" * 64, swaps=(swap,)) == ()


def test_only_closing_and_balance_sheets_of_that_day_change(swapped):
    """Opening sheets and sheets of another day have the plan's device alone, and no key comes or goes."""
    given, before, _ = swapped
    old, new = lines_by_key(before), lines_by_key(given)
    assert old.keys() == new.keys()
    changed = {key for key in old if old[key] != new[key]}
    assert changed == {"CLOSING/2028-11-07/pair-2", "BALANCE/2028-11-07"}
    assert given.with_swapped(dt.date(2028, 11, 6)) is given


def test_sheets_say_which_device_stood_there_when_and_tell_no_number(swapped):
    """Each device is named with the minute of the swap; no serial of either stands on the sheets."""
    given, _, swap = swapped
    kinds = (SheetKind.CLOSING, SheetKind.BALANCE)
    for sheet in packet(given, kinds).sheets:
        told = " ".join(texts(sheet))
        if "Scanner" in told:
            assert "Scanner 1, taken out at 14:05" in told and "Scanner 1, put in at 14:05" in told
        assert "LM-V-0077" not in told and swap.old not in told


def test_a_serial_of_the_device_taken_out_stops_the_print(swapped, sample):
    """The old device is read independently, too: its serial may not stand in words of the county."""
    given, _, swap = swapped
    election = sample.county()
    known = msgspec.structs.replace(election.devices[0], id=swap.old, serial="LM-V-9119")
    site = msgspec.structs.replace(election.sites[0], address="behind LM-V-9119")
    election = msgspec.structs.replace(
        election, devices=(*election.devices, known), sites=(site, *election.sites[1:])
    )
    with pytest.raises(ValueError, match="independently"):
        packet(sample.given("S01", election=election, version=given.plan, swaps=(swap,)))
