"""Which reports over the test decks matched: devices by site, decks by ballot style, the chart."""

from __future__ import annotations

from typing import Any, ClassVar

from litestar import Request, Response, get

from pollstead.election.county import Election
from pollstead.election.values import Value
from pollstead.election.words import N_, Message
from pollstead.plan.terms.decks import DeckSet
from pollstead.plan.terms.version import PlanVersion
from pollstead.reconcile.decks.runs import DeckBook, DeckState, DeviceDecks
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.deck_words import STATE_WORDS, mistake_words
from pollstead.show.packet.deck_chart import deck_chart, deck_chart_pdf
from pollstead.show.packet.setting import PrintFailed
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, in_thread
from pollstead.work.decks import decks_of, judged_of


class DeckRow(Value, frozen=True, kw_only=True):
    """One deck: its ballots, the fewest that any deck needs, why so many, what it would not show."""

    key: str
    contests: int
    ballots: int
    fewest: int
    why: Message
    unseen: tuple[Message, ...]


class DeviceRow(Value, frozen=True, kw_only=True):
    """One counting device and how it stands; `utc_ms` is the moment of its last comparison."""

    device: str
    serial: str
    site: str
    site_name: str
    decks: tuple[str, ...]
    shape: str
    words: str
    comparisons: int
    utc_ms: int | None


class DecksPage(Page, frozen=True, kw_only=True):
    """Devices and decks."""

    template: ClassVar[str] = "decks.html"

    zone: str
    decks: tuple[DeckRow, ...]
    ballots: int
    tried: int
    devices: tuple[DeviceRow, ...]
    open_devices: int
    planned: bool
    may_print: bool
    cautions: tuple[Caution, ...]


def facts_now(ask: Ask) -> tuple[Election, PlanVersion | None, DeckSet]:
    """Facts, plan and decks as they are now; raises Trouble where there are no facts."""
    election = ask.folder.tables_election()
    if election is None:
        raise Trouble(
            409,
            N_("The county's tables cannot be read."),
            N_("Look at what is open, correct it, then come back."),
            "/open",
        )
    return election, ask.folder.current(), decks_of(election).decks


def devices_now(ask: Ask) -> tuple[Election, DeckSet, tuple[DeviceDecks, ...]]:
    """Every counting device at a site of the plan, with how it stands."""
    election, plan, decks = facts_now(ask)
    if plan is None:
        return election, decks, ()
    book = DeckBook(election, decks, ask.folder.fold())
    return election, decks, tuple(device for site in plan.sites for device in book.of_site(site))


def decks_page(ask: Ask) -> DecksPage:
    """The page as things stand."""
    election, decks, devices = devices_now(ask)
    reasons = {one.subject.partition("/")[2]: one.text for one in decks_of(election).reasons}
    judged = judged_of(decks)
    names = {site.id: site.name for site in election.sites}
    return DecksPage(
        **ask.frame(N_("Which reports over the test decks matched?")),
        zone=election.zone_name,
        decks=tuple(
            DeckRow(
                key=face.key,
                contests=len(face.contests),
                ballots=len(deck.ballots),
                fewest=deck.bound,
                why=reasons[face.key],
                unseen=tuple(mistake_words(decks, one) for one in found.unseen),
            )
            for face, deck, found in zip(decks.faces, decks.decks, judged, strict=True)
        ),
        ballots=decks.ballots,
        tried=sum(one.tried for one in judged),
        devices=tuple(_row(one, names) for one in devices),
        open_devices=sum(one.state is not DeckState.MATCHED for one in devices),
        planned=bool(devices),
        may_print=ask.may(Capability.SEE_EXPECTED),
        cautions=for_place(Place.DECKS),
    )


def _row(one: DeviceDecks, names: dict[str, str]) -> DeviceRow:
    shape, words = STATE_WORDS[one.state]
    return DeviceRow(
        device=one.device,
        serial=one.serial,
        site=one.site,
        site_name=names.get(one.site, ""),
        decks=one.wanted,
        shape=shape,
        words=words,
        comparisons=len(one.runs),
        utc_ms=one.last.utc_ms if one.last is not None else None,
    )


@get("/decks")
@in_thread
def decks(request: Request[Any, Any, Any]) -> Response[str]:
    """Devices and decks."""
    ask = Ask(request)
    return answer(ask, decks_page(ask))


@get("/decks/paper")
@in_thread
def decks_paper(request: Request[Any, Any, Any]) -> Response[bytes]:
    """The chart of one deck, of those of a site, or of all."""
    ask = Ask(request)
    election, _, made = facts_now(ask)
    wanted = tuple(filter(None, str(ask.query.get("decks") or "").split(",")))
    chosen = made.only(wanted) if wanted else made
    if not chosen.faces:
        raise Trouble(404, N_("There is no such deck."), N_("Choose a ballot style from the list."), "/decks")
    chart = deck_chart(election, chosen, ask.folder.clock(), language=ask.language)
    try:
        content = deck_chart_pdf(chart)
    except PrintFailed as error:
        raise Trouble(
            409, N_("{why}"), N_("Correct that, then print again."), "/decks", why=str(error)
        ) from error
    return Response(
        content=content,
        media_type="application/pdf",
        headers={"content-disposition": 'inline; filename="test-decks.pdf"'},
    )
