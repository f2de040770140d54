"""What ``pollstead counts import`` says of a file: columns, names, numbers against the record."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from pollstead.cli.fact_lines import print_notices
from pollstead.election.words import N_, message
from pollstead.intake.counts.mapping import TARGET_WORDS
from pollstead.show.cautions import BY_ID
from pollstead.show.words import fill, text
from pollstead.work.count_asked import word_of
from pollstead.work.count_names import MODE_WORDS, QUANTITY_WORDS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from pollstead.intake.counts.counted import Counted
    from pollstead.intake.counts.mapping import CountMapping
    from pollstead.intake.counts.names import Unknown
    from pollstead.work.count_import import FileRead, ImportLine, Preview, SheetRead

FORMAT = "pollstead counts import 1"
MOST_SKIPPED = 20


def tell_file(read: FileRead) -> None:
    """Name the file's tables where there are several, and what is to be known about it."""
    print_notices(read.notices)
    if len(read.sheets) > 1:
        for sheet in read.sheets:
            hidden = f" {text(N_('(hidden sheet)'))}" if sheet.table.hidden else ""
            print(f"--sheet {sheet.table.name!r}{hidden}")


def tell_preview(
    sheet: SheetRead,
    mapping: CountMapping,
    found: Preview | None,
    faults: tuple[str, ...],
    *,
    confirmed: bool,
    named: Mapping[str, str],
) -> None:
    """Print how the table is read, what is wrong with it, and each number against the record."""
    table = sheet.table
    lead = message(
        N_("{table}: {rows} rows, header in row {header}; read as {what}"),
        table=table.name,
        rows=len(table.rows),
        header=table.header_row,
        what=text(TARGET_WORDS[mapping.target]),
    )
    print(fill(lead))
    if table.standard:
        print(fill(message(N_("Format: {name}. Votes are passed over."), name=table.standard)))
    for use in mapping.columns:
        alike = "" if sheet.confirmed or use.likeness == 100 else f" ({use.likeness} %)"
        print(f"  {use.theirs} = {word_of(use)}{alike}")
    unused = [heading for heading in table.header if heading not in {u.theirs for u in mapping.columns}]
    if unused:
        print(f"  {text(N_('not used:'))} {', '.join(unused)}")
    if sheet.confirmed:
        by = mapping.confirmed_by.removeprefix("person/")
        print(fill(message(N_("Columns and names as confirmed by {person}."), person=by)))
    elif not confirmed:
        print(text(N_("Proposed; nobody has confirmed these columns yet.")))
    for sentence in faults:
        print(text(sentence))
    for one in table.skipped[:MOST_SKIPPED]:
        print(f"  {text(N_('row'))} {one.row}: {text(one.why)}: {one.text}")
    if len(table.skipped) > MOST_SKIPPED:
        more = message(N_("  and {n} more rows that are not read"), n=len(table.skipped) - MOST_SKIPPED)
        print(fill(more))
    if found is None:
        return
    print_notices((*found.read.faults, *found.read.not_made, *found.read.differences))
    for unknown in found.read.unknown:
        print(fill(_unknown(unknown, named)))
    for line in found.lines:
        print(f"  {_line(line)}")
    print(fill(_summary(found)))
    print(text(BY_ID["counts"].words))


def _unknown(one: Unknown, named: Mapping[str, str]) -> Any:
    near = ", ".join(f"{own} {named.get(own, '')}".strip() for own in one.nearest) or text(N_("none"))
    template = (
        N_("Row {row}, {column}: {name} is the name of several: {near}. Say --same '{name}=ID'")
        if one.same_as
        else N_(
            "Row {row}, {column}: {name} is not known ({times} rows). Nearest: {near}. Say --same '{name}=ID'"
        )
    )
    return message(template, row=one.row, column=one.column, name=one.text, times=one.times, near=near)


def _line(line: ImportLine) -> str:
    one = line.counted
    words = [one.subject, text(MODE_WORDS.get(one.mode, one.mode))]
    words.append(text(QUANTITY_WORDS.get(one.quantity, one.quantity)))
    words.append(str(one.amount))
    said = " ".join(filter(None, words))
    if one.styles:
        said += " (" + ", ".join(f"{style} {count}" for style, count in one.styles) + ")"
    if len(one.parts) > 1 and not one.styles:
        said += fill(message(N_(", added up from {n} rows"), n=len(one.parts)))
    said += f": {text(line.standing.value)}"
    if line.there:
        said += " " + ", ".join(map(str, line.there))
    for source, number in line.elsewhere:
        said += "; " + fill(message(N_("{source} says {number}"), source=source, number=number))
    return said


def _summary(found: Preview) -> Any:
    from pollstead.work.count_import import Standing

    return message(
        N_("{new} new, {same} recorded already, {differs} differ; {blank} cells are blank and no zero."),
        new=len(found.of(Standing.NEW)),
        same=len(found.of(Standing.SAME)),
        differs=len(found.of(Standing.DIFFERS)),
        blank=found.read.blanks,
    )


def as_object(
    read: FileRead, sheet: SheetRead, mapping: CountMapping, found: Preview | None
) -> dict[str, Any]:
    """The stable JSON form."""
    return {
        "format": FORMAT,
        "file": read.name,
        "digest": read.digest,
        "table": sheet.table.name,
        "header_row": sheet.table.header_row,
        "standard": sheet.table.standard,
        "confirmed": sheet.confirmed,
        "what": mapping.target.value,
        "columns": [
            {"theirs": u.theirs, "ours": word_of(u), "likeness": u.likeness} for u in mapping.columns
        ],
        "missing": list(mapping.faults()),
        "skipped": [{"row": s.row, "why": s.why} for s in sheet.table.skipped],
        "unknown": [
            {
                "column": u.column,
                "row": u.row,
                "text": u.text,
                "rows": u.times,
                "nearest": list(u.nearest),
            }
            for u in (found.read.unknown if found else ())
        ],
        "faults": [_notice(n) for n in (found.read.faults if found else ())],
        "differences": [_notice(n) for n in (found.read.differences if found else ())],
        "not_made": [_notice(n) for n in (found.read.not_made if found else ())],
        "blank_cells": found.read.blanks if found else 0,
        "numbers": [
            {**_number(line.counted), "standing": line.standing.value, "there": list(line.there)}
            for line in (found.lines if found else ())
        ],
    }


def _notice(notice: Any) -> dict[str, Any]:
    return {
        "rule": notice.rule,
        "row": notice.place.row if notice.place else None,
        "column": notice.place.column if notice.place else None,
        "text": notice.text.english(),
        "found": notice.found,
        "wanted": notice.wanted,
    }


def _number(one: Counted) -> dict[str, Any]:
    return {
        "of": one.subject,
        "mode": one.mode,
        "quantity": one.quantity,
        "total": one.total,
        "styles": [{"style": style, "count": count} for style, count in one.styles],
        "rows": sorted({part.row for part in one.parts}),
    }
