"""``pollstead change``: one act, looked at first, carried out with a name. Thin: parse, call, print."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import cyclopts

from pollstead.cli.change_words import as_object, tell_faults, tell_proposal
from pollstead.cli.options import AsJson
from pollstead.cli.progress import progress_watch
from pollstead.election.words import N_
from pollstead.plan.terms.part import Cancelled, Watch
from pollstead.reconcile.changed.terms import Act
from pollstead.show.words import fill, text
from pollstead.work.county_folder import Refused, store_of

if TYPE_CHECKING:
    from pollstead.record.write import Moment
    from pollstead.store.desk import Desk
    from pollstead.work.changing_steps import Carried
    from pollstead.work.changing_terms import Asked

ACTS = {act.value.replace("_", "-"): act for act in Act if act is not Act.UNDO}
"""What ACT may be: swap-device, reseal, move-site, replace-person, add-stock."""

THINGS = {
    Act.SWAP_DEVICE: ("OLD", "NEW"),
    Act.RESEAL: ("CLOSURE", "NUMBER"),
    Act.MOVE_SITE: ("SITE",),
    Act.REPLACE_PERSON: ("OLD", "NEW"),
    Act.ADD_STOCK: (),
}
"""How many things each act is about, and their names."""

app = cyclopts.App(
    name="change",
    help=text(N_("Change something late: what becomes void, what to print, whom to call.")),
)


@app.default
def change(
    folder: Path,
    act: Annotated[
        str,
        cyclopts.Parameter(
            help=text(
                N_("swap-device, reseal, move-site, replace-person or add-stock, then what it is about.")
            )
        ),
    ],
    /,
    *things: str,
    by: Annotated[
        str, cyclopts.Parameter(help=text(N_("Id of the person who does it; without it nothing is done.")))
    ] = "",
    second: Annotated[
        str,
        cyclopts.Parameter(name="--with", help=text(N_("Id of a second person, where rules ask for one."))),
    ] = "",
    reason: Annotated[str, cyclopts.Parameter(help=text(N_("Why it changes, in a few words.")))] = "",
    said: Annotated[
        tuple[str, ...],
        cyclopts.Parameter(
            name="--set", help=text(N_("FIELD=TEXT, such as address=2 Mill Lane; may be given again."))
        ),
    ] = (),
    as_json: AsJson = False,
) -> int:
    """Show what an act would bring with it; with --by and --reason carry it out and print just its sheets.

    Returns 0 when shown or done, 1 where it cannot be done, 2 for a wrong option.
    """
    from pollstead.intake.fact_writing import NotTaken

    asked = _asked(act, things, said, reason)
    if asked is None:
        known = "; ".join(f"{name} {' '.join(THINGS[one])}".strip() for name, one in ACTS.items())
        print(
            f"{text(N_('Give an act and what it is about, and --set FIELD=TEXT:'))} {known}", file=sys.stderr
        )
        return 2
    try:
        return _change(folder, asked, by=by, second=second, reason=reason, as_json=as_json)
    except Refused as refused:
        print(fill(refused.said), file=sys.stderr)
    except NotTaken as not_taken:
        tell_faults(not_taken.faults)
    except Cancelled:
        print(text(N_("Stopped; what was done is on record. See: pollstead changes FOLDER")), file=sys.stderr)
    return 1


def _asked(act: str, things: tuple[str, ...], said: tuple[str, ...], reason: str) -> Asked | None:
    """The act as typed; None where it does not fit."""
    from pollstead.work.changing_terms import Asked

    known = ACTS.get(act)
    pairs = tuple(pair.partition("=") for pair in said)
    if known is None or len(things) != len(THINGS[known]) or not all(sign for _, sign, _ in pairs):
        return None
    old, new = (*things, "", "")[:2]
    fields = tuple((name.strip(), value.strip()) for name, _, value in pairs)
    if reason:
        fields += (("reason", reason),)
    return Asked(act=known, old=old, new=new, said=fields)


def _change(folder: Path, asked: Asked, *, by: str, second: str, reason: str, as_json: bool) -> int:
    from pollstead.show.letters import letters_without_font
    from pollstead.show.packet.changed_printer import PacketPrinter
    from pollstead.work.changing import propose
    from pollstead.work.changing_steps import begin, carry_on

    finish_open(folder)
    with store_of(folder) as store:
        proposal = propose(
            folder,
            store,
            asked,
            PacketPrinter(),
            now_ms=_now(folder).utc_ms,
            watch=progress_watch(),
            also_told=letters_without_font,
        )
    carried: Carried | None = None
    if by:
        desk = desk_for(folder, by)
        try:
            begin(desk, proposal, by=by, second=second, reason=reason, moment=_now(folder))
            carried = carry_on(
                folder, desk, PacketPrinter(), watch=progress_watch(), also_told=letters_without_font
            )
        finally:
            desk.close()
    if as_json:
        json.dump(as_object(proposal, carried), sys.stdout, ensure_ascii=False, indent=2)
        print()
    else:
        tell_proposal(folder, proposal, carried)
    return 0


def finish_open(folder: Path) -> Carried | None:
    """Finish a change that was begun and interrupted, if there is one, and say so."""
    from pollstead.cli.change_words import tell_finished
    from pollstead.work.changing_kept import open_intent
    from pollstead.work.changing_steps import steps_left

    with store_of(folder) as store:
        intent = open_intent(store)
        left = () if intent is None else steps_left(intent)
    if intent is None:
        return None
    carried = carry_on_folder(folder, watch=progress_watch())
    tell_finished(intent, left)
    return carried


def carry_on_folder(folder: Path, *, watch: Watch) -> Carried | None:
    """Do what is left of a change that was begun, in its author's name: the job of the app, too."""
    from pollstead.show.letters import letters_without_font
    from pollstead.show.packet.changed_printer import PacketPrinter
    from pollstead.work.changing_kept import open_intent
    from pollstead.work.changing_steps import carry_on
    from pollstead.work.facts import mend_tables

    folder = Path(folder)
    with store_of(folder) as store:
        intent = open_intent(store)
    if intent is None:
        return None
    # Stopped while the tables were replaced: nothing can be read before they are of one time again.
    mend_tables(folder)
    desk = desk_for(folder, intent.by)
    try:
        return carry_on(folder, desk, PacketPrinter(), watch=watch, also_told=letters_without_font)
    finally:
        desk.close()


def desk_for(folder: Path, by: str) -> Desk:
    """The desk of a folder, its record begun where there is none."""
    from pollstead.record.event import Means, Part, Person
    from pollstead.work.county_folder import facts_of, refuse
    from pollstead.work.facts import desk_of

    election, _ = facts_of(folder)
    person = by if by.startswith("person/") else f"person/{by}"
    people = (Person(person=person, means=Means.NAME_ONLY, part=Part.AUTHOR),)
    try:
        return desk_of(folder, election, people, _now(folder))
    except ValueError as error:
        refuse(N_("Nothing can be written into the record here: {why}"), why=str(error))


def _now(folder: Path) -> Moment:
    from pollstead.election.instants import Instant
    from pollstead.record.write import Moment
    from pollstead.work.clock import now_ms
    from pollstead.work.county_folder import facts_of

    election, _ = facts_of(folder)
    utc_ms = now_ms()
    offset = Instant(utc_ms=utc_ms).offset_min(election.zone_name)
    return Moment(utc_ms=utc_ms, offset_min=offset, uncertainty_ms=60_000)
