"""What may explain that receiving or the canvass has another number than a site counted.

Beside a slip in the total itself: a memory device that was not taken or taken twice, a day left out or
added twice, the total of another site, two sites in each other's place, ballot styles one row off. As for a
site these are working notes of the office desk, ranked by the same odds.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Iterator
from itertools import pairwise
from typing import NamedTuple

from pollstead.election.fault_odds import FaultKind
from pollstead.election.values import Value
from pollstead.reconcile.counts.balance import BalanceLine, LineState
from pollstead.reconcile.counts.county_shapes import TOLD, CountyRow, CountyTable
from pollstead.reconcile.counts.totals import Ledger
from pollstead.reconcile.diagnosis.costs import prices_of
from pollstead.reconcile.explain.odds import Odds, among
from pollstead.reconcile.explain.slips import slip_of
from pollstead.reconcile.explain.terms import Explanation, Fault


class CountyExplained(Value, frozen=True, kw_only=True):
    """One comparison of the county table that is not zero, with what may explain it, the likeliest first.

    `read` is what stands in the ledger, `counted` what the site counted, both in the row's unit; `unknown` is
    the share of none of the explanations, `fits` how many are told as fitting.
    """

    row: CountyRow
    line: BalanceLine
    counted: int
    read: int
    explanations: tuple[Explanation, ...]
    unknown: float
    fits: int

    @property
    def ledger(self) -> Ledger:
        """Who has the number that stands in the ledger."""
        return Ledger.CANVASS if self.line.equation.startswith("I13-canvass") else Ledger.RECEIVING


class _Pair(NamedTuple):
    """A row's own number and what one ledger has for it."""

    row: CountyRow
    line: BalanceLine
    counted: int
    read: int
    told_key: str
    written: tuple[int, int]
    """The number as it was typed and how many of the row's unit one of it is; 0 where several were typed."""


class _Way(NamedTuple):
    kind: FaultKind
    cost: int
    keys: tuple[str, ...]
    amount: int
    other: str


def explain_county(table: CountyTable, odds: Odds) -> tuple[CountyExplained, ...]:
    """What may explain each comparison of a site with receiving or the canvass that is not zero.

    In the order of the table. Rows with a number that nobody read, or that two people read differently, are
    left out: first that number is read.
    """
    pairs = tuple(pair for row in (*table.rows, *table.totals) for pair in _pairs(row))
    by_ledger: dict[tuple[str, str, str, str], list[_Pair]] = {}
    for pair in pairs:
        row = pair.row
        by_ledger.setdefault((pair.line.equation, row.mode, row.quantity, row.style), []).append(pair)
    found = []
    for pair in pairs:
        if pair.counted == pair.read:
            continue
        row = pair.row
        peers = [p for p in by_ledger[pair.line.equation, row.mode, row.quantity, row.style] if p is not pair]
        styles = [p for p in pairs if p.row.style and _same_place(p, pair)]
        found.append(_explained(pair, (*_ways(pair, peers, odds), *_shifted(pair, styles, odds)), odds))
    return tuple(found)


def _pairs(row: CountyRow) -> Iterator[_Pair]:
    for line in row.lines:
        if line.state not in (LineState.DIFFERENCE, LineState.ZERO) or line.difference is None:
            continue
        told = [term for term in line.terms if term.key.startswith(TOLD)]
        own = [term for term in line.terms if not term.key.startswith(TOLD)]
        if told:
            yield _Pair(
                row=row,
                line=line,
                counted=sum(term.coefficient * term.values[0] for term in own),
                read=-sum(term.coefficient * term.values[0] for term in told),
                told_key=told[0].key,
                written=(told[0].values[0], -told[0].coefficient if len(told) == 1 else 0),
            )


def _same_place(one: _Pair, other: _Pair) -> bool:
    a, b = one.row, other.row
    same = (a.site, a.mode, a.quantity) == (b.site, b.mode, b.quantity)
    return same and one.line.equation == other.line.equation


def _ways(pair: _Pair, peers: list[_Pair], odds: Odds) -> Iterator[_Way]:
    """Every single thing after which the ledger has what the site counted."""
    amount, key = pair.read - pair.counted, pair.told_key
    written, each = pair.written
    slip = None
    if each and not pair.counted % each:
        slip = slip_of(pair.counted // each, written, prices_of(odds.costs))
    if slip is not None:
        yield _Way(slip[0], slip[1], (key,), amount, "")
    if pair.counted and pair.read == 2 * pair.counted:
        yield _Way(FaultKind.UPLOAD_TWICE, odds.of(FaultKind.UPLOAD_TWICE), (key,), amount, "")
    if pair.counted and pair.read == 0:
        yield _Way(FaultKind.UPLOAD_MISSED, odds.of(FaultKind.UPLOAD_MISSED), (key,), amount, "")
    parts = _parts(pair.line)
    for name, value in parts:
        if value and abs(amount) == value:
            kind = FaultKind.UPLOAD_TWICE if amount > 0 else FaultKind.UPLOAD_MISSED
            yield _Way(kind, odds.of(kind) + among(len(parts)), (key, name), amount, name)
    for peer in peers:
        if not peer.row.site or not pair.row.site:
            continue
        if (pair.read, peer.read) == (peer.counted, pair.counted):
            kind = FaultKind.SITES_EXCHANGED
            yield _Way(kind, odds.of(kind) + among(len(peers)), (key, peer.told_key), amount, peer.row.site)
        elif pair.read == peer.counted and peer.read == peer.counted:
            kind = FaultKind.OTHER_SITE
            yield _Way(kind, odds.of(kind) + among(len(peers)), (key,), amount, peer.row.site)
    spelled = len(str(max(0, written))) * among(10)
    yield _Way(FaultKind.OTHER_NUMBER, odds.of(FaultKind.OTHER_NUMBER) + spelled, (key,), amount, "")


def _parts(line: BalanceLine) -> tuple[tuple[str, int], ...]:
    """What the row's own number is added up from: days, devices, and the sites of the county's row."""
    found: dict[str, int] = {}
    terms = [term for term in line.terms if not term.key.startswith(TOLD)]
    for name_of in (_day_of, _device_of, _site_of):
        sums: dict[str, int] = {}
        for term in terms:
            name = name_of(term.key)
            if name:
                # A device's opening and closing counter are one part.
                sums[name] = sums.get(name, 0) + term.coefficient * term.values[0]
        if len(sums) > 1:
            found.update(sums)
    return tuple(sorted(found.items()))


def _day_of(key: str) -> str:
    return key.split("/", maxsplit=1)[0]


def _device_of(key: str) -> str:
    return key.partition("@")[2]


def _site_of(key: str) -> str:
    return f"site/{key.split('/')[1]}" if key.count("/") else ""


def _shifted(pair: _Pair, styles: list[_Pair], odds: Odds) -> Iterator[_Way]:
    """Ballot styles of one place written one row off: each of some neighbors has the next one's number."""
    if not pair.row.style or len(styles) < 2:
        return
    ordered = sorted(styles, key=lambda p: p.row.style)
    for lower, upper in ((0, 1), (1, 0)):
        off = [
            (two[lower], two[upper])
            for two in pairwise(ordered)
            if two[lower].read == two[upper].counted != two[lower].counted
        ]
        mine = [other for one, other in off if one is pair]
        if mine and len(off) > 1:
            kind = FaultKind.STYLE_ROW_SHIFTED
            keys = tuple(one.told_key for one, _ in off)
            yield _Way(kind, odds.of(kind) + among(2), keys, pair.read - pair.counted, mine[0].row.style)


def _explained(pair: _Pair, ways: Iterable[_Way], odds: Odds) -> CountyExplained:
    found = sorted(set(ways), key=lambda way: (way.cost, way.kind.value, way.keys, way.other))
    amount = abs(pair.read - pair.counted)
    unknown = odds.of(FaultKind.SOMETHING_ELSE) + round(1000 * math.log(amount * (amount + 1)))
    top = min([unknown, *(way.cost for way in found)])
    weights = [math.exp((top - way.cost) / 1000) for way in found]
    rest = math.exp((top - unknown) / 1000)
    total = math.fsum(weights) + rest
    return CountyExplained(
        row=pair.row,
        line=pair.line,
        counted=pair.counted,
        read=pair.read,
        explanations=tuple(
            _explanation(way, round(weight / total, 9)) for way, weight in zip(found, weights, strict=True)
        ),
        unknown=round(rest / total, 9),
        fits=sum(way.cost <= top + odds.fits_within for way in found),
    )


def _explanation(way: _Way, share: float) -> Explanation:
    fault = Fault(kind=way.kind, keys=way.keys, moves=((way.keys[0], way.amount),), other=way.other)
    said = f"{way.kind.value} {fault.keys} {fault.moves} {way.other}"
    name = hashlib.sha256(said.encode()).hexdigest()[:16]
    return Explanation(id=name, faults=(fault,), cost=way.cost, share=share)
