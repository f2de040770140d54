"""Explanations for the command line: the sentence of a site, and the groups as JSON for the office desk."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pollstead.election.next_acts import act_costs
from pollstead.reconcile.counts.differences import RULE
from pollstead.reconcile.explain.next_act import next_acts
from pollstead.reconcile.explain.night import SiteExplained, at_office, explain_site
from pollstead.reconcile.explain.saved import saved_of
from pollstead.reconcile.explain.system import system_of
from pollstead.reconcile.explain.words import act_words, explanation_words, outcome_words, sentence

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.reconcile.day import DayReport, SiteDay
    from pollstead.reconcile.explain.terms import Group
    from pollstead.record.facts import Fold


def explained_sites(
    election: Election, folded: Fold, report: DayReport, sites: tuple[SiteDay, ...]
) -> dict[str, SiteExplained]:
    """What explains the differences of those sites that have any, by site."""
    found: dict[str, SiteExplained] = {}
    office = at_office(election, report, folded)
    for site in sites:
        one = explain_site(site, report, folded, election, office)
        if one is not None:
            found[site.site] = one
    return found


def ppm(share: float) -> int:
    """A share in parts per million: JSON of ours has whole numbers alone."""
    return round(share * 1_000_000)


def sentence_of(one: SiteExplained | None) -> str:
    """The sentence in English; "" without a difference."""
    said = None if one is None else sentence(one.explained)
    return "" if said is None else said.english()


def explanations_object(
    one: SiteExplained | None, election: Election, folded: Fold, site: SiteDay
) -> dict[str, Any]:
    """The stable JSON form; empty lists for a site without a difference."""
    explained = None if one is None else one.explained
    saved = saved_of(folded, site.site, site.date.isoformat(), explained)
    acts = (
        ()
        if one is None
        else next_acts(one.night, one.explained, act_costs(election.next_acts), election.rules.whole(RULE))
    )
    read = {} if one is None else system_of(one.night).values
    return {
        "sentence": sentence_of(one),
        "fits": 0 if explained is None else explained.fits,
        "unknown_ppm": 0 if explained is None else ppm(explained.unknown),
        "digest": "" if explained is None else explained.digest,
        "groups": [_group(group, dict(read)) for group in ([] if explained is None else explained.groups)],
        "next_acts": [
            {
                "act": act.act.value,
                "number": act.key,
                "words": act_words(act).english(),
                "intrusiveness": act.intrusiveness,
                "information_millinats": round(1000 * act.information),
                "outcomes": [
                    {
                        "value": o.value,
                        "left": o.left,
                        "leaves": list(o.leaves),
                        "words": outcome_words(o).english(),
                    }
                    for o in act.outcomes
                ],
            }
            for act in acts
        ],
        "saved": [
            {
                "event": s.event,
                "person": s.person,
                "explanation": s.explanation,
                "digest": s.digest,
                "holds": s.holds and s.in_force,
                "act": s.act,
                "number": s.number,
                "outcome": s.outcome,
            }
            for s in saved
        ],
    }


def _group(group: Group, read: dict[str, int]) -> dict[str, Any]:
    return {
        "share_ppm": ppm(group.share),
        "explanations": [
            {
                "id": one.id,
                "share_ppm": ppm(one.share),
                "words": [said.english() for said in explanation_words(one, read)],
                "faults": [
                    {
                        "kind": fault.kind.value,
                        "keys": list(fault.keys),
                        "moves": [{"key": key, "amount": amount} for key, amount in fault.moves],
                        "size": fault.size,
                        "other": fault.other,
                    }
                    for fault in one.faults
                ],
            }
            for one in group.explanations
        ],
    }
