"""Lines at one site: its day by the hour, and what other numbers, hours or ballots would make of it.

What is asked stands in the address alone: it is gone unless somebody fixes a number of the plan.
"""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar, Final
from urllib.parse import urlencode

from litestar import Request, Response, get
from litestar.params import FromPath

from pollstead.election.instants import MS_PER_MINUTE
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.plan.lines.sizing import DAYS
from pollstead.plan.lines.what_if import (
    LEAST_PERCENT,
    MOST_LATE_MIN,
    MOST_PERCENT,
    WhatIfAsked,
    WhatIfTold,
    what_if,
)
from pollstead.plan.lines.words import stations_words
from pollstead.plan.terms.lines import SIZED, LineFigures, WaitFigures
from pollstead.plan.terms.version import WaitReport
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.lines_view import HOUR_DAYS, HourChart, hour_chart
from pollstead.show.web.pages.entry import TypedValue
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, in_thread
from pollstead.show.web.pages.site import find_site
from pollstead.show.web.typed import Wrong

COUNT_FIELDS: Final = ("check-in", "mark", "accessible", "cast")
LATE, TURNOUT, MARKING, CASTING = "late", "turnout", "marking", "casting"
MOST_STATIONS: Final = 500


class StageRow(Value, frozen=True, kw_only=True):
    """One stage whose number may be tried: its field, words, the plan's number, where it can be fixed."""

    field: str
    words: Message
    planned: int
    tried: int
    fix: str


class LineAt(Value, frozen=True, kw_only=True):
    """People in line at one quarter hour, mean over the days in thousandths, by stage that has a line."""

    minute: int
    in_line: tuple[int, ...]


class SiteLinesPage(Page, frozen=True, kw_only=True):
    """One site-day by the hour; with `tried` beside it where something was asked."""

    template: ClassVar[str] = "site_lines.html"

    site: str
    site_name: str
    day: dt.date
    days: tuple[dt.date, ...]
    limit_ms: int
    hour_days: int
    stages: tuple[StageRow, ...]
    waits: WaitReport
    plan: WhatIfTold
    compared: WaitFigures
    plan_chart: HourChart
    line_stages: tuple[Message, ...]
    lines: tuple[LineAt, ...]
    tried: WhatIfTold | None
    tried_chart: HourChart | None
    typed: tuple[TypedValue, ...]
    faults: tuple[Wrong, ...]
    may_change: bool


def site_lines_page(ask: Ask, key: str) -> SiteLinesPage:
    """The page; what cannot be computed as typed is said at its field, and the plan is shown alone."""
    found = find_site(ask.folder, key)
    one = ask.folder.kept_lines.sites(ask.folder, found.digest).get(found.plan.site)
    waits = found.plan.waits
    no_waits = (
        N_("No waits were computed for this site."),
        N_("The page What is open? says what the plan needs to know."),
        f"/site/{key}",
    )
    if one is None or waits is None:
        raise Trouble(404, *no_waits)
    asked_day = ask.query.get("day", "")
    days = one.lines.days
    day = next((d for d in days if d.date.isoformat() == asked_day), days[-1])
    has_line = one.lines.path.limited()
    types = {staged.stage: staged.station_type for staged in one.staged}
    faults: list[Wrong] = []

    def number(field: str, planned: int, least: int, most: int) -> int:
        text = ask.query.get(field, "").strip()
        if not text:
            return planned
        value = int(text) if text.isascii() and text.isdecimal() and len(text) < 6 else -1
        if least <= value <= most:
            return value
        words = message(N_("Type a whole number from {least} to {most}."), least=least, most=most)
        faults.append(Wrong(field=field, words=words))
        return planned

    a, b, c, d = (
        number(field, planned, 1, MOST_STATIONS) if line else 0
        for field, planned, line in zip(COUNT_FIELDS, one.counts, has_line, strict=True)
    )
    asked = WhatIfAsked(
        counts=(a, b, c, d),
        late_min=number(LATE, 0, 0, MOST_LATE_MIN),
        turnout_percent=number(TURNOUT, 100, LEAST_PERCENT, MOST_PERCENT),
        marking_percent=number(MARKING, 100, LEAST_PERCENT, MOST_PERCENT),
        casting_percent=number(CASTING, 100, LEAST_PERCENT, MOST_PERCENT) if one.lines.path.cast else 100,
    )
    planned_asked = WhatIfAsked(counts=one.counts)
    compared_days = waits.compared_days or DAYS[found.version.effort]
    kept, where = ask.folder.kept_lines, (ask.folder, found.digest, found.plan.site, day.date)
    whole = kept.figures(*where, waits.days_used)
    compared = kept.figures(*where, compared_days)
    hours = kept.by_hour(*where)
    if whole is None or compared is None or hours is None:
        raise Trouble(404, *no_waits)
    plan = WhatIfTold(asked=planned_asked, figures=whole, by_hour=hours)
    tried = None
    if not faults and asked != planned_asked:
        tried = what_if(one.lines, day, asked, found.version.seed, compared_days, HOUR_DAYS)
    both = [plan] if tried is None else [plan, tried]
    most_ms = max(hour.p90_longest_ms for told in both for hour in told.by_hour.hours)
    limit_ms = one.lines.limit.limit_ms
    shown = [k for k in range(len(SIZED)) if has_line[k]]
    return SiteLinesPage(
        **ask.frame(N_("{site}: where will voters wait?"), site=found.plan.name),
        site=key,
        site_name=found.plan.name,
        day=day.date,
        days=tuple(one.date for one in days),
        limit_ms=limit_ms,
        hour_days=HOUR_DAYS,
        stages=tuple(
            StageRow(
                field=COUNT_FIELDS[k],
                words=stations_words(SIZED[k]),
                planned=one.counts[k],
                tried=asked.counts[k],
                fix=_fix_link(key, types.get(SIZED[k], "")),
            )
            for k in shown
        ),
        waits=waits,
        plan=plan,
        compared=compared,
        plan_chart=hour_chart(plan.by_hour, limit_ms, most_ms),
        line_stages=tuple(stations_words(SIZED[k]) for k in shown),
        lines=tuple(_line_at(at, shown) for at in (tried or plan).by_hour.lines),
        tried=tried,
        tried_chart=None if tried is None else hour_chart(tried.by_hour, limit_ms, most_ms),
        typed=tuple(
            TypedValue(field=field, value=ask.query.get(field, "").strip()[:20] or str(meant))
            for field, meant in (
                *zip(COUNT_FIELDS, asked.counts, strict=True),
                (LATE, asked.late_min),
                (TURNOUT, asked.turnout_percent),
                (MARKING, asked.marking_percent),
                (CASTING, asked.casting_percent),
            )
        ),
        faults=tuple(faults),
        may_change=ask.may(Capability.CHANGE),
    )


def _line_at(at: LineFigures, shown: list[int]) -> LineAt:
    return LineAt(minute=at.at_ms // MS_PER_MINUTE, in_line=tuple(at.in_line_milli[k] for k in shown))


def _fix_link(key: str, station_type: str) -> str:
    if not station_type:
        return ""
    where = urlencode({"table": "stations", "row": f"{key}/{station_type}", "field": "count"})
    return f"/site/{key}/fix?{where}"


@get("/site/{site:str}/lines")
@in_thread
def site_lines(request: Request[Any, Any, Any], site: FromPath[str]) -> Response[str]:
    """The page of one site's lines."""
    ask = Ask(request)
    page = site_lines_page(ask, site)
    return answer(ask, page, status=422 if page.faults else 200)
