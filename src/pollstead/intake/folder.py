"""Read a county folder into one immutable snapshot, with every notice at once; nothing is written."""

from __future__ import annotations

import datetime as dt
import os
from pathlib import Path

import msgspec

from pollstead.election.canonical import digest_of
from pollstead.election.county import Election, Site
from pollstead.election.notice import Grade, Notice, NoticeKind, Place
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.intake import (
    contradictions,
    contradictions_around,
    contradictions_ballots,
    contradictions_fleet,
    contradictions_hours,
    open_items,
)
from pollstead.intake.files import FolderReader
from pollstead.intake.kept_tables import EARLIER, KeptTables, unfinished
from pollstead.intake.notices import cannot_read
from pollstead.intake.site_facts import notices_of as site_facts
from pollstead.intake.snapshot import sites_not_planned, snapshot


class Intake(Value, frozen=True, kw_only=True):
    """What a county folder gave: the snapshot with its digest, and everything that should be known.

    `election` is None where county.toml or sites.csv could not be read. `tables` are the files that
    were taken in. `not_planned` are the ids of sites on which a contradiction bears; rows that
    contradict one another are not in `election`.
    """

    election: Election | None
    notices: tuple[Notice, ...]
    digest: str = ""
    tables: tuple[str, ...] = ()
    not_planned: tuple[str, ...] = ()

    def of_kind(self, kind: NoticeKind, grade: Grade | None = None) -> tuple[Notice, ...]:
        """The notices of one kind, and of one grade where it is given."""
        return tuple(n for n in self.notices if n.kind is kind and (grade is None or n.grade is grade))

    @property
    def faults(self) -> tuple[Notice, ...]:
        """The notices that block something: cannot read, contradicts itself."""
        return self.of_kind(NoticeKind.FAULT)


def read_folder(path: str | os.PathLike[str], today: dt.date | None = None) -> Intake:
    """Read every table of the county folder at `path`; whatever is wrong becomes a notice, never an error.

    With `today`, an election day before it is an open item; without, the answer hangs on the tables alone.
    """
    folder = Path(path)
    read = FolderReader(folder)
    if not folder.is_dir():
        found = "not a folder" if folder.exists() else "not there"
        remedy = message(N_("Look at the path, or make the folder by: pollstead new FOLDER"))
        notice = cannot_read(
            "folder",
            Place(file=folder.name or str(folder)),
            message(N_("{folder} is not a county folder"), folder=str(folder)),
            found=found,
            wanted="a folder with county.toml and sites.csv",
            remedy=remedy,
        )
        return Intake(election=None, notices=(notice,))
    half = unfinished(folder)
    if half is not None:
        return Intake(election=None, notices=(_half_replaced(half),))
    taken = msgspec.structs.replace(read.all(), today=today)
    clashes = tuple(
        clash
        for checks in (
            contradictions,
            contradictions_hours,
            contradictions_fleet,
            contradictions_around,
            contradictions_ballots,
        )
        for check in checks.CHECKS
        for clash in check(taken)
    )
    notices = [*read.notices, *(clash.notice for clash in clashes)]
    notices += [notice for check in open_items.CHECKS for notice in check(taken)]
    election: Election | None = None
    not_planned: tuple[str, ...] = ()
    if taken.county is not None and "sites.csv" in read.taken_files:
        election = snapshot(taken, taken.county, clashes, read.assumptions)
        listed = tuple(dict.fromkeys(site.id for _, site in taken.of(Site)))
        not_planned = sites_not_planned(listed, clashes)
        notices += site_facts(election)
    return Intake(
        election=election,
        notices=_each_key_once(notices),
        digest=digest_of(election) if election is not None else "",
        tables=tuple(read.taken_files),
        not_planned=not_planned,
    )


def _half_replaced(copy: KeptTables) -> Notice:
    """Some tables are those before a change, some those after it: nothing may be read from them."""
    return cannot_read(
        "half-replaced",
        Place(file=EARLIER),
        message(N_("The tables are being replaced, or the program was stopped while it replaced them")),
        found=copy.name,
        wanted=N_("all tables of one time"),
        remedy=message(
            N_("Try again. If it stays, put them back by: pollstead facts pending FOLDER"),
        ),
    )


def _each_key_once(notices: list[Notice]) -> tuple[Notice, ...]:
    """Notices in the order of grade, place and key; two with one key are kept apart by their row."""
    kept: dict[str, Notice] = {}
    for notice in notices:
        key = notice.key
        if key in kept and kept[key] != notice and notice.place is not None:
            notice = msgspec.structs.replace(notice, subject=f"{notice.subject}#{notice.place.row}")
            key = notice.key
        kept.setdefault(key, notice)
    grades = {Grade.CANNOT_READ: 0, Grade.CONTRADICTS: 1, None: 2}

    def place(notice: Notice) -> tuple[int, str, int, str]:
        where = notice.place or Place(file="")
        return (grades[notice.grade], where.file, where.row or 0, notice.key)

    return tuple(sorted(kept.values(), key=place))
