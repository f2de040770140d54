"""Larkmoor is made by its script, reads without a fault, and has the size its page says."""

from __future__ import annotations

import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

from pollstead.election.county import Election
from pollstead.election.notice import NoticeKind
from pollstead.intake import Intake, read_folder

LARKMOOR = Path(__file__).resolve().parents[2] / "larkmoor"


def test_the_folder_reads_without_a_fault(larkmoor: Intake) -> None:
    """Every table is taken in, nothing contradicts itself, every name leads somewhere."""
    assert larkmoor.faults == ()
    assert larkmoor.not_planned == ()
    rules = {n.rule for n in larkmoor.notices if n.kind is NoticeKind.OPEN_ITEM}
    assert not rules & {"name-leads-nowhere", "person-unknown", "device-home-unknown", "seal-outside-stock"}


def test_the_script_gives_the_committed_tables(tmp_path: Path) -> None:
    """The same seed gives the same bytes."""
    subprocess.run([sys.executable, str(LARKMOOR / "make_tables.py"), "--out", str(tmp_path)], check=True)
    made = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    assert made == {
        path.name: path.read_bytes()
        for path in LARKMOOR.iterdir()
        if path.suffix in (".csv", ".toml") and path.name in made
    }
    assert len(made) == 33


@pytest.mark.full
def test_fifteen_copies_are_a_county_of_600_sites(tmp_path: Path) -> None:
    """The same script makes a large county; it reads without a fault, with every trap fifteen times."""
    script = [sys.executable, str(LARKMOOR / "make_tables.py"), "--copies", "15", "--out", str(tmp_path)]
    subprocess.run(script, check=True)
    intake = read_folder(tmp_path)
    assert intake.faults == ()
    assert intake.election is not None
    assert len(intake.election.sites) == 600
    assert sum(p.registered or 0 for p in intake.election.precincts) == 15 * 118_400
    assert len({p.id for p in intake.election.people}) == len(intake.election.people) == 15 * 458 + 12
    assert sum(1 for n in intake.notices if n.rule == "heaters") == 15
    assert not any(n.rule == "same-building" for n in intake.notices)


def test_totals_are_those_of_the_page(county: Election) -> None:
    """The figures of larkmoor/README.md."""
    assert Counter(site.kind for site in county.sites) == {
        "hand-marked": 34,
        "vote-center": 4,
        "device-marked": 2,
    }
    assert len(county.precincts) == 84
    assert len({style for p in county.precincts for style in p.styles}) == 61
    assert sum(p.registered or 0 for p in county.precincts) == 118_400
    assert len({row.election for row in county.history}) == 3
    assert Counter(device.kind for device in county.devices) == {
        "check-in computer": 148 + 12,
        "scanner": 67 + 12,
        "ballot-marking device": 50 + 5 + 37,
        "ballot printer": 37 + 2,
        "on-demand ballot printer": 22 + 3,
    }
    assert len({d.cart for d in county.devices if d.kind == "scanner"}) == 79
    assert sum(len(d.memory_devices) for d in county.devices if d.kind == "scanner") == 154
    roles = Counter(person.role for person in county.people)
    assert sum(roles.values()) - roles["building contact"] == 430
    assert sum(1 for person in county.people if person.site) == 341
    assert roles["reserve"] == 37
    assert sum(int(r.last) - int(r.first) + 1 for r in county.seal_ranges) == 3_200
    assert sum(r.counted or 0 for r in county.seal_receipts) == 3_200
    assert all(len(set(r.counted_by)) == 2 for r in county.seal_receipts)
    assert {(r.site, r.room) for r in county.room_corners} == {
        (room.site, room.id) for room in county.rooms if room.voting or room.use == "gym"
    }


def test_serials_follow_a_pattern_of_our_own(county: Election) -> None:
    """Every serial, tag and memory device begins with LM-; nothing looks like a maker's number."""
    for device in county.devices:
        assert device.serial.startswith("LM-")
        assert device.tag.startswith("LM-TAG-")
        assert all(memory.startswith("LM-M-") for memory in device.memory_devices)


def test_early_voting_runs_eleven_days_at_four_sites(county: Election) -> None:
    """Four sites are open on 27 October to 6 November and on election day."""
    days = {s.id: len(s.hours) for s in county.sites if len(s.hours) > 1}
    assert days == {"S01": 12, "S09": 12, "S13": 12, "S36": 12}
