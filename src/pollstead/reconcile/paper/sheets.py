"""Which printed sheets are back, which are not, which came back void, and which came back twice."""

from __future__ import annotations

import enum
from collections import defaultdict
from collections.abc import Iterable

from pollstead.election.values import Value
from pollstead.plan.terms.version import SheetKind
from pollstead.record.facts import Fold
from pollstead.record.kinds.papers import SheetHeld
from pollstead.record.kinds.swaps import SheetsVoided

COMES_BACK = (SheetKind.OPENING, SheetKind.SEALS, SheetKind.CLOSING, SheetKind.BALANCE)
"""The sheets that people write on and sign; others may come back, and nobody waits for them."""


class PrintedSheet(Value, frozen=True, kw_only=True):
    """One sheet as it was printed; `key` tells it apart within its site, `day` is ISO 8601 or "".

    `content` is the digest of all that stands on it.
    """

    serial: str
    kind: SheetKind
    site: str
    day: str
    key: str = ""
    language: str = ""
    plan_digest: str = ""
    printed_utc_ms: int = 0
    content: str = ""


class Held(Value, frozen=True, kw_only=True):
    """One word that a sheet lies in a box: which copy of it, the lines marked different, by whom, when."""

    serial: str
    copy_no: int
    box: str
    different: tuple[str, ...]
    people: tuple[str, ...]
    utc_ms: int
    event: str


class SheetState(enum.StrEnum):
    """Where a printed sheet is."""

    BACK = "back"
    NOT_BACK = "not back"
    OTHER_PRINT = "another print of it is back"
    VOID = "void, not back"
    VOID_BACK = "void, and came back"


class SheetBack(Value, frozen=True, kw_only=True):
    """One printed sheet: its state, the words about it, the sheet in its place where it is void.

    `twice` says that several sheets with this serial came back, `two_boxes` that one is said to lie in two
    boxes, `prints` are other prints of the same sheet that came back as well.
    """

    sheet: PrintedSheet
    state: SheetState
    held: tuple[Held, ...] = ()
    replaced_by: str = ""
    twice: bool = False
    two_boxes: bool = False
    prints: tuple[str, ...] = ()

    @property
    def here(self) -> bool:
        """Whether it lies in a box."""
        return bool(self.held)

    @property
    def boxes(self) -> tuple[str, ...]:
        """The boxes that it is said to lie in, each once."""
        return tuple(dict.fromkeys(one.box for one in self.held))

    @property
    def different(self) -> tuple[str, ...]:
        """The lines that somebody marked as different, in the sheet's order."""
        lines = {line for one in self.held for line in one.different}
        return tuple(sorted(lines, key=lambda line: int(line[1:])))


def held_sheets(folded: Fold) -> dict[str, tuple[Held, ...]]:
    """The standing words about sheets in boxes, by serial, the first one first."""
    found: dict[str, list[Held]] = defaultdict(list)
    for fact in folded.named(SheetHeld.kind):
        serial = fact.subject.removeprefix("sheet/")
        for reading in fact.current:
            if reading.value.get("state", "held") != "held":
                continue
            found[serial].append(
                Held(
                    serial=serial,
                    copy_no=int(fact.key["copy_no"]),
                    box=str(reading.value["box"]),
                    different=tuple(str(line) for line in reading.value.get("different", ())),
                    people=tuple(person.person for person in reading.people),
                    utc_ms=reading.utc_ms,
                    event=reading.event,
                )
            )
    return {serial: tuple(sorted(held, key=_in_order)) for serial, held in sorted(found.items())}


def void_sheets(folded: Fold) -> dict[str, str]:
    """The serials that a change made void, each with that of the sheet in its place ("" for none)."""
    return {
        str(sheet["serial"]).removeprefix("sheet/"): str(sheet.get("replaced_by", "")).removeprefix("sheet/")
        for fact in folded.named(SheetsVoided.kind)
        for reading in fact.current
        for sheet in reading.value["sheets"]
    }


def sheets_back(
    sheets: Iterable[PrintedSheet], void: dict[str, str], held: dict[str, tuple[Held, ...]]
) -> tuple[SheetBack, ...]:
    """Every printed sheet with where it is, by site, day, key and serial.

    Of several prints of one sheet (printed again, or in another language) one is enough.
    """
    given = tuple(sorted(sheets, key=lambda s: (s.site, s.day, s.key, s.serial)))
    back_of: dict[tuple[str, str], list[str]] = defaultdict(list)
    for sheet in given:
        if sheet.serial not in void and held.get(sheet.serial):
            back_of[_same(sheet)].append(sheet.serial)
    found = []
    for sheet in given:
        words = held.get(sheet.serial, ())
        others = tuple(s for s in back_of[_same(sheet)] if s != sheet.serial)
        if sheet.serial in void:
            state = SheetState.VOID_BACK if words else SheetState.VOID
        elif words:
            state = SheetState.BACK
        else:
            state = SheetState.OTHER_PRINT if others else SheetState.NOT_BACK
        found.append(
            SheetBack(
                sheet=sheet,
                state=state,
                held=words,
                replaced_by=void.get(sheet.serial, ""),
                twice=len({one.copy_no for one in words}) > 1,
                two_boxes=_two_boxes(words),
                prints=others if state is SheetState.BACK else (),
            )
        )
    return tuple(found)


def waited_for(sheets: Iterable[SheetBack]) -> tuple[SheetBack, ...]:
    """The sheets that are to come back and have not; of several prints of one the last."""
    last: dict[tuple[str, str], SheetBack] = {}
    for one in sheets:
        if one.state is SheetState.NOT_BACK and one.sheet.kind in COMES_BACK:
            known = last.get(_same(one.sheet))
            if known is None or one.sheet.printed_utc_ms >= known.sheet.printed_utc_ms:
                last[_same(one.sheet)] = one
    return tuple(last.values())


def _same(sheet: PrintedSheet) -> tuple[str, str]:
    return (sheet.site, sheet.key or sheet.serial)


def _two_boxes(words: tuple[Held, ...]) -> bool:
    by_copy: dict[int, set[str]] = defaultdict(set)
    for one in words:
        by_copy[one.copy_no].add(one.box)
    return any(len(boxes) > 1 for boxes in by_copy.values())


def _in_order(one: Held) -> tuple[int, int, str]:
    return (one.copy_no, one.utc_ms, one.event)
