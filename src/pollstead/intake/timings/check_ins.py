"""Check-in times, reduced while they are read: counts by quarter hour and gaps; no row is ever kept.

Of all rows read so far only the last moment of each station is known, to tell the next gap.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator

from pollstead.election.notice import Notice, Place
from pollstead.election.timings import (
    QUARTER_MIN,
    QUARTERS,
    Answer,
    CheckInDay,
    FaultKind,
    GapQuantiles,
    TimingFault,
)
from pollstead.election.words import N_, Message, message
from pollstead.intake.notices import cannot_read
from pollstead.intake.timings.clock import read_day, read_moment
from pollstead.intake.timings.columns import Header, Role

MOST_PLACES = 5_000
MOST_STATIONS_OF_SITE = 60
MOST_DAYS = 120
LONGEST_GAP_S = 1800
"""A longer gap between check-ins is a time without voters and counts for no quantile: our choice."""

BATCH_BY_SECOND = 5
BATCH_BY_MINUTE = 12
"""So many check-ins at one time at one station were not keyed as voters came: our choice."""

UNSORTED_PPM = 100_000
MOST_FAULTS_TOLD = 40

Key = tuple[str, str, dt.date]


class _Gaps:
    """Sums over gaps in one direction of time."""

    def __init__(self) -> None:
        self.sums: dict[Key, list[list[int]]] = {}
        self.by_site: dict[str, Counter[int]] = {}
        self.times = 0
        self.rows: list[tuple[int, Key]] = []

    def add(self, key: Key, second: int, gap: int, row: int) -> None:
        if gap:
            # A gap of 0 has no direction and tells nothing of the order.
            self.times += 1
            if len(self.rows) < 4 * MOST_FAULTS_TOLD:
                self.rows.append((row, key))
        if gap > LONGEST_GAP_S:
            return
        own = self.sums.get(key)
        if own is None:
            own = self.sums[key] = [[0] * QUARTERS for _ in range(3)]
        quarter = second // (60 * QUARTER_MIN)
        own[0][quarter] += 1
        own[1][quarter] += gap
        own[2][quarter] += gap * gap
        self.by_site.setdefault(key[0], Counter())[gap] += 1


class CheckInReducer:
    """Takes rows one by one and keeps sums of them."""

    def __init__(self, file: str, header: Header, day: dt.date | None, zone_name: str) -> None:
        self.file = file
        self.header = header
        self.day = day
        self.zone_name = zone_name
        self.rows = 0
        self.refused: list[Notice] = []
        self.bad = 0
        self._time, self._date = header.place(Role.TIME), header.place(Role.DATE)
        self._site, self._station = header.place(Role.SITE), header.place(Role.STATION)
        self._counts: dict[Key, list[int]] = {}
        self._last: dict[tuple[str, str], tuple[dt.date, int, int, int]] = {}
        self._up, self._down = _Gaps(), _Gaps()
        self._runs: dict[Key, list[tuple[int, int, int]]] = {}
        self._stations: dict[str, set[str]] = {}
        self._seconds = False

    def take(self, number: int, row: list[str]) -> bool:
        """Count one row and forget it; False where reading should stop, because the file may not come in."""
        time, date = _cell(row, self._time), _cell(row, self._date)
        site, station = _cell(row, self._site), _cell(row, self._station)
        if not any(row):
            return True
        if len(row) > len(self.header.headings) and any(row[len(self.header.headings) :]):
            self._refuse(number, N_("{file}, row {row} has a cell beyond the columns"), "", "no further cell")
            return False
        try:
            day, second, written = read_moment(time, read_day(date) if date else self.day, self.zone_name)
        except ValueError as error:
            # What stands there is not shown: in a file with columns mixed up it may be about a voter.
            return self._refuse(
                number, N_("{file}, row {row} holds no time that can be read"), "", str(error)
            )
        if day is None:
            return self._refuse(
                number,
                N_("{file}, row {row} has a time without a date"),
                "",
                "a date in the row, or one said",
            )
        place = site or station
        if not place:
            return self._refuse(number, N_("{file}, row {row} names no site or station"), "", "a site")
        self._seconds = self._seconds or (written and second % 60 != 0)
        self.rows += 1
        self._count(number, place, station, day, second)
        return self._are_places(number, place, station)

    def _refuse(self, number: int, words: str, found: str, wanted: str) -> bool:
        self.bad += 1
        if len(self.refused) < MOST_FAULTS_TOLD:
            self.refused.append(
                cannot_read(
                    "timings-row",
                    Place(file=self.file, row=number),
                    message(words, file=self.file, row=number),
                    found=found,
                    wanted=wanted,
                    remedy=message(N_("Correct the row in the list, then send the file again.")),
                )
            )
        return True

    def _are_places(self, number: int, place: str, station: str) -> bool:
        """Whether sites and stations look like places; a value for each row would be about voters."""
        own = self._stations.setdefault(place, set())
        own.add(station)
        few_rows = self.rows < 5 * len(self._stations) and self.rows >= 50
        if len(own) <= MOST_STATIONS_OF_SITE and len(self._stations) <= MOST_PLACES and not few_rows:
            return True
        self._refuse(
            number,
            N_("{file}: up to row {row} nearly each row names another site or station, as voters would"),
            "",
            f"at most {MOST_STATIONS_OF_SITE} stations of a site, each with check-ins",
        )
        return False

    def _count(self, number: int, place: str, station: str, day: dt.date, second: int) -> None:
        key = (place, station, day)
        own = self._counts.get(key)
        if own is None:
            if len({one[2] for one in self._counts}) > MOST_DAYS:
                raise ValueError(f"check-ins of more than {MOST_DAYS} days")
            own = self._counts[key] = [0] * QUARTERS
        own[second // (60 * QUARTER_MIN)] += 1
        last = self._last.get((place, station))
        run, first = 1, number
        if last is not None and last[0] == day:
            gap = second - last[1]
            if gap == 0:
                run, first = last[2] + 1, last[3]
            elif last[2] >= BATCH_BY_SECOND:
                self._batch(place, station, last)
            if gap >= 0:
                self._up.add(key, second, gap, number)
            if gap <= 0:
                self._down.add(key, last[1], -gap, number)
        elif last is not None and last[2] >= BATCH_BY_SECOND:
            self._batch(place, station, last)
        self._last[place, station] = (day, second, run, first)

    def _batch(self, place: str, station: str, last: tuple[dt.date, int, int, int]) -> None:
        runs = self._runs.setdefault((place, station, last[0]), [])
        runs.append((last[2], last[1], last[3]))
        if len(runs) > MOST_FAULTS_TOLD:
            runs.remove(min(runs))

    def days(self) -> tuple[CheckInDay, ...]:
        """What was counted; gaps only where the rows stand in order of time."""
        gaps = self._gaps()
        result = []
        for key, counts in sorted(self._counts.items()):
            sums = gaps.sums.get(key) if gaps is not None else None
            zero = (0,) * QUARTERS
            result.append(
                CheckInDay(
                    site=key[0],
                    station=key[1],
                    date=key[2],
                    check_ins=tuple(counts),
                    gaps=tuple(sums[0]) if sums else zero,
                    gap_s=tuple(sums[1]) if sums else zero,
                    gap_squares_s2=tuple(sums[2]) if sums else zero,
                )
            )
        return tuple(result)

    def gap_quantiles(self) -> tuple[GapQuantiles, ...]:
        """Quantiles of the gaps of each site."""
        gaps = self._gaps()
        if gaps is None:
            return ()
        return tuple(_quantiles(site, counted) for site, counted in sorted(gaps.by_site.items()))

    def _gaps(self) -> _Gaps | None:
        """The gaps in the direction in which the rows stand; None where they stand in no order."""
        most, least = sorted((self._up, self._down), key=lambda one: -one.times)
        return most if least.times * 1_000_000 <= (most.times + least.times) * UNSORTED_PPM else None

    def faults(self) -> tuple[TimingFault, ...]:
        """Rows out of order, clocks that went back, and batches; each with the rows."""
        for (place, station), last in self._last.items():
            if last[2] >= BATCH_BY_SECOND:
                self._batch(place, station, last)
        self._last.clear()
        return (*self._order_faults(), *self._batch_faults())

    def _order_faults(self) -> Iterator[TimingFault]:
        if self._gaps() is None:
            yield TimingFault(
                key="unsorted",
                kind=FaultKind.UNSORTED,
                words=message(
                    N_("The rows stand in no order of time: no gap between check-ins is told. Sort them.")
                ),
                answers=(Answer.AS_READ,),
                count=min(self._up.times, self._down.times),
            )
            return
        against = min(self._up, self._down, key=lambda one: one.times)
        rows: dict[Key, list[int]] = {}
        for row, key in against.rows:
            rows.setdefault(key, []).append(row)
        for key, found in sorted(rows.items()):
            yield _fault(
                FaultKind.BACK,
                key,
                message(
                    N_(
                        "{place} on {date}: {count} times an earlier time stands after a later one, row {row}"
                    ),
                    place=_place(key),
                    date=key[2].isoformat(),
                    count=len(found),
                    row=found[0],
                ),
                (Answer.AS_READ, Answer.LEAVE_OUT),
                tuple(found[:MOST_FAULTS_TOLD]),
                len(found),
            )

    def _batch_faults(self) -> Iterator[TimingFault]:
        least = BATCH_BY_SECOND if self._seconds else BATCH_BY_MINUTE
        for key, runs in sorted(self._runs.items()):
            found = [run for run in runs if run[0] >= least]
            if not found:
                continue
            most = max(found)
            yield _fault(
                FaultKind.BATCH,
                key,
                message(
                    N_("{place} on {date}: {count} check-ins at {time}, from row {row}: keyed all at once?"),
                    place=_place(key),
                    date=key[2].isoformat(),
                    count=most[0],
                    time=f"{most[1] // 3600:02}:{most[1] // 60 % 60:02}",
                    row=most[2],
                ),
                (Answer.AS_READ, Answer.LEAVE_OUT),
                tuple(run[2] for run in found),
                sum(run[0] for run in found),
            )


def _cell(row: list[str], place: int | None) -> str:
    return row[place] if place is not None and place < len(row) else ""


def _place(key: Key) -> str:
    """Site and station as the file writes them."""
    return " ".join(dict.fromkeys(filter(None, key[:2])))


def _fault(
    kind: FaultKind, key: Key, words: Message, answers: tuple[Answer, ...], rows: tuple[int, ...], count: int
) -> TimingFault:
    name = {FaultKind.BACK: "back", FaultKind.BATCH: "batch"}[kind]
    return TimingFault(
        key=":".join((name, *dict.fromkeys(filter(None, key[:2])), key[2].isoformat())),
        kind=kind,
        words=words,
        answers=answers,
        site=key[0],
        station=key[1],
        date=key[2],
        rows=rows,
        count=count,
    )


def _quantiles(site: str, counted: Counter[int]) -> GapQuantiles:
    """The least whole second that so many gaps are at most (the inverse of the step function)."""
    total, so_far = sum(counted.values()), 0
    found: list[int] = []
    chances = (5, 25, 50, 75, 95)
    for gap, times in sorted(counted.items()):
        so_far += times
        while len(found) < len(chances) and so_far * 100 >= chances[len(found)] * total:
            found.append(gap)
    return GapQuantiles(
        site=site, gaps=total, p05_s=found[0], p25_s=found[1], p50_s=found[2], p75_s=found[3], p95_s=found[4]
    )
