"""A late change: looked at first with nothing written, then carried out step by step.

`propose` draws up everything that an act brings with it. `begin` notes what is to be done and `carry_on`
does what is left of it, so that a program that was stopped at any step is taken up again where it stood.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path

import msgspec

from pollstead.election.county import Election
from pollstead.election.instants import Instant
from pollstead.election.notice import Grade, Notice, NoticeKind
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.intake.fact_edits import Edit, edited, reverse
from pollstead.intake.fact_writing import (
    FolderFacts,
    NotTaken,
    Prepared,
    folder_facts,
    prepare,
    read_with,
)
from pollstead.intake.folder import Intake, read_folder
from pollstead.plan.seals.expected import expected_list
from pollstead.plan.terms.part import Watch
from pollstead.plan.terms.version import ExpectedList, PlanVersion
from pollstead.reconcile.changed.candidates import standing_of, tested_of
from pollstead.reconcile.changed.consequence import consequence
from pollstead.reconcile.changed.on_the_day import Swap, swaps_of, with_both
from pollstead.reconcile.changed.terms import Act, Change, Consequence, State
from pollstead.reconcile.changed.touched import touched_sites
from pollstead.reconcile.custody.after_test import as_tested
from pollstead.reconcile.issued import Issued, issued_lists
from pollstead.reconcile.observed import observations_of
from pollstead.record.facts import Fold
from pollstead.store.opening import Store
from pollstead.work import changing_acts, changing_move, changing_seals
from pollstead.work.changing_terms import Asked, Drafted, Ground
from pollstead.work.county_folder import MoreNotices, parent_digest, refuse, version_of
from pollstead.work.fact_changes import changes
from pollstead.work.paper import Printer, sheets_in_hand
from pollstead.work.planning import DrawnUp, draw_up

DRAFTS: dict[Act, Callable[[Ground, Asked], Drafted]] = {
    Act.SWAP_DEVICE: changing_acts.swap_device,
    Act.REPLACE_PERSON: changing_acts.replace_person,
    Act.RESEAL: changing_seals.reseal,
    Act.ADD_STOCK: changing_seals.add_stock,
    Act.MOVE_SITE: changing_move.move_site,
}


class Ready(Value, frozen=True, kw_only=True):
    """An act that can be done as asked: its edits fit the tables as they are. Nothing of it is done.

    `facts_before` and `before` are the digests of the facts and of the plan version that holds ("" for none);
    `approved` says whether somebody approved that. `edits` are in the form in which they will be read back.
    """

    asked: Asked
    drafted: Drafted
    edits: tuple[Edit, ...]
    facts_before: str
    before: str
    approved: bool


class Proposal(Ready, frozen=True, kw_only=True):
    """An act with all that it brings. `after` is the plan version that it would give, "" without a plan."""

    after: str
    consequence: Consequence
    notices: tuple[Notice, ...] = ()


def ground_of(folder: Path, store: Store, now_ms: int) -> tuple[Ground, FolderFacts, str]:
    """What acts are drawn up on, the facts as rows, and the digest of the plan that holds ("" for none)."""
    held = folder_facts(folder)
    if held.unread:
        raise NotTaken(held.unread)
    intake = held.intake or read_folder(folder)
    election = _election_of(folder, intake)
    digest = parent_digest(store)
    contradicted = frozenset(
        n.subject for n in intake.notices if n.grade is Grade.CONTRADICTS and n.subject.startswith("device/")
    )
    ground = Ground(
        election=election,
        rows=held.rows,
        plan=version_of(store, digest) if digest else None,
        today=Instant(utc_ms=now_ms).local(election.zone_name).date(),
        contradicted=contradicted,
        tested=tested_of(store.fold(private=True)),
    )
    return ground, held, digest


def _election_of(folder: Path, intake: Intake) -> Election:
    if intake.election is None:
        refuse(N_("{folder} cannot be changed here. See: pollstead check {folder}"), folder=str(folder))
    return intake.election


def propose(
    folder: Path,
    store: Store,
    asked: Asked,
    printer: Printer,
    *,
    now_ms: int,
    watch: Watch,
    also_told: MoreNotices | None = None,
) -> Proposal:
    """Everything that `asked` brings with it; nothing is written.

    Raises `Refused` where the act cannot be done as asked and NotTaken where a cell would not fit.
    """
    ground, held, before = ground_of(folder, store, now_ms)
    drafted = draft(store, ground, asked)
    tables = _tables(folder, held, drafted)
    intake = tables.intake or read_with(held, tables.files, folder)
    if also_told is not None and intake.election is not None:
        intake = msgspec.structs.replace(intake, notices=(*intake.notices, *also_told(intake.election)))
    folded = store.fold(private=True)
    drawn = _drawn(store, intake, before, drafted.undoes, watch)
    found = consequence_of(store, folded, drafted.change, before, drawn, printer, now_ms=now_ms)
    return Proposal(
        asked=asked,
        drafted=drafted,
        edits=tables.edits,
        facts_before=held.digest,
        before=before,
        after=_digest(drawn),
        approved=_is_approved(folded, before),
        consequence=found,
        notices=(*_others_come_along(ground, held, before), *found.notices),
    )


def ready_for(folder: Path, store: Store, asked: Asked, *, now_ms: int) -> Ready:
    """The act drawn up on the tables as they are, without working out what it brings; nothing is written.

    Raises as `propose` does.
    """
    ground, held, before = ground_of(folder, store, now_ms)
    drafted = draft(store, ground, asked)
    return Ready(
        asked=asked,
        drafted=drafted,
        edits=_tables(folder, held, drafted).edits,
        facts_before=held.digest,
        before=before,
        approved=_is_approved(store.fold(private=True), before),
    )


def _tables(folder: Path, held: FolderFacts, drafted: Drafted) -> Prepared:
    """The tables with the edits; refuses edits that change nothing."""
    rows, faults = edited(held.rows, drafted.edits)
    if faults:
        raise NotTaken(faults)
    tables = prepare(folder, held, rows)
    if not tables.edits:
        refuse(N_("Nothing would change: the tables hold these values already."))
    return tables


def draft(store: Store, ground: Ground, asked: Asked) -> Drafted:
    """The edits of an act and what it changes."""
    if asked.act is Act.UNDO:
        return _undo(store, asked)
    return DRAFTS[asked.act](ground, asked)


def _undo(store: Store, asked: Asked) -> Drafted:
    """Every cell of an earlier change becomes what it was before."""
    from pollstead.work.changing_kept import kept_change

    found = next((c for c in changes(store) if asked.old in (c.event, str(c.number))), None)
    if found is None or not found.known:
        refuse(N_("There is no change {number} whose cells are known here."), number=asked.old or "?")
    earlier = kept_change(store, found.event)
    said = message(
        N_("Change {number} is undone: {what}"), number=found.number, what=_what(earlier, found.act)
    )
    old = earlier.change if earlier is not None else Change(act=Act.UNDO, words=said, site_words=said)
    return Drafted(
        change=Change(
            act=Act.UNDO,
            sites=old.sites,
            old_person=old.new_person,
            new_person=old.old_person,
            old_device=old.new_device,
            new_device=old.old_device,
            words=said,
            site_words=message(N_("Change {number} is undone."), number=found.number),
        ),
        edits=tuple(reverse(edit) for edit in reversed(found.cells)),
        subject="facts",
        undoes=found.event,
    )


def _what(earlier: Consequence | None, act: str) -> str:
    return earlier.change.words.english() if earlier is not None else act.replace("_", " ")


def _drawn(store: Store, intake: Intake, before: str, undoes: str, watch: Watch) -> DrawnUp | None:
    """The plan after the change; None while there is no plan at all.

    It is made as the one that holds was. An undo comes after the version before the change that it takes
    back, so that each machine goes back to where it stood.
    """
    from pollstead.work.changing_kept import plan_before

    if not before:
        return None
    held = version_of(store, before)
    parent = (plan_before(store, undoes) if undoes else "") or before
    return draw_up(store, intake, watch=watch, effort=held.effort, seed=held.seed, parent=parent, anew=True)


def _digest(drawn: DrawnUp | None) -> str:
    from pollstead.election.canonical import digest_of

    return "" if drawn is None or drawn.version is None else digest_of(drawn.version)


def consequence_of(
    store: Store,
    folded: Fold,
    change: Change,
    before: str,
    drawn: DrawnUp | None,
    printer: Printer,
    *,
    now_ms: int,
) -> Consequence:
    """Lists, sheets and calls of a change, from the plan that holds and the one drawn up.

    A device swapped while people vote is swapped on the operating day of `now_ms`.
    """
    if drawn is None or drawn.version is None or not before:
        return Consequence(
            change=change, sites=change.sites, site_days=(), void=(), good=(), prints=(), calls=()
        )
    old = version_of(store, before)
    election = msgspec.json.decode(store.snapshots.load(old.snapshot), type=Election)
    languages = {sheet.language for sheet in store.sheets.of()} - {""}
    sites = touched_sites((election, old), (drawn.election, drawn.version))
    swaps = swaps_of(observations_of(folded))
    first = state_of(election, as_tested(old, folded), before, printer, languages, sites, swaps)
    swaps = (*swaps, *_swap_to_come(change, old, Instant(utc_ms=now_ms).local(election.zone_name).date()))
    version = as_tested(drawn.version, folded)
    last = state_of(drawn.election, version, _digest(drawn), printer, languages, sites, swaps)
    in_hand = sheets_in_hand(store, folded, printer, first.sheets, sites)
    issued = issued_lists(folded)
    last = msgspec.structs.replace(last, lists=lists_after(change, issued, first.lists, last.lists))
    return consequence(change, first, last, issued, in_hand)


def _swap_to_come(change: Change, plan: PlanVersion, date: dt.date) -> tuple[Swap, ...]:
    """The swap that a change on the day is, before it stands in the record."""
    standing = standing_of(plan).get(change.old_device)
    if change.at_min is None or standing is None:
        return ()
    return (
        Swap(
            station=standing.station,
            day=date.isoformat(),
            old=change.old_device,
            new=change.new_device,
            at_min=change.at_min,
        ),
    )


def lists_after(
    change: Change, issued: Issued, old: tuple[ExpectedList, ...], new: tuple[ExpectedList, ...]
) -> tuple[ExpectedList, ...]:
    """The lists with the change: on the day of a swap those of its sites keep what was expected before."""
    if change.at_min is None:
        return new
    before = {(one.site, one.date): one for one in old}
    return tuple(
        with_both(issued.of(one.site, one.date) or before.get((one.site, one.date)), one)
        if one.site in change.sites[:1]
        else one
        for one in new
    )


def state_of(
    election: Election,
    plan: PlanVersion,
    digest: str,
    printer: Printer,
    languages: set[str],
    sites: tuple[str, ...],
    swaps: tuple[Swap, ...] = (),
) -> State:
    """Facts and plan with the lists and sheets of `sites` that follow from them."""
    here = tuple(site.site for site in plan.sites if site.site in sites)
    sheets = tuple(
        sheet
        for language in (sorted(languages) or [""])
        for sheet in printer.planned(election, plan, digest, here, language, swaps)
    )
    lists = lists_of(election, plan, digest, here)
    return State(election=election, plan=plan, digest=digest, lists=lists, sheets=sheets)


def lists_of(
    election: Election, plan: PlanVersion, digest: str, sites: tuple[str, ...]
) -> tuple[ExpectedList, ...]:
    """The expected list of each of `sites` and its days that a plan gives."""
    return tuple(
        expected_list(election, plan, site.site, day.date, plan_digest=digest)
        for site in plan.sites
        for day in (site.demand if site.site in sites else ())
    )


def _is_approved(folded: Fold, digest: str) -> bool:
    fact = folded.find("plan", "plan.approved")
    return fact is not None and any(str(r.value["digest"]) == digest for r in fact.current)


def _others_come_along(ground: Ground, held: FolderFacts, before: str) -> tuple[Notice, ...]:
    """Told where the tables were changed since the plan was made: this change takes that along."""
    if ground.plan is None or ground.plan.snapshot == held.digest:
        return ()
    return (
        Notice(
            kind=NoticeKind.OPEN_ITEM,
            rule="tables-changed-since-plan",
            subject="facts",
            text=message(
                N_(
                    "The tables were changed since the plan that holds was made; "
                    "that comes along with this change."
                )
            ),
            remedy=message(N_("Look at what differs by: pollstead facts. Or plan first, then change.")),
            depends=(held.digest, before),
        ),
    )
