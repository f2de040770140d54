"""``pollstead book``: the office book of a folder as one PDF, for whoever takes over. Thin."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import cyclopts

from pollstead.cli.county import Refused, county_folder, tell
from pollstead.election.words import N_, message
from pollstead.show.words import fill, spoken, text

app = cyclopts.App(name="book", help=text(N_("Print the office book for whoever takes over.")))
PACKETS = "packets"
BOOK_NAME = "office-book.pdf"


@app.default
def book(
    folder: Path,
    out: Path | None = None,
    /,
    *,
    no_phones: Annotated[
        bool,
        cyclopts.Parameter(name="--no-phones", negative=(), help=text(N_("Leave telephone numbers out."))),
    ] = False,
    paper: Annotated[str, cyclopts.Parameter(help=text(N_("letter or a4.")))] = "letter",
) -> int:
    """Write the office book into OUT, else FOLDER/packets/office-book.pdf; returns 1 where it cannot."""
    from pollstead.show.book.book import office_book
    from pollstead.show.book.setting import book_pdf
    from pollstead.show.packet.setting import PrintFailed
    from pollstead.show.packet.typesetting import page_count, write_whole
    from pollstead.show.web.open_folder import OpenFolder

    if paper not in ("letter", "a4"):
        print(text(N_("--paper must be letter or a4.")), file=sys.stderr)
        return 2
    try:
        opened = OpenFolder(county_folder(folder))
        try:
            made = book_pdf(office_book(opened, language=spoken(), phones=not no_phones, paper=paper))
        finally:
            opened.close()
        path = out or folder / PACKETS / BOOK_NAME
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, made)
    except Refused as refused:
        return tell(refused)
    except PrintFailed as error:
        print(fill(error.said), file=sys.stderr)
        return 1
    except ValueError as error:
        print(error, file=sys.stderr)
        return 1
    print(fill(message(N_("Office book: {path}, {pages} pages."), path=str(path), pages=page_count(made))))
    print(text(N_("It holds names: hand it to a person, not to a wall.")))
    return 0
