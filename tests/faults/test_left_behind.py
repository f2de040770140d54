"""Memory devices left in a machine or a room: each is scanned or stated with a name, else it is asked for."""

from __future__ import annotations

from typing import Any

import pytest
from tests.reconcile.conftest import DAY

from pollstead.election.instants import OperatingDay
from pollstead.reconcile.counts.memory import MemoryState
from pollstead.reconcile.custody.legs import legs_of
from pollstead.reconcile.custody.not_back import NotBackList, not_back
from pollstead.reconcile.custody.places import held_things
from pollstead.reconcile.custody.receiving import Sort, site_lines
from pollstead.record.kinds import days

SCANNER = "device/scanner/S01-1"
NIGHT = OperatingDay(date=DAY, zone_name="America/New_York")


def close(case: Any) -> None:
    """The last voter had voted at 20:00."""
    case.record.clock = NIGHT.at_wall_clock(1200).utc_ms
    case.record.write(days.SiteClosed(at_min=1200), "site/S01", "P001")


def say(case: Any, memory: str, state: str, *people: str, inside: str = "") -> None:
    """What people say of one memory device."""
    body = days.MemoryDevicePacked(state=state, inside=inside)  # type: ignore[arg-type]
    case.record.write(body, f"memory-device/{memory}", *people)


def asked(case: Any) -> list[str]:
    """The memory devices that a notice still asks for."""
    return [n.subject for n in case.site().notices if n.rule == "balance.I9"]


def list_now(case: Any, minute: int = 1400) -> NotBackList:
    """Not back yet, at a minute of the evening."""
    folded = case.record.fold()
    held = held_things(legs_of(folded))
    return not_back(
        case.election, case.day(folded=folded).sites, held, DAY, NIGHT.at_wall_clock(minute).utc_ms
    )


def test_closing_is_complete_only_when_each_id_is_in_the_case_or_stated(case: Any) -> None:
    """After the last voter every machine is asked for, until each of its memory devices has a word."""
    assert asked(case) == []
    close(case)
    machines = [m for m in case.site().memory if m.must_travel]
    assert machines and len(asked(case)) == len(machines)
    for machine in machines:
        for line in machine.lines:
            say(case, line.id, "in_case", "P001", "P002")
    assert asked(case) == []
    words = [o.entered_by for m in case.site().memory for line in m.lines for o in line.observations]
    assert set(words) == {("person/P001", "person/P002")}, "each word has its names"


@pytest.mark.parametrize(
    ("state", "wanted", "still"),
    [
        ("travels_inside", MemoryState.TRAVELS_INSIDE, False),
        ("to_follow", MemoryState.TO_FOLLOW, True),
        ("not_found", MemoryState.NOT_FOUND, True),
    ],
)
def test_a_memory_device_that_is_not_in_the_case_has_a_state_and_names(
    case: Any, state: str, wanted: MemoryState, still: bool
) -> None:
    """Travels inside, to follow, not found: kept with names; the receiving table sees it first of all."""
    close(case)
    machine = next(m for m in case.site().memory if m.must_travel)
    for line in machine.lines:
        inside = machine.device if state == "travels_inside" else ""
        say(case, line.id, state, "P001", "P002", inside=inside)
    found = next(m for m in case.site().memory if m.device == machine.device)
    assert {line.state for line in found.lines} == {wanted}
    assert (found.short > 0) is still
    folded = case.record.fold()
    lines = site_lines(case.day(folded=folded).site("S01"), held_things(legs_of(folded)))
    sorts = [line.sort for line in lines]
    assert sorts[0] is Sort.MEMORY_DEVICE
    assert sorts == sorted(sorts, key=lambda s: s is not Sort.MEMORY_DEVICE), (
        "before the case, ballots and keys"
    )
    mine = [line for line in lines if line.device == machine.device]
    assert mine and all(line.state is wanted for line in mine)


def test_not_back_yet_names_the_last_place_who_was_there_and_whom_to_call(case: Any) -> None:
    """Nobody said anything of it: the machine is the last place, with the last pair at it and the leads."""
    case.record.clock = NIGHT.at_wall_clock(1205).utc_ms
    case.record.number(SCANNER, "public_counter_close", 412, "P002", "P001")
    close(case)
    memory = [thing for thing in list_now(case).things if thing.line.device == SCANNER]
    assert memory
    for thing in memory:
        assert thing.last_place == SCANNER
        assert thing.last_people == ("person/P002", "person/P001")
        assert set(thing.call) == {"person/P001", "person/P002"}
        assert thing.overdue


def test_what_travels_inside_a_machine_is_told_with_the_machine(case: Any) -> None:
    """Left in the machine on purpose: the list names the machine, so that it is opened at the warehouse."""
    close(case)
    machine = next(m for m in case.site().memory if m.device == SCANNER)
    for line in machine.lines:
        say(case, line.id, "travels_inside", "P001", inside=SCANNER)
    things = [t for t in list_now(case).things if t.line.device == SCANNER]
    assert things and {t.last_place for t in things} == {SCANNER}


def test_a_memory_device_that_a_table_took_in_is_asked_for_no_more(case: Any) -> None:
    """Received by id: gone from the list; its twin that stayed behind is still there."""
    close(case)
    machine = next(m for m in case.site().memory if m.device == SCANNER)
    assert machine.must_travel >= 1
    first = machine.lines[0].id
    before = len([t for t in list_now(case).things if t.line.device == SCANNER])
    body = days.ThingReceived(place="receiving/T1", state="received")
    case.record.write(body, f"memory/{first}", "P010")
    after = [t for t in list_now(case).things if t.line.device == SCANNER]
    assert len(after) == before - 1
    assert first not in {t.line.code for t in after}
