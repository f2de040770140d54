"""Lines and waits: how the numbers of stations were found, the busy hours, and a tally for every hour."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from pollstead.election.instants import format_clock
from pollstead.election.station_type import VoterStep
from pollstead.election.words import N_
from pollstead.plan.lines.words import change_words, minutes, percent
from pollstead.plan.terms.lines import Change, Stage
from pollstead.plan.terms.version import SheetKind, StageCount, WaitReport, WhatIf
from pollstead.show.cautions import Place
from pollstead.show.packet.common import kept, line, tick
from pollstead.show.packet.content import Block, Cell, Column, Heading, Table, Words
from pollstead.show.packet.draft import Draft, key_for
from pollstead.show.packet.wording import days_of

if TYPE_CHECKING:
    from pollstead.show.packet.given import SiteGiven

HOURS_ACROSS = 14
MOMENTS_ACROSS = 8
"""Full hours, and other clock times, that stand side by side."""
UNTOLD_ROWS = 13
"""Rows for a day whose hours nobody has told."""
HOUR = 60
DAY_MIN = 24 * HOUR
_STAGES = {
    VoterStep.CHECK_IN: (Stage.CHECK_IN,),
    VoterStep.MARK: (Stage.MARK, Stage.MARK_ACCESSIBLE),
    VoterStep.MARK_AND_CAST: (Stage.MARK, Stage.MARK_ACCESSIBLE),
    VoterStep.CAST: (Stage.CAST,),
}
"""The stages that a station type of a step may serve; only an accessible one serves the second."""


def lines_sheet(given: SiteGiven) -> Draft:
    """One sheet a site: what the plan knows of its lines, then the tallies of its days."""
    say, waits = given.say, given.site_plan.waits
    blocks: list[Block] = [say.cautions(Place.WAITS_COUNT)]
    if waits is None:
        blocks.append(Words(words=say(N_("No waits were computed for this site."))))
    else:
        blocks += [*_found(given, waits), *_by_hour(given, waits), *_what_ifs(given, waits)]
    blocks += _tally(given)
    return Draft(
        kind=SheetKind.LINES,
        key=key_for(SheetKind.LINES),
        title=say(N_("Lines and waits")),
        about="",
        day="",
        blocks=tuple(blocks),
    )


def _found(given: SiteGiven, waits: WaitReport) -> tuple[Block, ...]:
    """The stations with why, and what the simulated days say of them."""
    say = given.say
    told = [
        say(
            N_(
                "From a model, {days} computed days; real lines differ. On 95 of 100 the longest wait is at "
                "most {p95} min, the mean wait is {mean} min. Chance that a day's longest wait passes "
                "{limit} min: {risk} ({low} to {high})."
            ),
            days=f"{waits.days_used:,}",
            p95=minutes(waits.p95_longest_wait_ms),
            mean=minutes(waits.mean_wait_ms),
            limit=minutes(waits.limit_ms),
            risk=percent(waits.risk_ppm),
            low=percent(waits.low_ppm),
            high=percent(waits.high_ppm),
        )
    ]
    if waits.accepted_ppm is not None:
        told.append(say(N_("The county accepts {risk}."), risk=percent(waits.accepted_ppm)))
    if not waits.meets_limit:
        told.append(say(N_("This is more than the county accepts.")))
    if waits.undecided:
        told.append(say(N_("Close to it: so many days leave open on which side.")))
    if waits.binding:
        told.append(say(N_("Most of the waiting happens at: {stage}."), stage=say(waits.binding)))
    rows = tuple(
        (
            Cell(words=given.election.station_type(count.station_type).name),
            Cell(words=str(count.count), strong=True),
            Cell(words=kept(given, _why(given, waits, count))),
        )
        for count in given.site_plan.counts
    )
    columns = (
        Column(title=say(N_("Station type")), width_mm=58),
        Column(title=say(N_("How many")), width_mm=24),
        Column(title=say(N_("Why"))),
    )
    return (Words(words=" ".join(told)), Table(columns=columns, rows=rows))


def _why(given: SiteGiven, waits: WaitReport, count: StageCount) -> str:
    """Why so many of a type: what a person said, else what one fewer and one more would do."""
    say = given.say
    if count.fixed:
        return say(N_("fixed: {reason}"), reason=count.reason)
    kind = given.election.station_type(count.station_type)
    stages = _STAGES.get(kind.step, ())
    shares = {one.change: one.risk_ppm for one in waits.what_ifs}
    for stage in reversed(stages) if kind.accessible else stages[:1]:
        fewer = shares.get(change_words(Change.ONE_FEWER, stage).template)
        more = shares.get(change_words(Change.ONE_MORE, stage).template)
        if more is None:
            continue
        if fewer is None:
            return say(N_("above the limit: one more {more}"), more=percent(more))
        return say(
            N_("above the limit: one fewer {fewer}, one more {more}"),
            fewer=percent(fewer),
            more=percent(more),
        )
    return say(N_("planned"))


def _by_hour(given: SiteGiven, waits: WaitReport) -> tuple[Block, ...]:
    """The longest wait of each hour's voters, hours across the paper."""
    say = given.say
    if not waits.hours or waits.day is None:
        return ()
    title = say(
        N_("Longest wait by hour of coming, in minutes, {day} ({days} computed days)"),
        day=say.date(waits.day),
        days=waits.hour_days,
    )
    tables = []
    full = all(hour.from_min % HOUR == 0 for hour in waits.hours)
    across = HOURS_ACROSS if full else MOMENTS_ACROSS
    for at in range(0, len(waits.hours), across):
        hours = waits.hours[at : at + across]
        columns = (
            Column(title=say(N_("From")), width_mm=32),
            *(Column(title=_clock(hour.from_min, full=full)) for hour in hours),
        )
        half = (Cell(words=say(N_("half of the days"))), *(Cell(words=_whole(h.p50_ms)) for h in hours))
        most = (
            Cell(words=say(N_("90 of 100 days")), strong=True),
            *(Cell(words=_whole(h.p90_ms), strong=True) for h in hours),
        )
        tables.append(Table(columns=columns, rows=(half, most)))
    return (Heading(words=title), *tables)


def _clock(minute: int, *, full: bool) -> str:
    """``07`` where all are full hours, else ``07:30``."""
    told = format_clock(minute % DAY_MIN)
    return told[:2] if full else told


def _whole(ms: int) -> str:
    """Minutes to the nearest."""
    return f"{(ms + 30_000) // 60_000}"


def _what_ifs(given: SiteGiven, waits: WaitReport) -> tuple[Block, ...]:
    """What one change would make of the same days, the plan itself first."""
    say, base = given.say, waits.compared
    if base is None:
        return ()
    rows = []
    for one in (base, *waits.what_ifs):
        more = "" if one is base else f" ({_signed((one.voter_minutes or 0) - (base.voter_minutes or 0))})"
        rows.append(
            (
                Cell(words=_change(given, one), strong=one is base),
                Cell(words=percent(one.risk_ppm)),
                Cell(words=minutes(one.p95_longest_wait_ms)),
                Cell(words=f"{one.voter_minutes or 0:,}{more}"),
            )
        )
    columns = (
        Column(title=say(N_("What one change does, on the same {n} days"), n=waits.compared_days)),
        Column(title=say(N_("Above the limit")), width_mm=20),
        Column(title=say(N_("Longest wait, 95 of 100 days, min")), width_mm=34),
        Column(title=say(N_("All voters' waiting, voter-minutes a day")), width_mm=42),
    )
    return (Table(columns=columns, rows=tuple(rows)),)


def _change(given: SiteGiven, one: WhatIf) -> str:
    words = given.say(one.change)
    if one.count is not None:
        words += f" ({one.count})"
    return words if one.percent is None else f"{words} (+{one.percent} %)"


def _signed(value: int) -> str:
    return f"{value:+,}".replace("-", "−") if value else "0"


def _tally(given: SiteGiven) -> tuple[Block, ...]:
    """For each day a row for opening, every full hour and closing; numbers by hand."""
    say = given.say
    days = [(date, _hours(opens, closes)) for date, opens, closes in days_of(given.election, given.site.id)]
    blocks: list[Block] = [
        Heading(words=say(N_("Count the lines every hour"))),
        Words(
            words=say(
                N_(
                    "On the hour count everybody who stands in line, outside too, and nobody who is being "
                    "served. Write the check-in stations that are open and how many have checked in so far "
                    "today. Tell the office these numbers; it types them under The day, Count the lines."
                )
            )
        ),
    ]
    if len(days) == 1:
        return (*blocks, _day_table(given, *days[0]))
    for at in range(0, len(days), 2):
        blocks.append(_two_days(given, days[at : at + 2]))
    return tuple(blocks)


def _hours(opens: int | None, closes: int | None) -> tuple[int, ...]:
    """Opening, each full hour after it, closing; without told hours the clock is written by hand."""
    if opens is None or closes is None:
        return ()
    full = range((opens // HOUR + 1) * HOUR, closes, HOUR)
    return (opens, *full, closes)


def _day_table(given: SiteGiven, date: dt.date, hours: tuple[int, ...]) -> Table:
    say = given.say
    written = [Cell(words=format_clock(minute % DAY_MIN), strong=True) for minute in hours]
    columns = (
        Column(title=say.date(date), width_mm=34),
        Column(title=say(N_("People in line"))),
        Column(title=say(N_("Check-in stations open"))),
        Column(title=say(N_("Checked in so far"))),
        Column(title=say(N_("Office told")), width_mm=26),
    )
    rows = tuple(
        (
            at,
            Cell(fields=(line(),)),
            Cell(fields=(line(),)),
            Cell(fields=(line(),)),
            Cell(fields=(tick(),)),
        )
        for at in written or [Cell(fields=(line(),))] * UNTOLD_ROWS
    )
    return Table(columns=columns, rows=rows)


def _two_days(given: SiteGiven, days: list[tuple[dt.date, tuple[int, ...]]]) -> Table:
    """One or two days side by side, so that a site of many days fills fewer leaves."""
    say = given.say
    columns: list[Column] = []
    halves: list[list[tuple[Cell, ...]]] = []
    nothing = (Cell(words=""),) * 4
    for date, hours in days:
        columns += [
            Column(title=say.date(date), width_mm=22),
            Column(title=say(N_("People in line"))),
            Column(title=say(N_("Check-in stations open"))),
            Column(title=say(N_("Checked in so far"))),
        ]
        clocks = [Cell(words=format_clock(minute % DAY_MIN), strong=True) for minute in hours]
        written = (Cell(fields=(line(),)),) * 3
        halves.append([(at, *written) for at in clocks or [Cell(fields=(line(),))] * UNTOLD_ROWS])
    rows = [
        tuple(cell for half in halves for cell in (half[at] if at < len(half) else nothing))
        for at in range(max(map(len, halves)))
    ]
    return Table(columns=tuple(columns), rows=tuple(rows))
