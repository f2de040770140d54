"""Devices of early voting and election day: kept apart, deployed again, in use throughout; carts."""

from __future__ import annotations

import datetime as dt
from collections import Counter as Tally

from hypothesis import example, given
from hypothesis import strategies as st

from pollstead.election.county import Device
from pollstead.election.fleet import Cart, EarlyDevices, EarlyUse
from pollstead.election.rules import BY_ID, CountyRules, RuleSetting
from pollstead.election.station_type import (
    Counter,
    CountUnit,
    IdentifiedBy,
    Part,
    StationType,
    VoterStep,
)
from pollstead.plan.stations import run
from pollstead.plan.stations.carts import cart_lists
from pollstead.plan.terms.part import Effort, NoWatch, Outcome
from pollstead.plan.terms.stations import SiteCounts, StandsAt, StationsAnswer, StationsGiven
from pollstead.plan.terms.version import StageCount

EVE, EARLY_DAY, DAY = (dt.date(2028, 11, d) for d in (3, 4, 7))
SCANNER = StationType(
    id="scanner",
    name="Scanner",
    step=VoterStep.CAST,
    parts=(Part(id="s", name="scanner", identified_by=IdentifiedBy.SERIAL, device_kind="scanner"),),
    counters=(Counter(id="public", name="public counter", unit=CountUnit.SHEETS),),
)
DESK = StationType(
    id="desk",
    name="Desk",
    step=VoterStep.CHECK_IN,
    parts=(Part(id="c", name="computer", identified_by=IdentifiedBy.SERIAL, device_kind="computer"),),
    counters=(Counter(id="check-ins", name="check-ins", unit=CountUnit.CHECK_INS),),
)


def scanner(number: int, home: str = "", cart: str = "") -> Device:
    """A scanner of the fleet."""
    return Device(
        id=f"device/scanner/{number}", serial=f"LM-S-{number:04d}", kind="scanner", home=home, cart=cart
    )


def planned(
    fleet: tuple[Device, ...],
    counts: dict[str, int],
    *,
    early: tuple[str, ...],
    use: EarlyDevices = EarlyDevices.APART,
    of: StationType = SCANNER,
    decided: tuple[EarlyUse, ...] = (),
    previous: tuple[StandsAt, ...] = (),
    carts: tuple[Cart, ...] = (),
) -> Outcome[StationsAnswer]:
    """Stations of one type; the sites in `early` are open on two days before election day too."""
    rules = CountyRules(
        settings=(
            RuleSetting(rule="early-devices", value=use.value),
            RuleSetting(rule="spare-share", value=0),
        )
    )
    sites = tuple(
        SiteCounts(
            site=site,
            key=site,
            counts=(StageCount(station_type=of.id, step="cast", count=count),),
            early=(EVE, EARLY_DAY) if site in early else (),
            late=(DAY,),
        )
        for site, count in counts.items()
    )
    asked = StationsGiven(
        sites=sites,
        station_types=(of,),
        devices=fleet,
        early_devices=decided,
        previous=previous,
        carts=carts,
    )
    return run(asked, rules, 0, Effort.QUICK, NoWatch())


def where(outcome: Outcome[StationsAnswer], date: dt.date) -> dict[str, list[str]]:
    """The device ids at each site on one day."""
    return {
        s.site: [p.device for x in s.stations if x.stands_on(date) for p in x.parts if p.device]
        for s in outcome.value.sites
    }


def test_the_default_keeps_them_apart_and_says_who_decides() -> None:
    """A device that counted early ballots counts none of election day's unless the county says so
    (common practice, no source; varies by county)."""
    rule = BY_ID["early-devices"]
    assert (rule.default, rule.who_decides) == ("kept apart", "election official")
    outcome = planned(tuple(scanner(n, "A") for n in range(1, 5)), {"A": 2}, early=("A",))
    assert where(outcome, DAY)["A"] == ["device/scanner/1", "device/scanner/2"]
    assert where(outcome, EARLY_DAY)["A"] == ["device/scanner/3", "device/scanner/4"]


def test_a_device_without_results_stays_where_it_stands() -> None:
    """A check-in computer holds no ballots: the rule is not about it, though a person may decide so."""
    computers = tuple(
        Device(id=f"device/computer/{n}", serial=f"LM-C-{n}", kind="computer", home="A") for n in (1, 2)
    )
    outcome = planned(computers, {"A": 1}, early=("A",), of=DESK)
    assert where(outcome, DAY) == where(outcome, EARLY_DAY) == {"A": ["device/computer/1"]}
    decided = (EarlyUse(device_kind="computer", use="kept apart", reason="own lists"),)
    apart = planned(computers, {"A": 1}, early=("A",), of=DESK, decided=decided)
    assert where(apart, DAY) != where(apart, EARLY_DAY)


def test_a_decision_about_one_site_wins_over_the_one_about_the_kind() -> None:
    """People decide by kind and site; the county rule holds for the rest."""
    fleet = tuple(scanner(n) for n in range(1, 5))
    decided = (
        EarlyUse(device_kind="scanner", use="stays in use", reason="small site"),
        EarlyUse(device_kind="scanner", site="B", use="kept apart", reason="the law of the county"),
    )
    outcome = planned(fleet, {"A": 1, "B": 1}, early=("A", "B"), decided=decided)
    assert where(outcome, DAY)["A"] == where(outcome, EARLY_DAY)["A"]
    assert where(outcome, DAY)["B"] != where(outcome, EARLY_DAY)["B"]


def test_deployed_again_needs_no_second_set_and_is_marked() -> None:
    """Two scanners serve the early site and then stand elsewhere; their election-day parts say so."""
    outcome = planned(
        (scanner(1, "A"), scanner(2, "B")), {"A": 1, "B": 1}, early=("A",), use=EarlyDevices.AGAIN
    )
    assert where(outcome, DAY) == {"A": ["device/scanner/1"], "B": ["device/scanner/2"]}
    assert where(outcome, EARLY_DAY)["A"] == ["device/scanner/1"]
    late = [x for s in outcome.value.sites for x in s.stations if x.first_day is not None]
    assert [p.again for x in late for p in x.parts] == [True]


def test_a_short_fleet_names_the_site_and_how_many() -> None:
    """Three scanners for two early and two election-day places: one is short, at site A."""
    outcome = planned(tuple(scanner(n, "A") for n in (1, 2, 3)), {"A": 2}, early=("A",))
    told = {n.rule: n.text.english() for n in outcome.notices}
    assert "short: 1" in told["fleet-short"]
    assert "scanner 1" in told["device-missing"]
    assert [n.subject for n in outcome.notices if n.rule == "device-missing"] == ["site/A"]


def test_an_early_device_stays_early_when_another_drops_out() -> None:
    """Nothing moves without need: a spare fills the gap, and the early scanner is not pulled over."""
    fleet = (scanner(2, "A"), scanner(3, "A"), scanner(4, "A"), scanner(9))
    before = (
        StandsAt(device="device/scanner/2", site="A"),
        StandsAt(device="device/scanner/3", site="A", early=True),
        StandsAt(device="device/scanner/4", site="A", early=True),
    )
    outcome = planned(fleet, {"A": 2}, early=("A",), previous=before)
    assert where(outcome, EARLY_DAY)["A"] == ["device/scanner/3", "device/scanner/4"]
    assert where(outcome, DAY)["A"] == ["device/scanner/2", "device/scanner/9"]


@example([""], (0, 1, 1), {"C"}, EarlyDevices.AGAIN)
@given(
    st.lists(st.sampled_from(["", "A", "B", "C"]), max_size=12),
    st.tuples(*[st.integers(0, 4)] * 3),
    st.sets(st.sampled_from("ABC")),
    st.sampled_from(list(EarlyDevices)),
)
def test_a_device_stands_at_one_place_at_a_time(
    homes: list[str], counts: tuple[int, int, int], early: set[str], use: EarlyDevices
) -> None:
    """On each day each device stands once at the most; kept apart, no device counts on both sides; planning
    again with what stood moves nothing."""
    fleet = tuple(scanner(n, home) for n, home in enumerate(homes, start=1))
    asked = dict(zip("ABC", counts, strict=True))
    outcome = planned(fleet, asked, early=tuple(early), use=use)
    days = [where(outcome, day) for day in (EVE, EARLY_DAY, DAY)]
    for day in (0, 2):
        open_then = early if day == 0 else set("ABC")
        tally = Tally(d for site, held in days[day].items() if site in open_then for d in held)
        assert all(count == 1 for count in tally.values())
    before, after = (
        {d for x in s.stations if x.stands_on(day) for p in x.parts for d in [p.device] if d}
        for s, day in ((s, d) for s in outcome.value.sites[:1] for d in (EARLY_DAY, DAY))
    )
    if use is EarlyDevices.APART and outcome.value.sites[0].site in early:
        assert not before & after
    stood = tuple(
        StandsAt(device=p.device, site=s.site, early=x.last_day is not None)
        for s in outcome.value.sites
        for x in s.stations
        for p in x.parts
        if p.device
    )
    again = planned(fleet, asked, early=tuple(early), use=use, previous=stood)
    assert [where(again, day) for day in (EVE, EARLY_DAY, DAY)] == days


def test_a_cart_holds_its_serials_in_order_and_names_the_one_away() -> None:
    """Serials low to high (common practice, no source; varies by county); one at another site is told."""
    fleet = tuple(scanner(n, "A", cart="K1") for n in (10, 9, 2))
    [cart] = cart_lists(fleet, (Cart(id="K1", tag="T1", places=2),), {"device/scanner/9": ("B",)})
    assert [d.serial for d in cart.devices] == ["LM-S-0002", "LM-S-0009", "LM-S-0010"]
    assert (cart.site, cart.away, cart.over) == ("A", ("device/scanner/9",), 1)
    outcome = planned(
        (scanner(1, "A", "K1"), scanner(2, "A", "K1")),
        {"A": 1, "B": 1},
        early=(),
        carts=(Cart(id="K1", places=1),),
    )
    told = {n.rule: n for n in outcome.notices}
    assert told["device-away-from-cart"].subject == "site/B"
    assert "LM-S-0002 (K1)" in told["device-away-from-cart"].text.english()
    assert "1 devices more" in told["cart-too-full"].text.english()
