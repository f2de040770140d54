"""One phoned-in call: what its step asks for, what was typed, and the events that it becomes."""

from __future__ import annotations

from typing import Final, cast

import msgspec

from pollstead.election.county import Election
from pollstead.election.instants import parse_hasty_clock
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.plan.terms.version import ExpectedList, SitePlan
from pollstead.reconcile.heard.steps import STEP_WORDS, ExpectedCall, Step, count_key, expected_calls
from pollstead.reconcile.opening.labels import device_label
from pollstead.reconcile.site_balance import counting_devices
from pollstead.record.event import Means, Part
from pollstead.record.event import Person as Hand
from pollstead.record.fold import Fold
from pollstead.record.kinds.body import DayBody
from pollstead.record.kinds.days import CountRead, SiteClosed, SiteOpened
from pollstead.record.kinds.heard import HeardStep, SiteHeard
from pollstead.record.kinds.registry import body_object
from pollstead.show.web.forms import Form
from pollstead.show.web.readings import Asked, Line
from pollstead.show.web.typed import Said, Wrong, read_line

SUFFIX: Final = {Step.OPENED: "open", Step.CLOSED: "close"}
COMPARED: Final = {
    "check_ins": N_("Voters checked in so far"),
    "voters_inside": N_("Voters inside now, between check-in and scanner"),
    "ballots_auxiliary": N_("Ballots in the auxiliary bin, not scanned"),
}
"""What is asked at a count beside the counters where the county compares check-ins with them."""
TOTAL: Final = N_("Public counters, all devices together")


class StepChoice(Value, frozen=True, kw_only=True):
    """A step that a caller may tell: its key, our words, and the hour of a count."""

    key: str
    step: Step
    hour_min: int | None = None

    @property
    def words(self) -> str:
        """The step in our words."""
        return STEP_WORDS[self.step]


class Told(Value, frozen=True, kw_only=True):
    """A number that was told: of which counter (`own_words` where these are ours), and its body."""

    words: str
    own_words: bool
    subject: str
    body: CountRead


class TakenCall(Value, frozen=True, kw_only=True):
    """What a caller told: the step, the minute of the operating day (None for a count), the numbers."""

    choice: StepChoice
    at_min: int | None
    counts: tuple[Told, ...]


def step_choices(expected: tuple[ExpectedCall, ...]) -> tuple[StepChoice, ...]:
    """Every step that can be told, in the order of the day; counts as the county's rules ask for them."""
    hours = tuple(one.hour_min for one in expected if one.hour_min is not None)
    found = []
    for step in Step:
        if step is Step.COUNT:
            found += [StepChoice(key=count_key(hour), step=step, hour_min=hour) for hour in hours]
        else:
            found.append(StepChoice(key=step.value, step=step))
    return tuple(found)


def choices_of(election: Election, plan: SitePlan, date: object) -> tuple[StepChoice, ...]:
    """The steps of one site's day; without hours, all but counts."""
    site = next((one for one in election.sites if one.id == plan.site), None)
    hours = next((h for h in site.hours if h.date == date), None) if site is not None else None
    return step_choices(() if hours is None else expected_calls(hours, election.rules))


def count_lines(
    choice: StepChoice, plan: SitePlan, expected: ExpectedList | None, election: Election
) -> tuple[Line, ...]:
    """The counters that a step asks for: each device's, one total, or none, as the county's rule says."""
    how = election.rules.choice("heard-counters")
    if choice.step is Step.COUNT and choice.hour_min is not None:
        suffix = f"at_{choice.hour_min // 60:02d}{choice.hour_min % 60:02d}"
        # A count without a number would be nothing.
        how = "one total" if how == "none" else how
    else:
        suffix = SUFFIX.get(choice.step, "")
    if not suffix or how == "none":
        return ()
    devices = counting_devices(plan, expected, election)
    site = f"site/{plan.site}"
    if how == "one total":
        lines = [_line(1, TOTAL, site, f"public_counters_{suffix}", own=True)] if devices else []
    else:
        lines = [
            _line(number, device_label(one.id, election), one.id, f"public_counter_{suffix}")
            for number, one in enumerate(devices, start=1)
        ]
    if choice.step is Step.COUNT and election.rules.choice("cross-check-at") != "none":
        lines += [
            _line(number, words, site, f"{term}_{suffix}", own=True)
            for number, (term, words) in enumerate(COMPARED.items(), start=len(lines) + 1)
        ]
    return tuple(lines)


def _line(number: int, words: str, subject: str, term: str, *, own: bool = False) -> Line:
    return Line(
        id=f"count-{number}",
        group="",
        ask=Asked.COUNT,
        words=words,
        own_words=own,
        subject=subject,
        detail=term,
        source="screen",
    )


def read_call(choice: StepChoice, lines: tuple[Line, ...], form: Form) -> tuple[TakenCall, tuple[Wrong, ...]]:
    """What was typed, and all that needs another look; blank counters only where the form says so."""
    faults: list[Wrong] = []
    at_min = None
    if choice.step is not Step.COUNT:
        try:
            at_min = parse_hasty_clock(form.text("at"))
        except ValueError:
            words = message(N_("Type the time like 0702 or 07:02; past midnight like 24:40."))
            faults.append(Wrong(field="at", words=words))
    counts = []
    partial = form.text("partial") == "yes"
    for line in lines:
        if not form.text(line.id) and partial:
            continue
        said = read_line(line, form)
        if isinstance(said, Wrong):
            faults.append(said)
        else:
            counts.append(_told(line, said))
    if choice.step is Step.COUNT and not counts and not faults:
        faults.append(
            Wrong(field=lines[0].id if lines else "caller", words=message(N_("No number was typed.")))
        )
    return TakenCall(choice=choice, at_min=at_min, counts=tuple(counts)), tuple(faults)


def _told(line: Line, said: Said) -> Told:
    body = msgspec.structs.replace(cast(CountRead, said.body), by_phone="read_back")
    return Told(words=line.words, own_words=line.own_words, subject=line.subject, body=body)


class ToWrite(Value, frozen=True, kw_only=True):
    """One event of a call."""

    subject: str
    body: DayBody


def events_of(call: TakenCall, site: str) -> tuple[ToWrite, ...]:
    """The events of a call, the numbers first: a call that stops halfway is asked for again."""
    made = [ToWrite(subject=one.subject, body=one.body) for one in call.counts]
    subject, at_min, step = f"site/{site}", call.at_min, call.choice.step
    if at_min is None:
        return tuple(made)
    body: DayBody
    if step is Step.OPENED:
        body = SiteOpened(at_min=at_min, by_phone="read_back")
    elif step is Step.CLOSED:
        body = SiteClosed(at_min=at_min, by_phone="read_back")
    else:
        body = SiteHeard(step=cast(HeardStep, step.value), at_min=at_min, by_phone="read_back")
    return (*made, ToWrite(subject=subject, body=body))


def written(folded: Fold, one: ToWrite, day: str, giver: str) -> str:
    """The id of the standing event that says the same by phone from the same person; "" where there is none.

    So a form that is sent twice writes once.
    """
    fields = body_object(one.body)
    for fact in folded.of_subject(one.subject):
        if fact.day != day:
            continue
        for reading in fact.current:
            same = all(fields.get(k) == v for k, v in {**fact.key.thawed(), **reading.value.thawed()}.items())
            givers = {p.person for p in reading.people if p.part is Part.GIVER}
            if reading.kind == one.body.kind and reading.by_phone and giver in givers and same:
                return reading.event
    return ""


def giver_of(person: str) -> tuple[Hand, ...]:
    """The caller as a person of an event."""
    return (Hand(person=person, means=Means.NAME_ONLY, part=Part.GIVER),)
