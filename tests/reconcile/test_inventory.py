"""Inventory: three lists against plain sets, look-alike codes, places, and what a scan is told."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from pollstead.election.county import Device
from pollstead.reconcile.custody.inventory import (
    Book,
    Found,
    Scanned,
    answer_scan,
    reconcile_inventory,
)

SERIALS = st.text("ABC01", min_size=1, max_size=4)


def device(serial: str, tag: str = "", cart: str = "") -> Device:
    """A device of the book."""
    return Device(id=f"device/scanner/{serial}", serial=serial, kind="scanner", tag=tag, cart=cart)


BOOK = Book((device("LM-V-0042", "T-42", "C1"), device("LM-V-0043", "T-43", "C2"), device("LM-V-0142")))


@given(st.sets(SERIALS), st.lists(SERIALS), st.none() | st.sets(SERIALS))
def test_the_three_lists_are_what_plain_sets_say(
    book: set[str], scans: list[str], third: set[str] | None
) -> None:
    """Each list of the result is the set difference of the three; every code stands there once."""
    result = reconcile_inventory(Book(device(s) for s in book), (Scanned(code=code) for code in scans), third)
    seen, listed = set(scans), third or set()

    def codes(lines: tuple[object, ...]) -> list[str]:
        return [line.code for line in lines]  # type: ignore[attr-defined]

    assert codes(result.lines) == sorted(book | seen | listed)
    assert codes(result.present) == sorted(book & seen)
    assert codes(result.missing) == sorted(book - seen)
    assert codes(result.unknown) == sorted(seen - book)
    assert codes(result.doubled) == sorted(code for code in seen if scans.count(code) > 1)
    assert codes(result.only_third) == sorted(listed - book - seen)
    if third is None:
        assert result.not_third == ()
    else:
        assert codes(result.not_third) == sorted((book | seen) - third)


def test_a_serial_and_its_tag_are_one_thing() -> None:
    """Scanned by tag, then by serial: counted already, and not missing."""
    first = Scanned(code="t-42 ")
    answer = answer_scan(BOOK, (first,), "LM-V-0042")
    assert (answer.found, answer.device) == (Found.AGAIN, "device/scanner/LM-V-0042")
    result = reconcile_inventory(BOOK, (first, Scanned(code="LM-V-0042")))
    assert [line.scans for line in result.present] == [2] and len(result.missing) == 2


def test_a_look_alike_is_asked_about_and_never_taken_for_the_other() -> None:
    """Letter O for zero, one digit off, neighbors swapped: named as what may be meant, counted as itself."""
    for code, meant in (("LM-V-OO42", "LM-V-0042"), ("LM-V-0044", "LM-V-0042"), ("LM-V-0034", "LM-V-0043")):
        answer = answer_scan(BOOK, (), code)
        assert answer.found is Found.LOOKS_LIKE and meant in answer.meant and not answer.device, code
        result = reconcile_inventory(BOOK, (Scanned(code=code),))
        assert [line.code for line in result.unknown] == [code] and not result.present
    assert answer_scan(BOOK, (), "QQQ").found is Found.UNKNOWN


def test_a_device_counted_in_another_cart_names_the_cart_of_the_book() -> None:
    """In cart C2 the device of C1 is in the wrong place; counted anywhere, it is present."""
    answer = answer_scan(BOOK, (), "T-42", "C2")
    assert (answer.found, answer.belongs) == (Found.WRONG_PLACE, "C1")
    assert answer_scan(BOOK, (), "T-42").found is Found.PRESENT
    result = reconcile_inventory(BOOK, (Scanned(code="T-42", place="C2"),))
    assert [(line.counted_at, line.belongs) for line in result.wrong_place] == [("C2", "C1")]


def test_a_tag_that_two_devices_share_is_asked_about() -> None:
    """After a repair one tag may stand on two serials: the person reads the serial."""
    twice = Book((device("A-1", "T"), device("A-2", "T")))
    answer = answer_scan(twice, (), "T")
    assert answer.found is Found.LOOKS_LIKE and answer.meant == ("A-1", "A-2")
