"""Take a file of counts in: send it, see which files were taken, take one back."""

from __future__ import annotations

import asyncio
from typing import Any, ClassVar, Final

from litestar import Request, Response, get, post

from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.intake.counts.mapping import TARGET_WORDS, Target
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.pages.who_page import FieldFault
from pollstead.show.web.sent_files import read_sent
from pollstead.show.web.uploads import LARGEST_FILE_BYTES, LARGEST_REQUEST_BYTES, Upload
from pollstead.work.count_replacing import Imported, NothingStands, imports_of, take_back

KINDS_OF_FILE: Final = (".csv", ".tsv", ".txt", ".xlsx", ".xlsm", ".json", ".xml")


class TakenFile(Value, frozen=True, kw_only=True):
    """A file that was taken, with the name of who took it where the reader may see names."""

    item: Imported
    person: str


class CountImportPage(Page, frozen=True, kw_only=True):
    """Send a file of counts; the files that were taken."""

    template: ClassVar[str] = "count_import.html"

    zone: str
    targets: tuple[tuple[str, str], ...]
    taken: tuple[TakenFile, ...]
    may_write: bool
    largest_mb: int
    done: str
    asked: str
    reason: str
    faults: tuple[FieldFault, ...]
    cautions: tuple[Caution, ...]


def import_page(ask: Ask, faults: tuple[FieldFault, ...] = (), asked: str = "") -> CountImportPage:
    """The page; `asked` is the file whose taking back needs another look."""
    folder = ask.folder
    people = ask.may(Capability.SEE_PEOPLE)
    election = folder.election()
    return CountImportPage(
        **ask.frame(N_("Take counts in from a file")),
        zone=election.zone_name if election is not None else "Etc/UTC",
        targets=tuple((target.value, ask.speak.plain(TARGET_WORDS[target])) for target in Target),
        taken=tuple(
            TakenFile(item=one, person=folder.person_name(one.person) if people else "")
            for one in imports_of(folder.fold())
        ),
        may_write=ask.may(Capability.CANVASS),
        largest_mb=LARGEST_FILE_BYTES // 1_000_000,
        done=ask.query.get("done", "") if not faults else "",
        asked=asked,
        reason=ask.form.text("reason"),
        faults=faults,
        cautions=for_place(Place.COUNT_FILES),
    )


@get("/counts/import")
@in_thread
def count_import(request: Request[Any, Any, Any]) -> Response[str]:
    """The page."""
    ask = Ask(request)
    return answer(ask, import_page(ask))


@post("/counts/import", request_max_body_size=LARGEST_REQUEST_BYTES)
async def send_counts(request: Request[Any, Any, Any]) -> Response[Any]:
    """Take in a file, to look at it; nothing is recorded."""
    ask = Ask(request)
    sent = await read_sent(request)
    return await asyncio.to_thread(_sent, ask, sent.file.name, sent.file.data, sent.text("what"))


def _sent(ask: Ask, name: str, data: bytes, target: str) -> Response[Any]:
    if not data or len(data) > LARGEST_FILE_BYTES or not name.lower().endswith(KINDS_OF_FILE):
        what = (
            message(N_("Choose a file first."))
            if not data
            else message(N_("The file is larger than {mb} MB."), mb=LARGEST_FILE_BYTES // 1_000_000)
            if len(data) > LARGEST_FILE_BYTES
            else message(N_("Send a table as CSV or XLSX, or a results report as JSON or XML."))
        )
        return answer(ask, import_page(ask, (FieldFault(field="file", words=what),)), 422)
    said = f"?what={target}" if target in {one.value for one in Target} else ""
    return go(f"/counts/import/{ask.folder.uploads.keep(Upload(name, data))}{said}")


@post("/counts/import/back")
@in_thread
def take_file_back(request: Request[Any, Any, Any]) -> Response[Any]:
    """Take the numbers of one file back, with a reason."""
    ask = Ask(request)
    digest = ask.form.text("file")
    if digest not in {one.digest for one in imports_of(ask.folder.fold())}:
        raise Trouble(
            404, N_("No numbers of such a file were taken."), N_("This list has every one."), "/counts/import"
        )
    if not ask.form.text("reason"):
        fault = FieldFault(field=f"reason-{digest[:8]}", words=message(N_("Say why, in a few words.")))
        return answer(ask, import_page(ask, (fault,), digest), 422)
    try:
        with ask.folder.at_desk(ask.person()) as (desk, people, moment):
            written = take_back(desk, digest, reason=ask.form.text("reason"), people=people, moment=moment)
    except NothingStands:
        fault = FieldFault(
            field=f"reason-{digest[:8]}", words=message(N_("No number of this file stands any more."))
        )
        return answer(ask, import_page(ask, (fault,), digest), 409)
    return go(f"/counts/import?done=back-{len(written)}")
