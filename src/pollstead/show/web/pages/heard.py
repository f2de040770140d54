"""Not heard from: which sites are silent past the expected minute, whom to call next, what was tried."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar, Final
from urllib.parse import urlencode

from litestar import Request, Response, get, post

from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.reconcile.heard.callees import PURPOSE
from pollstead.record.kinds.calls import CallMade, CallPurpose, CallResult, PhoneCalled
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.heard_view import Silence, SiteLine
from pollstead.show.web.pages.calls import undo_call
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread, part
from pollstead.show.web.ready_view import SHORT

RESULTS: Final[dict[str, CallResult]] = {
    "no_answer": "no_answer",
    "left_message": "left_message",
    "wrong_number": "wrong_number",
}
ABOUT: Final[CallPurpose] = "not_heard"


class RuleLine(Value, frozen=True, kw_only=True):
    """A county rule with its value, as an expected minute was made from it."""

    words: str
    value: str
    unit: str
    confirmed: bool


class HeardPage(Page, frozen=True, kw_only=True):
    """Not heard from."""

    template: ClassVar[str] = "heard.html"

    day: dt.date
    days: tuple[dt.date, ...]
    at: str
    now_ms: int
    zone: str
    area: str
    areas: tuple[str, ...]
    silent: tuple[SiteLine, ...]
    heard: tuple[SiteLine, ...]
    rules: tuple[RuleLine, ...]
    may_call: bool
    may_phone: bool
    see_people: bool
    query: str
    done: str
    undone: bool
    cautions: tuple[Caution, ...]


def heard_page(ask: Ask) -> HeardPage:
    """The page as of now, or as of the moment asked for."""
    silence = Silence(ask)
    area = ask.query.get("area", "")
    areas = tuple(sorted({site.area for site in silence.found.sites if site.area}))
    area = area if area in areas else ""
    lines = [silence.line(site) for site in silence.found.sites if area in ("", site.area)]
    asked = {"day": silence.date.isoformat(), "area": area, "at": silence.at}
    return HeardPage(
        **ask.frame(N_("Which sites have not been heard from?")),
        day=silence.date,
        days=silence.dates,
        at=silence.at,
        now_ms=silence.now_ms,
        zone=silence.election.zone_name,
        area=area,
        areas=areas,
        silent=tuple(line for line in lines if line.overdue),
        heard=tuple(sorted((line for line in lines if not line.overdue), key=lambda line: line.site)),
        rules=tuple(
            RuleLine(words=one.words, value=str(one.value), unit=one.unit, confirmed=one.confirmed)
            for one in silence.found.rules
        ),
        may_call=ask.may(Capability.CALL) and not silence.at,
        may_phone=ask.may(Capability.ENTER) and not silence.at,
        see_people=ask.may(Capability.SEE_PEOPLE),
        query=urlencode({name: value for name, value in asked.items() if value}),
        done=ask.query.get("done", ""),
        undone=bool(ask.query.get("undone")),
        cautions=for_place(Place.HEARD),
    )


def take_try(ask: Ask) -> str:
    """Write a call that reached nobody; the short id of its event."""
    silence = Silence(ask)
    site = silence.site(ask.form.text("site"))
    person = ask.form.text("person")
    result = RESULTS.get(ask.form.text("result"))
    line = None if site is None else silence.line(site)
    shown = () if line is None else tuple(one for one in (line.next, *line.others) if one is not None)
    callee = next((one for one in shown if one.person == person), None)
    if site is None or callee is None or result is None:
        raise Trouble(
            409,
            N_("This form is old: the site was heard, or somebody else is to be called."),
            N_("Look at the list again."),
            "/heard",
        )
    written = ask.folder.write(
        CallMade(purpose=ABOUT, result=result, window="any", sites=(f"site/{site.site}",)),
        who=ask.person(),
        subject=f"person/{person}",
        day=silence.date.isoformat(),
        private=PhoneCalled(phone=callee.phones[0] if callee.phones else ""),
    )
    return written.id[:SHORT]


@get("/heard")
@in_thread
def heard(request: Request[Any, Any, Any]) -> Response[str]:
    """The page, or its list alone for the page that is open already."""
    ask = Ask(request)
    page = heard_page(ask)
    return part(ask, "_heard_list.html", page) if ask.query.get("part") == "list" else answer(ask, page)


@post("/heard")
@in_thread
def take_heard(request: Request[Any, Any, Any]) -> Response[Any]:
    """Take a call that reached nobody, or take one back."""
    ask = Ask(request)
    kept = {"day": ask.form.text("day"), "area": ask.form.text("area")}
    if ask.form.text("do") == "undo":
        undo_call(ask)
        kept["undone"] = "1"
    else:
        kept["done"] = take_try(ask)
    return go(f"/heard?{urlencode({name: value for name, value in kept.items() if value})}")


assert ABOUT == PURPOSE  # noqa: S101 - the purpose that is written is the one that is looked for
