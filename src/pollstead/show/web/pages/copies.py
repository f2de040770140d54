"""Copies: where they go, the last good one, a check, another place; and the sheet for a dead laptop."""

from __future__ import annotations

from pathlib import Path
from typing import Any, ClassVar, Final

from litestar import Request, Response, get, post

from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.copy_line import moment_words, wall_time
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.pages.who_page import FieldFault
from pollstead.store.backup import make_copy
from pollstead.store.copy_list import Copy, check_copy, copies_in
from pollstead.store.copy_state import (
    KEPT_COPIES,
    CopyTarget,
    copy_place,
    copy_source,
    restored_from,
    set_copy_target,
)
from pollstead.store.copy_status import CopyStatus, copy_sentences, copy_status
from pollstead.store.folders import second_places, shared_or_synchronized
from pollstead.store.refusal import Refusal

SHOWN: Final = 20
LONGEST_PATH: Final = 400
MOST_KEPT: Final = 99


class CopyRow(Value, frozen=True, kw_only=True):
    """One copy that is there: its name, when it was made, what it holds."""

    name: str
    made_utc_ms: int
    events: int
    asked: bool
    office_key: bool
    kilobytes: int


class CopiesPage(Page, frozen=True, kw_only=True):
    """Where copies go and what is there."""

    template: ClassVar[str] = "copies.html"

    well: bool
    sentences: tuple[Message, ...]
    age: Message | None
    more: tuple[Message, ...]
    place: str
    keep: int
    packets: bool
    rows: tuple[CopyRow, ...]
    zone: str
    may_change: bool
    may_book: bool
    restored: Message | None
    signs: tuple[Message, ...]
    done: tuple[Message, ...]
    faults: tuple[FieldFault, ...]
    typed: str
    places: tuple[str, ...]


class LaptopPage(Page, frozen=True, kw_only=True):
    """One page to print: what to do when this computer is gone."""

    template: ClassVar[str] = "laptop.html"

    place: str
    sentences: tuple[Message, ...]
    office_key_here: bool
    as_of: str


def copies_page(
    ask: Ask, *, done: tuple[Message, ...] = (), faults: tuple[FieldFault, ...] = (), typed: str = ""
) -> CopiesPage:
    """The page as things are now; `done` says what was just done, `faults` what could not be."""
    folder = ask.folder
    status = copy_status(folder.store)
    target = status.target
    place = "" if target is None else target.path
    return CopiesPage(
        **ask.frame(N_("Is there a second copy of everything?")),
        well=status.is_well,
        sentences=_sentences(ask, status),
        age=None if status.last is None else _age(folder.clock() - status.last.made_utc_ms),
        more=() if status.trouble is None else status.trouble.more,
        place=place,
        keep=KEPT_COPIES if target is None else target.keep,
        packets=target is not None and target.packets,
        rows=_rows(ask, place or _place_of_last(status)),
        zone=folder.zone_name,
        may_change=ask.may(Capability.BACK_UP),
        may_book=ask.may(Capability.HAND_OVER),
        restored=_restored(ask),
        signs=shared_or_synchronized(folder.path),
        done=done,
        faults=faults,
        typed=typed or place,
        places=second_places(),
    )


def _age(ms: int) -> Message:
    """How old a copy is, in the unit that a person would say."""
    minutes = max(0, ms) // 60_000
    if minutes < 120:
        return message(N_("That is {n} min ago."), n=minutes)
    if minutes < 48 * 60:
        return message(N_("That is {n} h ago."), n=minutes // 60)
    return message(N_("That is {n} days ago."), n=minutes // (24 * 60))


def _sentences(ask: Ask, status: CopyStatus) -> tuple[Message, ...]:
    folder = ask.folder
    return copy_sentences(status, lambda ms: wall_time(ms, folder.clock(), folder.zone_name))


def _place_of_last(status: CopyStatus) -> str:
    return "" if status.last is None else str(Path(status.last.path).parent)


def _rows(ask: Ask, place: str) -> tuple[CopyRow, ...]:
    """The copies of this folder at its place; none where the place is not there."""
    if not place:
        return ()
    source = copy_source(ask.folder.store)
    try:
        found = [copy for copy in copies_in(Path(place)) if copy.facts.source == source][:SHOWN]
    except OSError:
        return ()
    return tuple(_row(Path(place), copy) for copy in found)


def _row(place: Path, copy: Copy) -> CopyRow:
    size = 0
    for file in copy.files:
        path = place / copy.name / file.path
        size += path.stat().st_size if path.is_file() else 0
    return CopyRow(
        name=copy.name,
        made_utc_ms=copy.facts.made_utc_ms,
        events=copy.facts.head.size,
        asked=copy.facts.occasion.value == "asked",
        office_key=copy.facts.office_key,
        kilobytes=size // 1000,
    )


def _restored(ask: Ask) -> Message | None:
    came = restored_from(ask.folder.store)
    if came is None:
        return None
    folder = ask.folder
    return message(
        N_(
            "This folder was made from a copy of {time}. What was entered after it on other computers is "
            "here only where it was brought in since."
        ),
        time=wall_time(came.copy_utc_ms, folder.clock(), folder.zone_name),
    )


@get("/copies")
@in_thread
def copies(request: Request[Any, Any, Any]) -> Response[str]:
    """The page."""
    ask = Ask(request)
    return answer(ask, copies_page(ask))


@get("/copies/laptop")
@in_thread
def laptop(request: Request[Any, Any, Any]) -> Response[str]:
    """The sheet to print."""
    ask = Ask(request)
    status = copy_status(ask.folder.store)
    page = LaptopPage(
        **ask.frame(N_("If this laptop dies")),
        place=status.target.path if status.target is not None else _place_of_last(status),
        sentences=_sentences(ask, status),
        office_key_here=(ask.folder.path / "keys" / "office.pem").exists(),
        as_of=moment_words(ask.folder.clock(), ask.folder.zone_name),
    )
    return answer(ask, page)


@get("/book")
@in_thread
def book(request: Request[Any, Any, Any]) -> Response[bytes]:
    """The office book as PDF; telephone numbers only for a role that sees them."""
    from pollstead.show.book.book import office_book
    from pollstead.show.book.setting import book_pdf
    from pollstead.show.packet.setting import PrintFailed

    ask = Ask(request)
    try:
        made = book_pdf(office_book(ask.folder, language=ask.language, phones=ask.may(Capability.SEE_PHONES)))
    except (PrintFailed, ValueError) as error:
        raise Trouble(
            409,
            N_("{why}"),
            N_("Correct that, then ask for the office book again."),
            "/copies",
            why=str(error),
        ) from error
    name = 'inline; filename="office-book.pdf"'
    return Response(content=made, media_type="application/pdf", headers={"content-disposition": name})


@post("/copies")
@in_thread
def change_copies(request: Request[Any, Any, Any]) -> Response[Any]:
    """Make a copy now, check one, choose another place, or end the copies at each change."""
    ask = Ask(request)
    act = ask.form.text("act")
    if act == "make":
        return _make_now(ask)
    if act == "check":
        return _check(ask)
    if act == "choose":
        return _choose(ask, request)
    if act == "forget":
        set_copy_target(ask.folder.store, None)
    return go("/copies")


def _refused(ask: Ask, field: str, error: Refusal, typed: str = "") -> Response[str]:
    faults = tuple(FieldFault(field=field, words=said) for said in (error.said, *error.more))
    return answer(ask, copies_page(ask, faults=faults, typed=typed), status=422)


def _make_now(ask: Ask) -> Response[str]:
    status = copy_status(ask.folder.store)
    place = status.target.path if status.target is not None else _place_of_last(status)
    if not place:
        return _refused(ask, "place", Refusal(message(N_("Choose a place for copies first."))))
    return _copied(ask, Path(place), KEPT_COPIES if status.target is None else status.target.keep)


def _copied(ask: Ask, place: Path, keep: int) -> Response[str]:
    try:
        made = make_copy(ask.folder.path, place, utc_ms=ask.folder.clock(), keep=keep)
    except Refusal as error:
        return _refused(ask, "place", error, str(place))
    said = message(
        N_("Copied and read back: {files} files, {kb} kB, all match."),
        files=made.files,
        kb=made.total_bytes // 1000,
    )
    return answer(ask, copies_page(ask, done=(said, *made.remarks)))


def _check(ask: Ask) -> Response[str]:
    """Read one copy back, file by file, and say what was found."""
    name = ask.form.text("name")
    status = copy_status(ask.folder.store)
    place = status.target.path if status.target is not None else _place_of_last(status)
    if not place or "/" in name or "\\" in name or not name.startswith("copy-"):
        return _refused(ask, "place", Refusal(message(N_("There is no such copy."))))
    try:
        found = check_copy(Path(place) / name)
    except Refusal as error:
        return _refused(ask, "place", error)
    said = message(
        N_("{name} was read back just now: {files} files and {events} entries, all match."),
        name=name,
        files=len(found.files),
        events=found.facts.head.size,
    )
    return answer(ask, copies_page(ask, done=(said,)))


def _choose(ask: Ask, request: Request[Any, Any, Any]) -> Response[str]:
    """Set the place for a copy at each change; the first copy is made there now, or nothing is set."""
    typed, keep_typed = ask.form.text("place"), ask.form.text("keep")
    faults: list[FieldFault] = []
    if not typed or len(typed) > LONGEST_PATH or not Path(typed).is_absolute():
        words = message(N_("Type the whole path of a folder that is there, such as /media/stick."))
        faults.append(FieldFault(field="place", words=words))
    if not keep_typed.isascii() or not keep_typed.isdecimal() or not 1 <= int(keep_typed) <= MOST_KEPT:
        words = message(N_("Type how many copies to keep, from 1 to {most}."), most=MOST_KEPT)
        faults.append(FieldFault(field="keep", words=words))
    if faults:
        return answer(ask, copies_page(ask, faults=tuple(faults), typed=typed), status=422)
    place, keep = Path(typed), int(keep_typed)
    answered = _copied(ask, place, keep)
    if answered.status_code != 200:
        return answered
    target: CopyTarget = copy_place(
        ask.folder.path, place, keep=keep, packets=ask.form.text("packets") == "yes"
    )
    set_copy_target(ask.folder.store, target)
    request.app.state.keeper.poke()
    said = message(N_("From now on a copy goes to {place} at each change."), place=target.path)
    return answer(ask, copies_page(ask, done=(said,)))
