"""*Ready to open?*: every site's questions by evidence, its risk and voters, and the calls that settle most.

Pure: the same facts, plan, record and moment give the same list, whatever the order of people or events.
Nothing is good by default: good needs evidence with who and when, or a table of the county.
"""

from __future__ import annotations

import datetime as dt

from pollstead.election.county import Election
from pollstead.election.notice import Notice
from pollstead.plan.terms.decks import DeckSet
from pollstead.plan.terms.version import PlanVersion
from pollstead.reconcile.day import DayReport, SiteDay
from pollstead.reconcile.issued import Issued
from pollstead.reconcile.readiness import ledger_items as ledger
from pollstead.reconcile.readiness import people_items as people
from pollstead.reconcile.readiness import told_items as told
from pollstead.reconcile.readiness.chance import Cause, late_ppb
from pollstead.reconcile.readiness.ground import NO_DECKS, Ground
from pollstead.reconcile.readiness.states import (
    Evidence,
    Level,
    ReadyItem,
    ReadyList,
    ReadyState,
    Share,
    SiteReady,
)
from pollstead.reconcile.readiness.ten_calls import calls_of
from pollstead.reconcile.readiness.weights import USUAL_WEIGHTS, Weights
from pollstead.record.fold import Fold

__all__ = ["Evidence", "ReadyItem", "ReadyList", "ReadyState", "SiteReady", "ready_to_open"]


def ready_to_open(
    election: Election,
    plan: PlanVersion,
    issued: Issued,
    folded: Fold,
    report: DayReport,
    *,
    now_ms: int,
    notices: tuple[Notice, ...] = (),
    weights: Weights = USUAL_WEIGHTS,
    decks: DeckSet = NO_DECKS,
) -> ReadyList:
    """Every site of the day's report, the most at stake first, and the calls to make.

    `plan` is the version people are about to use; approval, lists and packets must name its digest.
    `now_ms` decides on windows and ages; `notices` are those of the rules that read the county's tables;
    `decks` the test decks of its ballots, where ballots are described.
    """
    ground = Ground(election, plan, issued, folded, report.date, now_ms, notices, decks)
    own = weights.with_own(election.ready_weights)
    shares = own.table()
    sites = [_site(ground, day, shares, report.date) for day in report.sites]
    ordered = tuple(sorted(sites, key=lambda one: (-one.stake_micro, -one.risk_ppb, one.site)))
    calls, desk, everyone = calls_of(ground, ordered, own)
    window = "" if ground.window is None else ground.window.word
    return ReadyList(sites=ordered, calls=calls, desk=desk, people=everyone, window=window, now_ms=now_ms)


def _site(ground: Ground, day: SiteDay, shares: dict[tuple[str, Level], int], date: dt.date) -> SiteReady:
    items = items_of(ground, day)
    mine = tuple(
        Share(item=item.id, level=item.level, ppm=shares[item.question, item.level]) for item in items
    )
    risk = late_ppb(
        Cause(id=item.id, ppm=share.ppm, group=item.group, member=item.member)
        for item, share in zip(items, mine, strict=True)
    )
    demand = ground.plan.site(day.site).demand
    voters = next((d.voters.p50 for d in demand if d.date == date), 0)
    return SiteReady(
        site=day.site,
        name=day.name,
        voters=voters,
        items=items,
        shares=mine,
        risk_ppb=risk,
        stake_micro=risk * voters // 1000,
    )


def items_of(ground: Ground, day: SiteDay) -> tuple[ReadyItem, ...]:
    """Every question of one site, in the order in which a morning runs."""
    site, site_plan = day.site, ground.plan.site(day.site)
    expected = ground.issued.of(site, ground.date)
    made: list[ReadyItem | None] = [
        *people.opener_items(ground, site),
        people.contact_item(ground, site),
        *people.lead_items(ground, site),
        told.with_word(ground, site, people.crew_item(ground, site, site_plan)),
        told.delivery_item(ground, site),
        *ledger.device_items(ground, site_plan),
        ledger.deck_item(ground, site_plan),
        ledger.list_item(ground, site, expected),
        ledger.seal_item(ground, expected),
        ledger.packet_item(ground, site),
        told.supplies_item(ground, site),
        *told.building_items(ground, site),
        ledger.hours_item(ground, site),
        ledger.accessible_item(ground, site_plan),
        ledger.plan_item(ground),
        ledger.rules_item(ground),
        ledger.open_item_of(ground, site),
        ledger.comparison_item(ground, day),
    ]
    return tuple(one for one in made if one is not None)
