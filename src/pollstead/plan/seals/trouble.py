"""What may not add up in the seal stock, and the notice that says so without a seal number."""

from __future__ import annotations

import enum
from types import MappingProxyType
from typing import Final

from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.values import Value
from pollstead.election.words import N_, message


class TroubleKind(enum.StrEnum):
    """What does not add up."""

    NOT_COUNTED = "seal-stock-not-counted"
    QUANTITY = "seal-receipt-quantity"
    ONE_COUNTED = "seal-receipt-counted"
    GAP = "seal-series-gap"
    DOUBLE = "seal-numbers-twice"
    TWO_SERIES = "seal-number-in-two-series"
    LOOK_ALIKE = "seal-look-alike"
    NO_RECEIPT = "seal-range-without-receipt"
    NOT_IN_RANGES = "seal-receipt-not-in-ranges"
    TWO_BAGS = "seal-in-two-bags"
    OUTSIDE = "seal-outside-stock"
    USED_TWICE = "seal-on-two-closures"
    VOID_USED = "seal-void-but-used"
    RETURNED_USED = "seal-returned-but-used"
    NOT_RETURNED = "seal-not-returned"
    AFTER_CUT = "seal-after-cut"
    VOID_TWICE = "seal-void-twice"


class Trouble(Value, frozen=True, kw_only=True):
    """One thing that does not add up. `first` and `last` are seal numbers, for those who may see them.

    `count` is how many numbers it is about; of a quantity it is told − counted from the numbers.
    """

    kind: TroubleKind
    seal_kind: str
    where: str
    first: str = ""
    last: str = ""
    count: int
    series: str = ""


SAID: Final = MappingProxyType(
    {
        TroubleKind.NOT_COUNTED: N_("{where}: first and last number do not make a range of {kind}."),
        TroubleKind.QUANTITY: N_(
            "{where}: the quantity told differs from last − first + 1 by {count} ({kind})."
        ),
        TroubleKind.ONE_COUNTED: N_("{where}: counted by {count} people; two are wanted ({kind})."),
        TroubleKind.GAP: N_("Series {where} of {kind} has a gap of {count} numbers."),
        TroubleKind.DOUBLE: N_("{count} numbers of {kind} stand in two rows: {where}."),
        TroubleKind.TWO_SERIES: N_("{count} numbers of {kind} stand in two series: {where}."),
        TroubleKind.LOOK_ALIKE: N_("{count} numbers of {kind} look like those of another series: {where}."),
        TroubleKind.NO_RECEIPT: N_("{count} numbers of {kind} have no receipt: {where}."),
        TroubleKind.NOT_IN_RANGES: N_("{count} numbers of {kind} came in and stand in no range: {where}."),
        TroubleKind.TWO_BAGS: N_("{count} numbers of {kind} stand in the bags of two sites: {where}."),
        TroubleKind.OUTSIDE: N_("{where}: a seal of {kind} is in no range and no receipt."),
        TroubleKind.USED_TWICE: N_("One number of {kind} stands on two closures: {where}."),
        TroubleKind.VOID_USED: N_("{where}: a seal of {kind} that is void stands on a closure."),
        TroubleKind.RETURNED_USED: N_("{where}: a seal of {kind} that came back unused stands on a closure."),
        TroubleKind.NOT_RETURNED: N_(
            "{where}: {count} seals of {kind} from the bag are not used, not void and did not come back."
        ),
        TroubleKind.AFTER_CUT: N_("{where}: a seal of {kind} was seen after it was cut."),
        TroubleKind.VOID_TWICE: N_("A seal of {kind} is void twice, for two reasons: {where}."),
    }
)

_REMEDY: Final = MappingProxyType(
    {
        TroubleKind.QUANTITY: N_("Two people count the box again and read its first and last number."),
        TroubleKind.ONE_COUNTED: N_("A second person counts the box and signs the receipt."),
        TroubleKind.GAP: N_("Look for the missing roll or box; write down what is missing and why."),
        TroubleKind.USED_TWICE: N_(
            "Look at both seals and write down kind and series of each; both stay on, and both entries stay."
        ),
        TroubleKind.NOT_RETURNED: N_(
            "Look in the bag and count with two people; a seal that is gone is void."
        ),
        TroubleKind.LOOK_ALIKE: N_("Keep the two series apart, and use only one of them in this election."),
        TroubleKind.TWO_SERIES: N_(
            "Use only one of the two series in this election; lock the other one away."
        ),
    }
)
_LOOK: Final = N_("Look at the seals and the list; correct what was typed, or write down what happened.")


def notice_of(trouble: Trouble) -> Notice:
    """The trouble as a notice; its words and key hold no seal number, since a key may be signed."""
    return Notice(
        kind=NoticeKind.OPEN_ITEM,
        rule=trouble.kind.value,
        subject=f"seals/{trouble.seal_kind}/{trouble.where}",
        text=message(SAID[trouble.kind], where=trouble.where, kind=trouble.seal_kind, count=trouble.count),
        remedy=message(_REMEDY.get(trouble.kind, _LOOK)),
        owner="equipment manager",
        who_decides="election official",
        depends=(trouble.kind.value, str(trouble.count)),
    )
