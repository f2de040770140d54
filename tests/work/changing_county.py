"""A tiny invented county, planned in a blink, for tests that change it and kill what changes it."""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from typing import Any

import pollstead
from pollstead.election.county import Election
from pollstead.plan.seals.expected import expected_list
from pollstead.plan.terms.part import NoWatch, Outcome
from pollstead.plan.terms.version import PlanVersion
from pollstead.reconcile.changed.terms import Act, PlannedSheet
from pollstead.reconcile.issued import lines_of
from pollstead.record.event import Means, Part, Person
from pollstead.record.kinds.offices import ExpectedIssued, PlanApproved
from pollstead.record.kinds.offices import ExpectedList as ExpectedLines
from pollstead.record.write import Moment, list_side
from pollstead.show.packet.changed_printer import PacketPrinter
from pollstead.store.desk import Desk
from pollstead.store.sheets import Sheet
from pollstead.work.changing import Proposal, propose
from pollstead.work.changing_steps import Step, begin, carry_on
from pollstead.work.changing_terms import Asked
from pollstead.work.county_folder import facts_of, version_of
from pollstead.work.facts import desk_of
from pollstead.work.paper import ChangePrint
from pollstead.work.planning import plan_folder

SHIPPED = Path(pollstead.__file__).parent / "intake" / "data"
NOW = 1_857_181_600_000
"""2028-11-06 22:46 on the wall clock in New York: the evening before (a Monday)."""
WHO = "P010"
TABLES = {
    "county.toml": 'county = "Larkmoor"\nname = "Invented"\nelection_day = 2028-11-07\n'
    'zone = "America/New_York"\ninvented = true\n',
    "sites.csv": "id,name,address,registered,openers,contact\n"
    "T1,Test Hall,1 Mill Lane,900,P001 P002,P001\nT2,Far Hall,9 Hill Road,700,P003 P004,P003\n",
    "hours.csv": "site,date,opens,closes\n*,2028-11-07,07:00,20:00\n",
    "people.csv": "id,name,role,site,phone\nP001,Ida Fenwright,site lead,T1,555-0110\n"
    "P002,Tobin Oakley,deputy lead,T1,555-0111\nP003,Odell Briarly,site lead,T2,555-0112\n"
    "P004,Una Tolliver,deputy lead,T2,555-0113\nP005,Wren Castellan,warehouse manager,,555-0114\n"
    "P006,Zelda Yarrow,reserve,,555-0115\nP010,Marit Ostrander,coordinator,,555-0116\n",
    "devices.csv": "id,serial,kind,tag,home,memory_devices,lifetime_counter\n"
    "device/scanner/0001,LM-S-0001,scanner,LM-TAG-S1,T1,LM-M-0001,100\n"
    "device/scanner/0002,LM-S-0002,scanner,LM-TAG-S2,T2,LM-M-0002,200\n"
    "device/scanner/0003,LM-S-0003,scanner,LM-TAG-S3,,LM-M-0003,300\n",
    "closure_seals.csv": "device,closure,position,number\n"
    + "".join(
        f"device/scanner/000{n},{closure},1,00480{n}{i}\n"
        for n in (1, 2, 3)
        for i, closure in enumerate(("memory-door", "lid"))
    ),
    "seal_ranges.csv": "seal_kind,series,first,last\npull-tight seal,LM-A,0048001,0048400\n",
}


class QuickPrinter(PacketPrinter):
    """Draws sheets up as the real printer does, and writes a word in place of a set page."""

    def print_change(self, job: ChangePrint) -> tuple[tuple[str, ...], tuple[Sheet, ...]]:
        """The same sheets, without a typesetter."""
        folder = Path(job.folder)
        folder.mkdir(parents=True, exist_ok=True)
        name = f"change-{job.number:03d}-sheets.pdf"
        (folder / name).write_text("pages", encoding="ascii")
        election = job.after[0]
        planned = tuple(new.sheet for new in job.consequence.prints)
        serials = self.serials(election, job.digest, planned)
        replaces = {new.sheet.place: " ".join(new.replaces) for new in job.consequence.prints}
        return (name,), tuple(
            sheet_of(sheet, serials[sheet.place], job.digest, replaces[sheet.place]) for sheet in planned
        )


def sheet_of(sheet: PlannedSheet, serial: str, digest: str, replaces: str = "") -> Sheet:
    """A planned sheet as the store keeps it once it is printed."""
    return Sheet(
        serial=serial,
        kind=sheet.kind.value,
        site=sheet.site,
        day=sheet.day,
        plan_digest=digest,
        list_digest="",
        printed_utc_ms=NOW,
        key=sheet.key,
        language=sheet.language,
        content=sheet.content,
        replaces=replaces,
    )


def quick_sizing() -> None:
    """One station of each type: sizing is not what these tests are about."""
    from pollstead.plan.lines import run as module
    from pollstead.plan.terms.lines import RiskEstimate, SizingAnswer, StationCounts, WaitFigures

    def one_of_each(given: Any, *rest: Any, **more: Any) -> Outcome[tuple[SizingAnswer, ...]]:
        answers = []
        for site in given.sites:
            counts = StationCounts(**dict.fromkeys(StationCounts.__struct_fields__, 1))
            figures = WaitFigures(
                counts=counts,
                risk=RiskEstimate(over=0, days=1, low_ppm=0, high_ppm=975_000),
                mean_wait_ms=0,
                mean_by_stage_ms=(0, 0, 0, 0),
                p50_longest_ms=0,
                p90_longest_ms=0,
                p95_longest_ms=0,
                over_limit_ppm=0,
                last_out_ms=site.days[0].close_ms,
                binding=None,
            )
            answers.append(
                SizingAnswer(
                    site=site.site,
                    date=site.days[0].date,
                    counts=counts,
                    limit=site.limit,
                    figures=figures,
                    per_day=(figures,) * len(site.days),
                    what_ifs=(),
                    floor=site.floor,
                    ceiling=site.ceiling,
                    fixed=site.fixed,
                    meets_limit=True,
                    least=True,
                    search_days=1,
                    complete=True,
                )
            )
        return Outcome(tuple(answers))

    module.run = one_of_each  # type: ignore[assignment]


def moment(at: int = NOW) -> Moment:
    """A moment in the evening before."""
    return Moment(utc_ms=at, offset_min=-300, uncertainty_ms=0)


def people() -> tuple[Person, ...]:
    """The coordinator."""
    return (Person(person=f"person/{WHO}", means=Means.NAME_ONLY, part=Part.AUTHOR),)


def make(folder: Path, *, approve: bool = True) -> Path:
    """The county with a plan, approved by name, every list issued and every sheet printed."""
    folder.mkdir(parents=True)
    shutil.copy(SHIPPED / "station_types_a.toml", folder / "station_types.toml")
    for name, text in TABLES.items():
        (folder / name).write_text(text, encoding="utf-8")
    digest = plan_folder(folder, watch=NoWatch(), workers=1)
    election, _ = facts_of(folder)
    desk = desk_of(folder, election, people(), moment(NOW - 10_000))
    version = version_of(desk.store, digest)
    if approve:
        desk.recorder.record(
            PlanApproved(digest=digest), subject="plan", people=people(), moment=moment(NOW - 9000)
        )
    issue(desk, election, version, digest)
    printer = QuickPrinter()
    planned = printer.planned(election, version, digest, ("T1", "T2"), "en-US")
    serials = printer.serials(election, digest, planned)
    desk.store.sheets.add(sheet_of(sheet, serials[sheet.place], digest) for sheet in planned)
    desk.close()
    return folder


def issue(desk: Desk, election: Election, version: PlanVersion, digest: str) -> None:
    """Issue the list of every site and day."""
    for site in version.sites:
        for day in site.demand:
            lines = lines_of(expected_list(election, version, site.site, day.date, plan_digest=digest))
            salt = site.site.encode().ljust(32, b"0")
            desk.recorder.record(
                ExpectedIssued(list_digest=list_side(lines, salt).digest, plan=digest),
                subject=f"site/{site.site}",
                site=f"site/{site.site}",
                day=day.date.isoformat(),
                people=people(),
                moment=moment(NOW - 8000),
                private=ExpectedLines(lines=lines),
                salt=salt,
            )


def open_desk_of(folder: Path) -> Desk:
    """The desk of the folder as it stands."""
    election, _ = facts_of(folder)
    return desk_of(folder, election, people(), moment())


SWAP = Asked(act=Act.SWAP_DEVICE, old="device/scanner/0001", new="device/scanner/0003")


def look(desk: Desk, folder: Path, asked: Asked = SWAP, printer: Any = None) -> Proposal:
    """What the act would bring."""
    return propose(folder, desk.store, asked, printer or QuickPrinter(), now_ms=NOW, watch=NoWatch())


def do(desk: Desk, folder: Path, asked: Asked = SWAP, at: int = NOW, **more: Any) -> Any:
    """Look at an act and carry it out."""
    printer = more.pop("printer", None) or QuickPrinter()
    proposal = look(desk, folder, asked, printer)
    begin(desk, proposal, by=WHO, reason="It does not start", moment=moment(at), **more)
    return carry_on(folder, desk, printer, watch=NoWatch())


def killed_after(folder: Path, last: Step) -> int:
    """Carry on in a process of its own that ends without a word after a step; its exit code."""
    child = os.fork()
    if child:
        return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])

    def stop(step: Step) -> None:
        if step is last:
            os._exit(9)

    try:
        carry_on(folder, open_desk_of(folder), QuickPrinter(), watch=NoWatch(), after_step=stop)
    finally:
        os._exit(1)
