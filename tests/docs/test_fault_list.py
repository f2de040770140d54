"""docs/background/faults.md names tests that are there, and every module that plants faults."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "background" / "faults.md").read_text(encoding="utf-8")
NAMED = sorted(set(re.findall(r"`(tests/[a-z_/]+\.py)::(test_[a-z0-9_]+)`", PAGE)))
NEVER_SAID = ("fraud", "tamper", "illegal", "verified", "audit", "lost votes", "proof", "prevents")


@pytest.mark.parametrize(("path", "test"), NAMED, ids=[test for _, test in NAMED])
def test_a_test_that_the_page_names_is_there(path: str, test: str) -> None:
    """The file is there and defines the function."""
    assert re.search(rf"^def {test}\(", (ROOT / path).read_text(encoding="utf-8"), re.MULTILINE)


def test_every_module_of_faults_is_on_the_page_and_every_row_names_a_test() -> None:
    """No fault is planted that the page does not tell, and no row is told without its test."""
    modules = {f"tests/faults/{path.name}" for path in (ROOT / "tests" / "faults").glob("test_*.py")}
    assert modules <= {path for path, _ in NAMED}
    rows = [line for line in PAGE.splitlines() if line.startswith("| ") and not line.startswith("| fault ")]
    assert len(rows) >= 25
    assert not [row for row in rows if "::test_" not in row]


def test_the_page_accuses_nobody() -> None:
    """None of the words that are never used of people or counts stands there."""
    assert not [word for word in NEVER_SAID if word in PAGE.casefold()]
