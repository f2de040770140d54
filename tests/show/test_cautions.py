"""Cautions stand where work can hurt someone or law decides, in every language, on screen and on paper."""

from __future__ import annotations

import re

import pytest

from pollstead.plan.terms.version import SheetKind
from pollstead.show.cautions import BY_ID, CAUTIONS, PLACES, Place, for_place
from pollstead.show.words import text

# Which sentence each place needs, written down here a second time on purpose: a caution dropped from
# the program's own table fails this test.
NEEDED = {
    Place.POWER: ("power", "cords", "generator"),
    Place.OUTLET_CARD: ("power",),
    Place.DRAWING: ("power", "exits"),
    Place.BREAKER_CARD: ("breaker",),
    Place.RUN: ("power", "cords", "lifting", "cart", "exit-path", "ladders", "equipment-manual"),
    Place.PACKING: ("lifting", "cart", "containers"),
    Place.LOADING: ("lifting", "cart", "batteries"),
    Place.RAMP: ("ramp",),
    Place.SIGNS: ("ladders",),
    Place.CURBSIDE: ("curbside",),
    Place.ROUTE: ("night-routes",),
    Place.EVACUATION: ("evacuation",),
    Place.COVER: ("personal-data", "evacuation"),
    Place.OPENING: ("seals", "equipment-manual", "no-voter-names"),
    Place.OPENING_PAGE: ("seals", "equipment-manual"),
    Place.CLOSING: ("containers", "counts", "seals", "equipment-manual", "no-voter-names"),
    Place.CLOSING_PAGE: ("containers", "counts", "seals", "equipment-manual"),
    Place.SEALS: ("seals", "containers"),
    Place.BALANCE: ("counts", "containers", "no-voter-names"),
    Place.EXPECTED: ("seals",),
    Place.CHANGE: ("containers", "seals", "personal-data"),
    Place.CHANGE_PAGE: ("containers", "seals", "personal-data"),
    Place.READY_PAGE: ("seals",),
    Place.CALENDAR: ("calendar",),
    Place.EXTENDED_HOURS: ("extended-hours",),
    Place.SURVEY: ("survey",),
    Place.WORKERS: ("personal-data",),
    Place.ROSTER: ("labor", "personal-data"),
    Place.TALLY: ("no-voter-names", "counts"),
    Place.PHOTOS: ("photos",),
    Place.PUBLIC_WAITS: ("public-waits",),
    Place.RECEIVING: ("containers", "seals"),
    Place.RECEIPT: ("containers", "counts"),
    Place.NOT_BACK: ("containers", "personal-data"),
    Place.PAPER_BACK: ("containers", "counts", "no-voter-names"),
    Place.INCIDENTS: ("no-voter-names", "counts", "equipment-manual", "containers"),
    Place.WAITS: ("waits",),
    Place.WAITS_COUNT: ("waits", "no-voter-names"),
    Place.SUPPLIES: ("counts", "containers", "no-voter-names"),
    Place.HEARD: ("personal-data",),
    Place.PHONE: ("counts", "no-voter-names"),
    Place.CANVASS: ("counts", "containers", "no-voter-names"),
    Place.COUNT_FILES: ("counts", "no-voter-names"),
    Place.EXPLANATIONS: ("counts", "containers"),
    Place.DECKS: ("test-decks", "equipment-manual", "no-voter-names"),
    Place.ALLOCATION: ("power", "room", "least-numbers"),
    Place.TIMINGS: ("timings", "no-voter-names"),
    Place.OFFICE_BOOK: ("personal-data", "containers", "calendar", "equipment-manual"),
}
PAPER = {
    SheetKind.COVER: Place.COVER,
    SheetKind.PACKING: Place.PACKING,
    SheetKind.RUN: Place.RUN,
    SheetKind.OPENING: Place.OPENING,
    SheetKind.CLOSING: Place.CLOSING,
    SheetKind.SEALS: Place.SEALS,
    SheetKind.LINES: Place.WAITS_COUNT,
    SheetKind.BALANCE: Place.BALANCE,
    SheetKind.EXPECTED: Place.EXPECTED,
    SheetKind.CHANGE: Place.CHANGE,
}


def test_every_place_has_its_cautions():
    """Each place has at least the cautions listed here, and no place is without any."""
    assert set(NEEDED) == set(Place) == {place for place, _ in PLACES}
    for place, ids in NEEDED.items():
        assert set(ids) <= {caution.id for caution in for_place(place)}, place


def test_every_caution_has_one_id_and_a_place():
    """Ids come once, every caution stands somewhere, and every place names cautions that there are."""
    assert len(BY_ID) == len(CAUTIONS)
    used = {caution_id for _, ids in PLACES for caution_id in ids}
    assert used == set(BY_ID)


def test_caution_sentences_never_use_words_that_claim_too_much():
    """No caution says legal, safe (of a room), approved, verified, official, fraud or lost votes."""
    banned = re.compile(
        r"\b(legal|illegal|verified|certified|fraud|tamper\w*|lost votes|official count)\b", re.I
    )
    assert [c.id for c in CAUTIONS if banned.search(c.words)] == []


@pytest.mark.parametrize("language", ["en-US", "en-XA"])
@pytest.mark.parametrize("kind", list(SheetKind))
def test_every_sheet_on_paper_carries_its_cautions(packet_sheets, kind, language):
    """Each sheet of a packet, in each language, carries every sentence of its place in a caution frame."""
    found = [sheet for sheet in packet_sheets(language) if sheet.kind is kind]
    assert found
    for sheet in found:
        said = [item for b in sheet.blocks if type(b).__name__ == "Cautions" for item in b.items]
        assert said == [text(caution.words, language) for caution in for_place(PAPER[kind])]
