"""Whatever stands in a foreign table, making a county folder ends in words; what is written reads clean."""

from __future__ import annotations

import csv
import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pollstead.cli.main import run
from pollstead.intake import read_folder

pytestmark = pytest.mark.full

FACTS = ("--county", "Larkmoor", "--election-day", "2026-11-03", "--zone", "America/Chicago", "--kind", "A")
HEADINGS = st.sampled_from(
    "Polling Place|Address|City|Precinct|Precincts|Registered Voters|Ballots Cast|Location ID|Serial Number"
    "|Equipment Type|Quantity|Asset Tag|District|number of scanners|note||x".split("|")
)
CELLS = st.sampled_from(
    "Grange Hall|Grange Hall (gym)|12 Elm Street|12 Elm St.|S1|001|1|1,234 (est.)|12-15|n/a|Total|-|=1+1"
    "|*|9999999999|Scanner|BMD|LM-7|a;b\\|'|\"|é|Unable to determine|../x|0|".split("|")
)


@settings(max_examples=25)
@given(
    header=st.lists(HEADINGS, min_size=1, max_size=7),
    rows=st.lists(st.lists(CELLS, min_size=1, max_size=8), max_size=8),
    titles=st.lists(st.lists(CELLS, max_size=2), max_size=3),
)
def test_any_table_ends_in_words(header: list[str], rows: list[list[str]], titles: list[list[str]]) -> None:
    """The command ends with 0 or 1 and no traceback; a folder is whole, and with 0 it has no fault."""
    with tempfile.TemporaryDirectory() as top:
        table = Path(top) / "table.csv"
        with table.open("w", encoding="utf-8", newline="") as stream:
            csv.writer(stream).writerows([*titles, header, *rows])
        folder = Path(top) / "county"
        code = run(["new", str(folder), "--from", str(table), *FACTS, "--yes"])
        assert code in (0, 1)
        if code == 0:
            assert read_folder(folder).faults == ()
        assert {path.name for path in Path(top).iterdir()} <= {"table.csv", "county"}
