"""What people decided about the plan, read from the events: values fixed, with their reasons."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pollstead.election.county import FixedValue
from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.words import N_, message
from pollstead.plan.terms.version import Decisions

if TYPE_CHECKING:
    from pollstead.record.fold import Fact
    from pollstead.store.opening import Store


def decisions_of(store: Store) -> tuple[Decisions, tuple[Notice, ...]]:
    """The values that people fixed by events, and an open item where two of them do not agree.

    A value about a person is none of the plan's; facts that were changed are read with the facts.
    """
    from pollstead.record.kinds.offices import PERSONAL_TABLES

    folded = store.fold(private=True)
    fixed: list[FixedValue] = []
    notices: list[Notice] = []
    for fact in folded.named("value"):
        if str(fact.key.get("table")) in PERSONAL_TABLES or not fact.current:
            continue
        if fact.differing:
            notices.append(_two_values(fact))
            continue
        reading = fact.current[-1]
        if reading.kind == "value.fixed" and reading.value["value"] is not None:
            private = reading.private
            fixed.append(
                FixedValue(
                    table=str(fact.key["table"]),
                    row=str(fact.key["row"]),
                    field=str(fact.key["field"]),
                    value=str(reading.value["value"]),
                    reason=str(private["reason"]) if private is not None else N_("reason not shown here"),
                )
            )
    return Decisions(fixed=tuple(sorted(fixed, key=lambda f: (f.table, f.row, f.field)))), tuple(notices)


def _two_values(fact: Fact) -> Notice:
    row, field = str(fact.key["row"]), str(fact.key["field"])
    values = ", ".join(sorted({str(reading.value.get("value", "")) for reading in fact.current}))
    return Notice(
        kind=NoticeKind.OPEN_ITEM,
        rule="fixed-twice",
        subject=f"{fact.key['table']}/{row}",
        day=field,
        text=message(
            N_("People fixed different values for {row} {field} ({values}); none is used."),
            row=row,
            field=field,
            values=values,
        ),
        remedy=message(N_("Choose one of them by a new decision.")),
        depends=(values,),
    )
