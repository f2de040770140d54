"""Other people take over at the scan station: two badges, one, or names; and badges to print."""

from __future__ import annotations

from typing import Any, ClassVar, Final
from urllib.parse import urlencode

from litestar import Request, Response, get, post

from pollstead.election.label_stock import COMMON
from pollstead.election.words import N_
from pollstead.record.event import Means
from pollstead.show.commands import Command, command_of
from pollstead.show.packet.labels import BADGE_STOCK, badge_labels, label_job, labels_pdf
from pollstead.show.packet.setting import PrintFailed
from pollstead.show.packet.wording import Say
from pollstead.show.web.badges import DID, after_badge, is_badge, person_of_badge, signed_in
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread, own_address
from pollstead.show.web.who import Who

HERE: Final = "/scan/pair"
BADGES: Final = "/scan/badges"
NOT_A_BADGE: Final = ("ring", N_("This is no badge. Scan a badge, or the card Next to go on."))


class PairPage(Page, frozen=True, kw_only=True):
    """Who takes over: the badge that is waited for, and what was scanned last."""

    template: ClassVar[str] = "scan_pair.html"

    step: str
    next: str
    first: str
    shape: str
    words: str


def pair_link(back: str) -> str:
    """The address where other people take over, and come back to `back`."""
    return f"{HERE}?{urlencode({'next': own_address(back)})}"


def pair_page(ask: Ask, step: str, back: str, did: tuple[str, str] | None = None) -> PairPage:
    """The page while it waits for the badge of `step`."""
    second = step == "second"
    shape, words = did or (
        ("half", N_("Now the badge of the second person"))
        if second
        else ("ring", N_("Scan the badge of the first person"))
    )
    return PairPage(
        **ask.frame(N_("Who takes over?")),
        step="second" if second else "first",
        next=back,
        first=ask.folder.person_name(ask.person().person) if second else "",
        shape=shape,
        words=words,
    )


@get(HERE)
@in_thread
def pair(request: Request[Any, Any, Any]) -> Response[str]:
    """Wait for a badge."""
    ask = Ask(request)
    back = own_address(ask.query.get("next", "/scan"))
    return answer(ask, pair_page(ask, ask.query.get("step", ""), back))


@post(HERE)
@in_thread
def take_pair(request: Request[Any, Any, Any]) -> Response[Any]:
    """Take a badge; the second one leads back. A page without a step goes by the order of scans."""
    ask = Ask(request)
    back, step, code = (
        own_address(ask.form.text("next") or "/scan"),
        ask.form.text("step"),
        ask.form.text("code"),
    )
    if command_of(code) in (Command.NEXT, Command.STOP):
        return go(back)
    person = person_of_badge(ask, code) if is_badge(code) else ""
    if not person:
        did = DID["badge-none"] if is_badge(code) else NOT_A_BADGE
        return answer(ask, pair_page(ask, step, back, did), 422)
    if step == "first":
        who = Who(person=person, role=ask.person().role, means=Means.CODE)
        return signed_in(go(f"{HERE}?{urlencode({'next': back, 'step': 'second'})}"), who)
    return signed_in(go(back), after_badge(ask.person(), person)[0])


@get(BADGES)
@in_thread
def badges(request: Request[Any, Any, Any]) -> Response[bytes]:
    """The badges of those who belong to no site, ten to a sheet."""
    ask = Ask(request)
    election = ask.folder.tables_election()
    if election is None:
        raise Trouble(
            409, N_("The county's tables cannot be read."), N_("The first page names the faults."), "/"
        )
    say = Say(ask.language)
    stock = next(one for one in COMMON if one.id == BADGE_STOCK)
    found = badge_labels(election, say)
    if not found:
        raise Trouble(
            409,
            N_("Nobody without a site stands in people.csv, so there is no badge to print."),
            N_("Enter the people of the office and the warehouse, then print again."),
            "/scan",
        )
    try:
        content = labels_pdf(label_job(found, stock, election=election, say=say))
    except PrintFailed as error:
        raise Trouble(
            409, N_("{why}"), N_("Correct that, then print again."), "/scan", why=str(error)
        ) from error
    return Response(
        content=content,
        media_type="application/pdf",
        headers={"content-disposition": 'inline; filename="badges.pdf"'},
    )
