"""Which block of seals goes into which site's bag: numbers in a row where the store has them in a row.

Blocks that people gave stay as they are. The rest follows in the order of sites, each from the first
stretch of the store that holds all it needs, else from as few stretches as can be.
"""

from __future__ import annotations

from collections import Counter

from pollstead.election.county import Election
from pollstead.election.seal_checks import SealChecks
from pollstead.election.station_type import Moment
from pollstead.election.values import Value
from pollstead.plan.seals.forecast import site_needs, with_spoiled
from pollstead.plan.seals.ledger import Ledger
from pollstead.plan.seals.spans import Run, Shape, size, span_of
from pollstead.plan.terms.version import PlanVersion

Stretches = list[tuple[Shape, Run]]


class BagBlock(Value, frozen=True, kw_only=True):
    """Seals of one kind in a site's bag, from and to inclusive; `given` where people gave the block."""

    site: str
    seal_kind: str
    first: str
    last: str
    count: int
    given: bool = False


class Bag(Value, frozen=True, kw_only=True):
    """What one site needs of one kind on site, and the blocks for it; `short` is what no block holds."""

    site: str
    seal_kind: str
    needed: int
    blocks: tuple[BagBlock, ...]
    short: int = 0


class Bags(Value, frozen=True, kw_only=True):
    """The bags of all sites, and how many seals of each kind are left in the store after them."""

    bags: tuple[Bag, ...]
    left: tuple[tuple[str, int], ...]


def bags(election: Election, plan: PlanVersion, ledger: Ledger) -> Bags:
    """Blocks for every site: what it puts on itself, with the county's share for spoiled seals.

    Seals after test are put on in the warehouse and go into no bag.
    """
    types = {t.id: t for t in election.station_types}
    checks = SealChecks.of(election.seal_ranges)
    kinds = sorted({s.shape.seal_kind for s in ledger.stretches})
    free: dict[str, Stretches] = {
        kind: [(s.shape, (s.low, s.high)) for s in ledger.free(kind)] for kind in kinds
    }
    given: dict[tuple[str, str], list[BagBlock]] = {}
    for block in election.seal_blocks:
        check = checks.scheme_of(block.seal_kind, block.first)
        span = span_of(block.seal_kind, "", block.first, block.last, "", check)
        if span is not None:
            given.setdefault((block.site, block.seal_kind), []).append(
                BagBlock(
                    site=block.site,
                    seal_kind=block.seal_kind,
                    first=block.first,
                    last=block.last,
                    count=span.count,
                    given=True,
                )
            )
    made = []
    for site in plan.sites:
        needs: Counter[str] = Counter()
        for (kind, _, moment), count in site_needs(site, types).items():
            if moment is not Moment.AFTER_TEST:
                needs[kind] += count
        for kind, count in sorted(needs.items()):
            wanted = with_spoiled(count, election.rules)
            mine = given.pop((site.site, kind), [])
            missing = max(0, wanted - sum(block.count for block in mine))
            taken = _take(free.setdefault(kind, []), missing)
            mine += [
                BagBlock(
                    site=site.site,
                    seal_kind=kind,
                    first=shape.text(low),
                    last=shape.text(high),
                    count=high - low + 1,
                )
                for shape, (low, high) in taken
            ]
            short = missing - size(run for _, run in taken)
            made.append(Bag(site=site.site, seal_kind=kind, needed=wanted, blocks=tuple(mine), short=short))
    left = tuple((kind, size(run for _, run in stretches)) for kind, stretches in sorted(free.items()))
    return Bags(bags=tuple(made), left=left)


def _take(free: Stretches, wanted: int) -> Stretches:
    """Take `wanted` numbers out of `free`: in one piece where a stretch has them, else the longest first."""
    taken: Stretches = []
    while wanted > 0 and free:
        fits = [at for at, (_, run) in enumerate(free) if size((run,)) >= wanted]
        at = fits[0] if fits else max(range(len(free)), key=lambda i: size((free[i][1],)))
        shape, (low, high) = free[at]
        end = min(high, low + wanted - 1)
        taken.append((shape, (low, end)))
        wanted -= end - low + 1
        if end == high:
            del free[at]
        else:
            free[at] = (shape, (end + 1, high))
    return taken
