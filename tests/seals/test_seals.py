"""Closures to seals: positions, numbers, needs at each moment, and stock against need."""

from __future__ import annotations

import datetime as dt

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pollstead.election.county import ClosureSeal, SealRange
from pollstead.election.rules import CountyRules
from pollstead.election.station_type import (
    Closure,
    IdentifiedBy,
    Moment,
    NumberPolicy,
    Part,
    StationType,
    VoterStep,
)
from pollstead.plan.seals import run
from pollstead.plan.seals.policy import Found, found_before, moments_of_day, needs_of
from pollstead.plan.seals.stock import seals_in_stock
from pollstead.plan.terms.part import Effort, NoWatch, Outcome
from pollstead.plan.terms.stations import SealingSite, SealsAnswer, SealsGiven
from pollstead.plan.terms.version import PartOfStation, Spare, Station

DOOR = Closure(
    id="door",
    name="memory door",
    part="m",
    seal_kind="tag",
    checked=(Moment.OPENING, Moment.CLOSING),
    seals=2,
)
LID = Closure(
    id="lid",
    name="lid",
    part="m",
    seal_kind="tag",
    checked=(Moment.OPENING,),
    cut=Moment.OPENING,
    resealed=(Moment.CLOSING,),
)
BIN = Closure(
    id="bin",
    name="bin",
    part="box",
    number=NumberPolicy.TICKED,
    seal_kind="wire",
    applied=Moment.OPENING,
    cut=Moment.CLOSING,
)
OPEN = Closure(id="flap", name="flap", part="m", number=NumberPolicy.NO_SEAL)
MACHINE = StationType(
    id="machine",
    name="Machine",
    step=VoterStep.CAST,
    parts=(
        Part(id="m", name="machine", identified_by=IdentifiedBy.SERIAL, device_kind="machine"),
        Part(id="box", name="box"),
    ),
    closures=(DOOR, LID, BIN, OPEN),
)
NUMBERS = (
    ClosureSeal(device="device/machine/1", closure="door", position=1, number="T-100"),
    ClosureSeal(device="device/machine/1", closure="door", position=2, number="T-101"),
    ClosureSeal(device="device/machine/1", closure="bin", position=1, number="W-7"),
)


def station(number: int, device: str = "") -> Station:
    """A station with one machine and a box."""
    return Station(
        id=f"station/X/machine/{number}",
        station_type="machine",
        number=number,
        parts=(
            PartOfStation(
                part="m", name="machine", quantity=1, device=device, serial=device[-1:], by_serial=True
            ),
            PartOfStation(part="box", name="box", quantity=1),
        ),
    )


def sealed(
    *stations: Station,
    days: int = 1,
    of: StationType = MACHINE,
    spares: tuple[Spare, ...] = (),
    ranges: tuple[SealRange, ...] = (),
) -> Outcome[SealsAnswer]:
    """The seals of one site's stations."""
    given_ = SealsGiven(
        sites=(SealingSite(site="X", days=days, stations=stations),),
        spares=spares,
        station_types=(of,),
        closure_seals=NUMBERS,
        seal_ranges=ranges,
    )
    return run(given_, CountyRules(), 0, Effort.QUICK, NoWatch())


def needs(outcome: Outcome[SealsAnswer]) -> dict[tuple[str, str], int]:
    """Seals needed by kind and moment."""
    return {(n.seal_kind, n.moment.value): n.quantity for n in outcome.value.sites[0].needs}


def test_each_position_has_the_number_recorded_for_it() -> None:
    """Numbers are looked up by device, closure and position; what was not entered stays empty."""
    seals = sealed(station(1, "device/machine/1")).value.sites[0].stations[0].seals
    assert [(s.closure, s.position, s.number) for s in seals] == [
        ("closure/machine/1/door", 1, "T-100"),
        ("closure/machine/1/door", 2, "T-101"),
        ("closure/machine/1/lid", 1, ""),
        ("closure/X/machine/1/bin", 1, ""),
    ]


def test_a_number_that_is_only_ticked_is_never_expected() -> None:
    """A recorded number of a ticked closure stays out of the plan, whatever the table says."""
    of = msgspec.structs.replace(MACHINE, closures=(msgspec.structs.replace(BIN, part="m"),))
    seals = sealed(station(1, "device/machine/1"), of=of).value.sites[0].stations[0].seals
    assert [s.number for s in seals] == [""]


def test_seals_not_entered_yet_are_counted() -> None:
    """One open item for the site: of 6 seals put on after test 4 have no number."""
    outcome = sealed(station(1, "device/machine/1"), station(2, "device/machine/2"))
    [notice] = [n for n in outcome.notices if n.rule == "seal-number-unknown"]
    assert {p.name: p.value for p in notice.text.params} == {"unknown": 4, "all": 6}


def test_while_no_number_is_recorded_the_county_is_told_once() -> None:
    """Sites are not each told that a county has not begun to record seals."""
    given_ = SealsGiven(
        sites=tuple(SealingSite(site=s, days=1, stations=(station(1),)) for s in "XYZ"),
        spares=(),
        station_types=(MACHINE,),
    )
    outcome = run(given_, CountyRules(), 0, Effort.QUICK, NoWatch())
    [notice] = [n for n in outcome.notices if n.rule == "seal-number-unknown"]
    assert notice.subject == "county"
    assert {p.name: p.value for p in notice.text.params} == {"all": 9, "sites": 3}


def test_a_station_without_a_serial_still_needs_its_seals() -> None:
    """Need follows the station; the closure is the station's while no machine is given."""
    outcome = sealed(station(1))
    assert needs(outcome)["tag", "after test"] == 3
    assert outcome.value.sites[0].stations[0].seals[0].closure == "closure/X/machine/1/door"


@pytest.mark.parametrize(("days", "closing", "bins"), [(1, 1, 1), (4, 4, 4)])
def test_needs_are_counted_at_each_moment(days: int, closing: int, bins: int) -> None:
    """After test once; re-seals and seals of the day on every operating day."""
    assert needs(sealed(station(1), days=days)) == {
        ("tag", "after test"): 3,
        ("tag", "closing"): closing,
        ("wire", "opening"): bins,
    }


def test_nights_lie_between_days() -> None:
    """A site of one day has no night; one of four days has three."""
    overnight = msgspec.structs.replace(LID, resealed=(Moment.OVERNIGHT,))
    assert needs_of(overnight, 1) == {Moment.AFTER_TEST: 1}
    assert needs_of(overnight, 4) == {Moment.AFTER_TEST: 1, Moment.OVERNIGHT: 3}


def test_a_seal_that_stays_on_is_put_on_once() -> None:
    """Put on at the first opening and cut at receiving: one seal; cut at each closing: one a day."""
    stays = msgspec.structs.replace(BIN, cut=Moment.RECEIVING)
    assert needs_of(stays, 4) == {Moment.OPENING: 1}
    assert needs_of(BIN, 4) == {Moment.OPENING: 4}
    assert found_before(stays, Moment.OPENING, 3, 4) is Found.FROM_SITE


@given(
    applied=st.sampled_from(Moment),
    cut=st.sampled_from([None, *Moment]),
    resealed=st.sets(st.sampled_from(Moment)).map(tuple),
    days=st.integers(1, 4),
)
def test_no_seal_is_found_that_nobody_put_on(
    applied: Moment, cut: Moment | None, resealed: tuple[Moment, ...], days: int
) -> None:
    """Whatever the policy, what is found was put on before, and only the test's seal has a known number."""
    closure = msgspec.structs.replace(LID, applied=applied, cut=cut, resealed=resealed)
    need = needs_of(closure, days)
    found = [found_before(closure, m, day, days) for day in range(days) for m in moments_of_day(day, days)]
    if not need:
        assert set(found) == {Found.NOTHING}
    if applied is not Moment.AFTER_TEST or Moment.AFTER_TEST in resealed:
        assert Found.FROM_TEST not in found
    if cut is None and applied is Moment.AFTER_TEST:
        assert Found.NOTHING not in found


def test_what_is_found_follows_the_seal_through_the_days() -> None:
    """A lid cut at opening and re-sealed at closing has the test's seal first, then the site's own."""
    assert found_before(LID, Moment.OPENING, 0, 3) is Found.FROM_TEST
    assert found_before(LID, Moment.CLOSING, 0, 3) is Found.NOTHING
    assert found_before(LID, Moment.OPENING, 1, 3) is Found.FROM_SITE
    assert found_before(DOOR, Moment.CLOSING, 2, 3) is Found.FROM_TEST
    assert found_before(BIN, Moment.OPENING, 0, 3) is Found.NOTHING
    assert found_before(BIN, Moment.OPENING, 1, 3) is Found.NOTHING
    assert found_before(LID, Moment.RECEIVING, 2, 3) is Found.FROM_SITE


def test_only_the_first_day_has_an_evening_before_and_only_the_last_a_receiving() -> None:
    """Three days: the evening before the first, nights after the first two, receiving after the last."""
    assert moments_of_day(0, 3)[0] is Moment.EVENING_BEFORE
    assert Moment.OVERNIGHT in moments_of_day(1, 3)
    assert moments_of_day(2, 3) == (Moment.OPENING, Moment.DURING, Moment.CLOSING, Moment.RECEIVING)


def test_spares_are_sealed_too() -> None:
    """A recorded number on every closure, spares included (common practice, no source; varies by county)."""
    spare = Spare(device="device/machine/1", kind="machine", serial="1")
    outcome = sealed(station(1, "device/machine/2"), spares=(spare,))
    assert [s.number for s in outcome.value.spares[0].seals] == ["T-100", "T-101", ""]
    [stock] = [s for s in outcome.value.stock if s.seal_kind == "tag"]
    assert (stock.needed, stock.applied) == (3 + 1 + 3, 2)


def test_need_is_held_against_stock() -> None:
    """Stock of 3 against a need of 4 is short by 1; a kind without any range is not known, not short."""
    ranges = (SealRange(seal_kind="tag", series="T", first="T-100", last="T-102"),)
    outcome = sealed(station(1), ranges=ranges)
    found = {n.rule: n.subject for n in outcome.notices}
    assert found["seal-stock-short"] == "seal/tag"
    assert found["seal-stock-unknown"] == "seal/wire"
    [tag] = [s for s in outcome.value.stock if s.seal_kind == "tag"]
    assert (tag.needed, tag.stock, tag.short) == (4, 3, 1)


@given(st.lists(st.tuples(st.integers(0, 60), st.integers(0, 60)), max_size=8))
def test_a_number_in_two_ranges_counts_once(pairs: list[tuple[int, int]]) -> None:
    """Stock is the number of different seal numbers in all ranges of a series."""
    ranges = tuple(
        SealRange(seal_kind="tag", series="T", first=f"T{a:04d}", last=f"T{b:04d}") for a, b in pairs
    )
    numbers = {n for a, b in pairs for n in range(a, b + 1)}
    assert seals_in_stock(ranges).get("tag", 0) == len(numbers)


def test_the_same_number_in_two_series_counts_twice() -> None:
    """Uniqueness is by series: two series may both have a number 5."""
    ranges = tuple(SealRange(seal_kind="tag", series=s, first="5", last="5") for s in ("A", "B"))
    assert seals_in_stock(ranges) == {"tag": 2}


@given(st.integers(1, 6), st.integers(1, 5))
def test_each_seal_reason_recomputes_its_number(count: int, days: int) -> None:
    """The closures and seals that a reason lists multiply and sum to the need."""
    outcome = sealed(*(station(n) for n in range(1, count + 1)), days=days)
    quantities = needs(outcome)
    assert len(outcome.reasons) == len(quantities)
    for reason in outcome.reasons:
        params = {p.name: p.value for p in reason.text.params}
        total = 0
        for figure in reason.figures:
            carried, each = figure.value.split(" × ")
            total += int(carried) * int(each)
        assert total == params["quantity"] == quantities[str(params["kind"]), str(params["moment"])]


DAYS = (dt.date(2028, 10, 27), dt.date(2028, 11, 7))


def on_days(*rows: ClosureSeal) -> tuple[str, ...]:
    """The number on the lid of one device at its early station and, deployed again, on election day."""
    early = msgspec.structs.replace(station(1, "device/machine/1"), last_day=dt.date(2028, 11, 4))
    parts = tuple(msgspec.structs.replace(p, again=bool(p.device)) for p in early.parts)
    late = msgspec.structs.replace(early, parts=parts, first_day=DAYS[1], last_day=None)
    given_ = SealsGiven(
        sites=(
            SealingSite(site="E", days=9, stations=(early,), early_days=9, first_date=DAYS[0]),
            SealingSite(site="X", days=1, stations=(late,), first_date=DAYS[1]),
        ),
        spares=(),
        station_types=(MACHINE,),
        closure_seals=rows,
    )
    sites = run(given_, CountyRules(), 0, Effort.QUICK, NoWatch()).value.sites
    return tuple(
        next(s.number for s in site.stations[0].seals if s.closure.endswith("lid")) for site in sites
    )


def test_a_device_deployed_again_has_the_number_in_force_on_that_day() -> None:
    """The first number holds for early voting alone; the second from the day that its row names."""
    first = ClosureSeal(device="device/machine/1", closure="lid", number="T-1")
    second = msgspec.structs.replace(first, counts_from=DAYS[1], number="T-2")
    assert on_days(first) == ("T-1", "")
    assert on_days(first, second) == on_days(second, first) == ("T-1", "T-2")
    dated = msgspec.structs.replace(first, counts_from=DAYS[0])
    assert on_days(dated, second) == ("T-1", "T-2") and on_days(dated) == ("T-1", "")
    assert on_days(second) == ("", "T-2")
