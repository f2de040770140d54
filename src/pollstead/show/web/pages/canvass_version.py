"""One version of the canvass that was kept, what it changed, what changed since; and its files."""

from __future__ import annotations

import re
from typing import Any, ClassVar, Final

from litestar import Request, Response, get
from litestar.params import FromPath

from pollstead.election.instants import Instant
from pollstead.election.words import N_
from pollstead.reconcile.counts.canvass_version import change_between
from pollstead.show.canvass_words import change_lines, serials_of
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.export.canvass import canvass_csv, canvass_xlsx
from pollstead.show.packet.canvass_paper import canvass_paper, canvass_pdf
from pollstead.show.packet.setting import PrintFailed
from pollstead.show.web.canvass_view import Canvass
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.pages.canvass import RowShown, changes_shown, row_shown
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, in_thread
from pollstead.work.canvass import Frozen, words_of_explanations

KINDS: Final = {
    "report.pdf": "application/pdf",
    "table.csv": "text/csv; charset=utf-8",
    "table.xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}
"""The files of a version and their media types (IANA)."""

MOST_ROWS: Final = 1_000


class CanvassVersionPage(Page, frozen=True, kw_only=True):
    """One kept version."""

    template: ClassVar[str] = "canvass_version.html"

    zone: str
    item: Frozen
    person: str
    said: str
    rows: tuple[RowShown, ...]
    changes: tuple[tuple[str, str, str], ...]
    since: tuple[tuple[str, str, str], ...]
    is_now: bool
    done: str
    cautions: tuple[Caution, ...]


@get("/canvass/version/{digest:str}")
@in_thread
def canvass_version(request: Request[Any, Any, Any], digest: FromPath[str]) -> Response[str]:
    """A version that was kept."""
    ask = Ask(request)
    found = Canvass(ask, digest if re.fullmatch(r"[0-9a-f]{8,64}", digest) else "none")
    frozen = found.frozen
    assert frozen is not None  # noqa: S101 - Canvass raises where there is no such version
    page = CanvassVersionPage(
        **ask.frame(N_("Version {number} of the canvass"), number=frozen.number),
        zone=found.election.zone_name,
        item=frozen,
        person=found.name_of(frozen.person),
        said=frozen.said if ask.may(Capability.SEE_PEOPLE) else "",
        rows=tuple(row_shown(ask, row) for row in found.version.by_difference()[:MOST_ROWS]),
        changes=changes_shown(ask, found),
        since=change_lines(change_between(found.version, found.now), ask.speak.plain),
        is_now=found.version.digest == found.now.digest,
        done=ask.query.get("done", ""),
        cautions=for_place(Place.CANVASS),
    )
    return answer(ask, page)


@get("/canvass/file/{name:str}")
@in_thread
def canvass_file(request: Request[Any, Any, Any], name: FromPath[str]) -> Response[bytes]:
    """The report or table of a version, or of the canvass as it stands now; each is marked unofficial."""
    ask = Ask(request)
    if name not in KINDS:
        raise Trouble(404, N_("There is no such file."), N_("The page lists every one."), "/canvass")
    found = Canvass(ask, ask.query.get("version", ""))
    say, now = ask.speak.plain, ask.folder.clock()
    if name == "table.csv":
        data = canvass_csv(found.version, say, found.name_of)
    elif name == "table.xlsx":
        data = canvass_xlsx(found.version, say, found.name_of, serials_of(found.election))
    else:
        sees = ask.may(Capability.SEE_PEOPLE)
        paper = canvass_paper(
            found.version,
            found.election,
            now_ms=now,
            frozen=found.frozen,
            language=ask.language,
            name_of=found.name_of,
            explained=words_of_explanations(found.folded) if sees else {},
        )
        try:
            data = canvass_pdf(paper)
        except PrintFailed as failed:
            raise Trouble(
                409, failed.said.template, N_("Correct it, then print again."), "/canvass",
                **{one.name: one.value for one in failed.said.params},
            ) from failed  # fmt: skip
    stem, _, kind = name.partition(".")
    stamp = Instant(utc_ms=now).local(found.election.zone_name).strftime("%Y%m%d-%H%M")
    number = f"v{found.frozen.number}" if found.frozen is not None else "now"
    headers = {
        "content-disposition": f'attachment; filename="canvass-{stem}-unofficial-{number}-{stamp}.{kind}"'
    }
    return Response(content=data, media_type=KINDS[name], headers=headers)
