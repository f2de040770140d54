"""The cover page: where and when, what stands here, whom to call, what nobody has told, the sheets."""

from __future__ import annotations

from pollstead.election.county import Person
from pollstead.election.instants import format_clock
from pollstead.election.notice import Notice
from pollstead.election.rules import BY_ID as RULES
from pollstead.election.words import N_
from pollstead.plan.terms.version import SheetKind
from pollstead.show import assumed
from pollstead.show.cautions import Place
from pollstead.show.packet.common import kept, line
from pollstead.show.packet.content import (
    Block,
    Cell,
    Column,
    Contents,
    Heading,
    Mark,
    Pair,
    Table,
    WhenThen,
    Words,
)
from pollstead.show.packet.draft import Draft, key_for
from pollstead.show.packet.given import SiteGiven
from pollstead.show.packet.wording import confirmed, days_of

MINUTES_PER_DAY = 24 * 60
_SITE_DAY_RULES = (
    "serial-differs",
    "seal-differs",
    "clock-differs",
    "counter-not-as-expected",
    "second-person-at-opening",
    "second-person-at-closing",
    "fled-ballots",
    "counts-at-closing",
)


def cover(given: SiteGiven) -> Draft:
    """The first sheet: where and when, what stands here, sheets, whom to call, what nobody has told."""
    say, site = given.say, given.site
    hours = []
    for date, opens, closes in days_of(given.election, site.id):
        when = say(N_("hours not told: ask the office"))
        if opens is not None and closes is not None:
            when = say(
                N_("open {opens} to {closes}"), opens=_clock(given, opens), closes=_clock(given, closes)
            )
        hours.append(f"{say.date(date)}: {when}")
    blocks: list[Block] = [
        Words(words=site.address or say(N_("Address not told: ask the office")), strong=True),
        *(Words(words=line) for line in hours),
        Heading(words=say(N_("What stands here"))),
        _stations_table(given),
        Heading(words=say(N_("Whom to call"))),
        _contacts(given),
        *_unconfirmed(given),
        *_assumptions(given),
        *_county_assumptions(given),
        *_notices(given),
        Heading(words=say(N_("Sheets in this packet"))),
        Contents(
            columns=(say(N_("Sheet")), say(N_("About")), say(N_("Serial")), say(N_("Pages"))),
            pages="{pages}",
        ),
        say.cautions(Place.COVER),
    ]
    return Draft(
        kind=SheetKind.COVER,
        key=key_for(SheetKind.COVER),
        title=say(N_("Site packet")),
        about=given.kind.name,
        day="",
        blocks=tuple(blocks),
    )


def _stations_table(given: SiteGiven) -> Table:
    say = given.say
    rows = []
    for count in given.site_plan.counts:
        name = given.election.station_type(count.station_type).name
        why = say(N_("fixed: {reason}"), reason=count.reason) if count.fixed else say(N_("planned"))
        rows.append((Cell(words=name), Cell(words=str(count.count), strong=True), Cell(words=why)))
    columns = (
        Column(title=say(N_("Station type"))),
        Column(title=say(N_("How many")), width_mm=24),
        Column(title=say(N_("From"))),
    )
    return Table(columns=columns, rows=tuple(rows))


def _contacts(given: SiteGiven) -> Table:
    say, site = given.say, given.site
    people = {person.id: person for person in given.election.people}
    rows: list[tuple[Cell, ...]] = [
        (Cell(words=say(N_("Office")), strong=True), Cell(fields=(line(),)), Cell(fields=(line(),)))
    ]

    def row(what: str, person: Person | None, name: str) -> None:
        phone = Cell(words=person.phone) if person and person.phone else Cell(fields=(line(),))
        rows.append((Cell(words=what, strong=True), Cell(words=name), phone))

    for opener in site.openers:
        person = people.get(opener)
        row(say(N_("Opens the building")), person, person.name if person else opener)
    if site.contact and site.contact not in site.openers:
        person = people.get(site.contact)
        row(say(N_("Building contact")), person, person.name if person else site.contact)
    if not site.openers:
        told = say(N_("not told: ask the office"))
        rows.append(
            (
                Cell(words=say(N_("Opens the building")), strong=True),
                Cell(words=told),
                Cell(fields=(line(),)),
            )
        )
    columns = (
        Column(title=say(N_("For")), width_mm=48),
        Column(title=say(N_("Name"))),
        Column(title=say(N_("Phone")), width_mm=52),
    )
    return Table(columns=columns, rows=tuple(rows))


def _clock(given: SiteGiven, minute: int) -> str:
    """A time of the operating day as a person at the site says it: past midnight it is the next day."""
    if minute < MINUTES_PER_DAY:
        return format_clock(minute)
    return given.say(N_("{time} the next day"), time=format_clock(minute - MINUTES_PER_DAY))


def _unconfirmed(given: SiteGiven) -> tuple[Block, ...]:
    say = given.say
    open_rules = [r for r in _SITE_DAY_RULES if not confirmed(given.election.rules, r)]
    if not open_rules:
        return ()
    names = [say(RULES[rule].words) for rule in open_rules]
    return (
        WhenThen(
            title=say(N_("County rules that nobody has confirmed")),
            pairs=(Pair(when=" · ".join(names), do=say(N_("Call the office."))),),
        ),
    )


def _assumptions(given: SiteGiven) -> tuple[Block, ...]:
    say = given.say
    if not given.site_plan.assumptions:
        return ()
    rows = tuple(
        (
            Cell(words=a.field, mark=Mark.ASSUMED),
            Cell(words=kept(given, a.value)),
            Cell(words=kept(given, say.message(a.why))),
            Cell(words=a.list_wanted),
        )
        for a in given.site_plan.assumptions
    )
    columns = (
        Column(title=say(N_("Assumed")), width_mm=46),
        Column(title=say(N_("Taken")), width_mm=34),
        Column(title=say(N_("Why"))),
        Column(title=say(N_("List wanted")), width_mm=34),
    )
    return (
        Heading(words=say(N_("Nobody has told us: assumed"))),
        Table(columns=columns, rows=rows),
    )


def _county_assumptions(given: SiteGiven) -> tuple[Block, ...]:
    """What was taken for the whole county and bears on this site, by the list that would tell."""
    say = given.say
    types = frozenset(use.station_type for use in given.kind.uses)
    by_list: dict[str, list[str]] = {}
    for a in assumed.of_types(given.plan.assumptions, types):
        words = f"{assumed.about(a, given.election, say)}: {assumed.taken(a)}"
        by_list.setdefault(a.list_wanted, []).append(words)
    if not by_list:
        return ()
    return (
        WhenThen(
            title=say(N_("Assumed for the whole county")),
            pairs=tuple(
                Pair(
                    when=say(N_("{list} would tell"), list=name) if name else say(N_("No list tells")),
                    do=kept(given, " · ".join(words)),
                )
                for name, words in sorted(by_list.items())
            ),
        ),
    )


def _notices(given: SiteGiven) -> tuple[Block, ...]:
    say = given.say
    about = [n for n in given.plan.notices if _is_about(given, n)]
    if not about:
        return ()
    rows = tuple(
        (
            Cell(words=say(_NOTICE_KINDS[n.kind.value]), strong=True),
            Cell(words=kept(given, say.message(n.text))),
            Cell(words=kept(given, say.message(n.remedy)) if n.remedy else ""),
        )
        for n in about
    )
    columns = (
        Column(title=say(N_("Notice")), width_mm=32),
        Column(title=say(N_("What"))),
        Column(title=say(N_("What to do next"))),
    )
    return (Heading(words=say(N_("Notices about this site"))), Table(columns=columns, rows=rows))


_NOTICE_KINDS = {
    "fault": N_("fault"),
    "open item": N_("open item"),
    "difference": N_("difference"),
    "rule not met": N_("rule not met"),
}


def _is_about(given: SiteGiven, notice: Notice) -> bool:
    site = f"site/{given.site.id}"
    return notice.subject == site or notice.subject.startswith((f"{site}/", f"station/{given.site.id}/"))
