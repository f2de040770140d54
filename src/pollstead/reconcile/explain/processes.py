"""What may have happened at a site and is written nowhere: which numbers it moves, one for each time.

A move of +1 says that the number stands one above what closes the rows. The registry names terms of the
balance and places that no line has; what a site does not have is left out, and a thing that moves nothing
which was read there is no explanation.
"""

from __future__ import annotations

from typing import NamedTuple

from pollstead.election.fault_odds import FaultKind
from pollstead.reconcile.counts.jams import MOVES_ALIKE
from pollstead.reconcile.counts.terms import BY_ID, Per
from pollstead.reconcile.explain.system import GONE, ISSUED_ALONE, STOCK_ALONE


class Process(NamedTuple):
    """One thing that happens at a site: its kind, what it moves, whether a second count finds it.

    `moves` are pairs (term or virtual place, amount); a device's term makes it one thing for each device.
    `needs` are terms of which one must stand on the sheet, `without` terms of which none may: the thing is
    said with the words of a line where there is one.
    """

    kind: FaultKind
    moves: tuple[tuple[str, int], ...]
    needs: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    counted_again: bool = False

    @property
    def per_device(self) -> bool:
        """Whether it happens at one device."""
        return any(term in BY_ID and BY_ID[term].per is Per.DEVICE for term, _ in self.moves)


_ONE_MORE = tuple((term, 1) for term in MOVES_ALIKE)
_ONE_LESS = tuple((term, -1) for term in MOVES_ALIKE)

PROCESSES: tuple[Process, ...] = (
    Process(FaultKind.SCANNED_TWICE, _ONE_MORE),
    Process(FaultKind.IN_BOX_NOT_COUNTED, _ONE_LESS, needs=("ballots_issued",)),
    Process(
        FaultKind.READ_TOO_EARLY,
        (("public_counter_close", -1), ("lifetime_counter_close", -1)),
        counted_again=True,
    ),
    Process(FaultKind.SPOILED_NOT_WRITTEN, (("ballots_spoiled", -1),), counted_again=True),
    Process(FaultKind.REISSUE_NOT_WRITTEN, (("ballots_reissued", -1),)),
    Process(
        FaultKind.SPOILED_AND_REISSUE,
        (("ballots_spoiled", -1), ("ballots_reissued", -1)),
        counted_again=True,
    ),
    Process(
        FaultKind.SPOILED_AND_REISSUE,
        (("ballots_spoiled", -1), ("ballots_reissued", -1), ("ballots_issued", -1)),
        counted_again=True,
    ),
    Process(FaultKind.FLED_NOT_WRITTEN, (("ballots_fled", -1),), counted_again=True),
    Process(FaultKind.FLED_NOT_WRITTEN, (("voters_left", -1),), without=("ballots_fled",)),
    Process(FaultKind.CAST_AFTER_FLED, (("ballots_fled", 1),)),
    Process(FaultKind.CANCELLED_NOT_WRITTEN, (("check_ins_cancelled", -1),), counted_again=True),
    Process(FaultKind.CHECK_IN_TWICE, (("check_ins", 1),)),
    Process(FaultKind.CHECK_IN_LEFT_OUT, (("check_ins", -1),)),
    Process(FaultKind.LEFT_WITH_BALLOT, ((GONE, 1),), needs=("ballots_issued",)),
    Process(FaultKind.HANDED_OUT_TWO, ((ISSUED_ALONE, 1),), needs=("ballots_issued",)),
    Process(
        FaultKind.PROVISIONAL_SCANNED,
        (*_ONE_MORE, ("provisional_envelopes", -1)),
        needs=("provisional_envelopes",),
    ),
    Process(FaultKind.PROVISIONAL_NOT_WRITTEN, (("provisional_issued", -1),)),
    Process(FaultKind.AUXILIARY_LEFT_OUT, (("ballots_auxiliary", -1),)),
    Process(FaultKind.AUXILIARY_TWICE, (("ballots_auxiliary", 1),)),
    Process(FaultKind.DAMAGED_NOT_WRITTEN, (("ballots_damaged", -1),), counted_again=True),
    Process(
        FaultKind.DAMAGED_NOT_WRITTEN,
        ((STOCK_ALONE, 1),),
        needs=("ballots_unused",),
        without=("ballots_damaged",),
    ),
    Process(FaultKind.TEST_PRINT_COUNTED, (("ballots_printed", 1),)),
    Process(FaultKind.TEST_NOT_WRITTEN, (("test_sheets", -1),)),
    Process(
        FaultKind.TEST_NOT_WRITTEN,
        (("lifetime_counter_close", 1),),
        needs=("lifetime_counter_close",),
        without=("test_sheets",),
    ),
)
