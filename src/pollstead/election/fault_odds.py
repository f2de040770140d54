"""How often each single mistake happens to closing numbers, as odds that a county may replace line by line.

Every default below is our own guess (no source; varies by county) unless its line says otherwise. What a
digit costs to misread stands in `reading_errors`; here is all else that may stand behind a difference.
"""

from __future__ import annotations

import enum
from typing import Final

from pollstead.election.values import Value, require

GUESS: Final = "our own guess"


class FaultKind(enum.StrEnum):
    """One thing that may have happened to the numbers of a site, or to the ballots that they count."""

    # How one number was read, typed or copied.
    DIGITS_SWAPPED = "digits swapped"
    DIGIT_MISREAD = "digit misread"
    DIGIT_DROPPED = "digit dropped"
    DIGIT_ADDED = "digit added"
    PAIR_MISREAD = "pair of digits misread"
    NEIGHBOR_ROW = "neighbor row"
    NEIGHBOR_COLUMN = "neighbor column"
    ROWS_EXCHANGED = "two rows exchanged"
    COLUMNS_EXCHANGED = "two columns exchanged"
    OTHER_DEVICE = "another device"
    DEVICES_EXCHANGED = "two devices exchanged"
    OTHER_COUNTER = "lifetime counter written for public"
    OTHER_SITE = "another site"
    DAY_BEFORE = "day before"
    OTHER_NUMBER = "another number"
    # How something was counted or added up.
    MISCOUNTED = "miscounted by hand"
    PACK_MISCOUNTED = "miscounted by a pack"
    WRITTEN_DOUBLE = "counted twice"
    NOT_WRITTEN = "not counted at all"
    PART_TWICE = "part counted twice"
    PART_LEFT_OUT = "part left out"
    SHEETS_FOR_BALLOTS = "sheets for ballots"
    BALLOTS_FOR_SHEETS = "ballots for sheets"
    PROVISIONAL_INSIDE = "provisional counted inside"
    OPENING_NOT_ZERO = "opening counter not zero"
    CLOSING_NOT_READ = "closing numbers not read"
    READ_TOO_EARLY = "screen read too early"
    # What happened at the site and no line says.
    SCANNED_TWICE = "ballot counted twice by a device"
    IN_BOX_NOT_COUNTED = "ballot in the box, not counted"
    SPOILED_NOT_WRITTEN = "spoiled not logged"
    REISSUE_NOT_WRITTEN = "reissue not logged"
    SPOILED_AND_REISSUE = "spoiled and reissue not logged"
    FLED_NOT_WRITTEN = "fled not logged"
    CAST_AFTER_FLED = "logged as fled, cast after all"
    CANCELLED_NOT_WRITTEN = "cancelled check-in not logged"
    CHECK_IN_TWICE = "checked in twice"
    CHECK_IN_LEFT_OUT = "check-in left out"
    LEFT_WITH_BALLOT = "voter left, ballot not back"
    HANDED_OUT_TWO = "two ballots handed out as one"
    PROVISIONAL_SCANNED = "provisional ballot scanned"
    PROVISIONAL_NOT_WRITTEN = "provisional not logged"
    AUXILIARY_LEFT_OUT = "auxiliary bin left out"
    AUXILIARY_TWICE = "auxiliary bin counted twice"
    DAMAGED_NOT_WRITTEN = "damaged not logged"
    TEST_NOT_WRITTEN = "test not logged"
    TEST_PRINT_COUNTED = "test print counted"
    # A county's sums.
    UPLOAD_MISSED = "upload missed"
    UPLOAD_TWICE = "upload twice"
    SITES_EXCHANGED = "two sites exchanged"
    STYLE_ROW_SHIFTED = "style rows shifted"
    SPOILED_ALONE = "spoiled without a reissue"
    SOMETHING_ELSE = "something else"


class FaultOdds(Value, frozen=True, kw_only=True):
    """How often one kind happens: times in a million chances. A chance is one number, device or site.

    `more_per_thousand` is, for things that are counted one by one, how often in a thousand one more follows
    upon the last; None where the kind has no size. `jam_per_million` stands in place of `per_million` for
    each jam record of the device that leaves open what was counted.
    """

    kind: str
    per_million: int
    more_per_thousand: int | None = None
    jam_per_million: int | None = None
    source: str = GUESS

    def __post_init__(self) -> None:
        kinds = [kind.value for kind in FaultKind]
        require(self.kind in kinds, f"kind must be one of {', '.join(kinds)}, got {self.kind!r}")
        for name, value in (("per_million", self.per_million), ("jam_per_million", self.jam_per_million)):
            require(
                value is None or 0 <= value < 1_000_000,
                f"{self.kind}: {name} must be 0 to 999,999, got {value}",
            )
        require(
            self.more_per_thousand is None or 1 <= self.more_per_thousand <= 999,
            f"{self.kind}: more_per_thousand must be 1 to 999 or blank, got {self.more_per_thousand}",
        )


def _line(kind: FaultKind, per_million: int, more: int | None = None, jam: int | None = None) -> FaultOdds:
    return FaultOdds(
        kind=kind.value, per_million=per_million, more_per_thousand=more, jam_per_million=jam, source=GUESS
    )


MORE: Final = 350
"""How often in a thousand one more follows. One number for every kind that is counted, so that nothing but
how often it happens tells two kinds apart that move the same numbers."""

USUAL_ODDS: Final[tuple[FaultOdds, ...]] = (
    _line(FaultKind.NEIGHBOR_ROW, 400),
    _line(FaultKind.NEIGHBOR_COLUMN, 400),
    _line(FaultKind.ROWS_EXCHANGED, 200),
    _line(FaultKind.COLUMNS_EXCHANGED, 200),
    _line(FaultKind.OTHER_DEVICE, 500),
    _line(FaultKind.DEVICES_EXCHANGED, 500),
    _line(FaultKind.OTHER_COUNTER, 800),
    _line(FaultKind.OTHER_SITE, 200),
    _line(FaultKind.DAY_BEFORE, 400),
    _line(FaultKind.OTHER_NUMBER, 300),
    _line(FaultKind.MISCOUNTED, 20_000, MORE),
    _line(FaultKind.PACK_MISCOUNTED, 1_500),
    _line(FaultKind.WRITTEN_DOUBLE, 300),
    _line(FaultKind.NOT_WRITTEN, 800),
    _line(FaultKind.PART_TWICE, 1_000),
    _line(FaultKind.PART_LEFT_OUT, 2_000),
    _line(FaultKind.SHEETS_FOR_BALLOTS, 2_000),
    _line(FaultKind.BALLOTS_FOR_SHEETS, 2_000),
    _line(FaultKind.PROVISIONAL_INSIDE, 4_000),
    _line(FaultKind.OPENING_NOT_ZERO, 800),
    _line(FaultKind.CLOSING_NOT_READ, 800),
    _line(FaultKind.READ_TOO_EARLY, 1_000, MORE),
    _line(FaultKind.SCANNED_TWICE, 3_000, MORE, 300_000),
    _line(FaultKind.IN_BOX_NOT_COUNTED, 3_000, MORE, 200_000),
    _line(FaultKind.SPOILED_NOT_WRITTEN, 10_000, MORE),
    _line(FaultKind.REISSUE_NOT_WRITTEN, 15_000, MORE),
    _line(FaultKind.SPOILED_AND_REISSUE, 8_000, MORE),
    _line(FaultKind.FLED_NOT_WRITTEN, 6_000, MORE),
    _line(FaultKind.CAST_AFTER_FLED, 1_000, MORE),
    _line(FaultKind.CANCELLED_NOT_WRITTEN, 5_000, MORE),
    _line(FaultKind.CHECK_IN_TWICE, 4_000, MORE),
    _line(FaultKind.CHECK_IN_LEFT_OUT, 6_000, MORE),
    _line(FaultKind.LEFT_WITH_BALLOT, 6_000, MORE),
    _line(FaultKind.HANDED_OUT_TWO, 3_000, MORE),
    _line(FaultKind.PROVISIONAL_SCANNED, 2_000, MORE),
    _line(FaultKind.PROVISIONAL_NOT_WRITTEN, 6_000, MORE),
    _line(FaultKind.AUXILIARY_LEFT_OUT, 4_000, MORE),
    _line(FaultKind.AUXILIARY_TWICE, 3_000, MORE),
    _line(FaultKind.DAMAGED_NOT_WRITTEN, 2_000, MORE),
    _line(FaultKind.TEST_NOT_WRITTEN, 1_000, MORE),
    _line(FaultKind.TEST_PRINT_COUNTED, 3_000, MORE),
    _line(FaultKind.UPLOAD_MISSED, 3_000),
    _line(FaultKind.UPLOAD_TWICE, 2_000),
    _line(FaultKind.SITES_EXCHANGED, 500),
    _line(FaultKind.STYLE_ROW_SHIFTED, 1_000),
    _line(FaultKind.SPOILED_ALONE, 100_000),
    _line(FaultKind.SOMETHING_ELSE, 3_000),
)
"""The odds in use where a county gives none: one line for each kind that no reading error prices."""
