"""Compare one expected list with what was observed: a state for each item, nothing left out.

An item's state comes from all its standing readings together. Readings that were corrected stay in
the result beside what replaced them. What no item asks for comes out too.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from pollstead.election.station_type import Moment
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.plan.terms.version import CARRIED_OVER, ExpectedItem, ExpectedList
from pollstead.reconcile.diagnosis.diagnose import Asked, Diagnosis, diagnose
from pollstead.reconcile.diagnosis.known import plain_value
from pollstead.reconcile.observed import Observation, What
from pollstead.reconcile.opening.matching import (
    IN_PLACE,
    PUT_ON_STEPS,
    Answer,
    Wanted,
    answer_of,
    owner_of,
    plain_word,
    speaks_of,
    wanted_of,
)
from pollstead.reconcile.opening.states import ItemResult, ItemState
from pollstead.reconcile.opening.view import COMPARED_BY_VALUE, DayView, in_order


class Compared(Value, frozen=True, kw_only=True):
    """The results of one list, and the observations that are records only (nothing to compare with)."""

    results: tuple[ItemResult, ...]
    recorded: tuple[Observation, ...]


def compare_list(site: str, expected: ExpectedList | None, view: DayView) -> Compared:
    """Every item of the site's list, and every thing seen there on that day that no item asks for.

    Without a list (none issued) what was seen is ``unknown``. Counts other than those the list asks
    for belong to the balance and come out as records, as do seals that were put on.
    """
    used: set[str] = set()
    results: list[ItemResult] = []
    items = () if expected is None else expected.items
    twins = _twins(items)
    for item in items:
        near = view.at_site(site, (item.subject, owner_of(item)))
        answering = tuple(o for o in near if speaks_of(item, o) and _meant(item, o, twins))
        used.update(o.event for o in answering)
        earlier = view.standing((item.subject, owner_of(item))) if item.value == CARRIED_OVER else ()
        results.append(_item_result(item, answering, wanted_of(item, view.date, earlier), view))
    recorded: list[Observation] = []
    for group in _by_thing(o for o in view.of_the_day(site) if o.event not in used):
        result = _unasked(site, group, expected, view)
        if result is None:
            recorded.extend(group)
        else:
            results.append(result)
    return Compared(results=tuple(results), recorded=tuple(sorted(recorded, key=in_order)))


def _twins(items: tuple[ExpectedItem, ...]) -> dict[tuple[str, str, Moment], tuple[str, ...]]:
    """Serials expected of one subject at one moment, where there are two: a device was swapped that day."""
    found: dict[tuple[str, str, Moment], list[str]] = defaultdict(list)
    for item in items:
        if item.what == "serial":
            found[(item.subject, item.what, item.moment)].append(item.value)
    return {key: tuple(values) for key, values in found.items() if len(values) > 1}


def _meant(
    item: ExpectedItem, seen: Observation, twins: dict[tuple[str, str, Moment], tuple[str, ...]]
) -> bool:
    """Whether a reading is of this item, where a swap left two: that of its serial, else the later."""
    values = twins.get((item.subject, item.what, item.moment))
    if values is None:
        return True
    return seen.value == item.value if seen.value in values else item.value == values[-1]


def _by_thing(observations: Iterable[Observation]) -> list[tuple[Observation, ...]]:
    """Observations of one thing at one step together, so that a correction stays with what it corrects."""
    groups: dict[tuple[str, str, str], list[Observation]] = defaultdict(list)
    for seen in observations:
        groups[(seen.what.value, seen.subject, seen.detail)].append(seen)
    return [tuple(groups[key]) for key in sorted(groups)]


def _item_result(
    item: ExpectedItem,
    answering: tuple[Observation, ...],
    wanted: Wanted,
    view: DayView,
) -> ItemResult:
    standing = tuple(o for o in answering if o.stands)
    answers = tuple(answer_of(item, wanted, o, view.election, view.date) for o in standing)
    people = tuple(dict.fromkeys(p for o in standing for p in o.entered_by))
    values = tuple(dict.fromkeys(a.shown for a in answers if a.shown))
    state, explanation = _state(item, standing, answers, people, wanted, view)
    return ItemResult(
        state=state,
        what=item.what,
        moment=item.moment,
        subject=item.subject,
        station=item.station,
        device=item.device,
        words=item.words,
        item=item,
        expected=wanted.value,
        expected_from=wanted.source,
        values=values,
        people=people,
        observations=answering,
        explanation=explanation,
        diagnoses=_diagnoses(item, standing, answers, wanted, view),
    )


def _diagnoses(
    item: ExpectedItem,
    standing: tuple[Observation, ...],
    answers: tuple[Answer, ...],
    wanted: Wanted,
    view: DayView,
) -> tuple[Diagnosis, ...]:
    """What each value that differs most likely is; for a match, whether other things have its number too."""
    if not wanted.value or wanted.value == IN_PLACE or item.what not in (*COMPARED_BY_VALUE, "counter"):
        return ()
    readers: dict[str, set[str]] = defaultdict(set)
    for seen, answer in zip(standing, answers, strict=True):
        value = answer.shown if item.what == "counter" else plain_value(seen.value)
        if value:
            readers[value].update(seen.entered_by)
    right = plain_value(wanted.value)
    matched = len(readers.pop(right, set()))
    site = standing[0].site if standing else ""
    owner = item.device or item.station
    asked = Asked(expected=right, what=item.what, subject=item.subject, owner=owner, site=site)
    found = [
        diagnose(value, asked, view.known, view.costs, readers=max(1, len(people)), matched=matched)
        for value, people in readers.items()
    ]
    if matched and not readers and right in view.places.doubled:
        found.append(diagnose(right, asked, view.known, view.costs))
    return tuple(found)


def _state(
    item: ExpectedItem,
    standing: tuple[Observation, ...],
    answers: tuple[Answer, ...],
    people: tuple[str, ...],
    wanted: Wanted,
    view: DayView,
) -> tuple[ItemState, Message | None]:
    if not standing:
        return ItemState.NOT_SEEN, None
    wrong = [a for a in answers if a.matches is False]
    if wrong:
        if any(a.matches for a in answers):
            return ItemState.VALUE_DIFFERS, message(N_("Two readings differ; one of them matches."))
        found = wrong[0]
        if found.explanation is not None:
            return ItemState.VALUE_DIFFERS, found.explanation
        return ItemState.VALUE_DIFFERS, _counter_words(item, wanted, found)
    if any(a.matches is None for a in answers):
        return ItemState.UNKNOWN, _unknown_words(wanted)
    if item.what in COMPARED_BY_VALUE and answers[0].shown:
        also = view.places.also_seen(item.what, answers[0].shown, item.subject)
        if also:
            return ItemState.SEEN_TWICE, _also_at(item.what, also)
    if item.second_person and len(people) < 2:
        return ItemState.WAITING, None
    return ItemState.MATCH, None


def _also_at(what: str, places: tuple[str, ...]) -> Message:
    """Where the value was seen as well; two orders may hold one seal number, so kind and series are asked."""
    template = N_("The same value was also seen at {places}.")
    if what == "seal":
        template = N_("The same value was also seen at {places}. Write down kind and series of both seals.")
    return message(template, places=", ".join(places))


def _counter_words(item: ExpectedItem, wanted: Wanted, found: Answer) -> Message | None:
    if item.what != "counter" or not (found.shown.isdigit() and wanted.value.isdigit()):
        return None
    return message(
        N_("The counter differs by {difference}."), difference=int(found.shown) - int(wanted.value)
    )


def _unknown_words(wanted: Wanted) -> Message:
    if wanted.value:
        return message(N_("The number that was read is not given here."))
    return message(N_("The expected value is not known; what was read is kept."))


def _unasked(
    site: str,
    group: tuple[Observation, ...],
    expected: ExpectedList | None,
    view: DayView,
) -> ItemResult | None:
    """What was seen although no item asks for it; None where it is a record only."""
    first = group[0]
    what = {What.SERIAL: "serial", What.SEAL: "seal", What.CLOCK: "clock"}.get(first.what)
    if what is None or (what == "seal" and _is_put_on(first, view)):
        return None
    standing = tuple(o for o in group if o.stands)
    if not standing:
        return None
    values = tuple(dict.fromkeys(o.value for o in standing if o.value))
    moment = Moment.OPENING
    if what == "seal":
        moment = next((m for m in Moment if plain_word(m.value) == plain_word(first.detail)), Moment.DURING)
    state, text = ItemState.NOT_EXPECTED, None
    diagnoses: tuple[Diagnosis, ...] = ()
    if expected is None:
        state = ItemState.UNKNOWN
        text = message(N_("No expected list has been issued for this site and day."))
    elif values:
        asked = Asked(expected="", what=what, subject=first.subject, site=site)
        if what in COMPARED_BY_VALUE:
            diagnoses = tuple(diagnose(value, asked, view.known, view.costs) for value in values)
        elsewhere = view.places.also_seen(what, values[0], first.subject) if what in COMPARED_BY_VALUE else ()
        if elsewhere:
            state = ItemState.SEEN_TWICE
            text = _also_at(what, elsewhere)
    return ItemResult(
        state=state,
        what=what,
        moment=moment,
        subject=first.subject,
        station="",
        device=first.subject if first.subject.startswith("device/") else "",
        words=what,
        values=values,
        people=tuple(dict.fromkeys(p for o in standing for p in o.entered_by)),
        observations=group,
        explanation=text,
        diagnoses=diagnoses,
    )


def _is_put_on(seen: Observation, view: DayView) -> bool:
    """Whether a reading says that a seal was put on: by its step, or because the closure gets it then."""
    step = plain_word(seen.detail)
    if step in PUT_ON_STEPS or step not in {plain_word(m.value) for m in Moment}:
        return True
    parts = seen.subject.split("/")
    closure_ids = {parts[-1], parts[-2]} if len(parts) > 1 else {parts[-1]}
    return any(
        closure.id in closure_ids
        and step in {plain_word(m.value) for m in (closure.applied, *closure.resealed)}
        and step not in {plain_word(m.value) for m in closure.checked}
        for station_type in view.election.station_types
        for closure in station_type.closures
    )
