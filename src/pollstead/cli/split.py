"""``pollstead split``: split the fleet over all sites, print it with its bound, accept it. Thin."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import cyclopts
import msgspec

from pollstead.cli.county import Refused, facts_of, store_of, tell, version_of
from pollstead.cli.options import AsJson
from pollstead.cli.progress import progress_watch
from pollstead.election.words import N_, message
from pollstead.plan.lines.split_compare import what_moved
from pollstead.plan.lines.words import minutes, percent
from pollstead.plan.terms.part import Cancelled
from pollstead.plan.terms.split import Goal
from pollstead.show.split_words import (
    GOAL_WORDS,
    all_minutes,
    basis_words,
    bound_words,
    fresh_words,
    policy_words,
    site_lines,
    spare_words,
)
from pollstead.show.words import fill, text
from pollstead.work.splitting import (
    DAYS,
    FORMAT,
    FRESH_DAYS,
    STAY_MIN,
    WITHIN_PERCENT,
    SplitReport,
    accept,
    new_numbers,
    split_folder,
)

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.plan.terms.fresh import EquityRow

WIDTH = 110

app = cyclopts.App(name="split", help=text(N_("Split the fleet over all sites, with a bound.")))


@app.default
def split(
    folder: Path,
    /,
    *,
    goal: Annotated[Goal, cyclopts.Parameter(help=text(N_("What is made least.")))] = Goal.TOTAL,
    within: Annotated[
        int,
        cyclopts.Parameter(help=text(N_("In a blend, percent above the least possible worst site."))),
    ] = WITHIN_PERCENT,
    stay: Annotated[
        int,
        cyclopts.Parameter(help=text(N_("Minutes of waiting a day that a changed station must save."))),
    ] = STAY_MIN,
    days: Annotated[int, cyclopts.Parameter(help=text(N_("Days simulated for each number.")))] = DAYS,
    fresh_days: Annotated[
        int, cyclopts.Parameter(help=text(N_("Fresh days on which the result is compared.")))
    ] = FRESH_DAYS,
    workers: Annotated[
        int, cyclopts.Parameter(help=text(N_("Threads; 0 takes all. Changes the time, never the result.")))
    ] = 0,
    since: Annotated[
        Path | None,
        cyclopts.Parameter(help=text(N_("An earlier split as --json wrote it: what moved since, and why."))),
    ] = None,
    accept_it: Annotated[
        bool,
        cyclopts.Parameter(
            name="--accept", negative="", help=text(N_("Fix the numbers of the split; needs --by, --reason."))
        ),
    ] = False,
    by: Annotated[str, cyclopts.Parameter(help=text(N_("Id of the person who decides.")))] = "",
    reason: Annotated[str, cyclopts.Parameter(help=text(N_("Why, in a few words; no voter's name.")))] = "",
    as_json: AsJson = False,
) -> int:
    """Split the fleet of the newest plan version over its sites. Nothing changes unless --accept is given.

    Returns 0 for a split, 1 where the fleet cannot give each site its least numbers (the notice says what is
    short, where, by how much) or where there is no plan, 2 for a number out of range.
    """
    if not (1 <= days <= 8192 and 1 <= fresh_days <= 8192 and 0 <= within <= 1000 and 0 <= stay <= 10_000):
        words = N_("Give 1 to 8,192 days, 0 to 1,000 percent, and 0 to 10,000 minutes to stay.")
        print(text(words), file=sys.stderr)
        return 2
    if workers < 0:
        print(text(N_("Workers must be 0 or more.")), file=sys.stderr)
        return 2
    if accept_it and not (by and reason.strip()):
        words = N_('Say who decides and why: --by PERSON --reason "…". Nothing was written.')
        print(text(words), file=sys.stderr)
        return 2
    earlier = None
    if since is not None:
        try:
            earlier = earlier_report(since)
        except ValueError as error:
            words = N_("{file} is no split as --json writes it: {why}. Nothing was done.")
            print(fill(message(words, file=str(since), why=str(error))), file=sys.stderr)
            return 2
    try:
        report = split_folder(
            folder,
            watch=progress_watch(),
            goal=goal,
            within_percent=within,
            stay_min=stay,
            days=days,
            fresh_days=fresh_days,
            workers=workers,
        )
        if accept_it and report.answer is not None:
            _accept(folder, report, by, reason)
    except Refused as refused:
        return tell(refused)
    except Cancelled:
        print(text(N_("Stopped; nothing was changed.")), file=sys.stderr)
        return 1
    if as_json:
        json.dump(report_object(report), sys.stdout, ensure_ascii=False, indent=2)
        print()
    else:
        print_report(report, _election(folder, report))
        if earlier is not None:
            _print_moves(report, earlier)
        if accept_it and report.answer is not None:
            words = N_("Fixed: {count} numbers. Plan again: {command}")
            told = message(words, count=len(new_numbers(report)), command=f"pollstead plan {folder}")
            print(fill(told))
    return 1 if report.answer is None else 0


def _accept(folder: Path, report: SplitReport, by: str, reason: str) -> None:
    from pollstead.cli.fact_desk import desk_for, moment_now, person

    election, _ = facts_of(folder)
    people = person(by)
    with desk_for(folder, people, election) as desk:
        accept(desk.recorder, desk.fold(), report, reason=reason, people=people, moment=moment_now())


def _election(folder: Path, report: SplitReport) -> Election:
    from pollstead.election.county import Election

    with store_of(folder) as store:
        snapshot = store.snapshots.load(version_of(store, report.plan).snapshot)
    return msgspec.json.decode(snapshot, type=Election)


def report_object(report: SplitReport) -> dict[str, Any]:
    """The stable JSON form of a split; waits in ms over the simulated days."""
    found: dict[str, Any] = msgspec.to_builtins(report)
    found["notices"] = [
        {"key": n.key, "kind": n.kind.value, "text": n.text.english()} for n in report.notices
    ]
    found["assumptions"] = len(report.assumptions)
    if report.answer is not None:
        found["answer"].pop("notices")
        found["answer"]["gap_ppm"] = report.answer.gap_ppm
    if report.fresh is not None:
        found["fresh"]["gain_ppm"] = report.fresh.gain_ppm
        found["fresh"]["change_ppm"] = report.fresh.change_ppm
    return found


def earlier_report(file: Path) -> SplitReport:
    """A split from the JSON of an earlier run; raises ValueError where the file holds none."""
    found = msgspec.json.decode(file.read_bytes())
    if not isinstance(found, dict) or found.get("format") != FORMAT:
        raise ValueError(f"format must be {FORMAT!r}")
    found.update(notices=[], assumptions=[])
    for part, computed in (("answer", ("gap_ppm",)), ("fresh", ("gain_ppm", "change_ppm"))):
        for name in computed:
            (found.get(part) or {}).pop(name, None)
    return msgspec.convert(found, type=SplitReport)


def _print_moves(report: SplitReport, earlier: SplitReport) -> None:
    """What moved since an earlier split, and why."""
    print()
    if report.answer is None or earlier.answer is None:
        print(text(N_("One of the two is no split, so nothing can be compared.")))
        return
    moves = what_moved(report.facts, report.answer, earlier.facts, earlier.answer)
    if not moves:
        print(text(N_("No site's numbers moved since the earlier split.")))
    for move in moves:
        told = message(
            N_("{site} moved from {before} to {after}. {why}"),
            site=move.site,
            before=" ".join(str(n) for n in move.before),
            after=" ".join(str(n) for n in move.after),
            why=fill(move.words),
        )
        print(fill(told))


def print_report(report: SplitReport, election: Election) -> None:
    """Print a split: what changes, the bound, prices, spares, who waits."""
    for notice in report.notices:
        about = f"{notice.subject}: " if notice.subject.startswith("site/") else ""
        print(f"{text(notice.kind.value)}: {about}{fill(notice.text)}")
    answer = report.answer
    if answer is None:
        return
    print(
        fill(
            message(
                N_("Split of plan version {number}: {goal}."),
                number=report.number,
                goal=text(GOAL_WORDS[report.goal]),
            )
        )
    )
    _print_sites(report, election)
    for words in (bound_words(answer), *fresh_words(report), *basis_words(report)):
        print(fill(words))
    print()
    for price in answer.prices:
        told = message(
            N_("One more {kind} is worth {worth} minutes of waiting a day; {used} of {available} are used."),
            kind=price.kind,
            worth=all_minutes(price.worth_ms),
            used=price.used,
            available=price.available,
        )
        print(fill(told))
    for policy in answer.policies:
        print(fill(policy_words(policy)))
    print()
    for spares in report.spares:
        print(fill(spare_words(spares)))
    if report.fresh is not None:
        print()
        _print_groups(N_("Area"), report.fresh.areas)
        _print_groups(N_("Language assistance"), report.fresh.languages)


def _print_sites(report: SplitReport, election: Election) -> None:
    from rich.console import Console
    from rich.table import Table

    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column(text(N_("Site")))
    table.add_column(text(N_("Stations")))
    for heading in (N_("Has"), N_("Would have"), N_("Change"), N_("Waiting a day, min")):
        table.add_column(text(heading), justify="right")
    changed = {one.site for one in report.answer.sites if one.changed} if report.answer else set()
    for line in site_lines(report, election):
        if line.site not in changed:
            continue
        table.add_row(
            f"{line.site} {line.name}" if line.first else "",
            line.station_type,
            f"{line.has}",
            f"{line.would}",
            f"{line.change:+d}" if line.change else "",
            f"{line.before_min} to {line.after_min}" if line.first else "",
        )
    console = Console()
    Console(width=max(console.width, 72) if console.is_terminal else WIDTH).print(table)
    unchanged = len(report.answer.sites) - len(changed) if report.answer else 0
    print(fill(message(N_("Sites that stay as they are: {count}."), count=unchanged)))


def _print_groups(heading: str, rows: tuple[EquityRow, ...]) -> None:
    for row in rows:
        words = N_(
            "{heading} {group}: {now} to {split} minutes a voter on average; "
            "over the limit {before} to {after} of voters."
        )
        told = message(
            words,
            heading=text(heading),
            group=row.group or text(N_("none")),
            now=minutes(row.now_ms),
            split=minutes(row.split_ms),
            before=percent(row.now_over_ppm),
            after=percent(row.split_over_ppm),
        )
        print(fill(told))
