"""The consequence of a change: lists, sheets and calls, from facts and plan before and after."""

from __future__ import annotations

from pollstead.election.county import Election
from pollstead.election.notice import by_key
from pollstead.reconcile.changed.calls import people_to_call
from pollstead.reconcile.changed.items import changed_days
from pollstead.reconcile.changed.paper import changed_paper
from pollstead.reconcile.changed.terms import Change, Consequence, SheetInHand, State
from pollstead.reconcile.issued import Issued


def consequence(
    change: Change, before: State, after: State, in_force: Issued, in_hand: tuple[SheetInHand, ...]
) -> Consequence:
    """All that `change` brings with it, site by site.

    `before` is the plan that holds now, `after` the one with the change; `in_force` are the issued lists,
    `in_hand` the printed sheets that are not void yet. A site that neither the change names nor any list or
    sheet of it bears on is left alone.
    """
    days = changed_days(before, after, in_force)
    paper = changed_paper(before, after, days, in_hand, on_the_day=change.at_min is not None)
    touched = {
        *change.sites,
        *(day.site for day in days),
        *(one.sheet.site for one in paper.void),
        *(one.sheet.site for one in paper.prints),
        *changed_hours(before.election, after.election),
    }
    sites = tuple(sorted(touched))
    calls, notices = people_to_call(change, before, after, sites, paper.void, paper.prints)
    return Consequence(
        change=change,
        sites=sites,
        site_days=days,
        void=paper.void,
        good=tuple(held for held in paper.good if held.sheet.site in touched),
        prints=paper.prints,
        calls=calls,
        notices=by_key(notices),
    )


def changed_hours(before: Election, after: Election) -> tuple[str, ...]:
    """The sites whose hours differ: people there must know, even where no sheet says the hour."""
    old = {site.id: site.hours for site in before.sites}
    return tuple(site.id for site in after.sites if site.id in old and old[site.id] != site.hours)
