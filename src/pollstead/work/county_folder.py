"""What all work on a county folder shares: its facts, its store, its plan versions, and a plain refusal."""

from __future__ import annotations

import importlib.metadata
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import msgspec

from pollstead.election.county import Election
from pollstead.election.notice import Notice
from pollstead.election.words import N_, Message, message
from pollstead.plan.terms.version import EngineVersion, PlanVersion, Told

if TYPE_CHECKING:
    from pollstead.intake.folder import Intake
    from pollstead.store.opening import Store

MoreNotices = Callable[[Election], tuple[Notice, ...]]
"""What somebody else has to say about facts that were read."""

ENGINES = ("pollstead", "numpy", "numba", "tzdata")
"""What can change a result when its version changes."""

DATABASE = "pollstead.db"


class Refused(Exception):
    """Something asked for could not be done; the message says what to do next. Ends with code 1."""

    def __init__(self, said: Message) -> None:
        super().__init__(said.english())
        self.said = said


def refuse(template: str, **params: int | str) -> NoReturn:
    """Stop with a sentence a person can act on."""
    raise Refused(message(template, **params))


def engines() -> tuple[EngineVersion, ...]:
    """The versions of all that can change a result."""
    return tuple(EngineVersion(name=name, version=importlib.metadata.version(name)) for name in ENGINES)


def county_folder(folder: Path) -> Path:
    """`folder` itself; refuses one that is not there."""
    if not folder.is_dir():
        refuse(
            N_("{folder} is not a county folder. Look at the path, or make one by: pollstead new FOLDER"),
            folder=str(folder),
        )
    return folder


def facts_of(folder: Path, also_told: MoreNotices | None = None) -> tuple[Election, Intake]:
    """The facts of a county folder; refuses one whose county.toml or sites.csv cannot be read.

    What `also_told` says of the facts comes after the intake's own notices: what a part that this one may
    not know (letters that cannot be printed) has to say.
    """
    from pollstead.intake.folder import read_folder

    intake = read_folder(county_folder(folder))
    if intake.election is None:
        refuse(
            N_("{folder} cannot be planned: {fault}. See: pollstead check {folder}"),
            folder=str(folder),
            fault=intake.faults[0].text.english() if intake.faults else N_("no county.toml or sites.csv"),
        )
    election = intake.election
    if also_told is not None:
        intake = msgspec.structs.replace(intake, notices=(*intake.notices, *also_told(election)))
    return election, intake


def store_of(folder: Path) -> Store:
    """The store of a county folder that has plan versions; refuses one that has no store yet."""
    from pollstead.store.opening import open_store

    if not (county_folder(folder) / DATABASE).exists():
        refuse(
            N_("{folder} has no plan version yet. Make one by: pollstead plan {folder}"), folder=str(folder)
        )
    try:
        return open_store(folder)
    except ValueError as error:
        refuse(N_("The store of {folder} cannot be opened: {why}"), folder=str(folder), why=str(error))


def digests(store: Store) -> tuple[str, ...]:
    """The digests of all plan versions, the oldest first: version 1, 2, 3 …"""
    return tuple(line.digest for line in reversed(store.plans.list()))


def digest_named(store: Store, name: str) -> str:
    """The digest that a number (1 is the oldest), the beginning of a digest, or "" (the newest) names."""
    kept = digests(store)
    if not kept:
        refuse(N_("There is no plan version yet. Make one by: pollstead plan FOLDER"))
    if not name:
        return kept[-1]
    if name.isascii() and name.isdecimal() and 1 <= int(name) <= len(kept):
        return kept[int(name) - 1]
    found = [digest for digest in kept if len(name) >= 4 and digest.startswith(name.lower())]
    if len(found) != 1:
        refuse(
            N_("{name} names {count} plan versions. Give a number from 1 to {last} or 8 digits of a digest."),
            name=name,
            count=len(found),
            last=len(kept),
        )
    return found[0]


def version_of(store: Store, digest: str) -> PlanVersion:
    """One whole plan version."""
    return msgspec.json.decode(store.plans.load(digest), type=PlanVersion)


def told_of(store: Store, version: PlanVersion) -> Told:
    """What intake told when a version was made; nothing for a version that keeps none."""
    if not version.told:
        return Told()
    return msgspec.json.decode(store.snapshots.load(version.told), type=Told)


def parent_digest(store: Store) -> str:
    """The version that the next one comes after: the one approved last, else the newest; "" for none."""
    kept = digests(store)
    approved = store.fold(private=True).find("plan", "plan.approved")
    if approved is not None:
        readings = sorted(approved.current, key=lambda reading: (reading.utc_ms, reading.event))
        for reading in reversed(readings):
            if str(reading.value["digest"]) in kept:
                return str(reading.value["digest"])
    return kept[-1] if kept else ""
