"""What a number that differs most likely is, in the words that a reader may see.

Whoever may not see expected numbers is told nothing that names a number still to be read: saying that what
was read belongs to the next closure would give away what to type there.
"""

from __future__ import annotations

from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.reconcile.day import SiteDay
from pollstead.reconcile.diagnosis.diagnose import Diagnosis, Fits, Hypothesis
from pollstead.reconcile.diagnosis.known import Known
from pollstead.reconcile.opening.states import ItemResult

ONE = N_("Possible explanation:")
TIED = N_("Possible explanations, each as likely:")
LESS = N_("Less likely:")


class Likely(Value, frozen=True, kw_only=True):
    """The words about one value: `first` the likeliest, several where they are tied; `less` the others."""

    entered: str
    lead: str = ONE
    first: tuple[tuple[Message, ...], ...] = ()
    less: tuple[tuple[Message, ...], ...] = ()
    notes: tuple[Message, ...] = ()


def likely_of(
    result: ItemResult | None, day: SiteDay | None = None, *, may_see: bool = True
) -> tuple[Likely, ...]:
    """The words about each value of a result; with `day`, things still to be read there are not named."""
    if result is None:
        return ()
    unread = frozenset() if may_see or day is None else unread_things(day)
    here = "" if day is None else day.site
    found = (in_words(one, unread, here, may_see=may_see) for one in result.diagnoses)
    return tuple(one for one in found if one.first or one.notes)


def unread_things(day: SiteDay) -> frozenset[str]:
    """The things of a site that as many people as must have not read yet at any moment of the day."""
    read = {r.subject for r in day.results if len(r.people) >= _wanted(r)}
    return frozenset(r.subject for r in day.results if r.item is not None) - read


def _wanted(result: ItemResult) -> int:
    return 2 if result.item is not None and result.item.second_person else 1


def in_words(
    told: Diagnosis, unread: frozenset[str] = frozenset(), here: str = "", *, may_see: bool = True
) -> Likely:
    """The words of one diagnosis for a reader who may or may not see expected numbers."""
    if told.matches:
        return Likely(entered=told.entered, notes=_twice(told, unread, here, may_see=may_see))
    shown = (*told.likeliest, *told.possible)
    if any(one.known is not None and one.known.subject in unread for one in shown):
        wait = message(
            N_("Read it again from the thing itself. More is said here once the other lines are entered.")
        )
        return Likely(entered=told.entered, notes=(wait,))

    def words(one: Hypothesis) -> tuple[Message, ...]:
        if not may_see and one.known is not None and one.known.site not in ("", here):
            return (message(N_("It is a number of site {site}."), site=one.known.site),)
        return one.words

    first = tuple(dict.fromkeys(words(one) for one in told.likeliest))
    # That nothing has the number explains nothing; it is said as it is.
    lead = "" if told.hypotheses[0].fits is Fits.UNKNOWN else ONE
    return Likely(
        entered=told.entered,
        lead=TIED if len(first) > 1 else lead,
        first=first,
        less=tuple(dict.fromkeys(w for w in map(words, told.possible) if w not in first)),
        notes=told.notes,
    )


def _twice(told: Diagnosis, unread: frozenset[str], here: str, *, may_see: bool) -> tuple[Message, ...]:
    if may_see or all(_told_freely(one, unread, here) for one in told.twice):
        return told.notes
    return (message(N_("The county has this number more than once. Record it and tell the office.")),)


def _told_freely(one: Known, unread: frozenset[str], here: str) -> bool:
    return one.site in ("", here) and one.subject not in unread
