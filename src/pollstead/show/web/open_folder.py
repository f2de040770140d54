"""One open county folder as the pages need it: facts, plan versions, the folded record, one way to write.

Pages read through this object and write through `OpenFolder.write` alone, so that every event of
the app has an author, a moment and the same recording device.
"""

from __future__ import annotations

import contextlib
import functools
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Final

import msgspec

from pollstead.election.county import Election, Person
from pollstead.election.instants import Instant
from pollstead.election.notice import Notice
from pollstead.intake.folder import Intake, read_folder
from pollstead.plan.terms.version import PlanVersion
from pollstead.record import event as record_event
from pollstead.record.event import Means, Part, Signed
from pollstead.record.fold import Fact, Fold, Reading
from pollstead.record.kinds.body import Body, Private
from pollstead.record.kinds.offices import FixedPrivate, ValueFixed
from pollstead.record.write import Moment, Recorder
from pollstead.show.web.ahead import Ahead
from pollstead.show.web.capabilities import Role
from pollstead.show.web.kept_indexes import KeptIndexes
from pollstead.show.web.lines_view import KeptLines
from pollstead.show.web.names import kept_names
from pollstead.show.web.prepared import prepare_types
from pollstead.show.web.timings_held import HeldTimings
from pollstead.show.web.uploads import Uploads
from pollstead.show.web.who import Who
from pollstead.store.desk import Desk, begin_desk, open_desk
from pollstead.store.opening import Store, open_store
from pollstead.store.versions import PlanVersion as VersionLine
from pollstead.work.facts import mend_tables

if TYPE_CHECKING:
    from pollstead.intake.fact_edits import Edit
    from pollstead.intake.tab_rows import TabRows
    from pollstead.work.fact_changes import StandingChange
    from pollstead.work.facts import FactsTaken
    from pollstead.work.stock_acts import SecondStep, Withdrawal

# Nobody has compared this computer's clock with another one: its moments are taken as within a minute.
CLOCK_UNCERTAINTY_MS: Final = 60_000
UTC: Final = "UTC"


class Clash(ValueError):
    """Nothing can be written here now: the folder's record and its facts do not go together."""


def wall_clock_ms() -> int:
    """This computer's clock, UTC milliseconds."""
    return time.time_ns() // 1_000_000


class OpenFolder:
    """The county folder that the app serves. Its methods may be called from several threads."""

    def __init__(self, path: Path, clock: Callable[[], int] = wall_clock_ms) -> None:
        prepare_types()
        self.path = path
        # Whatever stopped halfway before is put back before anything is read.
        mend_tables(path)
        self.store: Store = open_store(path)
        self.clock = clock
        self._writing = threading.Lock()
        self._folding = threading.Lock()
        self._read: tuple[tuple[tuple[str, int, int], ...], Intake] | None = None
        self._rows: tuple[tuple[tuple[str, int, int], ...], tuple[TabRows, ...]] | None = None
        self._desk: Desk | None = None
        self._zone = ""
        from pollstead.show.web.day import KeptReports
        from pollstead.show.web.waits_view import KeptWaits

        self.kept_reports = KeptReports()
        self.kept_waits = KeptWaits()
        self.ahead = Ahead()
        self.kept_indexes = KeptIndexes()
        self.kept_lines = KeptLines()
        self.uploads = Uploads()
        self.timings = HeldTimings()

    def close(self) -> None:
        """Close the store, and end what is still made ahead."""
        self.ahead.stop()
        if self._desk is not None:
            self._desk.close()
        self.store.close()

    # Facts -----------------------------------------------------------------------------------------

    def election(self) -> Election | None:
        """The county as the current plan version saw it; before there is one, as its tables are now.

        None where the tables that every county needs cannot be read.
        """
        version = self.current()
        election = self._tables().election if version is None else self.snapshot(version.snapshot)
        # Kept for `moment`: each event of a long form needs it, and asking anew would fold the record anew.
        self._zone = election.zone_name if election is not None else self._zone
        return election

    def read_faults(self) -> tuple[Notice, ...]:
        """What keeps parts of the tables out, as they are now."""
        return self._tables().faults

    def tables_notices(self) -> tuple[Notice, ...]:
        """Every notice about the tables as they are now."""
        return self._tables().notices

    def _tables(self) -> Intake:
        state = _state_of(self.path)
        with self._folding:
            if self._read is None or self._read[0] != state:
                self._read = (state, read_folder(self.path))
            return self._read[1]

    def snapshot(self, digest: str) -> Election:
        """The facts that are kept under `digest`."""
        return _election(self.store, digest)

    def practice(self) -> bool:
        """Whether this is a practice election: its record says so, or its facts do."""
        header = self.store.header()
        if header is not None:
            return header.practice
        election = self.election()
        return election is not None and election.practice

    @property
    def zone_name(self) -> str:
        """The county's zone; UTC before its facts are known."""
        if not self._zone:
            self.election()
        return self._zone or UTC

    # Plan versions ---------------------------------------------------------------------------------

    def versions(self) -> tuple[VersionLine, ...]:
        """Every plan version, the newest first."""
        return self.store.plans.list()

    def version(self, digest: str) -> PlanVersion:
        """One whole plan version; raises ValueError when it is not kept here."""
        return _version(self.store, digest)

    def current_digest(self) -> str:
        """The plan version that pages show: the one approved last, else the newest; empty for none."""
        kept = {line.digest for line in self.store.plans.list()}
        for digest in self.approvals():
            if digest in kept:
                return digest
        newest = self.store.plans.list()
        return newest[0].digest if newest else ""

    def current(self) -> PlanVersion | None:
        """The plan version that pages show; None before there is one."""
        digest = self.current_digest()
        return self.version(digest) if digest else None

    def approvals(self) -> dict[str, Reading]:
        """The approvals that stand, by plan digest, the latest first."""
        fact = self.fold().find("plan", "plan.approved")
        if fact is None:
            return {}
        latest = sorted(fact.current, key=lambda reading: reading.utc_ms, reverse=True)
        return {str(reading.value["digest"]): reading for reading in latest}

    # The record ------------------------------------------------------------------------------------

    def fold(self) -> Fold:
        """The folded record now, private parts included; pages decide what a role may see of them."""
        return self.store.fold(private=True)

    def facts_of(self, subject: str) -> tuple[Fact, ...]:
        """Every fact of one subject."""
        return self.fold().of_subject(subject)

    def moment(self) -> Moment:
        """Now, as an event says it."""
        now = self.clock()
        return Moment(
            utc_ms=now,
            offset_min=Instant(utc_ms=now).offset_min(self.zone_name if self.zone_name != UTC else "Etc/UTC"),
            uncertainty_ms=CLOCK_UNCERTAINTY_MS,
        )

    def write(
        self,
        body: Body,
        *,
        who: Who,
        subject: str,
        site: str = "",
        day: str = "",
        after: tuple[str, ...] = (),
        private: Private | None = None,
        salt: bytes | None = None,
        second: str = "",
        hands: tuple[record_event.Person, ...] = (),
    ) -> Signed:
        """Record one event by `who`; raises ValueError naming what does not fit, with nothing written.

        `second` is the id of a second person who stands behind it; `hands` are giver, receivers and witness.
        """
        people = (*pair_of(who, second), *hands)
        with self._writing:
            return self._recorder_for(people).record(
                body,
                subject=subject,
                people=people,
                moment=self.moment(),
                site=site,
                day=day,
                after=after,
                private=private,
                salt=salt,
            )

    def change_facts(
        self, edits: tuple[Edit, ...], *, who: Who, act: str, subject: str, reason: str, second: str = ""
    ) -> FactsTaken:
        """Change cells of the county's tables by one event; raises as `work.facts.change_facts`."""
        from pollstead.work.facts import change_facts

        people = pair_of(who, second)
        with self._writing:
            self._recorder_for(people)
            if self._desk is None:
                raise Clash("no record has begun here")
            return change_facts(
                self.path,
                edits,
                act=act,
                subject=subject,
                reason=reason,
                people=people,
                desk=self._desk,
                moment=self.moment(),
            )

    def end_half_done(self) -> int:
        """End acts of the stock and of sealing that a stop left halfway, by those who began them; how many.

        Where this computer may not write now, they stay named among what is open.
        """
        from pollstead.work.fact_waiting import finish_stopped
        from pollstead.work.facts import own_device, pending
        from pollstead.work.stock_acts import STOPPED_ACTS, finish_half_done, half_done

        device = own_device(self.store)
        if not device:
            return 0
        stopped = [one for one in pending(self.path, self.store, device) if one.change.act in STOPPED_ACTS]
        if not stopped and not half_done(self.path, self.store, device):
            return 0
        try:
            desk = open_desk(self.path)
        except ValueError:
            return 0
        with contextlib.closing(desk), self._writing:
            written = finish_stopped(self.path, desk, STOPPED_ACTS)
            return written + len(finish_half_done(self.path, desk, self.moment()))

    @contextlib.contextmanager
    def at_desk(self, who: Who) -> Iterator[tuple[Desk, tuple[record_event.Person, ...], Moment]]:
        """The desk for one act by `who`, with the people and the moment of its event; one act at a time."""
        people = pair(who.person)
        with self._writing:
            self._recorder_for(people)
            if self._desk is None:
                raise Clash("no record has begun here")
            yield self._desk, people, self.moment()

    def tables_election(self) -> Election | None:
        """The county as its tables are now, whatever plan is shown; None where they cannot be read."""
        return self._tables().election

    def desk(self, who: Who, second: str = "") -> Desk:
        """The desk of this folder, its record begun by `who` where there is none."""
        with self._writing:
            self._recorder_for(pair(who.person, second))
            assert self._desk is not None  # noqa: S101 - the line before saw to it
            return self._desk

    def tables_rows(self) -> tuple[TabRows, ...]:
        """The county's tables as rows of text; read again only when a file has changed."""
        from pollstead.intake.fact_writing import folder_facts

        state = _state_of(self.path)
        with self._folding:
            if self._rows is None or self._rows[0] != state:
                self._rows = (state, folder_facts(self.path).rows)
            return self._rows[1]

    def changes_of_facts(self) -> tuple[StandingChange, ...]:
        """Every recorded change of facts with its standing now, in the order of causes."""
        from pollstead.work.facts import all_changes, own_device

        return all_changes(self.path, self.store, own_device(self.store), self.tables_rows)

    def half_done(self) -> tuple[SecondStep | Withdrawal, ...]:
        """The acts of the seal stock on this computer that a stop left halfway."""
        from pollstead.work.facts import own_device
        from pollstead.work.stock_acts import half_done_among

        return half_done_among(self.changes_of_facts(), self.store, own_device(self.store))

    def _recorder_for(self, people: tuple[record_event.Person, ...]) -> Recorder:
        if self._desk is None:
            election = self.election()
            if election is None:
                raise Clash("county.toml and sites.csv cannot be read, so no record can begin here")
            try:
                self._desk = begin_desk(
                    self.path,
                    county=election.county,
                    election=election.name,
                    practice=election.practice,
                    people=people,
                    moment=self.moment(),
                )
            except ValueError as error:
                raise Clash(str(error)) from error
        return self._desk.recorder

    # People ----------------------------------------------------------------------------------------

    def people(self) -> tuple[Person, ...]:
        """The people of the facts, then those whose names were given at this desk, each id once."""
        election = self.election()
        known = {} if election is None else {person_id(p): p for p in election.people}
        for fact in self.fold().named("value"):
            if fact.subject.startswith("person/") and fact.key.get("field") == "name":
                for reading in fact.current:
                    name = reading.private.get("value") if reading.private is not None else None
                    if isinstance(name, str):
                        known.setdefault(fact.subject, Person(id=fact.subject, name=name))
        return tuple(known.values())

    def person_name(self, person: str) -> str:
        """A person's name; the id where no name is known or it was redacted."""
        kept = kept_names()
        names = None if kept is None else kept.get(self)
        if names is None or person not in names:
            names = {person_id(p): p.name for p in self.people() if p.name}
            names.setdefault(person, person)
            if kept is not None:
                kept[self] = names
        return names[person]

    def add_person(self, name: str) -> str:
        """Give a person who is in no table an id; the name goes into the private part of an event."""
        taken = {person_id(p) for p in self.people()}
        number = next(n for n in range(1, len(taken) + 2) if f"person/desk-{n}" not in taken)
        new = f"person/desk-{number}"
        self.write(
            ValueFixed(table="people", row=new, field="name", value=None),
            who=Who(person=new, role=Role.READER),
            subject=new,
            private=FixedPrivate(reason="Name given at this desk", value=name),
        )
        return new


def pair(person: str, second: str = "") -> tuple[record_event.Person, ...]:
    """The author of an event, and the second person where there is one."""
    author = record_event.Person(person=person, means=Means.NAME_ONLY, part=Part.AUTHOR)
    if not second:
        return (author,)
    return (author, record_event.Person(person=second, means=Means.NAME_ONLY, part=Part.SECOND))


def pair_of(who: Who, second: str = "") -> tuple[record_event.Person, ...]:
    """As `pair`, each with the means by which that person stands here: a badge, or the name alone."""
    found = pair(who.person, second)
    author = msgspec.structs.replace(found[0], means=who.means)
    if second and second == who.second:
        return (author, msgspec.structs.replace(found[1], means=Means.CODE))
    return (author, *found[1:])


def _state_of(folder: Path) -> tuple[tuple[str, int, int], ...]:
    """Name, size and time of every table, so that a changed one is read again."""
    found = []
    for path in sorted(folder.iterdir()):
        if path.suffix in (".csv", ".toml") and path.is_file():
            stat = path.stat()
            found.append((path.name, stat.st_size, stat.st_mtime_ns))
    return tuple(found)


def person_id(person: Person) -> str:
    """The id of a person of the facts as events name it."""
    return person.id if person.id.startswith("person/") else f"person/{person.id}"


@functools.lru_cache(maxsize=8)
def _version(store: Store, digest: str) -> PlanVersion:
    return msgspec.json.decode(store.plans.load(digest), type=PlanVersion)


@functools.lru_cache(maxsize=8)
def _election(store: Store, digest: str) -> Election:
    return msgspec.json.decode(store.snapshots.load(digest), type=Election)
