"""A device's report as a CSV that a person filled in: what is read, every fault of the file at once."""

from __future__ import annotations

from pollstead.intake.deck_report import read_deck_report


def test_rows_with_a_count_are_read_and_blank_ones_are_numbers_nobody_read() -> None:
    """Zeros count; extra columns do not matter."""
    text = "contest,line,choice,words,count\n,ballots,,Ballots read,17\nc,choice,1,Ann,0\nc,undervotes,,,\n"
    rows, faults = read_deck_report(text.encode(), "r.csv")
    assert faults == ()
    told = [(row.row, row.contest, row.line, row.choice, row.count) for row in rows]
    assert told == [(2, "", "ballots", "", 17), (3, "c", "choice", "1", 0)]


def test_every_count_that_is_no_count_is_told_with_its_row() -> None:
    """A letter O for a zero, a minus, a point: three faults, and nothing is taken."""
    text = "contest,line,choice,count\nc,choice,1,1O\nc,choice,2,-1\nc,choice,3,1.0\nc,choice,4,4\n"
    rows, faults = read_deck_report(text.encode(), "r.csv")
    assert rows == () and [f.place.row for f in faults if f.place] == [2, 3, 4]


def test_a_file_without_the_columns_is_refused_by_their_names() -> None:
    """The names that lack are told; bytes that are no text are a fault too."""
    _, faults = read_deck_report(b"a,b\n1,2\n", "r.csv")
    assert "contest, line, choice, count" in faults[0].text.english()
    assert read_deck_report(b"\xff\xfe\x00", "r.csv")[1]
