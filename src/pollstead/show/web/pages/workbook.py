"""The workbook: take it out, send an edited one in."""

from __future__ import annotations

import asyncio
import importlib.metadata
import re
from typing import Any, ClassVar, Final

from litestar import Request, Response, get, post

from pollstead.election.instants import Instant
from pollstead.election.notice import Notice
from pollstead.election.words import N_, message
from pollstead.intake.fact_writing import folder_facts
from pollstead.intake.workbook_out import Origin, workbook_bytes
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.pages.who_page import FieldFault
from pollstead.show.web.seen_cells import left_out
from pollstead.show.web.sent_files import read_sent
from pollstead.show.web.uploads import LARGEST_FILE_BYTES, LARGEST_REQUEST_BYTES, Upload
from pollstead.work.fact_bases import keep_snapshot

XLSX: Final = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


class WorkbookPage(Page, frozen=True, kw_only=True):
    """Take the workbook out, send an edited one in."""

    template: ClassVar[str] = "workbook.html"

    tables_unread: tuple[Notice, ...]
    left_out: tuple[str, ...]
    may_change: bool
    largest_mb: int
    faults: tuple[FieldFault, ...]


def workbook_page(ask: Ask, faults: tuple[FieldFault, ...] = ()) -> WorkbookPage:
    """The first page, with what was wrong with a file."""
    return WorkbookPage(
        **ask.frame(N_("All facts as a workbook")),
        tables_unread=folder_facts(ask.folder.path).unread,
        left_out=tuple(" ".join(filter(None, one)) for one in sorted(left_out(ask.may))),
        may_change=ask.may(Capability.CHANGE),
        largest_mb=LARGEST_FILE_BYTES // 1_000_000,
        faults=faults,
    )


@get("/workbook")
@in_thread
def workbook(request: Request[Any, Any, Any]) -> Response[str]:
    """Take the workbook out, send one in."""
    ask = Ask(request)
    return answer(ask, workbook_page(ask))


@get("/workbook/file")
@in_thread
def workbook_file(request: Request[Any, Any, Any]) -> Response[bytes]:
    """The workbook of the facts as the tables hold them now; what the role may not see is left out."""
    ask = Ask(request)
    folder = ask.folder
    held = folder_facts(folder.path)
    election = folder.tables_election()
    if held.unread or election is None:
        raise Trouble(
            409,
            N_("The workbook cannot be made, because a table cannot be read."),
            N_("What is open names each fault."),
            "/open",
        )
    keep_snapshot(folder.store, election, folder.clock())
    made = Instant(utc_ms=folder.clock()).local("Etc/UTC")
    origin = Origin(
        facts=held.digest,
        made=made.strftime("%Y-%m-%d %H:%M UTC"),
        program=f"pollstead {importlib.metadata.version('pollstead')}",
    )
    data = workbook_bytes(held.rows, origin, ask.speak.plain, without=left_out(ask.may))
    name = re.sub(r"[^a-z0-9]+", "-", election.county.lower()).strip("-") or "county"
    headers = {
        "content-disposition": f'attachment; filename="{name}-facts-{made.strftime("%Y%m%d-%H%M")}.xlsx"'
    }
    return Response(content=data, media_type=XLSX, headers=headers)


@post("/workbook", request_max_body_size=LARGEST_REQUEST_BYTES)
async def send_workbook(request: Request[Any, Any, Any]) -> Response[Any]:
    """Take in an edited workbook, to look at its differences; nothing is written."""
    ask = Ask(request)
    file = (await read_sent(request)).file
    return await asyncio.to_thread(_sent, ask, file.name, file.data)


def _sent(ask: Ask, name: str, data: bytes) -> Response[Any]:
    if not data or len(data) > LARGEST_FILE_BYTES or not data.startswith(b"PK"):
        what = (
            message(N_("Choose a file first."))
            if not data
            else message(N_("The file is larger than {mb} MB."), mb=LARGEST_FILE_BYTES // 1_000_000)
            if len(data) > LARGEST_FILE_BYTES
            else message(N_("This is no XLSX workbook. In your spreadsheet program, save it as XLSX."))
        )
        return answer(ask, workbook_page(ask, (FieldFault(field="file", words=what),)), 422)
    return go(f"/workbook/{ask.folder.uploads.keep(Upload(name, data))}")
