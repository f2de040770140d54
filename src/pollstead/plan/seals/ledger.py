"""The seal ledger: what came in, where each number is in its one life, and what does not add up.

A number of a kind has one life: in the store, in a site's bag, on a closure, void. Each is in one of them;
the four together are what came in. Seal numbers stand in `Trouble` and in runs, for those who may see them;
the notices name kinds, series, receipts and how many.
"""

from __future__ import annotations

import enum
from collections import defaultdict

from pollstead.election.county import SealRange
from pollstead.election.seal_checks import SealChecks
from pollstead.election.seal_stock import SealBlock, SealReceipt, SealReturn, SealVoid
from pollstead.election.values import Value
from pollstead.plan.seals.lives import life_troubles, steps_of
from pollstead.plan.seals.spans import (
    Run,
    Shape,
    Span,
    both,
    holds,
    joined,
    shape_of,
    size,
    span_of,
    without,
)
from pollstead.plan.seals.stock_troubles import (
    blocks_twice,
    book_against_receipts,
    doubles,
    look_alikes,
    quantities,
    series_gaps,
)
from pollstead.plan.seals.trouble import Trouble, TroubleKind
from pollstead.plan.terms.seals import SealEvent, SealStep


class LedgerGiven(Value, frozen=True, kw_only=True):
    """Everything that is known of the stock; `events` are the steps that facts and record tell."""

    ranges: tuple[SealRange, ...] = ()
    receipts: tuple[SealReceipt, ...] = ()
    voids: tuple[SealVoid, ...] = ()
    returns: tuple[SealReturn, ...] = ()
    blocks: tuple[SealBlock, ...] = ()
    events: tuple[SealEvent, ...] = ()


class At(enum.StrEnum):
    """Where a number that came in is now; the later one in this list wins."""

    STORE = "in the store"
    BAG = "in a site's bag"
    CLOSURE = "on a closure"
    VOID = "void"


class Stretch(Value, frozen=True, kw_only=True):
    """Numbers in a row that are at the same place."""

    shape: Shape
    at: At
    low: int
    high: int

    @property
    def first(self) -> str:
        """The first number as it stands on the seal."""
        return self.shape.text(self.low)

    @property
    def last(self) -> str:
        """The last number as it stands on the seal."""
        return self.shape.text(self.high)


class KindLine(Value, frozen=True, kw_only=True):
    """One kind of seal: how many came in, and where those are. They add up to `received`.

    `outside` are numbers that were used or voided and are in no range or receipt.
    """

    seal_kind: str
    received: int
    store: int
    bag: int
    closure: int
    void: int
    outside: int = 0


class Ledger(Value, frozen=True, kw_only=True):
    """The stock of the county: lines by kind, where the numbers are, what does not add up."""

    lines: tuple[KindLine, ...] = ()
    stretches: tuple[Stretch, ...] = ()
    spans: tuple[Span, ...] = ()
    troubles: tuple[Trouble, ...] = ()

    def free(self, seal_kind: str) -> tuple[Stretch, ...]:
        """The numbers of a kind that lie in the store, in order."""
        return tuple(s for s in self.stretches if s.at is At.STORE and s.shape.seal_kind == seal_kind)

    @property
    def on_closures(self) -> int:
        """How many seals of all kinds are on closures."""
        return sum(line.closure for line in self.lines)

    def line(self, seal_kind: str) -> KindLine | None:
        """The line of a kind; None where nothing of it is known."""
        return next((line for line in self.lines if line.seal_kind == seal_kind), None)


def seal_ledger(given: LedgerGiven) -> Ledger:
    """The ledger of everything given; rows that cannot be counted are named and left out."""
    troubles: list[Trouble] = []
    checks = SealChecks.of(given.ranges)
    ranges = _spans(given.ranges, "seal_ranges.csv", troubles, checks)
    receipts = _spans(given.receipts, "seal_receipts.csv", troubles, checks)
    spans = (*ranges, *receipts)
    stock: dict[Shape, list[Run]] = defaultdict(list)
    for span in spans:
        stock[span.shape].append((span.low, span.high))
    held = {shape: joined(runs) for shape, runs in stock.items()}
    troubles += quantities(given.receipts, checks)
    troubles += series_gaps(spans)
    troubles += doubles(ranges) + doubles(receipts)
    troubles += look_alikes(spans)
    troubles += book_against_receipts(ranges, receipts)
    events = steps_of(given.events, given.voids)
    returned = _runs(given.returns, "seal_returns.csv", troubles, checks)
    troubles += life_troubles(events, held, returned, checks)
    taken, outside = _taken(events, held, checks)
    bags = _runs(given.blocks, "seal_blocks.csv", troubles, checks)
    troubles += blocks_twice(given.blocks, checks)
    troubles += _not_returned(given, returned, taken, checks)
    stretches = [
        stretch
        for shape, runs in held.items()
        for stretch in _placed(shape, runs, without(joined(bags[shape]), returned[shape]), taken[shape])
    ]
    return Ledger(
        lines=_lines(stretches, outside),
        stretches=tuple(
            sorted(stretches, key=lambda s: (s.shape.seal_kind, s.shape.before, s.low, s.at.value))
        ),
        spans=spans,
        troubles=tuple(sorted(troubles, key=lambda t: (t.seal_kind, t.kind.value, t.where, t.first, t.last))),
    )


def _spans(
    rows: tuple[SealRange, ...] | tuple[SealReceipt, ...],
    file: str,
    troubles: list[Trouble],
    checks: SealChecks,
) -> tuple[Span, ...]:
    found = []
    for row in rows:
        source = f"{file} {row.id}" if isinstance(row, SealReceipt) else f"{file} {row.series}"
        check = row.scheme if isinstance(row, SealRange) else checks.scheme_of(row.seal_kind, row.first)
        span = span_of(row.seal_kind, row.series, row.first, row.last, source, check)
        if span is None:
            troubles.append(_not_counted(row.seal_kind, source, row.first, row.last))
        else:
            found.append(span)
    return tuple(found)


def _not_counted(seal_kind: str, where: str, first: str, last: str) -> Trouble:
    return Trouble(
        kind=TroubleKind.NOT_COUNTED, seal_kind=seal_kind, where=where, first=first, last=last, count=0
    )


def _runs(
    rows: tuple[SealReturn, ...] | tuple[SealBlock, ...],
    file: str,
    troubles: list[Trouble],
    checks: SealChecks,
) -> defaultdict[Shape, tuple[Run, ...]]:
    found: dict[Shape, list[Run]] = defaultdict(list)
    for row in rows:
        check = checks.scheme_of(row.seal_kind, row.first)
        span = span_of(row.seal_kind, "", row.first, row.last, file, check)
        if span is None:
            troubles.append(_not_counted(row.seal_kind, f"{file} {row.site}".strip(), row.first, row.last))
        else:
            found[span.shape].append((span.low, span.high))
    return defaultdict(tuple, {shape: joined(runs) for shape, runs in found.items()})


Taken = tuple[tuple[Run, ...], tuple[Run, ...]]
"""Numbers on closures, and void numbers, of one shape."""


def _taken(
    events: tuple[SealEvent, ...], held: dict[Shape, tuple[Run, ...]], checks: SealChecks
) -> tuple[defaultdict[Shape, Taken], dict[str, set[str]]]:
    """Where used and void numbers stand, by shape, and those that no range or receipt holds, by kind."""
    used: dict[Shape, set[int]] = defaultdict(set)
    void: dict[Shape, set[int]] = defaultdict(set)
    outside: dict[str, set[str]] = defaultdict(set)
    for event in events:
        if event.step is SealStep.RETURNED:
            continue
        found = shape_of(event.seal_kind, event.number, checks.scheme_of(event.seal_kind, event.number))
        if found is None or not holds(held.get(found[0], ()), found[1]):
            outside[event.seal_kind].add(event.number)
        elif event.step in (SealStep.VOIDED, SealStep.CUT):
            void[found[0]].add(found[1])
        else:
            used[found[0]].add(found[1])
    taken: defaultdict[Shape, Taken] = defaultdict(lambda: ((), ()))
    for shape in {*used, *void}:
        taken[shape] = (
            joined((value, value) for value in used[shape] - void[shape]),
            joined((value, value) for value in void[shape]),
        )
    return taken, outside


def _placed(shape: Shape, runs: tuple[Run, ...], bags: tuple[Run, ...], taken: Taken) -> list[Stretch]:
    """Every number that came in, once: void, else on a closure, else in a bag, else in the store."""
    used, void = taken
    rest = without(runs, (*used, *void))
    placed = {
        At.VOID: both(runs, void),
        At.CLOSURE: both(runs, used),
        At.BAG: both(rest, bags),
        At.STORE: without(rest, bags),
    }
    return [
        Stretch(shape=shape, at=at, low=low, high=high) for at, found in placed.items() for low, high in found
    ]


def _not_returned(
    given: LedgerGiven,
    returned: defaultdict[Shape, tuple[Run, ...]],
    taken: defaultdict[Shape, Taken],
    checks: SealChecks,
) -> list[Trouble]:
    """Numbers of a bag that came back in part: those neither returned nor used nor void, run by run.

    Unused seals go back by number, so that a spare of the bag cannot be put on later unseen.
    """
    back = {row.site for row in given.returns if row.site}
    troubles = []
    for block in given.blocks:
        check = checks.scheme_of(block.seal_kind, block.first)
        span = (
            span_of(block.seal_kind, "", block.first, block.last, "", check) if block.site in back else None
        )
        if span is None:
            continue
        used, void = taken[span.shape]
        gone = without(((span.low, span.high),), joined((*returned[span.shape], *used, *void)))
        troubles += [
            Trouble(
                kind=TroubleKind.NOT_RETURNED,
                seal_kind=block.seal_kind,
                where=block.site,
                first=span.shape.text(low),
                last=span.shape.text(high),
                count=high - low + 1,
            )
            for low, high in gone
        ]
    return troubles


def _lines(stretches: list[Stretch], outside: dict[str, set[str]]) -> tuple[KindLine, ...]:
    lines = []
    for kind in sorted({*(s.shape.seal_kind for s in stretches), *outside}):
        count = {
            at: size((s.low, s.high) for s in stretches if s.shape.seal_kind == kind and s.at is at)
            for at in At
        }
        lines.append(
            KindLine(
                seal_kind=kind,
                received=sum(count.values()),
                store=count[At.STORE],
                bag=count[At.BAG],
                closure=count[At.CLOSURE],
                void=count[At.VOID],
                outside=len(outside.get(kind, ())),
            )
        )
    return tuple(lines)
