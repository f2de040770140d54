"""``pollstead decks``: test decks of every ballot style, their chart, a report compared. Thin."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import cyclopts

from pollstead.cli.county import Refused, facts_of, refuse, tell
from pollstead.cli.options import AsJson
from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.plan.terms.decks import DeckSet
    from pollstead.reconcile.decks.runs import DeviceDecks
    from pollstead.work.decks import Made

FORMAT = "pollstead decks 1"

app = cyclopts.App(
    name="decks", help=text(N_("Make test decks for each ballot style, and compare what a device reports."))
)


@app.default
def decks(
    folder: Path,
    /,
    *,
    style: Annotated[
        tuple[str, ...], cyclopts.Parameter(help=text(N_("Only this ballot style; may be given again.")))
    ] = (),
    print_: Annotated[
        Path | None,
        cyclopts.Parameter(name="--print", help=text(N_("Print the chart of the decks into this PDF file."))),
    ] = None,
    paper: Annotated[str, cyclopts.Parameter(help=text(N_("letter or a4.")))] = "letter",
    form: Annotated[
        Path | None, cyclopts.Parameter(help=text(N_("Write a CSV to fill in from a device's report.")))
    ] = None,
    report: Annotated[
        Path | None, cyclopts.Parameter(help=text(N_("CSV filled in from a device's report: compare it.")))
    ] = None,
    device: Annotated[str, cyclopts.Parameter(help=text(N_("Device of the report, by id or serial.")))] = "",
    by: Annotated[
        str, cyclopts.Parameter(help=text(N_("Id of the person who compares; records the comparison.")))
    ] = "",
    second: Annotated[str, cyclopts.Parameter(help=text(N_("Id of the second person.")))] = "",
    before: Annotated[
        int | None, cyclopts.Parameter(help=text(N_("Lifetime counter before the decks were read.")))
    ] = None,
    after: Annotated[
        int | None, cyclopts.Parameter(help=text(N_("Lifetime counter after the decks were read.")))
    ] = None,
    reason: Annotated[
        str, cyclopts.Parameter(help=text(N_("What was done since the last report of this device.")))
    ] = "",
    from_: Annotated[
        Path | None,
        cyclopts.Parameter(
            name="--from", help=text(N_("Read contests and ballots from a ballot definition (JSON, NIST)."))
        ),
    ] = None,
    as_json: AsJson = False,
) -> int:
    """Print the decks with their sizes and which device has a report that matched.

    Nothing is read from a device: people type what its report shows. Returns 0 also where totals differ.
    """
    from pollstead.cli import deck_files

    try:
        if from_ is not None:
            return deck_files.take_definition(folder, from_)
        election, _ = facts_of(folder)
        made, chosen = chosen_decks(election, style)
        if print_ is not None:
            return deck_files.print_chart(print_, election, chosen, paper)
        if form is not None:
            return deck_files.write_form(form, chosen)
        if report is not None:
            return deck_files.compare_report(
                folder,
                election,
                made.decks,
                style,
                deck_files.Told(
                    file=report,
                    device=device,
                    by=by,
                    second=second,
                    before=before,
                    after=after,
                    reason=reason,
                ),
            )
        standing = devices_of(folder, election, made.decks)
    except Refused as refused:
        return tell(refused)
    if as_json:
        json.dump(decks_object(made, chosen, standing), sys.stdout, ensure_ascii=False, indent=2)
        print()
    else:
        print_decks(made, chosen, standing)
    return 0


def chosen_decks(election: Election, styles: tuple[str, ...]) -> tuple[Made, DeckSet]:
    """All decks of a county, and those asked for; refuses where there are none."""
    from pollstead.work.decks import decks_of

    made = decks_of(election)
    if not made.decks.faces:
        refuse(
            N_(
                "No ballot is described yet. Fill in contests.csv, choices.csv and ballot_contests.csv, or "
                "read them by: pollstead decks FOLDER --from FILE.json"
            )
        )
    unknown = [one for one in styles if one not in made.decks.keys]
    if unknown:
        refuse(
            N_("No ballot style is called {style}. Styles: {known}"),
            style=", ".join(unknown),
            known=", ".join(made.decks.keys[:20]) + (" …" if len(made.decks.keys) > 20 else ""),
        )
    return made, made.decks.only(styles) if styles else made.decks


def devices_of(folder: Path, election: Election, decks: DeckSet) -> tuple[DeviceDecks, ...]:
    """Every counting device of the plan with how it stands; none before there is a plan."""
    from pollstead.cli.standing import standing_of
    from pollstead.reconcile.decks.runs import DeckBook
    from pollstead.record.fold import fold

    plan, folded, _ = standing_of(folder)
    if plan is None:
        return ()
    book = DeckBook(election, decks, folded if folded is not None else fold(()))
    return tuple(device for site in plan.sites for device in book.of_site(site))


def decks_object(made: Made, chosen: DeckSet, standing: tuple[DeviceDecks, ...]) -> dict[str, Any]:
    """The stable JSON form; people are named by id."""
    from pollstead.work.decks import judged_of

    judged = {one.face: one for one in judged_of(chosen)}
    return {
        "format": FORMAT,
        "decks": [
            {
                "deck": face.key,
                "style": face.style,
                "precinct": face.precinct,
                "contests": len(face.contests),
                "ballots": len(deck.ballots),
                "fewest": deck.bound,
                "mistakes_tried": judged[face.key].tried,
                "mistakes_unseen": len(judged[face.key].unseen),
            }
            for face, deck in zip(chosen.faces, chosen.decks, strict=True)
        ],
        "devices": [
            {
                "device": one.device,
                "site": one.site,
                "decks": list(one.wanted),
                "state": one.state.value,
                "comparisons": [
                    {
                        "event": run.event,
                        "utc_ms": run.utc_ms,
                        "matched": run.matched,
                        "decks": list(run.decks),
                        "differ": list(run.cells),
                        "again": run.again,
                        "people": list(run.people),
                    }
                    for run in one.runs
                ],
            }
            for one in standing
        ],
    }


def print_decks(made: Made, chosen: DeckSet, standing: tuple[DeviceDecks, ...]) -> None:
    """Print sizes and reasons, what no deck shows, and how the devices stand."""
    from pollstead.show.deck_words import STATE_WORDS, mistake_words
    from pollstead.work.decks import judged_of

    reasons = {one.subject.partition("/")[2]: one.text for one in made.reasons}
    for face in chosen.faces:
        print(f"{face.key}: {fill(reasons[face.key])}")
    judged = judged_of(chosen)
    words = N_("{tried} single mistakes of a device tried on {decks} decks: {unseen} would not show.")
    unseen = [one for judge in judged for one in judge.unseen]
    tried = sum(one.tried for one in judged)
    print(fill(message(words, tried=tried, decks=len(judged), unseen=len(unseen))))
    for mistake in unseen:
        print(f"- {fill(mistake_words(chosen, mistake))}")
    for device in standing:
        _, state = STATE_WORDS[device.state]
        print(f"{device.site} {device.serial}: {text(state)} ({', '.join(device.wanted)})")
    if not standing:
        print(text(N_("There is no plan version yet, so no device is named.")))
