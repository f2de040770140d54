"""What a receiving table takes: a scan, a word on a thing that is not here, the case's seals, undo."""

from __future__ import annotations

import re
from typing import Final, Literal, get_args

from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.reconcile.custody.not_back import leads_of
from pollstead.reconcile.custody.receiving import TABLE_PREFIX, Sort, ThingLine, tables_of
from pollstead.record.event import Means, Part
from pollstead.record.event import Person as Someone
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds.body import Body, Private
from pollstead.record.kinds.custody import CaseNumbers, CaseSealsRead, Seals, ThingStated
from pollstead.record.kinds.days import CorrectionPrivate, EntryCorrected, MemoryDevicePacked, ThingReceived
from pollstead.show.commands import Command, command_of
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.custody_view import Evening, Meant
from pollstead.show.web.misread import MISREAD, misread_of
from pollstead.show.web.pages.frame import Ask, Trouble
from pollstead.show.web.second import second_person
from pollstead.show.web.typed import SERIAL, Wrong

TABLE: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]{0,11}")
UNDO_REASON: Final = "Undone at the receiving table"
WORDS: tuple[Literal["travels_inside", "to_follow", "not_found"], ...] = (
    "travels_inside",
    "to_follow",
    "not_found",
)
SOURCES: tuple[Literal["case", "statement"], ...] = ("case", "statement")
LAST_KINDS = ("thing.received", "thing.stated", "memory_device.packed", "case_seals.read")
SHORT: Final = 16


class Table(Value, frozen=True, kw_only=True):
    """Who sits at which table, and for which site: what every form of the page carries along."""

    name: str
    site: str
    day: str
    second: str
    giver: str
    witness: str = ""

    @property
    def place(self) -> str:
        """The table as a place of the record."""
        return f"{TABLE_PREFIX}{self.name}"


class Answer(Value, frozen=True, kw_only=True):
    """What one act came to: words, shape, the site to go on with, the event that undo takes back."""

    words: Message
    shape: str
    site: str
    event: str = ""
    stop: bool = False
    undone: str = ""


def table_of(ask: Ask) -> Table:
    """The table of the address or of the form; an unknown word for it counts as none."""

    def text(name: str) -> str:
        return ask.form.text(name) or ask.query.get(name, "")

    name = text("table")
    return Table(
        name=name if TABLE.fullmatch(name) else "",
        site=text("site"),
        day=text("day"),
        second=text("second"),
        giver=text("giver"),
        witness=text("witness"),
    )


def witness_wanted(evening: Evening) -> bool:
    """Whether the county's rule asks for a witness where a thing changes hands."""
    return evening.election.rules.choice("hand-off-witness") == "yes"


class Hands(Value, frozen=True, kw_only=True):
    """The second person at the table, and giver and receiver as people of the event."""

    second: str
    people: tuple[Someone, ...]


def people_of(ask: Ask, evening: Evening) -> Hands | tuple[Wrong, ...]:
    """The second person, and giver and receiver as people of the event; or what needs another look."""
    faults = []
    second = second_person(ask)
    if isinstance(second, Wrong):
        faults.append(second)
    giver = second_person(ask, "giver", wanted=False)
    if isinstance(giver, Wrong):
        faults.append(giver)
    witness = second_person(ask, "witness", wanted=witness_wanted(evening))
    if isinstance(witness, Wrong):
        faults.append(witness)
    elif witness and witness in (second, giver):
        faults.append(_wrong("witness", N_("The witness must be somebody else than the others.")))
    if faults or isinstance(second, Wrong) or isinstance(giver, Wrong) or isinstance(witness, Wrong):
        return tuple(faults)
    hands = [_someone(ask.person().person, Part.RECEIVER)]
    if giver:
        hands.append(_someone(giver, Part.GIVER))
    if witness:
        hands.append(_someone(witness, Part.WITNESS))
    return Hands(second=second, people=tuple(hands))


def _someone(person: str, part: Part) -> Someone:
    return Someone(person=person, means=Means.NAME_ONLY, part=part)


def take_scan(ask: Ask, evening: Evening, table: Table) -> Answer | tuple[Wrong, ...]:
    """A scan or a typed code: a site, a thing, or a command card."""
    code = ask.form.text("code")
    command = command_of(code)
    if command is Command.UNDO:
        return undo_last(ask, evening, table)
    if command is Command.NEXT:
        return Answer(words=message(N_("The next site, please.")), shape="ring", site="")
    if command is Command.STOP:
        return Answer(words=message(N_("Stopped. Everything is kept.")), shape="square", site="", stop=True)
    if not code:
        return (_wrong("code", N_("Scan or type what stands on the thing, or a site.")),)
    meant = evening.meant(code)
    if meant is None:
        return _unknown(evening, code)
    if not meant.thing:
        return Answer(
            words=message(
                N_("{site}: what have they brought?"), site=evening.place_words(f"site/{meant.site}")
            ),
            shape="ring",
            site=meant.site,
        )
    return receive(ask, evening, table, meant)


def _unknown(evening: Evening, code: str) -> tuple[Wrong, ...]:
    like = evening.like(code)
    if like:
        return (
            _wrong(
                "code",
                N_("No thing of this county has {code}. Is it {like}? Look at it again."),
                code=code,
                like=", ".join(like),
            ),
        )
    return (
        _wrong(
            "code", N_("No thing of this county has {code}. Look again, or take it in as it is."), code=code
        ),
    )


def take_other(ask: Ask, evening: Evening, table: Table) -> Answer | tuple[Wrong, ...]:
    """A thing that is on no list is taken in all the same, under what stands on it."""
    code = ask.form.text("code")
    tail = re.sub(r"[^A-Za-z0-9._-]", "-", code).strip("-._")[:60]
    if not SERIAL.fullmatch(code) or not tail:
        return (_wrong("code", N_("Type what stands on it: letters, digits, dots, at most 40.")),)
    return receive(ask, evening, table, Meant(thing=f"other/{tail}", site=table.site, code=code))


def receive(ask: Ask, evening: Evening, table: Table, meant: Meant) -> Answer | tuple[Wrong, ...]:
    """Take one thing in. Never refused: a thing of another site is taken in for that site and told."""
    people = people_of(ask, evening)
    if isinstance(people, tuple):
        return people
    site = meant.site or table.site
    held = evening.held.get(meant.thing)
    if held is not None and table.place in tables_of(held):
        return Answer(
            words=message(N_("{code} is here already; this table took it in before."), code=meant.code),
            shape="half",
            site=table.site or site,
        )
    seals = ask.form.text("seals") or "not_looked"
    body = ThingReceived(
        place=table.place,
        state="received",
        from_place=f"site/{site}" if site else "",
        seals=seals if seals in get_args(Seals) else "not_looked",  # type: ignore[arg-type]
    )
    event = _write(ask, evening, body, meant.thing, site, people.second, people.people)
    elsewhere = tables_of(held)
    names = ask.may(Capability.SEE_PEOPLE)
    words, shape = _taken_words(evening, table, meant, elsewhere, names=names)
    return Answer(words=words, shape=shape, site=table.site or site, event=event)


def _taken_words(
    evening: Evening, table: Table, meant: Meant, elsewhere: tuple[str, ...], *, names: bool
) -> tuple[Message, str]:
    place = evening.place_words(f"site/{meant.site}") if meant.site else ""
    if elsewhere:
        return (
            message(
                N_(
                    "{code} is taken in here; {table} says it has it too. Both stay until somebody says more."
                ),
                code=meant.code,
                table=evening.place_words(elsewhere[0]),
            ),
            "diamond",
        )
    if table.site and meant.site and meant.site != table.site:
        leads = [one for site in (meant.site, table.site) for one in leads_of(evening.election, site)[:1]]
        return (
            message(
                N_("{code} belongs to {site}. It is taken in for that site; tell both leads: {leads}."),
                code=meant.code,
                site=place,
                leads=", ".join(evening.name(one, shown=names) for one in leads) or "–",
            ),
            "diamond",
        )
    if meant.line is None and meant.thing.startswith("other/"):
        return message(N_("{code} is taken in. It is on no list."), code=meant.code), "half"
    return message(N_("{code} is taken in for {site}."), code=meant.code, site=place), "square"


def take_word(ask: Ask, evening: Evening, table: Table) -> Answer | tuple[Wrong, ...]:
    """What is said of a thing that did not come, or that it is here though it has no label."""
    thing, word = ask.form.text("thing"), ask.form.text("word")
    found = next((x for x in evening.lines.get(table.site, ()) if x.thing == thing), None)
    if found is None or word not in (*WORDS, "received"):
        raise Trouble(400, N_("This form is not known here."), N_("Open the page again."), "/receiving")
    if word == "received":
        meant = Meant(thing=found.thing, site=found.site, code=found.code, line=found)
        return receive(ask, evening, table, meant)
    people = people_of(ask, evening)
    if isinstance(people, tuple):
        return people
    inside = found.device if word == "travels_inside" else ""
    event = _write(
        ask, evening, _word_body(found, word, inside), thing, found.site, people.second, people.people
    )
    return Answer(
        words=message(N_("{code}: what was said of it is written down."), code=found.code),
        shape="half",
        site=table.site,
        event=event,
    )


def _word_body(line: ThingLine, word: str, inside: str) -> Body:
    if line.sort is Sort.MEMORY_DEVICE:
        return MemoryDevicePacked(state=word, inside=inside)  # type: ignore[arg-type]
    return ThingStated(state=word, inside=inside)  # type: ignore[arg-type]


def take_seals(ask: Ask, evening: Evening, table: Table) -> Answer | tuple[Wrong, ...]:
    """The numbers of the case's seals, read on the case and on the closing statement."""
    case = next((x for x in evening.lines.get(table.site, ()) if x.sort is Sort.CASE), None)
    if case is None:
        raise Trouble(400, N_("This site brings no case."), N_("Open the page again."), "/receiving")
    people = people_of(ask, evening)
    if isinstance(people, tuple):
        return people
    faults, made = [], []
    misread = misread_of(evening.election, ask.folder.current(), ask.form)
    for source in SOURCES:
        numbers = tuple(n for n in re.split(r"[\s,;]+", ask.form.text(f"seals-{source}")) if n)
        if any(not SERIAL.fullmatch(number) for number in numbers) or len(numbers) > 8:
            faults.append(_wrong(f"seals-{source}", N_("Type each number as it stands, a blank between.")))
        elif any(misread(case.thing, number) for number in numbers):
            faults.append(_wrong(f"seals-{source}", MISREAD))
        elif numbers:
            made.append((source, numbers))
    if not made and not faults:
        faults.append(_wrong("seals-case", N_("Type the numbers on the case, or those on the statement.")))
    if faults:
        return tuple(faults)
    event = ""
    for source, numbers in made:
        body, private = CaseSealsRead(source=source), CaseNumbers(numbers=numbers)
        event = _write(ask, evening, body, case.thing, table.site, people.second, (), private)
    return Answer(
        words=message(N_("The seals are written down. The comparison stands below.")),
        shape="half",
        site=table.site,
        event=event,
    )


def undo_last(ask: Ask, evening: Evening, table: Table) -> Answer | tuple[Wrong, ...]:
    """Withdraw one event of this page by a correction; both stay. Without an id, this person's last one."""
    wanted = ask.form.text("event")
    author = ask.person().person
    found = [
        (reading.utc_ms, reading.n, fact.subject, reading)
        for kind in LAST_KINDS
        for fact in evening.days.folded.named(kind)
        for reading in fact.current
        if reading.people[0].person == author and fact.day == evening.date.isoformat()
        if not wanted or reading.event.startswith(wanted)
    ]
    if not found:
        return (_wrong("code", N_("There is nothing of yours to take back.")),)
    _, _, subject, reading = max(found, key=lambda one: one[:2])
    ask.folder.write(
        EntryCorrected(corrects=reading.event, of_kind=reading.kind, value=FrozenObject()),
        who=ask.person(),
        subject=subject,
        site=reading.site,
        day=evening.date.isoformat(),
        private=CorrectionPrivate(reason=UNDO_REASON),
    )
    return undone_words(subject.partition("/")[2], table)


def undone_words(code: str, table: Table) -> Answer:
    """What the page says after an undo."""
    words = message(N_("Taken back: {code}. The record keeps both."), code=code[:60])
    return Answer(words=words, shape="half", site=table.site, undone=code)


def _write(
    ask: Ask,
    evening: Evening,
    body: Body,
    thing: str,
    site: str,
    second: str,
    hands: tuple[Someone, ...],
    private: Private | None = None,
) -> str:
    signed = ask.folder.write(
        body,
        who=ask.person(),
        subject=thing,
        site=f"site/{site}" if site else "",
        day=evening.date.isoformat(),
        second=second,
        hands=hands,
        private=private,
    )
    return signed.id[:SHORT]


def _wrong(field: str, words: str, **params: int | str) -> Wrong:
    return Wrong(field=field, words=message(words, **params))
