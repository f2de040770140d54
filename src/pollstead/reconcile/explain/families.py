"""Everything that may be behind a site's differences: readings, things that happened, numbers exchanged."""

from __future__ import annotations

import functools
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from pollstead.election.fault_odds import FaultKind
from pollstead.election.station_type import Moment
from pollstead.reconcile.counts.balance import Reading
from pollstead.reconcile.counts.jams import Jam
from pollstead.reconcile.counts.terms import BY_ID, Per, key_of, split_key
from pollstead.reconcile.diagnosis.costs import prices_of
from pollstead.reconcile.explain.neighbors import pairs_of
from pollstead.reconcile.explain.odds import NEVER, Odds, among
from pollstead.reconcile.explain.processes import PROCESSES, Process
from pollstead.reconcile.explain.reading_lines import (
    MOST_SIZE,
    SELDOM_LARGE,
    Neighbor,
    Option,
    ReadingLine,
    miscount,
    ways_of_copying,
)
from pollstead.reconcile.explain.system import VIRTUAL, System, Vector, column_key, plus, scaled, virtual
from pollstead.reconcile.explain.terms import Fault, FromWhere, OtherNumber, SiteNight
from pollstead.reconcile.observed import STYLE_MARK

IN_JAM_EXACTLY = 105
"""Millinats: nine in ten, where a jam record says that exactly this was counted or not."""
_HOLD_PROVISIONAL = ("check_ins", "ballots_issued")


class Family(NamedTuple):
    """One thing that may be off by any whole amount: what one of it does to the rows, and its ways.

    `columns` are the readings it changes: two faults never change one reading. `unit` are pairs (column,
    amount) of one. Of `line`, `process` and `unread` one is set, or none: then a pile was counted wrong by
    hand. A process does not happen more than `most` times, else a number would have to be below 0; `whole` is
    how often it is if it is of all that there is, 0 where that is nothing of its own.
    """

    id: str
    columns: frozenset[str]
    direction: Vector
    unit: tuple[tuple[str, int], ...]
    line: ReadingLine | None = None
    process: Process | None = None
    device: str = ""
    jams: tuple[Jam, ...] = ()
    odds: Odds | None = None
    choices: int = 1
    readers: int = 1
    most: int = MOST_SIZE
    whole: int = 0
    unread: bool = False

    def options(self, amount: int) -> list[Option]:
        """Every way in which it is off by `amount`."""
        if self.line is not None:
            return self.line.options(amount)
        if self.odds is None:
            return []
        if self.unread:
            kind = FaultKind.CLOSING_NOT_READ
            return [Option(kind, self.odds.of(kind), 0, is_free=True)] if amount > 0 else []
        if self.process is not None:
            return self._happened(self.process.kind, amount, self.odds)
        return [miscount(amount, self.readers, self.odds)] if 1 <= abs(amount) <= MOST_SIZE else []

    def _happened(self, kind: FaultKind, amount: int, odds: Odds) -> list[Option]:
        is_whole = amount > 0 and amount == self.whole
        if not (is_whole or 1 <= amount <= self.most):
            return []
        # A jam is of one ballot: of more than there are records, no record speaks for it.
        of_jams = amount <= len(self.jams)
        prior = odds.of(kind, jam=of_jams)
        sign = 1 if kind is FaultKind.SCANNED_TWICE else -1
        if of_jams and any(jam.extra == (sign, sign) for jam in self.jams):
            prior = min(prior, IN_JAM_EXACTLY)
        size = 0 if is_whole else odds.size(kind, amount)
        # All of it is as likely as some of it, one by one.
        size += among(2) if self.whole else 0
        return [Option(kind, prior, size + among(self.choices), size=amount)]

    def amounts(self) -> list[int]:
        """Every amount for which some way is not free."""
        if self.line is not None:
            return self.line.amounts()
        if self.unread:
            return []
        if self.process is not None:
            return sorted({*range(1, self.most + 1), *((self.whole,) if self.whole else ())})
        return [amount for amount in range(-MOST_SIZE, MOST_SIZE + 1) if amount]

    def least_of_free(self) -> int:
        """No way that fits any amount costs less than this; NEVER where there is no such way."""
        if self.unread and self.odds is not None:
            return self.odds.of(FaultKind.CLOSING_NOT_READ)
        return NEVER if self.line is None else self.line.least_of_free()

    def without_jam(self) -> int:
        """The cost that it happens where no jam record speaks for it; of a process."""
        return NEVER if self.process is None or self.odds is None else self.odds.of(self.process.kind)

    def fault(self, amount: int, option: Option) -> Fault:
        """The fault of one way and amount."""
        moves = tuple((column, amount * one) for column, one in self.unit)
        return Fault(
            kind=option.kind,
            keys=tuple(dict.fromkeys(column_key(column) for column, _ in moves)),
            moves=moves,
            size=option.size,
            other=option.other,
        )


class Exchange(NamedTuple):
    """Something with one amount only: what it does to the rows, its cost, its fault."""

    columns: frozenset[str]
    effect: Vector
    option: Option
    fault: Fault


def families_of(night: SiteNight, system: System, odds: Odds) -> tuple[Family, ...]:
    """Every family that moves some row, in a fixed order."""
    readings = _readings(night, system, odds)
    return (
        *readings,
        *_processes(night, system, odds),
        *_unread(night, system, odds),
        *_piles(night, system, odds),
    )


def _readings(night: SiteNight, system: System, odds: Odds) -> Iterator[Family]:
    lines = {line.key: line for line in night.balance.lines}
    exact = {one.key for one in night.known if one.exact}
    counted = {one.key for one in night.known if one.by_hand}
    readers = {(one.key, one.value): readers_of(one) for one in night.readings}
    near = _neighbors(night, system)
    prices = prices_of(odds.costs)
    # Stock that is printed on demand stands as it stood the day before: that it is equal says nothing.
    stands = "ballots_printed" in lines
    others: dict[str, list[OtherNumber]] = {}
    for other in night.others:
        if not (stands and other.key == "ballots_unused" and other.where is FromWhere.DAY_BEFORE):
            others.setdefault(other.key, []).append(other)
    for column, value in system.values.items():
        key = column_key(column)
        direction = system.columns.get(column, ())
        if not direction or key in exact:
            continue
        term = BY_ID.get(split_key(key)[0])
        read_by = readers.get((key, value), 1)
        line = ReadingLine(
            column=column,
            value=value,
            readers=read_by,
            by_hand=key in counted or (term is not None and term.source == "hand"),
            unit=lines[key].unit if key in lines else "",
            sheets=night.balance.sheets_per_ballot,
            is_opening_counter=term is not None
            and term.moment is Moment.OPENING
            and term.id == "public_counter_open",
            copied=ways_of_copying(
                value, read_by, near.get(key, ()), others.get(key, ()), system.values, odds
            ),
            others=tuple(others.get(key, ())),
            seldom_large=term is not None and term.id in SELDOM_LARGE,
            bounds=tuple(one for one in night.bounds if one.key == key),
            provisional=system.values.get("provisional_issued") if key in _HOLD_PROVISIONAL else None,
            pack_sizes=night.pack_sizes if term is not None and term.id in _IN_PACKS else (),
            odds=odds,
            prices=prices,
        )
        yield Family(column, frozenset((column,)), direction, ((column, 1),), line=line)


def readers_of(reading: Reading) -> int:
    """How many people read a number apart from one another; all who key one sheet read what stands there."""
    from_paper = any(origin.sheet for origin in reading.origins)
    return 1 if from_paper else min(2, max(1, len(reading.people)))


_IN_PACKS = ("ballots_received", "ballots_unused", "ballots_resupplied", "ballots_transferred_out")


def _processes(night: SiteNight, system: System, odds: Odds) -> Iterator[Family]:
    sheet = {line.key for line in night.balance.lines}
    terms = {split_key(key)[0] for key in sheet}
    devices = tuple(dict.fromkeys(line.device for line in night.balance.lines if line.device))
    styles = tuple(style for style, _ in night.balance.styles.sheets)
    for process in PROCESSES:
        if (process.needs and not terms & set(process.needs)) or terms & set(process.without):
            continue
        for device in devices if process.per_device else ("",):
            made: dict[Vector, Family] = {}
            for style in styles or ("",):
                unit = _unit(process, sheet, device, style)
                direction = _direction(unit, system) if unit else ()
                if direction:
                    made.setdefault(
                        direction,
                        Family(
                            id=f"{process.kind.value} {process.moves}@{device}{STYLE_MARK}{style}",
                            columns=frozenset(),
                            direction=direction,
                            unit=unit,
                            process=process,
                            device=device,
                            jams=_open_jams(process, night.jams, device),
                            odds=odds,
                            most=_most(unit, system),
                            whole=_whole(process, unit, system),
                        ),
                    )
            # Styles that the rows cannot tell apart are one thing; of several, each is as likely.
            yield from (one._replace(choices=len(made)) for one in made.values())


def _unit(process: Process, sheet: set[str], device: str, style: str) -> tuple[tuple[str, int], ...]:
    """What one of it moves on this sheet: totals and, where it counts by style, the style's own lines.

    Empty where the sheet lacks a line of the site that it moves, or all of the device's.
    """
    found: list[tuple[str, int]] = []
    has_device = False
    for term, amount in process.moves:
        if term in VIRTUAL:
            found.append((virtual(term, style), amount))
            continue
        keys = list(dict.fromkeys((key_of(term, device), key_of(term, device, style))))
        if term == "report_count_close" and style:
            keys.append(key_of("style_count_close", device, style))
        here = [(key, amount) for key in keys if key in sheet]
        if BY_ID[term].per is Per.DEVICE:
            has_device = has_device or bool(here)
        elif not here:
            return ()
        found += here
    return tuple(found) if has_device or not process.per_device else ()


def _most(unit: tuple[tuple[str, int], ...], system: System) -> int:
    """How often it can have happened: no number would have to be below 0."""
    held = (system.values[key] // amount for key, amount in unit if amount > 0 and key in system.values)
    return min((MOST_SIZE, *held))


def _whole(process: Process, unit: tuple[tuple[str, int], ...], system: System) -> int:
    """Where all of a pile is taken together, how much that is: a bin is fed to a device at one time."""
    if process.kind is not FaultKind.AUXILIARY_TWICE:
        return 0
    return min((system.values[key] for key, _ in unit if key in system.values), default=0)


_CLOSING_OF = (
    ("public_counter_close", "public_counter_open"),
    ("report_count_close", "public_counter_open"),
    ("lifetime_counter_close", "lifetime_counter_open"),
)


def _unread(night: SiteNight, system: System, odds: Odds) -> Iterator[Family]:
    """A device whose closing numbers are all those of its opening: it may have counted, and nobody read it.

    So it is where a device was exchanged during the day. What it counted stands on its memory device.
    """
    devices = tuple(dict.fromkeys(line.device for line in night.balance.lines if line.device))
    by_style = {line.device for line in night.balance.lines if line.term.id == "style_count_close"}
    values = system.values
    for device in devices:
        keys = [(key_of(closing, device), key_of(opening, device)) for closing, opening in _CLOSING_OF]
        read = [(closing, opening) for closing, opening in keys if closing in values]
        stands = all(values.get(opening) == values[closing] for closing, opening in read)
        if (
            device in by_style
            or not stands
            or keys[0] not in read
            or any(k in system.second for k, _ in read)
        ):
            continue
        unit = tuple((closing, -1) for closing, _ in read)
        direction = _direction(unit, system)
        if direction:
            yield Family(
                id=f"unread {device}",
                columns=frozenset(closing for closing, _ in read),
                direction=direction,
                unit=unit,
                device=device,
                odds=odds,
                unread=True,
            )


def _direction(unit: tuple[tuple[str, int], ...], system: System) -> Vector:
    direction: Vector = ()
    for key, amount in unit:
        direction = plus(direction, system.columns.get(key, ()), amount)
        for column in system.second.get(key, ()):
            # A second reading of a number stands there too.
            direction = plus(direction, system.columns.get(column, ()), amount)
    return direction


def _piles(night: SiteNight, system: System, odds: Odds) -> Iterator[Family]:
    """A pile of one style counted wrong by hand: the style's number and the total move alike."""
    sheet = {line.key for line in night.balance.lines}
    readers = {one.key: readers_of(one) for one in night.readings}
    for line in night.balance.lines:
        total = line.term.id
        if not line.style or line.device or total not in sheet or line.term.source != "hand":
            continue
        unit = tuple((key, 1) for key in (line.key, total) if key in system.values)
        direction = _direction(unit, system)
        if len(unit) == 2 and direction:
            yield Family(
                id=f"pile {line.key}",
                columns=frozenset(key for key, _ in unit),
                direction=direction,
                unit=unit,
                readers=readers.get(line.key, 1),
                odds=odds,
            )


def _open_jams(process: Process, jams: tuple[Jam, ...], device: str) -> tuple[Jam, ...]:
    """The jam records of a device that leave this open."""
    if process.kind is FaultKind.SCANNED_TWICE:
        return tuple(jam for jam in jams if jam.device == device and jam.extra[1] > 0)
    if process.kind is FaultKind.IN_BOX_NOT_COUNTED:
        return tuple(jam for jam in jams if jam.device == device and jam.extra[0] < 0)
    return ()


def _neighbors(night: SiteNight, system: System) -> Mapping[str, list[Neighbor]]:
    near: dict[str, list[tuple[FaultKind, str]]] = {}
    for copied, _, one, other in pairs_of(night):
        if one in system.values and other in system.values:
            near.setdefault(one, []).append((copied, other))
            near.setdefault(other, []).append((copied, one))
    return {
        key: [Neighbor(kind, column, sum(k is kind for k, _ in found)) for kind, column in found]
        for key, found in near.items()
    }


def exchanges_of(night: SiteNight, system: System, odds: Odds) -> tuple[Exchange, ...]:
    """Two numbers written in each other's place, and provisional ballots counted inside in both places."""
    exact = {one.key for one in night.known if one.exact}
    found = []
    for _, kind, one, other in pairs_of(night):
        if one not in system.values or other not in system.values or {one, other} & exact:
            continue
        apart = system.values[one] - system.values[other]
        if apart:
            found.append(_exchange(system, odds, kind, ((one, apart), (other, -apart))))
    inside = system.values.get("provisional_issued", 0)
    if inside and all(system.values.get(key, -1) >= inside for key in _HOLD_PROVISIONAL):
        moves = tuple((key, inside) for key in _HOLD_PROVISIONAL)
        found.append(_exchange(system, odds, FaultKind.PROVISIONAL_INSIDE, moves))
    return tuple(one for one in found if one.effect)


def _exchange(system: System, odds: Odds, kind: FaultKind, moves: tuple[tuple[str, int], ...]) -> Exchange:
    effect: Vector = functools.reduce(
        lambda sum_, move: plus(sum_, scaled(system.columns.get(move[0], ()), move[1])), moves, ()
    )
    keys = tuple(key for key, _ in moves)
    return Exchange(
        columns=frozenset(keys),
        effect=effect,
        option=Option(kind, odds.of(kind), 0),
        fault=Fault(kind=kind, keys=keys, moves=moves),
    )
