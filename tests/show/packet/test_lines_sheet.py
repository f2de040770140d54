"""The sheet of lines and waits: why so many stations, the busy hours, a row for every hour of a day."""

from __future__ import annotations

import datetime as dt

from msgspec.structs import replace

from pollstead.plan.terms.version import HourWait, SheetKind, WaitReport, WhatIf
from pollstead.show.packet.content import FieldKind, Table
from pollstead.show.packet.packet import packet

WAITS = WaitReport(
    limit_ms=1_800_000,
    risk_ppm=46_875,
    low_ppm=38_000,
    high_ppm=57_100,
    days_used=2048,
    mean_wait_ms=150_000,
    p50_longest_wait_ms=600_000,
    p95_longest_wait_ms=1_740_000,
    binding="check-in",
    meets_limit=True,
    what_ifs=(
        WhatIf(
            change="One fewer check-in station",
            count=2,
            risk_ppm=240_000,
            p95_longest_wait_ms=5_400_000,
            voter_minutes=4_100,
        ),
        WhatIf(
            change="One more check-in station",
            count=4,
            risk_ppm=10_000,
            p95_longest_wait_ms=900_000,
            voter_minutes=700,
        ),
        WhatIf(
            change="A long ballot: marking and casting take longer",
            risk_ppm=530_000,
            p95_longest_wait_ms=9_000_000,
            voter_minutes=9_000,
            percent=50,
        ),
    ),
    accepted_ppm=50_000,
    undecided=True,
    compared=WhatIf(
        change="The plan itself", risk_ppm=45_000, p95_longest_wait_ms=1_700_000, voter_minutes=1_900
    ),
    compared_days=200,
    day=dt.date(2028, 11, 7),
    hours=tuple(HourWait(from_min=420 + 60 * k, p50_ms=60_000 * k, p90_ms=120_000 * k) for k in range(13)),
    hour_days=64,
)


def lines_sheet(sample, waits):
    """The sheet of site S01 with these waits."""
    version = sample.plan()
    site = replace(version.site("S01"), waits=waits)
    changed = replace(version, sites=(site, *version.sites[1:]))
    made = packet(sample.given("S01", version=changed), kinds=(SheetKind.LINES,))
    (sheet,) = made.sheets
    return made, sheet


def test_the_sheet_of_a_day_takes_one_leaf_with_sizing_in_front_and_the_tally_after_it(sample, set_pages):
    """Days, interval, undecided, why, hours and changes stand on the front; the tally follows."""
    made, _ = lines_sheet(sample, WAITS)
    pages = set_pages(made)
    assert len(pages) == 2
    front, _ = pages.texts
    for words in (
        "2,048 computed days",
        "4.7 % (3.8 % to 5.7 %)",
        "accepts 5.0 %",
        "leave open on which side",
        "one fewer 24.0 %, one more 1.0 %",
        "half of the days 0 1 2 3 4 5 6 7 8 9 10 11 12",
        "90 of 100 days 0 2 4",
        "4,100 (+2,200)",
        "700 (−1,200)",
        "take longer (+50 %)",
        "real lines differ",
        "election official decides",
    ):
        assert words in front, words
    assert "Count the lines every hour" in pages.text
    for hour in range(7, 21):
        assert f" {hour:02}:00 " in pages.text


def test_every_full_hour_has_room_for_what_a_count_of_lines_asks(sample):
    """One row for opening, each full hour and closing; people, stations, checked in."""
    _, sheet = lines_sheet(sample, None)
    tables = [block for block in sheet.blocks if isinstance(block, Table)]
    (tally,) = tables
    assert [row[0].words for row in tally.rows] == [f"{hour:02}:00" for hour in range(7, 21)]
    for row in tally.rows:
        assert [field.kind for cell in row[1:] for field in cell.fields] == [FieldKind.LINE] * 3 + [
            FieldKind.TICK
        ]
    words = " ".join(block.words for block in sheet.blocks if hasattr(block, "words"))
    assert "No waits were computed" in words


def test_days_stand_side_by_side_and_a_day_without_hours_has_empty_clocks(sample):
    """A site of three days has two tables; a shorter day ends sooner; without hours the clock is written."""
    election = sample.county()
    site = election.site("S01")
    first = site.hours[0]
    later = tuple(
        replace(first, date=first.date + dt.timedelta(days=n), closes_min=first.closes_min - 60 * n)
        for n in (1, 2)
    )
    several = replace(
        election,
        sites=tuple(
            replace(one, hours=(first, *later)) if one.id == "S01" else replace(one, hours=())
            for one in election.sites
        ),
    )
    made = packet(sample.given("S01", election=several), kinds=(SheetKind.LINES,))
    tables = [block for block in made.sheets[0].blocks if isinstance(block, Table)]
    assert [len(table.columns) for table in tables] == [8, 4]
    assert tables[0].rows[-1][0].words == "20:00"
    assert tables[0].rows[-1][4].words == ""
    assert tables[0].rows[-2][4].words == "19:00"
    made = packet(sample.given("S02", election=several), kinds=(SheetKind.LINES,))
    (untold,) = [block for block in made.sheets[0].blocks if isinstance(block, Table)]
    assert {field.kind for row in untold.rows for field in row[0].fields} == {FieldKind.LINE}
