"""Sheets of the whole site: cover page, packing list, set-up run sheet, seal sheet."""

from __future__ import annotations

import datetime as dt

from pollstead.election.county import Person
from pollstead.election.instants import format_clock
from pollstead.election.notice import Notice
from pollstead.election.rules import BY_ID as RULES
from pollstead.election.station_type import Moment, NumberPolicy
from pollstead.election.words import N_
from pollstead.plan.terms.version import ExpectedSeal, RunStep, SheetKind, Station
from pollstead.show.cautions import BY_ID as CAUTIONS
from pollstead.show.cautions import Place, for_place
from pollstead.show.packet.content import (
    Block,
    Cell,
    Column,
    Contents,
    Field,
    FieldKind,
    Heading,
    Mark,
    Pair,
    Signatures,
    Table,
    WhenThen,
    Words,
)
from pollstead.show.packet.draft import Draft, key_for
from pollstead.show.packet.given import SiteGiven
from pollstead.show.packet.wording import confirmed, days_of

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
MOMENTS = {
    Moment.AFTER_TEST: N_("after test"),
    Moment.EVENING_BEFORE: N_("evening before"),
    Moment.OPENING: N_("opening"),
    Moment.DURING: N_("during the day"),
    Moment.CLOSING: N_("closing"),
    Moment.OVERNIGHT: N_("overnight"),
    Moment.RECEIVING: N_("receiving"),
}


def _tick(label: str = "") -> Field:
    return Field(kind=FieldKind.TICK, label=label)


def _line(label: str = "") -> Field:
    return Field(kind=FieldKind.LINE, label=label)


def cover(given: SiteGiven) -> Draft:
    """The first sheet: where and when, what stands here, sheets, whom to call, what nobody has told."""
    say, site = given.say, given.site
    hours = []
    for date, opens, closes in days_of(given.election, site.id):
        when = say(N_("hours not told: ask the office"))
        if opens is not None and closes is not None:
            when = say(N_("open {opens} to {closes}"), opens=format_clock(opens), closes=format_clock(closes))
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
        (Cell(words=say(N_("Office")), strong=True), Cell(fields=(_line(),)), Cell(fields=(_line(),)))
    ]

    def row(what: str, person: Person | None, name: str) -> None:
        phone = Cell(words=person.phone) if person and person.phone else Cell(fields=(_line(),))
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
                Cell(fields=(_line(),)),
            )
        )
    columns = (
        Column(title=say(N_("For")), width_mm=48),
        Column(title=say(N_("Name"))),
        Column(title=say(N_("Phone")), width_mm=52),
    )
    return Table(columns=columns, rows=tuple(rows))


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
            Cell(words=_kept(given, a.value)),
            Cell(words=_kept(given, say.message(a.why))),
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


def _kept(given: SiteGiven, words: str) -> str:
    """The words, or where they tell a number to be read independently, a pointer to the office."""
    return (
        given.say(N_("Ask the office: a number that is not to stand here.")) if given.tells(words) else words
    )


def _notices(given: SiteGiven) -> tuple[Block, ...]:
    say = given.say
    about = [n for n in given.plan.notices if _is_about(given, n)]
    if not about:
        return ()
    rows = tuple(
        (
            Cell(words=say(_NOTICE_KINDS[n.kind.value]), strong=True),
            Cell(words=_kept(given, say.message(n.text))),
            Cell(words=_kept(given, say.message(n.remedy)) if n.remedy else ""),
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


def packing(given: SiteGiven) -> Draft:
    """Things to pack and how many, with tags to look for; no serial and no seal number."""
    say = given.say
    rows: list[tuple[Cell, ...]] = []
    group = None
    for line in given.site_plan.packing:
        if line.group != group:
            group = line.group
            rows.append((Cell(words=group, strong=True, span=5),))
        tags = ", ".join(given.safe_tags(line.tags))
        words = _kept(given, line.item)
        if line.unit != "each":
            words = f"{words} ({line.unit})"
        rows.append(
            (
                Cell(fields=(_tick(),)),
                Cell(words=f"{line.quantity:,}", strong=True),
                Cell(words=words),
                Cell(words=tags, whole=True),
                Cell(fields=(_tick(),)),
            )
        )
    columns = (
        Column(title=say(N_("Packed")), width_mm=19),
        Column(title=say(N_("How many")), width_mm=22),
        Column(title=say(N_("Thing"))),
        Column(title=say(N_("Tags")), width_mm=60),
        Column(title=say(N_("Arrived")), width_mm=20),
    )
    blocks: list[Block] = [say.cautions(Place.PACKING)]
    if rows:
        blocks.append(Table(columns=columns, rows=tuple(rows)))
    else:
        blocks.append(Words(words=say(N_("The plan packs nothing for this site."))))
    blocks.append(
        Signatures(
            labels=(say(N_("Packed by")), say(N_("Received by"))),
            time=say(N_("Time")),
            notes=say(N_("Notes")),
        )
    )
    return Draft(
        kind=SheetKind.PACKING,
        key=key_for(SheetKind.PACKING),
        title=say(N_("Packing list")),
        about="",
        day="",
        blocks=tuple(blocks),
    )


_PARTS_OF_THE_RUN = (Moment.EVENING_BEFORE, Moment.OPENING)


def run_sheet(given: SiteGiven) -> Draft:
    """Set-up steps of the evening before and the morning, with people, minutes and earliest start."""
    say = given.say
    blocks: list[Block] = [say.cautions(Place.RUN)]
    parts = list(dict.fromkeys((*_PARTS_OF_THE_RUN, *(s.when for s in given.site_plan.run_sheet))))
    for part in parts:
        steps = [s for s in given.site_plan.run_sheet if s.when is part]
        if not steps:
            continue
        title = {
            Moment.EVENING_BEFORE: say(N_("The evening before")),
            Moment.OPENING: say(N_("The morning")),
        }.get(part, say(MOMENTS[part]))
        blocks += [
            Heading(words=title),
            Words(words=_when(given, part, steps)),
            _steps_table(given, part, steps),
        ]
    if not given.site_plan.run_sheet:
        blocks.append(Words(words=say(N_("The plan has no set-up steps for this site."))))
    return Draft(
        kind=SheetKind.RUN,
        key=key_for(SheetKind.RUN),
        title=say(N_("Set-up run sheet")),
        about="",
        day="",
        blocks=tuple(blocks),
    )


def _begins(given: SiteGiven, part: Moment, steps: list[RunStep]) -> int | None:
    """The minute of the day at which a part of setting up begins; None for one without clock times.

    The morning begins when the building is open to the crew, or earlier where that is too late for
    the doors; where nobody has told the access, as late as the doors allow.
    """
    if part is not Moment.OPENING:
        return None
    access = given.site.access_from_min
    opens = next((o for _, o, _ in days_of(given.election, given.site.id) if o is not None), None)
    if opens is None:
        return access
    latest = max(0, opens - max(step.ends_min for step in steps))
    return latest if access is None else min(access, latest)


def _when(given: SiteGiven, part: Moment, steps: list[RunStep]) -> str:
    say = given.say
    ends = max(step.ends_min for step in steps)
    people = max(step.people for step in steps)
    words = say(
        N_("{minutes} min from the first step to the last; at least {people} people."),
        minutes=ends,
        people=people,
    )
    begins, access = _begins(given, part, steps), given.site.access_from_min
    if begins is None:
        return words
    if access is None:
        told = say(
            N_("Nobody has told when the building is open to the crew: be in by {clock}."),
            clock=format_clock(begins),
        )
    elif begins < access:
        told = say(
            N_("Be in by {clock}; the building is open to the crew from {access} only: call the office now."),
            clock=format_clock(begins),
            access=format_clock(access),
        )
    else:
        told = say(N_("The building is open to the crew from {access}."), access=format_clock(access))
    return f"{words} {told}"


def _steps_table(given: SiteGiven, part: Moment, steps: list[RunStep]) -> Table:
    say = given.say
    begins = _begins(given, part, steps)
    rows: list[tuple[Cell, ...]] = []
    for step in sorted(steps, key=lambda s: (s.starts_min, s.ends_min)):
        start = f"+{step.starts_min // 60}:{step.starts_min % 60:02d}"
        if begins is not None:
            start = format_clock(begins + step.starts_min)
        name = given.election.station_type(step.station_type).name if step.station_type else ""
        what = f"{name} × {step.times}" if step.times > 1 else name
        words = f"{what}: {step.words}" if what else step.words
        if step.caution:
            words = f"{words}. {_step_caution(given, step.caution)}"
        rows.append(
            (
                Cell(fields=(_tick(),)),
                Cell(words=start, strong=step.critical),
                Cell(words=words, strong=step.critical),
                Cell(words=str(step.people)),
                Cell(words=str(step.ends_min - step.starts_min)),
                Cell(
                    words=say(N_("no time to spare")) if step.critical else "",
                    mark=Mark.CRITICAL if step.critical else Mark.NONE,
                ),
            )
        )
    columns = (
        Column(title=say(N_("Done")), width_mm=15),
        Column(title=say(N_("Start")), width_mm=18),
        Column(title=say(N_("Step"))),
        Column(title=say(N_("People")), width_mm=18),
        Column(title=say(N_("Min")), width_mm=14),
        Column(title=say(N_("Mark")), width_mm=28),
    )
    return Table(columns=columns, rows=tuple(rows))


def _step_caution(given: SiteGiven, caution: str) -> str:
    """A step's own caution: the number of its sentence in this sheet's frame, or the sentence itself."""
    say = given.say
    ids = [known.id for known in for_place(Place.RUN)]
    if caution in ids:
        return say(N_("See caution {number}."), number=ids.index(caution) + 1)
    known = CAUTIONS.get(caution)
    return say(N_("Caution: {words}"), words=say(known.words) if known else caution)


def seal_sheet(given: SiteGiven, date: dt.date) -> Draft:
    """Every seal position of the site: whole, cut, new seal; numbers to be written, none printed."""
    say = given.say
    blocks: list[Block] = []
    if given.site_plan.seal_needs:
        needs = tuple(
            (
                Cell(words=need.seal_kind),
                Cell(words=say(MOMENTS[need.moment])),
                Cell(words=str(need.quantity), strong=True),
                Cell(fields=(_line(),)),
                Cell(fields=(_line(),)),
            )
            for need in given.site_plan.seal_needs
        )
        blocks += [
            Heading(words=say(N_("Seals for this site"))),
            Table(
                columns=(
                    Column(title=say(N_("Kind of seal"))),
                    Column(title=say(N_("When")), width_mm=32),
                    Column(title=say(N_("How many")), width_mm=24),
                    Column(title=say(N_("Brought")), width_mm=28),
                    Column(title=say(N_("Left over")), width_mm=28),
                ),
                rows=needs,
            ),
        ]
    rows: list[tuple[Cell, ...]] = []
    for station in given.site_plan.stations:
        if station.seals:
            tags = given.tags(station)
            name = given.name(station)
            rows.append((Cell(words=f"{name} · {tags}" if tags else name, strong=True, span=5),))
            rows += [_seal_row(given, station, seal) for seal in station.seals]
    if rows:
        blocks += [
            Heading(words=say(N_("Closures and their seals"))),
            Table(
                columns=(
                    Column(title=say(N_("Closure and seal"))),
                    Column(title=say(N_("Whole at opening")), width_mm=26),
                    Column(title=say(N_("Cut at")), width_mm=38),
                    Column(title=say(N_("New seal")), width_mm=44),
                    Column(title=say(N_("Initials of two")), width_mm=24),
                ),
                rows=tuple(rows),
            ),
        ]
    if not blocks:
        blocks.append(Words(words=say(N_("Nothing at this site carries a seal."))))
    blocks += [
        WhenThen(
            title=say(N_("If it differs")),
            pairs=(
                Pair(
                    when=say(N_("A seal is broken or gone")),
                    do=say(N_("Touch nothing there and call the office.")),
                ),
            ),
        ),
        say.cautions(Place.SEALS),
        Signatures(
            labels=(say(N_("First person")), say(N_("Second person"))),
            time=say(N_("Finished at")),
            notes=say(N_("Notes")),
        ),
    ]
    return Draft(
        kind=SheetKind.SEALS,
        key=key_for(SheetKind.SEALS, date),
        title=say(N_("Seal sheet")),
        about="",
        day=given.day_words(date),
        blocks=tuple(blocks),
    )


def _seal_row(given: SiteGiven, station: Station, seal: ExpectedSeal) -> tuple[Cell, ...]:
    say = given.say
    kind = given.type_of(station)
    closure_id = seal.closure.rsplit("/", 1)[-1]
    closure = next((c for c in kind.closures if c.id == closure_id), None)
    words = seal.name
    if closure is not None and closure.seals > 1:
        words = say(N_("{name}, seal {position}"), name=seal.name, position=seal.position)
    put_on: list[tuple[Moment, NumberPolicy]] = []
    if seal.applied is not Moment.AFTER_TEST:
        put_on.append((seal.applied, seal.number_policy))
    if closure is not None:
        put_on += [(moment, closure.resealed_number) for moment in closure.resealed]
    new = tuple(
        _line(say(MOMENTS[moment])) if policy is NumberPolicy.RECORDED else _tick(say(MOMENTS[moment]))
        for moment, policy in put_on
    )
    cut: tuple[Field, ...] = (Field(kind=FieldKind.TIME),) if seal.cut is not None else ()
    return (
        Cell(words=f"{words} ({seal.seal_kind})" if seal.seal_kind else words),
        Cell(
            fields=(_tick(),) if Moment.OPENING in seal.checked else (),
            words="" if Moment.OPENING in seal.checked else "—",
        ),
        Cell(fields=cut, words="" if cut else say(N_("stays on"))),
        Cell(fields=new, words="" if new else say(N_("none"))),
        Cell(fields=(_line(),)),
    )
