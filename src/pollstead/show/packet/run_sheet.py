"""The set-up run sheet: steps of the evening before and of the morning, timed back from the doors."""

from __future__ import annotations

from pollstead.election.instants import format_clock
from pollstead.election.station_type import Moment
from pollstead.election.words import N_
from pollstead.plan.terms.version import RunStep, SheetKind
from pollstead.show.cautions import BY_ID as CAUTIONS
from pollstead.show.cautions import Place, for_place
from pollstead.show.packet.common import MOMENTS, tick
from pollstead.show.packet.content import (
    Block,
    Cell,
    Column,
    Heading,
    Mark,
    Table,
    Words,
)
from pollstead.show.packet.draft import Draft, key_for
from pollstead.show.packet.given import SiteGiven
from pollstead.show.packet.wording import days_of

_PARTS_OF_THE_RUN = (Moment.EVENING_BEFORE, Moment.OPENING)


def run_sheet(given: SiteGiven) -> Draft:
    """Set-up steps of the evening before and the morning, with people, minutes and earliest start."""
    say = given.say
    blocks: list[Block] = [say.cautions(Place.RUN)]
    parts = list(dict.fromkeys((*_PARTS_OF_THE_RUN, *(s.when for s in given.site_plan.run_sheet))))
    for part in parts:
        steps = [s for s in given.site_plan.run_sheet if s.when is part]
        if not steps:
            continue
        title = {
            Moment.EVENING_BEFORE: say(N_("The evening before")),
            Moment.OPENING: say(N_("The morning")),
        }.get(part, say(MOMENTS[part]))
        blocks += [
            Heading(words=title),
            Words(words=_when(given, part, steps)),
            _steps_table(given, part, steps),
        ]
    if not given.site_plan.run_sheet:
        blocks.append(Words(words=say(N_("The plan has no set-up steps for this site."))))
    return Draft(
        kind=SheetKind.RUN,
        key=key_for(SheetKind.RUN),
        title=say(N_("Set-up run sheet")),
        about="",
        day="",
        blocks=tuple(blocks),
    )


def _begins(given: SiteGiven, part: Moment, steps: list[RunStep]) -> int | None:
    """The minute of the day at which a part of setting up begins; None for one without clock times.

    The morning begins when the building is open to the crew, or earlier where that is too late for
    the doors; where nobody has told the access, as late as the doors allow.
    """
    if part is not Moment.OPENING:
        return None
    access = given.site.access_from_min
    opens = next((o for _, o, _ in days_of(given.election, given.site.id) if o is not None), None)
    if opens is None:
        return access
    latest = max(0, opens - max(step.ends_min for step in steps))
    return latest if access is None else min(access, latest)


def _when(given: SiteGiven, part: Moment, steps: list[RunStep]) -> str:
    say = given.say
    ends = max(step.ends_min for step in steps)
    people = max(step.people for step in steps)
    words = say(
        N_("{minutes} min from the first step to the last; at least {people} people."),
        minutes=ends,
        people=people,
    )
    begins, access = _begins(given, part, steps), given.site.access_from_min
    if begins is None:
        return words
    if access is None:
        told = say(
            N_("Nobody has told when the building is open to the crew: be in by {clock}."),
            clock=format_clock(begins),
        )
    elif begins < access:
        told = say(
            N_("Be in by {clock}; the building is open to the crew from {access} only: call the office now."),
            clock=format_clock(begins),
            access=format_clock(access),
        )
    else:
        told = say(N_("The building is open to the crew from {access}."), access=format_clock(access))
    return f"{words} {told}"


def _steps_table(given: SiteGiven, part: Moment, steps: list[RunStep]) -> Table:
    say = given.say
    begins = _begins(given, part, steps)
    rows: list[tuple[Cell, ...]] = []
    for step in sorted(steps, key=lambda s: (s.starts_min, s.ends_min)):
        start = f"+{step.starts_min // 60}:{step.starts_min % 60:02d}"
        if begins is not None:
            start = format_clock(begins + step.starts_min)
        name = given.election.station_type(step.station_type).name if step.station_type else ""
        what = f"{name} × {step.times}" if step.times > 1 else name
        words = f"{what}: {step.words}" if what else step.words
        if step.caution:
            words = f"{words}. {_step_caution(given, step.caution)}"
        rows.append(
            (
                Cell(fields=(tick(),)),
                Cell(words=start, strong=step.critical),
                Cell(words=words, strong=step.critical),
                Cell(words=str(step.people)),
                Cell(words=str(step.ends_min - step.starts_min)),
                Cell(
                    words=say(N_("no time to spare")) if step.critical else "",
                    mark=Mark.CRITICAL if step.critical else Mark.NONE,
                ),
            )
        )
    columns = (
        Column(title=say(N_("Done")), width_mm=15),
        Column(title=say(N_("Start")), width_mm=18),
        Column(title=say(N_("Step"))),
        Column(title=say(N_("People")), width_mm=18),
        Column(title=say(N_("Min")), width_mm=14),
        Column(title=say(N_("Mark")), width_mm=28),
    )
    return Table(columns=columns, rows=tuple(rows))


def _step_caution(given: SiteGiven, caution: str) -> str:
    """A step's own caution: the number of its sentence in this sheet's frame, or the sentence itself."""
    say = given.say
    ids = [known.id for known in for_place(Place.RUN)]
    if caution in ids:
        return say(N_("See caution {number}."), number=ids.index(caution) + 1)
    known = CAUTIONS.get(caution)
    return say(N_("Caution: {words}"), words=say(known.words) if known else caution)
