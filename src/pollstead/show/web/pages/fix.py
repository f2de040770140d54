"""Fix one number of the plan: what stands there, what a person wants instead and why; then plan again."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar
from urllib.parse import urlencode

from litestar import Request, Response, get, post
from litestar.params import FromPath

from pollstead.election.county import Election
from pollstead.election.words import N_, message
from pollstead.plan.cells import Cell, find_cell
from pollstead.plan.fixing import FIELDS
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.pages.site import find_site
from pollstead.show.web.typed import Wrong
from pollstead.work.kinds import PlanArguments
from pollstead.work.line import ask_for
from pollstead.work.overruling import Place, fault_of, fix

if TYPE_CHECKING:
    from pollstead.work.foreman import Foreman

LONGEST_REASON = 500
FIELD_WORDS = {
    ("stations", "count"): N_("Stations of this type"),
    ("voters", "p50"): N_("Voters, middle of the range"),
    ("devices", "site"): N_("Site of this machine"),
    ("devices", "station"): N_("Station of this machine"),
    ("packing", "quantity"): N_("Quantity to pack"),
    ("set_up", "minutes"): N_("Minutes of this set-up step"),
    ("set_up", "people"): N_("People at this set-up step"),
    ("set_up", "crew"): N_("People who set up"),
    ("seal_needs", "quantity"): N_("Seals to bring"),
    ("seal_needs", "extra"): N_("Seals to bring beyond the computed number"),
    ("sites", "kind"): N_("Kind of site"),
}


class FixPage(Page, frozen=True, kw_only=True):
    """One cell of the plan and the form that fixes it."""

    template: ClassVar[str] = "fix.html"

    site: str
    site_name: str
    words: str
    cell: Cell
    bounds: tuple[int, int] | None
    choices: tuple[tuple[str, str], ...]
    value: str
    reason: str
    faults: tuple[Wrong, ...]


def fix_page(ask: Ask, key: str, faults: tuple[Wrong, ...] = ()) -> FixPage:
    """The page of the cell that the address names; with `faults`, what was typed is kept."""
    found = find_site(ask.folder, key)
    cell = cell_asked(ask, found.election)
    cells = FIELDS[cell.table, cell.field]
    typed = bool(faults)
    return FixPage(
        **ask.frame(N_("Fix this number?")),
        site=key,
        site_name=found.plan.name,
        words=FIELD_WORDS[cell.table, cell.field],
        cell=cell,
        bounds=None if cells.least is None or cells.most is None else (cells.least, cells.most),
        choices=_choices(found.election, cell),
        value=ask.form.text("value") if typed else cell.value,
        reason=ask.form.text("reason") if typed else "",
        faults=faults,
    )


def cell_asked(ask: Ask, election: Election) -> Cell:
    """The cell that the address names; raises Trouble where the plan has none such."""
    version = ask.folder.current()
    table, row, field = (ask.query.get(name, "") for name in ("table", "row", "field"))
    cell = None if version is None else find_cell(election, version, table, row, field)
    if cell is None:
        raise Trouble(
            404,
            N_("The plan has no such number to fix."),
            N_("Go to the site's page and choose a number there."),
        )
    return cell


def _choices(election: Election, cell: Cell) -> tuple[tuple[str, str], ...]:
    """What can be chosen where the value is an id: its words beside it."""
    if (cell.table, cell.field) == ("sites", "kind"):
        return tuple((kind.id, kind.name) for kind in election.site_kinds)
    if (cell.table, cell.field) == ("devices", "site"):
        return tuple((site.id, site.name) for site in election.sites)
    return ()


@get("/site/{site:str}/fix")
@in_thread
def fix_form(request: Request[Any, Any, Any], site: FromPath[str]) -> Response[str]:
    """The form."""
    ask = Ask(request)
    return answer(ask, fix_page(ask, site))


@post("/site/{site:str}/fix")
@in_thread
def take_fix(request: Request[Any, Any, Any], site: FromPath[str]) -> Response[Any]:
    """Record the decision and put a plan in line; the page of fixed values shows what comes of it."""
    ask = Ask(request)
    found = find_site(ask.folder, site)
    cell = cell_asked(ask, found.election)
    place = Place(table=cell.table, row=cell.row, field=cell.field)
    value, reason = ask.form.text("value"), ask.form.text("reason")
    fault = fault_of(place, value, reason, found.election, found.version)
    if fault is None and len(reason) > LONGEST_REASON:
        fault = ("reason", message(N_("Say it in at most {most} characters."), most=LONGEST_REASON))
    if fault is not None:
        wrong = Wrong(field=fault[0], words=fault[1])
        return answer(ask, fix_page(ask, site, (wrong,)), status=422)
    with ask.folder.at_desk(ask.person()) as (desk, people, moment):
        fix(desk.recorder, desk.fold(), place, value, reason=reason, people=people, moment=moment)
    return go(f"/fixed?{urlencode({'job': plan_again(request, ask)})}")


def plan_again(request: Request[Any, Any, Any], ask: Ask) -> str:
    """Put a plan in line, with the work and seed of the version shown; gives the job's id."""
    version = ask.folder.current()
    arguments = (
        PlanArguments() if version is None else PlanArguments(effort=version.effort, seed=version.seed)
    )
    asked = ask_for(ask.folder.store, "plan", arguments, by=ask.person().person, utc_ms=ask.folder.clock())
    foreman: Foreman = request.app.state.foreman
    foreman.poke()
    return asked.id
