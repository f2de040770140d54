"""``count_mappings.toml``: how the county's tables of counts are read, one mapping for each header."""

from __future__ import annotations

import os
import secrets
from pathlib import Path
from typing import Any

import msgspec

from pollstead.election.notice import Notice, Place
from pollstead.election.words import N_, message
from pollstead.intake.counts.mapping import ALL_MODES, ColumnUse, CountMapping, NameUse, Role, Target
from pollstead.intake.notices import cannot_read
from pollstead.intake.tables import COUNT_MAPPINGS_FILE
from pollstead.intake.toml_values import parse_toml, toml_text
from pollstead.intake.whole_files import sync_folder, write_synced

HEAD = "# How tables of counts are read: confirmed by a person, used again when the header is the same."


class _Column(msgspec.Struct, forbid_unknown_fields=True, kw_only=True):
    theirs: str
    holds: Role
    quantity: str = ""
    mode: str = ""


class _Name(msgspec.Struct, forbid_unknown_fields=True, kw_only=True):
    of: Role
    theirs: str
    ours: str


class _Mapping(msgspec.Struct, forbid_unknown_fields=True, kw_only=True):
    header: list[str]
    target: Target
    quantity: str = ""
    mode: str = ALL_MODES
    add_rows: bool = False
    confirmed_by: str = ""
    column: list[_Column]
    name: list[_Name] = []


class _File(msgspec.Struct, forbid_unknown_fields=True, kw_only=True):
    mapping: list[_Mapping] = []


def read_mappings(folder: Path) -> tuple[tuple[CountMapping, ...], tuple[Notice, ...]]:
    """The mappings that a county keeps, and what keeps its file from being read."""
    try:
        data = (folder / COUNT_MAPPINGS_FILE).read_bytes()
    except FileNotFoundError:
        return (), ()
    return parse_mappings(data)


def parse_mappings(data: bytes) -> tuple[tuple[CountMapping, ...], tuple[Notice, ...]]:
    """As `read_mappings`, from the bytes of the file."""
    top, faults = parse_toml(COUNT_MAPPINGS_FILE, data)
    if top is None:
        return (), tuple(faults)
    try:
        held = msgspec.convert(top, _File)
        return tuple(_value(one) for one in held.mapping), ()
    except (msgspec.ValidationError, ValueError) as error:
        said = N_("{file} does not say how a table is read")
        fault = cannot_read(
            "count-mapping",
            Place(file=COUNT_MAPPINGS_FILE),
            message(said, file=COUNT_MAPPINGS_FILE),
            found=str(error),
            wanted=N_("header, target and columns of each table"),
            remedy=message(N_("Correct this file, or move it away and confirm the columns anew.")),
        )
        return (), (fault,)


def _value(one: Any) -> CountMapping:
    mapping = CountMapping(
        header=tuple(one.header),
        target=one.target,
        columns=tuple(
            ColumnUse(theirs=c.theirs, role=c.holds, quantity=c.quantity, mode=c.mode) for c in one.column
        ),
        names=tuple(NameUse(role=n.of, theirs=n.theirs, ours=n.ours) for n in one.name),
        quantity=one.quantity,
        mode=one.mode,
        add_rows=one.add_rows,
        confirmed_by=one.confirmed_by,
    )
    stray = [use.theirs for use in mapping.columns if use.theirs not in mapping.header]
    if stray:
        raise ValueError(f"column {', '.join(stray)} is not in the header {', '.join(mapping.header)}")
    return mapping


def mapping_for(mappings: tuple[CountMapping, ...], header: tuple[str, ...]) -> CountMapping | None:
    """The mapping that was confirmed for just this header, the last one kept; None where there is none."""
    return next((one for one in reversed(mappings) if one.header == header), None)


def keep_mapping(folder: Path, mapping: CountMapping) -> bytes:
    """Keep a mapping in the county folder in place of the one for the same header; the file's bytes.

    Raises ValueError where the file that is there cannot be read: it is never written over.
    """
    known, faults = read_mappings(folder)
    if faults:
        raise ValueError(faults[0].text.english())
    data = mappings_text((*(one for one in known if one.header != mapping.header), mapping)).encode()
    beside = folder / f".{COUNT_MAPPINGS_FILE}.{secrets.token_hex(4)}"
    try:
        write_synced(beside, data)
        os.replace(beside, folder / COUNT_MAPPINGS_FILE)
    finally:
        beside.unlink(missing_ok=True)
    sync_folder(folder)
    return data


def mappings_text(mappings: tuple[CountMapping, ...]) -> str:
    """The mappings as TOML."""
    lines = [HEAD, ""]
    for mapping in mappings:
        header = ", ".join(toml_text(heading) for heading in mapping.header)
        lines += ["[[mapping]]", f"header = [{header}]", f"target = {toml_text(mapping.target.value)}"]
        if mapping.quantity:
            lines.append(f"quantity = {toml_text(mapping.quantity)}")
        lines += [f"mode = {toml_text(mapping.mode)}", f"add_rows = {str(mapping.add_rows).lower()}"]
        lines.append(f"confirmed_by = {toml_text(mapping.confirmed_by)}")
        for use in mapping.columns:
            lines += ["", "  [[mapping.column]]", f"  theirs = {toml_text(use.theirs)}"]
            lines.append(f"  holds = {toml_text(use.role.value)}")
            lines += [
                f"  {key} = {toml_text(word)}"
                for key, word in (("quantity", use.quantity), ("mode", use.mode))
                if word
            ]
        for name in mapping.names:
            lines += ["", "  [[mapping.name]]", f"  of = {toml_text(name.role.value)}"]
            lines += [f"  theirs = {toml_text(name.theirs)}", f"  ours = {toml_text(name.ours)}"]
        lines.append("")
    return "\n".join(lines)
