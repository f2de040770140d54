"""How often a site opens late because of one question: our guesses, which a county replaces by its own.

They order sites and calls; no share is a forecast. Each is our own judgment: common practice, no source;
varies by county. The table ``ready_weights`` of a county folder takes the place of any line.
"""

from __future__ import annotations

import msgspec

from pollstead.election.contacts import MILLION, QUESTIONS, ReadyWeight
from pollstead.election.values import Value, require_unique
from pollstead.election.words import N_
from pollstead.reconcile.readiness.states import Level


class Weights(Value, frozen=True, kw_only=True):
    """The weights in use, one for each question."""

    items: tuple[ReadyWeight, ...]

    def __post_init__(self) -> None:
        require_unique(tuple(w.question for w in self.items), "weights")

    def of(self, question: str) -> ReadyWeight:
        """The weight of a question; raises KeyError naming it where there is none."""
        for weight in self.items:
            if weight.question == question:
                return weight
        raise KeyError(f"no weight for the question {question!r}")

    def table(self) -> dict[tuple[str, Level], int]:
        """The share of each question at each level, parts per million."""
        found: dict[tuple[str, Level], int] = {}
        for w in self.items:
            found[w.question, Level.GOOD] = w.good_ppm
            found[w.question, Level.OLD] = w.old_ppm
            found[w.question, Level.UNKNOWN] = w.unknown_ppm
            found[w.question, Level.BAD] = w.bad_ppm
        return found

    def with_own(self, own: tuple[ReadyWeight, ...]) -> Weights:
        """These weights with a county's own lines in place of ours."""
        mine = {weight.question: weight for weight in own}
        return Weights(items=tuple(mine.get(w.question, w) for w in self.items))

    def times(self, up: int, down: int, question: str = "") -> Weights:
        """Every share (or those of one question) times up / down, at most all sites."""

        def scaled(ppm: int) -> int:
            return min(MILLION, ppm * up // down)

        return Weights(
            items=tuple(
                msgspec.structs.replace(
                    w,
                    good_ppm=scaled(w.good_ppm),
                    old_ppm=scaled(w.old_ppm),
                    unknown_ppm=scaled(w.unknown_ppm),
                    bad_ppm=scaled(w.bad_ppm),
                )
                if question in ("", w.question)
                else w
                for w in self.items
            )
        )


def _w(question: str, good: int, old: int, unknown: int, bad: int, minutes: int, why: str) -> ReadyWeight:
    return ReadyWeight(
        question=question,
        good_ppm=good,
        old_ppm=old,
        unknown_ppm=unknown,
        bad_ppm=bad,
        minutes=minutes,
        why=why,
    )


USUAL_WEIGHTS = Weights(
    items=(
        _w("opener-call", 20_000, 60_000, 120_000, 500_000, 3, N_("the door stays shut when nobody comes")),
        _w("openers", 0, 0, 10_000, 20_000, 15, N_("one key and one person is one way in")),
        _w("lead-call", 30_000, 60_000, 100_000, 700_000, 3, N_("without a lead or deputy nobody may begin")),
        _w("contact-call", 0, 1_000, 3_000, 10_000, 3, N_("nobody answers at five in the morning")),
        _w("crew", 0, 2_000, 5_000, 30_000, 15, N_("work for several people takes one too long")),
        _w("delivery", 500, 3_000, 15_000, 300_000, 4, N_("a cart that is not there needs a truck")),
        _w("devices", 500, 500, 5_000, 50_000, 10, N_("a missing machine needs a truck")),
        _w("tests", 500, 500, 5_000, 20_000, 30, N_("a machine that was not tested may not start")),
        _w("decks", 500, 500, 5_000, 20_000, 30, N_("a report nobody compared may come as a surprise")),
        _w("expected-list", 0, 0, 5_000, 20_000, 5, N_("without it nothing can be compared")),
        _w("seals", 0, 0, 5_000, 20_000, 10, N_("each number that is not known is a call")),
        _w("packets", 0, 0, 5_000, 30_000, 5, N_("people cannot start without their sheets")),
        _w("supplies", 500, 1_000, 5_000, 50_000, 4, N_("a box that is short means a drive")),
        _w("building-way-in", 0, 1_000, 3_000, 60_000, 4, N_("what keeps people or carts out costs an hour")),
        _w("building-power", 0, 1_000, 2_000, 15_000, 4, N_("a breaker that trips stops several machines")),
        _w("building-room", 0, 1_000, 2_000, 10_000, 4, N_("a room that is not as planned is set up twice")),
        _w("building-other", 0, 500, 1_000, 5_000, 4, N_("things around the building cost minutes")),
        _w("hours", 0, 0, 5_000, 20_000, 4, N_("people come at the wrong minute")),
        _w("accessible-station", 0, 0, 5_000, 20_000, 10, N_("wanted at each site")),
        _w("plan-approved", 0, 0, 2_000, 2_000, 2, N_("everything else rests on the plan")),
        _w("rules", 0, 0, 1_000, 1_000, 10, N_("each unconfirmed rule is a call to the office")),
        _w("open-items", 0, 0, 500, 1_000, 10, N_("small things add up")),
        _w("opening-comparison", 0, 0, 5_000, 5_000, 5, N_("a device that waits opens late")),
    )
)

assert tuple(w.question for w in USUAL_WEIGHTS.items) == QUESTIONS  # noqa: S101 - two lists of one thing
