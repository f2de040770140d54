"""What happens while people vote: incidents, lost minutes, bursts, jams, swaps, supplies, orders."""

from __future__ import annotations

import datetime as dt
import decimal
import random
from typing import Any

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pollstead.election.county import Precinct
from pollstead.election.rules import CountyRules
from pollstead.reconcile.counts.balance import LineState
from pollstead.reconcile.counts.jams import Jam, jam_terms
from pollstead.reconcile.custody.legs import legs_of
from pollstead.reconcile.custody.places import held_things
from pollstead.reconcile.day import SiteDay, reconcile_day
from pollstead.reconcile.happening.incidents import Incident, incidents_of, may_repeat
from pollstead.reconcile.happening.lost import length, lost_minutes, union, without
from pollstead.reconcile.happening.orders import (
    acknowledgements,
    closes_at,
    holding,
    order_notices,
    orders_of,
)
from pollstead.reconcile.happening.run_out import Level, poisson_limits, run_out
from pollstead.reconcile.happening.spread import calls_begin_min, poisson_tail_ppm, spreads_of
from pollstead.reconcile.happening.supplies import packets_of, stub_ranges, supply_lines
from pollstead.reconcile.heard.silence import heard_list
from pollstead.reconcile.issued import issued_lists
from pollstead.record.kinds import custody, days, incidents, orders, supplies, swaps

DAY = dt.date(2028, 11, 7)
ONE, TWO = "device/scanner/S01-1", "device/scanner/S01-2"
STATION = "station/S01/ballot-scanner/1"


def exact_tail(at_least: int, mean: str) -> float:
    """The Poisson tail from its definition in 50-digit decimal arithmetic."""
    with decimal.localcontext(decimal.Context(prec=50)):
        term, below = (-decimal.Decimal(mean)).exp(), decimal.Decimal(0)
        for k in range(at_least):
            below += term
            term = term * decimal.Decimal(mean) / (k + 1)
        return float(1 - below)


def told(
    record: Any, number: int, site: str = "S01", what: str = "printer_unreadable", at: int = 600, **more: Any
) -> Any:
    """An incident told by phone."""
    body = incidents.IncidentReported(what=what, at_min=at, **more)
    return record.write(
        body,
        f"incident/{DAY}/{number}",
        site=site,
        private=incidents.Told(words="the lines are grey", caller="Ann"),
    )


def day_of(county: Any, record: Any, site: str = "S01") -> SiteDay:
    """The day of one site by the record so far."""
    election = county.election()
    plan = county.plan({"check-in-desk": 1, "ballot-scanner": 1})
    folded = record.fold()
    return reconcile_day(election, plan, issued_lists(folded), folded, DAY).site(site)


def counts(record: Any, **numbers: int) -> None:
    """Closing numbers of the site, and a scanner's counter from zero."""
    opening = numbers.pop("public_open", 0)
    cast = numbers.pop("cast", None)
    record.number(ONE, "public_counter_open", opening)
    if cast is not None:
        record.number(ONE, "public_counter_close", cast)
    for term, value in numbers.items():
        record.number("site/S01", term, value, source="hand")


def test_a_second_call_is_offered_as_the_same_incident_and_both_stay(record: Any) -> None:
    """Same site, same thing, near in time; another site, another thing or another device is none."""
    told(record, 1, device=ONE)
    told(record, 2, at=608)
    found = incidents_of(record.fold(), DAY)
    again = {"site": "S01", "what": "printer_unreadable", "within_min": 20}
    assert [one.label for one in may_repeat(found, device="", at_min=612, **again)] == ["2", "1"]
    assert may_repeat(found, device=TWO, at_min=612, **again) == (found[1],)
    assert may_repeat(found, device="", at_min=612, **{**again, "site": "S02"}) == ()
    record.write(incidents.IncidentJoined(into=found[0].subject), found[1].subject)
    one, two = incidents_of(record.fold(), DAY)
    assert (one.calls, two.into) == (2, one.subject)
    assert [x.label for x in may_repeat((one, two), device="", at_min=612, **again)] == ["1"]


def test_an_incident_entered_by_mistake_is_withdrawn_and_a_corrected_one_keeps_its_number(
    record: Any,
) -> None:
    """A correction without a value takes it out of the list; one with a value changes what it says."""
    first, second = told(record, 1), told(record, 2)
    record.correct(first, None)
    record.correct(second, incidents.IncidentReported(what="jam", at_min=610))
    (left,) = incidents_of(record.fold(), DAY)
    assert (left.label, left.what, left.began_min) == ("2", "jam", 610)


def test_two_desks_that_gave_one_number_are_both_kept(record: Any) -> None:
    """Nothing wins: the second is told as 1 b."""
    told(record, 1)
    told(record, 1, site="S02")
    assert [(x.label, x.site) for x in incidents_of(record.fold(), DAY)] == [("1", "S01"), ("1 b", "S02")]


def test_lost_minutes_are_the_union_of_late_doors_and_stops(record: Any) -> None:
    """Overlapping stretches count once; a device's minutes while the whole site stood are the site's."""
    told(record, 1, what="power_out", at=430, service="stopped")
    told(record, 2, what="device_down", at=440, service="stopped", device=ONE)
    told(record, 3, what="long_line", at=450, service="slower")
    record.write(incidents.IncidentEnded(at_min=460), f"incident/{DAY}/1")
    record.write(incidents.IncidentEnded(at_min=500), f"incident/{DAY}/2")
    found = lost_minutes(
        "S01",
        incidents_of(record.fold(), DAY),
        opens_min=420,
        closes_min=1200,
        opened_min=445,
        now_min=700,
    )
    assert (found.site_min, found.devices, found.running) == (40, ((ONE, 40),), False)
    assert [(s.what, s.from_min, s.to_min) for s in found.stretches] == [
        ("late_opening", 420, 445),
        ("power_out", 430, 460),
        ("device_down", 440, 500),
    ]


def test_a_stop_that_nobody_ended_runs_on_to_now_and_no_further_than_the_hours(record: Any) -> None:
    """Before the end is told it counts up to now; after closing up to closing."""
    told(record, 1, what="power_out", at=1100, service="stopped")
    found = incidents_of(record.fold(), DAY)
    hours = {"opens_min": 420, "closes_min": 1200, "opened_min": 420}
    assert lost_minutes("S01", found, now_min=1130, **hours).site_min == 30
    late = lost_minutes("S01", found, now_min=1400, **hours)
    assert late.site_min == 100 and late.running


def test_doors_that_nobody_told_of_are_unknown_and_not_lost() -> None:
    """Silence is no lost minute; whoever knows that doors are shut writes an incident down."""
    hours = {"opens_min": 420, "closes_min": 1200, "now_min": 480}
    assert lost_minutes("S01", (), opened_min=None, **hours).site_min == 0
    assert lost_minutes("S01", (), opened_min=450, **hours).site_min == 30


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 90), st.integers(0, 90)), max_size=8), st.integers(0, 90))
def test_a_union_covers_each_minute_once(spans: list[tuple[int, int]], cut: int) -> None:
    """The length of the union is the number of distinct minutes; what is taken away is gone."""
    minutes = {m for a, b in spans for m in range(a, b)}
    assert length(spans) == len(minutes)
    rest = without(tuple(spans), ((cut, cut + 10),))
    assert {m for a, b in rest for m in range(a, b)} == minutes - set(range(cut, cut + 10))
    assert all(a[1] < b[0] for a, b in zip(union(spans), union(spans)[1:], strict=False))


def test_unreadable_printer_output_at_three_sites_within_minutes_is_told(record: Any) -> None:
    """3 sites in 12 minutes on a day that was quiet so far; the chance is the Poisson tail."""
    for number, (site, at) in enumerate((("S01", 700), ("S02", 705), ("S02", 708), ("S03", 712)), start=1):
        told(record, number, site=site, at=at)
    (burst,) = spreads_of(incidents_of(record.fold(), DAY), CountyRules(), 420)
    assert burst.sites == ("S01", "S02", "S03") and burst.minutes == 12
    mean = 15 * 1 / (712 - 15 - 420 + 15)
    assert burst.expected_milli == round(mean * 1000)
    assert burst.chance_ppm == pytest.approx(exact_tail(3, repr(mean)) * 1e6, abs=1)


def test_three_sites_in_the_first_quarter_of_an_hour_are_told(record: Any) -> None:
    """07:05, 07:12, 07:15 where doors open at 07:00 and crews are inside 45 minutes before.

    15 minutes of 60, one call counted: 0.25 expected; the chance of three or more is 0.216 %.
    """
    for number, (site, at) in enumerate((("S03", 425), ("S04", 432), ("S05", 435)), start=1):
        told(record, number, site=site, at=at)
    found = incidents_of(record.fold(), DAY)
    begins = calls_begin_min(420, CountyRules())
    assert begins == 375
    (burst,) = spreads_of(found, CountyRules(), begins)
    assert burst.sites == ("S03", "S04", "S05")
    assert burst.expected_milli == 250 and burst.chance_ppm == pytest.approx(2161, abs=1)
    assert spreads_of(found, CountyRules(), 420) == (), "as if nothing could be told before the doors open"


def test_the_same_three_sites_over_a_day_with_many_of_them_are_not_told(record: Any) -> None:
    """Where such calls come every five minutes anyway, three in a stretch are no news."""
    for number in range(1, 60):
        told(record, number, site=f"S{number % 9:02d}", at=420 + 5 * number)
    assert spreads_of(incidents_of(record.fold(), DAY), CountyRules(), 420) == ()


@pytest.mark.parametrize(("k", "mean"), [(1, "0.1"), (3, "0.05"), (5, "2.5"), (12, "4.0"), (3, "1")])
def test_the_poisson_tail_is_that_of_its_definition(k: int, mean: str) -> None:
    """Against decimal arithmetic with 50 digits."""
    assert poisson_tail_ppm(k, float(mean)) == pytest.approx(exact_tail(k, mean) * 1e6, abs=1)


@pytest.mark.parametrize(
    ("count", "low", "high"),
    [
        (0, 0.0, 5.991 / 2),
        (1, 0.103 / 2, 9.488 / 2),
        (5, 3.940 / 2, 21.026 / 2),
        (10, 10.851 / 2, 33.924 / 2),
    ],
)
def test_the_limits_of_a_rate_are_close_to_the_exact_ones(count: int, low: float, high: float) -> None:
    """Half the 5 % points of chi-square with 2n and 2n + 2 degrees of freedom.

    Values of the table in the NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.4 (from memory).
    """
    assert poisson_limits(count) == (pytest.approx(low, abs=0.06), pytest.approx(high, abs=0.03))


def _play_jams(seed: int) -> tuple[list[Jam], int]:
    """Jams as they truly went: the records, and the counter minus the ballots accounted for."""
    rng, extra, jams, counter = random.Random(seed), 0, [], 10
    for number in range(rng.randint(1, 5)):
        counted, went = rng.randint(0, 1), rng.choice(("scanned_again", "auxiliary_bin", "in_box", "spoiled"))
        accounted = 1 if went == "in_box" else 0  # It lies with the counted ballots, once.
        extra += counted - accounted
        known = rng.random() < 0.6
        jams.append(
            Jam(
                event=str(number),
                device=ONE,
                site="S01",
                at_min=600 + number,
                went=went if rng.random() < 0.8 else "not_known",
                before=counter if known else None,
                after=counter + counted if known else None,
            )
        )
        counter += counted
    return jams, extra


@settings(max_examples=200, deadline=None)
@given(st.integers(0, 10**6))
def test_what_truly_happened_is_always_within_what_the_jam_records_allow(seed: int) -> None:
    """The range holds the truth; where every record is whole it is the truth."""
    jams, extra = _play_jams(seed)
    (term,) = jam_terms(tuple(jams))
    assert term.low <= extra <= term.high
    if all(jam.moved is not None and jam.went != "not_known" for jam in jams):
        assert term.low == term.high == extra


@pytest.mark.parametrize(
    ("before", "after", "cast", "state"),
    [(40, 41, 101, "exact"), (None, None, 101, "open"), (40, 40, 101, "beside"), (40, 40, 100, "zero")],
)
def test_a_ballot_counted_twice_after_a_jam(
    county: Any, record: Any, before: int | None, after: int | None, cast: int, state: str
) -> None:
    """A jam that raised the counter explains the one too many; else it is carried open, never taken away."""
    jam = incidents.BallotJam(at_min=845, before=before, after=after, went="scanned_again")
    record.write(jam, ONE)
    counts(record, ballots_issued=100, ballots_spoiled=0, ballots_fled=0, ballots_auxiliary=0, cast=cast)
    day = day_of(county, record)
    line = next(line for line in day.lines if line.equation == "I3")
    assert line.difference == 100 - cast
    notice = next((n for n in day.notices if n.rule == "balance.I3"), None)
    found = next((one for one in day.explained if one.equation == "I3"), None)
    if state == "zero":
        assert notice is None and found is None
        return
    assert notice is not None and notice.found == "-1"
    if state == "beside":
        assert found is None  # The counter did not move: the jam explains nothing.
        return
    assert found is not None and found.possible and notice.remedy is not None
    assert found.exact == (state == "exact")
    assert ("Possible explanation" in notice.remedy.english()) == (state == "exact")
    assert (found.low, found.high) == ((0, 0) if state == "exact" else (-1, 0))


def test_a_bin_that_was_used_stands_on_the_closing_statement(county: Any, record: Any) -> None:
    """As soon as anybody told of the bin its count is asked for, also where the kind of site names none."""
    kind = county.kind
    county.kind = msgspec.structs.replace(kind, balance=("provisional", "spoiled", "fled"))
    balance = day_of(county, record).balance
    assert balance is not None and "ballots_auxiliary" not in {line.key for line in balance.lines}
    record.write(incidents.BinUsed(at_min=845, ballots=3), ONE)
    balance = day_of(county, record).balance
    assert balance is not None and "ballots_auxiliary" in {line.key for line in balance.lines}


@pytest.mark.parametrize("ballots", ["held_apart", "not_known", "none"])
def test_a_swap_is_one_transaction_in_the_balance(county: Any, record: Any, ballots: Any) -> None:
    """Both count, the old one at the counter taken down at the swap; ballots held apart are a term."""
    new = "device/scanner/spare-7"
    record.write(
        swaps.DeviceSwapped(old=ONE, new=new, at_min=720, public_counter=60, ballots=ballots), STATION
    )
    apart = 0 if ballots == "none" else 2
    counts(record, ballots_issued=100 + apart, ballots_spoiled=0, ballots_fled=0, ballots_auxiliary=0)
    record.number(new, "public_counter_open", 5)
    record.number(new, "public_counter_close", 45)
    if apart:
        record.number("site/S01", "ballots_held_apart", apart, source="hand")
    day = day_of(county, record)
    line = next(line for line in day.lines if line.equation == "I3")
    assert {t.key for t in line.terms} >= {f"public_counter_close@{d}" for d in (ONE, new)}
    assert line.state is LineState.ZERO
    assert ("ballots_held_apart" in {t.key for t in line.terms}) == bool(apart)


def test_a_counter_that_nobody_could_read_at_the_swap_is_missing_and_never_zero(
    county: Any, record: Any
) -> None:
    """The line names it and waits; a reading at closing fills it."""
    new = "device/scanner/spare-7"
    record.write(swaps.DeviceSwapped(old=ONE, new=new, at_min=720), STATION)
    line = next(x for x in day_of(county, record).lines if x.equation == "I3")
    assert f"public_counter_close@{ONE}" in line.missing
    record.number(ONE, "public_counter_close", 60)
    line = next(x for x in day_of(county, record).lines if x.equation == "I3")
    assert f"public_counter_close@{ONE}" not in line.missing


def test_two_people_who_count_the_same_thing_differently_are_both_kept(county: Any, record: Any) -> None:
    """Two tablets, two numbers: both stand, and the line says every difference that is possible."""
    counts(record, ballots_issued=100, ballots_spoiled=0, ballots_fled=0, ballots_auxiliary=0, cast=100)
    record.number("site/S01", "ballots_spoiled", 1, "P002", source="hand")
    line = next(x for x in day_of(county, record).lines if x.equation == "I3")
    assert line.state is LineState.TWO_VALUES and line.possible == (-1, 0)


def order(record: Any, number: int, **fields: Any) -> Any:
    """An order written down."""
    body = orders.OrderGiven(
        **{"does": "extend_hours", "issued_by": "court", "source": "Case 28-1107, entry 4", **fields}
    )
    return record.write(body, f"order/{DAY}/{number}", site="S01")


def test_an_order_extends_hours_and_is_later_stayed(county: Any, record: Any) -> None:
    """Closing moves out and back; ballots cast under it stay a class of their own in the balance."""
    order(record, 1, until_min=1260, from_min=1200, apart="held_apart", sites=("site/S01",))
    found = orders_of(record.fold(), DAY)
    assert (closes_at(found, "S01", 1200), closes_at(found, "S02", 1200)) == (1260, 1200)
    assert day_of(county, record).closed.set_min == 1260
    order(record, 2, does="stay", sites=("site/S01",), supersedes=(f"order/{DAY}/1",))
    found = orders_of(record.fold(), DAY)
    assert [one.label for one in holding(found, "S01")] == ["2"]
    day = day_of(county, record)
    assert day.closed.set_min == 1200
    assert day.balance is not None
    assert "ballots_held_apart" in {line.key for line in day.balance.lines}
    assert order_notices(found) == ()


def test_the_call_about_closing_is_due_by_the_order(county: Any, record: Any) -> None:
    """A site whose hours are extended is not called silent at the old closing; a stay brings that back."""

    def due() -> dict[str, int]:
        found = heard_list(county.election(), plan, record.fold(), DAY, record.clock)
        return {s.site: c.call.due_min for s in found.sites for c in s.calls if c.call.step.value == "closed"}

    plan = county.plan({"check-in-desk": 1, "ballot-scanner": 1})
    before = due()
    order(record, 1, until_min=1260, sites=("site/S01",))
    assert due() == {**before, "S01": before["S01"] + 60}
    order(record, 2, does="stay", supersedes=(f"order/{DAY}/1",))
    assert due() == before


def test_a_stay_for_some_sites_leaves_the_order_at_the_others(record: Any) -> None:
    """A county-wide extension stayed at one site holds on elsewhere."""
    order(record, 1, until_min=1260)
    order(record, 2, does="stay", sites=("site/S02",), supersedes=(f"order/{DAY}/1",))
    found = orders_of(record.fold(), DAY)
    assert (closes_at(found, "S01", 1200), closes_at(found, "S02", 1200)) == (1260, 1200)


def test_taking_back_a_stay_asks_counsel_what_holds(record: Any) -> None:
    """The tool revives no order by itself; an order that names one not here is told as well."""
    order(record, 1, until_min=1260)
    order(record, 2, does="stay", supersedes=(f"order/{DAY}/1",))
    order(record, 3, does="other", supersedes=(f"order/{DAY}/2", f"order/{DAY}/9"))
    found = orders_of(record.fold(), DAY)
    assert closes_at(found, "S01", 1200) == 1200
    texts = [n.text.english() for n in order_notices(found)]
    assert any("takes back order 2" in text for text in texts)
    assert any("not written down here: 9" in text for text in texts)


def test_who_has_not_read_an_order_back_comes_first_on_the_call_list(record: Any) -> None:
    """Wrong read-backs first, then those not reached; a site outside its scope is not called."""
    order(record, 1, until_min=1260, sites=("site/S01", "site/S02", "site/S03"))
    (one,) = orders_of(record.fold(), DAY)
    for site, said in (("S01", "same"), ("S03", "not_same")):
        body = orders.OrderAcknowledged(at_site=f"site/{site}", read_back=said, at_min=1190)
        record.write(body, one.subject, site=site)
    found = acknowledgements(record.fold(), one, ("S01", "S02", "S03", "S04"))
    assert [(x.site, x.state) for x in found] == [("S03", "not_same"), ("S02", "not_yet"), ("S01", "same")]


def test_an_order_changes_every_site_when_the_day_is_reconciled_again(county: Any, record: Any) -> None:
    """The quick way and the whole way agree after an order, a jam and a swap."""
    from pollstead.reconcile.again import Observed, reconcile_again

    election, plan = county.election(), county.plan({"check-in-desk": 1, "ballot-scanner": 1})
    told(record, 1)
    first = record.fold()
    earlier = Observed(first)
    report = reconcile_day(election, plan, issued_lists(first), first, DAY)
    order(record, 1, until_min=1260, apart="held_apart")
    record.write(incidents.BallotJam(at_min=845, went="auxiliary_bin"), ONE)
    folded = record.fold()
    again = reconcile_again(
        report,
        earlier,
        election=election,
        plan=plan,
        issued=issued_lists(folded),
        folded=folded,
        observed=Observed(folded, earlier),
    )
    whole = reconcile_day(election, plan, issued_lists(folded), folded, DAY)
    assert again == whole and {site.closed.set_min for site in whole.sites} == {1260}


def supplied(county: Any, record: Any, now_min: int = 900) -> Any:
    """The lines of supplies by the record so far."""
    election = msgspec.structs.replace(
        county.election(), precincts=(Precinct(id="P1", site="S01", styles=("A", "B")),)
    )
    folded = record.fold()
    held = held_things(legs_of(folded))
    packets = packets_of(folded, held, election, DAY, record.clock)
    lines = supply_lines(
        folded,
        election,
        DAY,
        packets,
        until={"S01": 1200, "S02": 1200},
        opened={"S01": 420},
        now_min=now_min,
    )
    return lines, packets, stub_ranges(folded, DAY, packets)


def left(record: Any, at: int, amount: int, style: str = "A", **more: Any) -> None:
    """How many ballots a site says are left."""
    body = supplies.SupplyTold(item="ballots", style=style, left=amount, at_min=at, **more)
    record.write(body, "site/S01", *more.pop("who", ()))


def test_paper_that_runs_out_before_closing_is_told_ahead(county: Any, record: Any) -> None:
    """200 at 7:00, 80 at 13:00: 20 an hour, gone at 17:00; and once told as gone it says since when."""
    left(record, 420, 200)
    left(record, 780, 80)
    ((line,), _, _) = supplied(county, record, now_min=790)
    assert line.forecast is not None and line.forecast.middle_min == 780 + 240
    assert line.forecast.early_min is not None and line.forecast.late_min is not None
    assert line.forecast.early_min < 1020 < line.forecast.late_min
    assert line.before_end and not line.soon  # More than two hours ahead still.
    ((line,), _, _) = supplied(county, record, now_min=900)
    assert line.soon and line.out_since_min is None
    left(record, 1000, 0)
    left(record, 1030, 0)
    ((line,), _, _) = supplied(county, record, now_min=1040)
    assert line.out_since_min == 1000 and line.soon


def test_a_style_that_is_not_the_sites_is_told_with_its_minutes(county: Any, record: Any) -> None:
    """Wrong style delivered: from the doors to when it was taken away."""
    left(record, 480, 50, style="Z")
    left(record, 480, 50, style="B")
    (lines, _, _) = supplied(county, record)
    wrong = next(line for line in lines if line.style == "Z")
    assert lines[0] is wrong and wrong.not_here and (wrong.from_min, wrong.to_min) == (420, None)
    left(record, 505, 0, style="Z")
    (lines, _, _) = supplied(county, record)
    wrong = next(line for line in lines if line.style == "Z")
    assert (wrong.from_min, wrong.to_min) == (420, 505)
    assert not next(line for line in lines if line.style == "B").not_here


def test_a_packet_on_its_way_enters_when_it_is_received_and_an_overdue_one_names_its_stubs(
    county: Any, record: Any
) -> None:
    """Resupply is a hand-off; a packet that does not come is told with the numbers of its unused ballots."""
    left(record, 200, 100, stub_first="A-0401", stub_last="A-0500")
    packet = "supply/2028-11-07/1"
    body = supplies.SupplyPacked(
        to_site="site/S01", item="ballots", amount=50, style="A", stub_first="A-0901", stub_last="A-0950"
    )
    record.write(body, packet)
    sent = custody.ThingSent(
        from_place="place/warehouse", to_place="site/S01", expected_utc_ms=record.clock - 3_600_000
    )
    record.write(sent, packet)
    _, (one,), stubs = supplied(county, record)
    assert one.state == "overdue" and one.last_place == "place/warehouse"
    assert [(s.first, s.last, s.where) for s in stubs] == [
        ("A-0401", "A-0500", ""),
        ("A-0901", "A-0950", packet),
    ]
    record.write(days.ThingReceived(place="site/S01", state="received"), packet)
    _, (one,), stubs = supplied(county, record)
    assert one.state == "received" and one.received_min is not None
    at = one.received_min + 5
    left(record, at, 120)
    ((line,), _, _) = supplied(county, record, now_min=at)
    assert line.levels[-1].came == 50 and line.forecast is not None and line.forecast.used == 30
    balance = day_of(county, record).balance
    assert balance is not None and "ballots_resupplied" in {x.key for x in balance.lines}


def test_two_people_who_tell_two_numbers_of_one_minute_are_both_kept(county: Any, record: Any) -> None:
    """The minute is named; the lower number is reckoned with."""
    left(record, 420, 100)
    body = supplies.SupplyTold(item="ballots", style="A", left=90, at_min=420)
    record.write(body, "site/S01", "P002")
    ((line,), _, _) = supplied(county, record)
    assert line.differing == (420,) and line.levels[0].left == 90


def test_no_forecast_is_made_of_one_telling_or_of_more_left_than_before() -> None:
    """One telling has no rate; a stretch in which stock grew tells nothing of the use."""
    assert run_out((Level(at_min=420, left=100),)) is None
    assert run_out((Level(at_min=420, left=100), Level(at_min=500, left=140))) is None
    idle = run_out((Level(at_min=420, left=100), Level(at_min=500, left=100)))
    assert idle is not None and idle.middle_min is None


def test_after_people_left_a_room_custody_starts_again_from_what_they_said(record: Any) -> None:
    """What was left where: one place, one word, whatever was sent before; nothing waits for it."""
    box = "container/S01-box"
    record.write(days.ThingReceived(place="site/S01", state="received"), box)
    record.write(custody.ThingSent(from_place="place/a", to_place="place/b", expected_utc_ms=5), box)
    record.write(incidents.LeftThing(at_min=860, place="site/S01", state="left_there"), box)
    held = held_things(legs_of(record.fold()))[box]
    assert held.places == ("site/S01",) and held.open_leg is None and not held.differs


@settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=st.integers(0, 1000))
def test_the_order_in_which_incidents_and_orders_arrive_does_not_matter(record: Any, seed: int) -> None:
    """The fold of any shuffle gives the same incidents and orders."""
    if not record.journal.events:
        told(record, 1)
        told(record, 1, site="S02")
        record.write(incidents.IncidentEnded(at_min=640), f"incident/{DAY}/1")
        order(record, 1, until_min=1260)
        order(record, 1, until_min=1230)
    events = list(record.journal.events)
    random.Random(seed).shuffle(events)
    folded = record.fold(events)
    assert incidents_of(folded, DAY) == incidents_of(record.fold(), DAY)
    assert orders_of(folded, DAY) == orders_of(record.fold(), DAY)


def test_a_ring_of_repeated_incidents_ends(record: Any) -> None:
    """Two calls joined into each other do not hang the page."""
    told(record, 1)
    told(record, 2)
    record.write(incidents.IncidentJoined(into=f"incident/{DAY}/2"), f"incident/{DAY}/1")
    record.write(incidents.IncidentJoined(into=f"incident/{DAY}/1"), f"incident/{DAY}/2")
    found: tuple[Incident, ...] = incidents_of(record.fold(), DAY)
    assert len(found) == 2
