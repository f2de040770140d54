"""Who gets which machine: order of claims, order of numbers, and what happens when machines are short."""

from __future__ import annotations

from collections import Counter
from typing import Any

import msgspec
from hypothesis import given
from hypothesis import strategies as st

from pollstead.election.county import Device, FleetTotal
from pollstead.election.rules import CountyRules, RuleSetting
from pollstead.election.station_type import DeviceOrder, IdentifiedBy, Part, StationType, VoterStep
from pollstead.plan.stations import run
from pollstead.plan.stations.order import reading_key
from pollstead.plan.terms.part import Effort, NoWatch, Outcome
from pollstead.plan.terms.stations import SiteCounts, StandsAt, StationsAnswer, StationsGiven
from pollstead.plan.terms.version import PartOfStation, StageCount

MARKER = StationType(
    id="marker",
    name="Marker",
    step=VoterStep.MARK,
    parts=(
        Part(id="m", name="marker", identified_by=IdentifiedBy.SERIAL, device_kind="marker"),
        Part(id="p", name="printer", identified_by=IdentifiedBy.SERIAL, device_kind="printer"),
        Part(id="panel", name="panel", per_station=2),
    ),
)
NO_SPARES = CountyRules(settings=(RuleSetting(rule="spare-share", value=0),))


def device(serial: str, kind: str = "marker", **more: Any) -> Device:
    """A device of the fleet with the serial as its id."""
    return Device(id=f"device/{kind}/{serial}", serial=serial, kind=kind, **more)


def stations(
    counts: dict[str, int],
    devices: tuple[Device, ...],
    *,
    of: StationType = MARKER,
    totals: tuple[FleetTotal, ...] = (),
    previous: tuple[StandsAt, ...] = (),
    rules: CountyRules = NO_SPARES,
) -> Outcome[StationsAnswer]:
    """Stations of one type at each site."""
    given_sites = tuple(
        SiteCounts(site=s, key=s, counts=(StageCount(station_type=of.id, step="mark", count=n),))
        for s, n in counts.items()
    )
    given = StationsGiven(
        sites=given_sites, station_types=(of,), devices=devices, fleet_totals=totals, previous=previous
    )
    return run(given, rules, 0, Effort.QUICK, NoWatch())


def held(outcome: Outcome[StationsAnswer], site: str, part: str = "m") -> list[PartOfStation]:
    """The parts of one name at a site, in the order of the stations."""
    [found] = [s for s in outcome.value.sites if s.site == site]
    return [p for station in found.stations for p in station.parts if p.part == part]


def serials(outcome: Outcome[StationsAnswer], site: str, part: str = "m") -> list[str]:
    """The serials of one part at a site, in the order of the stations."""
    return [p.serial for p in held(outcome, site, part)]


def test_numbers_follow_serials_low_to_high() -> None:
    """Station 1 has the lowest serial, 9 before 10 (common practice, no source; varies by county)."""
    fleet = tuple(device(s) for s in ("LM-10", "LM-9", "LM-2"))
    assert serials(stations({"A": 3}, fleet), "A") == ["LM-2", "LM-9", "LM-10"]


def test_another_order_is_a_field_of_the_part() -> None:
    """A county that numbers from the highest serial, or by tag or cart, says so in its table."""
    fleet = (
        device("1", tag="c", cart="k2"),
        device("2", tag="a", cart="k2"),
        device("3", tag="b", cart="k1"),
    )
    wanted = {
        DeviceOrder.HIGH_TO_LOW: ["3", "2", "1"],
        DeviceOrder.TAG: ["2", "3", "1"],
        DeviceOrder.CART: ["3", "1", "2"],
    }
    for order, expected in wanted.items():
        part = msgspec.structs.replace(MARKER.parts[0], order=order)
        other = msgspec.structs.replace(MARKER, parts=(part,))
        assert serials(stations({"A": 3}, fleet, of=other), "A") == expected


def test_claims_go_fixed_then_home_then_the_rest() -> None:
    """A person's fixed site wins over a home, a home over the order of serials."""
    fleet = (
        device("1"),
        device("2", home="A"),
        device("3", home="A", fixed="B", reason="has the new battery"),
        device("4"),
    )
    outcome = stations({"A": 2, "B": 2}, fleet)
    assert serials(outcome, "A") == ["1", "2"]
    assert serials(outcome, "B") == ["3", "4"]
    assert [p.fixed for p in held(outcome, "B")] == [True, False]


def test_each_device_says_by_which_claim_it_stands_there() -> None:
    """Fixed, tag, home, the version before, or the next by serial: one reason for each device placed."""
    fleet = (
        device("1"),
        device("2", home="A", tag="T2"),
        device("3", fixed="A", reason="has the new battery"),
        device("4"),
        device("9", "printer", tag="T2"),
    )
    outcome = stations({"A": 4}, fleet, previous=(StandsAt(device="device/marker/4", site="A"),))
    told = {r.subject: r.text.template for r in outcome.reasons if r.field == "station"}
    words = ("next by serial", "is its home", "a person fixed", "version before", "shares the tag")
    for (_, template), word in zip(sorted(told.items()), words, strict=True):
        assert word in template


def test_a_printer_follows_the_machine_with_its_tag() -> None:
    """Printer and machine share a tag (common practice, no source; varies by county); without, serials go."""
    fleet = (
        device("1", tag="T1"),
        device("2", tag="T2"),
        device("8", "printer", tag="T2"),
        device("9", "printer", tag="T1"),
    )
    outcome = stations({"A": 2}, fleet)
    assert serials(outcome, "A", "p") == ["9", "8"]
    untagged = tuple(msgspec.structs.replace(d, tag="") for d in fleet)
    assert serials(stations({"A": 2}, untagged), "A", "p") == ["8", "9"]


def test_a_device_out_of_service_stands_nowhere() -> None:
    """A device in repair is neither at a station nor a spare."""
    outcome = stations({"A": 1}, (device("1", state="in repair"), device("2"), device("3")))
    assert serials(outcome, "A") == ["2"]
    assert [s.serial for s in outcome.value.spares] == ["3"]


def test_a_fixed_device_without_a_place_is_an_open_item() -> None:
    """A machine fixed to a site that needs no more, or fixed while in repair, is named."""
    fleet = (
        device("1", fixed="A", reason="asked for"),
        device("2", fixed="A", reason="asked for"),
        device("3", fixed="A", reason="asked for", state="in repair"),
    )
    found = [n.subject for n in stations({"A": 1}, fleet).notices if n.rule == "fixed-device"]
    assert found == ["device/marker/2", "device/marker/3"]


def test_what_is_short_is_shared_and_said() -> None:
    """With 3 machines for 2 sites of 3 places no site gets two more than the other, and notices say so."""
    outcome = stations({"A": 3, "B": 3}, tuple(device(str(n)) for n in range(3)))
    assert serials(outcome, "A") == ["0", "1", ""]
    assert serials(outcome, "B") == ["2", "", ""]
    [total] = [t for t in outcome.value.totals if t.kind == "marker"]
    assert (total.planned, total.owned, total.short) == (6, 3, 3)
    rules = {n.rule for n in outcome.notices if "marker" in (*n.depends, n.subject) or "marker" in n.subject}
    assert "fleet-short" in rules
    assert {n.subject for n in outcome.notices if n.rule == "device-missing"} == {"site/A", "site/B"}


def test_totals_without_serials_give_counts() -> None:
    """Where only a total is known, stations have no serial, none is looked for, and what is short counts."""
    outcome = stations({"A": 3, "B": 4}, (), totals=(FleetTotal(kind="marker", count=5),))
    assert serials(outcome, "A") == ["", "", ""]
    [total] = [t for t in outcome.value.totals if t.kind == "marker"]
    assert (total.owned, total.short) == (5, 2)
    assert "device-missing" not in {n.rule for n in outcome.notices}


def test_an_unknown_fleet_is_an_open_item_never_a_shortage() -> None:
    """Not known is a state of its own: nothing is short, and the open item names the kind."""
    outcome = stations({"A": 2}, ())
    assert all(t.owned is None and t.short == 0 for t in outcome.value.totals)
    assert {n.rule for n in outcome.notices} == {"fleet-unknown"}


def test_too_few_spares_are_a_rule_not_met() -> None:
    """A county that holds back a tenth of 10 machines wants one spare, rounded up."""
    rules = CountyRules(settings=(RuleSetting(rule="spare-share", value=100_000),))
    fleet = tuple(device(str(n)) for n in range(10))
    full = stations({"A": 10}, fleet, of=msgspec.structs.replace(MARKER, parts=MARKER.parts[:1]), rules=rules)
    assert [(n.rule, n.found, n.wanted) for n in full.notices] == [("spare-share", "0", "1")]
    one_left = stations(
        {"A": 9}, fleet, of=msgspec.structs.replace(MARKER, parts=MARKER.parts[:1]), rules=rules
    )
    assert one_left.notices == ()


def test_a_new_site_moves_no_machine_of_another() -> None:
    """Planning again with the earlier version at hand gives a new site what is left and moves nothing."""
    fleet = tuple(device(str(n)) for n in range(6))
    before = stations({"B": 2, "C": 2}, fleet)
    standing = tuple(
        StandsAt(device=p.device, site=s.site)
        for s in before.value.sites
        for station in s.stations
        for p in station.parts
        if p.device
    )
    after = stations({"A": 2, "B": 2, "C": 2}, fleet, previous=standing)
    assert serials(after, "B") == serials(before, "B")
    assert serials(after, "C") == serials(before, "C")
    assert serials(after, "A") == ["4", "5"]


SITES = ("A", "B", "C")
FLEETS = st.lists(
    st.builds(
        Device,
        id=st.integers(0, 30).map(lambda n: f"device/marker/{n}"),
        serial=st.integers(0, 30).map(str),
        kind=st.sampled_from(("marker", "printer")),
        tag=st.sampled_from(("", "T1", "T2")),
        home=st.sampled_from(("", *SITES)),
        state=st.sampled_from(("in service", "in service", "in repair")),
        fixed=st.sampled_from(("", "", "A")),
        reason=st.just("said so"),
    ),
    max_size=14,
    unique_by=lambda d: d.id,
)


@given(FLEETS, st.fixed_dictionaries({s: st.integers(0, 4) for s in SITES}))
def test_every_device_stands_in_one_place_at_most(fleet: list[Device], counts: dict[str, int]) -> None:
    """No device twice, none out of service, none fixed elsewhere; nothing is short while one stands idle."""
    outcome = stations(counts, tuple(fleet))
    at = [
        (p, s.site)
        for s in outcome.value.sites
        for station in s.stations
        for p in station.parts
        if p.by_serial
    ]
    placed = [p.device for p, _ in at if p.device]
    by_id = {d.id: d for d in fleet}
    assert max(Counter([*placed, *(s.device for s in outcome.value.spares)]).values(), default=1) == 1
    for part, site in at:
        if part.device:
            assert by_id[part.device].state == "in service"
            assert by_id[part.device].fixed in ("", site)
    for kind, part_id in (("marker", "m"), ("printer", "p")):
        free = [d for d in fleet if d.kind == kind and d.state == "in service" and not d.fixed]
        empty = [p for p, _ in at if p.part == part_id and not p.device]
        assert not (empty and any(d.id not in placed for d in free))


@given(FLEETS, st.randoms(use_true_random=False))
def test_the_order_of_rows_changes_nothing(fleet: list[Device], shuffle: object) -> None:
    """Shuffled rows of the fleet give the same stations, totals and notices."""
    mixed = list(fleet)
    shuffle.shuffle(mixed)  # type: ignore[attr-defined]
    counts = {"A": 2, "B": 3}
    first, second = stations(counts, tuple(fleet)), stations(counts, tuple(mixed))
    assert first.value == second.value
    assert sorted(n.key for n in first.notices) == sorted(n.key for n in second.notices)


def test_serials_are_ordered_as_people_read_them() -> None:
    """Digits count as numbers within letters."""
    assert sorted(["B2", "A10", "A9", "A10b"], key=reading_key) == ["A9", "A10", "A10b", "B2"]
