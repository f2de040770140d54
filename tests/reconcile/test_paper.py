"""Signed paper: what counts of what was keyed, which values are to be keyed, which sheets are back.

Where a line counts only after two people keyed the same, that is double keying: common practice, no source;
varies by county.
"""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.reconcile.conftest import DAY, CountyMaker, RecordMaker

from pollstead.plan.terms.version import SheetKind
from pollstead.reconcile.day import SiteDay, reconcile_day
from pollstead.reconcile.observed import observations_of
from pollstead.reconcile.paper.keyed import Keyed, counting, keyed_lines
from pollstead.reconcile.paper.progress import LineMeaning, PaperReport, paper_report
from pollstead.reconcile.paper.sheets import PrintedSheet, SheetState, held_sheets, void_sheets
from pollstead.reconcile.paper.wanted import MOST_VALUES, MarkedLine, Why, wanted_values
from pollstead.record.event import Signed
from pollstead.record.kinds.days import CountRead
from pollstead.record.kinds.papers import SheetHeld
from pollstead.record.kinds.swaps import SheetsVoided, VoidedSheet

if TYPE_CHECKING:
    from pollstead.record.fold import Fold

COUNTS = {"voting_booth": 4, "scanner": 2, "bmd": 1}
SHEET = "AAAA-AAAA-AAAA"


def keyed(
    record: RecordMaker, line: int, term: str, value: int, who: str, subject: str = "site/S01"
) -> Signed:
    """One person keys one line of the balance sheet."""
    body = CountRead(term=term, value=value, source="hand", sheet=f"sheet/{SHEET}", line=f"L{line}")
    return record.write(body, subject, who)


class Site:
    """One site of an invented county with a record, reconciled on demand."""

    def __init__(self) -> None:
        county = CountyMaker()
        self.election = county.election()
        types = {t.id for t in county.types}
        self.plan = county.plan({t: n for t, n in COUNTS.items() if t in types} or {next(iter(types)): 1})
        self.issued = county.lists(self.election, self.plan)

    def day(self, folded: Fold) -> SiteDay:
        """The site's day."""
        return reconcile_day(self.election, self.plan, self.issued, folded, DAY).site("S01")

    def paper(self, folded: Fold, meanings: tuple[LineMeaning, ...] = ()) -> PaperReport:
        """The paper of the day: one balance sheet, one closing sheet, one printed again and void."""
        sheets = tuple(
            PrintedSheet(serial=serial, kind=kind, site="S01", day=DAY.isoformat(), key=key, printed_utc_ms=n)
            for n, (serial, kind, key) in enumerate(
                (
                    (SHEET, SheetKind.BALANCE, "BALANCE"),
                    ("BBBB-BBBB-BBBB", SheetKind.CLOSING, "CLOSING/1"),
                    ("CCCC-CCCC-CCCC", SheetKind.CLOSING, "CLOSING/0"),
                    ("DDDD-DDDD-DDDD", SheetKind.COVER, "COVER"),
                )
            )
        )
        return paper_report(
            DAY, (self.day(folded),), sheets, void_sheets(folded), held_sheets(folded), meanings
        )


@pytest.fixture(scope="module")
def site() -> Site:
    """The site, made once: it is never changed."""
    return Site()


def readings(day: SiteDay) -> dict[str, tuple[int, ...]]:
    """Every value that enters the balance, by key."""
    found: dict[str, tuple[int, ...]] = {}
    for reading in day.readings:
        found[reading.key] = (*found.get(reading.key, ()), reading.value)
    return found


def test_one_keying_enters_nothing_and_two_alike_do(site: Site, record: RecordMaker) -> None:
    """A number counts once two people keyed it; both stand behind it as readers."""
    keyed(record, 3, "ballots_spoiled", 12, "P001")
    day = site.day(record.fold())
    assert readings(day) == {} and len(day.keyed) == 1
    keyed(record, 3, "ballots_spoiled", 12, "P002")
    day = site.day(record.fold())
    assert readings(day) == {"ballots_spoiled": (12,)} and day.keyed == ()
    assert day.readings[0].people == ("person/P001", "person/P002")


def test_a_second_name_in_one_event_is_no_second_keying(site: Site, record: RecordMaker) -> None:
    """Whoever is only named as second person has keyed nothing; nor has the same person twice."""
    body = CountRead(term="ballots_spoiled", value=12, source="hand", sheet=f"sheet/{SHEET}", line="L3")
    record.write(body, "site/S01", "P001", "P002")
    record.write(body, "site/S01", "P001")
    day = site.day(record.fold())
    assert readings(day) == {} and len(day.keyed) == 2
    assert record.journal.events[-1].id in day.observations()


def test_two_keyings_that_differ_enter_nothing_until_one_is_corrected(
    site: Site, record: RecordMaker
) -> None:
    """Both stay, the difference is named; the third look corrects one of them and then the number counts."""
    keyed(record, 3, "ballots_spoiled", 21, "P001")
    second = keyed(record, 3, "ballots_spoiled", 12, "P002")
    day = site.day(record.fold())
    (notice,) = [n for n in day.notices if n.rule == "paper-keyed-differently"]
    assert readings(day) == {} and notice.found == "21; 12"
    record.correct(second, CountRead(term="ballots_spoiled", value=21, source="hand"), "P002")
    day = site.day(record.fold())
    assert readings(day) == {"ballots_spoiled": (21,)}
    assert [n for n in day.notices if n.rule.startswith("paper")] == []
    (line,) = keyed_lines(observations_of(record.fold()))
    assert line.state is Keyed.AGREED and [o.number for o in line.former] == [12]


def test_paper_that_differs_from_the_telephone_keeps_both(site: Site, record: RecordMaker) -> None:
    """The number that came first stays, paper's stands beside it, and the notice names line and both."""
    record.number("site/S01", "ballots_spoiled", 11, "P009", source="hand")
    for who in ("P001", "P002"):
        keyed(record, 3, "ballots_spoiled", 12, who)
    day = site.day(record.fold())
    assert readings(day) == {"ballots_spoiled": (11, 12)}
    (notice,) = [n for n in day.notices if n.rule == "paper-differs"]
    assert notice.subject == f"sheet/{SHEET}/L3" and notice.found == "11; 12"
    (one,) = site.paper(record.fold()).sites
    (against,) = one.against
    assert against.other[0].entered_by == ("person/P009",)
    assert [o.entered_by for o in against.line.keyings] == [("person/P001",), ("person/P002",)]


def test_a_line_read_out_by_telephone_counts_as_any_call(site: Site, record: RecordMaker) -> None:
    """Naming the line on the telephone keys nothing: the number enters, and paper stands beside it."""
    body = CountRead(
        term="ballots_spoiled",
        value=11,
        source="hand",
        sheet=f"sheet/{SHEET}",
        line="L3",
        by_phone="read_back",
    )
    record.write(body, "site/S01", "P009")
    assert readings(site.day(record.fold())) == {"ballots_spoiled": (11,)}
    for who in ("P001", "P002"):
        keyed(record, 3, "ballots_spoiled", 12, who)
    assert readings(site.day(record.fold())) == {"ballots_spoiled": (11, 12)}


def test_paper_that_says_what_the_telephone_said_is_one_value(site: Site, record: RecordMaker) -> None:
    """One value, three names, no notice."""
    record.number("site/S01", "ballots_spoiled", 12, "P009", source="hand")
    for who in ("P001", "P002"):
        keyed(record, 3, "ballots_spoiled", 12, who)
    day = site.day(record.fold())
    assert readings(day) == {"ballots_spoiled": (12,)}
    assert [n for n in day.notices if n.rule.startswith("paper")] == []


def test_re_entry_doubled_the_next_day_is_one_value_and_noted(site: Site, record: RecordMaker) -> None:
    """Four keyings of one line, by the same two and by two others: one value, counted as two readings."""
    for who in ("P001", "P002"):
        keyed(record, 3, "ballots_spoiled", 12, who)
    once = site.day(record.fold())
    for who in ("P001", "P002", "P003", "P004"):
        keyed(record, 3, "ballots_spoiled", 12, who)
    doubled = site.day(record.fold())
    assert doubled.readings == once.readings and doubled.lines == once.lines
    (line,) = keyed_lines(observations_of(record.fold()))
    assert len(line.keyings) == 2 and len(line.again) == 4
    assert {o.event for o in line.again} == {o.event for o in doubled.keyed}


KEYINGS = st.lists(
    st.tuples(
        st.sampled_from([(1, "ballots_spoiled"), (2, "ballots_unused"), (3, "check_ins")]),
        st.sampled_from([7, 8]),
        st.sampled_from(["P001", "P002", "P003"]),
        st.booleans(),
    ),
    min_size=1,
    max_size=10,
)


def written(keyings: list[tuple[tuple[int, str], int, str, bool]]) -> RecordMaker:
    """A record of keyings; where the last part is true the number came by telephone instead."""
    record = RecordMaker()
    for (line, term), value, who, by_phone in keyings:
        if by_phone:
            record.number("site/S01", term, value, who, source="hand")
        else:
            keyed(record, line, term, value, who)
    return record


@settings(max_examples=25, deadline=None)
@given(keyings=KEYINGS, data=st.data())
def test_the_order_of_events_and_merges_changes_nothing(
    site: Site,
    keyings: list[tuple[tuple[int, str], int, str, bool]],
    data: st.DataObject,
) -> None:
    """Events in any order, each any number of times, give the same day and the same paper."""
    events = written(keyings).journal.events
    mixed = data.draw(st.permutations([*events, *events[: len(events) // 2]]))
    one, other = RecordMaker().fold(list(events)), RecordMaker().fold(list(mixed))
    assert site.day(one) == site.day(other)
    assert site.paper(one) == site.paper(other)


@pytest.mark.full
@settings(max_examples=60, deadline=None)
@given(keyings=KEYINGS, moments=st.lists(st.integers(0, 3), min_size=10, max_size=10))
def test_what_counts_does_not_hang_on_who_was_first(
    keyings: list[tuple[tuple[int, str], int, str, bool]], moments: list[int]
) -> None:
    """Whatever the clocks say: the same lines agree, differ or wait, with the same values and people."""
    seen = observations_of(written(keyings).fold())
    shifted = tuple(msgspec.structs.replace(o, utc_ms=moments[i % len(moments)]) for i, o in enumerate(seen))
    outcomes = [
        [
            (
                line.sheet,
                line.line,
                line.state,
                sorted({o.number or 0 for o in line.keyings}),
                set(line.people),
            )
            for line in keyed_lines(given)
        ]
        for given in (seen, shifted, tuple(reversed(shifted)))
    ]
    assert outcomes[0] == outcomes[1] == outcomes[2]


@pytest.mark.full
@settings(max_examples=60, deadline=None)
@given(keyings=KEYINGS)
def test_taking_out_what_does_not_count_twice_changes_nothing(
    keyings: list[tuple[tuple[int, str], int, str, bool]],
) -> None:
    """Counting is idempotent, keeps all that came another way, and keeps at most two keyings a line."""
    seen = observations_of(written(keyings).fold())
    once = counting(seen)
    assert counting(once) == once
    assert {o for o in seen if not o.line} <= set(once)
    for _, group in itertools.groupby(sorted(o.line for o in once if o.line)):
        assert len(list(group)) == 2


def test_the_values_to_key_are_the_terms_and_the_marked_lines(site: Site, record: RecordMaker) -> None:
    """Every term that the site's paper holds and each marked line, once; a marked term is no second value."""
    day = site.day(record.fold())
    assert day.balance is not None
    at_site = {line.key for line in day.balance.lines if line.term.moment.value != "receiving"}
    wanted = wanted_values(
        day.balance,
        (
            MarkedLine(sheet="B", line="L4"),
            MarkedLine(sheet="B", line="L4"),
            MarkedLine(sheet="A", line="L2", key="ballots_spoiled"),
        ),
        most=99,
    )
    assert {v.key for v in wanted.values if v.key} == at_site
    assert [(v.sheet, v.line) for v in wanted.values if not v.key] == [("B", "L4")]
    assert len(wanted.values) == len(at_site) + 1 and wanted.left_out == ()


def test_a_term_that_no_sheet_asks_for_keeps_no_site_open(site: Site, record: RecordMaker) -> None:
    """What the balance sheet lacks is named and not waited for; before the sheet is back nothing is known."""
    balance = site.day(record.fold()).balance
    every = wanted_values(balance, (), most=99)
    held_keys = frozenset(v.key for v in every.values[:3])
    some = wanted_values(balance, (), most=99, on_paper=held_keys)
    assert {v.key for v in some.values} == held_keys
    assert set(some.not_on_paper) == {v.key for v in every.values[3:]}


@settings(max_examples=40, deadline=None)
@given(marks=st.lists(st.integers(1, 40), max_size=40), most=st.integers(1, MOST_VALUES))
def test_never_more_values_than_the_bound_and_the_rest_is_named(
    site: Site, marks: list[int], most: int
) -> None:
    """At most so many; sums of the whole site first, then marked lines, then sums of one device."""
    day = site.day(RecordMaker().fold())
    wanted = wanted_values(day.balance, tuple(MarkedLine(sheet="B", line=f"L{n}") for n in marks), most)
    everything = wanted_values(day.balance, tuple(MarkedLine(sheet="B", line=f"L{n}") for n in marks), 999)
    assert len(wanted.values) <= most
    assert (*wanted.values, *wanted.left_out) == everything.values
    order = list(Why)
    ranks = [order.index(v.why) for v in everything.values]
    assert ranks == sorted(ranks)


def held(record: RecordMaker, serial: str, box: str = "3", copy_no: int = 1, *different: str) -> Signed:
    """A sheet is put in a box."""
    body = SheetHeld(copy_no=copy_no, box=box, different=different)
    return record.write(body, f"sheet/{serial}", "P001")


def states(report: PaperReport) -> dict[str, SheetState]:
    """The state of each sheet by the first letter of its serial."""
    return {s.sheet.serial[:1]: s.state for s in report.sites[0].sheets}


def test_sheets_back_void_and_doubled_are_told_apart(site: Site, record: RecordMaker) -> None:
    """Back, not back, void and back; a second one with the same serial; one that nobody printed."""
    before = site.paper(record.fold())
    assert [s.sheet.serial[:1] for s in before.sites[0].not_back] == ["A", "C", "B"]
    record.write(
        SheetsVoided(
            change="0" * 64, sheets=(VoidedSheet(serial="sheet/CCCC-CCCC-CCCC", replaced_by="sheet/X"),)
        ),
        "site/S01",
    )
    for serial in (SHEET, "CCCC-CCCC-CCCC", "EEEE-EEEE-EEEE"):
        held(record, serial)
    held(record, SHEET, "5", 2)
    report = site.paper(record.fold())
    assert states(report) == {
        "A": SheetState.BACK,
        "B": SheetState.NOT_BACK,
        "C": SheetState.VOID_BACK,
        "D": SheetState.NOT_BACK,
    }
    (one,) = report.sites
    assert [s.sheet.serial[:1] for s in one.not_back] == ["B"], "nobody waits for a cover or a void sheet"
    assert sorted(n.rule for n in one.notices) == ["paper-doubled", "paper-void-back"]
    assert [s.serial for s in report.strangers] == ["EEEE-EEEE-EEEE"]


def test_a_site_is_done_once_its_sheets_are_back_and_its_values_agree(
    site: Site, record: RecordMaker
) -> None:
    """The last value makes it done; a marked line that holds no value does not keep it open."""
    for serial in (SHEET, "BBBB-BBBB-BBBB", "CCCC-CCCC-CCCC"):
        held(record, serial, "3", 1, *(("L9",) if serial[0] == "B" else ()))
    meanings = (LineMeaning(sheet="BBBB-BBBB-BBBB", line="L9", has_value=False),)
    balance = site.day(record.fold()).balance
    assert balance is not None
    (paper,) = site.paper(record.fold(), meanings).sites
    terms = {line.key: line for line in balance.lines}
    assert [m.line for m in paper.marked_only] == ["L9"] and not paper.done
    for number, value in enumerate(paper.values, start=1):
        assert not site.paper(record.fold(), meanings).sites[0].done
        line = terms[value.value.key]
        for who in ("P001", "P002"):
            body = CountRead(
                term=line.term.id,
                value=number,
                source=line.term.source,
                sheet=f"sheet/{SHEET}",
                line=f"L{number}",
            )
            record.write(body, line.device or "site/S01", who)
    (paper,) = site.paper(record.fold(), meanings).sites
    assert paper.done and len(paper.values) <= MOST_VALUES


def test_a_sheet_taken_back_out_of_its_box_is_not_back(site: Site, record: RecordMaker) -> None:
    """What was written by mistake is undone by a later word of the same desk."""
    held(record, SHEET)
    record.write(SheetHeld(copy_no=1, box="3", state="taken_back"), f"sheet/{SHEET}", "P001")
    assert states(site.paper(record.fold()))["A"] is SheetState.NOT_BACK
