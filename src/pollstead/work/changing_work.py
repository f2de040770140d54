"""One change while it is carried out: each step looks at the record first, and does what is not done."""

from __future__ import annotations

import secrets
from pathlib import Path
from typing import Final, Literal

import msgspec
from msgspec.structs import replace

from pollstead.election.county import Election
from pollstead.election.instants import Instant
from pollstead.intake.folder import read_folder
from pollstead.plan.terms.part import Watch
from pollstead.plan.terms.version import ExpectedList
from pollstead.reconcile.changed.candidates import standing_of
from pollstead.reconcile.changed.on_the_day import swaps_of
from pollstead.reconcile.changed.terms import Act
from pollstead.reconcile.custody.after_test import as_tested
from pollstead.reconcile.issued import issued_lists, lines_of
from pollstead.reconcile.observed import observations_of
from pollstead.record.event import Means, Part, Person
from pollstead.record.kinds.body import Reason
from pollstead.record.kinds.days import CountRead
from pollstead.record.kinds.offices import ExpectedAmended, PacketPrinted, PlanApproved
from pollstead.record.kinds.offices import ExpectedList as ExpectedLines
from pollstead.record.kinds.swaps import DeviceSwapped, SheetsVoided, VoidedSheet
from pollstead.record.write import Moment, list_side
from pollstead.store.desk import Desk
from pollstead.store.opening import Store
from pollstead.work.changing import consequence_of, draft, ground_of, lists_after, lists_of
from pollstead.work.changing_kept import Intent, note, plan_before
from pollstead.work.clock import now_ms
from pollstead.work.county_folder import MoreNotices, version_of
from pollstead.work.fact_changes import Change as FactsChange
from pollstead.work.fact_changes import Standing, changes
from pollstead.work.fact_waiting import finish
from pollstead.work.facts import all_changes, change_facts, undo_change
from pollstead.work.paper import ChangePrint, Printer, list_digests, void_serials
from pollstead.work.planning import DrawnUp, draw_up, keep

CHANGES_FOLDER = "changes"
SALT_BYTES = 32
BALLOTS: Final[dict[str, Literal["none", "held_apart"]]] = {"none": "none", "held_apart": "held_apart"}


def event_of(store: Store, intent: Intent) -> FactsChange | None:
    """The change of facts that this intent has made; None while it has not."""
    author = person_id(intent.by)
    for change in changes(store):
        same = (change.utc_ms, change.author) == (intent.utc_ms, author)
        if same and change.act == intent.asked.act.value:
            return change
    return None


def person_id(person: str) -> str:
    """A person's id as events name it."""
    return person if person.startswith("person/") else f"person/{person}"


class Work:
    """One change while it is carried out."""

    def __init__(
        self,
        folder: Path,
        desk: Desk,
        printer: Printer,
        intent: Intent,
        watch: Watch,
        also_told: MoreNotices | None,
    ) -> None:
        self.folder = folder
        self.desk = desk
        self.store = desk.store
        self.printer = printer
        self.intent = intent
        self.watch = watch
        self.also_told = also_told
        self.files: tuple[str, ...] = ()

    # Facts and plan --------------------------------------------------------------------------------

    def facts(self) -> bool:
        """The tables, by one event."""
        intent = self.intent
        found = event_of(self.store, intent)
        done = found is None
        if found is None:
            ground, _, _ = ground_of(self.folder, self.store, intent.utc_ms)
            drafted = draft(self.store, ground, intent.asked)
            if drafted.undoes:
                undo_change(
                    self.folder,
                    drafted.undoes,
                    reason=intent.reason,
                    people=self._people(),
                    desk=self.desk,
                    moment=self._moment(),
                )
            else:
                change_facts(
                    self.folder,
                    drafted.edits,
                    act=intent.asked.act.value,
                    subject=drafted.subject,
                    reason=intent.reason,
                    people=self._people(),
                    desk=self.desk,
                    moment=self._moment(),
                )
            found = event_of(self.store, intent)
        else:
            done = self._finish_tables(found)
        if found is None:
            raise RuntimeError("the change of facts must stand in the record once it was written")
        self.intent = note(self.store, replace(intent, event=found.event, number=found.number))
        return done

    def _finish_tables(self, found: FactsChange) -> bool:
        """Write the tables of an event that is kept already, where that was not done."""
        standing = next(
            one
            for one in all_changes(self.folder, self.store, self.desk.recorder.device)
            if one.change.event == found.event
        )
        if standing.standing is not Standing.NOT_WRITTEN:
            return False
        finish(self.folder, found.event, desk=self.desk)
        return True

    def plan(self) -> bool:
        """The plan version with the change, and all that it brings, kept before any of that is done."""
        intent = self.intent
        if intent.after or not intent.before:
            return False
        drawn = self._drawn()
        if drawn.version is None:
            raise RuntimeError("a plan version drawn up anew must be there")
        folded = self.desk.fold(private=True)
        found = consequence_of(
            self.store,
            folded,
            intent.change,
            intent.before,
            drawn,
            self.printer,
            now_ms=intent.utc_ms,
        )
        digest = keep(self.store, drawn)
        self.intent = note(self.store, replace(intent, after=digest, consequence=found))
        return True

    def _drawn(self) -> DrawnUp:
        intake = read_folder(self.folder)
        if self.also_told is not None and intake.election is not None:
            told = (*intake.notices, *self.also_told(intake.election))
            intake = msgspec.structs.replace(intake, notices=told)
        held = version_of(self.store, self.intent.before)
        undone = self.intent.asked.old if self.intent.asked.act is Act.UNDO else ""
        parent = (plan_before(self.store, undone) if undone else "") or self.intent.before
        return draw_up(
            self.store,
            intake,
            watch=self.watch,
            effort=held.effort,
            seed=held.seed,
            parent=parent,
            anew=True,
        )

    # Decisions -------------------------------------------------------------------------------------

    def approval(self) -> bool:
        """The plan version by name, where the one before was approved."""
        intent = self.intent
        if not intent.after or not intent.approve:
            return False
        fact = self.desk.fold(private=True).find("plan", "plan.approved")
        current = () if fact is None else fact.current
        if any(str(reading.value["digest"]) == intent.after for reading in current):
            return False
        self.desk.recorder.record(
            PlanApproved(digest=intent.after),
            subject="plan",
            people=self._people(),
            moment=self._moment(),
            after=tuple(sorted(reading.event for reading in current)),
        )
        return True

    def lists(self) -> bool:
        """The lists in force of just the sites and days that change."""
        done = False
        for expected in self._new_lists():
            done |= self._amend(expected)
        return done

    def _new_lists(self) -> tuple[ExpectedList, ...]:
        intent = self.intent
        found = intent.consequence
        if found is None or not intent.after:
            return ()
        wanted = {(day.site, day.date) for day in found.site_days if day.in_force}
        sites = tuple({site for site, _ in wanted})
        election, version = self._facts_of(intent.after), version_of(self.store, intent.after)
        folded = self.desk.fold(private=True)
        facts, plan = self._facts_of(intent.before), version_of(self.store, intent.before)
        old = lists_of(facts, as_tested(plan, folded), intent.before, sites)
        new = lists_of(election, as_tested(version, folded), intent.after, sites)
        lists = lists_after(intent.change, issued_lists(folded), old, new)
        return tuple(one for one in lists if (one.site, one.date) in wanted)

    def _amend(self, expected: ExpectedList) -> bool:
        folded = self.desk.fold(private=True)
        held = issued_lists(folded).of(expected.site, expected.date)
        if held is None or held.items == expected.items:
            return False
        subject, day = f"site/{expected.site}", expected.date.isoformat()
        fact = folded.find(subject, "expected", day)
        current = () if fact is None else fact.current
        lines, salt = lines_of(expected), secrets.token_bytes(SALT_BYTES)
        self.desk.recorder.record(
            ExpectedAmended(
                list_digest=list_side(lines, salt).digest,
                replaces=str(current[-1].value["list_digest"]),
                plan=expected.plan,
            ),
            subject=subject,
            site=subject,
            day=day,
            people=self._people(),
            moment=self._moment(),
            after=tuple(sorted(reading.event for reading in current)),
            private=ExpectedLines(lines=lines),
            salt=salt,
        )
        return True

    def swap(self) -> bool:
        """On the day: which device took whose place at which minute, and what the old one had counted."""
        change, intent = self.intent.change, self.intent
        if change.at_min is None:
            return False
        station = self._station_of(change.old_device)
        day = self._operating_day()
        site = f"site/{change.sites[0]}"
        if self.desk.fold(private=True).find(station, DeviceSwapped.kind, day) is not None:
            return False
        counter = intent.asked.text("counter")
        self.desk.recorder.record(
            DeviceSwapped(
                old=change.old_device,
                new=change.new_device,
                at_min=change.at_min,
                public_counter=int(counter) if counter.isdecimal() else None,
                ballots=BALLOTS.get(intent.asked.text("ballots"), "not_known"),
            ),
            subject=station,
            site=site,
            day=day,
            people=self._people(),
            moment=self._moment(),
            private=Reason(reason=intent.reason),
        )
        if counter.isdecimal():
            # The counter when it was taken out is its counter at closing: nothing was cast on it after that.
            self.desk.recorder.record(
                CountRead(term="public_counter_close", value=int(counter), source="screen"),
                subject=change.old_device,
                site=site,
                day=day,
                people=self._people(),
                moment=self._moment(),
            )
        return True

    def _station_of(self, device: str) -> str:
        plan = version_of(self.store, self.intent.before)
        return standing_of(plan)[device].station

    def _operating_day(self) -> str:
        """The date on which it is now at the site, where a day may pass midnight."""
        zone = self._facts_of(self.intent.before).zone_name
        return Instant(utc_ms=self.intent.utc_ms).local(zone).date().isoformat()

    # Paper -----------------------------------------------------------------------------------------

    def void(self) -> bool:
        """The void sheets of each site, with the serials of those in their place."""
        found = self.intent.consequence
        if found is None or not found.void:
            return False
        already = void_serials(self.desk.fold(private=True))
        serials = self._serials()
        done = False
        for site in dict.fromkeys(one.sheet.site for one in found.void):
            sheets = tuple(
                VoidedSheet(
                    serial=f"sheet/{one.serial}",
                    replaced_by="" if one.successor is None else f"sheet/{serials[one.successor.place]}",
                )
                for one in found.void
                if one.sheet.site == site and one.serial not in already
            )
            if sheets:
                self.desk.recorder.record(
                    SheetsVoided(change=self.intent.event, sheets=sheets),
                    subject=f"site/{site}",
                    site=f"site/{site}",
                    people=self._people(),
                    moment=self._moment(),
                )
                done = True
        return done

    def _serials(self) -> dict[tuple[str, str, str], str]:
        found = self.intent.consequence
        if found is None:
            return {}
        sheets = tuple(one.sheet for one in found.prints)
        return self.printer.serials(self._facts_of(self.intent.after), self.intent.after, sheets)

    def print(self) -> bool:
        """The files of just these sheets, their serials in the store, one event for each site."""
        intent = self.intent
        found = intent.consequence
        if found is None or not intent.after or not (found.prints or found.void):
            return False
        folded = self.desk.fold(private=True)
        job = ChangePrint(
            before=(self._facts_of(intent.before), as_tested(version_of(self.store, intent.before), folded)),
            after=(self._facts_of(intent.after), as_tested(version_of(self.store, intent.after), folded)),
            digest=intent.after,
            consequence=found,
            number=intent.number,
            reason=intent.reason,
            folder=str(self.folder / "packets" / CHANGES_FOLDER),
            printed_utc_ms=now_ms(),
            list_digests=list_digests(folded),
            swaps=swaps_of(observations_of(folded)),
        )
        self.files, sheets = self.printer.print_change(job)
        known = {sheet.serial for sheet in self.store.sheets.of()}
        self.store.sheets.add(sheet for sheet in sheets if sheet.serial not in known)
        told = {
            str(serial)
            for fact in self.desk.fold(private=True).named(PacketPrinted.kind)
            for reading in fact.current
            for serial in reading.value["sheets"]
        }
        for site in dict.fromkeys(sheet.site for sheet in sheets):
            serials = tuple(f"sheet/{sheet.serial}" for sheet in sheets if sheet.site == site)
            if not set(serials) <= told:
                self.desk.recorder.record(
                    PacketPrinted(sheets=serials, plan=intent.after),
                    subject=f"site/{site}",
                    site=f"site/{site}",
                    people=self._people(),
                    moment=self._moment(),
                )
        return True

    # What all steps need ---------------------------------------------------------------------------

    def _facts_of(self, digest: str) -> Election:
        plan = version_of(self.store, digest)
        return msgspec.json.decode(self.store.snapshots.load(plan.snapshot), type=Election)

    def _people(self) -> tuple[Person, ...]:
        found = [Person(person=person_id(self.intent.by), means=Means.NAME_ONLY, part=Part.AUTHOR)]
        if self.intent.second:
            second = Person(person=person_id(self.intent.second), means=Means.NAME_ONLY, part=Part.SECOND)
            found.append(second)
        return tuple(found)

    def _moment(self) -> Moment:
        intent = self.intent
        return Moment(
            utc_ms=intent.utc_ms, offset_min=intent.offset_min, uncertainty_ms=intent.uncertainty_ms
        )
