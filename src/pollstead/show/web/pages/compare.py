"""Two plan versions beside each other: in a few sentences, then every change by site or by table."""

from __future__ import annotations

from itertools import groupby
from typing import Any, ClassVar

from litestar import Request, Response, get

from pollstead.election.values import Value
from pollstead.election.words import N_, Message
from pollstead.plan.difference import Change, compare
from pollstead.plan.difference_words import COUNTY, by_site, summary
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, in_thread
from pollstead.show.web.pages.versions import TABLE_WORDS, VersionRow, version_rows

MOST_CHANGES = 1_000
BY_SITE, BY_TABLE = "site", "table"


class Rows(Value, frozen=True, kw_only=True):
    """The changes of one table."""

    words: str
    changes: tuple[Change, ...]


class Group(Value, frozen=True, kw_only=True):
    """The changes under one heading: a site's by its tables, or one table's."""

    site: str
    name: str
    count: int
    tables: tuple[Rows, ...]


class ComparePage(Page, frozen=True, kw_only=True):
    """Two versions and what differs; `before` is the older where nobody chose."""

    template: ClassVar[str] = "compare.html"

    versions: tuple[VersionRow, ...]
    before: VersionRow | None
    after: VersionRow | None
    told: tuple[Message, ...]
    groups: tuple[Group, ...]
    left_out: int
    sites: tuple[tuple[str, str], ...]
    site: str
    by: str
    may_approve: bool
    zone: str


def find_version(rows: tuple[VersionRow, ...], name: str) -> VersionRow | None:
    """The version of a number or of the beginning of a digest; None for "", Trouble for one not kept."""
    if not name:
        return None
    found = [row for row in rows if str(row.number) == name]
    if not found and len(name) >= 4:
        found = [row for row in rows if row.digest.startswith(name.lower())]
    if len(found) != 1:
        raise Trouble(404, N_("There is no such plan version."), N_("This list has every one."), "/versions")
    return found[0]


def compare_page(ask: Ask) -> ComparePage:
    """The page of the versions that the address names; without names, the newest and the one before it."""
    rows = version_rows(ask.folder)
    after = find_version(rows, ask.query.get("b", "")) or (rows[0] if rows else None)
    before = find_version(rows, ask.query.get("a", ""))
    if before is None and after is not None:
        before = next((row for row in rows if row.digest == after.parent), None)
    by = BY_TABLE if ask.query.get("by") == BY_TABLE else BY_SITE
    told: tuple[Message, ...] = ()
    found: dict[str, tuple[Change, ...]] = {}
    names: dict[str, str] = {}
    if before is not None and after is not None:
        versions = (ask.folder.version(before.digest), ask.folder.version(after.digest))
        changes = compare(*versions)
        told, found = summary(*versions, changes), by_site(*versions, changes)
        names = {plan.site: plan.name for version in versions for plan in version.sites}
    site = ask.query.get("site", "")
    if site and site not in names:
        raise Trouble(
            404, N_("The plan has no site {site}."), N_("Choose another one."), "/compare", site=site
        )
    chosen = {key: mine for key, mine in found.items() if site in ("", key)}
    groups, left_out = _groups(chosen, names, by)
    return ComparePage(
        **ask.frame(N_("What differs between two plans?")),
        versions=rows,
        before=before,
        after=after,
        told=told,
        groups=groups,
        left_out=left_out,
        sites=tuple(sorted(names.items())),
        site=site,
        by=by,
        may_approve=ask.may(Capability.APPROVE),
        zone=ask.folder.zone_name,
    )


def _groups(
    found: dict[str, tuple[Change, ...]], names: dict[str, str], by: str
) -> tuple[tuple[Group, ...], int]:
    """The groups of the page, of at most `MOST_CHANGES` changes, and how many are left out."""
    groups = []
    left, total = MOST_CHANGES, 0
    if by == BY_TABLE:
        every = tuple(dict.fromkeys(change for mine in found.values() for change in mine))
        total = len(every)
        for table, words in TABLE_WORDS.items():
            mine = tuple(change for change in every if change.table == table)
            kept, left = mine[:left], max(0, left - len(mine))
            if kept:
                rows = (Rows(words=words, changes=kept),)
                groups.append(Group(site="", name=words, count=len(mine), tables=rows))
        return tuple(groups), max(0, total - MOST_CHANGES)
    for site, mine in found.items():
        total += len(mine)
        kept, left = mine[:left], max(0, left - len(mine))
        if kept:
            tables = tuple(
                Rows(words=TABLE_WORDS[table], changes=tuple(rows))
                for table, rows in groupby(kept, key=lambda change: change.table)
            )
            groups.append(
                Group(site=site, name="" if site == COUNTY else names[site], count=len(mine), tables=tables)
            )
    return tuple(groups), max(0, total - MOST_CHANGES)


@get("/compare")
@in_thread
def compare_versions(request: Request[Any, Any, Any]) -> Response[str]:
    """Two versions beside each other."""
    ask = Ask(request)
    return answer(ask, compare_page(ask))
