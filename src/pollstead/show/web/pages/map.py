"""The map: where the sites lie on the county's own grid, with the state that the question asks for."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, ClassVar, Final
from urllib.parse import urlencode

from litestar import Request, Response, get

from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.plan.terms.version import SitePlan
from pollstead.show.web.day import days_now, due_day
from pollstead.show.web.map_drawing import HEIGHT, MOST_ZOOM, WIDTH, Drawing, OnMap, draw
from pollstead.show.web.next_step import next_step
from pollstead.show.web.pages.county import rules_not_met, site_link
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, in_thread

FARTHEST_M: Final = 2_000_000


class State(Value, frozen=True, kw_only=True):
    """The state of one site in words, its shape, and whether somebody must act."""

    words: Message
    shape: str
    needs: bool


class MapRow(Value, frozen=True, kw_only=True):
    """One site of the list beside the map."""

    id: str
    link: str
    name: str
    area: str
    state: State
    place: str
    here: str


class Way(Value, frozen=True, kw_only=True):
    """A button that shows the map otherwise."""

    words: str
    address: str


class Question(Value, frozen=True, kw_only=True):
    """A question that the marks can answer."""

    key: str
    words: str
    here: bool
    address: str


class MapPage(Page, frozen=True, kw_only=True):
    """Sites on the county's grid."""

    template: ClassVar[str] = "map.html"

    questions: tuple[Question, ...]
    question: str
    rows: tuple[MapRow, ...]
    drawing: Drawing
    width: int
    height: int
    ways: tuple[Way, ...]
    unplaced: int
    needing: int


QUESTIONS: Final = (
    ("next", N_("Which sites need something next?")),
    ("rules", N_("Which sites have a rule not met?")),
    ("lists", N_("Which expected lists are issued?")),
    ("doors", N_("Which doors are open?")),
)


def states_for(ask: Ask, question: str) -> Callable[[SitePlan], State]:
    """The function that tells a site's state for a question; raises ValueError before there is a plan."""
    days = days_now(ask.folder)
    if question == "rules":
        rules = rules_not_met(days.version)

        def of_rules(plan: SitePlan) -> State:
            found = rules.get(plan.site.removeprefix("site/"), 0)
            if not found:
                return State(words=message(N_("no rule not met")), shape="square", needs=False)
            words = message(N_("1 rule not met")) if found == 1 else message(N_("{n} rules not met"), n=found)
            return State(words=words, shape="diamond", needs=True)

        return of_rules
    if question == "next":

        def of_next(plan: SitePlan) -> State:
            step = next_step(days, days.election, plan)
            return State(words=step.words, shape=step.shape, needs=step.needs)

        return of_next

    def of_day(plan: SitePlan) -> State:
        found = days.site(plan.site, due_day(days, plan, days.election))
        if question == "lists":
            if found is not None and found.list_issued:
                return State(words=message(N_("list issued")), shape="square", needs=False)
            return State(words=message(N_("list not issued yet")), shape="diamond", needs=True)
        if found is not None and found.closed.values:
            return State(words=message(N_("closed")), shape="cross", needs=False)
        if found is not None and found.opened.values:
            return State(words=message(N_("opened")), shape="square", needs=False)
        return State(words=message(N_("not opened yet")), shape="ring", needs=True)

    return of_day


def map_page(ask: Ask) -> MapPage:
    """The map as asked for: `show` names the question, `zoom`, `x` and `y` what is in view."""
    folder = ask.folder
    election, version = folder.election(), folder.current()
    if election is None or version is None:
        raise Trouble(
            409, N_("There is no plan yet, so there is no map."), N_("Make a plan on the page Jobs."), "/jobs"
        )
    known = {key for key, _ in QUESTIONS}
    question = ask.query.get("show", "next")
    question = question if question in known else "next"
    state_of = states_for(ask, question)
    places = {route.site.removeprefix("site/"): (route.x_m, route.y_m) for route in election.site_routes}
    sites = {site.id.removeprefix("site/"): site for site in election.sites}
    zoom = min(_whole(ask.query.get("zoom", "")) or 1, MOST_ZOOM)
    x, y = _whole(ask.query.get("x", "")), _whole(ask.query.get("y", ""))
    center = (x, y) if x is not None and y is not None else None
    rows: list[MapRow] = []
    marks: list[OnMap] = []
    for plan in version.sites:
        key = plan.site.removeprefix("site/")
        state = state_of(plan)
        east, north = places.get(key, (None, None))
        here = ""
        if east is not None and north is not None:
            marks.append(
                OnMap(id=key, name=plan.name, x_m=east, y_m=north, shape=state.shape, needs=state.needs)
            )
            here = _address(question, max(zoom, 8), east, north)
        rows.append(
            MapRow(
                id=key,
                link=site_link(plan.site),
                name=plan.name,
                area=sites[key].area if key in sites else "",
                state=state,
                place="" if east is None or north is None else f"{east / 1000:g}, {north / 1000:g}",
                here=here,
            )
        )
    drawing = draw(marks, max(zoom, 1), center)
    return MapPage(
        **ask.frame(N_("Where are the sites?")),
        questions=tuple(
            Question(key=k, words=w, here=k == question, address=_address(k, drawing.zoom, x, y))
            for k, w in QUESTIONS
        ),
        question=dict(QUESTIONS)[question],
        rows=tuple(sorted(rows, key=lambda row: (not row.state.needs, row.area, row.name, row.id))),
        drawing=drawing,
        width=WIDTH,
        height=HEIGHT,
        ways=_ways(question, drawing),
        unplaced=len(rows) - len(marks),
        needing=sum(1 for row in rows if row.state.needs),
    )


def _ways(question: str, drawing: Drawing) -> tuple[Way, ...]:
    """The buttons; none that would show what is shown already."""
    x, y, zoom, step = drawing.center_x_m, drawing.center_y_m, drawing.zoom, drawing.step_m
    here = _address(question, zoom, x, y)
    ways = [
        Way(words=N_("Nearer"), address=_address(question, min(zoom * 2, MOST_ZOOM), x, y)),
        Way(words=N_("Farther"), address=_address(question, max(zoom // 2, 1), x, y)),
        Way(words=N_("North"), address=_address(question, zoom, x, min(y + step, drawing.most[1]))),
        Way(words=N_("South"), address=_address(question, zoom, x, max(y - step, drawing.least[1]))),
        Way(words=N_("West"), address=_address(question, zoom, max(x - step, drawing.least[0]), y)),
        Way(words=N_("East"), address=_address(question, zoom, min(x + step, drawing.most[0]), y)),
        Way(words=N_("Whole county"), address=_address(question, 1, None, None)),
    ]
    return tuple(way for way in ways if way.address != here)


def _address(question: str, zoom: int, x: int | None, y: int | None) -> str:
    asked: dict[str, object] = {"show": question}
    if x is not None and y is not None:
        asked |= {"zoom": zoom, "x": x, "y": y}
    return f"/map?{urlencode(asked)}#map"


def _whole(text: str) -> int | None:
    """A whole number of an address, None where it is none or far off any county."""
    digits = text.removeprefix("-")
    if not (digits.isascii() and digits.isdigit() and len(digits) < 9):
        return None
    return max(-FARTHEST_M, min(FARTHEST_M, int(text)))


@get("/map")
@in_thread
def map_of_sites(request: Request[Any, Any, Any]) -> Response[str]:
    """The map with its list."""
    ask = Ask(request)
    return answer(ask, map_page(ask))
