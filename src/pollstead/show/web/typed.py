"""Turn what a person typed on a line into the body of an event, or into words that say what is needed."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Mapping, Sequence

from pollstead.election.instants import parse_hasty_clock
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.reconcile.observed import STYLE_MARK
from pollstead.record.kinds.body import Body, Private
from pollstead.record.kinds.canvass import CountByStyle
from pollstead.record.kinds.days import (
    ClockSeen,
    CountRead,
    MemoryDevicePacked,
    ReportSeen,
    SealNumber,
    SealSeen,
    SerialSeen,
)
from pollstead.show.web.misread import MISREAD, Misread, never
from pollstead.show.web.readings import Asked, Line

SERIAL = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ./_-]{0,39}")
DIGITS = re.compile(r"[0-9]{1,12}")
SEAL_STATES = ("intact", "not_intact", "closure_opens", "not_there")
REPORT_STATES = ("printed", "not_printed")
PACKED_STATES = ("in_case", "travels_inside", "to_follow", "not_found")


class Said(Value, frozen=True, kw_only=True):
    """The event that an answer becomes; `private` its private part, if any."""

    body: Body
    private: Private | None = None


class Wrong(Value, frozen=True, kw_only=True):
    """What needs another look: the field and the words."""

    field: str
    words: Message


def field_names(line: Line) -> tuple[str, ...]:
    """The names of the form's fields for a line, the first being the one a summary links to."""
    if line.ask is Asked.CLOCK:
        return (f"{line.id}-device", f"{line.id}-reference", f"{line.id}-date")
    if line.ask is Asked.SEAL:
        return (f"{line.id}-number", f"{line.id}-state")
    return (line.id,)


def is_empty(line: Line, typed: Mapping[str, str]) -> bool:
    """Whether nothing at all was typed or chosen on a line."""
    return not any(typed.get(name, "") for name in field_names(line))


def read_lines(
    lines: Sequence[Line],
    typed: Mapping[str, str],
    not_typed: Callable[[Line], Message],
    misread: Misread = never,
) -> tuple[tuple[tuple[Line, Said], ...], tuple[Wrong, ...]]:
    """The answers of a form of lines, or what is wrong in the form's own order: never both.

    A line may be left out only where the form says that it is partly filled; `not_typed` words one that was.
    """
    empty = [line for line in lines if is_empty(line, typed)]
    answers = [(line, read_line(line, typed, misread)) for line in lines if line not in empty]
    wrong = [said for _, said in answers if isinstance(said, Wrong)]
    if lines and len(empty) == len(lines):
        wrong.append(Wrong(field=field_names(lines[0])[0], words=message(N_("Nothing was typed yet."))))
    elif typed.get("partial") != "yes":
        wrong += [Wrong(field=field_names(line)[0], words=not_typed(line)) for line in empty]
    if wrong:
        order = {name: i for i, name in enumerate(n for line in lines for n in field_names(line))}
        return (), tuple(sorted(wrong, key=lambda w: order.get(w.field, 0)))
    return tuple((line, said) for line, said in answers if isinstance(said, Said)), ()


def read_line(line: Line, typed: Mapping[str, str], misread: Misread = never) -> Said | Wrong:
    """What a line says; `Wrong` names the first field that does not fit.

    A seal number that `misread` names is to be read again before anything is compared.
    """
    said = _READERS[line.ask](line, typed)
    if line.ask is Asked.SEAL and isinstance(said, Said) and isinstance(said.private, SealNumber):
        number = said.private.number
        if number and misread(line.subject, number):
            return Wrong(field=f"{line.id}-number", words=message(MISREAD))
    return said


def _serial(line: Line, typed: Mapping[str, str]) -> Said | Wrong:
    text = typed.get(line.id, "")
    if not SERIAL.fullmatch(text):
        return Wrong(
            field=line.id,
            words=message(N_("{line}: type the characters on the plate, at most 40."), line=line.words),
        )
    return Said(body=SerialSeen(serial=text))


def _seal(line: Line, typed: Mapping[str, str]) -> Said | Wrong:
    number, state = typed.get(f"{line.id}-number", ""), typed.get(f"{line.id}-state", "")
    if state not in SEAL_STATES:
        return Wrong(
            field=f"{line.id}-state", words=message(N_("{line}: choose how the seal is."), line=line.words)
        )
    if state == "not_there" and not number:
        return Said(body=SealSeen(step=line.detail, state="not_there"), private=SealNumber())
    if not SERIAL.fullmatch(number):
        return Wrong(
            field=f"{line.id}-number",
            words=message(
                N_("{line}: type the number on the seal, or choose that it is not there."), line=line.words
            ),
        )
    return Said(body=SealSeen(step=line.detail, state=state), private=SealNumber(number=number))  # type: ignore[arg-type]


def _seal_in_place(line: Line, typed: Mapping[str, str]) -> Said | Wrong:
    state = typed.get(line.id, "")
    if state not in SEAL_STATES:
        return Wrong(field=line.id, words=message(N_("{line}: choose how the seal is."), line=line.words))
    return Said(body=SealSeen(step=line.detail, state=state))  # type: ignore[arg-type]


def _clock(line: Line, typed: Mapping[str, str]) -> Said | Wrong:
    device, reference, date = field_names(line)
    minutes = []
    for name, template in (
        (device, N_("{line}: type the device's time like 05:41.")),
        (reference, N_("{line}: type the reference clock's time like 05:36.")),
    ):
        try:
            minutes.append(parse_hasty_clock(typed.get(name, "")))
        except ValueError:
            return Wrong(field=name, words=message(template, line=line.group))
    shown = typed.get(date, "")
    try:
        dt.date.fromisoformat(shown)
    except ValueError:
        words = message(N_("{line}: type the date on the device as year-month-day."), line=line.group)
        return Wrong(field=date, words=words)
    return Said(body=ClockSeen(date_shown=shown, device_min=minutes[0], reference_min=minutes[1]))


def _count(line: Line, typed: Mapping[str, str]) -> Said | Wrong:
    text = typed.get(line.id, "")
    if not DIGITS.fullmatch(text):
        words = message(
            N_("{line}: type digits only, for example 1204; 0 where there is none."), line=line.words
        )
        return Wrong(field=line.id, words=words)
    term, _, style = line.detail.partition(STYLE_MARK)
    if style:
        return Said(body=CountByStyle(term=term, style=style, value=int(text), source=line.source))
    return Said(body=CountRead(term=line.detail, value=int(text), source=line.source))


def _report(line: Line, typed: Mapping[str, str]) -> Said | Wrong:
    state = typed.get(line.id, "")
    if state not in REPORT_STATES:
        words = message(N_("{line}: choose whether the report was printed."), line=line.words)
        return Wrong(field=line.id, words=words)
    return Said(body=ReportSeen(report=line.detail, state=state))  # type: ignore[arg-type]


def _packed(line: Line, typed: Mapping[str, str]) -> Said | Wrong:
    state = typed.get(line.id, "")
    if state not in PACKED_STATES:
        words = message(N_("{line}: choose where the memory device travels."), line=line.words)
        return Wrong(field=line.id, words=words)
    inside = line.device if state == "travels_inside" else ""
    return Said(body=MemoryDevicePacked(state=state, inside=inside))  # type: ignore[arg-type]


_READERS = {
    Asked.SERIAL: _serial,
    Asked.SEAL: _seal,
    Asked.SEAL_IN_PLACE: _seal_in_place,
    Asked.CLOCK: _clock,
    Asked.COUNT: _count,
    Asked.REPORT: _report,
    Asked.PACKED: _packed,
}
