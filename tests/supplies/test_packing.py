"""The packing list: shares of furniture, use per voter, containers, and what never stands on it."""

from __future__ import annotations

from fractions import Fraction
from math import ceil

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pollstead.election.rules import CountyRules, RuleSetting
from pollstead.election.station_type import (
    Furniture,
    IdentifiedBy,
    Part,
    Power,
    SiteKind,
    StationType,
    StationUse,
    SupplyUse,
    VoterStep,
)
from pollstead.election.units import foot
from pollstead.plan.supplies import run
from pollstead.plan.terms.part import Effort, NoWatch
from pollstead.plan.terms.stations import PackingSite, SuppliesGiven
from pollstead.plan.terms.version import PackingLine, PartOfStation, StageCount, Station

MARKER = StationType(
    id="marker",
    name="Marker",
    step=VoterStep.MARK,
    parts=(
        Part(id="m", name="marker", identified_by=IdentifiedBy.SERIAL, device_kind="marker"),
        Part(id="pen", name="pen", per_station=2),
    ),
    furniture=(Furniture(item="5-ft table", stations_per_item=2),),
    power=Power(idle_w=10, peak_w=20, cord_um=foot(15)),
    container="cart",
    stations_per_container=4,
    supplies=(
        SupplyUse(item="privacy panel", per_container=10),
        SupplyUse(item="ballot", unit="ballots", per_voter_ppm=1_000_000),
        SupplyUse(item="wipe", per_voter_ppm=500_000, per_station=3, per_site=1, spare_ppm=100_000),
    ),
)
KIND = SiteKind(
    id="k",
    name="K",
    uses=(StationUse(station_type="marker"),),
    site_supplies=(SupplyUse(item="cone", per_site=6),),
)


def pack(
    count: int = 5,
    *,
    voters: int = 1001,
    of: StationType = MARKER,
    parts: tuple[PartOfStation, ...] = (),
    rules: CountyRules | None = None,
) -> dict[str, PackingLine]:
    """The packing lines of one site by item."""
    stations = tuple(
        Station(id=f"station/X/marker/{n}", station_type=of.id, number=n, parts=parts[n - 1 : n])
        for n in range(1, count + 1)
    )
    site = PackingSite(
        site="X",
        kind=KIND,
        counts=(StageCount(station_type=of.id, step="mark", count=count),),
        stations=stations,
        voters=voters,
    )
    given_ = SuppliesGiven(sites=(site,), station_types=(of,))
    outcome = run(given_, rules or CountyRules(), 0, Effort.QUICK, NoWatch())
    return {line.item: line for line in outcome.value[0].lines}


def machine(serial: str, tag: str, cart: str = "") -> PartOfStation:
    """A machine of a station."""
    return PartOfStation(
        part="m",
        name="marker",
        quantity=1,
        device="device/x",
        serial=serial,
        tag=tag,
        cart=cart,
        by_serial=True,
    )


@pytest.mark.parametrize(("stations", "tables"), [(1, 1), (2, 1), (3, 2), (14, 7), (15, 8)])
def test_two_stations_to_a_table_are_rounded_up(stations: int, tables: int) -> None:
    """Two marking stations to a 5-ft table (common practice, no source; varies by county)."""
    assert pack(stations)["5-ft table"].quantity == tables


def test_another_table_is_another_value_of_the_same_field() -> None:
    """A county with one station to an 8-ft table changes two cells of its own table."""
    other = msgspec.structs.replace(MARKER, furniture=(Furniture(item="8-ft table"),))
    assert pack(5, of=other)["8-ft table"].quantity == 5


def test_ten_panels_go_with_each_cart() -> None:
    """Panels per cart follow the carts (common practice, no source; varies by county); no cart, no panels."""
    assert pack(5)["cart"].quantity == 2
    assert pack(5)["privacy panel"].quantity == 20
    without = pack(5, of=msgspec.structs.replace(MARKER, container=""))
    assert "cart" not in without and "privacy panel" not in without


def test_carts_named_in_the_fleet_are_counted_by_name() -> None:
    """Machines whose carts are known fill those, whatever a cart holds; the tag of a cart is its name."""
    lines = pack(3, parts=(machine("1", "a", "K1"), machine("2", "b", "K1"), machine("3", "c", "K7")))
    assert lines["cart"].quantity == 2
    assert lines["cart"].tags == ("K1", "K7")


def test_ballots_take_the_county_rule_and_others_their_own_share() -> None:
    """1001 voters and a surplus of 25 percent need 1252 ballots; wipes have their own ten percent."""
    rules = CountyRules(settings=(RuleSetting(rule="ballot-surplus", value=250_000),))
    lines = pack(5, rules=rules)
    assert lines["ballot"].quantity == 1252
    assert lines["wipe"].quantity == ceil(Fraction(1001, 2) * Fraction(11, 10) + 16 * Fraction(11, 10))


def test_cords_and_site_supplies_are_packed() -> None:
    """One cord of the type's length for each station with power, and what the site needs once."""
    lines = pack(4)
    assert (lines["cord"].quantity, lines["cord"].unit) == (4, "15' 0\"")
    assert lines["cone"].quantity == 6


def test_no_serial_stands_on_a_packing_list() -> None:
    """A thing is found by its tag; a tag that is the serial or most of it is left out."""
    parts = (machine("LM-M-0042", "LM-M-0042"), machine("LM-M-0043", "0043"), machine("LM-M-0044", "T9"))
    lines = pack(3, parts=parts)
    assert lines["marker"].tags == ("T9",)
    assert not any("LM-M-" in str(line) for line in lines.values())


@given(st.integers(1, 60), st.integers(0, 5000), st.integers(0, 400_000))
def test_every_supply_line_is_recomputed_from_its_own_words(count: int, voters: int, surplus: int) -> None:
    """The figures that a line shows give its quantity again."""
    rules = CountyRules(settings=(RuleSetting(rule="ballot-surplus", value=surplus),))
    for line in pack(count, voters=voters, rules=rules).values():
        if line.group != "Supplies":
            continue
        [why] = line.why
        told = {p.name: int(p.value) for p in why.params}
        base = (
            Fraction(told["voters"] * told["per_voter"], 1_000_000)
            + told["stations"] * told["per_station"]
            + told["containers"] * told["per_container"]
            + told["per_site"]
        )
        assert line.quantity == ceil(base * (1 + Fraction(told["spare"], 1_000_000)))
