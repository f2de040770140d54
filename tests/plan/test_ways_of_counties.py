"""Station types can say how one county does it, and how another does.

Every way here is common practice, no source; varies by county. Each test plans one way and another one.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import msgspec
import pytest

from pollstead.election.county import Device, Election, Hours, Site
from pollstead.election.rules import CountyRules, RuleSetting
from pollstead.election.station_type import (
    ClockCheck,
    Closure,
    Counter,
    Furniture,
    IdentifiedBy,
    LineKind,
    MemoryDevices,
    Moment,
    NumberPolicy,
    OpeningValue,
    Part,
    Report,
    Service,
    SetUpStep,
    SheetLine,
    SiteKind,
    StationType,
    StationUse,
    SupplyUse,
    VoterStep,
)
from pollstead.plan.seals.expected import expected_list
from pollstead.plan.terms.version import ExpectedItem, PlanVersion, SitePlan

Planner = Callable[..., PlanVersion]
DAY = dt.date(2028, 11, 7)

DESK = StationType(
    id="desk",
    name="Check-in",
    step=VoterStep.CHECK_IN,
    service=Service(mean_ms=60_000),
    parts=(Part(id="case", name="check-in case", identified_by=IdentifiedBy.SERIAL, device_kind="case"),),
    furniture=(Furniture(item="6-ft table"),),
    closures=(Closure(id="latch", name="latch", part="case", seal_kind="tag", seals=2),),
)
MARKER = StationType(
    id="marker",
    name="Marking device",
    step=VoterStep.MARK,
    accessible=True,
    service=Service(mean_ms=300_000),
    parts=(
        Part(id="device", name="device", identified_by=IdentifiedBy.SERIAL, device_kind="marker"),
        Part(
            id="printer",
            name="printer, to the right of the device",
            identified_by=IdentifiedBy.SERIAL,
            device_kind="printer",
        ),
    ),
    furniture=(Furniture(item="5-ft table", stations_per_item=2),),
    closures=(
        Closure(id="door", name="door", part="device", seal_kind="tag", checked=(Moment.OPENING,)),
        Closure(id="tray", name="printer tray", part="printer", seal_kind="tag"),
        Closure(
            id="bin",
            name="bin",
            part="device",
            seal_kind="wire",
            cut=Moment.OPENING,
            resealed=(Moment.OPENING, Moment.CLOSING),
            checked=(Moment.CLOSING,),
        ),
    ),
    counters=(Counter(id="public", name="public counter"),),
    reports=(Report(id="zero", name="zero report", when=Moment.OPENING, zero=True),),
    clock=ClockCheck(reference="check-in", lead_min=5),
    memory_devices=MemoryDevices(count=1, travels=1),
    opening=(
        SheetLine(kind=LineKind.REPORT, ref="zero", words="Print the zero report"),
        SheetLine(kind=LineKind.ACT, words="Take the credential out"),
    ),
    set_up=(
        SetUpStep(id="report", words="Print the report, credential in", minutes=4, after=("phones",)),
        SetUpStep(id="credential", words="Take the credential out", minutes=1, after=("report",)),
        SetUpStep(id="phones", words="Phones on", minutes=1, once_per_site=True),
    ),
    supplies=(SupplyUse(item="privacy panel", per_container=10), SupplyUse(item="padlock", per_container=1)),
    container="cart",
    stations_per_container=8,
)
CASE = StationType(
    id="md-case",
    name="Memory-device case",
    step=VoterStep.NONE,
    parts=(Part(id="case", name="memory-device case"),),
    closures=(Closure(id="zip", name="zip", part="case", seal_kind="tag", seals=2, applied=Moment.CLOSING),),
)


@pytest.fixture
def one_site(plan_of: Planner) -> Callable[..., tuple[SitePlan, tuple[ExpectedItem, ...], PlanVersion]]:
    """One site with 4 check-in stations and 5 marking devices of the given types; its plan and list."""

    def make(
        *, marker: StationType = MARKER, desk: StationType = DESK, cases: int = 1, days: int = 1, day: int = 0
    ) -> tuple[SitePlan, tuple[ExpectedItem, ...], PlanVersion]:
        devices = [
            Device(id=f"device/{kind}/{n}", serial=f"LM-{kind[0].upper()}-{n:04d}", kind=kind, tag=f"tag {n}")
            for kind, count in (("case", 5), ("marker", 7), ("printer", 7))
            for n in range(1, count + 1)
        ]
        hours = tuple(
            Hours(date=DAY - dt.timedelta(days=back), opens_min=420, closes_min=1200)
            for back in reversed(range(days))
        )
        kind = SiteKind(
            id="kind",
            name="Kind",
            uses=(
                StationUse(station_type="desk", fixed=4),
                StationUse(station_type="marker", fixed=5),
                *((StationUse(station_type="md-case", fixed=cases),) if cases else ()),
            ),
        )
        election = Election(
            county="Larkmoor",
            name="Invented",
            election_day=DAY,
            zone_name="America/Chicago",
            rules=CountyRules(settings=(RuleSetting(rule="early-devices", value="stays in use"),)),
            station_types=(desk, marker, CASE),
            site_kinds=(kind,),
            sites=(Site(id="X", name="X", kind="kind", registered=900, hours=hours),),
            devices=tuple(devices),
        )
        version = plan_of(election)
        site = version.site("X")
        return site, expected_list(election, version, "X", hours[day].date).items, version

    return make


Make = Callable[..., tuple[SitePlan, tuple[ExpectedItem, ...], PlanVersion]]


def packed(site: SitePlan) -> dict[str, int]:
    """Quantities by item."""
    return {line.item: line.quantity for line in site.packing}


def need(site: SitePlan, kind: str, moment: Moment) -> int:
    """Seals of a kind at a moment."""
    return sum(n.quantity for n in site.seal_needs if n.seal_kind == kind and n.moment is moment)


def test_two_devices_to_a_table_or_one_to_a_booth(one_site: Make) -> None:
    """Two ballot-marking devices to a 5-ft table; elsewhere each stands in an accessible booth."""
    assert packed(one_site()[0])["5-ft table"] == 3
    booths = msgspec.structs.replace(MARKER, furniture=(Furniture(item="accessible booth"),))
    assert packed(one_site(marker=booths)[0])["accessible booth"] == 5


def test_check_in_on_tables_of_any_length(one_site: Make) -> None:
    """Check-in stands on 6-ft tables; elsewhere two share an 8-ft table."""
    assert packed(one_site()[0])["6-ft table"] == 4
    longer = msgspec.structs.replace(DESK, furniture=(Furniture(item="8-ft table", stations_per_item=2),))
    assert packed(one_site(desk=longer)[0])["8-ft table"] == 2


def test_a_printer_beside_each_device_or_none(one_site: Make) -> None:
    """A printer to the right of each device is a part of the station; a county without has no line for it."""
    assert packed(one_site()[0])["printer, to the right of the device"] == 5
    bare = msgspec.structs.replace(
        MARKER, parts=MARKER.parts[:1], closures=(MARKER.closures[0], MARKER.closures[2])
    )
    site, _, version = one_site(marker=bare)
    assert "printer" not in " ".join(packed(site))
    assert "printer" not in {t.kind for t in version.totals if t.planned}


def test_a_number_on_every_closure_and_printer_or_a_tick(one_site: Make) -> None:
    """Every closure and printer has a recorded number, spares too; elsewhere printers are ticked."""
    site, _, version = one_site()
    assert need(site, "tag", Moment.AFTER_TEST) == 4 * 2 + 5 + 5
    assert {s.kind: len(s.seals) for s in version.spares} == {"case": 2, "marker": 2, "printer": 1}
    tray = msgspec.structs.replace(MARKER.closures[1], number=NumberPolicy.TICKED, checked=(Moment.OPENING,))
    ticked = msgspec.structs.replace(MARKER, closures=(MARKER.closures[0], tray, MARKER.closures[2]))
    items = [i for i in one_site(marker=ticked)[1] if i.subject.endswith("/tray")]
    assert [i.value for i in items] == ["in place"] * 5 and not any(i.private for i in items)


def test_two_seals_on_a_check_in_case_or_one(one_site: Make) -> None:
    """Two recorded seals on each check-in case are two items each; elsewhere one."""
    two = [i for i in one_site()[1] if "/latch" in i.subject]
    latch = msgspec.structs.replace(DESK.closures[0], seals=1)
    one = [
        i for i in one_site(desk=msgspec.structs.replace(DESK, closures=(latch,)))[1] if "/latch" in i.subject
    ]
    assert (len(two), len(one)) == (8, 4)


def test_re_seals_with_or_without_a_number(one_site: Make) -> None:
    """Re-sealed at opening and closing without recording numbers; elsewhere the numbers are recorded."""
    site, items, _ = one_site()
    assert (need(site, "wire", Moment.OPENING), need(site, "wire", Moment.CLOSING)) == (5, 5)
    assert {i.value for i in items if i.subject.endswith("/bin")} == {"in place"}
    kept = msgspec.structs.replace(MARKER.closures[2], resealed_number=NumberPolicy.RECORDED)
    recorded = msgspec.structs.replace(MARKER, closures=(*MARKER.closures[:2], kept))
    again = [i for i in one_site(marker=recorded)[1] if i.subject.endswith("/bin")]
    assert {i.value for i in again} == {"carried over"} and all(i.private for i in again)


def test_a_clock_ahead_or_not(one_site: Make) -> None:
    """The device's clock is 5 minutes ahead of check-in; elsewhere it shows the same time."""
    assert {i.value for i in one_site()[1] if i.what == "clock"} == {"5"}
    level = msgspec.structs.replace(
        MARKER, clock=ClockCheck(reference="check-in", lead_min=0, date_too=False)
    )
    items = one_site(marker=level)[1]
    assert {i.value for i in items if i.what == "clock"} == {"0"}
    assert not any(i.what == "date" for i in items)


def test_zero_before_the_first_opening_or_every_morning(one_site: Make) -> None:
    """Public counter 0 and a zero report before first opening; elsewhere counters are carried over by day."""
    assert {i.value for i in one_site(days=2, day=1)[1] if i.what == "counter"} == {"0"}
    carried = msgspec.structs.replace(
        MARKER, counters=(Counter(id="public", name="public counter", opening=OpeningValue.CARRIED_OVER),)
    )
    first, second = (one_site(marker=carried, days=2, day=day)[1] for day in (0, 1))
    assert {i.value for i in first if i.what == "counter"} == {"0"}
    assert {i.value for i in second if i.what == "counter"} == {"carried over"}
    assert [sum(i.what == "report" for i in items) for items in (first, second)] == [5, 0]


def test_the_credential_stays_in_until_the_report_has_printed_or_there_is_none(one_site: Make) -> None:
    """On the run sheet it comes out after the report of its device; a county without the step has no line."""
    steps = {s.id: s for s in one_site()[0].run_sheet}
    assert steps["marker/credential"].starts_min >= steps["marker/report"].starts_min + 4
    without = msgspec.structs.replace(MARKER, set_up=(MARKER.set_up[0], MARKER.set_up[2]))
    assert "marker/credential" not in {s.id for s in one_site(marker=without)[0].run_sheet}


def test_phones_on_first_or_whenever(one_site: Make) -> None:
    """Phones go on before all else, once for the site; elsewhere nothing waits for them."""
    steps = {s.id: s for s in one_site()[0].run_sheet}
    assert (steps["marker/phones"].starts_min, steps["marker/phones"].times) == (0, 1)
    assert steps["marker/report"].starts_min == 1
    free = tuple(msgspec.structs.replace(s, after=()) if s.id == "report" else s for s in MARKER.set_up)
    again = {s.id: s for s in one_site(marker=msgspec.structs.replace(MARKER, set_up=free))[0].run_sheet}
    assert again["marker/report"].starts_min == 0


@pytest.mark.parametrize("count", [0, 1, 2])
def test_memory_devices_none_one_or_two(one_site: Make, count: int) -> None:
    """One memory device a machine; elsewhere two, or none at all."""
    other = msgspec.structs.replace(MARKER, memory_devices=MemoryDevices(count=count, travels=count))
    items = [i for i in one_site(marker=other)[1] if i.what == "memory device"]
    assert len(items) == 5 * count


def test_a_memory_device_case_with_two_seals_or_no_case(one_site: Make) -> None:
    """One case a site takes two seals at closing; a county without such a case needs none."""
    assert need(one_site()[0], "tag", Moment.CLOSING) == 2
    site = one_site(cases=0)[0]
    assert need(site, "tag", Moment.CLOSING) == 0
    assert "memory-device case" not in packed(site)


def test_carts_with_panels_and_padlocks_or_no_cart_at_all(one_site: Make) -> None:
    """Ten panels and a padlock go with each cart of eight; elsewhere machines come without any cart."""
    found = packed(one_site()[0])
    assert (found["cart"], found["privacy panel"], found["padlock"]) == (1, 10, 1)
    bare = packed(one_site(marker=msgspec.structs.replace(MARKER, container=""))[0])
    assert not {"cart", "privacy panel", "padlock"} & set(bare)


def test_printer_and_device_share_a_tag_or_go_by_serial(one_site: Make) -> None:
    """Printers with the tag of a device stand beside it."""
    stations = [s for s in one_site()[0].stations if s.station_type == "marker"]
    assert [[p.tag for p in s.parts] for s in stations] == [[f"tag {n}"] * 2 for n in range(1, 6)]
