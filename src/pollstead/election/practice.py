"""A practice election made from a county's facts: the same rooms and hours, nothing to be mistaken for real.

The name begins with PRACTICE, so that whatever prints the election's name prints that too. Seal
numbers get the mark `MARK` in front: a practice list never shows a number that hangs on a closure.
Device serials stay, because people practice with the devices that stand before them. Telephone
numbers and addresses of people go out, so that nobody is called by a rehearsal.
"""

from __future__ import annotations

import re
from typing import Final

import msgspec

from pollstead.election.county import Election
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message

MARK: Final = "P-"
"""Stands before practice seal numbers and practice sheet serials; no real sheet serial begins so."""
NAME: Final = "PRACTICE"
_SERIAL: Final = re.compile(r"(?:P-)?[0-9A-Z]{4}-[0-9A-Z]{4}-[0-9A-Z*]{4}")
_NUMBERED: Final = frozenset({"first", "last", "number"})
_CALLED: Final = ("phone", "email", "contact_phone")


def practice_of(election: Election, *, phones: bool = False) -> Election:
    """The facts of `election` as those of a practice election; with `phones`, telephone numbers stay.

    Raises ValueError for facts that are of a practice election already.
    """
    if election.practice:
        raise ValueError("these facts are of a practice election already")
    changed: dict[str, object] = {"practice": True, "name": f"{NAME} {election.name}"}
    for table in election.__struct_fields__:
        rows = getattr(election, table)
        if isinstance(rows, tuple) and rows and isinstance(rows[0], Value):
            changed[table] = tuple(_row(row, phones) for row in rows)
    return msgspec.structs.replace(election, **changed)


def is_practice_serial(serial: str) -> bool:
    """Whether a sheet serial, as typed or scanned, is of a practice election."""
    return serial.strip().upper().startswith(MARK)


def of_the_other_kind(serial: str, practice: bool) -> Message | None:
    """What to say of a sheet serial that belongs to a practice election here, or to a real one in practice.

    None for a serial of this kind, and for whatever is no sheet serial.
    """
    plain = serial.strip().upper()
    if not _SERIAL.fullmatch(plain) or is_practice_serial(plain) == practice:
        return None
    if practice:
        return message(
            N_("{serial} is a sheet of a real election; this is a practice election. Take it out of here."),
            serial=plain,
        )
    return message(
        N_(
            "{serial} is a sheet of a practice election. Nothing on it belongs into this record: put it away."
        ),
        serial=plain,
    )


def _row(row: Value, phones: bool) -> Value:
    """The row with marked seal numbers and, unless `phones`, without ways to call a person."""
    names = frozenset(row.__struct_fields__)
    changed: dict[str, object] = {}
    if "seal_kind" in names or {"closure", "number"} <= names:
        for name in _NUMBERED & names:
            value = getattr(row, name)
            if isinstance(value, str) and value:
                changed[name] = f"{MARK}{value}"
    if not phones:
        changed.update({name: "" for name in names if name.endswith(_CALLED) and getattr(row, name)})
    return msgspec.structs.replace(row, **changed) if changed else row
