"""Change something: type or scan what it is about, choose what comes in its place."""

from __future__ import annotations

from typing import Any, ClassVar
from urllib.parse import quote

from litestar import Request, Response, get
from litestar.params import FromPath

from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.reconcile.changed.candidates import Candidate, candidates
from pollstead.reconcile.changed.find import Hit, Thing, find
from pollstead.reconcile.changed.stand_ins import StandIn, stand_ins
from pollstead.reconcile.changed.terms import Act
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.pages.change_fields import FieldOf, fields_of_act, shown_old
from pollstead.show.web.pages.change_review import ground_here, trouble_of
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.work.changing_kept import open_intent
from pollstead.work.changing_seals import closure_named, next_numbers
from pollstead.work.county_folder import Refused

ACT_OF = {
    Thing.DEVICE: Act.SWAP_DEVICE,
    Thing.CLOSURE: Act.RESEAL,
    Thing.PERSON: Act.REPLACE_PERSON,
    Thing.SITE: Act.MOVE_SITE,
}
ACT_WORDS = {
    Act.SWAP_DEVICE: N_("Swap this device"),
    Act.RESEAL: N_("Re-seal this closure"),
    Act.REPLACE_PERSON: N_("Replace this person"),
    Act.MOVE_SITE: N_("Move this site, or change its hours"),
    Act.ADD_STOCK: N_("Add seals to the stock"),
}
TITLES = {
    Act.SWAP_DEVICE: N_("Which device takes its place?"),
    Act.RESEAL: N_("Which seal is on it now?"),
    Act.REPLACE_PERSON: N_("Who takes over?"),
    Act.MOVE_SITE: N_("Where and when from now on?"),
    Act.ADD_STOCK: N_("Which seals came in?"),
}
BY_NAME = {act.value.replace("_", "-"): act for act in TITLES}


class HitRow(Value, frozen=True, kw_only=True):
    """One thing found, and the address of the act that it asks for."""

    hit: Hit
    link: str
    words: str


class ChangePage(Page, frozen=True, kw_only=True):
    """Where a change begins: one field, and what was found by it."""

    template: ClassVar[str] = "change.html"

    typed: str
    hits: tuple[HitRow, ...]
    waiting: bool
    stock_link: str


class ActPage(Page, frozen=True, kw_only=True):
    """One act: what it is about, who or what could come in its place, what else is to be said."""

    template: ClassVar[str] = "change_act.html"

    act: str
    old: str
    about: str
    devices: tuple[Candidate, ...]
    people: tuple[StandIn, ...]
    numbers: tuple[str, ...]
    fields: tuple[FieldOf, ...]
    phones: bool


def link_of(act: Act, old: str) -> str:
    """The address where an act about one thing begins."""
    return f"/change/{act.value.replace('_', '-')}?old={quote(old, safe='')}"


def change_page(ask: Ask, typed: str) -> ChangePage:
    """The page with what was found."""
    election = ask.folder.election()
    hits: tuple[Hit, ...] = ()
    if election is not None and typed:
        hits = find(election, ask.folder.current(), typed, seals=ask.may(Capability.SEE_EXPECTED))
    return ChangePage(
        **ask.frame(N_("What changes?")),
        typed=typed,
        hits=tuple(
            HitRow(hit=hit, link=link_of(ACT_OF[hit.thing], hit.id), words=ACT_WORDS[ACT_OF[hit.thing]])
            for hit in hits
        ),
        waiting=open_intent(ask.folder.store) is not None,
        stock_link="/change/add-stock",
    )


@get("/change")
@in_thread
def change(request: Request[Any, Any, Any]) -> Response[Any]:
    """Type or scan; what is meant beyond doubt leads on at once."""
    ask = Ask(request)
    page = change_page(ask, ask.query.get("q", "")[:200].strip())
    exact = [row for row in page.hits if row.hit.exact]
    if len(exact) == 1:
        return go(exact[0].link)
    return answer(ask, page)


def act_named(name: str) -> Act:
    """The act of an address; raises Trouble for a word that names none."""
    if name not in BY_NAME:
        raise Trouble(404, N_("There is no such change."), N_("Begin with what changes."), "/change")
    return BY_NAME[name]


@get("/change/{act:str}")
@in_thread
def change_act(request: Request[Any, Any, Any], act: FromPath[str]) -> Response[str]:
    """One act about one thing."""
    ask = Ask(request)
    return answer(ask, act_page(ask, act_named(act), ask.query.get("old", "")[:200]))


def act_page(ask: Ask, act: Act, old: str) -> ActPage:
    """The page of an act, with its candidates ranked."""
    ground = ground_here(ask)
    devices: tuple[Candidate, ...] = ()
    people: tuple[StandIn, ...] = ()
    numbers: tuple[str, ...] = ()
    try:
        if act is Act.SWAP_DEVICE and ground.plan is not None:
            devices = candidates(
                ground.election, ground.plan, old, contradicted=ground.contradicted, tested=ground.tested
            )
        elif act is Act.REPLACE_PERSON:
            people = stand_ins(ground.election, old)
        elif act is Act.RESEAL:
            numbers = next_numbers(ground, closure_named(ground, old)[0].seal_kind)
        about = shown_old(ground, act, old)
    except (ValueError, Refused) as error:
        raise trouble_of(error) from error
    return ActPage(
        **ask.frame(TITLES[act]),
        act=act.value.replace("_", "-"),
        old=old,
        about=about,
        devices=devices,
        people=people,
        numbers=numbers if ask.may(Capability.SEE_EXPECTED) else (),
        fields=fields_of_act(ground, act, old),
        phones=ask.may(Capability.SEE_PHONES),
    )
