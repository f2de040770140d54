"""A code that was scanned or typed where nothing was asked for: what it may be, by the same costs."""

from __future__ import annotations

from collections.abc import Iterable

from pollstead.election.reading_errors import ErrorKind
from pollstead.election.words import N_, Message, message
from pollstead.reconcile.diagnosis import words
from pollstead.reconcile.diagnosis.costs import Costs
from pollstead.reconcile.diagnosis.diagnose import Asked, Diagnosis, Fits, Hypothesis, ranked
from pollstead.reconcile.diagnosis.edits import align
from pollstead.reconcile.diagnosis.known import Known, KnownNumbers, plain_value


def diagnose_code(
    code: str, near: Iterable[str], known: KnownNumbers, costs: Costs, *, choices: int = 1
) -> Diagnosis:
    """What `code` may be: one of the codes `near` (of `choices`) misread, or another thing's number."""
    read = plain_value(code)
    found = [_near(read, one, costs, choices) for one in dict.fromkeys(near) if plain_value(one) != read]
    things = [one for one in known.with_number(read) if one.what != "counter"]
    to_thing = costs.of(ErrorKind.OTHER_SITE) + costs.among(len(known.all))
    found += [
        Hypothesis(
            fits=Fits.SITE if one.site else Fits.SPARE,
            cost=to_thing,
            thing=one.subject,
            words=(_thing_words(one),),
            known=one,
        )
        for one in things
    ]
    void, series = known.void(read), known.series_of(read)
    number = f"seal/{series[0]}/{read}" if series else f"seal/{read}"
    if void is not None:
        cost = costs.of(ErrorKind.VOIDED) + costs.among(known.void_count)
        found.append(Hypothesis(fits=Fits.VOIDED, cost=cost, thing=number, words=(words.void_words(void),)))
    elif series and not any(one.what == "seal" for one in things):
        cost = costs.of(ErrorKind.SPARE) + costs.among(known.in_stock)
        found.append(Hypothesis(fits=Fits.SPARE, cost=cost, thing=number, words=(words.stock_words(series),)))
    if all(one.edits for one in found):
        cost = costs.of(ErrorKind.UNKNOWN) + len(read) * costs.among(10)
        found.append(Hypothesis(fits=Fits.UNKNOWN, cost=cost, thing="", words=(words.unknown_words(),)))
    return ranked(read, Asked(expected="", what="", subject=""), found, costs)


def diagnose_pair(read: str, wanted: str, costs: Costs) -> tuple[Message, ...]:
    """How one of two readings of the same thing differs from the other, step by step."""
    return tuple(map(words.edit_words, align(plain_value(wanted), plain_value(read), costs).edits))


def _near(read: str, code: str, costs: Costs, choices: int) -> Hypothesis:
    way = align(plain_value(code), read, costs)
    return Hypothesis(
        fits=Fits.TYPO,
        cost=way.cost + costs.among(choices),
        thing=code,
        edits=way.edits,
        words=(message(N_("It is close to {code}."), code=code), *map(words.edit_words, way.edits)),
    )


def _thing_words(one: Known) -> Message:
    if one.site:
        return words.site_words(one)
    return message(N_("It belongs to {words} of {station}."), words=one.words, station=one.station)
