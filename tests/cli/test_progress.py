"""Progress where nobody looks at a terminal."""

from __future__ import annotations

import pytest

from pollstead.cli.progress import Tenths


def test_many_things_give_a_line_at_each_tenth(capsys: pytest.CaptureFixture[str]) -> None:
    """Ten lines for 250 sites, on the error stream; none for three."""
    watch = Tenths()
    for done in range(251):
        watch.step("lines", done, 250)
    for done in range(4):
        watch.step("demand", done, 3)
    told = capsys.readouterr()
    assert told.out == ""
    assert [line.rsplit(", ", 1)[1] for line in told.err.splitlines()] == [
        f"{n} %" for n in range(10, 101, 10)
    ]
