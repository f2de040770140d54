"""What is told while a county folder is made: what a table was taken for, what was left out, the result."""

from __future__ import annotations

from pathlib import Path

from pollstead.election.county import Election
from pollstead.election.notice import Notice
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.intake.mapping import (
    Proposal,
)
from pollstead.intake.start import Start
from pollstead.intake.synonyms import MEANINGS

MOST_SHOWN = 12
DEVICES_OF_A_KIND = N_("how many devices of this kind")


class Told(Value, frozen=True, kw_only=True):
    """One line for the person, and how far it is indented."""

    text: Message
    depth: int = 0


def fault_line(notice: Notice) -> Told:
    place = notice.place.english() if notice.place else ""
    return Told(
        text=message(
            N_("{place}: {words}; found {found}; wanted {wanted}"),
            place=place,
            words=notice.text.english(),
            found=notice.found,
            wanted=notice.wanted,
        )
    )


def proposal_lines(proposal: Proposal) -> list[Told]:
    table = proposal.table
    lines = [
        Told(
            text=message(
                N_("{file}: {purpose}; header in row {row}, {rows} of {all} rows taken"),
                file=table.name,
                purpose=proposal.purpose,
                row=table.header_row,
                rows=len(table.rows),
                all=proposal.rows_before,
            )
        )
    ]
    if table.hidden:
        hidden = N_(
            "{file} is a hidden sheet and is read like the others; to leave it out, delete it in a copy of "
            "the workbook and give that copy"
        )
        lines.append(Told(depth=1, text=message(hidden, file=table.name)))
    for match in proposal.matches:
        said = N_("{ours} = {theirs} ({meaning}; as you said), for example {samples}")
        likely = N_("{ours} = {theirs} ({meaning}; names {likeness} % alike), for example {samples}")
        lines.append(
            Told(
                depth=1,
                text=message(
                    said if match.given else likely,
                    ours=match.ours,
                    theirs=match.theirs,
                    meaning=MEANINGS.get(match.ours, DEVICES_OF_A_KIND),
                    likeness=match.likeness,
                    samples=" | ".join(match.samples) or "-",
                ),
            )
        )
    if proposal.unused:
        names = ", ".join(proposal.unused[:MOST_SHOWN]) + (" …" if len(proposal.unused) > MOST_SHOWN else "")
        lines.append(Told(depth=1, text=message(N_("not used: {names}"), names=names)))
    for skipped in table.skipped[:MOST_SHOWN]:
        text = message(
            N_("row {row} is {why}: {text}"), row=skipped.row, why=skipped.why, text=skipped.text[:80]
        )
        lines.append(Told(depth=1, text=text))
    if len(table.skipped) > MOST_SHOWN:
        left = len(table.skipped) - MOST_SHOWN
        lines.append(Told(depth=1, text=message(N_("and {count} more rows like these"), count=left)))
    return lines


def start_lines(start: Start) -> list[Told]:
    lines = [Told(text=line) for line in start.told]
    for left in start.left_out[:MOST_SHOWN]:
        lines.append(
            Told(
                text=message(
                    N_("{file}, row {row}: {why} ({text})"),
                    file=left.file,
                    row=left.row,
                    why=left.why,
                    text=left.text[:80],
                )
            )
        )
    if len(start.left_out) > MOST_SHOWN:
        more = len(start.left_out) - MOST_SHOWN
        lines.append(Told(text=message(N_("and {count} more; mapping.toml lists all of them"), count=more)))
    return lines


def made_lines(folder: Path, election: Election, typed: int) -> list[Message]:
    lines = [
        message(
            N_("{folder} made: {sites} sites, {precincts} precincts, {ballots} past ballots in person"),
            folder=str(folder),
            sites=len(election.sites),
            precincts=len(election.precincts),
            ballots=sum(count.ballots for count in election.history),
        )
    ]
    lines += [
        message(N_("{kind}: {count} in all"), kind=total.kind, count=total.count)
        for total in election.fleet_totals
    ]
    if election.devices:
        lines.append(message(N_("{count} devices by serial"), count=len(election.devices)))
    for assumption in election.assumptions:
        lines.append(
            message(
                N_("Assumed: {field} of {subject} is {value}. {why}."),
                field=assumption.field,
                subject=assumption.subject,
                value=assumption.value,
                why=assumption.why.english(),
            )
        )
    lines.append(message(N_("Values typed by hand: {count}"), count=typed))
    return lines
