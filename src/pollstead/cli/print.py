"""``pollstead print``: site packets and expected lists of a plan version, as PDF. Thin: load, print, keep."""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import cyclopts
import msgspec

from pollstead.cli.county import (
    Refused,
    digest_named,
    digests,
    parent_digest,
    refuse,
    store_of,
    tell,
    version_of,
)
from pollstead.cli.options import AsJson
from pollstead.cli.progress import progress_watch
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.plan.terms.part import Cancelled, Watch
from pollstead.plan.terms.version import PlanVersion, SheetKind
from pollstead.show.words import fill, spoken, text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pollstead.election.county import Election
    from pollstead.election.instants import Instant
    from pollstead.reconcile.changed.on_the_day import Swap
    from pollstead.show.packet.given import SiteGiven
    from pollstead.show.packet.printing import PrintReport
    from pollstead.store.opening import Store

FORMAT = "pollstead print 1"
PACKETS = "packets"
MOST_WORKERS = 4
NAMES = {kind.name.lower(): kind for kind in SheetKind if kind is not SheetKind.CHANGE}
"""What ``--what`` takes: cover, packing, run, lines, opening, closing, seals, balance, expected."""

NOT_PRINTED = N_(
    "Site {site} was not printed: no font here has the letters {letters}. Write those words in letters that "
    "can be printed, or add an open font for them; then plan and print again. Where FOLDER/packets has "
    "files of this site, they are older."
)

app = cyclopts.App(name="print", help=text(N_("Print site packets.")))


class Printed(Value, frozen=True, kw_only=True):
    """What a print made: the plan version, files and pages, time and memory, what was kept of it.

    `not_printed` are sites left out, each with the letters of its words that no font here holds.
    """

    digest: str
    number: int
    approved: bool
    sites: int
    files: int
    pages: int
    milliseconds: int
    peak_memory_bytes: int
    new_sheets: int
    recorded: int
    folder: str
    paths: tuple[str, ...] = ()
    not_printed: tuple[tuple[str, str], ...] = ()


@app.default
def print_(
    folder: Path,
    /,
    *,
    site: Annotated[
        tuple[str, ...], cyclopts.Parameter(help=text(N_("Only this site; may be given again.")))
    ] = (),
    what: Annotated[
        str,
        cyclopts.Parameter(
            help=text(
                N_(
                    "Only these, by comma: cover, packing, run, lines, opening, closing, seals, balance, "
                    "expected."
                )
            )
        ),
    ] = "",
    version: Annotated[
        str,
        cyclopts.Parameter(help=text(N_("Plan version by number or digest; else the one approved last."))),
    ] = "",
    paper: Annotated[str, cyclopts.Parameter(help=text(N_("letter or a4.")))] = "letter",
    together: Annotated[
        bool, cyclopts.Parameter(negative=(), help=text(N_("Many sites in one file, for a print shop.")))
    ] = False,
    large: Annotated[
        bool,
        cyclopts.Parameter(
            negative=(), help=text(N_("In large type, 18 points; the same sheets, in files of their own."))
        ),
    ] = False,
    workers: Annotated[
        int, cyclopts.Parameter(help=text(N_("Processes that set pages; 0 takes what the computer has.")))
    ] = 0,
    by: Annotated[
        str, cyclopts.Parameter(help=text(N_("Id of the person who prints; writes packet.printed events.")))
    ] = "",
    as_json: AsJson = False,
) -> int:
    """Write two files for each site into FOLDER/packets: the packet, and apart from it the expected list.

    Returns 0 when all was printed, 1 where something could not be, 2 for a wrong option.
    """
    kinds = _kinds(what)
    if kinds is None or paper not in ("letter", "a4") or workers < 0:
        print(
            text(N_("Give --what names from its list, --paper letter or a4, and --workers 0 or more.")),
            file=sys.stderr,
        )
        return 2
    try:
        made = print_folder(
            folder,
            watch=progress_watch(),
            sites=site,
            kinds=kinds,
            version=version,
            paper=paper,
            together=together,
            large=large,
            workers=workers,
            by=by,
        )
    except Refused as refused:
        return tell(refused)
    except Cancelled:
        print(text(N_("Stopped; files that were finished are kept.")), file=sys.stderr)
        return 1
    if as_json:
        json.dump({"format": FORMAT, **msgspec.to_builtins(made)}, sys.stdout, ensure_ascii=False, indent=2)
        print()
    else:
        _say(made)
    for left_out, letters in made.not_printed:
        print(fill(message(NOT_PRINTED, site=left_out, letters=letters)), file=sys.stderr)
    return 1 if made.not_printed else 0


def print_folder(
    folder: Path,
    *,
    watch: Watch,
    site: str = "",
    sites: tuple[str, ...] = (),
    kinds: tuple[SheetKind, ...] = tuple(SheetKind),
    version: str = "",
    paper: str = "letter",
    together: bool = False,
    large: bool = False,
    workers: int = 0,
    by: str = "",
) -> Printed:
    """Print the plan version approved last, else the newest, and keep the serials of its sheets.

    `site` or `sites` choose sites by id; empty means all. Raises `Refused` with what to do next and
    `Cancelled` from `watch`.
    """
    from pollstead.election.instants import Instant
    from pollstead.reconcile.changed.on_the_day import swaps_of
    from pollstead.reconcile.custody.after_test import as_tested
    from pollstead.reconcile.observed import observations_of
    from pollstead.show.fonts import named
    from pollstead.show.packet.printing import print_packets
    from pollstead.show.packet.setting import PrintFailed
    from pollstead.work.clock import now_ms

    folder = Path(folder)
    chosen = (*sites, site) if site else sites
    with store_of(folder) as store:
        digest = digest_named(store, version) if version else parent_digest(store)
        if not digest:
            refuse(N_("There is no plan version yet. Make one by: pollstead plan FOLDER"))
        plan = version_of(store, digest)
        election = _election(store, plan)
        wanted = _wanted(plan, chosen)
        now, folded = Instant(utc_ms=now_ms()), store.fold()
        if together and chosen:
            refuse(N_("Give either --together or --site, not both."))
        try:
            report = print_packets(
                _givens(
                    election, as_tested(plan, folded), digest, wanted, now, swaps_of(observations_of(folded))
                ),
                folder / PACKETS,
                count=len(wanted),
                kinds=kinds,
                paper=paper,
                together=together,
                large=large,
                workers=workers or min(MOST_WORKERS, os.cpu_count() or 1),
                progress=lambda done, total: watch.step("packets", done, total),
            )
        except PrintFailed as error:
            raise Refused(error.said) from error
        except ValueError as error:
            refuse(N_("Not everything could be printed. {why}"), why=str(error))
        return Printed(
            digest=digest,
            number=digests(store).index(digest) + 1,
            approved=_is_approved(store, digest),
            sites=len(wanted) - len(report.not_printed),
            files=len(report.files),
            pages=report.pages,
            milliseconds=report.milliseconds,
            peak_memory_bytes=report.peak_memory_bytes,
            new_sheets=_keep(store, election, report, digest, now),
            recorded=_record(folder, store, election, report, digest, now, by) if by else 0,
            folder=str(folder / PACKETS),
            paths=tuple(file.path for file in report.files),
            not_printed=tuple((left.site, named(left.letters)) for left in report.not_printed),
        )


def _kinds(what: str) -> tuple[SheetKind, ...] | None:
    """The sheets that ``--what`` names, all for an empty text, None for a name that is not one."""
    names = [name.strip().lower() for name in what.split(",") if name.strip()]
    if any(name not in NAMES for name in names):
        return None
    return tuple(kind for name, kind in NAMES.items() if name in names) if names else tuple(SheetKind)


def _wanted(plan: PlanVersion, chosen: tuple[str, ...]) -> tuple[str, ...]:
    known = tuple(site.site for site in plan.sites)
    for name in chosen:
        if name not in known:
            refuse(
                N_("The plan has no site {site}. Its sites: {known}"),
                site=name,
                known=", ".join(known[:20]) + (" …" if len(known) > 20 else ""),
            )
    if not known:
        refuse(N_("The plan has no sites to print. See: pollstead check FOLDER"))
    return tuple(name for name in known if not chosen or name in chosen)


def _givens(
    election: Election,
    plan: PlanVersion,
    digest: str,
    sites: tuple[str, ...],
    now: Instant,
    swaps: tuple[Swap, ...],
) -> Iterator[SiteGiven]:
    from pollstead.plan.seals.expected import expected_list
    from pollstead.show.packet.given import SiteGiven, box_counts

    boxes = box_counts(election, plan)
    for site in sites:
        days = plan.site(site).demand
        lists = tuple(expected_list(election, plan, site, day.date, plan_digest=digest) for day in days)
        yield SiteGiven(
            election=election,
            plan=plan,
            digest=digest,
            site=site,
            printed_at=now,
            language=spoken(),
            expected=lists,
            boxes=boxes,
            swaps=swaps,
        )


def _election(store: Store, plan: PlanVersion) -> Election:
    from pollstead.election.county import Election

    return msgspec.json.decode(store.snapshots.load(plan.snapshot), type=Election)


def _is_approved(store: Store, digest: str) -> bool:
    fact = store.fold().find("plan", "plan.approved")
    return fact is not None and any(str(r.value["digest"]) == digest for r in fact.current)


def _keep(store: Store, election: Election, report: PrintReport, digest: str, now: Instant) -> int:
    """Keep the serials of sheets that were not printed before; a second print has the same serials."""
    from pollstead.store.sheets import Sheet
    from pollstead.work.paper import list_digests

    known = {sheet.serial for sheet in store.sheets.of()}
    in_force = list_digests(store.fold())
    new = []
    for file in report.files:
        for sheet in file.sheets:
            if sheet.serial in known:
                continue
            known.add(sheet.serial)
            new.append(
                Sheet(
                    serial=sheet.serial,
                    kind=sheet.kind.value,
                    site=sheet.site,
                    day=sheet.day,
                    plan_digest=digest,
                    list_digest=in_force.get((sheet.site, sheet.day), ""),
                    printed_utc_ms=now.utc_ms,
                    key=sheet.key,
                    language=sheet.language,
                    content=sheet.content,
                    replaces=" ".join(sheet.replaces),
                )
            )
    store.sheets.add(new)
    return len(new)


def _record(
    folder: Path,
    store: Store,
    election: Election,
    report: PrintReport,
    digest: str,
    now: Instant,
    by: str,
) -> int:
    """Write one ``packet.printed`` event for each site, by the person given; how many were written."""
    from pollstead.record.event import Means, Part, Person
    from pollstead.record.kinds.offices import PacketPrinted
    from pollstead.record.write import Moment
    from pollstead.store.desk import open_desk

    person = by if by.startswith("person/") else f"person/{by}"
    people = (Person(person=person, means=Means.NAME_ONLY, part=Part.AUTHOR),)
    moment = Moment(utc_ms=now.utc_ms, offset_min=now.offset_min(election.zone_name), uncertainty_ms=0)
    by_site: dict[str, list[str]] = {}
    for file in report.files:
        for sheet in file.sheets:
            by_site.setdefault(sheet.site, []).append(f"sheet/{sheet.serial}")
    try:
        desk = open_desk(folder)
    except ValueError as error:
        refuse(N_("Printed, but not written into the record: {why}"), why=str(error))
    try:
        for site, sheets in sorted(by_site.items()):
            desk.recorder.record(
                PacketPrinted(sheets=tuple(sheets), plan=digest),
                subject=f"site/{site}",
                site=f"site/{site}",
                people=people,
                moment=moment,
            )
    except ValueError as error:
        refuse(N_("Printed, but not written into the record: {why}"), why=str(error))
    finally:
        desk.close()
    return len(by_site)


def _say(made: Printed) -> None:
    state = text(N_("approved")) if made.approved else text(N_("not approved yet"))
    print(
        fill(
            message(
                N_("Plan version {number}, digest {digest} ({state})."),
                number=made.number,
                digest=made.digest[:16],
                state=state,
            )
        )
    )
    print(
        fill(
            message(
                N_("{sites} sites, {files} files, {pages} pages in {seconds} s; largest process {mb} MB."),
                sites=made.sites,
                files=made.files,
                pages=made.pages,
                seconds=f"{made.milliseconds / 1000:.1f}",
                mb=made.peak_memory_bytes // 1_000_000,
            )
        )
    )
    print(
        fill(
            message(
                N_("{new} sheet serials are new in the store; {recorded} events written."),
                new=made.new_sheets,
                recorded=made.recorded,
            )
        )
    )
    print(fill(message(N_("Files are in {folder}."), folder=made.folder)))
    print(
        text(
            N_(
                "Print the expected lists as a job of their own and pack them in their own envelopes, "
                "never with the blank sheets."
            )
        )
    )
