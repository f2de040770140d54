"""Open items about changes of facts that are recorded and not in the tables."""

from __future__ import annotations

from collections.abc import Iterable

from pollstead.election.notice import Notice
from pollstead.election.words import N_, message
from pollstead.intake.notices import open_item
from pollstead.work.fact_changes import Standing, StandingChange

_COORDINATOR = N_("site coordinator")

_WORDS = {
    Standing.NOT_WRITTEN: N_("Change {number} is recorded, and the tables do not say it yet"),
    Standing.ELSEWHERE: N_("Change {number} was made on another computer and is not in the tables here"),
    Standing.CLASH: N_("Change {number} of another computer and the tables here give one cell two values"),
    Standing.NOT_HERE: N_("Change {number} was made on another computer, and its cells are not known here"),
}


def notices_of(found: Iterable[StandingChange]) -> tuple[Notice, ...]:
    """One open item for each change that waits for a person; its key is that of the event."""
    return tuple(
        open_item(
            "facts-waiting",
            f"facts/{one.change.event[:16]}",
            message(_WORDS[one.standing], number=one.change.number),
            found=N_("not in the tables"),
            wanted=N_("written into the tables, or set aside"),
            remedy=message(
                N_("Decide on the page What was changed in the facts?, or by: pollstead facts pending FOLDER")
            ),
            owner=_COORDINATOR,
            depends=(one.change.event, one.standing.value),
        )
        for one in found
        if one.is_open
    )
