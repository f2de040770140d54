"""A county folder with a record, for the tests of the store."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from pollstead.record.event import Means, Part, Person, Signed
from pollstead.record.kinds.days import CountRead, SealNumber, SealSeen
from pollstead.record.write import Moment
from pollstead.store.desk import Desk, begin_desk, open_desk

START = 1_857_200_000_000
ME = (Person(person="person/P001", means=Means.OWN_DEVICE, part=Part.AUTHOR),)


def moment(step: int = 0) -> Moment:
    """A moment `step` seconds after the start."""
    return Moment(utc_ms=START + step * 1_000, offset_min=-300, uncertainty_ms=0)


def begin(folder: Path, *, practice: bool = False, election: str = "General", step: int = 0) -> Desk:
    """Begin or open the record of a folder."""
    folder.mkdir(exist_ok=True)
    return begin_desk(
        folder,
        county="Larkmoor (invented)",
        election=election,
        practice=practice,
        people=ME,
        moment=moment(step),
    )


def read_count(desk: Desk, value: int) -> Signed:
    """Record one reading."""
    return desk.recorder.record(
        CountRead(term="public_counter_open", value=abs(value), source="screen"),
        subject="device/scanner/0012",
        site="site/S01",
        day="2028-11-07",
        people=ME,
        moment=moment(value),
    )


def read_seal(desk: Desk, number: str) -> Signed:
    """Record one seal with its number in the private part."""
    return desk.recorder.record(
        SealSeen(step="opening", state="intact"),
        subject="closure/scanner/0012/lid",
        site="site/S01",
        day="2028-11-07",
        people=ME,
        moment=moment(60),
        private=SealNumber(number=number),
    )


@pytest.fixture
def make_desk() -> Callable[..., Desk]:
    """Begin the record of a folder."""
    return begin


@pytest.fixture
def count() -> Callable[[Desk, int], Signed]:
    """Record a reading."""
    return read_count


@pytest.fixture
def seal() -> Callable[[Desk, str], Signed]:
    """Record a seal."""
    return read_seal


@pytest.fixture(scope="session")
def begun(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the desk's certificate, five readings and a seal, made once: only to be copied."""
    folder = tmp_path_factory.mktemp("begun") / "county"
    made = begin(folder)
    for value in range(5):
        read_count(made, value)
    read_seal(made, "0048211")
    made.close()
    return folder


@pytest.fixture
def desk(begun: Path, tmp_path: Path) -> Iterator[Desk]:
    """A desk with its certificate, five readings and a seal."""
    shutil.copytree(begun, tmp_path / "county")
    made = open_desk(tmp_path / "county")
    yield made
    made.close()
