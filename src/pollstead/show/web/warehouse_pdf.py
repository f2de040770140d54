"""A sheet of the warehouse as the answer of a page: set in a child process, given as PDF."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path

from litestar import Response

from pollstead.election.canonical import digest_of
from pollstead.election.county import Election
from pollstead.election.instants import Instant
from pollstead.election.words import N_
from pollstead.show.packet.content import Print
from pollstead.show.packet.setting import PrintFailed, SettingProcess
from pollstead.show.packet.warehouse import Printing
from pollstead.show.web.pages.frame import Ask, Trouble


def pdf_answer(
    ask: Ask, election: Election, name: str, back: str, make: Callable[[Printing], Print]
) -> Response[bytes]:
    """The PDF that `make` describes, as `name`; raises Trouble, leading `back`, where it cannot be set."""
    given = Printing(
        election=election,
        digest=ask.folder.current_digest() or digest_of(election),
        printed_at=Instant(utc_ms=ask.folder.clock()),
        language=ask.language,
    )
    process = SettingProcess()
    try:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / name
            process.set(path, make(given))
            content = path.read_bytes()
    except PrintFailed as error:
        raise Trouble(
            409, N_("{why}"), N_("Correct that, then print again."), back, why=str(error)
        ) from error
    finally:
        process.end()
    return Response(
        content=content,
        media_type="application/pdf",
        headers={"content-disposition": f'inline; filename="{name}"'},
    )
