"""Where work can hurt someone or law decides, the page says so, in every language."""

from __future__ import annotations

import html
import re
from typing import Any

import pytest

from pollstead.show.cautions import BY_ID, CAUTIONS, Place, for_place
from pollstead.show.web.capabilities import Role
from pollstead.show.web.who import LANGUAGE_COOKIE
from pollstead.show.words import languages, text

pytestmark = pytest.mark.full

PAGES = (
    ("/site/S01/opening", tuple(c.words for c in for_place(Place.OPENING_PAGE))),
    ("/site/S01/closing", tuple(c.words for c in for_place(Place.CLOSING_PAGE))),
    ("/ready", tuple(c.words for c in for_place(Place.READY_PAGE))),
    ("/day", (BY_ID["counts"].words,)),
    ("/site/S01/expected", (BY_ID["seals"].words,)),
    (
        "/site/S01",
        (
            BY_ID["seals"].words,
            BY_ID["lifting"].words,
            BY_ID["equipment-manual"].words,
            BY_ID["personal-data"].words,
        ),
    ),
    ("/allocation", tuple(c.words for c in for_place(Place.ALLOCATION))),
    ("/timings", tuple(c.words for c in for_place(Place.TIMINGS))),
    ("/tests", tuple(c.words for c in for_place(Place.SEALS))),
    ("/decks", tuple(c.words for c in for_place(Place.DECKS))),
    ("/decks/report?device=device/scanner/0001", tuple(c.words for c in for_place(Place.DECKS))),
    ("/stock", tuple(c.words for c in for_place(Place.SEALS))),
    ("/scan/pack", tuple(c.words for c in for_place(Place.PACKING))),
    ("/scan/inventory", tuple(c.words for c in for_place(Place.LOADING))),
    ("/receiving", tuple(c.words for c in for_place(Place.RECEIVING))),
    ("/not-back", tuple(c.words for c in for_place(Place.NOT_BACK))),
    ("/heard", tuple(c.words for c in for_place(Place.HEARD))),
    ("/waits", tuple(c.words for c in for_place(Place.WAITS))),
    ("/waits/count", tuple(c.words for c in for_place(Place.WAITS_COUNT))),
    ("/phone", tuple(c.words for c in for_place(Place.PHONE))),
    ("/paper", tuple(c.words for c in for_place(Place.PAPER_BACK))),
    ("/incidents", tuple(c.words for c in for_place(Place.INCIDENTS))),
    ("/orders", tuple(c.words for c in for_place(Place.EXTENDED_HOURS))),
    ("/supplies", tuple(c.words for c in for_place(Place.SUPPLIES))),
    ("/calendar", tuple(c.words for c in for_place(Place.CALENDAR))),
    ("/help", tuple(c.words for c in CAUTIONS if "{" not in c.words)),
)


OFFICE_PAGES = (
    ("/counts/import", tuple(c.words for c in for_place(Place.COUNT_FILES))),
    ("/canvass", tuple(c.words for c in for_place(Place.CANVASS))),
)
"""Pages that site leads do not see."""
DESK_PAGES = (("/site/S01/explanations", tuple(c.words for c in for_place(Place.EXPLANATIONS))),)
"""Pages of those who keep the canvass."""


@pytest.mark.parametrize("language", languages())
def test_each_page_has_its_cautions(issued_app: Any, language: str) -> None:
    """Each page on which cautions stand shows them word for word."""
    for role, pages in ((Role.SITE_LEAD, PAGES), (Role.READER, OFFICE_PAGES), (Role.CLERK, DESK_PAGES)):
        with issued_app.client(role) as client:
            client.cookies.set(LANGUAGE_COOKIE, language)
            for address, cautions in pages:
                shown = html.unescape(re.sub(r"<[^>]+>", "", client.get(address).text))
                assert cautions
                for words in cautions:
                    assert text(words, language) in shown, (address, words)
