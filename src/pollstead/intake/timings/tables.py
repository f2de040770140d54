"""Line counts and timed samples, row by row; what cannot be is told with its row."""

from __future__ import annotations

import datetime as dt
import re

from pollstead.election.notice import Notice, Place
from pollstead.election.timings import (
    UNKNOWN,
    Answer,
    FaultKind,
    LineReading,
    Samples,
    StepSamples,
    TimingFault,
)
from pollstead.election.words import N_, message
from pollstead.intake.notices import cannot_read, open_item
from pollstead.intake.timings.clock import read_day, read_moment
from pollstead.intake.timings.columns import Header, Role

MOST_TOLD = 40
MOST_LINES = 200_000
MOST_SAMPLES = 200_000
LONGEST_S = 4 * 3600
_COUNT = re.compile(r"\d{1,6}(?:\.0+)?")
_HOUR = re.compile(r"\d{1,2}")
_SECONDS = re.compile(r"-?\d{1,6}(?:\.\d{1,6})?")
_MINUTES = re.compile(r"(-?)(\d{1,3}):(\d{2})(?:\.(\d))?")
YES = frozenset({"yes", "y", "x", "1", "true", "going", "still going"})
NO = frozenset({"", "no", "n", "0", "false", "done"})


class _Rows:
    """What both readers share: cells by role, faults with their row."""

    def __init__(self, file: str, header: Header, day: dt.date | None, zone_name: str) -> None:
        self.file, self.header, self.day, self.zone_name = file, header, day, zone_name
        self.rows = 0
        self.refused: list[Notice] = []
        self.remarks: list[Notice] = []
        self._at = {role: header.place(role) for role in Role}

    def cell(self, row: list[str], role: Role) -> str:
        """The cell of a role, blank where there is none."""
        place = self._at[role]
        return row[place] if place is not None and place < len(row) else ""

    def refuse(self, number: int, role: Role, found: str, wanted: str) -> None:
        """A cell that cannot be read keeps the file out."""
        if len(self.refused) >= MOST_TOLD:
            return
        place = self._at[role]
        column = self.header.headings[place] if place is not None else role.value
        self.refused.append(
            cannot_read(
                "timings-cell",
                Place(file=self.file, row=number, column=column),
                message(
                    N_("{file}, row {row}: {column} cannot be read"),
                    file=self.file,
                    row=number,
                    column=column,
                ),
                found=found,
                wanted=wanted,
                remedy=message(N_("Correct the cell, then send the file again.")),
            )
        )


class LineReader(_Rows):
    """Hourly line counts: people in line at the hour, check-ins, stations open."""

    def __init__(self, file: str, header: Header, day: dt.date | None, zone_name: str) -> None:
        super().__init__(file, header, day, zone_name)
        self._found: dict[tuple[str, dt.date, int], tuple[LineReading, int]] = {}

    def take(self, number: int, row: list[str]) -> bool:
        """Read one row; True always, as reading goes on to find every fault."""
        if not any(row):
            return True
        site, time = self.cell(row, Role.SITE), self.cell(row, Role.TIME)
        try:
            date = self.cell(row, Role.DATE)
            if _HOUR.fullmatch(time):
                time = f"{time}:00"
            day, second, _ = read_moment(time, read_day(date) if date else self.day, self.zone_name)
        except ValueError as error:
            self.refuse(number, Role.TIME, time, str(error))
            return True
        if day is None:
            self.refuse(number, Role.DATE, "blank", "a date in the row, or one said")
            return True
        if not site:
            self.refuse(number, Role.SITE, "blank", "a site")
            return True
        reading = LineReading(
            site=site,
            date=day,
            at_min=second // 60,
            in_line=self._count(number, row, Role.IN_LINE),
            check_ins=self._count(number, row, self._counted()),
            stations=self._count(number, row, Role.STATIONS_OPEN),
        )
        key = (site, day, reading.at_min)
        if key in self._found:
            self.refuse(
                number, Role.TIME, f"{site} {time} also in row {self._found[key][1]}", "each time once"
            )
        elif len(self._found) >= MOST_LINES:
            raise ValueError(f"more than {MOST_LINES:,} line counts")
        else:
            self._found[key] = (reading, number)
            self.rows += 1
        return True

    def _counted(self) -> Role:
        told = (Role.CHECK_INS_SO_FAR, Role.CHECK_INS_BEFORE)
        return next((role for role in told if self._at[role] is not None), Role.CHECK_INS)

    def _count(self, number: int, row: list[str], role: Role) -> int:
        cell = self.cell(row, role)
        if not cell:
            return UNKNOWN
        if not _COUNT.fullmatch(cell):
            self.refuse(number, role, cell, "a whole number of 0 or more, or blank where nobody counted")
            return UNKNOWN
        return int(float(cell))

    def lines(self) -> tuple[LineReading, ...]:
        """The readings in order; check-ins those of the hour that begins at the reading."""
        role = self._counted()
        found = [self._found[key] for key in sorted(self._found)]
        if role is Role.CHECK_INS:
            self._ask_running(found)
            return tuple(reading for reading, _ in found)
        result = []
        for place, (reading, _) in enumerate(found):
            after = found[place + 1] if place + 1 < len(found) else None
            taken = UNKNOWN
            if after is not None and (after[0].site, after[0].date) == (reading.site, reading.date):
                taken = after[0].check_ins
                if role is Role.CHECK_INS_SO_FAR and taken != UNKNOWN:
                    taken = taken - reading.check_ins if reading.check_ins != UNKNOWN else UNKNOWN
                    if taken < 0 and reading.check_ins != UNKNOWN:
                        self.refuse(after[1], role, str(after[0].check_ins), f"at least {reading.check_ins}")
                        taken = UNKNOWN
            result.append(
                LineReading(
                    site=reading.site,
                    date=reading.date,
                    at_min=reading.at_min,
                    in_line=reading.in_line,
                    check_ins=taken,
                    stations=reading.stations,
                )
            )
        return tuple(result)

    def _ask_running(self, found: list[tuple[LineReading, int]]) -> None:
        """Counts that never go down over a day are a running total more likely than counts by hour."""
        by_day: dict[tuple[str, dt.date], list[tuple[int, int]]] = {}
        for reading, row in found:
            if reading.check_ins != UNKNOWN:
                by_day.setdefault((reading.site, reading.date), []).append((reading.check_ins, row))
        for (site, date), counts in by_day.items():
            numbers = [count for count, _ in counts]
            if len(numbers) >= 6 and numbers == sorted(numbers) and numbers[-1] > 2 * max(1, numbers[1]):
                self.refused.append(
                    cannot_read(
                        "timings-running-total",
                        Place(file=self.file, row=counts[0][1]),
                        message(
                            N_("{site} on {date}: check-ins never go down"), site=site, date=date.isoformat()
                        ),
                        found=", ".join(map(str, numbers[:8])),
                        wanted="check-ins of each hour",
                        remedy=message(N_("If it is a running total, name the column: check-ins so far.")),
                    )
                )


class SampleReader(_Rows):
    """Times taken with a stop watch, one a row."""

    def __init__(self, file: str, header: Header, day: dt.date | None, zone_name: str) -> None:
        super().__init__(file, header, day, zone_name)
        self.faults: list[TimingFault] = []
        self._found: dict[tuple[str, str], tuple[list[int], list[int], list[dt.date]]] = {}

    def take(self, number: int, row: list[str]) -> bool:
        """Read one row; True always."""
        if not any(row):
            return True
        step = self.cell(row, Role.STATION_TYPE) or self.cell(row, Role.STEP)
        if not step:
            self.refuse(number, Role.STEP, "blank", "a step or a station type")
            return True
        going = self.cell(row, Role.STILL_GOING).casefold()
        if going not in YES | NO:
            self.refuse(number, Role.STILL_GOING, going, "yes, no or blank")
            return True
        date = self.cell(row, Role.DATE)
        try:
            day = read_day(date) if date else self.day
        except ValueError as error:
            self.refuse(number, Role.DATE, date, str(error))
            return True
        took = self._took_ms(number, row)
        if took is None:
            return True
        if not 0 < took <= LONGEST_S * 1000:
            self._cannot_be(number, took)
            return True
        if self.rows >= MOST_SAMPLES:
            raise ValueError(f"more than {MOST_SAMPLES:,} samples")
        self.rows += 1
        own = self._found.setdefault((step, self.cell(row, Role.SITE)), ([], [], []))
        (own[1] if going in YES else own[0]).append(took)
        if day is not None:
            own[2].append(day)
        return True

    def _took_ms(self, number: int, row: list[str]) -> int | None:
        told = self.cell(row, Role.SECONDS)
        if self._at[Role.SECONDS] is not None:
            minutes = _MINUTES.fullmatch(told)
            if minutes:
                whole = int(minutes[2]) * 60_000 + int(minutes[3]) * 1000 + int(minutes[4] or 0) * 100
                return -whole if minutes[1] else whole
            if _SECONDS.fullmatch(told):
                return round(float(told) * 1000)
            self.refuse(number, Role.SECONDS, told or "blank", "seconds such as 92, or minutes such as 1:32")
            return None
        ends = []
        for role in (Role.START, Role.END):
            cell = self.cell(row, role)
            try:
                ends.append(read_moment(cell, None, self.zone_name)[1])
            except ValueError as error:
                self.refuse(number, role, cell or "blank", str(error))
        return (ends[1] - ends[0]) * 1000 if len(ends) == 2 else None

    def _cannot_be(self, number: int, took_ms: int) -> None:
        if len(self.faults) >= MOST_TOLD:
            return
        words = N_("Row {row}: a time of {seconds} s cannot be; it must be above 0 s and at most 4 hours.")
        self.faults.append(
            TimingFault(
                key=f"row:{number}",
                kind=FaultKind.BAD_ROW,
                words=message(words, row=number, seconds=f"{took_ms / 1000:g}"),
                answers=(Answer.LEAVE_OUT,),
                rows=(number,),
                count=1,
            )
        )

    def steps(self) -> tuple[StepSamples, ...]:
        """The samples by step or station type, and site, as the file writes them."""
        result = []
        for (step, site), (done, going, days) in sorted(self._found.items()):
            self._ask_rounded(step, site, done)
            result.append(
                StepSamples(
                    station_type=step,
                    site=site,
                    samples=Samples(done_ms=tuple(sorted(done)), going_ms=tuple(sorted(going))),
                    first=min(days, default=None),
                    last=max(days, default=None),
                )
            )
        return tuple(result)

    def _ask_rounded(self, step: str, site: str, done: list[int]) -> None:
        """Many samples of one and the same time were guessed or rounded."""
        if len(done) < 20:
            return
        most = max(set(done), key=lambda ms: (done.count(ms), ms))
        times = done.count(most)
        if times * 4 >= len(done):
            self.remarks.append(
                open_item(
                    "timings-rounded",
                    f"timings/{step}",
                    message(
                        N_(
                            "{step}: {times} of {count} samples are {seconds} s; were they timed, or rounded?"
                        ),
                        step=" ".join(filter(None, (step, site))),
                        times=times,
                        count=len(done),
                        seconds=f"{most / 1000:g}",
                    ),
                    place=Place(file=self.file),
                    found=f"{times} of {len(done)}",
                    wanted="times as the watch showed them",
                )
            )
