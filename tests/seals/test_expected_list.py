"""The expected list of a site and day: order of hands, values, privacy, second person, later days."""

from __future__ import annotations

import datetime as dt

import msgspec
import pytest

from pollstead.election.county import Election, Site
from pollstead.election.rules import CountyRules, RuleSetting
from pollstead.election.station_type import (
    ClockCheck,
    Closure,
    Counter,
    EntryPolicy,
    IdentifiedBy,
    LineKind,
    MemoryDevices,
    Moment,
    NumberPolicy,
    OpeningValue,
    Part,
    Report,
    SheetLine,
    StationType,
    VoterStep,
)
from pollstead.plan.seals.expected import expected_list
from pollstead.plan.terms.demand import QuantileRow, SiteDayDemand
from pollstead.plan.terms.part import Effort
from pollstead.plan.terms.version import (
    CARRIED_OVER,
    ExpectedItem,
    ExpectedSeal,
    PartOfStation,
    PlanVersion,
    SitePlan,
    Station,
)

DAYS = tuple(dt.date(2028, 11, day) for day in (5, 6, 7))
LID = Closure(
    id="lid",
    name="lid",
    part="m",
    seal_kind="tag",
    checked=(Moment.OPENING,),
    cut=Moment.OPENING,
    resealed=(Moment.CLOSING,),
    resealed_number=NumberPolicy.RECORDED,
)
DOOR = Closure(id="door", name="door", part="m", seal_kind="tag", checked=(Moment.OPENING, Moment.CLOSING))
MACHINE = StationType(
    id="machine",
    name="Machine",
    step=VoterStep.CAST,
    parts=(Part(id="m", name="machine", identified_by=IdentifiedBy.SERIAL, device_kind="machine"),),
    closures=(LID, DOOR),
    counters=(
        Counter(id="public", name="public counter", opening=OpeningValue.CARRIED_OVER),
        Counter(id="lifetime", name="lifetime counter", opening=OpeningValue.LAST_RECORDED),
    ),
    reports=(Report(id="zero", name="zero report", when=Moment.OPENING, zero=True),),
    clock=ClockCheck(reference="check-in clock", lead_min=5, tolerance_min=1),
    memory_devices=MemoryDevices(count=2, travels=1),
    opening=(
        SheetLine(kind=LineKind.CLOSURE, ref="door", words="door"),
        SheetLine(kind=LineKind.SERIAL, ref="m", words="serial"),
        SheetLine(kind=LineKind.ACT, words="turn it on"),
        SheetLine(kind=LineKind.CLOCK, words="clock", second_person=True),
        SheetLine(kind=LineKind.CLOSURE, ref="lid", words="lid"),
    ),
)
NOTHING_SET = CountyRules()


def expected(
    day: int = 0, *, of: StationType = MACHINE, rules: CountyRules = NOTHING_SET, days: int = 3
) -> tuple[ExpectedItem, ...]:
    """The expected list of a site with one machine, open so many days."""
    seals = tuple(
        ExpectedSeal(
            closure=f"closure/machine/7/{closure.id}",
            name=closure.name,
            position=position,
            seal_kind=closure.seal_kind,
            number_policy=closure.number,
            entry=closure.entry,
            applied=closure.applied,
            checked=closure.checked,
            cut=closure.cut,
            number=f"T-{closure.id}-{position}" if closure.number is NumberPolicy.RECORDED else "",
        )
        for closure in of.closures
        for position in range(1, closure.seals + 1)
    )
    machine = PartOfStation(
        part="m",
        name="machine",
        quantity=1,
        device="device/machine/7",
        serial="LM-7",
        lifetime_counter=1042,
        memory_devices=("LM-MD-1",),
        by_serial=True,
    )
    station = Station(
        id="station/X/machine/1", station_type="machine", number=1, parts=(machine,), seals=seals
    )
    row = QuantileRow(p10=1, p50=2, p90=3)
    plan = SitePlan(
        site="X",
        name="X",
        kind="k",
        demand=tuple(
            SiteDayDemand(site="X", date=d, opens_min=420, closes_min=1200, voters=row, slots=())
            for d in DAYS[:days]
        ),
        counts=(),
        waits=None,
        stations=(station,),
    )
    version = PlanVersion(snapshot="", decisions="", seed=1, effort=Effort.QUICK, engines=(), sites=(plan,))
    election = Election(
        county="Larkmoor",
        name="Invented",
        election_day=DAYS[-1],
        zone_name="America/Chicago",
        rules=rules,
        station_types=(of,),
        sites=(Site(id="X", name="X"),),
    )
    return expected_list(election, version, "X", DAYS[day]).items


def values(items: tuple[ExpectedItem, ...], moment: Moment = Moment.OPENING) -> dict[str, str]:
    """Values by subject at one moment."""
    return {item.subject: item.value for item in items if item.moment is moment}


def test_items_come_in_the_order_of_the_sheet_then_the_rest() -> None:
    """Door, serial, clock and date, lid as the sheet's lines go; then what no line asks for."""
    order = [item.what for item in expected() if item.moment is Moment.OPENING]
    assert order == [
        "seal", "serial", "clock", "date", "seal", "counter", "counter", "report",
        "memory device", "memory device",
    ]  # fmt: skip


def test_first_opening_is_zero_and_the_lifetime_is_what_was_last_recorded() -> None:
    """Public counter 0 and a zero report before first opening (VVSG 2.0, 1.1.3-B: from memory)."""
    found = values(expected())
    assert found["device/machine/7/public"] == "0"
    assert found["device/machine/7/lifetime"] == "1042"
    assert found["device/machine/7/zero"] == "zero"
    assert found["station/X/machine/1/m"] == "LM-7"


def test_later_days_carry_over() -> None:
    """On day 2 counters are as the record last says, there is no zero report, and the night's seal counts."""
    found = values(expected(1))
    assert found["device/machine/7/public"] == CARRIED_OVER
    assert found["device/machine/7/lifetime"] == CARRIED_OVER
    assert "device/machine/7/zero" not in found
    assert found["closure/machine/7/lid"] == CARRIED_OVER
    assert found["closure/machine/7/door"] == "T-door-1"


def test_counters_zeroed_each_day_are_zero_each_day() -> None:
    """A county whose counter starts at 0 every morning has its zero report every morning."""
    counters = (Counter(id="public", name="public counter"),)
    found = values(expected(2, of=msgspec.structs.replace(MACHINE, counters=counters)))
    assert found["device/machine/7/public"] == "0"
    assert found["device/machine/7/zero"] == "zero"


def test_a_seal_that_is_not_there_is_not_expected() -> None:
    """A lid cut at opening is not looked for at closing; a door never cut is, with its number of the test."""
    lid = msgspec.structs.replace(LID, checked=(Moment.OPENING, Moment.CLOSING))
    found = values(expected(of=msgspec.structs.replace(MACHINE, closures=(lid, DOOR))), Moment.CLOSING)
    assert found == {"closure/machine/7/door": "T-door-1"}


def test_a_re_seal_that_is_only_ticked_must_be_there() -> None:
    """Re-sealed at closing, number not recorded (common practice, no source; varies by county)."""
    lid = msgspec.structs.replace(LID, resealed_number=NumberPolicy.TICKED)
    items = expected(1, of=msgspec.structs.replace(MACHINE, closures=(lid, DOOR)))
    [seal] = [i for i in items if i.subject == "closure/machine/7/lid"]
    assert (seal.value, seal.private, seal.entry) == ("in place", False, EntryPolicy.COMPARED)


@pytest.mark.parametrize(("lead", "tolerance"), [(5, 1), (0, 2)])
def test_the_clock_has_its_lead_and_tolerance(lead: int, tolerance: int) -> None:
    """5 minutes ahead of check-in or 0: both are values of a field (common practice, no source; varies)."""
    of = msgspec.structs.replace(
        MACHINE, clock=ClockCheck(reference="site clock", lead_min=lead, tolerance_min=tolerance)
    )
    [clock] = [i for i in expected(of=of) if i.what == "clock"]
    assert (clock.value, clock.tolerance) == (str(lead), tolerance)


def test_seal_numbers_are_private_and_nothing_else_is() -> None:
    """Numbers of seals never stand in a signed field before opening."""
    assert {i.what for i in expected() if i.private} == {"seal"}
    assert all(i.private for i in expected() if i.what == "seal")


def test_a_second_person_is_asked_where_the_sheet_or_the_rules_say() -> None:
    """A county that has set nothing is asked by its sheets alone; with the rule every opening item."""
    assert {i.what for i in expected() if i.second_person} == {"clock", "date"}
    rule = CountyRules(
        settings=(
            RuleSetting(rule="second-person-at-opening", value="yes"),
            RuleSetting(rule="second-person-at-closing", value="no"),
        )
    )
    asked = {(i.moment, i.second_person) for i in expected(rules=rule)}
    assert asked == {(Moment.OPENING, True), (Moment.CLOSING, False)}


@pytest.mark.parametrize("count", [0, 1, 2])
def test_each_memory_device_is_expected(count: int) -> None:
    """None, one or two memory devices a machine; one whose number is not known stays empty."""
    of = msgspec.structs.replace(MACHINE, memory_devices=MemoryDevices(count=count, travels=min(count, 1)))
    found = [i.value for i in expected(of=of) if i.what == "memory device"]
    assert found == ["LM-MD-1", ""][:count]


def test_two_seals_on_one_closure_are_two_items() -> None:
    """The second position has a subject of its own."""
    two = msgspec.structs.replace(DOOR, seals=2)
    found = values(expected(of=msgspec.structs.replace(MACHINE, closures=(two, LID))))
    assert found["closure/machine/7/door"] == "T-door-1"
    assert found["closure/machine/7/door/2"] == "T-door-2"


def test_every_subject_is_there_once_a_moment() -> None:
    """No two items of one moment speak about the same subject."""
    for day in range(3):
        keys = [(i.moment, i.what, i.subject) for i in expected(day)]
        assert len(keys) == len(set(keys))


def test_a_date_on_which_the_site_is_closed_is_refused() -> None:
    """The message names the site, the date and the days on which it is open."""
    with pytest.raises(ValueError, match=r"'X' is open on 2028-11-05.*2028-11-07"):
        expected(2, days=2)
