"""The lines that people read at a site: one for each thing expected or counted, in the order hands move.

A line knows which event its answer becomes and which observations have answered it already. It
does not know the expected number, save where station type says that the reader compares.
"""

from __future__ import annotations

import enum

from pollstead.election.county import Election
from pollstead.election.instants import format_clock
from pollstead.election.station_type import EntryPolicy, LineKind, Moment
from pollstead.election.values import Value
from pollstead.plan.terms.version import ExpectedItem
from pollstead.reconcile.changed.on_the_day import Swap, swaps_of
from pollstead.reconcile.counts.memory import MemoryState
from pollstead.reconcile.counts.terms import Per, counter_term
from pollstead.reconcile.day import SiteDay
from pollstead.reconcile.observed import Observation, What
from pollstead.reconcile.opening.labels import device_label, station_label
from pollstead.reconcile.opening.matching import IN_PLACE, owner_of, plain_word, speaks_of, tail_of
from pollstead.reconcile.opening.states import ItemResult

OPENING_MOMENTS = (Moment.EVENING_BEFORE, Moment.OPENING)
CLOSING_MOMENTS = (Moment.DURING, Moment.CLOSING)
SECOND_RULE = {True: "second-person-at-opening", False: "second-person-at-closing"}


class Asked(enum.StrEnum):
    """What a line asks a person to type or choose."""

    SERIAL = "serial"
    SEAL = "seal"
    SEAL_IN_PLACE = "seal in place"
    CLOCK = "clock"
    COUNT = "count"
    REPORT = "report"
    PACKED = "memory device packed"


class Line(Value, frozen=True, kw_only=True):
    """One line: its field's name, its group, what is asked, and which event the answer becomes.

    `detail` is the step of a seal, the term of a count, the word of a report; `source` where a count
    is read, `style` the ballot style that it is of. `compare` is the expected value where the station type
    lets the reader see it. `where` is a hint in English, for the catalogue.
    """

    id: str
    group: str
    ask: Asked
    words: str
    where: str = ""
    own_words: bool = True
    subject: str
    detail: str = ""
    source: str = ""
    device: str = ""
    unit: str = ""
    style: str = ""
    compare: str = ""
    second_person: bool = False
    items: tuple[ItemResult, ...] = ()
    answers: tuple[Observation, ...] = ()

    @property
    def standing(self) -> tuple[Observation, ...]:
        """The answers that nothing has corrected or withdrawn."""
        return tuple(answer for answer in self.answers if answer.stands)

    @property
    def people(self) -> tuple[str, ...]:
        """Who has answered, each once, in the order of the first answers."""
        return tuple(dict.fromkeys(p for answer in self.standing for p in answer.entered_by))

    @property
    def wanted_people(self) -> int:
        """How many people must answer."""
        return 2 if self.second_person else 1

    @property
    def complete(self) -> bool:
        """Whether as many people have answered as must."""
        return len(self.people) >= self.wanted_people

    def open_for(self, person: str) -> bool:
        """Whether this person still has an answer to give."""
        return not self.complete and person not in self.people


def opening_lines(day: SiteDay, election: Election) -> tuple[Line, ...]:
    """The lines of the opening page: the expected items in order, then counts of the whole site."""
    return _lines(day, election, opening=True)


def closing_lines(day: SiteDay, election: Election) -> tuple[Line, ...]:
    """The lines of the closing page: counts in the balance's order, seals, memory devices."""
    return _lines(day, election, opening=False)


def observations_of_day(day: SiteDay) -> tuple[Observation, ...]:
    """Everything seen at the site on the day, each once."""
    return day.seen()


def _lines(day: SiteDay, election: Election, *, opening: bool) -> tuple[Line, ...]:
    moments = OPENING_MOMENTS if opening else CLOSING_MOMENTS
    second = election.rules.choice(SECOND_RULE[opening]) == "yes"
    seen = observations_of_day(day)
    from_items = _item_lines(day, election, moments)
    counts = _count_lines(day, election, seen, opening=opening, second=second)
    covered = {(line.subject, line.detail) for line in from_items if line.ask is Asked.COUNT}
    counts = [line for line in counts if (line.subject, line.detail) not in covered]
    packed = [] if opening else _packed_lines(day, election, seen)
    ordered = [*from_items, *counts] if opening else [*counts, *from_items, *packed]
    return tuple(_numbered(line, index) for index, line in enumerate(ordered))


def _numbered(line: Line, index: int) -> Line:
    import msgspec

    return msgspec.structs.replace(line, id=f"line-{index + 1}")


def _item_lines(day: SiteDay, election: Election, moments: tuple[Moment, ...]) -> list[Line]:
    lines: list[Line] = []
    clocks: dict[str, int] = {}
    swaps = swaps_of(observations_of_day(day))
    for result in day.results:
        item = result.item
        if item is None or item.moment not in moments or not is_asked(result, election):
            continue
        if item.what in ("clock", "date"):
            # One look at the device's face answers both the time and the date.
            owner = owner_of(item)
            if owner in clocks:
                lines[clocks[owner]] = _with(lines[clocks[owner]], result)
                continue
            clocks[owner] = len(lines)
        lines.append(_item_line(item, result, election, swaps))
    return lines


def is_asked(result: ItemResult, election: Election) -> bool:
    """Whether people at the site are asked for an item: a memory device behind a seal that stays on is not.

    The expected list has its id for closing all the same; where somebody read it, it is shown.
    """
    item = result.item
    if item is None or item.what != "memory device" or item.moment is not Moment.OPENING:
        return True
    kinds = {kind.id: kind for kind in election.station_types}
    kind = next((kinds[part] for part in item.station.split("/") if part in kinds), None)
    on_sheet = kind is None or any(line.kind is LineKind.MEMORY_DEVICE for line in kind.opening)
    return on_sheet or bool(result.observations)


def _with(line: Line, result: ItemResult) -> Line:
    import msgspec

    item = result.item
    second = line.second_person or (item is not None and item.second_person)
    return msgspec.structs.replace(line, items=(*line.items, result), second_person=second)


def _group(item: ExpectedItem, election: Election, swaps: tuple[Swap, ...]) -> str:
    """The station, and where a device was swapped there, which of the two it is: its tag, from or until when.

    The tag and never the serial: people read that from the plate.
    """
    label = station_label(item.station, election)
    for swap in swaps:
        if swap.station == item.station and item.device in (swap.old, swap.new):
            tag = next((d.tag for d in election.devices if d.id == item.device), "")
            at = format_clock(swap.at_min)
            stood = f"{at}–" if item.device == swap.new else f"–{at}"
            return f"{label} ({', '.join(filter(None, (tag, stood)))})"
    return label


def _item_line(item: ExpectedItem, result: ItemResult, election: Election, swaps: tuple[Swap, ...]) -> Line:
    ask, detail, subject, source = Asked.SERIAL, "", item.subject, ""
    words, own_words = item.words, False
    if item.what == "seal":
        ask = Asked.SEAL_IN_PLACE if item.value == IN_PLACE else Asked.SEAL
        detail = plain_word(item.moment.value)
    elif item.what in ("clock", "date"):
        ask, subject, words, own_words = Asked.CLOCK, owner_of(item), "Clock and date", True
    elif item.what == "counter":
        ask, subject, source = Asked.COUNT, owner_of(item), "screen"
        detail = counter_term(tail_of(item), item.moment)
    elif item.what == "report":
        ask, subject, detail = Asked.REPORT, owner_of(item), plain_word(tail_of(item))
    elif item.what == "memory device":
        own_words = True
    compared = item.entry is EntryPolicy.COMPARED and ask in (Asked.SERIAL, Asked.SEAL)
    return Line(
        id="",
        group=_group(item, election, swaps),
        ask=ask,
        words=words,
        own_words=own_words,
        subject=subject,
        detail=detail,
        source=source,
        device=item.device,
        compare=result.expected if compared else "",
        second_person=item.second_person,
        items=(result,),
        answers=tuple(o for o in result.observations if speaks_of(item, o)),
    )


def _count_lines(
    day: SiteDay, election: Election, seen: tuple[Observation, ...], *, opening: bool, second: bool
) -> list[Line]:
    wanted = Moment.OPENING if opening else Moment.CLOSING
    lines = []
    for number in () if day.balance is None else day.balance.lines:
        if number.term.moment is not wanted:
            continue
        of_device = number.term.per is Per.DEVICE
        subject = number.device if of_device else f"site/{day.site.removeprefix('site/')}"
        lines.append(
            Line(
                id="",
                group=device_label(number.device, election) if of_device else "",
                ask=Asked.COUNT,
                words=number.term.words,
                style=number.style,
                where=number.term.where,
                subject=subject,
                detail=number.name,
                source=number.term.source,
                device=number.device,
                unit=number.unit,
                second_person=second,
                answers=tuple(
                    o
                    for o in seen
                    if o.what is What.COUNT and o.subject == subject and o.detail == number.name
                ),
            )
        )
    return lines


def _packed_lines(day: SiteDay, election: Election, seen: tuple[Observation, ...]) -> list[Line]:
    lines = []
    for result in day.memory:
        for held in result.lines:
            if not held.device or held.state is MemoryState.RECEIVED:
                continue
            answers = tuple(
                o for o in seen if o.what is What.MEMORY_DEVICE and o.subject.rpartition("/")[2] == held.id
            )
            lines.append(
                Line(
                    id="",
                    group=device_label(held.device, election),
                    ask=Asked.PACKED,
                    words=held.id,
                    own_words=False,
                    subject=f"memory-device/{held.id}",
                    device=held.device,
                    answers=answers,
                )
            )
    return lines
