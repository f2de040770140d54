"""``pollstead counts show``, ``total`` and ``upload``: the county table, and what is typed for it. Thin."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import cyclopts

from pollstead.cli.county import Refused, facts_of, store_of, tell
from pollstead.cli.fact_options import By
from pollstead.cli.options import AsJson
from pollstead.election.words import N_, message
from pollstead.show.cautions import BY_ID as CAUTIONS
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.election.notice import Notice
    from pollstead.reconcile.counts.balance import BalanceLine
    from pollstead.reconcile.counts.county_shapes import CountyRow, CountyTable
    from pollstead.reconcile.counts.uploads import MachineUploads
    from pollstead.reconcile.explain.county import CountyExplained

FORMAT = "pollstead counts 1"

Reason = Annotated[
    str,
    cyclopts.Parameter(
        help=text(N_("Why an earlier entry is corrected; without it both stand beside one another."))
    ),
]


def show(
    folder: Path,
    /,
    *,
    site: Annotated[str, cyclopts.Parameter(help=text(N_("One site only, such as S01.")))] = "",
    every: Annotated[
        bool, cyclopts.Parameter(negative=(), help=text(N_("Also the rows that are equal.")))
    ] = False,
    as_json: AsJson = False,
) -> int:
    """Print what sites, receiving and canvass have of each quantity: differences first, then what is missing.

    Returns 0 whatever is found.
    """
    try:
        election, table, notices = county_at(folder)
    except Refused as refused:
        return tell(refused)
    wanted = site.removeprefix("site/")
    rows = tuple(row for row in table.by_difference() if not wanted or row.site == wanted)
    machines = tuple(
        (one, line)
        for one, line in zip(table.machines, table.uploaded, strict=True)
        if not wanted or one.machine.site == wanted
    )
    if as_json:
        totals = () if wanted else table.totals
        shown = (*rows, *totals)
        content = {
            "format": FORMAT,
            "unofficial": True,
            "rows": [_row_object(row) for row in rows],
            "county": [_row_object(row) for row in totals],
            "machines": [_machine_object(one, line) for one, line in machines],
            "unknown_memory_devices": [u.memory for u in table.strangers],
            "explanations": [
                _explained_object(one) for one in explained_rows(election, table) if one.row in shown
            ],
            "notices": [_notice_object(n) for n in notices],
        }
        json.dump(content, sys.stdout, ensure_ascii=False, indent=2)
        print()
        return 0
    _tell_table(election, rows, machines, notices, explained_rows(election, table), every=every)
    print(text(CAUTIONS["counts"].words))
    return 0


def total(
    folder: Path,
    ledger: Annotated[str, cyclopts.Parameter(help=text(N_("Who has the total: receiving or canvass.")))],
    quantity: Annotated[str, cyclopts.Parameter(help=text(N_("The quantity, such as ballots_cast.")))],
    number: Annotated[int, cyclopts.Parameter(help=text(N_("The total, as read.")))],
    /,
    *,
    by: By,
    site: Annotated[str, cyclopts.Parameter(help=text(N_("The site; without it the whole county.")))] = "",
    mode: Annotated[
        str, cyclopts.Parameter(help=text(N_("Way of voting: election_day, early, or all together.")))
    ] = "election_day",
    source: Annotated[
        str, cyclopts.Parameter(name="--from", help=text(N_("Where it was read: report, screen, sheet.")))
    ] = "report",
    style: Annotated[
        tuple[str, ...],
        cyclopts.Parameter(help=text(N_("STYLE=COUNT: the part of one ballot style; as often as needed."))),
    ] = (),
    reason: Reason = "",
) -> int:
    """Type one total of receiving or canvass; a second person's stands beside it until one is corrected."""
    from pollstead.cli.fact_desk import desk_for, moment_now, person
    from pollstead.reconcile.counts.quantities import BY_QUANTITY
    from pollstead.reconcile.counts.totals import COUNTY, Ledger, TotalWord
    from pollstead.work.typed_counts import NothingToCorrect, type_total

    try:
        election, _ = facts_of(folder)
        sites = {one.id for one in election.sites}
        own = site.removeprefix("site/")
        styles = tuple(_style(one) for one in style)
        known = {
            N_("--site is one of the county's sites"): not own or own in sites,
            N_("what has the total is receiving or canvass"): ledger in set(Ledger),
            N_("the quantity is one of {known}"): quantity in BY_QUANTITY,
            N_("the number is 0 or more"): number >= 0,
            N_("--style is STYLE=COUNT"): None not in styles,
        }
        wrong = [words for words, right in known.items() if not right]
        if wrong:
            for words in wrong:
                print(fill(message(words, known=", ".join(BY_QUANTITY))), file=sys.stderr)
            return 2
        word = TotalWord(
            ledger=Ledger(ledger),
            subject=f"site/{own}" if own else COUNTY,
            mode=mode,
            quantity=quantity,
            source=source,
            total=number,
            styles=tuple(one for one in styles if one is not None),
        )
        with desk_for(folder, person(by), None) as desk:
            typed = type_total(desk, word, reason=reason, people=person(by), moment=moment_now())
    except Refused as refused:
        return tell(refused)
    except NothingToCorrect:
        print(text(N_("No other total of this stands, so there is nothing to correct.")), file=sys.stderr)
        return 1
    before = f" ({', '.join(map(str, typed.before))})" if typed.before else ""
    print(f"{typed.event[:12]}  {number}: {text(typed.standing.value)}{before}")
    return 0


def _style(one: str) -> tuple[str, int] | None:
    name, _, count = one.rpartition("=")
    return (name, int(count)) if name and count.isdecimal() else None


def upload(
    folder: Path,
    memory: Annotated[str, cyclopts.Parameter(help=text(N_("The memory device by its id.")))],
    number: Annotated[int, cyclopts.Parameter(help=text(N_("Its count, as the central place shows it.")))],
    /,
    *,
    by: By,
    state: Annotated[
        str, cyclopts.Parameter(help=text(N_("taken, refused, or taken_out where its count was removed.")))
    ] = "taken",
    sheets: Annotated[
        bool, cyclopts.Parameter(negative=(), help=text(N_("It counts sheets, not ballots.")))
    ] = False,
    source: Annotated[
        str, cyclopts.Parameter(name="--from", help=text(N_("Where it was read: screen or report.")))
    ] = "screen",
    remark: Annotated[str, cyclopts.Parameter(help=text(N_("A remark; write no voter's name here.")))] = "",
) -> int:
    """Write down that a memory device was read at the central place. A second reading of it is told."""
    from pollstead.cli.fact_desk import desk_for, moment_now, person
    from pollstead.election.instants import Instant
    from pollstead.record.kinds.canvass import MemoryUploaded
    from pollstead.work.typed_counts import type_upload

    states = ("taken", "refused", "taken_out")
    if state not in states or number < 0:
        words = N_("The count is 0 or more, and --state is one of: {known}.")
        print(fill(message(words, known=", ".join(states))), file=sys.stderr)
        return 2
    try:
        election, _ = facts_of(folder)
        known = {memory_id for device in election.devices for memory_id in device.memory_devices}
        own = memory.rpartition("/")[2]
        with desk_for(folder, person(by), None) as desk:
            body = MemoryUploaded(
                count=number,
                unit="sheets" if sheets else "ballots",
                state=state,  # type: ignore[arg-type]
                source=source,
            )
            said, first = type_upload(desk, own, body, remark=remark, people=person(by), moment=moment_now())
    except Refused as refused:
        return tell(refused)
    print(f"{said.id[:12]}  {own} {number} {state}")
    if own not in known:
        print(fill(message(N_("{memory} is in no table of devices; written down all the same."), memory=own)))
    if first is not None:
        at = Instant(utc_ms=first.origin.utc_ms).local(election.zone_name).strftime("%Y-%m-%d %H:%M")
        again = N_("{memory} was taken before: {count} at {at}, {event}. Written down; look at both.")
        print(fill(message(again, memory=own, count=first.count, at=at, event=first.event[:12])))
    return 0


def county_at(folder: Path) -> tuple[Election, CountyTable, tuple[Notice, ...]]:
    """The county table of a folder with its notices; raises Refused naming what is not there."""
    from pollstead.cli.reconcile import read_canvass_days
    from pollstead.reconcile.canvass import table_of_days
    from pollstead.reconcile.counts.county_notices import county_notices

    facts_of(folder)
    with store_of(folder) as store:
        read = read_canvass_days(store)
    table = table_of_days(read.reports, read.election, read.folded)
    return read.election, table, county_notices(table, read.election)


def explained_rows(election: Election, table: CountyTable) -> tuple[CountyExplained, ...]:
    """What may explain the comparisons that are not zero, by the county's odds."""
    from pollstead.reconcile.explain.county import explain_county
    from pollstead.reconcile.explain.night import odds_in

    return explain_county(table, odds_in(election))


def _tell_table(
    election: Election,
    rows: tuple[CountyRow, ...],
    machines: tuple[tuple[MachineUploads, BalanceLine], ...],
    notices: tuple[Notice, ...],
    explained: tuple[CountyExplained, ...],
    *,
    every: bool,
) -> None:
    from pollstead.reconcile.counts.county_notices import LEDGER_WORDS
    from pollstead.reconcile.counts.uploads import UploadState
    from pollstead.reconcile.explain.county_words import by_ledger, county_sentence

    differ = [row for row in rows if row.is_difference]
    lack = [row for row in rows if row.is_missing and not row.is_difference]
    words = N_(
        "{county}: {differ} of {rows} rows differ, {missing} lack a number. Machines read once: {once}/{all}."
    )
    once = sum(one.state is UploadState.ONCE for one, _ in machines)
    print(
        fill(
            message(
                words,
                county=election.county,
                differ=len(differ),
                rows=len(rows),
                missing=len(lack),
                once=once,
                all=len(machines),
            )
        )
    )
    for row in rows if every else differ:
        print("  " + _row_words(row))
        for ledgers, one in by_ledger(tuple(one for one in explained if one.row == row)):
            named = ", ".join(text(LEDGER_WORDS[ledger]) for ledger in ledgers)
            print(f"    {named}: {fill(county_sentence(one))}")
    for notice in notices:
        print(f"- {notice.subject}: {fill(notice.text)}")
        if notice.remedy is not None:
            print(f"    {fill(notice.remedy)}")
        if notice.who_decides:
            print("    " + fill(message(N_("Decides: {who}."), who=text(notice.who_decides))))


def _row_words(row: CountyRow) -> str:
    from pollstead.reconcile.counts.quantities import BY_QUANTITY, MODE_WORDS
    from pollstead.reconcile.counts.totals import Ledger

    named = [row.site, text(MODE_WORDS.get(row.mode, row.mode)), text(BY_QUANTITY[row.quantity].words)]
    style = f" {row.style}" if row.style else ""
    told = {
        N_("site"): row.own.difference,
        N_("receiving"): row.value_of(Ledger.RECEIVING),
        N_("canvass"): row.value_of(Ledger.CANVASS),
    }
    numbers = ", ".join(f"{text(word)} {'?' if value is None else value}" for word, value in told.items())
    by_9 = f" ({text(N_('9 divides it'))})" if any(line.divisible_by_9 for line in row.lines) else ""
    differs = fill(message(N_("difference of {size}"), size=row.largest)) if row.largest else ""
    return f"{', '.join(named)}{style}: {numbers}" + (f"; {differs}{by_9}" if differs else "")


def _row_object(row: CountyRow) -> dict[str, Any]:
    return {
        "site": row.site,
        "mode": row.mode,
        "quantity": row.quantity,
        "style": row.style,
        "unit": row.unit,
        "counted": _line_object(row.own),
        "received": None if row.received is None else _line_object(row.received),
        "canvass": None if row.canvass is None else _line_object(row.canvass),
    }


def _explained_object(one: CountyExplained) -> dict[str, Any]:
    from pollstead.cli.explained import ppm
    from pollstead.reconcile.explain.county_words import county_sentence, county_words

    return {
        "site": one.row.site,
        "mode": one.row.mode,
        "quantity": one.row.quantity,
        "style": one.row.style,
        "equation": one.line.equation,
        "sentence": county_sentence(one).english(),
        "fits": one.fits,
        "unknown_ppm": ppm(one.unknown),
        "explanations": [
            {
                "id": e.id,
                "share_ppm": ppm(e.share),
                "words": county_words(one, e).english(),
                "kind": e.faults[0].kind.value,
                "other": e.faults[0].other,
            }
            for e in one.explanations
        ],
    }


def _line_object(line: BalanceLine) -> dict[str, Any]:
    from pollstead.cli.reconcile import term_object

    return {
        "equation": line.equation,
        "state": line.state.value,
        "difference": line.difference,
        "divisible_by_9": line.divisible_by_9,
        "possible": list(line.possible),
        "missing": list(line.missing),
        "terms": [term_object(term) for term in line.terms],
    }


def _machine_object(one: MachineUploads, line: BalanceLine) -> dict[str, Any]:
    return {
        "machine": one.machine.device,
        "site": one.machine.site,
        "mode": one.machine.mode,
        "memory_devices": list(one.machine.memory),
        "state": one.state.value,
        "taken": [
            {"memory_device": u.memory, "count": u.count, "unit": u.unit, "event": u.event} for u in one.taken
        ],
        "refused": [u.event for u in one.refused],
        "compared": _line_object(line),
    }


def _notice_object(notice: Notice) -> dict[str, Any]:
    return {
        "key": notice.key,
        "kind": notice.kind.value,
        "text": notice.text.english(),
        "found": notice.found,
        "wanted": notice.wanted,
        "remedy": notice.remedy.english() if notice.remedy else "",
        "who_decides": notice.who_decides,
    }
