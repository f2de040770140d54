"""The product's explainer behind the judge's interface: what the office knows, asked and translated."""

from __future__ import annotations

import msgspec
from bench.counts.judge import Told, ToldFault, ToldGroup
from bench.counts.night import Seeded

from pollstead.election.fault_odds import USUAL_ODDS
from pollstead.reconcile.counts.balance import Reading
from pollstead.reconcile.counts.jams import Jam
from pollstead.reconcile.explain.odds import Odds, odds_of
from pollstead.reconcile.explain.search import explain
from pollstead.reconcile.explain.terms import (
    Explained,
    Explanation,
    FromWhere,
    KnownNumber,
    OtherNumber,
    SiteNight,
)


def site_night(night: Seeded, pack: int) -> SiteNight:
    """What the office knows: readings, rows carried over, the day before, other sites, jam notes, packs.

    `pack` is how many ballots are in a pack, 0 where the office has not told.
    """
    day = night.day
    today = {line.key for line in day.balance.lines}
    before = [key for key in day.keys if key not in today]
    others = [
        OtherNumber(
            key=key.partition("/")[2], value=night.read[key], where=FromWhere.DAY_BEFORE, name=day.previous
        )
        for key in before
        if key.partition("/")[2] in today
    ]
    for key in today:
        same = [site for site, numbers in night.elsewhere.items() if numbers.get(key) == night.read[key]]
        others += [
            OtherNumber(
                key=key,
                value=night.read[key],
                where=FromWhere.ANOTHER_SITE,
                name=site,
                among=len(night.elsewhere),
            )
            for site in same
            if "@" not in key
        ]
    jams = [
        Jam(
            event=f"jam {note.device} {n}",
            device=note.device,
            site=day.site,
            at_min=600 + n,
            went="not_known",
        )
        for note in night.jams
        for n in range(note.times)
    ]
    return SiteNight(
        site=day.site,
        balance=day.balance,
        readings=tuple(Reading(key=key, value=night.read[key]) for key in day.keys if key in today),
        more=day.carried,
        known=tuple(KnownNumber(key=key, value=night.read[key]) for key in before),
        others=tuple(others),
        jams=tuple(jams),
        pack_sizes=(pack,) if pack else (),
    )


def mis_set(place: int) -> Odds:
    """The product's odds set wrongly: every other kind twice as frequent, the rest half as frequent."""
    return odds_of(
        msgspec.structs.replace(
            line,
            per_million=line.per_million * 2 if index % 2 == place else line.per_million // 2,
        )
        for index, line in enumerate(USUAL_ODDS)
    )


class Product:
    """The explainer of the product with the odds that a county begins with."""

    def __init__(self, pack: int, odds: Odds) -> None:
        self.pack = pack
        self.odds = odds

    def __call__(self, night: Seeded) -> Told:
        """Explain one night."""
        return told_of(explain(site_night(night, self.pack), self.odds), night)


def told_of(explained: Explained, night: Seeded) -> Told:
    """The explainer's answer in the judge's words."""
    return Told(
        groups=tuple(
            ToldGroup(tuple(_faults(one, night) for one in group.explanations), group.share)
            for group in explained.groups
        ),
        differs=bool(explained.differences),
    )


def _faults(explanation: Explanation, night: Seeded) -> tuple[ToldFault, ...]:
    return tuple(
        ToldFault(
            kind=fault.kind.value,
            correction=frozenset((key, night.read.get(key, 0) - amount) for key, amount in fault.moves),
        )
        for fault in explanation.faults
    )
