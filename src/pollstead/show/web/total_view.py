"""What may explain a total of the county table, as the canvass page folds it out: notes of the desk."""

from __future__ import annotations

import datetime as dt
from typing import Final

from pollstead.election.county import Election
from pollstead.election.next_acts import act_costs
from pollstead.election.values import Value
from pollstead.election.words import Message
from pollstead.reconcile.counts.county_notices import LEDGER_WORDS
from pollstead.reconcile.counts.county_shapes import CountyTable
from pollstead.reconcile.counts.differences import RULE
from pollstead.reconcile.explain.county import CountyExplained, explain_county
from pollstead.reconcile.explain.county_acts import CountyAct, county_acts
from pollstead.reconcile.explain.county_words import (
    by_ledger,
    county_act_words,
    county_outcome_words,
    county_sentence,
    county_words,
)
from pollstead.reconcile.explain.next_act import next_acts
from pollstead.reconcile.explain.night import at_office, explain_site, has_difference, odds_in
from pollstead.reconcile.explain.words import Label, act_words, sentence
from pollstead.reconcile.opening.labels import device_label
from pollstead.show.web.day import Days

MOST_LESS_LIKELY: Final = 5
"""So many explanations that fit less well are folded below."""


class LookShown(Value, frozen=True, kw_only=True):
    """One thing to look at again, and of each outcome its words with the explanation that is left then."""

    words: Message
    outcomes: tuple[tuple[Message, ...], ...]


class FitShown(Value, frozen=True, kw_only=True):
    """One explanation: its id for the form, its words."""

    id: str
    words: Message


class TotalShown(Value, frozen=True, kw_only=True):
    """One difference of a row: in which ledgers, the sentence, what to look at, what fits and fits less."""

    ledgers: tuple[str, ...]
    sentence: Message
    looks: tuple[LookShown, ...]
    fitting: tuple[FitShown, ...]
    less_likely: tuple[FitShown, ...]


class SiteShown(Value, frozen=True, kw_only=True):
    """A site whose own numbers differ on a day: the sentence about it and the act worth most, if any."""

    site: str
    name: str
    day: dt.date
    sentence: Message
    act: Message | None


def totals_explained(table: CountyTable, election: Election) -> dict[str, tuple[TotalShown, ...]]:
    """What may explain the differences of each row of the table that has any, by the row's key."""
    costs = act_costs(election.next_acts)
    names = {site.id.removeprefix("site/"): site.name for site in election.sites}

    def label(other: str) -> str:
        if other.startswith("device/"):
            return device_label(other, election)
        site = other.removeprefix("site/")
        return f"{site} {names[site]}" if site in names else other

    of_row: dict[str, list[CountyExplained]] = {}
    for one in explain_county(table, odds_in(election)):
        of_row.setdefault(one.row.key, []).append(one)
    return {
        key: tuple(
            TotalShown(
                ledgers=tuple(LEDGER_WORDS[ledger] for ledger in ledgers),
                sentence=county_sentence(one),
                looks=tuple(_look(one, act, label) for act in county_acts(one, costs)),
                fitting=_fits(one, label)[: one.fits],
                less_likely=_fits(one, label)[one.fits : one.fits + MOST_LESS_LIKELY],
            )
            for ledgers, one in by_ledger(tuple(found))
        )
        for key, found in of_row.items()
    }


def _fits(one: CountyExplained, label: Label) -> tuple[FitShown, ...]:
    return tuple(FitShown(id=e.id, words=county_words(one, e, label)) for e in one.explanations)


def _look(one: CountyExplained, act: CountyAct, label: Label) -> LookShown:
    return LookShown(
        words=county_act_words(one, act),
        outcomes=tuple(
            (
                county_outcome_words(outcome),
                *((county_words(one, outcome.leaves[0], label),) if len(outcome.leaves) == 1 else ()),
            )
            for outcome in act.outcomes
        ),
    )


def sites_explained(days: Days, dates: tuple[dt.date, ...]) -> tuple[SiteShown, ...]:
    """Every site whose own numbers differ on a day, with the sentence and the next act; by day and site."""
    election = days.election
    costs = act_costs(election.next_acts)
    found = []
    for date in dates:
        report = days.report(date)
        office = None
        for site in report.sites:
            if not has_difference(site):
                continue
            office = at_office(election, report, days.folded) if office is None else office
            one = explain_site(site, report, days.folded, election, office)
            said = None if one is None else sentence(one.explained)
            if one is None or said is None:
                continue
            acts = next_acts(one.night, one.explained, costs, election.rules.whole(RULE))
            found.append(
                SiteShown(
                    site=site.site,
                    name=site.name,
                    day=date,
                    sentence=said,
                    act=act_words(acts[0], lambda device: device_label(device, election)) if acts else None,
                )
            )
    return tuple(found)
