"""After a change: what each sheet says now, and the change notice that goes with the new ones."""

from __future__ import annotations

import datetime as dt

from pollstead.election.county import Election, Person
from pollstead.election.instants import format_clock
from pollstead.election.words import N_
from pollstead.plan.terms.version import SheetKind, SitePlan, Station
from pollstead.reconcile.changed.terms import Consequence, PlannedSheet
from pollstead.show.cautions import Place
from pollstead.show.packet.common import kept, tick
from pollstead.show.packet.content import (
    Block,
    Cell,
    Column,
    Heading,
    ListedSheet,
    Signatures,
    Table,
    Words,
)
from pollstead.show.packet.draft import Draft, day_of
from pollstead.show.packet.given import SiteGiven
from pollstead.show.packet.packet import Only, Replacing, blank_drafts, content_of, expected_drafts
from pollstead.show.packet.wording import sheet_serial


def planned_sheets(given: SiteGiven) -> tuple[PlannedSheet, ...]:
    """Every sheet of a site as this plan version gives it, blank sheets first, then the expected lists."""
    return tuple(
        PlannedSheet(
            site=given.site.id,
            key=draft.key,
            kind=draft.kind,
            day=day_of(draft.key),
            title=draft.title,
            about=draft.about,
            language=given.say.language,
            content=content_of(draft),
            stations=draft.stations,
        )
        for draft in (*blank_drafts(given), *expected_drafts(given))
    )


def serial_of(given: SiteGiven, key: str) -> str:
    """The serial that the sheet with this key has in this plan version."""
    practice = given.election.practice
    return sheet_serial(given.digest, given.site.id, key, given.say.language, practice)


def only_of(given: SiteGiven, consequence: Consequence, notice: Draft | None) -> Only:
    """What to print at one site in one language after a change."""
    site, language = given.site.id, given.say.language
    return Only(
        sheets=tuple(
            Replacing(key=one.sheet.key, serials=one.replaces)
            for one in consequence.prints
            if (one.sheet.site, one.sheet.language) == (site, language)
        ),
        notice=notice,
        order=tuple(dict.fromkeys(draft.key for draft in blank_drafts(given))),
        printed_before=tuple(
            ListedSheet(
                key=held.sheet.key,
                site=f"{site}  {given.site.name}",
                title=held.sheet.title,
                about=held.sheet.about,
                day=held.sheet.day,
                serial=held.serial,
            )
            for held in consequence.good
            if (held.sheet.site, held.sheet.language) == (site, language)
            and held.sheet.kind is not SheetKind.EXPECTED
        ),
    )


class Earlier:
    """How a site was before the change: its plan, if it had one, and the facts."""

    def __init__(self, election: Election, plan: SitePlan | None) -> None:
        self.election = election
        self.plan = plan


def change_notice(
    given: SiteGiven, earlier: Earlier, consequence: Consequence, number: int, reason: str
) -> Draft:
    """One leaf on top of the new sheets: what changed, sheets void and new, whom to call, signatures.

    No serial, seal number or memory device that is read independently stands on it.
    """
    say = given.say
    blocks: list[Block] = [
        Words(words=kept(given, say.message(consequence.change.site_words)), strong=True),
        Words(words=say(N_("Reason: {reason}"), reason=kept(given, reason))),
        *_what_changes(given, earlier, consequence),
        *_void(given, consequence),
        *_good(given, consequence),
        *_calls(given, consequence),
        say.cautions(Place.CHANGE),
        Signatures(
            labels=(say(N_("Void sheets crossed out or destroyed by")), say(N_("In the presence of"))),
            time=say(N_("Time")),
            notes="",
        ),
    ]
    return Draft(
        kind=SheetKind.CHANGE,
        key=f"{SheetKind.CHANGE.name}-{number:03d}",
        title=say(N_("Change notice {number}"), number=number),
        about=given.site.name,
        day="",
        blocks=tuple(blocks),
    )


def _what_changes(given: SiteGiven, earlier: Earlier, consequence: Consequence) -> tuple[Block, ...]:
    say = given.say
    rows = [
        *_devices(given, earlier),
        *_seals(given, consequence),
        *_facts(given, earlier),
        *_people(given, earlier),
    ]
    if not rows:
        return ()
    columns = (
        Column(title=say(N_("What changes")), width_mm=52),
        Column(title=say(N_("Until now"))),
        Column(title=say(N_("From now on"))),
    )
    cells = tuple(tuple(Cell(words=kept(given, words)) for words in row) for row in rows)
    return (Table(columns=columns, rows=cells),)


def _devices(given: SiteGiven, earlier: Earlier) -> list[tuple[str, str, str]]:
    """Stations where another device stands: the old one by serial, the new one by its tag alone."""
    say, found = given.say, []
    before = {s.id: s for s in (earlier.plan.stations if earlier.plan is not None else ())}
    for station in given.site_plan.stations:
        old = before.get(station.id)
        if old is None or _held(old) == _held(station):
            continue
        gone = [p for p in old.parts if p.device and p.device not in _held(station)]
        come = [p for p in station.parts if p.device and p.device not in _held(old)]
        tags = ", ".join(given.safe_tags(tuple(p.tag for p in come if p.tag)))
        was = ", ".join(" ".join(filter(None, (p.name, p.serial))) for p in gone)
        now = say(N_("another device, tag {tags}"), tags=tags) if tags else say(N_("another device"))
        found.append((given.name(station), was or say(N_("none")), now if come else say(N_("none"))))
    return found


def _held(station: Station) -> frozenset[str]:
    return frozenset(part.device for part in station.parts if part.device)


def _seals(given: SiteGiven, consequence: Consequence) -> list[tuple[str, str, str]]:
    """Closures of which another seal is expected; never a number."""
    say, stations = given.say, {s.id: s for s in given.site_plan.stations}
    found = []
    for day in consequence.site_days:
        for item in day.items if day.site == given.site.id else ():
            if item.what == "seal" and item.subject_before == item.subject_after:
                station = stations.get(item.station)
                name = given.name(station) if station is not None else say(N_("The whole site"))
                words = f"{name}: {say(item.words)}"
                found.append(
                    (words, say(N_("the seal before")), say(N_("another seal: see the expected list")))
                )
    return list(dict.fromkeys(found))


def _facts(given: SiteGiven, earlier: Earlier) -> list[tuple[str, str, str]]:
    """What the table of sites says otherwise now: name, address, hours."""
    say, now = given.say, given.site
    was = next((s for s in earlier.election.sites if s.id == now.id), None)
    if was is None:
        return []
    not_told = say(N_("not told: ask the office"))
    found = [
        (say(words), old or not_told, new or not_told)
        for words, old, new in (
            (N_("Building"), was.name, now.name),
            (N_("Address"), was.address, now.address),
        )
        if old != new
    ]
    old_hours = {h.date: (h.opens_min, h.closes_min) for h in was.hours}
    new_hours = {h.date: (h.opens_min, h.closes_min) for h in now.hours}
    for date in sorted({*old_hours, *new_hours}):
        both = old_hours.get(date), new_hours.get(date)
        if both[0] != both[1]:
            was_open, is_open = (_hours(hours) or say(N_("not open")) for hours in both)
            found.append((say.date(date), was_open, is_open))
    return found


def _hours(hours: tuple[int, int] | None) -> str:
    return "" if hours is None else f"{format_clock(hours[0])}–{format_clock(hours[1])}"


def _people(given: SiteGiven, earlier: Earlier) -> list[tuple[str, str, str]]:
    """Roles at this site that another person holds now."""
    say, found = given.say, []
    old = {p.id: p for p in earlier.election.people}
    new = {p.id: p for p in given.election.people}
    site_before = next((s for s in earlier.election.sites if s.id == given.site.id), given.site)
    pairs = [
        (say(N_("Opens the building")), set(site_before.openers), set(given.site.openers)),
        (say(N_("Building contact")), {site_before.contact or ""}, {given.site.contact or ""}),
        (say(N_("Crew")), _crew(earlier.election, given.site.id), _crew(given.election, given.site.id)),
    ]
    for words, was, now in pairs:
        gone, come = sorted(was - now - {""}), sorted(now - was - {""})
        if gone or come:
            none = say(N_("none"))
            found.append((words, _names(gone, old) or none, _names(come, new) or none))
    return found


def _crew(election: Election, site: str) -> set[str]:
    return {person.id for person in election.people if person.site == site}


def _names(ids: list[str], people: dict[str, Person]) -> str:
    return ", ".join(people[i].name if i in people and people[i].name else i for i in ids)


def _void(given: SiteGiven, consequence: Consequence) -> tuple[Block, ...]:
    say = given.say
    here = [v for v in consequence.void if v.sheet.site == given.site.id]
    if not here:
        return (Words(words=say(N_("No printed sheet of this site becomes void."))),)
    rows = []
    for one in here:
        instead = say.message(one.without) if one.without is not None else ""
        if one.successor is not None:
            instead = serial_of(given, one.successor.key)
        rows.append(
            (
                Cell(words=one.serial, strong=True, whole=True),
                Cell(words=_sheet_words(given, one.sheet)),
                Cell(words=instead, whole=one.successor is not None),
                Cell(fields=(tick(),)),
            )
        )
    columns = (
        Column(title=say(N_("Void sheet")), width_mm=42),
        Column(title=say(N_("What it was"))),
        Column(title=say(N_("In its place")), width_mm=42),
        Column(title=say(N_("Done")), width_mm=16),
    )
    return (
        Heading(words=say(N_("Sheets that are void"))),
        Words(
            words=say(
                N_(
                    "Take them out of the packet. Cross them out so that the serial can still be read, or "
                    "destroy them, as your county does it. Do not write on them."
                )
            )
        ),
        Table(columns=columns, rows=tuple(rows)),
    )


def _sheet_words(given: SiteGiven, sheet: PlannedSheet) -> str:
    """A sheet as people call it: its title, what it is about, and its day."""
    about = "" if sheet.kind is SheetKind.EXPECTED else sheet.about
    day = given.day_words(dt.date.fromisoformat(sheet.day)) if sheet.day else ""
    return " · ".join(filter(None, (sheet.title, about, day)))


def _good(given: SiteGiven, consequence: Consequence) -> tuple[Block, ...]:
    here = [h for h in consequence.good if h.sheet.site == given.site.id]
    if not here:
        return ()
    say = given.say
    names = ", ".join(held.serial for held in here)
    words = say(
        N_("All other sheets of this packet stay good ({count}): {serials}."), count=len(here), serials=names
    )
    return (Words(words=words),)


def _calls(given: SiteGiven, consequence: Consequence) -> tuple[Block, ...]:
    say = given.say
    here = [call for call in consequence.calls if call.site == given.site.id]
    if not here:
        return ()
    rows = tuple(
        (
            Cell(fields=(tick(),)),
            Cell(words=call.name if call.person else say(call.name), strong=True),
            Cell(words=", ".join(say.message(role) for role in call.roles)),
            Cell(words=call.phone or say(N_("not told: ask the office"))),
        )
        for call in here
    )
    columns = (
        Column(title=say(N_("Told")), width_mm=14),
        Column(title=say(N_("Name"))),
        Column(title=say(N_("As"))),
        Column(title=say(N_("Phone")), width_mm=44),
    )
    return (Heading(words=say(N_("Whom to call"))), Table(columns=columns, rows=rows))
