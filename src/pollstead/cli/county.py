"""What commands about a county folder share: facts, store, plan versions, people's decisions."""

from __future__ import annotations

import importlib.metadata
import sys
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import msgspec

from pollstead.election.county import Election, FixedValue
from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.words import N_, Message, message
from pollstead.plan.terms.version import Decisions, EngineVersion, PlanVersion
from pollstead.show.words import fill

if TYPE_CHECKING:
    from pollstead.intake.folder import Intake
    from pollstead.record.fold import Fact
    from pollstead.store.opening import Store

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


def tell(refused: Refused) -> int:
    """Print why something could not be done, and give the exit code."""
    print(fill(refused.said), file=sys.stderr)
    return 1


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


def facts_of(folder: Path) -> tuple[Election, Intake]:
    """The facts of a county folder; refuses one whose county.toml or sites.csv cannot be read."""
    from pollstead.intake.folder import read_folder

    intake = read_folder(county_folder(folder))
    if intake.election is None:
        refuse(
            N_("{folder} cannot be planned: {fault}. See: pollstead check {folder}"),
            folder=str(folder),
            fault=intake.faults[0].text.english() if intake.faults else N_("no county.toml or sites.csv"),
        )
    return intake.election, with_letters(intake)


def with_letters(intake: Intake) -> Intake:
    """The intake with an open item for all words whose letters cannot be printed, after its own notices."""
    from pollstead.show.letters import letters_without_font

    if intake.election is None:
        return intake
    lacking = letters_without_font(intake.election)
    return msgspec.structs.replace(intake, notices=(*intake.notices, *lacking))


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


def parent_digest(store: Store) -> str:
    """The version that the next one comes after: the one approved last, else the newest; "" for none."""
    from pollstead.record.fold import fold

    kept = digests(store)
    approved = fold(store.events.all()).find("plan", "plan.approved")
    if approved is not None:
        readings = sorted(approved.current, key=lambda reading: (reading.utc_ms, reading.event))
        for reading in reversed(readings):
            if str(reading.value["digest"]) in kept:
                return str(reading.value["digest"])
    return kept[-1] if kept else ""


def decisions_of(store: Store) -> tuple[Decisions, tuple[Notice, ...]]:
    """The values that people fixed by events, and an open item where two of them do not agree.

    Only plan tables are meant here; amended facts are read with the facts.
    """
    from pollstead.plan.stations.counts import TABLE
    from pollstead.record.fold import fold

    folded = fold(store.events.all(), store.sides.fields())
    fixed: list[FixedValue] = []
    notices: list[Notice] = []
    for fact in folded.named("value"):
        if fact.key.get("table") != TABLE or not fact.current:
            continue
        if fact.differing:
            notices.append(_two_values(fact))
            continue
        reading = fact.current[-1]
        if reading.kind == "value.fixed" and reading.value["value"] is not None:
            private = reading.private
            fixed.append(
                FixedValue(
                    table=TABLE,
                    row=str(fact.key["row"]),
                    field=str(fact.key["field"]),
                    value=str(reading.value["value"]),
                    reason=str(private["reason"]) if private is not None else N_("reason not shown here"),
                )
            )
    return Decisions(fixed=tuple(sorted(fixed, key=lambda f: (f.row, f.field)))), tuple(notices)


def _two_values(fact: Fact) -> Notice:
    row, field = str(fact.key["row"]), str(fact.key["field"])
    values = ", ".join(sorted({str(reading.value.get("value", "")) for reading in fact.current}))
    return Notice(
        kind=NoticeKind.OPEN_ITEM,
        rule="fixed-twice",
        subject=f"{fact.key['table']}/{row}",
        day=field,
        text=message(
            N_("People fixed different values for {row} {field} ({values}); none is used."),
            row=row,
            field=field,
            values=values,
        ),
        remedy=message(N_("Choose one of them by a new decision.")),
        depends=(values,),
    )
