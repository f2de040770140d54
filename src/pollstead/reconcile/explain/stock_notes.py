"""What was told of blank ballots during the day, as bounds of the closing numbers.

A site tells how many ballots are left, and packets go there with a number on them: counts by other people
and at other times than closing. What was left and what came since is the most that can be unused at the
end; what was left at first is the least that was there; what packets brought is the least that was brought.
Nothing of it is a row, since a site need not tell, and what it tells may be a round number.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator

from pollstead.election.county import Election
from pollstead.reconcile.custody.legs import legs_of
from pollstead.reconcile.custody.places import held_things
from pollstead.reconcile.day import SiteDay
from pollstead.reconcile.explain.terms import Bound
from pollstead.reconcile.happening.supplies import BALLOTS, Packet, packets_of
from pollstead.reconcile.observed import STYLE_MARK, short_site
from pollstead.record.fold import Fold

Told = tuple[tuple[int, int], ...]
"""How many were left, as told: pairs (minute of the operating day, ballots), in order."""


def ballot_packets(folded: Fold, election: Election, date: dt.date) -> tuple[Packet, ...]:
    """The packets of ballots of a day that came where they were going."""
    packets = packets_of(folded, held_things(legs_of(folded)), election, date, 0)
    return tuple(one for one in packets if one.item == BALLOTS and one.received_min is not None)


def stock_bounds(site: SiteDay, folded: Fold, packets: tuple[Packet, ...]) -> tuple[Bound, ...]:
    """The bounds that tellings and packets set to a site's numbers of blank ballots, by style or in all.

    Where ballots are printed on demand no bound is set: what is left says nothing of what is handed out.
    """
    lines = frozenset(line.key for line in site.balance.lines) if site.balance is not None else frozenset()
    if "ballots_printed" in lines:
        return ()
    here = [one for one in packets if one.site == site.site]
    found: list[Bound] = []
    for style, told in _told(site, folded):
        mine = [one for one in here if one.style == style or not style]
        found += _of_tellings(f"{STYLE_MARK}{style}" if style else "", told, mine)
    opens = site.opened.set_min
    for style in dict.fromkeys(("", *(one.style for one in here))):
        # What came before the doors opened is in the blank ballots at opening.
        brought = sum(
            one.amount
            for one in here
            if (not style or one.style == style) and opens is not None and _minute(one) > opens
        )
        key = f"ballots_resupplied{STYLE_MARK}{style}" if style else "ballots_resupplied"
        found += [Bound(key=key, least=brought, note="packets that came")] if brought else []
    return tuple(bound for bound in found if bound.key in lines)


def _told(site: SiteDay, folded: Fold) -> Iterator[tuple[str, Told]]:
    """The tellings of a site's ballots by style; of two at one minute both stand."""
    told: dict[str, set[tuple[int, int]]] = defaultdict(set)
    for fact in folded.named("supply.told"):
        is_here = fact.day == site.date.isoformat() and short_site(fact.subject) == site.site
        if is_here and str(fact.key.get("item", "")) == BALLOTS:
            at = int(str(fact.key["at_min"]))
            told[str(fact.key.get("style", ""))] |= {
                (at, int(str(reading.value["left"]))) for reading in fact.current
            }
    return ((style, tuple(sorted(told[style]))) for style in sorted(told))


def _of_tellings(mark: str, told: Told, packets: list[Packet]) -> Iterator[Bound]:
    first, last = told[0][0], told[-1][0]
    since = sum(one.amount for one in packets if _minute(one) >= last)
    before = sum(one.amount for one in packets if _minute(one) <= first)
    most = max(left for at, left in told if at == last) + since
    yield Bound(key=f"ballots_unused{mark}", most=most, note="ballots left, as told")
    least = min(left for at, left in told if at == first) - before
    if least > 0:
        yield Bound(key=f"ballots_received{mark}", least=least, note="ballots left, as told")


def _minute(packet: Packet) -> int:
    return -1 if packet.received_min is None else packet.received_min
