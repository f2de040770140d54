"""Where are the lines long now? Estimates from counts, with their age; what is not known; what would help."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar
from urllib.parse import urlencode

from litestar import Request, Response, get

from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.pages.frame import Ask, Page, answer, in_thread, part
from pollstead.show.web.waits_view import MoveRow, WaitRow, WaitsOfDay

RULE_WORDS = {
    "line-stale": N_("A counted line says nothing about now after"),
    "line-set-up": N_("A station that stands at the site is put to work in"),
    "line-travel": N_("Where no way is told, somebody travels"),
    "wait-limit": N_("Longest wait that a voter should have"),
}

LEFT_OUT_WORDS = {
    "curbside-share": N_("The line at the curb: ask the site how many wait there."),
    "accessible-open": N_(
        "Accessible stations that serve whoever is next when idle: waits may be a little shorter."
    ),
    "line-patience": N_("Voters who leave the line unserved: lines may be shorter, for a bad reason."),
}


class RuleLine(Value, frozen=True, kw_only=True):
    """A county rule behind the estimates, in minutes."""

    words: str
    minutes: int
    confirmed: bool


class WaitsPage(Page, frozen=True, kw_only=True):
    """The waits now."""

    template: ClassVar[str] = "waits.html"

    day: dt.date
    days: tuple[dt.date, ...]
    at: str
    now_ms: int
    zone: str
    area: str
    areas: tuple[str, ...]
    known: tuple[WaitRow, ...]
    unknown: tuple[WaitRow, ...]
    others: tuple[WaitRow, ...]
    moves: tuple[MoveRow, ...]
    long: int
    rules: tuple[RuleLine, ...]
    left_out: tuple[str, ...]
    may_tell: bool
    query: str
    cautions: tuple[Caution, ...]


def waits_page(ask: Ask) -> WaitsPage:
    """The page as of now, or as of the moment asked for."""
    view = WaitsOfDay(ask)
    areas = tuple(sorted({one.area for one in view.found.sites if one.area}))
    area = ask.query.get("area", "")
    area = area if area in areas else ""
    rows = view.rows(area)
    known = tuple(row for row in rows if row.wait is not None)
    waiting = {one.site for one in view.found.sites if one.wait.known.value in ("never told", "stale")}
    asked = {"day": view.date.isoformat(), "area": area, "at": view.at}
    return WaitsPage(
        **ask.frame(N_("Where are the lines long now?")),
        day=view.date,
        days=view.dates,
        at=view.at,
        now_ms=view.now_ms,
        zone=view.election.zone_name,
        area=area,
        areas=areas,
        known=known,
        unknown=tuple(sorted((row for row in rows if row.site in waiting), key=_oldest_first)),
        others=tuple(row for row in rows if row.wait is None and row.site not in waiting),
        moves=view.moves(area),
        long=sum(row.over_limit for row in known),
        rules=tuple(
            RuleLine(words=RULE_WORDS[one.rule], minutes=one.minutes, confirmed=one.confirmed)
            for one in view.found.rules
        ),
        left_out=tuple(LEFT_OUT_WORDS[one.value] for one in view.found.left_out),
        may_tell=ask.may(Capability.TELL) and not view.at,
        query=urlencode({name: value for name, value in asked.items() if value}),
        cautions=for_place(Place.WAITS),
    )


def _oldest_first(row: WaitRow) -> tuple[bool, int, str]:
    """Sites that told once before those that never did, the oldest count first."""
    return (row.age_min is None, -(row.age_min or 0), row.site)


@get("/waits")
@in_thread
def waits(request: Request[Any, Any, Any]) -> Response[str]:
    """The page, or its list alone for the page that is open already."""
    ask = Ask(request)
    page = waits_page(ask)
    return part(ask, "_waits_list.html", page) if ask.query.get("part") == "list" else answer(ask, page)
