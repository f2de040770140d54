"""``pollstead counts``: numbers of the canvass from a file, looked at first, recorded by a name. Thin."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import cyclopts

from pollstead.cli import count_canvass, count_table
from pollstead.cli.county import Refused, facts_of, tell
from pollstead.cli.fact_options import By, Why
from pollstead.cli.options import AsJson
from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    from pollstead.intake.counts.mapping import CountMapping
    from pollstead.work.count_import import FileRead, Preview, SheetRead

app = cyclopts.App(
    name="counts",
    help=text(N_("Compare what sites, receiving and canvass counted; take counts in from a file.")),
)

Column = Annotated[
    tuple[str, ...],
    cyclopts.Parameter(
        name="--column",
        help=text(
            N_(
                "THEIRS=OURS: their column holds site, device, memory device, way of voting, ballot style, "
                "quantity, count, or a quantity such as ballots_cast or ballots_cast/early; blank for unused."
            )
        ),
    ),
]
Same = Annotated[
    tuple[str, ...],
    cyclopts.Parameter(name="--same", help=text(N_("THEIRS=OURS: what a name in the file means here."))),
]
LeaveOut = Annotated[
    tuple[str, ...],
    cyclopts.Parameter(name="--leave-out", help=text(N_("A name whose rows are left out."))),
]


@app.command(name="import")
def import_(
    folder: Path,
    file: Path,
    /,
    *,
    what: Annotated[
        str, cyclopts.Parameter(help=text(N_("What the numbers are: canvass, receiving or uploads.")))
    ] = "",
    sheet: Annotated[str, cyclopts.Parameter(help=text(N_("Which table of the file; else the first.")))] = "",
    column: Column = (),
    same: Same = (),
    leave_out: LeaveOut = (),
    quantity: Annotated[
        str, cyclopts.Parameter(help=text(N_("The quantity where no column says it, such as ballots_cast.")))
    ] = "",
    mode: Annotated[
        str, cyclopts.Parameter(help=text(N_("The way of voting where no column says it, such as early.")))
    ] = "",
    add_rows: Annotated[
        bool,
        cyclopts.Parameter(negative=(), help=text(N_("Rows with the same names are parts of one number."))),
    ] = False,
    by: By = "",
    yes: Annotated[
        bool,
        cyclopts.Parameter(negative=(), help=text(N_("Take the columns as they are proposed below."))),
    ] = False,
    as_json: AsJson = False,
) -> int:
    """Show what FILE would record and what differs from the record; with --by record it, all or nothing.

    FILE is CSV, XLSX, or an election results report of NIST SP 1500-100 version 2 (JSON, XML). Votes in it
    are passed over. How its columns are read is kept for the next file with the same header. Returns 1 where
    it cannot be taken.
    """
    from pollstead.cli.count_lines import as_object, tell_file, tell_preview
    from pollstead.cli.standing import standing_of
    from pollstead.intake.counts.mapping import Target
    from pollstead.intake.counts.names import Names
    from pollstead.record.fold import fold
    from pollstead.work.count_asked import Asked, NotUnderstood, columns_given, mapping_asked
    from pollstead.work.count_import import county_of, is_fault, preview, read_count_file

    asked = Asked(
        columns=column, same=same, leave_out=leave_out, quantity=quantity, mode=mode, add_rows=add_rows
    )
    try:
        election, _ = facts_of(folder)
        plan, folded, _ = standing_of(folder)
        county = county_of(election, plan)
        if not file.is_file():
            print(fill(message(N_("{file} is not a file."), file=str(file))), file=sys.stderr)
            return 1
        target = Target(what) if what else None
        read = read_count_file(folder, file, county, given=columns_given(asked), target=target)
        table = read.sheet(sheet)
        if table is None or any(is_fault(one) for one in read.notices):
            tell_file(read)
            return 1
        mapping = mapping_asked(table.mapping, asked, Names(county.names))
    except Refused as refused:
        return tell(refused)
    except NotUnderstood as error:
        print(fill(error.said), file=sys.stderr)
        return 2
    except KeyError as error:
        no_column = N_("The file has no column {column}.")
        print(fill(message(no_column, column=str(error.args[0]))), file=sys.stderr)
        return 2
    except ValueError:
        known = ", ".join(one.value for one in Target)
        print(fill(message(N_("--what is one of: {known}."), known=known)), file=sys.stderr)
        return 2
    faults = mapping.faults()
    found = None if faults else preview(table.table, mapping, county, folded or fold(()))
    confirmed = table.confirmed or asked.says_columns(mapping) or yes or bool(table.table.standard)
    code = 0 if found is not None and found.read.may_be_taken else 1
    if as_json:
        json.dump(as_object(read, table, mapping, found), sys.stdout, ensure_ascii=False, indent=2)
        print()
    else:
        tell_file(read)
        named = {site.id: site.name for site in election.sites}
        tell_preview(table, mapping, found, faults, confirmed=confirmed, named=named)
    if not by or found is None or code:
        return code
    if not confirmed:
        print(
            text(N_("Not recorded: say each column with --column, or --yes to take them as proposed.")),
            file=sys.stderr,
        )
        return 1
    return _record(folder, read, table, mapping, found, by)


def _record(
    folder: Path, read: FileRead, table: SheetRead, mapping: CountMapping, found: Preview, by: str
) -> int:
    from pollstead.cli.fact_desk import desk_for, moment_now, person
    from pollstead.work.count_import import confirm_mapping, take

    with desk_for(folder, person(by), None) as desk:
        if not table.confirmed or mapping != table.mapping:
            confirm_mapping(desk, folder, mapping, people=person(by), moment=moment_now())
        if not found.to_record:
            print(text(N_("Every number is recorded already; nothing was written.")))
            return 0
        written = take(desk, found, read, people=person(by), moment=moment_now())
    print(fill(message(N_("{n} numbers recorded, all of them or none."), n=len(written))))
    command = f"pollstead counts undo {folder} {read.digest[:12]} --by {by} --reason WHY"
    print(fill(message(N_("Take them back by: {command}"), command=command)))
    return 0


app.command(count_table.show)
app.command(count_table.total)
app.command(count_table.upload)
app.command(count_canvass.table)
app.command(count_canvass.freeze)
app.command(count_canvass.report)


@app.command
def imports(folder: Path, /) -> int:
    """List the files whose numbers were recorded, the newest first."""
    from pollstead.cli.county import store_of
    from pollstead.election.instants import Instant
    from pollstead.work.count_replacing import imports_of

    try:
        election, _ = facts_of(folder)
        with store_of(folder) as store:
            found = imports_of(store.fold(private=True))
    except Refused as refused:
        return tell(refused)
    for one in found:
        moment = Instant(utc_ms=one.utc_ms).local(election.zone_name).strftime("%Y-%m-%d %H:%M")
        words = message(
            N_("{digest}  {moment}  {file} by {person}: {standing} of {brought} numbers stand"),
            digest=one.digest[:12],
            moment=moment,
            file=one.file or "?",
            person=one.person.removeprefix("person/"),
            standing=one.standing,
            brought=one.brought,
        )
        print(fill(words))
    if not found:
        print(text(N_("No file of counts was recorded yet.")))
    return 0


@app.command
def undo(folder: Path, digest: str, /, *, by: By, reason: Why) -> int:
    """Take the numbers of a file back: each becomes what stood before it. DIGEST as `imports` lists it."""
    from pollstead.cli.fact_desk import desk_for, moment_now, person
    from pollstead.work.count_replacing import NothingStands, imports_of, take_back

    try:
        facts_of(folder)
    except Refused as refused:
        return tell(refused)
    with desk_for(folder, person(by), None) as desk:
        named = [one for one in imports_of(desk.fold(private=True)) if one.digest.startswith(digest.lower())]
        if len(named) != 1 or len(digest) < 4:
            words = N_("{digest} names {n} files. See: pollstead counts imports {folder}")
            said = message(words, digest=digest, n=len(named), folder=str(folder))
            print(fill(said), file=sys.stderr)
            return 1
        try:
            written = take_back(desk, named[0].digest, reason=reason, people=person(by), moment=moment_now())
        except NothingStands:
            print(text(N_("No number of this file stands any more.")), file=sys.stderr)
            return 1
    print(fill(message(N_("{n} numbers taken back; both stay in the record."), n=len(written))))
    return 0
