"""What an entered number most likely is: the cheapest way from the expected one, and whose number it is.

Distances are held against rapidfuzz (optimal string alignment with unit costs), a general-purpose library,
and against trying every way on short texts.
"""

from __future__ import annotations

import random
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rapidfuzz.distance import OSA

from pollstead.election.check_characters import with_check
from pollstead.election.reading_errors import MOST_COST, ErrorKind, ReadingError
from pollstead.election.words import Message
from pollstead.reconcile.diagnosis.costs import USUAL_COSTS, Costs, costs_of
from pollstead.reconcile.diagnosis.diagnose import Asked, Diagnosis, Fits, diagnose
from pollstead.reconcile.diagnosis.edits import align, replay, zeros_from
from pollstead.reconcile.diagnosis.known import Known, KnownNumbers, StockRun, VoidSeal, stock_run

LETTERS = "0123456789"
NUMBERS = st.text(alphabet=LETTERS + "AB", min_size=1, max_size=9)
SHORT = st.text(alphabet="0018", max_size=4)
LID = "closure/scanner/0001/lid"
SCANNER = "device/scanner/0001"


def unit_costs() -> Costs:
    """One step costs 1; steps that optimal string alignment does not have cost more than any way."""
    dear = {ErrorKind.TWIN, ErrorKind.LEADING_ZEROS}
    return costs_of(
        ReadingError(kind=kind.value, cost_millinats=MOST_COST if kind in dear else 1) for kind in ErrorKind
    )


@given(NUMBERS, NUMBERS)
def test_with_unit_costs_the_distance_is_optimal_string_alignment(wanted: str, found: str) -> None:
    """As rapidfuzz says."""
    assert align(wanted, found, unit_costs()).cost == OSA.distance(wanted, found)


def every_way(wanted: str, found: str, costs: Costs) -> int:
    """The cheapest of all ways, each tried: written anew from the words of the model."""

    @cache
    def rest(i: int, j: int) -> int:
        if i == len(wanted) and j == len(found):
            return 0
        ways = []
        if i < len(wanted) and j < len(found):
            same = wanted[i] == found[j]
            ways.append((0 if same else costs.substitution(wanted[i], found[j])) + rest(i + 1, j + 1))
        if i < len(wanted):
            ways.append(costs.of(ErrorKind.DROPPED) + rest(i + 1, j))
        if j < len(found):
            ways.append(costs.of(ErrorKind.INSERTED) + rest(i, j + 1))
            if i and wanted[i - 1] == found[j]:
                ways.append(costs.of(ErrorKind.DOUBLED) + rest(i, j + 1))
        if i + 2 <= len(wanted) and j + 2 <= len(found):
            (a, b), (c, d) = wanted[i : i + 2], found[j : j + 2]
            if (a, b) == (d, c) and a != b:
                ways.append(costs.of(ErrorKind.TRANSPOSITION) + rest(i + 2, j + 2))
            if a == b and c == d and a != c:
                ways.append(costs.of(ErrorKind.TWIN) + rest(i + 2, j + 2))
        zeros = zeros_from(wanted, i)
        if zeros:
            ways.append(costs.of(ErrorKind.LEADING_ZEROS) + rest(i + zeros, j))
        return min(ways)

    return rest(0, 0)


@given(SHORT, SHORT)
def test_the_cheapest_way_is_the_cheapest_of_all(wanted: str, found: str) -> None:
    """Every way tried on short texts."""
    assert align(wanted, found, USUAL_COSTS).cost == every_way(wanted, found, USUAL_COSTS)


@pytest.mark.parametrize(
    ("text", "start", "zeros"),
    [("0048", 0, 2), ("0", 0, 0), ("000", 0, 2), ("LM-007", 3, 2), ("1007", 1, 0), ("48", 0, 0), ("", 0, 0)],
)
def test_zeros_in_front_leave_a_digit(text: str, start: int, zeros: int) -> None:
    """Only those before the first other digit of a number, and never the last digit."""
    assert zeros_from(text, start) == zeros


@given(NUMBERS, NUMBERS, st.integers(2, 9))
def test_the_distance_scales_with_the_costs(wanted: str, found: str, factor: int) -> None:
    """All costs times n: the same way, n times as dear."""
    once, often = align(wanted, found, USUAL_COSTS), align(wanted, found, USUAL_COSTS.times(factor))
    assert often.cost == factor * once.cost
    assert [(e.kind, e.position) for e in often.edits] == [(e.kind, e.position) for e in once.edits]


@given(NUMBERS, NUMBERS)
def test_the_steps_lead_from_the_expected_number_to_the_one_read(wanted: str, found: str) -> None:
    """And their costs are the distance."""
    way = align(wanted, found, USUAL_COSTS)
    assert replay(wanted, way.edits) == found
    assert sum(edit.cost for edit in way.edits) == way.cost


def retold(wanted: str, said: tuple[Message, ...]) -> str:
    """What is read when the sentences happen to `wanted`, taken from their parameters alone."""
    read = list(wanted)
    for one in reversed(said):
        told = {p.name: p.value for p in one.params}
        at = int(told.get("position", 0))
        was, found = str(told.get("was", "")), str(told.get("found", ""))
        if "too many" in one.template:
            read[at:at] = list(found)
        elif "twice" in one.template:
            read[at:at] = list(was)
        else:
            assert "".join(read[at - 1 : at - 1 + len(was)]) == was
            read[at - 1 : at - 1 + len(was)] = list(found)
    return "".join(read)


@given(NUMBERS, NUMBERS)
def test_the_words_of_a_slip_make_the_entered_number_from_the_expected_one(wanted: str, found: str) -> None:
    """Whoever follows the sentences on the expected number gets what was entered."""
    told = diagnose(found, asked(wanted), KnownNumbers(()), USUAL_COSTS)
    typo = next((one for one in told.hypotheses if one.fits is Fits.TYPO), None)
    assert found == wanted or (typo is not None and retold(wanted, typo.words) == found)


def asked(expected: str, what: str = "seal") -> Asked:
    return Asked(expected=expected, what=what, subject=LID, owner=SCANNER, site="S01")


def seal(number: str, place: str, site: str = "S01", device: str = SCANNER) -> Known:
    return Known(
        number=number,
        what="seal",
        subject=f"closure/{place}",
        words=place.rpartition("/")[2],
        station="Scanner 1" if device == SCANNER else "Scanner 2",
        owner=device,
        site=site,
    )


OTHER = "device/scanner/0002"
COUNTY = (
    seal("0048051", "scanner/0001/lid"),
    seal("0048052", "scanner/0001/door"),
    seal("0048067", "scanner/0002/lid", device=OTHER),
    seal("0048068", "scanner/0002/door", device=OTHER),
    *(seal(f"00484{n:02d}", f"scanner/07{n:02d}/lid", "S07", f"device/scanner/07{n:02d}") for n in range(60)),
    seal("0048900", "scanner/0099/lid", "", "device/scanner/0099"),
)
RUNS = (StockRun(series="LM-A", before="", digits=7, after="", low=48001, high=50800),)
VOIDS = (VoidSeal(number="0049777", reason="damaged"),)
KNOWN = KnownNumbers(COUNTY, RUNS, VOIDS)


def first(entered: str, **more: int) -> Diagnosis:
    return diagnose(entered, asked("0048051"), KNOWN, USUAL_COSTS, **more)


@given(NUMBERS)
def test_an_equal_number_is_a_match_and_costs_nothing(number: str) -> None:
    """Whatever else has it, and however it is written."""
    told = diagnose(f" {number.lower()} ", asked(number), KNOWN, USUAL_COSTS)
    assert told.matches and told.hypotheses[0].cost == 0 and len(told.hypotheses) == 1


@pytest.mark.parametrize(
    ("fault", "entered", "fits", "thing", "words"),
    [
        ("typo", "0048851", Fits.TYPO, LID, "One digit differs at position 5: 0 read as 8."),
        (
            "exchanged digits",
            "0040851",
            Fits.TYPO,
            LID,
            "Two neighbors changed places at positions 4 and 5: 80 read as 08.",
        ),
        ("zeros", "48051", Fits.TYPO, LID, "The zeros in front were left out: 00 at position 1."),
        ("twice", "00480511", Fits.TYPO, LID, "The 1 at position 7 was read twice."),
        ("twin", "1148051", Fits.TYPO, LID, "A pair differs at positions 1 and 2: 00 read as 11."),
        (
            "neighboring closure",
            "0048052",
            Fits.CLOSURE,
            "closure/scanner/0001/door",
            "It belongs to door on the same device.",
        ),
        (
            "another device here",
            "0048067",
            Fits.DEVICE,
            "closure/scanner/0002/lid",
            "It belongs to lid of Scanner 2, at this site.",
        ),
        (
            "a cart's seal of another site",
            "0048433",
            Fits.SITE,
            "closure/scanner/0733/lid",
            "It belongs to lid of Scanner 2, at site S07.",
        ),
        (
            "seal of a device on no list",
            "0048900",
            Fits.SPARE,
            "closure/scanner/0099/lid",
            "It belongs to lid of Scanner 2, which no list has on this day.",
        ),
        (
            "spare",
            "0050799",
            Fits.SPARE,
            "seal/LM-A/0050799",
            "It is a spare seal of the stock, series LM-A.",
        ),
        (
            "void",
            "0049777",
            Fits.VOIDED,
            "seal/LM-A/0049777",
            "The seal ledger has this number as damaged: it is never used.",
        ),
        ("unknown", "7716294", Fits.UNKNOWN, "", "No list and no stock of this county has this number."),
    ],
)
def test_each_planted_fault_is_named_first(
    fault: str, entered: str, fits: Fits, thing: str, words: str
) -> None:
    """What was planted comes first, with its words and the id it points at, and how far the next one is."""
    told = first(entered)
    best = told.hypotheses[0]
    assert (best.fits, best.thing, best.words[0].english()) == (fits, thing, words), fault
    if len(told.hypotheses) > 1:
        assert best.to_next == told.hypotheses[1].cost - best.cost >= 0
    assert told.hypotheses[-1].to_next is None


def test_a_number_of_another_device_may_have_been_read_with_a_slip() -> None:
    """One character from the number of the lid of Scanner 2: said with the slip."""
    told = diagnose("0O48067", asked("0310007"), KNOWN, USUAL_COSTS)
    best = told.hypotheses[0]
    assert (best.fits, best.thing) == (Fits.DEVICE, "closure/scanner/0002/lid")
    assert best.words[-1].english() == "One character differs at position 2: 0 read as O."


def test_the_same_number_on_two_things_matches_and_is_told() -> None:
    """Two orders brought one number: it matches, and both things are named so that both are recorded."""
    twin = seal("0048051", "scanner/0901/lid", "S09", "device/scanner/0901")
    orders = (*RUNS, StockRun(series="LM-B", before="", digits=7, after="", low=48000, high=48100))
    told = diagnose("0048051", asked("0048051"), KnownNumbers((*COUNTY, twin), orders), USUAL_COSTS)
    assert told.matches and [one.subject for one in told.twice] == [twin.subject]
    assert [note.english() for note in told.notes] == [
        "lid of Scanner 2, at site S09, has the same number. Record both and tell the office.",
        "2 series of the stock have this number: LM-A, LM-B. Record both and tell the office.",
    ]


def test_two_who_read_the_same_make_a_slip_less_likely() -> None:
    """Two people would have had to make the same slip; a closure that was read in place of this one costs the
    same."""
    one, two = first("0048067"), first("0048067", readers=2)

    def cost(told: Diagnosis, fits: Fits) -> int:
        return next(
            h.cost for h in told.hypotheses if h.fits is fits and bool(h.edits) == (fits is Fits.TYPO)
        )

    assert cost(two, Fits.TYPO) == 2 * cost(one, Fits.TYPO)
    assert cost(two, Fits.DEVICE) == cost(one, Fits.DEVICE)


def test_where_another_person_read_the_expected_number_a_slip_is_likelier() -> None:
    """A spare does not stand on the closure when somebody else read the expected number there."""
    assert first("0050799").hypotheses[0].fits is Fits.SPARE
    assert first("0050799", matched=1).hypotheses[0].fits is Fits.TYPO


def test_equal_costs_are_told_as_ties() -> None:
    """Two closures of the device with one number: neither comes before the other by itself."""
    twins = (*COUNTY, seal("0048777", "scanner/0001/left"), seal("0048777", "scanner/0001/right"))
    told = diagnose("0048777", asked("0048051"), KnownNumbers(twins), USUAL_COSTS)
    assert told.tied == 2
    assert [h.thing.rpartition("/")[2] for h in told.likeliest] == ["left", "right"]
    assert told.hypotheses[0].to_next == 0


def test_a_number_that_lacks_its_check_character_is_told_so() -> None:
    """Where every number of the kind ends in its check character (ISO/IEC 7064, MOD 37,36)."""
    numbers = [with_check(f"00480{n:02d}") for n in range(8)]
    known = KnownNumbers([seal(number, f"scanner/{n:04d}/lid") for n, number in enumerate(numbers)])
    wrong = numbers[3][:4] + "7" + numbers[3][5:]
    told = diagnose(wrong, asked(numbers[3]), known, USUAL_COSTS)
    assert "check character" in told.notes[0].english()
    assert not diagnose(numbers[4], asked(numbers[3]), known, USUAL_COSTS).notes
    assert not first("0048851").notes, "this county's numbers have none"


@pytest.mark.parametrize(
    ("expected", "read", "fits"),
    [
        ("0", "3", Fits.COUNT),
        ("10427", "10430", Fits.COUNT),
        ("10427", "10472", Fits.TYPO),
        ("10427", "1427", Fits.TYPO),
    ],
)
def test_a_counter_may_truly_show_another_count(expected: str, read: str, fits: Fits) -> None:
    """A few more is another count; far off by one slip is a slip."""
    told = diagnose(read, asked(expected, "counter"), KNOWN, USUAL_COSTS)
    assert told.hypotheses[0].fits is fits


@settings(max_examples=30)
@given(st.sampled_from(["0048052", "0048067", "0048430", "0050001", "0049777", "48051", "99"]), st.randoms())
def test_the_order_of_what_is_known_changes_nothing(entered: str, chance: random.Random) -> None:
    """Shuffled lists give the same value."""
    things, runs, voids = list(COUNTY), list(RUNS) * 2, list(VOIDS)
    for one in (things, runs, voids):
        chance.shuffle(one)
    assert diagnose(entered, asked("0048051"), KnownNumbers(things, runs, voids), USUAL_COSTS) == first(
        entered
    )


@settings(max_examples=30)
@given(NUMBERS, st.integers(2, 6))
def test_costs_times_a_number_keep_the_order(entered: str, factor: int) -> None:
    """Every cost n times as high: the same explanations in the same order, but for rounding of logarithms."""
    once = first(entered)
    often = diagnose(entered, asked("0048051"), KNOWN, USUAL_COSTS.times(factor))
    for a, b in zip(once.hypotheses, often.hypotheses, strict=True):
        assert abs(b.cost - factor * a.cost) <= factor * (len(entered) + 1)
    if once.hypotheses[0].to_next is None or once.hypotheses[0].to_next > 2 * (len(entered) + 1):
        assert once.hypotheses[0].thing == often.hypotheses[0].thing


def test_a_countys_own_line_takes_the_place_of_ours() -> None:
    """One pair made cheap, one kind made dear; the rest stays."""
    own = costs_of(
        (
            ReadingError(kind="substitution", from_="2", to="q", cost_millinats=700),
            ReadingError(kind="another closure", cost_millinats=50_000),
        )
    )
    assert own.substitution("2", "Q") == 700
    assert own.substitution("Q", "2") == USUAL_COSTS.substitution("Q", "2")
    assert diagnose("0048052", asked("0048051"), KNOWN, own).hypotheses[0].fits is Fits.TYPO


@pytest.mark.parametrize("count", [2, 10, 377, 2_795, 10**6])
def test_choosing_among_many_costs_the_logarithm(count: int) -> None:
    """In thousandths, as the standard library's logarithm says."""
    import math

    assert abs(USUAL_COSTS.among(count) - 1000 * math.log(count)) <= 0.5 + 1e-9
    assert USUAL_COSTS.among(1) == USUAL_COSTS.among(0) == 0


@pytest.mark.parametrize(
    "row",
    [
        {"kind": "typo", "cost_millinats": 1},
        {"kind": "dropped", "from_": "1", "to": "7", "cost_millinats": 1},
        {"kind": "substitution", "from_": "1", "cost_millinats": 1},
        {"kind": "substitution", "from_": "1", "to": "1", "cost_millinats": 1},
        {"kind": "substitution", "from_": "11", "to": "7", "cost_millinats": 1},
        {"kind": "dropped", "cost_millinats": 0},
        {"kind": "dropped", "cost_millinats": MOST_COST + 1},
    ],
)
def test_a_cost_that_makes_no_sense_is_refused(row: dict[str, object]) -> None:
    """With words that say what is expected."""
    with pytest.raises(ValueError, match=r"must be|only a substitution|one character"):
        ReadingError(**row)  # type: ignore[arg-type]


def test_a_range_whose_ends_do_not_fit_is_no_run() -> None:
    """Reading the table names it; here it holds nothing."""
    assert stock_run("A", "0001", "9") is None
    assert stock_run("A", "X0001", "Y0009") is None
    run = stock_run("A", "x0001", "x0009")
    assert run is not None and run.holds("X0005") and not run.holds("X5") and not run.holds("none")


def test_the_stock_counts_a_number_once() -> None:
    """A box stands in the ranges and in its receipt."""
    again = StockRun(series="LM-R-1", before="", digits=7, after="", low=48001, high=48400)
    assert KnownNumbers((), (*RUNS, again)).in_stock == 2_800
