"""What is still to explain for the canvass? County table, worklist, explanations, versions kept."""

from __future__ import annotations

from typing import Any, ClassVar, Final

from litestar import Request, Response, get

from pollstead.election.county import Person
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.reconcile.counts.canvass_version import (
    DONE,
    WORK_STATES,
    Explanation,
    RowState,
    VersionMachine,
    VersionRow,
    WorkState,
    change_between,
)
from pollstead.reconcile.counts.quantities import ALL_MODES, mode_of
from pollstead.reconcile.counts.uploads import UploadState
from pollstead.show.canvass_words import (
    ROW_MARKS,
    UPLOAD_MARKS,
    change_lines,
    mode_words,
    quantity_words,
    serials_of,
    signed,
)
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.web.canvass_view import Canvass
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.deciders import Deciders, deciders
from pollstead.show.web.open_folder import person_id
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, in_thread
from pollstead.show.web.pages.who_page import FieldFault
from pollstead.show.web.total_view import SiteShown, TotalShown, sites_explained, totals_explained
from pollstead.work.canvass import (
    Frozen,
    notes_of,
    words_of_explanations,
)

MOST_ROWS: Final = 400
SHOWS: Final = (
    ("", N_("all rows")),
    ("differs", N_("rows that differ")),
    ("missing", N_("rows that miss a number")),
)
WORK_MARKS: Final = {
    WorkState.OPEN: "ring",
    WorkState.LOOKING: "half",
    WorkState.WAITING: "half",
    WorkState.EXPLAINED: "square",
    WorkState.RECORDED: "square",
}


class RowShown(Value, frozen=True, kw_only=True):
    """One row of the county table, in the reader's words."""

    item: VersionRow
    what: str
    mark: str
    received: str
    canvass: str
    link: str


class WorkRow(Value, frozen=True, kw_only=True):
    """One row with something to do: who has it, how far it is, what comes next."""

    place: int
    row: RowShown
    mark: str
    state: str
    again: bool
    word: str
    who: str
    who_id: str
    when: int
    note: str
    explained: int
    next: Message
    totals: tuple[TotalShown, ...]
    chosen: str
    sites: tuple[SiteShown, ...]


class MachineRow(Value, frozen=True, kw_only=True):
    """One machine's memory devices."""

    item: VersionMachine
    serial: str
    mark: str
    difference: str


class ExplanationRow(Value, frozen=True, kw_only=True):
    """One saved explanation with its words, where the role sees what people wrote."""

    item: Explanation
    name: str
    person: str
    words: str
    own: str


class VersionLine(Value, frozen=True, kw_only=True):
    """One version that was kept."""

    item: Frozen
    person: str
    said: str
    is_now: bool


class CanvassPage(Page, frozen=True, kw_only=True):
    """The canvass at the office."""

    template: ClassVar[str] = "canvass.html"

    zone: str
    body: str
    digest: str
    rows: tuple[RowShown, ...]
    beyond: int
    all_rows: int
    differ: int
    missing: int
    totals: tuple[RowShown, ...]
    modes: tuple[tuple[str, str], ...]
    mode: str
    quantities: tuple[tuple[str, str], ...]
    quantity: str
    shows: tuple[tuple[str, str], ...]
    show: str
    styles: bool
    work: tuple[WorkRow, ...]
    work_done: int
    sites: tuple[SiteShown, ...]
    deciders: Deciders
    states: tuple[tuple[str, str], ...]
    people: tuple[tuple[str, str], ...]
    machines: tuple[MachineRow, ...]
    odd: int
    strangers: tuple[tuple[str, int], ...]
    explanations: tuple[ExplanationRow, ...]
    versions: tuple[VersionLine, ...]
    changed: int
    may_write: bool
    reason: str
    done: str
    faults: tuple[FieldFault, ...]
    cautions: tuple[Caution, ...]


def row_shown(ask: Ask, row: VersionRow) -> RowShown:
    """One row in the reader's words."""
    say = ask.speak.plain
    what = (quantity_words(row.quantity, say), mode_words(row.mode, say), row.style)
    return RowShown(
        item=row,
        what=", ".join(filter(None, what)),
        mark=ROW_MARKS[row.state],
        received=signed(row.received_difference),
        canvass=signed(row.canvass_difference),
        link=f"/site/{row.site}/closing" if row.site else "",
    )


def canvass_page(ask: Ask, found: Canvass, faults: tuple[FieldFault, ...] = ()) -> CanvassPage:
    """The page; what was typed is kept with `faults`."""
    version, say = found.version, ask.speak.plain
    query = ask.query
    mode, quantity, show = (query.get(name, "") for name in ("mode", "quantity", "show"))
    styles = query.get("styles", "") == "yes"
    rows = [
        row
        for row in version.by_difference()
        if (not mode or row.mode == mode)
        and (not quantity or row.quantity == quantity)
        and (styles or not row.style)
        and (show != "differs" or row.state in (RowState.DIFFERENCE, RowState.TWO_VALUES))
        and (show != "missing" or row.state is RowState.NOT_READ)
    ]
    people = found.ask.may(Capability.SEE_PEOPLE)
    last = found.kept[0] if found.kept else None
    worklist = version.worklist()
    shown = worklist[:MOST_ROWS]
    totals = totals_explained(found.table, found.election)
    sites = sites_explained(found.days, found.dates)
    setting = found.election.rules.text("canvassing-body")
    return CanvassPage(
        **ask.frame(N_("What is still to explain for the canvass?")),
        zone=found.election.zone_name,
        body=say(setting),
        digest=version.digest,
        rows=tuple(row_shown(ask, row) for row in rows[:MOST_ROWS]),
        beyond=max(0, len(rows) - MOST_ROWS),
        all_rows=len(version.rows),
        differ=sum(row.state in (RowState.DIFFERENCE, RowState.TWO_VALUES) for row in version.rows),
        missing=sum(row.state is RowState.NOT_READ for row in version.rows),
        totals=tuple(row_shown(ask, row) for row in version.totals if styles or not row.style),
        modes=_used(say, {row.mode for row in version.rows}, mode_words),
        mode=mode,
        quantities=_used(say, {row.quantity for row in version.rows}, quantity_words),
        quantity=quantity,
        shows=tuple((key, say(words)) for key, words in SHOWS),
        show=show,
        styles=styles,
        work=tuple(
            _work(ask, found, place, row, totals.get(row.key, ()), sites) for place, row in enumerate(shown)
        ),
        sites=sites,
        deciders=deciders(found.election.rules),
        work_done=sum(version.state_of(row) in DONE for row in worklist),
        states=tuple((word, say(state.value)) for word, state in WORK_STATES.items()),
        people=_people(found.election.people) if people else (),
        machines=_machines(found),
        odd=sum(one.state is not UploadState.ONCE or bool(one.difference) for one in version.machines),
        strangers=version.strangers,
        explanations=_explanations(found),
        versions=tuple(
            VersionLine(
                item=one,
                person=found.name_of(one.person),
                said=one.said if people else "",
                is_now=one.digest == found.now.digest,
            )
            for one in found.kept
        ),
        changed=_changed(found, last),
        may_write=ask.may(Capability.CANVASS),
        reason=ask.form.text("reason"),
        done=query.get("done", "") if not faults else "",
        faults=faults,
        cautions=for_place(Place.CANVASS),
    )


def _used(say: Any, words: set[str], shown: Any) -> tuple[tuple[str, str], ...]:
    return (("", say(N_("all"))), *((own, shown(own, say)) for own in sorted(words)))


def _people(people: tuple[Person, ...]) -> tuple[tuple[str, str], ...]:
    return tuple((person_id(one), one.name) for one in people if not one.site and one.name)


def _changed(found: Canvass, last: Frozen | None) -> int:
    """How many rows changed since the last version; -1 where there is none to compare with."""
    if last is None or last.digest == found.now.digest:
        return -1
    try:
        return len(change_between(found.load(last.digest), found.now).rows)
    except Trouble:
        return -1


def _work(
    ask: Ask,
    found: Canvass,
    place: int,
    row: VersionRow,
    totals: tuple[TotalShown, ...],
    sites: tuple[SiteShown, ...],
) -> WorkRow:
    version = found.version
    work = version.work_on(row)
    state = version.state_of(row)
    explained = sum(one.stands and one.site == row.site for one in version.explanations)
    word = next(key for key, value in WORK_STATES.items() if value is state)
    sees = ask.may(Capability.SEE_PEOPLE)
    here = tuple(
        one
        for one in sites
        if one.site == row.site and row.mode in (mode_of(one.day, found.election.election_day), ALL_MODES)
    )
    return WorkRow(
        place=place,
        row=row_shown(ask, row),
        mark=WORK_MARKS[state],
        state=state.value,
        again=work is not None and work.state in DONE and state is WorkState.OPEN,
        word=ask.form.text("state") if ask.form.text("row") == row.key else word,
        who=found.name_of(work.who) if work is not None else "",
        who_id=work.who if work is not None else "",
        when=work.utc_ms if work is not None else 0,
        note=notes_of(found.folded).get(row.key, "") if sees else "",
        explained=explained,
        next=_next(row, state, totals, here),
        totals=totals,
        chosen=ask.form.text("explanation") if ask.form.text("row") == row.key else "",
        sites=here,
    )


def _next(
    row: VersionRow, state: WorkState, totals: tuple[TotalShown, ...], sites: tuple[SiteShown, ...]
) -> Message:
    """What comes next: the look that settles most for least. No container is opened for it.

    A site whose own numbers differ comes first: they are what the totals are compared with.
    """
    if state in DONE:
        return message(N_("Nothing, unless a number changes."))
    if row.state is RowState.TWO_VALUES:
        return message(N_("Two people read it again together, and correct one."))
    acts = [one.act for one in sites if one.act is not None]
    looks = [one.looks[0].words for one in totals if one.looks]
    return next(iter((*acts, *looks)), message(N_("Read both numbers again where they stand.")))


def _machines(found: Canvass) -> tuple[MachineRow, ...]:
    serials = serials_of(found.election)
    shown = [
        MachineRow(
            item=one,
            serial=serials.get(one.device, one.device),
            mark="diamond" if one.difference else UPLOAD_MARKS[one.state],
            difference=signed(one.difference),
        )
        for one in found.version.machines
    ]
    order = (UploadState.TWICE, UploadState.NOT_YET, UploadState.ONCE)
    return tuple(sorted(shown, key=lambda row: (not row.item.difference, order.index(row.item.state))))


def _explanations(found: Canvass) -> tuple[ExplanationRow, ...]:
    words = words_of_explanations(found.folded) if found.ask.may(Capability.SEE_PEOPLE) else {}
    names = {site.id: site.name for site in found.election.sites}
    return tuple(
        ExplanationRow(
            item=one,
            name=names.get(one.site, ""),
            person=found.name_of(one.person),
            words=words.get(one.event, ("", ""))[0],
            own=words.get(one.event, ("", ""))[1],
        )
        for one in found.version.explanations
    )


@get("/canvass")
@in_thread
def canvass(request: Request[Any, Any, Any]) -> Response[str]:
    """The page."""
    ask = Ask(request)
    return answer(ask, canvass_page(ask, Canvass(ask)))


def changes_shown(ask: Ask, found: Canvass) -> tuple[tuple[str, str, str], ...]:
    """What the shown version changed against the one before, in words; nothing where there is none."""
    if found.frozen is None or not found.frozen.before:
        return ()
    return change_lines(change_between(found.load(found.frozen.before), found.version), ask.speak.plain)
