"""Your own timings: send files of check-in times, line counts or timed samples; what was taken before."""

from __future__ import annotations

import asyncio
import datetime as dt
from typing import Any, ClassVar

from litestar import Request, Response, get, post

from pollstead.election.county import Election
from pollstead.election.timings import TimingsRead
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.intake.timings.clock import read_day
from pollstead.intake.timings.columns import Role
from pollstead.intake.timings.read import read_timings
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.packet.timing_sheet import timing_sheet
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.sent_files import Sent, read_sent
from pollstead.show.web.timings_held import MOST_FILES, Held
from pollstead.show.web.timings_view import ROLE_WORDS, BeforeRow, before_row, unknown_headings
from pollstead.show.web.typed import Wrong
from pollstead.show.web.uploads import LARGEST_FILE_BYTES, LARGEST_REQUEST_BYTES
from pollstead.show.web.warehouse_pdf import pdf_answer
from pollstead.work.timings import Said, taken_before

MOST_HEADINGS, BLANK_HEADINGS = 20, 3


class RefusedFile(Value, frozen=True, kw_only=True):
    """A file that was kept out, and why."""

    read: TimingsRead
    headings: tuple[str, ...]


class TimingsPage(Page, frozen=True, kw_only=True):
    """Send files of timings; what was taken from timings before."""

    template: ClassVar[str] = "timings.html"

    day: str
    look: str
    refused: tuple[RefusedFile, ...]
    headings: tuple[tuple[str, str], ...]
    roles: tuple[tuple[str, str], ...]
    before: tuple[BeforeRow, ...]
    done: str
    zone: str
    largest_mb: int
    may_change: bool
    faults: tuple[Wrong, ...]
    cautions: tuple[Caution, ...]


def timings_page(
    ask: Ask,
    faults: tuple[Wrong, ...] = (),
    refused: tuple[TimingsRead, ...] = (),
    sent: Sent | None = None,
) -> TimingsPage:
    """The page; with `refused`, why files were kept out and which headings somebody may say."""
    folder = ask.folder
    election = folder.tables_election()
    people = ask.may(Capability.SEE_PEOPLE)
    said = {} if sent is None else _said(sent)
    unknown = [heading for read in refused for heading in unknown_headings(read)]
    return TimingsPage(
        **ask.frame(N_("How long does a voter take, and when do voters come?")),
        day=sent.text("day") if sent is not None else _election_day(election),
        look="" if sent is None else sent.text("look"),
        refused=tuple(RefusedFile(read=read, headings=unknown_headings(read)) for read in refused),
        headings=_headings(said, unknown),
        roles=tuple((role.value, words) for role, words in ROLE_WORDS.items()),
        before=tuple(
            before_row(one, election, folder.person_name(one.person) if people else one.person)
            for one in taken_before(folder.fold())
        ),
        done=ask.query.get("done", "") if not (faults or refused) else "",
        zone=folder.zone_name,
        largest_mb=LARGEST_FILE_BYTES // 1_000_000,
        may_change=ask.may(Capability.CHANGE),
        faults=faults,
        cautions=for_place(Place.TIMINGS),
    )


def _headings(said: dict[str, Role], unknown: list[str]) -> tuple[tuple[str, str], ...]:
    """The headings that somebody may say, each with what it holds; blank lines for more."""
    known = [(one, said[one].value if one in said else "") for one in dict.fromkeys([*said, *unknown])]
    return (*known[:MOST_HEADINGS], *[("", "")] * max(1, BLANK_HEADINGS - len(known)))


def _election_day(election: Election | None) -> str:
    return "" if election is None else election.election_day.isoformat()


def _said(sent: Sent) -> dict[str, Role]:
    """What a person said that headings hold."""
    known = {role.value: role for role in Role}
    found = {}
    for field, heading in sent.fields.items():
        if field.startswith("heading-") and heading:
            role = known.get(sent.text(f"holds-{field.removeprefix('heading-')}"))
            if role is not None:
                found[heading] = role
    return found


@get("/timings")
@in_thread
def timings(request: Request[Any, Any, Any]) -> Response[str]:
    """The page."""
    ask = Ask(request)
    return answer(ask, timings_page(ask))


@post("/timings", request_max_body_size=LARGEST_REQUEST_BYTES)
async def send_timings(request: Request[Any, Any, Any]) -> Response[Any]:
    """Read files of timings, to look at what they say; nothing is recorded and no row is held."""
    sent = await read_sent(request)
    return await asyncio.to_thread(_sent, Ask(request), sent)


def _sent(ask: Ask, sent: Sent) -> Response[Any]:
    election = ask.folder.tables_election()
    if election is None:
        raise _no_tables()
    look = sent.text("look")
    held = ask.folder.timings.get(look) if look else None
    fault, day = _fault(sent, held), election.election_day
    try:
        day = read_day(sent.text("day")) if sent.text("day") else day
    except ValueError:
        fault = fault or Wrong(
            field="day", words=message(N_("Type a date such as {date}."), date=day.isoformat())
        )
    if fault is not None:
        return answer(ask, timings_page(ask, (fault,), sent=sent), 422)
    reads = _read(sent, election, day)
    refused = tuple(read for read in reads if read.refused)
    if refused:
        return answer(ask, timings_page(ask, refused=refused, sent=sent), 422)
    before = held if held is not None else Held((), Said())
    kept = {read.digest: read for read in (*before.reads, *reads)}
    name = ask.folder.timings.keep(Held(tuple(kept.values()), before.said), look if held is not None else "")
    return go(f"/timings/{name}")


def _fault(sent: Sent, held: Held | None) -> Wrong | None:
    words = None
    if not sent.files:
        words = message(N_("Choose a file first."))
    elif any(len(file.data) > LARGEST_FILE_BYTES for file in sent.files):
        words = message(N_("The file is larger than {mb} MB."), mb=LARGEST_FILE_BYTES // 1_000_000)
    elif len(sent.files) + (len(held.reads) if held is not None else 0) > MOST_FILES:
        words = message(N_("Send at most {most} files for one look."), most=MOST_FILES)
    return None if words is None else Wrong(field="file", words=words)


def _read(sent: Sent, election: Election, day: dt.date) -> tuple[TimingsRead, ...]:
    said = _said(sent)
    return tuple(
        read_timings(file.name, file.data, zone_name=election.zone_name, day=day, said=said)
        for file in sent.files
    )


@get("/timings/sheet")
@in_thread
def timings_sheet(request: Request[Any, Any, Any]) -> Response[bytes]:
    """A sheet for timing voters with a stop watch."""
    ask = Ask(request)
    election = ask.folder.tables_election()
    if election is None:
        raise _no_tables()
    return pdf_answer(ask, election, "stop-watch-sheet.pdf", "/timings", timing_sheet)


def _no_tables() -> Trouble:
    return Trouble(
        409, N_("The county's tables cannot be read."), N_("What is open names each fault."), "/open"
    )
