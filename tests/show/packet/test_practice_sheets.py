"""PRACTICE on every printed page, as seen in the pixels of a page and not only in its text."""

from __future__ import annotations

from typing import Any

import pytest
from msgspec.structs import replace

from pollstead.election.practice import is_practice_serial, practice_of
from pollstead.plan.terms.version import SheetKind
from pollstead.show.packet.codes import qr_svg
from pollstead.show.packet.packet import packet
from pollstead.show.packet.typesetting import typesetter

pytestmark = pytest.mark.full


def test_every_page_of_a_practice_packet_says_so_in_black(sample: Any) -> None:
    """Each page's text has the word, blank backs too; each printed page has the black band at its top."""
    import msgspec
    import pypdfium2

    election = practice_of(sample.county())
    made = packet(sample.given("S01", election=election), (SheetKind.COVER, SheetKind.SEALS))
    assert made is not None
    assert all(is_practice_serial(sheet.serial) for sheet in made.sheets)
    made = replace(made, sheets=made.sheets[:2])
    with typesetter() as setter:
        data = setter.pdf(
            {
                "print": msgspec.to_builtins(made),
                "codes": {sheet.serial: qr_svg(sheet.serial) for sheet in made.sheets},
                "timestamp": made.timestamp,
            }
        )
    document = pypdfium2.PdfDocument(data)
    for page in document:
        text = page.get_textpage().get_text_range()
        assert "PRACTICE" in text
        if "blank on purpose" in text:
            continue
        grey = page.render(scale=1, grayscale=True).to_numpy()
        top = grey[: grey.shape[0] // 3]
        # A row of the page of which most is ink: the band behind the word, 1-bit and grey alike.
        assert ((top < 64).mean(axis=1) > 0.75).any()
