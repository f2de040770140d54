"""Plan versions: what there is, what changed, and approval by name."""

from __future__ import annotations

from typing import Any, ClassVar

from litestar import Request, Response, get, post
from litestar.params import FromPath

from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.plan.difference import Change, compare
from pollstead.record.kinds.offices import PlanApproved
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.open_folder import OpenFolder
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread

MOST_CHANGES = 500
TABLE_WORDS = {
    "sites": N_("Sites"),
    "stations": N_("Stations"),
    "voters": N_("Voters"),
    "waits": N_("Waits"),
    "devices": N_("Devices"),
    "seals": N_("Seals"),
    "seal needs": N_("Seals needed"),
    "packing": N_("Packing"),
    "run sheet": N_("Run sheet"),
    "fleet": N_("Fleet"),
    "fixed": N_("Fixed values"),
    "assumptions": N_("Assumptions"),
    "notices": N_("Notices"),
}


class Approval(Value, frozen=True, kw_only=True):
    """Who approved a version, and when."""

    name: str
    utc_ms: int


class VersionRow(Value, frozen=True, kw_only=True):
    """One plan version in the list."""

    number: int
    digest: str
    parent: str
    effort: str
    seed: str
    stopped_early: bool
    created_utc_ms: int
    approval: Approval | None
    shown: bool


class VersionsPage(Page, frozen=True, kw_only=True):
    """All plan versions, the newest first."""

    template: ClassVar[str] = "versions.html"

    rows: tuple[VersionRow, ...]
    zone: str


class ChangesOfTable(Value, frozen=True, kw_only=True):
    """The changes of one table."""

    words: str
    changes: tuple[Change, ...]


class VersionPage(Page, frozen=True, kw_only=True):
    """One plan version: what changed since another, and its approval."""

    template: ClassVar[str] = "version.html"

    row: VersionRow
    against: str
    others: tuple[VersionRow, ...]
    tables: tuple[ChangesOfTable, ...]
    total: int
    left_out: int
    may_approve: bool
    zone: str


def version_rows(folder: OpenFolder) -> tuple[VersionRow, ...]:
    """Every version, the newest first."""
    lines = folder.versions()
    approvals, shown = folder.approvals(), folder.current_digest()
    return tuple(
        VersionRow(
            number=len(lines) - index,
            digest=line.digest,
            parent=line.parent,
            effort=line.effort,
            seed=line.seed,
            stopped_early=line.stopped_early,
            created_utc_ms=line.created_utc_ms,
            approval=None
            if line.digest not in approvals
            else Approval(
                name=folder.person_name(approvals[line.digest].people[0].person),
                utc_ms=approvals[line.digest].utc_ms,
            ),
            shown=line.digest == shown,
        )
        for index, line in enumerate(lines)
    )


def find_row(ask: Ask, digest: str) -> VersionRow:
    """The version of an address; raises Trouble where it is not kept here."""
    row = next((row for row in version_rows(ask.folder) if row.digest == digest), None)
    if row is None:
        raise Trouble(404, N_("There is no such plan version."), N_("This list has every one."), "/versions")
    return row


def version_page(ask: Ask, digest: str) -> VersionPage:
    """One version against the one that the address names, else against its parent."""
    row = find_row(ask, digest)
    others = tuple(other for other in version_rows(ask.folder) if other.digest != digest)
    against = ask.query.get("against") or row.parent
    if against and against not in {other.digest for other in others}:
        raise Trouble(404, N_("There is no such plan version."), N_("This list has every one."), "/versions")
    changes = compare(ask.folder.version(against), ask.folder.version(digest)) if against else ()
    kept = changes[:MOST_CHANGES]
    tables = tuple(
        ChangesOfTable(words=words, changes=tuple(c for c in kept if c.table == table))
        for table, words in TABLE_WORDS.items()
        if any(c.table == table for c in kept)
    )
    return VersionPage(
        **ask.frame(N_("Plan version {number}: what changed?"), number=row.number),
        row=row,
        against=against,
        others=others,
        tables=tables,
        total=len(changes),
        left_out=len(changes) - len(kept),
        may_approve=ask.may(Capability.APPROVE),
        zone=ask.folder.zone_name,
    )


@get("/versions")
@in_thread
def versions(request: Request[Any, Any, Any]) -> Response[str]:
    """The list of plan versions."""
    ask = Ask(request)
    page = VersionsPage(
        **ask.frame(N_("Which plan holds?")), rows=version_rows(ask.folder), zone=ask.folder.zone_name
    )
    return answer(ask, page)


@get("/versions/{digest:str}")
@in_thread
def version(request: Request[Any, Any, Any], digest: FromPath[str]) -> Response[str]:
    """One plan version."""
    ask = Ask(request)
    return answer(ask, version_page(ask, digest))


@post("/versions/{digest:str}/approve")
@in_thread
def approve(request: Request[Any, Any, Any], digest: FromPath[str]) -> Response[Any]:
    """Record an approval by name; asked for once, so that a second press changes nothing."""
    ask = Ask(request)
    row = find_row(ask, digest)
    if ask.form.text("sure") != "yes":
        raise Trouble(
            422,
            N_("The box was not ticked, so nothing was approved."),
            N_("Go back, look at the changes, tick the box and approve."),
            f"/versions/{digest}",
        )
    if not row.shown or row.approval is None:
        ask.folder.write(
            PlanApproved(digest=digest),
            who=ask.person(),
            subject="plan",
            after=ask.folder.fold().heads("plan", "plan.approved"),
        )
    return go(f"/versions/{digest}")
