"""The invented county of `larkmoor/`, read once."""

from __future__ import annotations

from pathlib import Path

import pytest

from pollstead.election.county import Election
from pollstead.intake import Intake, read_folder

LARKMOOR = Path(__file__).resolve().parents[2] / "larkmoor"


@pytest.fixture(scope="session")
def larkmoor() -> Intake:
    """Everything that reading the folder gives."""
    return read_folder(LARKMOOR)


@pytest.fixture(scope="session")
def county(larkmoor: Intake) -> Election:
    """The election of the folder."""
    assert larkmoor.election is not None
    return larkmoor.election
