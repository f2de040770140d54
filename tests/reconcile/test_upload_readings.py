"""What the central place read of a memory device stands in its machine's balance, beside what was typed."""

from __future__ import annotations

import datetime as dt
from typing import Any

from pollstead.reconcile.counts.balance import BalanceLine, LineState
from pollstead.reconcile.day import reconcile_day
from pollstead.record.kinds import canvass

DAY = dt.date(2028, 11, 7)
BEFORE = dt.date(2028, 11, 6)


class Night:
    """One scanner at S01 that counted 40; what its memory device's count is compared with."""

    def __init__(self, county: Any, record: Any, dates: tuple[dt.date, ...] = (DAY,)) -> None:
        county.dates = dates
        self.record, self.election = record, county.election(("S01",))
        self.plan = county.plan({"ballot-scanner": 1}, ("S01",))
        self.lists = county.lists(self.election, self.plan)
        items = self.lists.of("S01", DAY).items
        memory = next(item for item in items if item.what == "memory device")
        self.memory, self.device = memory.value, memory.device
        record.number(self.device, "public_counter_close", 40, site="S01", day=DAY)

    def upload(self, count: int, state: str = "taken", unit: str = "ballots") -> None:
        """The central place reads the memory device."""
        body = canvass.MemoryUploaded(count=count, state=state, unit=unit)  # type: ignore[arg-type]
        self.record.write(body, f"memory/{self.memory}", "P007", "P008", site="S01", day=DAY)

    def line(self, date: dt.date = DAY) -> BalanceLine | None:
        """The row of counter against memory device."""
        report = reconcile_day(self.election, self.plan, self.lists, self.record.fold(), date)
        lines = report.site("S01").lines
        return next((one for one in lines if one.equation == "I4-memory"), None)


def test_an_upload_fills_the_term_with_its_origin(county: Any, record: Any) -> None:
    """Missing before; then the number, from an upload, by two people, at the event's time."""
    night = Night(county, record)
    before = night.line()
    assert before is not None and before.state is LineState.NOT_READ
    night.upload(40)
    line = night.line()
    assert line is not None and line.state is LineState.ZERO
    term = next(term for term in line.terms if term.key.startswith("memory_count_close"))
    (origin,) = term.readings[0].origins
    assert (origin.source, origin.people) == ("upload", ("person/P007", "person/P008"))
    assert origin.utc_ms and origin.event


def test_what_a_person_typed_is_kept_beside_the_upload_and_a_difference_shows(
    county: Any, record: Any
) -> None:
    """The same number has both origins; another is a second value, and neither takes the other's place."""
    night = Night(county, record)
    record.number(night.device, "memory_count_close", 40, site="S01", day=DAY)
    night.upload(40)
    line = night.line()
    assert line is not None and line.state is LineState.ZERO
    (reading,) = line.terms[1].readings
    assert [origin.source == "upload" for origin in reading.origins] == [False, True]
    night.upload(49)
    line = night.line()
    assert line is not None and line.state is LineState.TWO_VALUES
    assert line.terms[1].values == (40, 49) and set(line.possible) == {0, -9}


def test_only_what_is_taken_and_not_taken_out_again_counts(county: Any, record: Any) -> None:
    """Refused never did; taken out counts no longer."""
    night = Night(county, record)
    night.upload(41, "refused")
    line = night.line()
    assert line is not None and line.state is LineState.NOT_READ
    night.upload(40)
    night.upload(40, "taken_out")
    line = night.line()
    assert line is not None and line.state is LineState.NOT_READ


def test_an_upload_is_of_the_last_day_on_which_the_machine_counted(county: Any, record: Any) -> None:
    """The day before, its memory device stayed in the machine: nothing of it counts there."""
    night = Night(county, record, (BEFORE, DAY))
    night.upload(40)
    before = night.line(BEFORE)
    assert before is not None and f"memory_count_close@{night.device}" in before.missing
    line = night.line()
    assert line is not None and line.state is LineState.ZERO
