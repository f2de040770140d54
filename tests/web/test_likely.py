"""What a reader is told of a number that differs: nothing that gives away a number still to be read."""

from __future__ import annotations

import datetime as dt

import pytest

from pollstead.election.station_type import Moment
from pollstead.plan.terms.version import ExpectedItem
from pollstead.reconcile.day import Minute, SiteDay
from pollstead.reconcile.diagnosis.costs import USUAL_COSTS
from pollstead.reconcile.diagnosis.diagnose import Asked, diagnose
from pollstead.reconcile.diagnosis.known import Known, KnownNumbers
from pollstead.reconcile.diagnosis.scanned import diagnose_code, diagnose_pair
from pollstead.reconcile.opening.states import ItemResult, ItemState
from pollstead.show.web.likely import ONE, TIED, Likely, in_words, likely_of, unread_things

DAY = dt.date(2028, 11, 7)
SCANNER = "device/scanner/0001"
NUMBERS = {"lid": "0048011", "door": "0049977", "bin": "0048355"}
NOBODY = Minute(values=(), set_min=None, late_min=None, observations=())


def known(name: str, number: str, site: str = "S01", device: str = SCANNER) -> Known:
    subject = f"closure/{device.removeprefix('device/')}/{name}"
    return Known(
        number=number, what="seal", subject=subject, words=name, station="Scanner 1", owner=device, site=site
    )


ALL = KnownNumbers(
    (
        *(known(name, number) for name, number in NUMBERS.items()),
        known("lid", "0310007", "S02", "device/scanner/0002"),
    )
)


def result(name: str, *, read: str = "", people: int = 2) -> ItemResult:
    """One closure of the scanner, read by so many people."""
    subject = f"closure/scanner/0001/{name}"
    asked = Asked(expected=NUMBERS[name], what="seal", subject=subject, owner=SCANNER, site="S01")
    item = ExpectedItem(
        subject=subject,
        station="station/S01/scanner/1",
        device=SCANNER,
        what="seal",
        moment=Moment.OPENING,
        value=NUMBERS[name],
        words=name,
        private=True,
        second_person=True,
    )
    return ItemResult(
        state=ItemState.VALUE_DIFFERS,
        what="seal",
        moment=Moment.OPENING,
        subject=subject,
        station="",
        device=SCANNER,
        words=name,
        item=item,
        people=("person/P001", "person/P002")[:people],
        diagnoses=(diagnose(read, asked, ALL, USUAL_COSTS),) if read else (),
    )


def day(*results: ItemResult) -> SiteDay:
    return SiteDay(
        site="S01",
        name="Alder Hall",
        date=DAY,
        list_issued=True,
        results=results,
        devices=(),
        balance=None,
        lines=(),
        readings=(),
        memory=(),
        opened=NOBODY,
        closed=NOBODY,
        recorded=(),
        notices=(),
    )


def words(told: Likely) -> str:
    """Everything that is told, as one text."""
    groups = (*told.first, *told.less, told.notes)
    return " ".join(said.english() for group in groups for said in group)


@pytest.mark.parametrize("may_see", [True, False])
def test_a_slip_names_its_digit(may_see: bool) -> None:
    """Once both have entered the expected number stands beside it anyway."""
    lid = result("lid", read="0048071")
    (told,) = likely_of(lid, day(lid, result("door"), result("bin")), may_see=may_see)
    assert told.lead == ONE
    assert words(told).startswith("One digit differs at position 6: 1 read as 7.")


def test_a_closure_still_to_be_read_is_not_named() -> None:
    """That what was read belongs to the door would be what to type there; the coordinator may know."""
    lid = result("lid", read=NUMBERS["door"])
    for people in (0, 1):
        (told,) = likely_of(lid, day(lid, result("door", people=people), result("bin")), may_see=False)
        assert "door" not in words(told) and not told.first and not told.less
        assert "Read it again from the thing itself." in words(told)
        (office,) = likely_of(lid, day(lid, result("door", people=people)), may_see=True)
        assert words(office).startswith("It belongs to door on the same device.")
    (told,) = likely_of(lid, day(lid, result("door"), result("bin")), may_see=False)
    assert words(told).startswith("It belongs to door on the same device.")


def test_of_another_site_whoever_enters_hears_the_site_alone() -> None:
    """Not the closure: its people have still to read it."""
    lid = result("lid", read="0310007")
    (told,) = likely_of(lid, day(lid, result("door"), result("bin")), may_see=False)
    assert words(told) == "It is a number of site S02."
    (office,) = likely_of(lid, day(lid), may_see=True)
    assert words(office) == "It belongs to lid of Scanner 1, at site S02."


def test_a_number_on_two_things_names_the_other_only_when_it_was_read() -> None:
    """It matches; that there is another one is told in any case."""
    twins = KnownNumbers((*ALL.all, known("case", NUMBERS["lid"])))
    asked = Asked(
        expected=NUMBERS["lid"], what="seal", subject="closure/scanner/0001/lid", owner=SCANNER, site="S01"
    )
    told = diagnose(NUMBERS["lid"], asked, twins, USUAL_COSTS)
    unread = frozenset({"closure/scanner/0001/case"})
    hidden = in_words(told, unread, "S01", may_see=False)
    assert words(hidden) == "The county has this number more than once. Record it and tell the office."
    assert words(in_words(told, frozenset(), "S01", may_see=False)).startswith(
        "case of Scanner 1 has the same"
    )


def test_what_is_as_likely_is_told_as_that() -> None:
    """Two closures with one number: both, under words that say so."""
    twins = KnownNumbers((*ALL.all, known("left", "0311111"), known("right", "0311111")))
    asked = Asked(expected=NUMBERS["lid"], what="seal", subject="x", owner=SCANNER, site="S01")
    told = in_words(diagnose("0311111", asked, twins, USUAL_COSTS))
    assert told.lead == TIED and len(told.first) == 2


def test_unread_things_are_those_that_fewer_people_read_than_must() -> None:
    """Of a thing that is read at two moments one is enough: its number was shown then."""
    lid = result("lid")
    assert unread_things(day(lid, result("lid", people=0), result("door", people=1))) == {
        "closure/scanner/0001/door"
    }


def test_a_scanned_code_says_what_it_is_close_to_or_whose_it_is() -> None:
    """A serial with a slip, a seal where a device's label was wanted, and a code that nothing has."""
    slip = in_words(diagnose_code("LM-V-0O42", ("LM-V-0042", "LM-V-0142"), ALL, USUAL_COSTS, choices=396))
    assert words(slip).startswith(
        "It is close to LM-V-0042. One character differs at position 7: 0 read as O."
    )
    seal = in_words(diagnose_code("0048011", (), ALL, USUAL_COSTS))
    assert words(seal).startswith("It belongs to lid of Scanner 1, at site S01.")
    nothing = in_words(diagnose_code("XYZ", (), ALL, USUAL_COSTS))
    assert words(nothing) == "No list and no stock of this county has this number."


def test_two_readings_of_a_cases_seal_differ_by_steps() -> None:
    """From what the statement says to what was read on the case."""
    assert [one.english() for one in diagnose_pair("0048213", "0048231", USUAL_COSTS)] == [
        "Two neighbors changed places at positions 6 and 7: 31 read as 13."
    ]
