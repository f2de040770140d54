"""Names in the county folder, in the record and in data that ships: tables, columns, kinds, types, rules."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import Any

from found import PACKAGE, ROOT, Found
from pollstead.election.rules import REGISTRY
from pollstead.intake.tables import TABLES, TOML_FILES
from pollstead.record.kinds.registry import KINDS

SAID = ("name", "words", "item", "unit", "container", "reference", "device_kind", "seal_kind", "data")
"""Keys of a station type whose values people read on sheets and pages."""


def folder_texts() -> Iterator[Found]:
    """Files and columns of the county folder, and the keys of its TOML files."""
    for table in TABLES:
        yield Found(table.file, "county folder")
        for column in table.columns:
            for heading in column.headings:
                yield Found(heading.name, f"county folder: {table.file}")
    for file in TOML_FILES:
        yield Found(file, "county folder")
    for path in sorted((ROOT / "small").glob("*.toml")):
        for key in _keys(tomllib.loads(path.read_text(encoding="utf-8"))):
            yield Found(key, f"county folder: {path.name}")


def record_texts() -> Iterator[Found]:
    """Kinds of event."""
    for kind in KINDS:
        yield Found(kind, "record: kind of event")


def rule_texts() -> Iterator[Found]:
    """Ids, units and choices of the county rules."""
    for rule in REGISTRY:
        yield Found(rule.id, "county rules")
        for choice in (rule.unit, *rule.choices):
            if choice:
                yield Found(choice, "county rules")


def shipped_texts() -> Iterator[Found]:
    """What the station types that ship say on sheets and pages."""
    for path in sorted(PACKAGE.rglob("data/*.toml")):
        yield from (Found(words, "station types that ship") for words in _said(_read(path)))


def catalogued_data() -> Iterator[tuple[str, str]]:
    """(text, path) of what ships in data files, so that a language can say it too."""
    for path in sorted(PACKAGE.rglob("data/*.toml")):
        for words in _said(_read(path)):
            yield words, path.relative_to(ROOT).as_posix()


def _read(path: Any) -> Any:
    return tomllib.loads(path.read_text(encoding="utf-8"))


def _keys(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield key
            yield from _keys(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _keys(inner)


def _said(value: Any, key: str = "") -> Iterator[str]:
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from _said(inner, name)
    elif isinstance(value, list):
        for inner in value:
            yield from _said(inner, key)
    elif isinstance(value, str) and key in SAID:
        yield value
