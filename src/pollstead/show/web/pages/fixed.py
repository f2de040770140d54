"""All that people fixed: value and computed value, why, who, when, what it costs; and taking it back."""

from __future__ import annotations

from typing import Any, ClassVar
from urllib.parse import urlencode

from litestar import Request, Response, get, post

from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.plan.terms.overruled import Overruled
from pollstead.plan.terms.version import PlanVersion
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.pages.fix import FIELD_WORDS, plan_again
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread, part
from pollstead.show.web.pages.jobs import JobLine, job_line
from pollstead.show.web.typed import Wrong
from pollstead.work.line import sweep
from pollstead.work.overruling import Place, decisions_standing, unfix

UNUSED = N_("fits no row of the plan, so it is not used")
WAITS = N_("waits for the next plan")
HONORED = N_("in the newest plan")
TAKEN_BACK = N_("taken back; gone with the next plan")


class FixedRow(Value, frozen=True, kw_only=True):
    """One value that people fixed. `person` is "" where it stands in the table of fixed values."""

    place: Place
    words: str
    site: str
    value: str
    computed: str
    reason: str
    person: str
    utc_ms: int | None
    cost: tuple[Message, ...]
    state: str
    shape: str
    may_take_back: bool


class FixedPage(Page, frozen=True, kw_only=True):
    """All fixed values, and how far planning again is."""

    template: ClassVar[str] = "fixed.html"

    rows: tuple[FixedRow, ...]
    job: JobLine | None
    newest: str
    number: int
    shown: str
    waiting: bool
    may_change: bool
    zone: str
    faults: tuple[Wrong, ...]
    at: str


def fixed_page(ask: Ask, faults: tuple[Wrong, ...] = (), at: str = "") -> FixedPage:
    """The page as things are now; `at` is the row whose form was sent."""
    folder = ask.folder
    lines = folder.versions()
    newest = lines[0].digest if lines else ""
    rows = fixed_rows(ask, folder.version(newest) if newest else None)
    return FixedPage(
        **ask.frame(N_("What did people fix?")),
        rows=rows,
        job=_job(ask),
        newest=newest,
        number=len(lines),
        shown=folder.current_digest(),
        waiting=any(row.state in (WAITS, TAKEN_BACK) for row in rows),
        may_change=ask.may(Capability.CHANGE),
        zone=folder.zone_name,
        faults=faults,
        at=at,
    )


def fixed_rows(ask: Ask, version: PlanVersion | None) -> tuple[FixedRow, ...]:
    """Every fixed value: decisions that stand, values of the table, and what the newest plan still honors."""
    told = {} if version is None else {(o.table, o.row, o.field): o for o in version.overruled}
    planned = {} if version is None else {(f.table, f.row, f.field): f.value for f in version.fixed}
    rows: dict[tuple[str, str, str], FixedRow] = {}
    for one in decisions_standing(ask.folder.fold()):
        key = (one.place.table, one.place.row, one.place.field)
        if one.place.table == "people":
            continue
        honored = planned.get(key) == one.value
        state = (
            (WAITS, "half") if not honored else (HONORED, "square") if key in told else (UNUSED, "diamond")
        )
        rows[key] = _row(
            one.place,
            told.get(key) if honored else None,
            value=one.value,
            reason=one.reason,
            person=ask.folder.person_name(one.person) if ask.may(Capability.SEE_PEOPLE) else one.person,
            utc_ms=one.utc_ms,
            state=state,
            may_take_back=ask.may(Capability.CHANGE),
        )
    election = ask.folder.tables_election()
    in_table = () if election is None else election.fixed
    for cell in in_table:
        key = (cell.table, cell.row, cell.field)
        if key not in rows:
            honored = planned.get(key) == cell.value
            state = (
                (WAITS, "half")
                if not honored
                else (HONORED, "square")
                if key in told
                else (UNUSED, "diamond")
            )
            place = Place(table=cell.table, row=cell.row, field=cell.field)
            rows[key] = _row(
                place, told.get(key) if honored else None, value=cell.value, reason=cell.reason, state=state
            )
    for key, one_told in told.items():
        if key not in rows:
            place = Place(table=key[0], row=key[1], field=key[2])
            rows[key] = _row(
                place, one_told, value=one_told.value, reason=one_told.reason, state=(TAKEN_BACK, "cross")
            )
    return tuple(rows[key] for key in sorted(rows))


def _row(
    place: Place,
    told: Overruled | None,
    *,
    value: str,
    reason: str,
    state: tuple[str, str],
    person: str = "",
    utc_ms: int | None = None,
    may_take_back: bool = False,
) -> FixedRow:
    return FixedRow(
        place=place,
        words=FIELD_WORDS.get((place.table, place.field), place.field),
        site="" if told is None else told.site,
        value=value,
        computed="" if told is None else told.computed,
        reason=reason,
        person=person,
        utc_ms=utc_ms,
        cost=() if told is None else told.cost,
        state=state[0],
        shape=state[1],
        may_take_back=may_take_back,
    )


def _job(ask: Ask) -> JobLine | None:
    """The plan that the address names, else the newest one that is still being made."""
    sweep(ask.folder.store, ask.folder.path, ask.folder.clock())
    wanted = ask.query.get("job", "")
    plans = [job for job in ask.folder.store.jobs.list(30) if job.kind == "plan"]
    lines = [job_line(job, ask.folder.person_name(job.requested_by)) for job in plans]
    return next((line for line in lines if line.id == wanted or (not wanted and line.open)), None)


@get("/fixed")
@in_thread
def fixed(request: Request[Any, Any, Any]) -> Response[str]:
    """The page, or the part that shows how far planning is."""
    ask = Ask(request)
    page = fixed_page(ask)
    return part(ask, "_fixed_job.html", page) if ask.query.get("part") == "job" else answer(ask, page)


@post("/fixed")
@in_thread
def take_back(request: Request[Any, Any, Any]) -> Response[Any]:
    """Take one decision back, or plan again with those that stand."""
    ask = Ask(request)
    if ask.form.text("act") == "take_back":
        place = Place(table=ask.form.text("table"), row=ask.form.text("row"), field=ask.form.text("field"))
        at = f"{place.table} {place.row} {place.field}"
        reason = ask.form.text("reason")
        if not any(one.place == place for one in decisions_standing(ask.folder.fold())):
            raise Trouble(
                409,
                N_("No decision fixes this number any more."),
                N_("The page of fixed values shows what stands now."),
                "/fixed",
            )
        if not reason:
            wrong = Wrong(field="reason", words=message(N_("Say in a few words why.")))
            return answer(ask, fixed_page(ask, (wrong,), at), status=422)
        with ask.folder.at_desk(ask.person()) as (desk, people, moment):
            unfix(desk.recorder, desk.fold(), place, reason=reason, people=people, moment=moment)
    return go(f"/fixed?{urlencode({'job': plan_again(request, ask)})}")
