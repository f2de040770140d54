"""From a reconciled day to what is explained: each site's numbers with all that helps to tell them apart.

Beside the closing numbers help: the rows over the day before, the counters read at jams and at hours of the
day (a counter never goes back), what was told of blank ballots, and the same number at other sites.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from pollstead.election.county import Election
from pollstead.election.values import Value
from pollstead.reconcile.counts.balance import BalanceLine, LineState
from pollstead.reconcile.counts.equations import Balance, Equation
from pollstead.reconcile.counts.jams import Jam, jams_of
from pollstead.reconcile.counts.midday import CrossChecks
from pollstead.reconcile.counts.terms import hour_of, key_of, split_key
from pollstead.reconcile.day import DayReport, SiteDay
from pollstead.reconcile.explain.odds import Odds, odds_of
from pollstead.reconcile.explain.search import explain
from pollstead.reconcile.explain.stock_notes import ballot_packets, stock_bounds
from pollstead.reconcile.explain.terms import (
    Bound,
    Explained,
    FromWhere,
    KnownNumber,
    OtherNumber,
    SiteNight,
)
from pollstead.reconcile.happening.supplies import Packet
from pollstead.record.fold import Fold

_PUBLIC = "public_counter_close"
_ONLY_GROW = frozenset(("check_ins", "check_ins_added", "check_ins_cancelled"))

SameNumbers = Mapping[tuple[str, int], tuple[str, ...]]
"""The sites that have a number: by key of the site and value."""


def same_numbers(report: DayReport) -> tuple[SameNumbers, Mapping[str, int]]:
    """Which sites read which value of each number of the site, and how many sites read the number."""
    sites: dict[tuple[str, int], list[str]] = {}
    often: dict[str, int] = {}
    for site in report.sites:
        for reading in site.readings:
            if not split_key(reading.key)[1]:
                sites.setdefault((reading.key, reading.value), []).append(site.site)
                often[reading.key] = often.get(reading.key, 0) + 1
    return {key: tuple(found) for key, found in sites.items()}, often


@dataclass(frozen=True, slots=True, kw_only=True)
class AtOffice:
    """What the office knows beside one site's own numbers, for all sites of a day.

    `sites` and `often` are those of `same_numbers`, `pack_sizes` that of `pack_sizes_in`, `packets` the
    packets of ballots that came.
    """

    odds: Odds
    sites: SameNumbers
    often: Mapping[str, int]
    pack_sizes: tuple[int, ...]
    packets: tuple[Packet, ...]


def at_office(election: Election, report: DayReport, folded: Fold) -> AtOffice:
    """What the office knows of a day."""
    sites, often = same_numbers(report)
    return AtOffice(
        odds=odds_in(election),
        sites=sites,
        often=often,
        pack_sizes=pack_sizes_in(election),
        packets=ballot_packets(folded, election, report.date),
    )


def night_of(site: SiteDay, folded: Fold, office: AtOffice) -> SiteNight | None:
    """What is known of a site's numbers; None for a site without a balance."""
    if site.balance is None:
        return None
    own = {(e.id, e.subject) for e in site.balance.equations}
    more = tuple(_equation(line) for line in site.lines if (line.equation, line.subject) not in own)
    read = {reading.key for reading in site.readings}
    known: dict[tuple[str, int], KnownNumber] = {}
    others: list[OtherNumber] = []
    for line in site.lines:
        for term in line.terms:
            for value in term.values if term.key not in read else ():
                known[term.key, value] = KnownNumber(key=term.key, value=value)
                day, _, key = term.key.partition("/")
                if key in read:
                    others.append(OtherNumber(key=key, value=value, where=FromWhere.DAY_BEFORE, name=day))
    for reading in site.readings:
        for other in office.sites.get((reading.key, reading.value), ()):
            if other != site.site:
                others.append(
                    OtherNumber(
                        key=reading.key,
                        value=reading.value,
                        where=FromWhere.ANOTHER_SITE,
                        name=other,
                        among=office.often[reading.key] - 1,
                    )
                )
    jams = jams_of(folded, site.site, site.date.isoformat())
    return SiteNight(
        site=site.site,
        balance=site.balance,
        readings=site.readings,
        more=more,
        known=tuple(known.values()),
        others=tuple(dict.fromkeys(others)),
        bounds=(
            *_bounds(site.balance, jams, site.checks),
            *stock_bounds(site, folded, office.packets),
        ),
        jams=jams,
        pack_sizes=office.pack_sizes,
    )


def _equation(line: BalanceLine) -> Equation:
    return Equation(
        id=line.equation,
        words=line.words,
        subject=line.subject,
        unit=line.unit,
        terms=tuple((term.coefficient, term.key) for term in line.terms),
    )


def _bounds(balance: Balance, jams: tuple[Jam, ...], checks: CrossChecks) -> tuple[Bound, ...]:
    """What was read during the day and only grows: at closing it stands there or higher."""
    closing = {line.key for line in balance.lines}
    at_jams: dict[str, int] = {}
    for jam in jams:
        seen = [value for value in (jam.before, jam.after) if value is not None]
        key = key_of(_PUBLIC, jam.device)
        if seen and key in closing:
            at_jams[key] = max(at_jams.get(key, 0), *seen)
    at_hours: dict[str, int] = {}
    for term in (term for check in checks.checks for term in check.line.terms if term.values):
        name, _, subject = term.key.partition("@")
        stem = name.rpartition("_at_")[0] if hour_of(name) is not None else ""
        key = key_of(_PUBLIC, subject) if stem == "public_counter" else stem
        if key in closing and (stem == "public_counter" or stem in _ONLY_GROW):
            # Where two people read it differently, the lower one was passed for sure.
            at_hours[key] = max(at_hours.get(key, 0), min(term.values))
    return tuple(
        Bound(key=key, least=value, note=note)
        for note, found in (("read at a jam", at_jams), ("read at an hour of the day", at_hours))
        for key, value in sorted(found.items())
    )


class SiteExplained(Value, frozen=True, kw_only=True):
    """A site's numbers and what explains them."""

    night: SiteNight
    explained: Explained


def explain_site(
    site: SiteDay, report: DayReport, folded: Fold, election: Election, office: AtOffice | None = None
) -> SiteExplained | None:
    """What explains the differences of one site; None where it has none or no balance.

    `office` is that of `at_office`, where it is known already.
    """
    if not has_difference(site):
        return None
    known = at_office(election, report, folded) if office is None else office
    night = night_of(site, folded, known)
    return None if night is None else SiteExplained(night=night, explained=explain(night, known.odds))


def has_difference(site: SiteDay) -> bool:
    """Whether some line is not zero, or two people read a number differently."""
    return any(line.state in (LineState.DIFFERENCE, LineState.TWO_VALUES) for line in site.lines)


def odds_in(election: Election) -> Odds:
    """The odds of a county: ours with its own lines in their place."""
    return odds_of(election.fault_odds, election.reading_errors)


def pack_sizes_in(election: Election) -> tuple[int, ...]:
    """In packs of how many a county's ballots come: none where the rule says that they come loose."""
    size = election.rules.whole("ballots-in-a-pack")
    return (size,) if size > 1 else ()
