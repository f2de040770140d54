"""What a scanned code that fits nothing may be, in the words that a reader may see."""

from __future__ import annotations

from pollstead.reconcile.diagnosis.costs import costs_of
from pollstead.reconcile.diagnosis.diagnose import Fits
from pollstead.reconcile.diagnosis.known import KnownNumbers
from pollstead.reconcile.diagnosis.of_day import known_numbers
from pollstead.reconcile.diagnosis.scanned import diagnose_code
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.day import issued
from pollstead.show.web.likely import Likely, in_words
from pollstead.show.web.pages.frame import Ask


def likely_code(ask: Ask, code: str, near: tuple[str, ...], choices: int) -> tuple[Likely, ...]:
    """The words about a code, likeliest first; `near` are codes like it, of `choices` in all.

    Seals are named to whoever may see expected numbers; to others only what the code is close to.
    """
    election = ask.folder.election()
    if election is None or not code:
        return ()
    known = KnownNumbers(())
    if ask.may(Capability.SEE_EXPECTED):
        lists = issued(ask.folder).lists
        last = max((one.date for one in lists), default=None)
        known = known_numbers(election, tuple(one for one in lists if one.date == last), ask.folder.fold())
    told = diagnose_code(code, near, known, costs_of(election.reading_errors), choices=choices)
    if not ask.may(Capability.SEE_EXPECTED) and told.hypotheses[0].fits is Fits.UNKNOWN:
        # Without the seals nobody can say that nothing has it.
        return ()
    return (in_words(told),)
