"""Edit many sites at once: columns and sites chosen, a grid of plain inputs, the differences, one change."""

from __future__ import annotations

from typing import Any, ClassVar, Final
from urllib.parse import urlencode

from litestar import Request, Response, get, post

from pollstead.election.county import Site
from pollstead.election.notice import Notice
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.intake.fact_writing import NotTaken
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.pages.who_page import FieldFault
from pollstead.show.web.site_columns import SiteCell, SiteColumn, cells_of, edits_of, filled, site_columns
from pollstead.work.facts import CannotChange

MOST_SITES: Final = 150
MOST_COLUMNS: Final = 6


class GridRow(Value, frozen=True, kw_only=True):
    """One site of the grid with its cells in the order of the columns."""

    id: str
    name: str
    cells: tuple[SiteCell, ...]


class ChangedCell(Value, frozen=True, kw_only=True):
    """One cell that would change."""

    site: str
    name: str
    column: str
    before: str
    after: str


class BulkEditPage(Page, frozen=True, kw_only=True):
    """The choice, the grid, or the differences before they are taken."""

    template: ClassVar[str] = "bulk_edit.html"

    all_columns: tuple[SiteColumn, ...]
    columns: tuple[SiteColumn, ...]
    areas: tuple[str, ...]
    area: str
    text: str
    rows: tuple[GridRow, ...]
    left_out: int
    most: int
    changes: tuple[ChangedCell, ...]
    review: bool
    reason: str
    refused: tuple[Notice, ...]
    clash: Message | None
    faults: tuple[FieldFault, ...]


class Chosen:
    """What a request is about: the columns and sites, and each cell as it stands and as it was typed."""

    def __init__(self, ask: Ask, given: Any) -> None:
        election = ask.folder.tables_election()
        if election is None:
            raise Trouble(
                409,
                N_("The county's tables cannot be read, so they cannot be edited here."),
                N_("The page What is open? names what keeps them out."),
                "/open",
            )
        self.all_columns = site_columns(ask.may)
        self.columns = tuple(c for c in self.all_columns if given.get(c.id))[:MOST_COLUMNS]
        self.area, self.text = given.get("area", "")[:100], given.get("text", "")[:100]
        self.areas = tuple(sorted({site.area for site in election.sites if site.area}))
        text = self.text.casefold()
        fitting = [
            site
            for site in election.sites
            if (not self.area or site.area == self.area)
            and (not text or text in site.name.casefold() or text in _key(site).casefold())
        ]
        self.left_out = max(0, len(fitting) - MOST_SITES)
        self.sites = tuple(fitting[:MOST_SITES])
        rows = ask.folder.tables_rows() if self.columns else ()
        typed = ask.form
        self.cells: list[dict[str, SiteCell]] = []
        for place, column in enumerate(self.columns):
            held = cells_of(rows, column)
            self.cells.append(
                {
                    key: SiteCell(
                        before=typed.get(f"b-{place}-{key}", held.get(key, "")),
                        typed=typed.get(f"v-{place}-{key}", held.get(key, "")),
                        there=key in held,
                    )
                    for key in map(_key, self.sites)
                }
            )

    def fill(self, ask: Ask) -> None:
        """Put what was typed above a column into its cells, where that was asked for."""
        for place in range(len(self.columns)):
            wanted = ask.form.text(f"where-{place}")
            if wanted in ("all", "blank"):
                text = ask.form.text(f"fill-{place}")
                self.cells[place] = filled(self.cells[place], text, blank_only=wanted == "blank")

    def changes(self) -> tuple[ChangedCell, ...]:
        """Every cell that would change, site by site."""
        return tuple(
            ChangedCell(
                site=_key(site),
                name=site.name,
                column=column.name,
                before=cells[_key(site)].before,
                after=cells[_key(site)].typed,
            )
            for site in self.sites
            for column, cells in zip(self.columns, self.cells, strict=True)
            if cells[_key(site)].changed
        )

    def address(self) -> str:
        """The address of this choice."""
        fields = {"area": self.area, "text": self.text, **{column.id: "yes" for column in self.columns}}
        return f"/sites/edit?{urlencode({name: value for name, value in fields.items() if value})}"


def bulk_page(
    ask: Ask,
    chosen: Chosen,
    *,
    review: bool = False,
    refused: tuple[Notice, ...] = (),
    clash: Message | None = None,
    faults: tuple[FieldFault, ...] = (),
) -> BulkEditPage:
    """The page for a choice; with `review` the differences and the box for the reason."""
    return BulkEditPage(
        **ask.frame(N_("What changes at which sites?")),
        all_columns=chosen.all_columns,
        columns=chosen.columns,
        areas=chosen.areas,
        area=chosen.area,
        text=chosen.text,
        rows=tuple(
            GridRow(id=_key(site), name=site.name, cells=tuple(cells[_key(site)] for cells in chosen.cells))
            for site in chosen.sites
        ),
        left_out=chosen.left_out,
        most=MOST_SITES,
        changes=chosen.changes(),
        review=review,
        reason=ask.form.text("reason"),
        refused=refused,
        clash=clash,
        faults=faults,
    )


def _key(site: Site) -> str:
    return site.id.removeprefix("site/")


@get("/sites/edit")
@in_thread
def bulk_edit(request: Request[Any, Any, Any]) -> Response[str]:
    """The choice of columns and sites, and their grid."""
    ask = Ask(request)
    return answer(ask, bulk_page(ask, Chosen(ask, ask.query)))


@post("/sites/edit")
@in_thread
def take_bulk_edit(request: Request[Any, Any, Any]) -> Response[Any]:
    """Fill a column, show the differences, or take them as one change that can be undone."""
    ask = Ask(request)
    chosen = Chosen(ask, ask.form)
    step = ask.form.text("step")
    if step == "fill":
        chosen.fill(ask)
        return answer(ask, bulk_page(ask, chosen))
    changes = chosen.changes()
    if not changes:
        fault = FieldFault(field="grid", words=message(N_("Nothing is different. Change a cell first.")))
        return answer(ask, bulk_page(ask, chosen, faults=(fault,)), status=422)
    if step != "take":
        return answer(ask, bulk_page(ask, chosen, review=step == "review"))
    reason = ask.form.text("reason")
    if not reason:
        fault = FieldFault(field="reason", words=message(N_("Say in a few words why.")))
        return answer(ask, bulk_page(ask, chosen, review=True, faults=(fault,)), status=422)
    edits = tuple(
        edit
        for column, cells in zip(chosen.columns, chosen.cells, strict=True)
        for edit in edits_of(column, cells)
    )
    try:
        ask.folder.change_facts(edits, who=ask.person(), act="bulk_edit", subject="facts", reason=reason)
    except NotTaken as error:
        return answer(ask, bulk_page(ask, chosen, refused=error.faults), status=422)
    except CannotChange as error:
        return answer(ask, bulk_page(ask, chosen, review=True, clash=error.said), status=409)
    return go("/facts/changes")
