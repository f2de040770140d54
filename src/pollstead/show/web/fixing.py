"""What the pages of tests and seals share: the fixing list of a site, checks of a number, what lacks."""

from __future__ import annotations

import datetime as dt

from pollstead.election.county import Election
from pollstead.election.seal_checks import SealChecks
from pollstead.election.words import N_, Message, message
from pollstead.plan.seals.applied import applied_in_facts, kinds_of_closures
from pollstead.plan.seals.ledger import At, Ledger
from pollstead.plan.seals.spans import shape_of
from pollstead.plan.terms.version import PlanVersion, SitePlan
from pollstead.reconcile.custody.fixing import FixedDevice, FixedSeal, fixing_list, lacking, spare_list
from pollstead.reconcile.custody.pairs import Warehouse, warehouse
from pollstead.reconcile.opening.labels import closure_label
from pollstead.show.web.misread import MISREAD
from pollstead.show.web.open_folder import OpenFolder
from pollstead.work.stock import stock_report

RULE = "tested-before-issue"


def told(folder: OpenFolder) -> Warehouse:
    """Tests and seals as the record says."""
    return warehouse(folder.fold())


def devices_of(
    plan: PlanVersion, site: str, found: Warehouse, date: dt.date | None = None
) -> tuple[FixedDevice, ...]:
    """The devices of a site, or of the spares where `site` is empty."""
    return fixing_list(plan.site(site), found, date) if site else spare_list(plan, found)


def what_lacks(
    folder: OpenFolder, election: Election, plan: SitePlan, date: dt.date
) -> tuple[tuple[FixedDevice, ...], tuple[str, ...], int]:
    """Devices of the day with something that lacks, ids of those not tested, closures not sealed.

    All empty where the county's rule does not ask for it.
    """
    if election.rules.choice(RULE) != "yes":
        return (), (), 0
    devices = tuple(d for d in fixing_list(plan, told(folder), date) if not d.complete)
    untested, closures = lacking(devices)
    return devices, untested, closures


def field_of(seal: FixedSeal) -> str:
    """The name of a position in forms: its closure, a number sign, its position."""
    return f"{seal.closure}#{seal.position}"


def number_faults(
    folder: OpenFolder, election: Election, seal: FixedSeal, number: str, ledger: Ledger | None = None
) -> Message | None:
    """Why this number cannot be on this closure: no number, misread, void, on another one, not in the stock.

    The number that another person typed for the same position is never compared here.
    """
    if not number or len(number) > 40 or shape_of(seal.seal_kind, number) is None:
        return message(N_("Type the number as it stands on the seal."))
    checks = SealChecks.of(election.seal_ranges)
    if checks.misread(seal.seal_kind, number):
        return message(MISREAD)
    plan = folder.current()
    own = seal.closure if seal.position == 1 else f"{seal.closure}/{seal.position}"
    kinds = kinds_of_closures(election, plan)
    for event in applied_in_facts(election, kinds):
        if event.seal_kind == seal.seal_kind and event.number == number and event.place != own:
            return message(
                N_("This number is on another closure: {closure}. Read it again."),
                closure=closure_label(event.place, election),
            )
    for position in told(folder).positions:
        here = (position.closure, position.position) == (seal.closure, seal.position)
        if not here and number in {word.number for word in position.words}:
            return message(
                N_("This number was read on another closure: {closure}. Read it again."),
                closure=closure_label(position.closure, election),
            )
    ledger = ledger or stock_report(election, None, folder.fold()).ledger
    found = shape_of(seal.seal_kind, number, checks.scheme_of(seal.seal_kind, number))
    places = {
        stretch.at
        for stretch in ledger.stretches
        if found is not None and stretch.shape == found[0] and stretch.low <= found[1] <= stretch.high
    }
    if At.VOID in places:
        return message(N_("This seal is void. Take another one."))
    if not places and ledger.line(seal.seal_kind) is not None:
        return message(N_("This number is in no range and no receipt of {kind}."), kind=seal.seal_kind)
    return None
