"""What does not add up between receipts, ranges and series: quantities, gaps, doubles, look-alikes."""

from __future__ import annotations

from collections import defaultdict

from pollstead.election.identity import look_alike_key
from pollstead.election.seal_checks import SealChecks
from pollstead.election.seal_stock import SealBlock, SealReceipt
from pollstead.plan.seals.spans import Run, Shape, Span, gaps, joined, size, span_of, without
from pollstead.plan.seals.trouble import Trouble, TroubleKind


def quantities(receipts: tuple[SealReceipt, ...], checks: SealChecks) -> list[Trouble]:
    """Receipts whose stated or counted quantity is not last − first + 1, and those not counted by two."""
    troubles = []
    for row in receipts:
        check = checks.scheme_of(row.seal_kind, row.first)
        span = span_of(row.seal_kind, row.series, row.first, row.last, "", check)
        where = f"seal_receipts.csv {row.id}"
        for told in (row.quantity, row.counted):
            if span is not None and told is not None and told != span.count:
                troubles.append(
                    Trouble(
                        kind=TroubleKind.QUANTITY,
                        seal_kind=row.seal_kind,
                        where=where,
                        first=row.first,
                        last=row.last,
                        count=told - span.count,
                        series=row.series,
                    )
                )
        if len(set(row.counted_by)) < 2:
            troubles.append(
                Trouble(
                    kind=TroubleKind.ONE_COUNTED,
                    seal_kind=row.seal_kind,
                    where=where,
                    count=len(set(row.counted_by)),
                    series=row.series,
                )
            )
    return troubles


def series_gaps(spans: tuple[Span, ...]) -> list[Trouble]:
    """Numbers missing between the runs of one series."""
    runs: dict[tuple[Shape, str], list[Run]] = defaultdict(list)
    for span in spans:
        runs[span.shape, span.series].append((span.low, span.high))
    return [
        _trouble(TroubleKind.GAP, shape, series, (low, high), series)
        for (shape, series), found in runs.items()
        for low, high in gaps(joined(found))
    ]


def doubles(spans: tuple[Span, ...]) -> list[Trouble]:
    """Numbers that two rows of one table hold: of one series (twice delivered), or of two."""
    troubles = []
    for index, one in enumerate(spans):
        for other in spans[index + 1 :]:
            shared = (max(one.low, other.low), min(one.high, other.high))
            if one.shape == other.shape and shared[0] <= shared[1]:
                same = one.series == other.series
                kind = TroubleKind.DOUBLE if same else TroubleKind.TWO_SERIES
                where = f"{one.source}; {other.source}"
                troubles.append(_trouble(kind, one.shape, one.series, shared, where))
    return troubles


def look_alikes(spans: tuple[Span, ...]) -> list[Trouble]:
    """Runs whose numbers people would read as the same: letter O for zero, I for one, and the like.

    Numbers that differ only in such letters, or the same numbers in series that do.
    """
    troubles = []
    for index, one in enumerate(spans):
        for other in spans[index + 1 :]:
            mine, theirs = _as_read(one), _as_read(other)
            if mine is None or theirs is None or mine.shape != theirs.shape:
                continue
            if one.shape == other.shape and (one.series == other.series or mine.series != theirs.series):
                continue
            shared = (max(mine.low, theirs.low), min(mine.high, theirs.high))
            if shared[0] <= shared[1]:
                where = f"{one.source}; {other.source}"
                troubles.append(_trouble(TroubleKind.LOOK_ALIKE, mine.shape, one.series, shared, where))
    return troubles


def _as_read(span: Span) -> Span | None:
    """The run with every character that people confuse written in one way, without check characters."""
    shape = span.shape
    first, last = (look_alike_key(shape.body(value)) for value in (span.low, span.high))
    return span_of(shape.seal_kind, look_alike_key(span.series), first, last, span.source)


def book_against_receipts(ranges: tuple[Span, ...], receipts: tuple[Span, ...]) -> list[Trouble]:
    """What the ranges hold and no receipt tells, and the other way round, where both are told of a kind."""
    troubles = []
    kinds = {s.shape.seal_kind for s in ranges} & {s.shape.seal_kind for s in receipts}
    sides = ((ranges, receipts, TroubleKind.NO_RECEIPT), (receipts, ranges, TroubleKind.NOT_IN_RANGES))
    for mine, theirs, kind in sides:
        for span in mine:
            if span.shape.seal_kind in kinds:
                there = joined((o.low, o.high) for o in theirs if o.shape == span.shape)
                for run in without(((span.low, span.high),), there):
                    troubles.append(_trouble(kind, span.shape, span.series, run, span.source))
    return troubles


def blocks_twice(blocks: tuple[SealBlock, ...], checks: SealChecks) -> list[Trouble]:
    """Numbers that stand in the bags of two sites."""
    spans = [
        span_of(b.seal_kind, b.site, b.first, b.last, b.site, checks.scheme_of(b.seal_kind, b.first))
        for b in blocks
    ]
    return [
        Trouble(
            kind=TroubleKind.TWO_BAGS,
            seal_kind=found.seal_kind,
            where=found.where,
            first=found.first,
            last=found.last,
            count=found.count,
        )
        for found in doubles(tuple(span for span in spans if span is not None))
    ]


def _trouble(kind: TroubleKind, shape: Shape, series: str, run: Run, where: str) -> Trouble:
    return Trouble(
        kind=kind,
        seal_kind=shape.seal_kind,
        series=series,
        where=where,
        first=shape.text(run[0]),
        last=shape.text(run[1]),
        count=size((run,)),
    )
