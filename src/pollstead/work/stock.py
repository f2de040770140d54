"""The seal stock of a county as it stands: ledger, forecast and bags from facts, plan and record together."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pollstead.election.values import Value
from pollstead.plan.seals.applied import applied_in_facts, kinds_of_closures
from pollstead.plan.seals.blocks import Bags, bags
from pollstead.plan.seals.forecast import Forecast, forecast
from pollstead.plan.seals.ledger import Ledger, LedgerGiven, seal_ledger
from pollstead.reconcile.custody.seal_lives import seal_events

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.plan.terms.version import PlanVersion
    from pollstead.record.facts import Fold


class StockReport(Value, frozen=True, kw_only=True):
    """What is known of the seal stock; forecast and bags are empty before there is a plan."""

    ledger: Ledger
    forecast: Forecast = Forecast(lines=())
    bags: Bags = Bags(bags=(), left=())


def stock_report(election: Election, plan: PlanVersion | None, folded: Fold | None) -> StockReport:
    """The stock now. `folded` was made with private parts; None where nothing is recorded.

    A seal that came into the stock by an event alone is not counted before its row is in the tables.
    """
    kinds = kinds_of_closures(election, plan)
    told = () if folded is None else seal_events(folded, kinds)
    ledger = seal_ledger(
        LedgerGiven(
            ranges=election.seal_ranges,
            receipts=election.seal_receipts,
            voids=election.seal_voids,
            returns=election.seal_returns,
            blocks=election.seal_blocks,
            events=(*applied_in_facts(election, kinds), *told),
        )
    )
    if plan is None:
        return StockReport(ledger=ledger)
    stock = {line.seal_kind: line.received - line.void for line in ledger.lines if line.received}
    applied = {line.seal_kind: line.closure for line in ledger.lines}
    return StockReport(
        ledger=ledger,
        forecast=forecast(election, plan, stock, applied),
        bags=bags(election, plan, ledger),
    )
