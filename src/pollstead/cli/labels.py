"""``pollstead labels``: labels with codes for what is scanned, and command cards. Thin: read, print."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import cyclopts

from pollstead.cli.county import Refused, facts_of, tell
from pollstead.cli.standing import standing_of
from pollstead.election.words import N_, message
from pollstead.show.words import fill, spoken, text

app = cyclopts.App(
    name="labels", help=text(N_("Print labels with codes for devices, carts, bags and cases."))
)


@app.default
def labels(
    folder: Path,
    /,
    *,
    what: Annotated[
        str,
        cyclopts.Parameter(
            help=text(N_("devices, carts, bags, cases, memory-cases, doors, badges, commands"))
        ),
    ] = "devices",
    print_: Annotated[Path, cyclopts.Parameter(name="--print", help=text(N_("Print into this PDF file.")))],
    stock: Annotated[
        str, cyclopts.Parameter(help=text(N_("Label sheet: one of the table label_stock, or a common one.")))
    ] = "",
    start: Annotated[
        int, cyclopts.Parameter(help=text(N_("First place on the first sheet, from 1, row by row.")))
    ] = 1,
    only: Annotated[
        tuple[str, ...],
        cyclopts.Parameter(negative=(), help=text(N_("Only these codes, to print one label again."))),
    ] = (),
    right_mm: Annotated[
        float, cyclopts.Parameter(help=text(N_("Move everything to the right, or left if below 0, in mm.")))
    ] = 0.0,
    down_mm: Annotated[
        float, cyclopts.Parameter(help=text(N_("Move everything down, or up if below 0, in mm.")))
    ] = 0.0,
    test_page: Annotated[
        bool,
        cyclopts.Parameter(
            negative=(), help=text(N_("Print the outlines on plain paper, to hold against a label sheet."))
        ),
    ] = False,
) -> int:
    """Print labels; a code holds the serial or tag alone. Returns 1 where they cannot be printed."""
    from pollstead.election.label_stock import COMMON
    from pollstead.show.packet.labels import (
        BADGE_STOCK,
        KINDS,
        badge_labels,
        label_job,
        labels_of,
        labels_pdf,
    )
    from pollstead.show.packet.setting import PrintFailed
    from pollstead.show.packet.typesetting import page_count, write_whole
    from pollstead.show.packet.wording import Say
    from pollstead.work.stock import stock_report

    try:
        election, _ = facts_of(folder)
        plan, folded, _ = standing_of(folder)
    except Refused as refused:
        return tell(refused)
    known = {one.id: one for one in (*COMMON, *election.label_stock)}
    wanted = (
        stock
        or (BADGE_STOCK if what == "badges" else "")
        or (election.label_stock[0].id if election.label_stock else COMMON[0].id)
    )
    if wanted not in known or what not in KINDS:
        said = message(
            N_("{given} is not known here. Choose one of: {known}."),
            given=what if what not in KINDS else wanted,
            known=", ".join(KINDS if what not in KINDS else known),
        )
        print(fill(said), file=sys.stderr)
        return 1
    say = Say(spoken())
    found = labels_of(what, election, plan, stock_report(election, plan, folded).bags, say)
    if only and what == "badges":
        found = badge_labels(election, say, frozenset(only))
        found = tuple(one for one in found if one.code.removeprefix("person/") in only)
    elif only:
        found = tuple(label for label in found if {label.code, label.title} & set(only))
    if not found and not test_page:
        print(text(N_("There is nothing to label: no such thing is in the tables.")), file=sys.stderr)
        return 1
    shift = (round(right_mm * 1000), round(down_mm * 1000))
    try:
        made = labels_pdf(
            label_job(
                found, known[wanted], election=election, say=say, start=start, shift_um=shift, test=test_page
            )
        )
        print_.parent.mkdir(parents=True, exist_ok=True)
        write_whole(print_, made)
    except PrintFailed as error:
        print(fill(error.said), file=sys.stderr)
        return 1
    print(
        fill(
            message(
                N_("{path}: {labels} labels on {pages} sheets, size {stock}."),
                path=str(print_),
                labels=0 if test_page else len(found),
                pages=page_count(made),
                stock=wanted,
            )
        )
    )
    return 0
