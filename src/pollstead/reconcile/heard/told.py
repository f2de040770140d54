"""What a site has told by a moment: words about its steps, each with who said it, how and when."""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from pollstead.election.values import Value
from pollstead.reconcile.counts.terms import hour_of
from pollstead.reconcile.custody.receiving import OLD_TABLE, TABLE_PREFIX
from pollstead.reconcile.heard.steps import Step, count_key
from pollstead.reconcile.observed import Observation, What
from pollstead.record.event import Means

AT_SITE = "seen."
"""Kinds of what people look at in the building: whoever wrote one down was inside."""


class Word(Value, frozen=True, kw_only=True):
    """Somebody's word about a step. `key` is the step's, `at_min` the minute told (None where none was).

    `giver` said it on the telephone ("" for another means), `author` typed it, by `means`. `aside` says
    that it was told by another entry, not as this step.
    """

    key: str
    at_min: int | None
    utc_ms: int
    event: str
    author: str
    means: Means
    giver: str = ""
    read_back: bool = False
    aside: bool = False


def as_of(observations: Iterable[Observation], now_ms: int) -> tuple[Observation, ...]:
    """The observations made by a moment, each as it stood then: a later correction is not known yet."""
    made = [seen for seen in observations if seen.utc_ms <= now_ms]
    known = {seen.event for seen in made}
    return tuple(
        msgspec.structs.replace(seen, replaced_by=tuple(one for one in seen.replaced_by if one in known))
        for seen in made
    )


def words_of(observations: Iterable[Observation], day_starts_ms: int) -> tuple[Word, ...]:
    """The standing words of one site and day, by their moment.

    What was seen before the day began tells nobody inside in the morning.
    """
    found = []
    for seen in observations:
        if not seen.stands or not seen.people:
            continue
        key, at_min = _key_of(seen)
        if key:
            found.append(_word(seen, key, at_min))
        elif seen.kind.startswith(AT_SITE) and seen.utc_ms >= day_starts_ms:
            found.append(_word(seen, Step.CREW_INSIDE.value, None, aside=True))
    return tuple(sorted(found, key=lambda word: (word.utc_ms, word.event)))


def _key_of(seen: Observation) -> tuple[str, int | None]:
    if seen.what is What.OPENED:
        return Step.OPENED.value, seen.number
    if seen.what is What.CLOSED:
        return Step.CLOSED.value, seen.number
    if seen.what is What.HEARD and seen.detail in set(Step):
        return seen.detail, seen.number
    if seen.what is What.COUNT:
        hour = hour_of(seen.detail)
        return ("", None) if hour is None else (count_key(hour), hour)
    at_table = seen.value.startswith(TABLE_PREFIX) or seen.value == OLD_TABLE
    if seen.what is What.RECEIVED and seen.state == "received" and at_table:
        return Step.ARRIVED.value, None
    return "", None


def _word(seen: Observation, key: str, at_min: int | None, *, aside: bool = False) -> Word:
    return Word(
        key=key,
        at_min=at_min,
        utc_ms=seen.utc_ms,
        event=seen.event,
        author=seen.people[0].person,
        means=seen.people[0].means,
        giver=seen.phoned_by,
        read_back=seen.by_phone == "read_back",
        aside=aside or seen.what is What.RECEIVED,
    )
