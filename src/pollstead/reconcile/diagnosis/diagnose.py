"""What an entered number most likely is, given what is expected here: explanations ranked by their cost.

A noisy channel: the cost of an explanation is that of the place the number comes from, of choosing one of
the things there, and of the slips from that thing's number to what was read. People look and decide;
nothing is decided by a rank.
"""

from __future__ import annotations

import enum

import msgspec
from rapidfuzz.distance import OSA

from pollstead.election.check_characters import is_right
from pollstead.election.reading_errors import ErrorKind
from pollstead.election.values import Value
from pollstead.election.words import N_, Message
from pollstead.reconcile.diagnosis import words
from pollstead.reconcile.diagnosis.costs import Costs
from pollstead.reconcile.diagnosis.edits import Edit, align
from pollstead.reconcile.diagnosis.known import Known, KnownNumbers, plain_value

MOST_KEPT = 5
"""Explanations kept; the rest is further away."""
TEN_TIMES = 2_303
"""Millinats: an explanation this far behind is ten times less likely."""


class Fits(enum.StrEnum):
    """What an explanation says, in the order in which equal costs are told."""

    MATCH = N_("matched")
    TYPO = N_("misread or mistyped")
    CLOSURE = N_("another closure of this device")
    DEVICE = N_("another device here")
    SITE = N_("another site")
    SPARE = N_("a spare")
    VOIDED = N_("a void seal")
    COUNT = N_("another count")
    UNKNOWN = N_("not known here")


_ORDER = {fits: place for place, fits in enumerate(Fits)}


class Asked(Value, frozen=True, kw_only=True):
    """What was asked for: the expected number ("" where none is known), and the thing it is expected on.

    `owner` is the thing's device, or its station where it has none.
    """

    expected: str
    what: str
    subject: str
    owner: str = ""
    site: str = ""


class Hypothesis(Value, frozen=True, kw_only=True):
    """One explanation: what it says, cost in millinats, the id it points at, the slips, and the words.

    `to_next` is how much more the next one costs, None on the last. `known` is the thing of another number.
    """

    fits: Fits
    cost: int
    thing: str
    words: tuple[Message, ...]
    edits: tuple[Edit, ...] = ()
    known: Known | None = None
    to_next: int | None = None


class Diagnosis(Value, frozen=True, kw_only=True):
    """What was entered beside what is expected, and the explanations, likeliest first.

    The first `tied` are equally likely. `notes` are told whatever is the likeliest: a check character that
    does not fit, or the same number on two things. `twice` are those other things.
    """

    entered: str
    expected: str
    hypotheses: tuple[Hypothesis, ...]
    tied: int = 1
    notes: tuple[Message, ...] = ()
    twice: tuple[Known, ...] = ()

    @property
    def matches(self) -> bool:
        """Whether the number is the expected one."""
        return self.hypotheses[0].fits is Fits.MATCH

    @property
    def likeliest(self) -> tuple[Hypothesis, ...]:
        """The explanations that come first; several where they are tied."""
        return self.hypotheses[: self.tied]

    @property
    def possible(self) -> tuple[Hypothesis, ...]:
        """Those after the likeliest that are less than ten times less likely."""
        most = self.hypotheses[0].cost + TEN_TIMES
        return tuple(one for one in self.hypotheses[self.tied :] if one.cost < most)


def diagnose(
    entered: str, asked: Asked, known: KnownNumbers, costs: Costs, *, readers: int = 1, matched: int = 0
) -> Diagnosis:
    """The explanations of one entered number.

    `readers` people read it independently, each making the same slip; `matched` others read the expected
    number on the same thing, so that another number does not stand there unless they slipped.
    """
    read, wanted = plain_value(entered), plain_value(asked.expected)
    if wanted and read == wanted:
        return _match(read, asked, known)
    misread = known.misread_seal(asked.what, read)
    if misread:
        # Whoever types it is told at once and reads the seal again, so a slip that was kept was made twice.
        readers *= 2
    found: list[Hypothesis] = []
    if wanted:
        way = align(wanted, read, costs)
        found.append(
            Hypothesis(
                fits=Fits.TYPO,
                cost=way.cost * readers,
                thing=asked.subject,
                edits=way.edits,
                words=tuple(map(words.edit_words, way.edits)),
            )
        )
    # Where others read the expected number, a thing with another number stands there only if they slipped.
    against = align(read, wanted, costs).cost * matched if matched and wanted else 0
    if asked.what == "counter":
        found.append(_other_count(read, wanted, costs, against))
    else:
        found += _other_things(read, asked, known, costs, readers, against)
    told = ranked(read, asked, found, costs)
    if known.has_check_character(asked.what) and not is_right(read):
        return msgspec.structs.replace(told, notes=(words.check_words(),))
    if misread:
        return msgspec.structs.replace(told, notes=(words.seal_check_words(),))
    return told


def ranked(read: str, asked: Asked, found: list[Hypothesis], costs: Costs) -> Diagnosis:
    """The explanations found (at least one), likeliest first; equal costs always in the same order."""
    best = sorted(found, key=lambda one: (one.cost, _ORDER[one.fits], one.thing, one.edits != ()))[:MOST_KEPT]
    tied = sum(1 for one in best if one.cost - best[0].cost <= costs.of(ErrorKind.TIE))
    return Diagnosis(
        entered=read, expected=plain_value(asked.expected), hypotheses=_with_next(best), tied=tied
    )


def _match(read: str, asked: Asked, known: KnownNumbers) -> Diagnosis:
    twice = tuple(
        one
        for one in known.with_number(read)
        if one.subject != asked.subject and "counter" not in (one.what, asked.what)
    )
    notes = [words.twice_words(one, here=asked.site) for one in twice]
    series = known.series_of(read) if asked.what == "seal" else ()
    if len(series) > 1:
        notes.append(words.two_series_words(series))
    same = Hypothesis(fits=Fits.MATCH, cost=0, thing=asked.subject, words=())
    return Diagnosis(entered=read, expected=read, hypotheses=(same,), notes=tuple(notes), twice=twice)


def _other_count(read: str, wanted: str, costs: Costs, against: int) -> Hypothesis:
    """A counter truly elsewhere: dearer with the size of the difference."""
    cost = costs.of(ErrorKind.OTHER_COUNT) + against
    if not (read.isdecimal() and wanted.isdecimal()):
        return Hypothesis(fits=Fits.UNKNOWN, cost=cost, thing="", words=(words.no_count_words(),))
    difference = int(read) - int(wanted)
    return Hypothesis(
        fits=Fits.COUNT,
        cost=cost + costs.among(1 + abs(difference)),
        thing="",
        words=(words.count_words(difference),),
    )


def _other_things(
    read: str, asked: Asked, known: KnownNumbers, costs: Costs, readers: int, against: int
) -> list[Hypothesis]:
    mine = [one for one in known.at(asked.site) if one.what != "counter"] if asked.site else []
    others = [one for one in mine if _is_other(one, asked)]
    same = [one for one in others if asked.owner and one.owner == asked.owner]
    rest = [one for one in others if not asked.owner or one.owner != asked.owner]
    found = _near(read, same, Fits.CLOSURE, ErrorKind.OTHER_CLOSURE, costs, readers)
    found += _near(read, rest, Fits.DEVICE, ErrorKind.OTHER_DEVICE, costs, readers)
    far = [one for one in known.with_number(read) if _is_other(one, asked) and one.what != "counter"]
    nowhere = len(known.at(""))
    at_sites = len(known.all) - len(mine) - nowhere
    to_site = costs.of(ErrorKind.OTHER_SITE) + costs.among(at_sites) + against
    to_spare = costs.of(ErrorKind.SPARE) + costs.among(nowhere + known.in_stock) + against
    found += [
        _of(Fits.SITE, to_site, one, words.site_words(one)) for one in far if one.site not in ("", asked.site)
    ]
    found += [_of(Fits.SPARE, to_spare, one, words.spare_words(one)) for one in far if not one.site]
    void, series = known.void(read), known.series_of(read)
    number = f"seal/{series[0]}/{read}" if series else f"seal/{read}"
    if void is not None:
        cost = costs.of(ErrorKind.VOIDED) + costs.among(known.void_count) + against
        found.append(Hypothesis(fits=Fits.VOIDED, cost=cost, thing=number, words=(words.void_words(void),)))
    elif series and not any(one.what == "seal" for one in known.with_number(read)):
        found.append(
            Hypothesis(fits=Fits.SPARE, cost=to_spare, thing=number, words=(words.stock_words(series),))
        )
    if all(one.edits for one in found):
        # Nothing has the number as it was read: each character is as good as ten others.
        cost = costs.of(ErrorKind.UNKNOWN) + len(read) * costs.among(10) + against
        found.append(Hypothesis(fits=Fits.UNKNOWN, cost=cost, thing="", words=(words.unknown_words(),)))
    return found


def _is_other(one: Known, asked: Asked) -> bool:
    mine = (one.subject, one.what, one.site) == (asked.subject, asked.what, asked.site)
    return not mine and plain_value(one.number) != plain_value(asked.expected)


_WORDS = {Fits.CLOSURE: words.closure_words, Fits.DEVICE: words.device_words}


def _near(
    read: str, things: list[Known], fits: Fits, kind: ErrorKind, costs: Costs, readers: int
) -> list[Hypothesis]:
    """The things whose number was read as it stands or with one slip (unit optimal string alignment)."""
    place = costs.of(kind) + costs.among(len(things))
    found = []
    for one in things:
        number = plain_value(one.number)
        if OSA.distance(number, read, score_cutoff=1) > 1:
            continue
        way = align(number, read, costs)
        said: tuple[Message, ...] = (_WORDS[fits](one),)
        if way.edits:
            said += (words.near_words(), *map(words.edit_words, way.edits))
        found.append(
            Hypothesis(
                fits=fits,
                cost=place + way.cost * readers,
                thing=one.subject,
                edits=way.edits,
                words=said,
                known=one,
            )
        )
    return found


def _of(fits: Fits, cost: int, one: Known, said: Message) -> Hypothesis:
    return Hypothesis(fits=fits, cost=cost, thing=one.subject, words=(said,), known=one)


def _with_next(best: list[Hypothesis]) -> tuple[Hypothesis, ...]:
    costs = [one.cost for one in best]
    return tuple(
        msgspec.structs.replace(one, to_next=costs[at + 1] - one.cost if at + 1 < len(costs) else None)
        for at, one in enumerate(best)
    )
