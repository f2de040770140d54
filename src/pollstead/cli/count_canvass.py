"""``pollstead counts table``, ``freeze`` and ``report``: the canvass as files, and a version kept. Thin."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NamedTuple

import cyclopts

from pollstead.cli.county import Refused, refuse, store_of, tell
from pollstead.cli.fact_options import By, Why
from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.reconcile.counts.canvass_version import CanvassVersion
    from pollstead.record.fold import Fold
    from pollstead.work.canvass import Frozen

Version = Annotated[
    str,
    cyclopts.Parameter(
        help=text(N_("A version that was kept, by its number or digest; without it, as it stands now."))
    ),
]
Over = Annotated[
    bool, cyclopts.Parameter(name="--overwrite", negative=(), help=text(N_("Replace the file.")))
]


class CanvassRead(NamedTuple):
    """The canvass of a folder: facts, record, the version asked for, and which kept one it is."""

    election: Election
    folded: Fold
    version: CanvassVersion
    frozen: Frozen | None

    def name_of(self, person: str) -> str:
        """A person's name where the facts have it, else the id."""
        own = person.removeprefix("person/")
        return next((one.name for one in self.election.people if one.id == own and one.name), own)


def table(folder: Path, out: Path, /, *, version: Version = "", overwrite: Over = False) -> int:
    """Write the county table to OUT, a .csv or .xlsx file, the worklist with it; it is marked unofficial."""
    from pollstead.show.canvass_words import serials_of
    from pollstead.show.export.canvass import canvass_csv, canvass_xlsx

    kind = out.suffix.lower()
    if kind not in (".csv", ".xlsx"):
        print(text(N_("The table's name ends in .csv or .xlsx.")), file=sys.stderr)
        return 2
    try:
        read = read_canvass(folder, version)
    except Refused as refused:
        return tell(refused)
    if kind == ".csv":
        data = canvass_csv(read.version, text, read.name_of)
    else:
        data = canvass_xlsx(read.version, text, read.name_of, serials_of(read.election))
    return _write(out, data, read, overwrite=overwrite)


def report(folder: Path, out: Path, /, *, version: Version = "", overwrite: Over = False) -> int:
    """Write the report for the canvassing body to OUT, a .pdf file: a worksheet, marked unofficial."""
    from pollstead.show.packet.canvass_paper import canvass_paper, canvass_pdf
    from pollstead.show.packet.setting import PrintFailed
    from pollstead.show.words import spoken
    from pollstead.work.canvass import words_of_explanations
    from pollstead.work.clock import now_ms

    if out.suffix.lower() != ".pdf":
        print(text(N_("The report's name ends in .pdf.")), file=sys.stderr)
        return 2
    try:
        read = read_canvass(folder, version)
    except Refused as refused:
        return tell(refused)
    paper = canvass_paper(
        read.version,
        read.election,
        now_ms=now_ms(),
        frozen=read.frozen,
        language=spoken(),
        name_of=read.name_of,
        explained=words_of_explanations(read.folded),
    )
    try:
        data = canvass_pdf(paper)
    except PrintFailed as failed:
        print(fill(failed.said), file=sys.stderr)
        return 1
    return _write(out, data, read, overwrite=overwrite)


def freeze(folder: Path, /, *, by: By, reason: Why) -> int:
    """Keep the canvass as it stands now as a version under its digest, and say what it changed.

    It decides nothing: a later change is another version. Returns 1 where the last version holds just this.
    """
    from pollstead.cli.fact_desk import desk_for, moment_now, person
    from pollstead.reconcile.counts.canvass_version import change_between
    from pollstead.show.canvass_words import change_lines
    from pollstead.work.canvass import NothingNew, NotKept, load_version
    from pollstead.work.canvass import freeze as keep

    try:
        read = read_canvass(folder, "")
    except Refused as refused:
        return tell(refused)
    with desk_for(folder, person(by), None) as desk:
        try:
            kept = keep(desk, read.version, reason=reason, people=person(by), moment=moment_now())
        except NothingNew:
            print(
                text(N_("The last version holds just these numbers; nothing new was kept.")), file=sys.stderr
            )
            return 1
        words = N_("Version {number} is kept: {differences} of {rows} rows differ; digest {digest}")
        said = message(
            words, number=kept.number, differences=kept.differences, rows=kept.rows, digest=kept.digest
        )
        print(fill(said))
        if kept.before:
            try:
                change = change_between(load_version(desk.store, kept.before), read.version)
            except NotKept:
                print(text(N_("The numbers of the version before are not kept on this computer.")))
            else:
                for of, before, after in change_lines(change, text):
                    print(f"  {of}: {before} → {after}")
    return 0


def read_canvass(folder: Path, version: str) -> CanvassRead:
    """The canvass of a folder, as it stands now or as a kept version; raises Refused."""
    from pollstead.cli.reconcile import read_canvass_days, read_dates
    from pollstead.reconcile.canvass import table_of_days
    from pollstead.work.canvass import NotKept, frozen_versions, load_version, version_now

    with store_of(folder) as store:
        read = read_canvass_days(store) if not version else read_dates(store, ())
        if not version:
            found = table_of_days(read.reports, read.election, read.folded)
            now = version_now(found, read.election, read.folded)
            return CanvassRead(read.election, read.folded, now, None)
        kept = [
            one
            for one in frozen_versions(read.folded)
            if str(one.number) == version or (len(version) >= 8 and one.digest.startswith(version.lower()))
        ]
        if len(kept) != 1:
            refuse(
                N_("{version} names {n} kept versions. Versions: {known}"),
                version=version,
                n=len(kept),
                known=", ".join(f"{v.number} ({v.digest[:12]})" for v in frozen_versions(read.folded)) or "0",
            )
        try:
            held = load_version(store, kept[0].digest)
        except NotKept:
            refuse(N_("The numbers of version {version} are not kept on this computer."), version=version)
        return CanvassRead(read.election, read.folded, held, kept[0])


def _write(out: Path, data: bytes, read: CanvassRead, *, overwrite: bool) -> int:
    from pollstead.show.packet.typesetting import write_whole

    if out.exists() and not overwrite:
        words = N_("{out} is there already; name a new file, or say --overwrite.")
        print(fill(message(words, out=str(out))), file=sys.stderr)
        return 1
    try:
        write_whole(out, data)
    except OSError as error:
        words = N_("{out} cannot be written: {why}")
        print(fill(message(words, out=str(out), why=error.strerror or "")), file=sys.stderr)
        return 1
    print(
        fill(
            message(
                N_("{out} written; unofficial; digest {digest}"), out=str(out), digest=read.version.digest
            )
        )
    )
    return 0
