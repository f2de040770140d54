"""A day reconciled again after a few facts changed: only the sites that these can touch are compared anew.

The outcome equals `reconcile_day` on everything; a property test holds it. What touches a site: something
seen there on any day (counters carry over), a memory device of it read at the central place, something
seen anywhere of a thing whose value its list carries over, the same serial or seal number seen elsewhere on
the day, and a decision about one of its notices. Another list, rule or order touches every site.
"""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from pollstead.election.county import Election
from pollstead.plan.terms.version import CARRIED_OVER, PlanVersion
from pollstead.reconcile.counts.memory import short_id
from pollstead.reconcile.day import DayReport, day_notices, reconcile_day
from pollstead.reconcile.diagnosis.known import plain_value
from pollstead.reconcile.issued import Issued
from pollstead.reconcile.observed import Observation, What, observations_of_fact
from pollstead.reconcile.opening.matching import owner_of
from pollstead.reconcile.worked import site_hours
from pollstead.record.fold import Fact, Fold

RULES = ("rule.", "rules.", "order.")
EVERYWHERE = ("seal.voided",)
"""Facts that may change what a number at any site most likely is."""


class Observed:
    """Every observation of a fold, in its order; facts that were read for `before` are not read again.

    Not a value: it keeps what was read by the fact's own object.
    """

    def __init__(self, folded: Fold, before: Observed | None = None) -> None:
        known = {} if before is None else before._of
        self._of: dict[int, tuple[Fact, tuple[Observation, ...]]] = {}
        for fact in folded.facts:
            found = known.get(id(fact))
            self._of[id(fact)] = (fact, observations_of_fact(fact)) if found is None else found
        place = {event: index for index, event in enumerate(folded.order)}
        found_all = [seen for _, seen_of in self._of.values() for seen in seen_of]
        self.all = tuple(sorted(found_all, key=lambda seen: place.get(seen.event, len(place))))

    def changed_since(self, before: Observed) -> tuple[Fact, ...]:
        """The facts that are new or were otherwise, as they are now and as they were."""
        return (*self._not_in(before), *before._not_in(self))

    def of(self, facts: Iterable[Fact]) -> tuple[Observation, ...]:
        """The observations of some facts that are here."""
        return tuple(seen for fact in facts if id(fact) in self._of for seen in self._of[id(fact)][1])

    def _not_in(self, other: Observed) -> list[Fact]:
        return [fact for key, (fact, _) in self._of.items() if key not in other._of]


def reconcile_again(
    before: DayReport,
    earlier: Observed,
    *,
    election: Election,
    plan: PlanVersion,
    issued: Issued,
    folded: Fold,
    observed: Observed,
) -> DayReport:
    """`reconcile_day` now, from the report `before`, which was made of `earlier`.

    Election, plan and issued lists must be those that `before` was made of.
    """
    changed = observed.changed_since(earlier)
    if not changed:
        return before
    date = before.date
    if any(fact.name.startswith(RULES) or fact.name in EVERYWHERE for fact in changed):
        return reconcile_day(election, plan, issued, folded, date, observations=observed.all)
    seen = (*observed.of(changed), *earlier.of(changed))
    touched = (
        _touched(before, issued, seen, observed) | _decided(before, changed) | _read_again(before, changed)
    )
    some = msgspec.structs.replace(plan, sites=tuple(p for p in plan.sites if p.site in touched))
    kept = {site.site: site for site in before.sites if site.site not in touched}
    if some.sites:
        anew = reconcile_day(election, some, issued, folded, date, observations=observed.all)
        kept.update((site.site, site) for site in anew.sites)
    sites = tuple(kept[p.site] for p in plan.sites if p.site in kept)
    day = date.isoformat()
    worked = site_hours(election, folded, date)
    return DayReport(
        date=date,
        sites=sites,
        elsewhere=tuple(o for o in observed.all if o.day == day and o.site not in kept),
        notices=day_notices(sites, issued, date, folded, worked),
        hours=worked,
    )


def _touched(
    before: DayReport, issued: Issued, seen: tuple[Observation, ...], observed: Observed
) -> set[str]:
    """The sites whose comparison these observations can change."""
    day = before.date.isoformat()
    touched = {o.site for o in seen if o.day <= day}
    subjects = {o.subject for o in seen}
    values = {plain_value(o.value) for o in seen if o.day == day and _has_value(o)}
    if values:
        touched |= {
            o.site for o in observed.all if o.day == day and o.value and plain_value(o.value) in values
        }
    for one in issued.lists:
        if (
            one.date == before.date
            and one.site not in touched
            and any(
                item.value == CARRIED_OVER and (item.subject in subjects or owner_of(item) in subjects)
                for item in one.items
            )
        ):
            touched.add(one.site)
    return touched


def _has_value(seen: Observation) -> bool:
    return bool(seen.value) and seen.what in (What.SERIAL, What.SEAL)


def _read_again(before: DayReport, changed: Iterable[Fact]) -> set[str]:
    """The sites from which a memory device came that was read at the central place, or taken out there."""
    ids = {short_id(fact.subject) for fact in changed if fact.name == "memory.uploaded"}
    return {
        site.site
        for site in before.sites
        if any(line.id in ids for machine in site.memory for line in machine.lines)
    }


def _decided(before: DayReport, changed: tuple[Fact, ...]) -> set[str]:
    """The sites with a notice about which something was decided."""
    keys = {fact.key.get("notice_key") for fact in changed if fact.name == "notice"}
    if not keys:
        return set()
    return {
        site.site
        for site in before.sites
        if any(r.notice is not None and r.notice.key in keys for r in site.results)
        or any(notice.key in keys for notice in site.notices)
    }
