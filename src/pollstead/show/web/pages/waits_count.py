"""What was counted? One row a site, gone through by Tab; a blank is nobody's word and no zero."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar, Final, Literal, cast
from urllib.parse import urlencode

import msgspec
from litestar import Request, Response, get, post

from pollstead.election.instants import Instant
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.reconcile.lines_told import LineTold, lines_told
from pollstead.record.event import Means, Part
from pollstead.record.event import Person as Hand
from pollstead.record.kinds.lines import LineCounted
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.web.happening_view import typed_count, typed_minute
from pollstead.show.web.pages.entry import TypedValue
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.pages.not_back import second_person_any
from pollstead.show.web.pages.taking_back import take_back
from pollstead.show.web.typed import Wrong
from pollstead.show.web.waits_view import NUMBER_WORDS, WaitsOfDay

# Nobody waits longer than the doors are open: 999 and the like are signs for "no number" on lists of others.
MOST: Final = {"wait_min": 720, "check_ins": 1_000_000}
MOST_PEOPLE, MOST_STATIONS = 5_000, 500
WAYS: Final = (
    ("phone", N_("by phone")),
    ("text_message", N_("by text message")),
    ("radio", N_("by radio")),
    ("there", N_("somebody of the office was there")),
    ("other", N_("another way")),
)
Way = Literal["", "text_message", "radio", "there"]


class CountRow(Value, frozen=True, kw_only=True):
    """A site to type for, with its last count."""

    site: str
    name: str
    last_min: int | None
    last_line: int | None


class WaitsCountPage(Page, frozen=True, kw_only=True):
    """Type what was counted."""

    template: ClassVar[str] = "waits_count.html"

    day: dt.date
    days: tuple[dt.date, ...]
    now_ms: int
    zone: str
    area: str
    areas: tuple[str, ...]
    rows: tuple[CountRow, ...]
    numbers: tuple[tuple[str, str], ...]
    ways: tuple[tuple[str, str], ...]
    typed: tuple[TypedValue, ...]
    faults: tuple[Wrong, ...]
    done: tuple[tuple[str, str], ...]
    undone: bool
    cautions: tuple[Caution, ...]


class _Form:
    """The sites that can be typed for, and the form as sent."""

    def __init__(self, ask: Ask) -> None:
        self.ask = ask
        self.view = view = WaitsOfDay(ask, estimate=False)
        open_sites = {d.site for plan in view.days.version.sites for d in plan.demand if d.date == view.date}
        self.sites = tuple(
            (site.id, site.name, site.area) for site in view.election.sites if site.id in open_sites
        )
        self.told = lines_told(view.days.folded, view.day, view.now_ms)
        self.now_min = view.day.wall_clock_of(Instant(utc_ms=view.now_ms))

    def rows(self, area: str, only: str) -> tuple[CountRow, ...]:
        """The sites of an area, or the one asked for."""
        wanted = [one for one in self.sites if only in ("", one[0]) and area in ("", one[2])]
        return tuple(self._row(site, name, self.told.get(site, ())) for site, name, _ in wanted)

    def _row(self, site: str, name: str, told: tuple[LineTold, ...]) -> CountRow:
        last = told[-1] if told else None
        return CountRow(
            site=site,
            name=name,
            last_min=None if last is None else last.at_min,
            last_line=None if last is None else last.number("in_line"),
        )


def count_page(ask: Ask, faults: tuple[Wrong, ...] = ()) -> WaitsCountPage:
    """The page; with `faults` what was typed is kept."""
    form = _Form(ask)
    areas = tuple(sorted({area for _, _, area in form.sites if area}))
    area = ask.query.get("area", "") or ask.form.text("area")
    area = area if area in areas else ""
    only = ask.query.get("site", "") or ask.form.text("only")
    only = only if only in {site for site, _, _ in form.sites} else ""
    rows = form.rows(area, only)
    fields = ["way", *(f"{name}-{row.site}" for row in rows for name in _names())]
    done = [one.partition(":") for one in ask.query.get("done", "").split(",") if one]
    return WaitsCountPage(
        **ask.frame(N_("What was counted in line?")),
        day=form.view.date,
        days=form.view.dates,
        now_ms=form.view.now_ms,
        zone=form.view.election.zone_name,
        area=area,
        areas=areas,
        rows=rows,
        numbers=NUMBER_WORDS,
        ways=tuple((key, ask.speak.plain(words)) for key, words in WAYS),
        typed=tuple(TypedValue(field=one, value=ask.form.text(one)) for one in fields) if faults else (),
        faults=faults,
        done=() if faults else tuple((site, event) for site, _, event in done),
        undone=bool(ask.query.get("undone")),
        cautions=for_place(Place.WAITS_COUNT),
    )


def _names() -> tuple[str, ...]:
    return ("at", "by", *(name for name, _ in NUMBER_WORDS))


def read_rows(ask: Ask, form: _Form) -> tuple[list[tuple[str, LineCounted, str]], tuple[Wrong, ...]]:
    """Site, body and giver of each row in which something was typed; and all that needs another look."""
    faults: list[Wrong] = []
    made = []
    way = ask.form.text("way")
    if way not in {key for key, _ in WAYS}:
        raise Trouble(400, N_("This form is not known here."), N_("Open the page again."), "/waits/count")
    for site, _, _ in form.sites:
        numbers, wrong = _numbers(ask, site)
        typed = [ask.form.text(f"{name}-{site}") for name in ("at", "by")]
        if not numbers and not wrong and not any(typed):
            continue
        if not numbers and not wrong:
            words = message(N_("{site}: type what was counted, or empty the row."), site=site)
            wrong.append(Wrong(field=f"in_line-{site}", words=words))
        minute = typed_minute(typed[0], f"at-{site}") if typed[0] else form.now_min
        if isinstance(minute, Wrong):
            wrong.append(minute)
        elif minute > form.now_min + 1:
            words = message(N_("{site}: this time is later than now."), site=site)
            wrong.append(Wrong(field=f"at-{site}", words=words))
        giver = second_person_any(ask, f"by-{site}") if typed[1] else ""
        if isinstance(giver, Wrong):
            wrong.append(giver)
        faults += wrong
        if wrong or isinstance(minute, Wrong) or isinstance(giver, Wrong):
            continue
        body = msgspec.structs.replace(
            LineCounted(
                at_min=minute,
                way="" if way in ("phone", "other") else cast(Way, way),
                by_phone="not_read_back" if way == "phone" else "",
            ),
            **numbers,
        )
        made.append((site, body, giver))
    if not made and not faults:
        first = form.sites[0][0] if form.sites else ""
        words = message(N_("Nothing was typed. A line of nobody is the number 0."))
        faults.append(Wrong(field=f"in_line-{first}", words=words))
    return made, tuple(faults)


def _numbers(ask: Ask, site: str) -> tuple[dict[str, int], list[Wrong]]:
    numbers: dict[str, int] = {}
    wrong: list[Wrong] = []
    for name, _ in NUMBER_WORDS:
        field = f"{name}-{site}"
        found = typed_count(ask.form.text(field), field)
        if isinstance(found, Wrong):
            wrong.append(found)
            continue
        if found is None:
            continue
        most = MOST.get(name, MOST_STATIONS if name.startswith("open_") else MOST_PEOPLE)
        if found > most:
            told = N_("{site}: more than {most} is not taken here; look again.")
            words = message(told, site=site, most=most)
            wrong.append(Wrong(field=field, words=words))
        numbers[name] = found
    return numbers, wrong


@get("/waits/count")
@in_thread
def waits_count(request: Request[Any, Any, Any]) -> Response[str]:
    """One row a site."""
    ask = Ask(request)
    return answer(ask, count_page(ask))


@post("/waits/count")
@in_thread
def take_waits_count(request: Request[Any, Any, Any]) -> Response[Any]:
    """Write each row in which something was typed, or take one back."""
    ask = Ask(request)
    form = _Form(ask)
    kept = {"day": form.view.date.isoformat(), "area": ask.form.text("area"), "site": ask.form.text("only")}
    if ask.form.text("do") == "undo":
        take_back(ask, form.view.days.folded, (LineCounted.kind,), "/waits/count")
        kept["undone"] = "1"
        return go(f"/waits/count?{urlencode({k: v for k, v in kept.items() if v})}")
    made, faults = read_rows(ask, form)
    if faults:
        return answer(ask, count_page(ask, faults), status=422)
    done = []
    for site, body, giver in made:
        hands = (Hand(person=giver, means=Means.NAME_ONLY, part=Part.GIVER),) if giver else ()
        if giver == ask.person().person:
            hands = ()
        event = ask.folder.write(
            body,
            who=ask.person(),
            subject=f"site/{site}",
            site=f"site/{site}",
            day=form.view.date.isoformat(),
            hands=hands,
        ).id
        done.append(f"{site}:{event}")
    kept["done"] = ",".join(done)
    return go(f"/waits/count?{urlencode({k: v for k, v in kept.items() if v})}")
