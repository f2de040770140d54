"""All that a change brings, before anything is done: old beside new, sheets, calls; then do it by name."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

from litestar import Request, Response, get, post
from litestar.params import FromPath

from pollstead.election.notice import Notice
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.intake.fact_edits import Edit
from pollstead.intake.fact_writing import NotTaken
from pollstead.plan.terms.part import NoWatch
from pollstead.plan.terms.version import CARRIED_OVER
from pollstead.reconcile.changed.terms import Act, Consequence, ItemChange, NewSheet, VoidSheet
from pollstead.reconcile.opening.labels import station_label
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.letters import letters_without_font
from pollstead.show.packet.changed_printer import PacketPrinter
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.pages.site import has_opened
from pollstead.show.web.seen_cells import may_see
from pollstead.show.web.typed import Wrong
from pollstead.work.changing import Proposal, Ready, ground_of, propose, ready_for
from pollstead.work.changing_steps import begin
from pollstead.work.changing_terms import Asked, Ground
from pollstead.work.county_folder import Refused
from pollstead.work.kinds import ChangeArguments
from pollstead.work.line import ask_for

if TYPE_CHECKING:
    from pollstead.work.foreman import Foreman

ACTS = {act.value.replace("_", "-"): act for act in Act}
NOT_SAID = frozenset(("old", "new", "reason", "second", "basis"))
LONGEST_REASON = 500


class ItemRow(Value, frozen=True, kw_only=True):
    """One expected thing, old beside new; None where this role may not see the number yet."""

    station: str
    words: str
    before: str | None
    after: str | None


class CallRow(Value, frozen=True, kw_only=True):
    """One call; the phone is empty where this role may not see it or none is told."""

    name: str
    own_name: bool
    phone: str
    roles: tuple[Message, ...]
    why: tuple[Message, ...]


class ReviewPage(Page, frozen=True, kw_only=True):
    """One change before it is done."""

    template: ClassVar[str] = "change_review.html"

    words: Message
    warnings: tuple[Message, ...]
    said: tuple[tuple[str, str], ...]
    edits: tuple[Edit, ...]
    left_out: int
    items: tuple[ItemRow, ...]
    hidden: bool
    void: tuple[VoidSheet, ...]
    prints: tuple[NewSheet, ...]
    good: int
    calls: tuple[CallRow, ...]
    notices: tuple[Notice, ...]
    second: bool
    people: tuple[tuple[str, str], ...]
    approve: bool
    basis: str
    reason: str
    faults: tuple[Wrong, ...]
    cautions: tuple[Caution, ...]
    phones: bool
    ask_time: bool


def ground_here(ask: Ask) -> Ground:
    """What acts are drawn up on in this folder; raises Trouble where its tables cannot be read."""
    try:
        return ground_of(ask.folder.path, ask.folder.store, ask.folder.clock())[0]
    except (NotTaken, Refused) as error:
        raise trouble_of(error) from error


def trouble_of(error: Exception) -> Trouble:
    """Why a change cannot be made, as a page says it."""
    if isinstance(error, Refused):
        params = {p.name: p.value for p in error.said.params}
        return Trouble(409, error.said.template, N_("Begin again with what changes."), "/change", **params)
    if isinstance(error, NotTaken):
        words = error.faults[0].text if error.faults else message(N_("A table cannot be read."))
        params = {p.name: p.value for p in words.params}
        return Trouble(409, words.template, N_("See what is open about the tables."), "/open", **params)
    return Trouble(404, N_("There is no such thing here."), N_("Begin again with what changes."), "/change")


def asked_of(act: Act, fields: dict[str, str]) -> Asked:
    """The act with what was said about it."""
    said = tuple(
        (name[:40], value[:200]) for name, value in sorted(fields.items()) if value and name not in NOT_SAID
    )
    reason = fields.get("reason", "")[:LONGEST_REASON]
    return Asked(
        act=act,
        old=fields.get("old", "")[:200],
        new=fields.get("new", "")[:200],
        said=(*said, ("reason", reason)) if reason else said,
    )


def proposal_of(ask: Ask, asked: Asked) -> Proposal:
    """All that the act brings; raises Trouble where it cannot be done."""
    try:
        return propose(
            ask.folder.path,
            ask.folder.store,
            asked,
            PacketPrinter(),
            now_ms=ask.folder.clock(),
            watch=NoWatch(),
            also_told=letters_without_font,
        )
    except (NotTaken, Refused) as error:
        raise trouble_of(error) from error


def item_rows(ask: Ask, found: Consequence) -> tuple[ItemRow, ...]:
    """The expected things that read otherwise now."""
    election = ask.folder.election()
    show = ask.may(Capability.SEE_EXPECTED)

    def value(text: str | None) -> str | None:
        return text if show and text != CARRIED_OVER else None

    def row(item: ItemChange) -> ItemRow:
        label = station_label(item.station, election) if election is not None else item.station
        return ItemRow(
            station=label, words=item.words, before=value(item.before or ""), after=value(item.after or "")
        )

    rows = [row(i) for day in found.site_days for i in day.items if i.before != i.after]
    return tuple(dict.fromkeys(rows))


def call_rows(ask: Ask, found: Consequence) -> tuple[CallRow, ...]:
    """Whom to call; phones, and numbers that are read independently, only where this role may see them."""
    phones, change = ask.may(Capability.SEE_PHONES), found.change
    told = change.words if ask.may(Capability.SEE_EXPECTED) else change.site_words
    return tuple(
        CallRow(
            name=call.name,
            own_name=bool(call.person),
            phone=call.phone if phones else "",
            roles=call.roles,
            why=tuple(told if words == change.words else words for words in call.why),
        )
        for call in found.calls
    )


def review_page(ask: Ask, asked: Asked, proposal: Proposal, faults: tuple[Wrong, ...] = ()) -> ReviewPage:
    """The page of one change before it is done."""
    found = proposal.consequence
    show = ask.may(Capability.SEE_EXPECTED)
    said = tuple((name, value) for name, value in asked.said if name != "reason")
    edits = tuple(e for e in proposal.edits if e.column != "reason" or asked.text("reason"))
    seen = tuple(e for e in edits if may_see(ask.may, e.table, e.column))
    return ReviewPage(
        **ask.frame(N_("What follows from this change?")),
        words=proposal.drafted.change.words,
        warnings=_warnings(ask, asked, proposal),
        said=(("old", asked.old), ("new", asked.new), *said),
        edits=seen,
        left_out=len(edits) - len(seen),
        items=item_rows(ask, found),
        hidden=not show,
        void=found.void,
        prints=found.prints,
        good=len(found.good),
        calls=call_rows(ask, found),
        notices=proposal.notices,
        second=proposal.drafted.second_person,
        people=tuple(sorted((p.name, p.id) for p in ask.folder.people() if p.name)),
        approve=proposal.approved,
        basis=basis_of(proposal),
        reason=asked.text("reason"),
        faults=faults,
        cautions=for_place(Place.CHANGE_PAGE),
        phones=ask.may(Capability.SEE_PHONES),
        ask_time=asked.act is Act.SWAP_DEVICE and not asked.text("at") and _opened(ask, found),
    )


def _warnings(ask: Ask, asked: Asked, proposal: Proposal) -> tuple[Message, ...]:
    drafted = proposal.drafted
    if ask.may(Capability.SEE_PARTY):
        return (*drafted.warnings, *drafted.party_warnings)
    if asked.act is Act.REPLACE_PERSON:
        # The same words whatever the parties are: they tell nothing of them.
        words = message(N_("Your role does not see parties: ask the coordinator whether these two fit."))
        return (*drafted.warnings, words)
    return drafted.warnings


def _opened(ask: Ask, found: Consequence) -> bool:
    """Whether the doors of the site of the change have opened: then the old device has counted ballots."""
    election = ask.folder.election()
    sites = () if election is None else election.sites
    return any(s.id == found.change.sites[0] and has_opened(ask.folder, s) for s in sites)


def basis_of(proposal: Ready) -> str:
    """The facts and the plan that a change was looked at on: it is done on no others."""
    return f"{proposal.facts_before}-{proposal.before}"


def act_of(name: str) -> Act:
    """The act of an address; raises Trouble for a word that names none."""
    if name not in ACTS:
        raise Trouble(404, N_("There is no such change."), N_("Begin with what changes."), "/change")
    return ACTS[name]


@get("/change/{act:str}/review")
@in_thread
def review(request: Request[Any, Any, Any], act: FromPath[str]) -> Response[str]:
    """Everything that follows; nothing is done."""
    ask = Ask(request)
    asked = asked_of(act_of(act), {name: str(value) for name, value in ask.query.items()})
    return answer(ask, review_page(ask, asked, proposal_of(ask, asked)))


@post("/change/{act:str}/review")
@in_thread
def do_change(request: Request[Any, Any, Any], act: FromPath[str]) -> Response[Any]:
    """Begin the change by name; a job carries it out, so that a closed browser stops nothing."""
    ask = Ask(request)
    asked = asked_of(act_of(act), dict(ask.form))
    try:
        proposal = ready_for(ask.folder.path, ask.folder.store, asked, now_ms=ask.folder.clock())
    except (NotTaken, Refused) as error:
        raise trouble_of(error) from error
    reason, second = ask.form.text("reason"), ask.form.text("second")
    faults = []
    if not reason:
        words = message(N_("Say in a few words why this changes."))
        faults.append(Wrong(field="reason", words=words))
    if proposal.drafted.second_person and not second:
        words = message(N_("Choose the second person who sealed with you."))
        faults.append(Wrong(field="second", words=words))
    if ask.form.text("basis") != basis_of(proposal):
        words = message(N_("The tables or the plan changed meanwhile: look at what follows now, then do it."))
        faults.append(Wrong(field="do", words=words))
    if faults:
        return answer(ask, review_page(ask, asked, proposal_of(ask, asked), tuple(faults)), status=422)
    who = ask.person()
    try:
        begin(
            ask.folder.desk(who, second),
            proposal,
            by=who.person,
            second=second,
            reason=reason,
            moment=ask.folder.moment(),
        )
    except Refused as error:
        raise trouble_of(error) from error
    line_up(request, ask)
    return go("/changes/now")


def line_up(request: Request[Any, Any, Any], ask: Ask) -> None:
    """Ask for the job that carries out what was begun."""
    ask_for(ask.folder.store, "change", ChangeArguments(), by=ask.person().person, utc_ms=ask.folder.clock())
    foreman: Foreman = request.app.state.foreman
    foreman.poke()
