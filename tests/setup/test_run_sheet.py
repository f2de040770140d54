"""The run sheet of a site from the set-up steps of its station types."""

from __future__ import annotations

import msgspec

from pollstead.election.rules import CountyRules
from pollstead.election.station_type import Moment, SetUpStep, StationType, VoterStep
from pollstead.plan.setup import run
from pollstead.plan.setup.run_sheet import ASSUMED_CREW, minutes_of
from pollstead.plan.terms.part import Effort, NoWatch, Outcome
from pollstead.plan.terms.stations import RunSheetGiven, RunSheetSite, SiteRunSheet
from pollstead.plan.terms.version import StageCount

TABLES = SetUpStep(id="tables", words="Place the tables", minutes=5, people=2, when=Moment.EVENING_BEFORE)
UNPACK = SetUpStep(id="unpack", words="Unpack and plug in", minutes=6, after=("tables",))
LIGHTS = SetUpStep(id="phone", words="Turn the phones on", minutes=1, once_per_site=True)
START = SetUpStep(id="start", words="Turn it on", minutes=4, after=("unpack", "desk/phone"))
DESK = StationType(id="desk", name="Desk", step=VoterStep.CHECK_IN, set_up=(TABLES, UNPACK, LIGHTS))
READER = StationType(
    id="reader",
    name="Reader",
    step=VoterStep.CAST,
    set_up=(SetUpStep(id="unpack", words="Unpack it", minutes=3), START),
)


def sheet(*types: StationType, desks: int = 3, **site: int | None) -> Outcome[tuple[SiteRunSheet, ...]]:
    """The run sheet of one site with so many stations of the first type and one of each other."""
    counts = tuple(
        StageCount(station_type=t.id, step="", count=desks if index == 0 else 1)
        for index, t in enumerate(types)
    )
    given = RunSheetGiven(
        sites=(RunSheetSite(site="X", counts=counts, **site),),  # type: ignore[arg-type]
        station_types=types,
    )
    return run(given, CountyRules(), 0, Effort.QUICK, NoWatch())


def test_evening_and_morning_are_apart() -> None:
    """Each part begins at minute 0; what was done the evening before holds nothing up in the morning."""
    steps = {s.id: s for s in sheet(DESK, crew=4).value[0].steps}
    assert steps["desk/tables"].when is Moment.EVENING_BEFORE
    assert (steps["desk/tables"].starts_min, steps["desk/tables"].ends_min) == (0, 10)
    assert (steps["desk/unpack"].starts_min, steps["desk/unpack"].ends_min) == (0, 6)


def test_twice_the_crew_halves_a_part_that_can_be_shared() -> None:
    """Six desks of six minutes take two people 18 minutes and six people 6."""
    alone = msgspec.structs.replace(DESK, set_up=(msgspec.structs.replace(UNPACK, after=()),))
    few, many = (sheet(alone, desks=6, crew=crew).value[0].steps for crew in (2, 6))
    assert (minutes_of(few, Moment.OPENING), minutes_of(many, Moment.OPENING)) == (18, 6)


def test_a_step_once_a_site_is_done_once() -> None:
    """Phones go on once, however many desks there are (common practice, no source; varies by county)."""
    steps = {s.id: s for s in sheet(DESK, desks=7, crew=9).value[0].steps}
    assert steps["desk/phone"].times == 1
    assert steps["desk/unpack"].times == 7


def test_a_step_may_wait_for_another_type() -> None:
    """A reader is turned on only after the phones are, a step of another station type."""
    steps = {s.id: s for s in sheet(DESK, READER, crew=9).value[0].steps}
    assert steps["reader/start"].starts_min == max(
        steps["desk/phone"].ends_min, steps["reader/unpack"].ends_min
    )


def test_an_unknown_crew_is_assumed_and_said() -> None:
    """Without named people the sheet is made for the assumed crew, and the reason says that it is."""
    outcome = sheet(DESK)
    assert outcome.value[0].crew == ASSUMED_CREW
    assert outcome.reasons[0].figures[0].source == "assumed"


def test_the_most_people_at_once_is_told() -> None:
    """Three desks of two people each: six at once where eight are there, and never more than the crew."""
    for crew, most in ((8, "6"), (4, "4")):
        evening = sheet(DESK, crew=crew).reasons[0]
        assert [f.value for f in evening.figures if "at once" in f.name] == [most]


def test_a_building_that_opens_too_late_is_an_open_item() -> None:
    """Access at 06:50 for a set-up of six minutes before 06:55 is one open item; 06:49 is none."""
    late = sheet(DESK, desks=1, opens_min=415, access_from_min=410)
    assert [n.rule for n in late.notices] == ["set-up-time"]
    assert late.notices[0].wanted == "06:49"
    assert sheet(DESK, desks=1, opens_min=415, access_from_min=409).notices == ()


def test_steps_that_wait_for_one_another_are_an_open_item() -> None:
    """A circle in a county's table gives no run sheet for the site and a notice that names it."""
    circle = msgspec.structs.replace(
        DESK,
        set_up=(
            SetUpStep(id="a", words="A", minutes=1, after=("b",)),
            SetUpStep(id="b", words="B", minutes=1, after=("a",)),
        ),
    )
    outcome = sheet(circle)
    assert outcome.value[0].steps == ()
    assert [n.rule for n in outcome.notices] == ["set-up-circle"]


def test_the_printed_times_are_recomputed_from_the_figures() -> None:
    """The reason's minutes are the latest end among its own figures."""
    for reason in sheet(DESK, READER, crew=2).reasons:
        told = next(p.value for p in reason.text.params if p.name == "minutes")
        assert told == max(int(f.value.split("-")[1]) for f in reason.figures[2:])
