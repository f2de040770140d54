"""Where voters will wait: every site by the hour, in the model, the site that waits longest first."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar

from litestar import Request, Response, get

from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.plan.terms.version import WaitReport
from pollstead.show.web.lines_view import HOUR_DAYS, level, whole_hours, worst_hour
from pollstead.show.web.pages.county import site_link
from pollstead.show.web.pages.frame import Ask, Page, answer, in_thread


class HourCell(Value, frozen=True, kw_only=True):
    """One hour of one site: longest wait on 90 of 100 days, how dark, whether above the county's limit."""

    wait_ms: int
    level: int
    above: bool


class LinesRow(Value, frozen=True, kw_only=True):
    """One site: its hours (None where it is closed), its worst hour, where the waiting is, its risk."""

    key: str
    link: str
    name: str
    area: str
    cells: tuple[HourCell | None, ...]
    worst_min: int
    worst_ms: int
    binding: str
    waits: WaitReport


class LinesPage(Page, frozen=True, kw_only=True):
    """The county by the hour of one day."""

    template: ClassVar[str] = "lines.html"

    day: dt.date | None
    days: tuple[dt.date, ...]
    hours: tuple[int, ...]
    rows: tuple[LinesRow, ...]
    above: int
    limit_ms: int
    hour_days: int
    digest: str


def lines_page(ask: Ask) -> LinesPage:
    """The page of the day that the address names, else the county's last, which is election day."""
    folder = ask.folder
    digest = folder.current_digest()
    kept = {} if not digest else folder.kept_lines.sites(folder, digest)
    dates = tuple(sorted({day.date for one in kept.values() for day in one.lines.days}))
    asked = ask.query.get("day", "")
    day = next((d for d in dates if d.isoformat() == asked), dates[-1] if dates else None)
    rows: list[LinesRow] = []
    hours: list[int] = []
    limit_ms = 0
    if day is not None:
        plans = {plan.site: plan for plan in folder.version(digest).sites}
        told = {
            site: found
            for site in kept
            if (found := folder.kept_lines.by_hour(folder, digest, site, day)) is not None
        }
        hours = sorted({minute for found in told.values() for minute in whole_hours(found)})
        election = folder.election()
        areas = {} if election is None else {site.id: site.area for site in election.sites}
        for site, found in told.items():
            plan = plans[site]
            waits = plan.waits
            if waits is None:
                continue
            limit_ms = waits.limit_ms
            cells = {
                minute: HourCell(
                    wait_ms=hour.p90_longest_ms,
                    level=level(hour.p90_longest_ms),
                    above=hour.p90_longest_ms > waits.limit_ms,
                )
                for minute, hour in zip(whole_hours(found), found.hours, strict=True)
            }
            worst = worst_hour(found)
            rows.append(
                LinesRow(
                    key=site.removeprefix("site/"),
                    link=f"{site_link(site)}/lines?day={day.isoformat()}",
                    name=plan.name,
                    area=areas.get(site, ""),
                    cells=tuple(cells.get(minute) for minute in hours),
                    worst_min=whole_hours(found)[worst],
                    worst_ms=found.hours[worst].p90_longest_ms,
                    binding=waits.binding,
                    waits=waits,
                )
            )
    rows.sort(key=lambda row: (-row.worst_ms, row.key))
    return LinesPage(
        **ask.frame(N_("Where will voters wait?")),
        day=day,
        days=dates,
        hours=tuple(hours),
        rows=tuple(rows),
        above=sum(any(c is not None and c.above for c in row.cells) for row in rows),
        limit_ms=limit_ms,
        hour_days=HOUR_DAYS,
        digest=digest,
    )


@get("/lines")
@in_thread
def lines(request: Request[Any, Any, Any]) -> Response[str]:
    """The county by the hour."""
    ask = Ask(request)
    return answer(ask, lines_page(ask))
