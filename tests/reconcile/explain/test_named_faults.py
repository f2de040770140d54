"""Mistakes that a closing evening knows, one by one: what comes first, and what helps to tell them apart."""

from __future__ import annotations

import random
from collections.abc import Callable

import pytest
from tests.reconcile.test_equations import balance_of, balanced

from pollstead.election.fault_odds import FaultKind
from pollstead.election.next_acts import LookAgain, act_costs
from pollstead.election.rules import CountyRules
from pollstead.election.station_type import CountUnit, SiteKind, StationType
from pollstead.reconcile.counts.balance import Reading
from pollstead.reconcile.counts.equations import Balance, Equation
from pollstead.reconcile.counts.jams import Jam
from pollstead.reconcile.counts.rows import Step
from pollstead.reconcile.counts.styles import StylesHere
from pollstead.reconcile.diagnosis.costs import USUAL_COSTS, prices_of
from pollstead.reconcile.explain.next_act import IN_A_CONTAINER, MOST_ACTS, next_acts
from pollstead.reconcile.explain.odds import USUAL
from pollstead.reconcile.explain.search import explain
from pollstead.reconcile.explain.slips import meant_by, slip_of
from pollstead.reconcile.explain.system import system_of
from pollstead.reconcile.explain.terms import (
    Bound,
    Explained,
    FromWhere,
    KnownNumber,
    OtherNumber,
    SiteNight,
)
from pollstead.reconcile.explain.words import act_words, explanation_words, sentence

Shipped = Callable[[str], tuple[tuple[StationType, ...], SiteKind]]
Rules = Callable[..., CountyRules]
FREE = {
    "unused": 917,
    "spoiled": 13,
    "provisional": 7,
    "cancelled": 4,
    "fled": 1,
    "aux": 2,
    "printed": 0,
    "resupplied": 0,
    "added": 3,
    "left": 0,
    "apart": 0,
}


class Night:
    """One site whose numbers balance until a test changes them."""

    def __init__(self, balance: Balance, values: dict[str, int], cast: str) -> None:
        self.balance = balance
        self.values = values
        self.device = cast
        self.more: dict[str, object] = {}

    def key(self, term: str) -> str:
        """A number of the first device."""
        return f"{term}@{self.device}"

    def night(self) -> SiteNight:
        """The night as it is now."""
        readings = tuple(Reading(key=key, value=value) for key, value in self.values.items())
        given: dict[str, object] = {"site": "S01", "balance": self.balance, "readings": readings}
        return SiteNight(**{**given, **self.more})  # type: ignore[arg-type]

    def explained(self) -> Explained:
        """What explains it."""
        return explain(self.night(), USUAL)

    def first(self) -> set[tuple[str, ...]]:
        """The kinds in the first group: of explanations that ask for one number, the likeliest."""
        found: dict[object, tuple[str, ...]] = {}
        for one in self.explained().groups[0].explanations:
            asked = tuple(fault.moves for fault in one.faults)
            found.setdefault(asked, tuple(fault.kind.value for fault in one.faults))
        return set(found.values())


@pytest.fixture
def site(shipped_kind: Shipped, rules_of: Rules) -> Night:
    """A site with two scanners, an auxiliary bin and all that a paper site counts."""
    types, kind = shipped_kind("a")
    balance = balance_of(types, kind, rules_of(), more=frozenset({Step.AUXILIARY, Step.PAPER_COUNT}))
    draw = random.Random(5)
    values = balanced(balance, lambda name: FREE.get(name, draw.randint(203, 588)))
    for key in values:
        if key.startswith("public_counter_open"):
            device = key.partition("@")[2]
            for term in ("public_counter_close", "report_count_close", "memory_count_close"):
                if f"{term}@{device}" in values:
                    values[f"{term}@{device}"] -= values[key]
            values[key] = 0
        if key.startswith("paper_in_box"):
            values[key] = values[f"public_counter_close@{key.partition('@')[2]}"]
    for line in balance.lines:
        if line.term.id == "paper_in_box":
            values[line.key] = values[f"public_counter_close@{line.device}"]
    device = next(line.device for line in balance.lines if line.device)
    night = Night(balance, values, device)
    assert not night.explained().differences, "a night before any mistake balances"
    return night


def test_without_a_difference_nothing_is_explained(site: Night) -> None:
    """A night that balances has no groups, no sentence and no next act."""
    explained = site.explained()
    assert (explained.groups, explained.fits, explained.unknown) == ((), 0, 0.0)
    assert sentence(explained) is None
    assert next_acts(site.night(), explained, act_costs(), 2) == ()


def test_two_digits_that_changed_places_come_first_and_that_number_is_read_again(site: Night) -> None:
    """The report's 412 written as 421: one explanation, and the report is the next thing to read."""
    key = site.key("report_count_close")
    site.values[site.key("public_counter_close")] = 412
    for term in ("report_count_close", "memory_count_close", "paper_in_box"):
        if site.key(term) in site.values:
            site.values[site.key(term)] = 412
    moved = sum(v for k, v in site.values.items() if k.startswith("public_counter_close"))
    spare = site.values["ballots_spoiled"] + site.values["ballots_fled"] + site.values["ballots_auxiliary"]
    site.values["ballots_issued"] = moved + spare
    site.values["check_ins"] = (
        site.values["ballots_issued"]
        - site.values["ballots_reissued"]
        + site.values["check_ins_cancelled"]
        - site.values.get("check_ins_added", 0)
    )
    used = moved + spare + site.values["provisional_issued"] + site.values["ballots_unused"]
    site.values["ballots_received"] = used - site.values.get("ballots_resupplied", 0)
    opened, closed = site.key("lifetime_counter_open"), site.key("lifetime_counter_close")
    site.values[closed] = site.values[opened] + 412
    assert not site.explained().differences
    site.values[key] = 421
    assert site.first() == {("digits swapped",)}
    explained = site.explained()
    said = sentence(explained)
    assert said is not None and said.english() == "Difference of 9; one explanation fits."
    act = next_acts(site.night(), explained, act_costs(), 2)
    assert not act or (act[0].act, act[0].key) == (LookAgain.REREAD_PAPER, key)


@pytest.mark.parametrize("number", [12, 908, 4711])
def test_digits_that_changed_places_leave_a_multiple_of_nine(number: int) -> None:
    """Casting out nines, as bookkeepers have long used it (from memory): swapped neighbors move by 9 n."""
    prices = prices_of(USUAL_COSTS)
    swapped = [
        meant
        for meant in meant_by(number)
        if (slip := slip_of(meant, number, prices)) and slip[0] is FaultKind.DIGITS_SWAPPED
    ]
    assert swapped and all((number - meant) % 9 == 0 for meant in swapped)


def test_a_ballot_counted_twice_after_a_jam_comes_first_where_a_jam_was_written_down(site: Night) -> None:
    """All counters of the device one too high: with the jam that device, without it every device alike."""
    for term in ("public", "lifetime"):
        site.values[site.key(f"{term}_counter_close")] += 1
    for term in ("report_count_close", "memory_count_close"):
        site.values[site.key(term)] += 1
    if site.key("paper_in_box") in site.values:
        site.values.pop(site.key("paper_in_box"))
    plain = site.explained().groups[0]
    assert any(f.kind is not FaultKind.SCANNED_TWICE for e in plain.explanations for f in e.faults)
    jam = Jam(event="e", device=site.device, site="S01", at_min=700, went="scanned_again")
    site.more["jams"] = (jam,)
    first = site.explained().groups[0].explanations[0]
    assert [f.kind for f in first.faults] == [FaultKind.SCANNED_TWICE]
    assert site.key("public_counter_close") in first.faults[0].keys


def test_a_memory_device_added_up_twice_is_told_so(site: Night) -> None:
    """Twice the count of the screen: counted twice, before any slip of digits."""
    site.values[site.key("memory_count_close")] *= 2
    assert site.first() == {("counted twice",)}


def test_a_double_check_in_is_two_counts_and_nothing_more(site: Night) -> None:
    """One line too many on the list is one of several; the words name a number and nobody."""
    site.values["check_ins"] += 1
    explained = site.explained()
    read = system_of(site.night()).values
    said = [
        part.english() for one in explained.groups[0].explanations for part in explanation_words(one, read)
    ]
    assert "Lines that may stand twice on the check-in list: 1." in said
    assert explained.fits > 1


def test_a_spoiled_ballot_that_nobody_logged_comes_before_one_whose_voter_left(site: Night) -> None:
    """Spoiled ballots and reissues are readings of one another: the reissue was logged, the ballot not."""
    site.values["ballots_spoiled"] -= 1
    assert ("spoiled not logged",) in site.first()
    assert ("fled not logged",) not in site.first()


def test_a_number_that_was_not_read_is_unknown_and_never_zero(site: Night) -> None:
    """Without the screen the report and the memory device still differ, and nothing names the screen."""
    site.values.pop(site.key("public_counter_close"))
    assert site.explained().groups == ()
    site.values[site.key("memory_count_close")] += 90
    explained = site.explained()
    assert explained.groups
    assert all(
        site.key("public_counter_close") not in e.faults[0].keys for e in explained.groups[0].explanations
    )


def test_two_people_who_read_one_number_differently_are_both_kept(site: Night) -> None:
    """Either may have slipped; the rows say which one, since the other one closes them."""
    key = site.key("report_count_close")
    right = site.values[key]
    wrong = int(str(right)[0] + str((int(str(right)[1]) + 1) % 10) + str(right)[2:])
    night = site.night()
    both = (*night.readings, Reading(key=key, value=wrong))
    told = explain(SiteNight(site="S01", balance=site.balance, readings=both), USUAL)
    fault = told.groups[0].explanations[0].faults[0]
    assert fault.keys == (key,)
    assert fault.moves[0][1] == wrong - right


def test_the_lifetime_counter_written_for_the_public_one(site: Night) -> None:
    """The same number stands on both lines of the device: no digit was misread."""
    site.values[site.key("public_counter_close")] = site.values[site.key("lifetime_counter_close")]
    assert site.first() == {("lifetime counter written for public",)}


def test_the_number_of_another_site_or_of_the_day_before(site: Night) -> None:
    """Known numbers from elsewhere explain what no slip does."""
    site.values["ballots_unused"] = 346
    assert ("another number",) in site.first()
    site.more["others"] = (
        OtherNumber(key="ballots_unused", value=346, where=FromWhere.ANOTHER_SITE, name="S07", among=39),
    )
    assert site.first() == {("another site",)}
    site.more["others"] = (
        OtherNumber(key="ballots_unused", value=346, where=FromWhere.DAY_BEFORE, name="2028-11-06"),
    )
    assert site.first() == {("day before",)}


def test_provisional_ballots_counted_among_the_regular_ones(site: Night) -> None:
    """Check-ins and issued ballots are both too many by the provisional ballots."""
    for key in ("check_ins", "ballots_issued"):
        site.values[key] += site.values["provisional_issued"]
    assert ("provisional counted inside",) in site.first()


def test_sheets_written_for_ballots(shipped_kind: Shipped, rules_of: Rules) -> None:
    """Two sheets a ballot: the spoiled sheets were counted."""
    types, kind = shipped_kind("a")
    balance = balance_of(types, kind, rules_of(**{"sheets-per-ballot": 2}))
    draw = random.Random(5)
    values = balanced(balance, lambda name: FREE.get(name, draw.randint(203, 588)))
    values["ballots_spoiled"] *= 2
    readings = tuple(Reading(key=k, value=v) for k, v in values.items())
    told = explain(SiteNight(site="S01", balance=balance, readings=readings), USUAL)
    kinds = [f.kind for e in told.groups[0].explanations for f in e.faults]
    assert set(kinds[:2]) == {FaultKind.SHEETS_FOR_BALLOTS, FaultKind.WRITTEN_DOUBLE}
    assert told.groups[0].keys == {"ballots_spoiled"}


def test_a_note_of_the_day_speaks_against_a_number_below_it(site: Night) -> None:
    """A counter never goes back: the explanation under which it would is put behind the others."""
    public = site.key("public_counter_close")
    site.values[site.key("report_count_close")] = site.values[public] + 100
    for term in ("memory_count_close", "paper_in_box"):
        site.values.pop(site.key(term), None)
    before = site.explained()
    site.more["bounds"] = (Bound(key=site.key("report_count_close"), least=site.values[public] + 50),)
    after = site.explained()
    assert before.groups[0].share > after.groups[0].share or before.groups[0].keys != after.groups[0].keys


def test_a_stock_count_from_elsewhere_tells_received_from_unused(site: Night) -> None:
    """The receipt and the unused ballots move one row alike; the warehouse's own count parts them."""
    site.values["ballots_received"] += 100
    assert site.explained().groups[0].keys >= {"ballots_received"} or site.explained().fits > 1
    row = Equation(
        id="stock",
        words="The receipt says what the warehouse sent",
        subject="site/S01",
        unit=CountUnit.BALLOTS,
        terms=((1, "ballots_received"), (-1, "stock/ballots")),
    )
    site.more["more"] = (row,)
    site.more["known"] = (
        KnownNumber(key="stock/ballots", value=site.values["ballots_received"] - 100, exact=True),
    )
    first = site.explained().groups[0]
    assert first.keys == {"ballots_received"}


def test_styles_that_do_not_balance_are_explained_where_totals_do(
    shipped_kind: Shipped, rules_of: Rules
) -> None:
    """Totals balance and two styles do not: the two numbers stand in each other's place."""
    import msgspec

    from pollstead.reconcile.counts.equations import build_balance

    types, kind = shipped_kind("d")
    kind = msgspec.structs.replace(kind, balance=(*kind.balance, Step.BY_STYLE.value))
    styles = StylesHere(sheets=(("A", 1), ("B", 1)))
    balance = build_balance("S01", kind, types, (), rules_of(), styles=styles)
    keys = [line.key for line in balance.lines]
    unused = [key for key in keys if key.startswith("ballots_unused%")]
    assert len(unused) == 2
    values = dict.fromkeys(keys, 0)
    for style, left in (("A", 140), ("B", 75)):
        counted = {"ballots_received": left + 60, "ballots_unused": left, "ballots_in_box": 60}
        for name, value in counted.items():
            values[f"{name}%{style}"] = value
            values[name] = values.get(name, 0) + value
    for name in ("check_ins", "ballots_issued"):
        values[name] = 120
    for name in keys:
        if name.startswith("ballots_issued%"):
            values[name] = 60
    readings = tuple(Reading(key=k, value=v) for k, v in values.items() if k in keys)
    assert not explain(SiteNight(site="S01", balance=balance, readings=readings), USUAL).differences
    values[unused[0]], values[unused[1]] = values[unused[1]], values[unused[0]]
    readings = tuple(Reading(key=k, value=v) for k, v in values.items() if k in keys)
    told = explain(SiteNight(site="S01", balance=balance, readings=readings), USUAL)
    first = [one.faults[0] for one in told.groups[0].explanations]
    assert {fault.kind for fault in first} == {FaultKind.ROWS_EXCHANGED}
    # What was received may stand exchanged as well: no number tells the two apart.
    assert set(unused) in [set(fault.keys) for fault in first]


def test_two_who_read_the_same_apart_speak_for_their_number(site: Night) -> None:
    """Of two numbers that may be swapped, the one that two people read is believed; not so from one sheet."""
    import msgspec

    from pollstead.reconcile.counts.balance import Origin

    screen, report = site.key("public_counter_close"), site.key("report_count_close")
    for key in tuple(site.values):
        if key not in (screen, report):
            del site.values[key]
    site.values[screen], site.values[report] = 412, 421
    night = site.night()
    twice = tuple(
        msgspec.structs.replace(r, people=("person/1", "person/2")) if r.key == report else r
        for r in night.readings
    )
    told = explain(msgspec.structs.replace(night, readings=twice), USUAL)
    assert told.groups[0].keys == {screen}
    sheet = tuple(
        msgspec.structs.replace(r, origins=(Origin(event="e", source="sheet", sheet="sheet/1"),))
        for r in twice
    )
    told = explain(msgspec.structs.replace(night, readings=sheet), USUAL)
    assert told.groups[0].keys == {screen, report}


def test_what_asks_for_the_same_number_is_one_group_however_it_came_to_be_wrong(site: Night) -> None:
    """A report misread by one digit: that it was misread and that it is any other number are one group."""
    site.values[site.key("report_count_close")] += 300
    groups = site.explained().groups
    asked = [{tuple(f.moves for f in e.faults) for e in group.explanations} for group in groups]
    assert len(asked[0]) == 1
    assert len(groups[0].explanations) > 1
    assert all(not one & other for n, one in enumerate(asked) for other in asked[n + 1 :])


def _exchanged(site: Night) -> int:
    """Have the first device's numbers stand as at opening, as if it was exchanged; how many it had."""
    opened, closed = site.key("public_counter_open"), site.key("public_counter_close")
    counted = site.values[closed] - site.values[opened]
    site.values.pop(site.key("paper_in_box"), None)
    site.values[closed] = site.values[site.key("report_count_close")] = site.values[opened]
    site.values[site.key("lifetime_counter_close")] = site.values[site.key("lifetime_counter_open")]
    return counted


def test_an_exchanged_device_that_nobody_read_at_closing_comes_first_and_is_read_again(site: Night) -> None:
    """All closing numbers are those of the opening, the memory device went on: read the device."""
    counted = _exchanged(site)
    explained = site.explained()
    (first,) = explained.groups[0].explanations
    assert [fault.kind for fault in first.faults] == [FaultKind.CLOSING_NOT_READ]
    assert dict(first.faults[0].moves)[site.key("public_counter_close")] == -counted
    said = explanation_words(first, system_of(site.night()).values)[0].english()
    assert f" {counted} would fit." in said and "nobody may have read them again" in said
    acts = next_acts(site.night(), explained, act_costs(), 2)
    assert acts[0].key in first.faults[0].keys
    assert acts[0].outcomes[1].leaves == (first.id,)


def test_a_device_that_went_on_in_one_of_its_numbers_was_read(site: Night) -> None:
    """The report of the device stands where it closed: then somebody read it, and one number was copied."""
    report = site.values[site.key("report_count_close")]
    _exchanged(site)
    site.values[site.key("report_count_close")] = report
    kinds = {f.kind for g in site.explained().groups for e in g.explanations for f in e.faults}
    assert FaultKind.CLOSING_NOT_READ not in kinds


def test_a_screen_that_was_read_before_the_last_voters_is_one_mistake(site: Night) -> None:
    """Both counters of the screen are two short of the report, the memory device and the paper."""
    for term in ("public_counter_close", "lifetime_counter_close"):
        site.values[site.key(term)] -= 2
    assert site.first() == {("screen read too early",)}


@pytest.mark.parametrize("held", [1, 2, 52])
def test_a_bin_that_was_scanned_later_and_still_counted_is_found_whole(site: Night, held: int) -> None:
    """All ballots of the bin stand in a device's counters too, however many there were."""
    more = held - site.values["ballots_auxiliary"]
    site.values["ballots_auxiliary"] = held
    for key in ("ballots_issued", "check_ins", "ballots_received"):
        site.values[key] += more
    assert not site.explained().differences
    for term in (
        "public_counter_close",
        "lifetime_counter_close",
        "report_count_close",
        "memory_count_close",
    ):
        site.values[site.key(term)] += held
    site.values[site.key("paper_in_box")] += held
    told = [e.faults for g in site.explained().groups for e in g.explanations if len(e.faults) == 1]
    assert FaultKind.AUXILIARY_TWICE in {faults[0].kind for faults in told}
    assert all(f.size in (held, 0) for (f,) in told if f.kind is FaultKind.AUXILIARY_TWICE)


def test_nothing_happened_more_often_than_the_numbers_allow(site: Night) -> None:
    """No held ballot was cast after all where none is held; no bin of two has three counted twice."""
    site.values["ballots_fled"] = 0
    site.values["ballots_issued"] += 3
    for group in site.explained().groups:
        for fault in (fault for one in group.explanations for fault in one.faults):
            for key, amount in fault.moves:
                assert site.values.get(key, 0) >= amount or key not in site.values


def test_one_jam_is_of_one_ballot(site: Night) -> None:
    """Two ballots too many with one jam record are as likely as without; with two, likelier."""
    for term in (
        "public_counter_close",
        "lifetime_counter_close",
        "report_count_close",
        "memory_count_close",
    ):
        site.values[site.key(term)] += 2
    site.values.pop(site.key("paper_in_box"), None)

    def cost(jams: int) -> int:
        site.more["jams"] = tuple(
            Jam(event=str(n), device=site.device, site="S01", at_min=700, went="not_known")
            for n in range(jams)
        )
        own = site.key("public_counter_close")
        return min(
            e.cost
            for g in site.explained().groups
            for e in g.explanations
            if [f.kind for f in e.faults] == [FaultKind.SCANNED_TWICE] and own in e.faults[0].keys
        )

    assert cost(0) == cost(1) > cost(2)


def test_the_order_of_readings_is_no_matter(site: Night) -> None:
    """The same numbers in another order give the same explanations, digest and ranking."""
    site.values["ballots_spoiled"] += 1
    site.values[site.key("report_count_close")] += 90
    night = site.night()
    turned = SiteNight(site="S01", balance=night.balance, readings=night.readings[::-1])
    assert explain(turned, USUAL) == explain(night, USUAL)


def test_the_next_act_is_the_one_that_tells_most_for_least(site: Night) -> None:
    """No container is opened for it, and what was counted as often as the rule says is not counted again."""
    site.values["ballots_spoiled"] -= 1
    explained = site.explained()
    acts = next_acts(site.night(), explained, act_costs(), 2)
    assert acts[0].act is LookAgain.COUNT_SPOILED
    assert act_words(acts[0]).english().startswith("Count once more: ")
    assert acts[0].outcomes[0].as_written
    assert all(act.key.partition("@")[0] not in IN_A_CONTAINER for act in acts)
    enough = next_acts(site.night(), explained, act_costs(), 1)
    assert all(act.act is not LookAgain.COUNT_SPOILED for act in enough)


def test_the_look_that_confirms_the_likeliest_explanation_is_always_offered(site: Night) -> None:
    """Nothing is corrected unseen: even where it would tell next to nothing, one act reads its number."""
    for term in (
        "public_counter_close",
        "lifetime_counter_close",
        "report_count_close",
        "memory_count_close",
    ):
        site.values[site.key(term)] += 1
    site.values.pop(site.key("paper_in_box"), None)
    site.more["jams"] = (
        Jam(event="e", device=site.device, site="S01", at_min=700, went="in_box", before=9, after=10),
        Jam(event="f", device=site.device, site="S01", at_min=710, went="scanned_again", before=9, after=10),
    )
    explained = site.explained()
    first = explained.groups[0].explanations[0].faults[0]
    assert first.kind is FaultKind.SCANNED_TWICE
    acts = next_acts(site.night(), explained, act_costs(), 2)
    assert any(act.key in first.keys for act in acts)
    assert len(acts) <= MOST_ACTS


def test_a_number_of_the_day_before_is_read_again_on_its_paper(site: Night) -> None:
    """Yesterday's unused ballots were misread: yesterday's sheet is what there is to look at."""
    yesterday = "2028-11-06/ballots_unused"
    row = Equation(
        id="I10-ballots",
        words="as left the day before",
        subject="site/S01",
        unit=CountUnit.BALLOTS,
        terms=((1, "ballots_received"), (-1, yesterday)),
    )
    site.more["more"] = (row,)
    site.more["known"] = (KnownNumber(key=yesterday, value=site.values["ballots_received"] + 300),)
    acts = next_acts(site.night(), site.explained(), act_costs(), 2)
    assert (acts[0].act, acts[0].key) == (LookAgain.REREAD_PAPER, yesterday)
    assert act_words(acts[0]).english() == "Read again what is written: Unused ballots at closing 2028-11-06."
