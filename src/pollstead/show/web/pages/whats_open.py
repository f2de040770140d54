"""What is open: open items, faults, differences and rules not met, each with a way to decide it."""

from __future__ import annotations

from typing import Any, ClassVar

from litestar import Request, Response, get, post

from pollstead.election.notice import Notice, NoticeKind, by_key
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.reconcile.actions import resolution_of, values_digest
from pollstead.record.event import SUBJECT
from pollstead.record.kinds.offices import NoticeResolved, Words
from pollstead.show.paper_back import odd_sheets
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.day import all_days, days_now, held_back, issued, plan_in_use
from pollstead.show.web.folded import Alike, alike
from pollstead.show.web.likely import Likely
from pollstead.show.web.noticed import Places, Where, likely_by_key
from pollstead.show.web.open_folder import OpenFolder
from pollstead.show.web.pages.entry import TypedValue
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.typed import Wrong
from pollstead.work.calendar_view import calendar_notices, calendar_view, today_in
from pollstead.work.fact_notices import notices_of
from pollstead.work.inventory import inventory_notices
from pollstead.work.stock import stock_notices
from pollstead.work.stock_acts import half_done_notices

KINDS = (
    (NoticeKind.DIFFERENCE, N_("Differences")),
    (NoticeKind.FAULT, N_("Faults")),
    (NoticeKind.RULE_NOT_MET, N_("Rules not met")),
    (NoticeKind.OPEN_ITEM, N_("Open items")),
)
RESOLUTIONS = (
    ("explained", N_("Explained: the reason is known and written down")),
    ("recorded_unexplained", N_("Recorded unexplained: looked into, no reason found")),
    ("accepted", N_("Accepted: it stays as it is, knowingly")),
)


class OpenNotice(Value, frozen=True, kw_only=True):
    """A notice, what was decided about its present values, if anything, and what a number most likely is."""

    notice: Notice
    resolution: str
    where: Where
    likely: tuple[Likely, ...] = ()


class OfKind(Value, frozen=True, kw_only=True):
    """The notices of one kind: those still open first, by rule."""

    words: str
    open: tuple[OpenNotice, ...]
    alike: tuple[Alike[OpenNotice], ...]
    decided: tuple[OpenNotice, ...]


class OpenPage(Page, frozen=True, kw_only=True):
    """Everything that is open."""

    template: ClassVar[str] = "whats_open.html"

    kinds: tuple[OfKind, ...]
    open: int
    site: str
    site_name: str
    may_resolve: bool


class ResolvePage(Page, frozen=True, kw_only=True):
    """One notice and the form that decides it."""

    template: ClassVar[str] = "resolve.html"

    notice: Notice
    digest: str
    resolution: str
    where: Where
    likely: tuple[Likely, ...]
    choices: tuple[tuple[str, str], ...]
    typed: tuple[TypedValue, ...]
    faults: tuple[Wrong, ...]


def all_notices(folder: OpenFolder, *, see_expected: bool) -> tuple[Notice, ...]:
    """Every notice there is: of the plan or tables, of the record, of each operating day.

    Without `see_expected`, differences that name a number which a second person has still to read are
    left out.
    """
    if not folder.current_digest():
        return by_key((*folder.tables_notices(), *of_calendar(folder), *of_facts(folder), *of_stock(folder)))
    election, version, _ = plan_in_use(folder)
    found = [*version.notices, *folder.fold().notices, *issued(folder).notices, *of_calendar(folder)]
    found += [*of_facts(folder), *of_stock(folder), *odd_sheets(folder.store, folder.fold())]
    days = days_now(folder)
    for date in all_days(version, election):
        report = days.report(date)
        hidden = set() if see_expected else {key for site in report.sites for key in held_back(site)}
        found += [notice for notice in report.notices if notice.key not in hidden]
    return by_key(tuple(found))


def of_facts(folder: OpenFolder) -> tuple[Notice, ...]:
    """The changes of facts that are recorded and not in the tables."""
    return notices_of(folder.changes_of_facts())


def of_stock(folder: OpenFolder) -> tuple[Notice, ...]:
    """What does not add up in seal stock and inventory, without seal numbers, and acts stopped halfway."""
    election = folder.tables_election()
    if election is None:
        return ()
    half = folder.half_done()
    return (
        *stock_notices(election, folder.current(), folder.fold()),
        *half_done_notices(half),
        *inventory_notices(folder.fold(), election),
    )


def of_calendar(folder: OpenFolder) -> tuple[Notice, ...]:
    """What the calendar has to say today, by the tables as they are now."""
    election = folder.tables_election()
    if election is None or not election.tasks:
        return ()
    view = calendar_view(election, folder.fold(), today_in(election, folder.clock()))
    return calendar_notices(election, view)


def open_page(ask: Ask) -> OpenPage:
    """The page, for one site where the address names it."""
    site = ask.query.get("site", "")
    places = Places(ask)
    notices = [(n, places.of(n)) for n in notices_for(ask)]
    folded = ask.folder.fold()
    likely = likely_by_key(ask)
    rows = [
        OpenNotice(notice=n, resolution=resolution_of(n, folded), where=at, likely=likely.get(n.key, ()))
        for n, at in notices
        if site in ("", at.site)
    ]
    kinds = tuple(of_kind(words, tuple(r for r in rows if r.notice.kind is kind)) for kind, words in KINDS)
    election = ask.folder.election()
    named = next(
        (s.name for s in (election.sites if election else ()) if s.id.removeprefix("site/") == site), ""
    )
    return OpenPage(
        **ask.frame(N_("What is open?")),
        kinds=tuple(kind for kind in kinds if kind.open or kind.decided),
        open=sum(len(kind.open) for kind in kinds),
        site=site,
        site_name=named,
        may_resolve=ask.may(Capability.RESOLVE),
    )


def of_kind(words: str, rows: tuple[OpenNotice, ...]) -> OfKind:
    """The notices of one kind; of many by one rule, most are folded."""
    still = tuple(r for r in rows if not r.resolution)
    return OfKind(
        words=words,
        open=still,
        alike=alike(still, lambda row: row.notice.rule),
        decided=tuple(r for r in rows if r.resolution),
    )


def notices_for(ask: Ask) -> tuple[Notice, ...]:
    """The notices that this person may see."""
    return all_notices(ask.folder, see_expected=ask.may(Capability.SEE_EXPECTED))


def find_notice(ask: Ask, key: str) -> Notice:
    """The notice of a key; raises Trouble where there is none now."""
    found = next((n for n in notices_for(ask) if n.key == key), None)
    if found is None:
        raise Trouble(
            404,
            N_("There is no such notice now; its values may have changed."),
            N_("This page has every one."),
            "/open",
        )
    return found


def resolve_page(ask: Ask, notice: Notice, faults: tuple[Wrong, ...] = ()) -> ResolvePage:
    """The form; with `faults`, what was typed is kept."""
    return ResolvePage(
        **ask.frame(N_("What was decided about this?")),
        notice=notice,
        digest=values_digest(notice),
        resolution=resolution_of(notice, ask.folder.fold()),
        where=Places(ask).of(notice),
        likely=likely_by_key(ask).get(notice.key, ()),
        choices=RESOLUTIONS,
        typed=tuple(TypedValue(field=f, value=ask.form.text(f)) for f in ("resolution", "words"))
        if faults
        else (),
        faults=faults,
    )


@get("/open")
@in_thread
def whats_open(request: Request[Any, Any, Any]) -> Response[str]:
    """The page of everything that is open."""
    ask = Ask(request)
    return answer(ask, open_page(ask))


@get("/open/resolve")
@in_thread
def resolve_form(request: Request[Any, Any, Any]) -> Response[str]:
    """The form for one notice."""
    ask = Ask(request)
    return answer(ask, resolve_page(ask, find_notice(ask, ask.query.get("key", ""))))


@post("/open/resolve")
@in_thread
def resolve(request: Request[Any, Any, Any]) -> Response[Any]:
    """Record a decision about the values that the person saw."""
    ask = Ask(request)
    notice = find_notice(ask, ask.form.text("key"))
    if ask.form.text("digest") != values_digest(notice):
        raise Trouble(
            409,
            N_("The values changed since this page was made."),
            N_("Nothing was recorded. Look at the notice again, then decide."),
            "/open",
        )
    resolution, words = ask.form.text("resolution"), ask.form.text("words")
    faults = []
    if resolution not in {choice for choice, _ in RESOLUTIONS}:
        faults.append(Wrong(field="resolution-first", words=message(N_("Choose what was decided."))))
    if not words:
        faults.append(Wrong(field="words", words=message(N_("Say in a few words why."))))
    if faults:
        return answer(ask, resolve_page(ask, notice, tuple(faults)), status=422)
    subject = notice.subject if SUBJECT.fullmatch(notice.subject) else "notice"
    fact = ask.folder.fold().find(subject, "notice", notice.day, notice_key=notice.key)
    ask.folder.write(
        NoticeResolved(notice_key=notice.key, digest=values_digest(notice), resolution=resolution),
        who=ask.person(),
        subject=subject,
        day=notice.day,
        after=() if fact is None else tuple(sorted(r.event for r in fact.current)),
        private=Words(words=words),
    )
    return go("/open")
