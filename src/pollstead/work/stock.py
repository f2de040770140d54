"""The seal stock of a county as it stands: ledger, forecast and bags from facts, plan and record together."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.intake.notices import open_item
from pollstead.plan.seals.applied import applied_in_facts, kinds_of_closures
from pollstead.plan.seals.blocks import Bags, bags
from pollstead.plan.seals.forecast import Forecast, forecast
from pollstead.plan.seals.ledger import Ledger, LedgerGiven, seal_ledger
from pollstead.plan.seals.spans import span_of
from pollstead.plan.seals.trouble import Trouble, notice_of
from pollstead.reconcile.custody.seal_lives import seal_events
from pollstead.reconcile.opening.labels import closure_label
from pollstead.record.kinds.stocks import StockCounted

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.election.notice import Notice
    from pollstead.election.seal_checks import SealChecks
    from pollstead.election.seal_stock import SealReceipt
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


class BoxCount(Value, frozen=True, kw_only=True):
    """The last count of a receipt's box: by whom, how many, and what the book had there then."""

    receipt: str
    counted: int
    book: int | None
    people: tuple[str, ...]


def box_counts(folded: Fold | None) -> tuple[BoxCount, ...]:
    """The last count of each receipt; a count that was withdrawn is left out."""
    found = []
    for fact in () if folded is None else folded.named(StockCounted.kind):
        standing = [reading for reading in fact.current if not reading.withdrawn]
        if standing:
            last = standing[-1]
            book = last.value.get("book")
            found.append(
                BoxCount(
                    receipt=str(fact.key.get("receipt", "")),
                    counted=int(last.value["counted"]),
                    book=book if isinstance(book, int) else None,
                    people=tuple(dict.fromkeys(person.person for person in last.people)),
                )
            )
    return tuple(sorted(found, key=lambda count: count.receipt))


def in_store(ledger: Ledger, receipt: SealReceipt, checks: SealChecks) -> int | None:
    """How many numbers of a receipt lie in the store by the book; None where they make no range."""
    check = checks.scheme_of(receipt.seal_kind, receipt.first)
    span = span_of(receipt.seal_kind, receipt.series, receipt.first, receipt.last, "", check)
    if span is None:
        return None
    return sum(
        max(0, min(span.high, free.high) - max(span.low, free.low) + 1)
        for free in ledger.free(receipt.seal_kind)
        if free.shape == span.shape
    )


def said_of(trouble: Trouble, election: Election) -> Message:
    """What does not add up, in words: closures by the names that people use, not by id."""
    where = ", ".join(closure_label(place, election) for place in trouble.where.split(", "))
    return notice_of(msgspec.structs.replace(trouble, where=where)).text


def stock_notices(election: Election, plan: PlanVersion | None, folded: Fold | None) -> tuple[Notice, ...]:
    """What does not add up in the stock, and boxes whose count differs from the book; no seal numbers."""
    report = stock_report(election, plan, folded)
    found = [
        msgspec.structs.replace(notice_of(trouble), text=said_of(trouble, election))
        for trouble in report.ledger.troubles
    ]
    for count in box_counts(folded):
        if count.book is not None and count.book != count.counted:
            found.append(
                open_item(
                    "seal-box-count",
                    f"seals/{count.receipt}",
                    message(
                        N_("Receipt {receipt}: the count of the box differs from the book"),
                        receipt=count.receipt,
                    ),
                    found=count.counted,
                    wanted=str(count.book),
                    remedy=message(
                        N_("Two people count again and look for the seals; write down what happened.")
                    ),
                    owner=N_("equipment manager"),
                    who_decides="election official",
                )
            )
    return tuple({notice.key: notice for notice in found}.values())
