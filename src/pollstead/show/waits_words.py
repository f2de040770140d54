"""The words of a wait and of a move: an estimate, its range, and the age of what it stands on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pollstead.election.words import N_, Message, message
from pollstead.plan.terms.lines import Stage
from pollstead.plan.terms.now import Band, Known, Move, MoveKind, WaitNow

if TYPE_CHECKING:
    from collections.abc import Callable

MINUTE_MS = 60_000
COARSE_FROM_MIN, COARSE_STEP = 10, 5

KNOWN_WORDS = {
    Known.ESTIMATED: N_("estimated"),
    Known.NEVER_TOLD: N_("not known: nobody has counted the line today"),
    Known.STALE: N_("not known: the last count is too old"),
    Known.NOT_OPEN: N_("not open yet"),
    Known.CLOSED: N_("the last voter has voted"),
}
STAGE_WORDS = {
    Stage.CHECK_IN: N_("check-in"),
    Stage.MARK: N_("voting stations"),
    Stage.MARK_ACCESSIBLE: N_("accessible voting stations"),
    Stage.CAST: N_("scanner"),
}
_MOVES = {
    MoveKind.OPEN_STATION: N_(
        "{site}: open one more station, {stage}: works in {after} min, saves about {saved} voter-minutes "
        "({low}–{high})."
    ),
    MoveKind.MOVE_STEP: N_(
        "{site}: move a worker from {other} to {stage}: works in {after} min, saves about {saved} "
        "voter-minutes ({low}–{high})."
    ),
    MoveKind.SEND_SPARE: N_(
        "{site}: send a spare with a worker, {stage}: works in {after} min, saves about {saved} "
        "voter-minutes ({low}–{high})."
    ),
    MoveKind.MOVE_WORKER: N_(
        "{site}: send a worker from {other}, {stage}: works in {after} min, saves about {saved} "
        "voter-minutes ({low}–{high}) after the wait that {other} gets."
    ),
}

_FIRST = {
    MoveKind.OPEN_STATION: N_(
        "{site}: open one station, {stage}: works in {after} min; none works there now."
    ),
    MoveKind.SEND_SPARE: N_(
        "{site}: send a spare with a worker, {stage}: works in {after} min; none works there now."
    ),
}
"""Where no station of the step works: what is saved has no figure, since nobody knows how long that lasts."""


def about_min(value_ms: int) -> int:
    """Minutes as they are said: whole ones below ten, then fives, since nobody knows it better."""
    minutes = round(value_ms / MINUTE_MS)
    return minutes if minutes < COARSE_FROM_MIN else round(minutes / COARSE_STEP) * COARSE_STEP


def band_min(band: Band) -> tuple[int, int, int]:
    """The middle, low and high of a wait in minutes as they are said."""
    return about_min(band.middle), about_min(band.low), about_min(band.high)


def wait_words(wait: WaitNow) -> Message:
    """The wait now in one sentence; raises ValueError for a site without an estimate."""
    if wait.wait is None or wait.age_ms is None:
        raise ValueError(f"{wait.site}: expected an estimate, found {wait.known.value}")
    middle, low, high = band_min(wait.wait)
    return message(
        N_("about {middle} min ({low}–{high}), counted {age} min ago"),
        middle=middle,
        low=low,
        high=high,
        age=wait.age_ms // MINUTE_MS,
    )


def move_words(move: Move, say: Callable[[str], str], stopped: tuple[Stage, ...] = ()) -> Message:
    """A move in one sentence; `say` gives the words of a stage in the reader's language.

    `stopped` are the steps of the site at which no station works.
    """
    if move.stage in stopped and move.kind in _FIRST:
        stage = say(STAGE_WORDS[move.stage])
        return message(_FIRST[move.kind], site=move.site, stage=stage, after=move.after_min)
    other = move.giver if move.from_stage is None else say(STAGE_WORDS[move.from_stage])
    return message(
        _MOVES[move.kind],
        site=move.site,
        stage=say(STAGE_WORDS[move.stage]),
        other=other,
        after=move.after_min,
        saved=move.saved.middle,
        low=move.saved.low,
        high=move.saved.high,
    )
