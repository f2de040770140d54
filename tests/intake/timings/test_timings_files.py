"""Files of timings: what may come in, how faults of clock and list are told, what is left of rows."""

from __future__ import annotations

import datetime as dt
import io
from itertools import pairwise

import pytest
import xlsxwriter
from hypothesis import given, settings
from hypothesis import strategies as st

from pollstead.election.timings import QUARTERS, UNKNOWN, Answer, FaultKind, TimingKind, TimingsRead
from pollstead.intake.timings.clock import read_moment
from pollstead.intake.timings.clock_faults import answered, clock_faults, moved_by
from pollstead.intake.timings.columns import Role
from pollstead.intake.timings.read import read_timings, role_said

ZONE = "America/New_York"
DAY = dt.date(2028, 11, 7)
HOURS = {(site, DAY): (7 * 60, 20 * 60) for site in ("S01", "S02", "S03")}


def read(text: str, name: str = "list.csv", **more: object) -> TimingsRead:
    """A CSV as it would be read on election day."""
    return read_timings(name, text.encode(), zone_name=ZONE, day=DAY, **more)  # type: ignore[arg-type]


def clock(seconds: int) -> str:
    """Seconds of the day as a list writes them."""
    return f"{seconds // 3600:02}:{seconds // 60 % 60:02}:{seconds % 60:02}"


def times(seconds: list[int], site: str = "S01", header: bool = True) -> str:
    """Check-in times of one site as CSV."""
    return ("time,site\n" if header else "") + "".join(f"{clock(s)},{site}\n" for s in seconds)


EVEN = list(range(7 * 3600 + 60, 20 * 3600, 180))
"""A voter each three minutes through the day."""


@pytest.mark.parametrize(
    "header",
    [
        "time,site,voter_id",
        "time,site,Name",
        "check-in time,station,birth date",
        "time,site,address,notes",
        "site,hour,people in line,voter",
        "step,seconds,initials",
        "time,site,",
    ],
)
def test_a_file_with_a_further_column_is_refused_whole(header: str) -> None:
    """Whatever the column is called, filled or not: nothing is read, and the error says what may be there."""
    row = ",".join(["07:00", "S01", *("Zacharias" for _ in range(header.count(",") - 1))])
    got = read(f"{header}\n{row}\n")
    if header.endswith(","):
        # A blank heading is a column only where cells stand under it.
        assert got.refused
        assert "Zacharias" not in repr(got)
        return
    assert got.refused
    assert not (got.days or got.lines or got.steps or got.gaps)
    notice = got.refused[0]
    assert notice.place is not None
    assert notice.place.row == 1
    assert "date, site" in notice.wanted
    assert notice.remedy is not None
    assert "Zacharias" not in repr(got)


def test_a_column_of_voters_called_station_is_refused() -> None:
    """A value for each row is no station, and the values are not shown."""
    rows = "".join(f"{clock(7 * 3600 + 30 * k)},S01,V{k:05}\n" for k in range(200))
    got = read("time,site,station\n" + rows)
    assert [notice.rule for notice in got.refused] == ["timings-row"]
    assert not got.days
    assert "V00" not in repr(got)


def test_a_time_that_cannot_be_read_is_told_by_row_and_not_shown() -> None:
    """The cell may be a name that slipped into the column."""
    got = read("time,site\n07:00:00,S01\nMaria,S01\n25:00,S01\n")
    assert [notice.place.row for notice in got.refused if notice.place] == [3, 4]
    assert "Maria" not in repr(got)
    assert not got.days


def test_what_is_left_of_check_in_times_are_sums() -> None:
    """Counts by quarter hour, sums over gaps and quantiles; no time of any row."""
    seconds = [7 * 3600 + 90 * k for k in range(1, 200)]
    got = read(times(seconds))
    (day,) = got.days
    assert sum(day.check_ins) == 199
    assert day.check_ins[28] == 9  # 07:00-07:15: 90 s to 810 s
    assert sum(day.gaps) == 198
    assert sum(day.gap_s) == 198 * 90
    (gaps,) = got.gaps
    assert (gaps.p05_s, gaps.p50_s, gaps.p95_s) == (90, 90, 90)
    assert got.rows == 199
    assert clock(seconds[7]) not in repr(got)


@settings(max_examples=30, deadline=None)
@given(st.lists(st.integers(0, 86_399), min_size=2, max_size=60))
def test_the_sums_are_those_of_the_rows(seconds: list[int]) -> None:
    """Counts and gaps against sums over the whole list, newest first or oldest first."""
    up = sorted(seconds)
    for order in (up, up[::-1]):
        (day,) = read(times(order)).days
        assert list(day.check_ins) == [sum(s // 900 == q for s in up) for q in range(QUARTERS)]
        gaps = [b - a for a, b in pairwise(up) if b - a <= 1800]
        assert sum(day.gap_s) == sum(gaps)
        assert sum(day.gap_squares_s2) == sum(g * g for g in gaps)


@pytest.mark.parametrize(
    "text,second",
    [
        ("2028-11-07 07:15:30", 26_130),
        ("2028-11-07T07:15", 26_100),
        ("11/7/2028 7:15:30 AM", 26_130),
        ("11/07/28 12:05 pm", 43_500),
        ("12:05 AM", 300),
        ("2028-11-07T12:15:30Z", 26_130),  # New York is five hours behind UTC in November
        ("2028-11-07 07:15:30.482", 26_130),
    ],
)
def test_times_as_lists_write_them(text: str, second: int) -> None:
    """ISO 8601, US dates, AM and PM, an offset taken to the county's clock."""
    assert read_moment(text, DAY, ZONE)[:2] == (DAY, second)


@pytest.mark.parametrize("text", ["", "7", "24:00", "13:00 PM", "07:60", "2028-13-01 07:00", "7:5"])
def test_what_is_no_time_is_refused(text: str) -> None:
    """Nothing is guessed."""
    with pytest.raises(ValueError):
        read_moment(text, DAY, ZONE)


def test_a_workbook_reads_like_a_csv() -> None:
    """Times as a spreadsheet keeps them; a second sheet keeps the file out, since it may hold anything."""
    stream = io.BytesIO()
    book = xlsxwriter.Workbook(stream)
    sheet = book.add_worksheet("times")
    style = book.add_format({"num_format": "yyyy-mm-dd hh:mm:ss"})
    sheet.write_row(0, 0, ["Timestamp", "Polling Place"])
    for row, second in enumerate(EVEN, 1):
        moment = dt.datetime.combine(DAY, dt.time()) + dt.timedelta(seconds=second)
        sheet.write_datetime(row, 0, moment, style)
        sheet.write(row, 1, "S01")
    book.close()
    got = read_timings("list.xlsx", stream.getvalue(), zone_name=ZONE)
    assert not got.refused
    assert got.days == read(times(EVEN)).days

    stream = io.BytesIO()
    book = xlsxwriter.Workbook(stream)
    for name in ("times", "voters"):
        book.add_worksheet(name).write_row(0, 0, ["time", "site"])
    book.close()
    assert read_timings("list.xlsx", stream.getvalue(), zone_name=ZONE).refused


def test_a_clock_that_is_an_hour_off_is_told_and_mended_only_when_a_person_says_so() -> None:
    """One station's clock is an hour behind; the other is right."""
    text = "time,site,station\n" + "".join(
        f"{clock(s - 3600 if station == 'B' else s)},S01,{station}\n" for s in EVEN for station in "AB"
    )
    got = read(text)
    faults = clock_faults(got.days, got.lines, HOURS)
    assert [(one.kind, one.station, one.shift_min) for one in faults] == [(FaultKind.SHIFTED, "B", 60)]
    assert Answer.SHIFT in faults[0].answers
    days, _, _ = answered(got.days, (), faults, {})
    assert days == got.days
    days, _, _ = answered(got.days, (), faults, {faults[0].key: Answer.SHIFT})
    assert days[0].check_ins == days[1].check_ins
    days, _, _ = answered(got.days, (), faults, {faults[0].key: Answer.LEAVE_OUT})
    assert not days


def test_a_clock_an_hour_ahead_is_told_the_other_way() -> None:
    """Nothing in the first hour, and check-ins more than an hour after closing."""
    later = [s + 3600 for s in EVEN] + [21 * 3600 + 60 * k for k in range(5)]
    got = read(times(later))
    faults = clock_faults(got.days, (), HOURS)
    assert [one.shift_min for one in faults] == [-60]


def test_a_day_inside_its_hours_has_no_fault_and_a_line_after_closing_is_none() -> None:
    """Voters who stood in line at closing check in after it."""
    got = read(times([*EVEN, *range(20 * 3600, 20 * 3600 + 2400, 120)]))
    assert not clock_faults(got.days, (), HOURS)
    assert not got.faults


def test_hours_without_a_check_in_are_told_where_many_are_expected() -> None:
    """The list of one site lacks 10:15 to 11:45; taken as unknown it says nothing of these quarter hours."""
    hole = [s for s in EVEN if not 10.25 * 3600 <= s < 11.75 * 3600]
    got = read(times(hole) + times(EVEN, "S02", header=False) + times(EVEN, "S03", header=False))
    (fault,) = clock_faults(got.days, (), HOURS)
    assert (fault.kind, fault.from_min, fault.to_min) == (FaultKind.MISSING, 615, 705)
    assert 25 <= fault.count <= 33  # 30 voters in 90 minutes
    _, _, unknown = answered(got.days, (), (fault,), {fault.key: Answer.UNKNOWN})
    assert unknown == {("S01", DAY): [(615, 705)]}
    quiet = clock_faults(read(times([8 * 3600, 12 * 3600, 19 * 3600])).days, (), HOURS)
    assert not quiet


def test_check_ins_keyed_all_at_once_are_told_with_the_first_row() -> None:
    """Nine at one second, from row 5 on; the rest a second apart."""
    seconds = [25_300, 25_330, 25_361] + [25_400] * 9 + [25_460, 25_499]
    (fault,) = read(times(seconds)).faults
    assert (fault.kind, fault.count, fault.rows) == (FaultKind.BATCH, 9, (5,))


def test_a_list_without_seconds_has_no_batches_of_a_minute() -> None:
    """Six check-ins in one minute are usual; fourteen are not."""
    seconds = [7 * 3600 + 60 * m for m in range(40) for _ in range(6)]
    assert not read(times(seconds)).faults
    assert [one.kind for one in read(times([*seconds, *[10 * 3600] * 14])).faults] == [FaultKind.BATCH]


def test_a_clock_that_went_back_is_told_with_its_row_and_a_list_in_no_order_too() -> None:
    """One step back in forty rows; a shuffled list tells no gaps."""
    seconds = [7 * 3600 + 60 * k + 7 for k in range(40)]
    back = [*seconds[:20], seconds[20] - 900, *seconds[21:]]
    (fault,) = read(times(back)).faults
    assert (fault.kind, fault.rows) == (FaultKind.BACK, (22,))
    shuffled = read(times(seconds[::2] + seconds[1::2] + seconds[::3] + seconds[::2][::-1]))
    assert [one.kind for one in shuffled.faults] == [FaultKind.UNSORTED]
    assert not shuffled.gaps


def test_a_negative_time_of_the_stop_watch_is_told_with_its_row() -> None:
    """End before start, zero, and five hours cannot be; each wants to be left out by a person."""
    got = read("step,start,end\ncheck-in,07:10:00,07:11:30\ncheck-in,07:30:00,07:29:00\nmark,07:00,07:00\n")
    assert [(one.kind, one.rows) for one in got.faults] == [
        (FaultKind.BAD_ROW, (3,)),
        (FaultKind.BAD_ROW, (4,)),
    ]
    assert all(one.answers == (Answer.LEAVE_OUT,) for one in got.faults)
    (step,) = got.steps
    assert step.samples.done_ms == (90_000,)


def test_samples_read_seconds_minutes_and_those_still_going() -> None:
    """1:32 is 92 s; x, yes and blank say whether the voter was done."""
    got = read("Step,Site,Seconds,Still going,Date\nmark,S01,1:32,,11/7/2028\nmark,S01,300.5,x,\n")
    (step,) = got.steps
    assert step.samples.done_ms == (92_000,)
    assert step.samples.going_ms == (300_500,)
    assert step.first == step.last == DAY


def test_samples_that_look_rounded_are_asked_about() -> None:
    """Half of the samples are just 60 s."""
    text = "step,seconds\n" + "".join(f"mark,{60 if k % 2 else 50 + k}\n" for k in range(40))
    assert [notice.rule for notice in read(text).remarks] == ["timings-rounded"]


def test_line_counts_read_check_ins_in_three_ways_alike() -> None:
    """Of the hour that begins, of the hour before, and so far."""
    begins = read("site,hour,in line,check-ins,stations\nS01,7,20,50,3\nS01,8,12,60,3\nS01,9,0,,3\n")
    before = read(
        "site,hour,in line,check-ins last hour,stations\nS01,7,20,0,3\nS01,8,12,50,3\nS01,9,0,60,3\n"
    )
    so_far = read("site,hour,in line,check-ins so far,stations\nS01,7,20,0,3\nS01,8,12,50,3\nS01,9,0,110,3\n")
    assert begins.kind is TimingKind.LINE_COUNTS
    assert begins.lines == before.lines == so_far.lines
    assert [one.check_ins for one in begins.lines] == [50, 60, UNKNOWN]


def test_a_running_total_under_the_wrong_name_is_asked_about_and_one_that_falls_is_refused() -> None:
    """Check-ins that never go down in six hours; a total of 80 after 90."""
    rising = "".join(f"S01,{7 + k},{40 * k}\n" for k in range(1, 8))
    assert [n.rule for n in read("site,hour,check-ins\n" + rising).refused] == ["timings-running-total"]
    falls = read("site,hour,check-ins so far\nS01,8,90\nS01,9,80\n")
    assert [n.place.row for n in falls.refused if n.place] == [3]


def test_every_wrong_cell_of_line_counts_is_told_at_once() -> None:
    """A word for a count, a time twice, a time that is none."""
    got = read("site,hour,in line\nS01,7,some\nS01,8,4\nS01,08:00,5\nS01,noon,5\nS01,9,-3\n")
    assert sorted(n.place.row for n in got.refused if n.place and n.place.row) == [2, 4, 5, 6]


def test_line_counts_an_hour_off_are_told() -> None:
    """First counts at 06:00, last at 18:00, open 07:00 to 20:00."""
    got = read("site,hour,check-ins\n" + "".join(f"S01,{6 + k},{30 - k}\n" for k in range(13)))
    (fault,) = clock_faults((), got.lines, HOURS)
    assert (fault.kind, fault.shift_min) == (FaultKind.SHIFTED, 60)
    _, lines, _ = answered((), got.lines, (fault,), {fault.key: Answer.SHIFT})
    assert lines[0].at_min == 420


def test_a_heading_of_their_own_is_read_as_a_person_says() -> None:
    """Without a word the file is refused."""
    text = "Scan,site\n07:00:00,S01\n07:01:00,S01\n"
    assert read(text).refused
    got = read(text, said={"Scan": role_said("time")})
    assert not got.refused
    assert got.used == (("Scan", "time"), ("site", "site"))
    with pytest.raises(ValueError):
        role_said("voter")
    assert role_said("timestamp") is Role.TIME


@pytest.mark.parametrize("data", [b"", b"\x00\x01", b"time,site\n", b"PK\x03\x04zip", b"time\n07:00\n"])
def test_what_is_no_list_is_refused_in_words(data: bytes) -> None:
    """Never a traceback."""
    for name in ("list.csv", "list.xlsx", "list.pdf"):
        got = read_timings(name, data, zone_name=ZONE, day=DAY)
        assert got.refused
        assert got.refused[0].remedy is not None


def test_a_shift_keeps_every_check_in() -> None:
    """Also at the ends of the day."""
    counts = tuple(range(QUARTERS))
    assert sum(moved_by(counts, 4)) == sum(moved_by(counts, -4)) == sum(counts)
