"""Cells of an XLSX file that hold an error, or a formula without a result, which a reader gives as blank."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator

_SHEET = re.compile(rb"<(?:\w+:)?sheet\b[^>]*>")
_RELATION = re.compile(rb"<(?:\w+:)?Relationship\b[^>]*>")
_ATTRIBUTE = re.compile(rb'([\w:]+)="([^"]*)"')
_ERROR_CELL = re.compile(rb'<(?:\w+:)?c\b(?=[^>]*\bt="e")[^>]*?\br="([A-Z]{1,3}[0-9]{1,7})"')
_CELL = re.compile(rb'<(?:\w+:)?c\b([^>/]*?\br="([A-Z]{1,3}[0-9]{1,7})"[^>/]*)>(.*?)</(?:\w+:)?c>', re.DOTALL)
_FORMULA = re.compile(rb"<(?:\w+:)?f\b")
_RESULT = re.compile(rb"<(?:\w+:)?v\b[^>/]*>[^<]")
_EMPTY_TEXT = re.compile(rb'\bt="str"')


def error_cells(packed_bytes: io.BytesIO) -> dict[str, tuple[str, ...]]:
    """The cells of each sheet that would read as blank: an error such as a division by zero, or a formula
    without a result."""
    found: dict[str, tuple[str, ...]] = {}
    try:
        with zipfile.ZipFile(packed_bytes) as packed:
            names = set(packed.namelist())
            if not {"xl/workbook.xml", "xl/_rels/workbook.xml.rels"} <= names:
                return {}
            targets = {
                own.get(b"Id"): own.get(b"Target", b"").decode("utf-8", "replace").lstrip("/")
                for own in _attributes(_RELATION, packed.read("xl/_rels/workbook.xml.rels"))
            }
            for own in _attributes(_SHEET, packed.read("xl/workbook.xml")):
                target = targets.get(own.get(b"r:id"), "")
                target = target if target.startswith("xl/") else f"xl/{target}"
                if target in names:
                    data = packed.read(target)
                    cells = tuple(c.decode() for c in (*_ERROR_CELL.findall(data), *_without_result(data)))
                    if cells:
                        found[own.get(b"name", b"").decode("utf-8", "replace")] = cells
    except zipfile.BadZipFile as error:
        raise ValueError(str(error)) from error
    return found


def _without_result(sheet: bytes) -> list[bytes]:
    """The cells of a sheet whose formula no program has computed yet."""
    if not _FORMULA.search(sheet):
        return []
    return [
        cell
        for start, cell, inside in _CELL.findall(sheet)
        if _FORMULA.search(inside) and not _RESULT.search(inside) and not _EMPTY_TEXT.search(start)
    ]


def _attributes(tag: re.Pattern[bytes], data: bytes) -> Iterator[dict[bytes, bytes]]:
    for found in tag.finditer(data):
        yield dict(_ATTRIBUTE.findall(found[0]))
