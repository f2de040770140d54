"""Write docs/county-folder.md: every table, column and key of a county folder, from the value types."""

from __future__ import annotations

import enum
import re
import typing
from collections.abc import Iterator

import msgspec

from found import DOCS, MAKE
from pollstead.election.county import Assumption
from pollstead.election.rules import REGISTRY, RuleSetting
from pollstead.election.station_type import SiteKind, StationType
from pollstead.election.values import Value
from pollstead.intake.cells import WANTED, CellKind
from pollstead.intake.tables import TABLES, Column, CountyRow, Table, cell_kind, type_hints, without_none
from pollstead.intake.toml_values import keys_of

PAGE = DOCS / "county-folder.md"

HEAD = f"""# The county folder

Everything the tool knows about a county before an election stands in one folder of plain tables that you
edit in your own
spreadsheet or editor. This page is generated from the code by `{MAKE}`.

- Only `county.toml` and `sites.csv` must be there. `pollstead check FOLDER` says what each other list would
  add.
- A column that you do not have may be left out; a cell that you do not know stays blank. *Not known* is not
  zero.
- Ids, serials and seal numbers are text: zeros in front count. Format those columns as text in a
  spreadsheet.
- Tables are CSV in UTF-8 (older encodings are read with a notice). Row 1 is the header; its order does not
  matter.
- A text that would start a formula gets an apostrophe in front when it is written, and loses it when it is
  read.
- A list cell has spaces between its items, or semicolons where an item has a space in it.
- Where two rows contradict one another neither is taken, and the sites that depend on them are not planned.

All names and numbers in this page's examples are invented.
"""


def page() -> str:
    """The whole page."""
    parts = [HEAD, "\n".join(_county())]
    parts += ["\n".join(_table(table)) for table in TABLES]
    parts.append("\n".join(_station_types()))
    parts.append("\n".join(_rules()))
    parts.append("\n".join(_values("assumptions.toml", "assumption", Assumption, ASSUMPTIONS)))
    parts.append(MAPPING)
    return "\n".join(parts)


ASSUMPTIONS = "Values that nobody has told yet, and what was taken instead. Written by the tool."

MAPPING = """## mapping.toml

Written by `pollstead new`: which table and column was taken for which, and every row that was left out,
with the reason.
Only `[[different]]` is read again: it names two sites (`a`, `b`) that a person has called different
buildings.
"""


def _row(*cells: str) -> str:
    return "| " + " | ".join(cell.replace("|", "\\|").replace("\n", " ") for cell in cells) + " |"


def _county() -> Iterator[str]:
    yield "## county.toml\n"
    yield "Name, day and zone of the election.\n"
    yield from _keys(CountyRow)
    yield ""


def _table(table: Table) -> Iterator[str]:
    yield f"## {table.file}\n"
    yield table.holds
    if table.adds:
        yield f"It adds {table.adds}."
    yield ""
    yield _row("column", "must be there", "holds", "meaning")
    yield _row("---", "---", "---", "---")
    for column in table.columns:
        yield _row(
            _names(column),
            "yes" if column.required else "",
            WANTED[column.kind],
            column.words,
        )
    yield ""


def _names(column: Column) -> str:
    first, *others = (heading.name for heading in column.headings)
    also = f" (also {', '.join(f'`{name}`' for name in others)})" if others else ""
    return f"`{first}`{also}"


def _station_types() -> Iterator[str]:
    yield "## station_types.toml\n"
    yield (
        "`[[station_type]]` describes one kind of station; packing, power, set-up, seals and sheets follow. "
        "`[[site_kind]]` says which station types stand at a kind of site, in the order a voter meets them. "
        "Files for five kinds of site ship with the tool (`pollstead new --kind A` to `E`); "
        "all values are yours to change.\n"
    )
    seen: list[type[Value]] = []
    for key, row_type in (("station_type", StationType), ("site_kind", SiteKind)):
        yield from _nested(f"[[{key}]]", row_type, seen)


def _rules() -> Iterator[str]:
    yield from _values("rules.toml", "setting", RuleSetting, "What your county has set; who confirmed it.")
    yield ("A rule that is a share may be set by `percent = 5` in place of `value = 50000` (per million).\n")
    yield "The rules, their defaults and where these are from:\n"
    yield _row("rule", "meaning", "default", "unit", "from", "who decides")
    yield _row(*["---"] * 6)
    for rule in REGISTRY:
        yield _row(f"`{rule.id}`", rule.words, str(rule.default), rule.unit, rule.citation, rule.who_decides)
    yield ""


def _values(file: str, key: str, row_type: type[Value], words: str) -> Iterator[str]:
    yield f"## {file}\n"
    yield f"{words}\n"
    yield from _nested(f"[[{key}]]", row_type, [])


def _nested(header: str, row_type: type[Value], seen: list[type[Value]]) -> Iterator[str]:
    """The keys of a type under its header, then those of the types inside it, each type once."""
    if row_type in seen:
        return
    seen.append(row_type)
    yield f"### `{header}`\n"
    yield f"{_about(row_type)}\n"
    yield from _keys(row_type)
    yield ""
    path = header.strip("[]")
    for name, hint in type_hints(row_type).items():
        inner, many = _inside(hint)
        if isinstance(inner, type) and issubclass(inner, Value):
            key = keys_of(name, hint)[0].name
            yield from _nested(f"[[{path}.{key}]]" if many else f"[{path}.{key}]", inner, seen)


def _about(row_type: type[Value]) -> str:
    """What a type is, in the units in which it is typed."""
    words = (row_type.__doc__ or "").strip().splitlines()[0].replace("``", "`")
    for inside, typed in (("milliseconds", "seconds"), (" (parts per million of a unit)", "")):
        words = words.replace(inside, typed)
    return re.sub(r"[,;][^.,;]*micrometres", "", words)


def _inside(hint: object) -> tuple[object, bool]:
    inner = without_none(hint)
    if typing.get_origin(inner) is tuple:
        return typing.get_args(inner)[0], True
    return inner, False


def _keys(row_type: type[Value]) -> Iterator[str]:
    yield _row("key", "must be there", "holds", "without it")
    yield _row("---", "---", "---", "---")
    hints = type_hints(row_type)
    for field in msgspec.structs.fields(row_type):
        names = [heading.name for heading in keys_of(field.name, hints[field.name])]
        shown = names[1:] if len(names) > 1 and names[1].endswith("_in") else names[:1]
        yield _row(
            " or ".join(f"`{name}`" for name in shown),
            "yes" if field.required else "",
            _holds(field.name, hints[field.name]),
            "" if field.required else _default(field.default),
        )


def _holds(name: str, hint: object) -> str:
    inner, many = _inside(hint)
    if isinstance(inner, type) and issubclass(inner, Value):
        return f"{'tables' if many else 'a table'}: {_about(inner)[0].lower()}{_about(inner)[1:].rstrip('.')}"
    if isinstance(inner, type) and issubclass(inner, enum.Enum):
        words = ", ".join(f"`{member.value}`" for member in inner)
        return f"a list of {words}" if many else f"one of {words}"
    if inner == int | str:
        return "a whole number or text"
    kind = cell_kind(name, inner)
    if kind is CellKind.YES_NO:
        return "`true` or `false`"
    return f"a list of {kind.value}" if many else WANTED[kind]


def _default(value: object) -> str:
    if isinstance(value, enum.Enum):
        return f"`{value.value}`"
    if isinstance(value, bool):
        return f"`{str(value).lower()}`"
    if isinstance(value, tuple):
        return ", ".join(f"`{getattr(item, 'value', item)}`" for item in value) or "none"
    if isinstance(value, Value):
        return "none of them"
    return "not known" if value is None else (str(value) or "blank")


def main() -> None:
    """Write the page."""
    PAGE.write_text(page(), encoding="utf-8")


if __name__ == "__main__":
    main()
