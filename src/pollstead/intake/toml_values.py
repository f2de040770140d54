"""Values as TOML tables and back: one reading of the value types serves every TOML file of a county.

A field's name gives the key, as in `tables`: ``width_um`` is ``width_in``, ``mean_ms`` is ``mean_s``.
A tuple of values is an array of tables under the singular name, ``[[station_type.closure]]``.
"""

from __future__ import annotations

import datetime as dt
import enum
import re
import tomllib
import typing
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from pollstead.election.notice import Notice, Place
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.intake.cells import LARGEST, WANTED, CellFault, CellKind, length_text, read_cell, write_cell
from pollstead.intake.columns import fields_of
from pollstead.intake.notices import cannot_read
from pollstead.intake.records import nearest
from pollstead.intake.tables import Heading, cell_kind, headings_of, type_hints, without_none

MOST_BYTES = 8 * 1024 * 1024
_SINGULAR = {
    "parts": "part",
    "closures": "closure",
    "counters": "counter",
    "reports": "report",
    "supplies": "supply",
    "site_supplies": "site_supply",
    "uses": "use",
    "params": "param",
}
_SIGNED = frozenset({"lead_min"})  # a clock may be set behind
_UNIT_WRITTEN = {"cord_um": "ft"}
_TEXTUAL = (CellKind.LENGTH, CellKind.PERCENT, CellKind.PER_VOTER, CellKind.SECONDS, CellKind.CLOCK)
_LINE = re.compile(r"at line (\d+)")


def parse_toml(file: str, data: bytes) -> tuple[dict[str, Any] | None, list[Notice]]:
    """The tables of a TOML file; None with the fault where it cannot be read."""
    if len(data) > MOST_BYTES:
        return None, [_unreadable(file, f"{len(data)} bytes", None)]
    try:
        return tomllib.loads(data.decode("utf-8-sig"), parse_float=Decimal), []
    except UnicodeDecodeError as error:
        return None, [_unreadable(file, "bytes that are not UTF-8", data[: error.start].count(b"\n") + 1)]
    except (ValueError, RecursionError, ArithmeticError) as error:
        found = _LINE.search(str(error))
        return None, [_unreadable(file, str(error) or "too deep", int(found[1]) if found else None)]


def _unreadable(file: str, found: str, row: int | None) -> Notice:
    return cannot_read(
        "toml",
        Place(file=file, row=row),
        message(N_("{file} cannot be read as TOML"), file=file),
        found=found,
        wanted="TOML in UTF-8",
        remedy=message(N_("Look at this line for a missing quotation mark, bracket or equals sign.")),
    )


class Reader:
    """Reads the tables of one file into values and collects every fault."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.faults: list[Notice] = []

    def value(self, row_type: type[Value], table: object, path: str) -> Value | None:
        """The value in `table`, or None after adding what is wrong to `faults`."""
        if not isinstance(table, dict):
            self._fault(path, table, "a table")
            return None
        before = len(self.faults)
        hints = type_hints(row_type)
        fields: dict[str, Any] = {}
        known: dict[str, tuple[str, Heading]] = {}
        for field in fields_of(row_type):
            names = keys_of(field.name, hints[field.name])
            known |= {heading.name: (field.name, heading) for heading in names}
            given = [heading for heading in names if heading.name in table]
            if len(given) > 1:
                self._fault(f"{path}.{given[1].name}", table[given[1].name], f"only {given[0].name}")
            if not given:
                if field.required:
                    self._fault(f"{path}.{names[0].name}", "nothing", names[0].name)
                continue
            inside = f"{path}.{given[0].name}"
            raw = table[given[0].name]
            fields[field.name] = self._field(field.name, hints[field.name], raw, given[0], inside)
        for key in table:
            if key not in known:
                self._unknown(path, key, nearest(key, tuple(known)))
        if len(self.faults) > before:
            return None
        try:
            return row_type(**fields)
        except ValueError as error:
            self._fault(path, str(error), "values that fit one another")
            return None

    def values(self, row_type: type[Value], tables: object, path: str) -> tuple[Value, ...]:
        """The values of an array of tables; each is named by its id where it has one."""
        if not isinstance(tables, list):
            self._fault(path, tables, f"[[{path}]]")
            return ()
        read = []
        for number, table in enumerate(tables, 1):
            name = table.get("id", number) if isinstance(table, dict) else number
            read.append(self.value(row_type, table, f"{path}[{name}]"))
        return tuple(value for value in read if value is not None)

    def _field(self, name: str, hint: object, raw: Any, heading: Heading, path: str) -> Any:
        inner = without_none(hint)
        if typing.get_origin(inner) is tuple:
            item = typing.get_args(inner)[0]
            if isinstance(item, type) and issubclass(item, Value):
                return self.values(item, raw, path)
            if not isinstance(raw, list):
                self._fault(path, raw, "a list in square brackets")
                return ()
            return tuple(self._scalar(name, item, part, heading, path) for part in raw)
        if isinstance(inner, type) and issubclass(inner, Value):
            return self.value(inner, raw, path)
        return self._scalar(name, inner, raw, heading, path)

    def _scalar(self, name: str, kind: object, raw: Any, heading: Heading, path: str) -> Any:
        if isinstance(kind, type) and issubclass(kind, enum.Enum):
            choices = tuple(str(member.value) for member in kind)
            if isinstance(raw, str) and raw in choices:
                return kind(raw)
            return self._fault(path, raw, "one of " + ", ".join(choices))
        if kind == int | str:
            if isinstance(raw, str) or (type(raw) is int and abs(raw) <= LARGEST):
                return raw
            return self._fault(path, raw, "a whole number or text")
        cell = cell_kind(name, kind)
        if cell in _TEXTUAL:
            if isinstance(raw, dt.time) and cell is CellKind.CLOCK:
                raw = raw.strftime("%H:%M")
            if type(raw) is int or (isinstance(raw, Decimal) and raw.is_finite()):
                raw = f"{raw:f}" if isinstance(raw, Decimal) and abs(raw) < LARGEST else str(raw)
            if not isinstance(raw, str):
                return self._fault(path, raw, WANTED[cell])
            return self._cell(cell, raw, heading, path)
        if cell is CellKind.DATE:
            if type(raw) is dt.date:
                raw = raw.isoformat()
            return (
                self._cell(cell, raw, heading, path)
                if isinstance(raw, str)
                else self._fault(path, raw, WANTED[cell])
            )
        if cell is CellKind.WHOLE:
            least = -LARGEST if name in _SIGNED else 0
            return (
                raw if type(raw) is int and least <= raw <= LARGEST else self._fault(path, raw, WANTED[cell])
            )
        if cell is CellKind.YES_NO:
            return raw if type(raw) is bool else self._fault(path, raw, "true or false")
        return raw if type(raw) is str else self._fault(path, raw, WANTED[cell])

    def _cell(self, kind: CellKind, text: str, heading: Heading, path: str) -> Any:
        try:
            return read_cell(kind, text, heading.unit)
        except CellFault as fault:
            return self._fault(path, text, fault.wanted)

    def _fault(self, path: str, found: object, wanted: str) -> None:
        self.faults.append(
            cannot_read(
                "toml-value",
                Place(file=self.file, column=path),
                message(N_("{file}: {path} cannot be read"), file=self.file, path=path),
                found=found,
                wanted=wanted,
                remedy=message(N_("Correct the value.")),
            )
        )

    def _unknown(self, path: str, key: str, likely: str) -> None:
        remedy = (
            message(N_("Rename it to {column} if that is meant."), column=likely)
            if likely
            else message(N_("Remove it, or look up its name in the description of the county folder."))
        )
        self.faults.append(
            cannot_read(
                "toml-key",
                Place(file=self.file, column=f"{path}.{key}"),
                message(N_("{file}: {path} has no field {key}"), file=self.file, path=path, key=key),
                found=key,
                wanted=likely,
                remedy=remedy,
            )
        )


def keys_of(name: str, hint: object) -> tuple[Heading, ...]:
    """The keys that may stand for a field; an array of tables takes the singular, or the field's name."""
    inner = without_none(hint)
    if typing.get_origin(inner) is tuple:
        singular = _SINGULAR.get(name)
        return (Heading(name=singular), Heading(name=name)) if singular else (Heading(name=name),)
    if (isinstance(inner, type) and issubclass(inner, (Value, enum.Enum))) or inner == int | str:
        return (Heading(name=name),)
    return headings_of(name, cell_kind(name, inner))


def toml_lines(value: Value, header: str) -> Iterator[str]:
    """The lines of `value` under ``[header]`` or ``[[header]]``; what equals its default is left out."""
    path = header.strip("[]")
    yield header
    nested: list[tuple[str, Any]] = []
    hints = type_hints(type(value))
    for field in fields_of(type(value)):
        held = getattr(value, field.name)
        if not field.required and held == field.default:
            continue
        key = keys_of(field.name, hints[field.name])[0].name
        if isinstance(held, Value) or (isinstance(held, tuple) and held and isinstance(held[0], Value)):
            nested.append((key, held))
        else:
            yield _line(field.name, key, held)
    for key, held in nested:
        yield ""
        if isinstance(held, Value):
            yield from toml_lines(held, f"[{path}.{key}]")
        else:
            for number, item in enumerate(held):
                if number:
                    yield ""
                yield from toml_lines(item, f"[[{path}.{key}]]")


def _line(field: str, key: str, held: Any) -> str:
    if isinstance(held, enum.Enum):
        return f"{key} = {toml_text(str(held.value))}"
    if isinstance(held, bool):
        return f"{key} = {str(held).lower()}"
    if isinstance(held, str):
        return f"{key} = {toml_text(held)}"
    if isinstance(held, dt.date):
        return f"{key} = {held.isoformat()}"
    if isinstance(held, tuple):
        items = (toml_text(str(item.value if isinstance(item, enum.Enum) else item)) for item in held)
        return f"{key} = [{', '.join(items)}]"
    kind = cell_kind(field, int)
    if kind is CellKind.WHOLE:
        return f"{key} = {held}"
    if kind is not CellKind.LENGTH:
        written = write_cell(kind, held)
        return f"{key} = {toml_text(written) if kind is CellKind.CLOCK else written}"
    unit = _UNIT_WRITTEN.get(field, "in")
    written = length_text(held, unit)
    if written.endswith(" mm"):
        unit, written = "mm", written.removesuffix(" mm")
    return f"{key}_{unit} = {written}"


def toml_text(text: str) -> str:
    """`text` as a TOML basic string."""
    out = []
    for char in text:
        if char in '"\\':
            out.append("\\" + char)
        elif ord(char) < 0x20 or ord(char) == 0x7F:
            out.append(f"\\u{ord(char):04X}")
        else:
            out.append(char)
    return '"' + "".join(out) + '"'
