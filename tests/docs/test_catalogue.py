"""The catalogue of texts to translate is current, and every translation keeps what must be kept."""

from __future__ import annotations

import importlib.resources
from pathlib import Path

import pytest
from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po

import make_catalogue
from found import MAKE
from pollstead.show.words import fields, languages

pytestmark = pytest.mark.full

LOCALE = Path(str(importlib.resources.files("pollstead.show").joinpath("locale")))


def test_catalogue_is_what_the_code_says() -> None:
    """pollstead.pot holds every text of pages, sheets, scripts and commands, and no other."""
    assert make_catalogue.PAGE.read_text(encoding="utf-8") == make_catalogue.page(), f"run: {MAKE}"


def test_catalogue_is_read_by_gettext_tools() -> None:
    """Babel reads the file back with the same texts, each with the file it stands in."""
    with make_catalogue.PAGE.open("rb") as stream:
        read = read_po(stream)
    texts = {m.id for m in read if m.id}
    assert texts == {m.id for m in make_catalogue.catalogue() if m.id}
    assert len(texts) > 300
    assert all(m.locations for m in read if m.id)


def test_every_text_can_be_filled_in() -> None:
    """Each template's fields have plain names, so that a translator can move them."""
    for message in make_catalogue.catalogue():
        for name in fields(str(message.id)):
            assert name.isidentifier(), f"{message.id!r}: {name!r}"


def translation_faults(translated: Catalog, originals: set[str]) -> list[str]:
    """What is wrong with a translation: a text that the original lacks, a field lost or made up."""
    faults = []
    for message in translated:
        words, said = str(message.id), str(message.string or "")
        if not words or not said:
            continue
        if words not in originals:
            faults.append(f"{words!r} is not in the catalogue any more")
        elif sorted(fields(said)) != sorted(fields(words)):
            faults.append(f"{words!r} has the fields {fields(words)}, its translation {fields(said)}")
    return faults


def test_translations_keep_the_fields() -> None:
    """Each translated text has the very fields of its original, and its file is an offered language."""
    originals = {str(m.id) for m in make_catalogue.catalogue() if m.id}
    for path in sorted(LOCALE.glob("*.po")):
        with path.open("rb") as stream:
            assert translation_faults(read_po(stream), originals) == [], path.name
        assert path.stem in languages()


def test_a_translation_that_loses_a_field_is_noticed() -> None:
    """A field left out, a field made up and a text of an older version are each named."""
    translated = Catalog(locale="es")
    translated.add("Site {site}", "Sitio {site}")
    translated.add("Page {page} of {pages}", "Página {page}")
    translated.add("Opening sheet", "Hoja de apertura {site}")
    translated.add("Gone", "Ido")
    found = translation_faults(translated, {"Site {site}", "Page {page} of {pages}", "Opening sheet"})
    assert [fault.split("'")[1] for fault in found] == ["Page {page} of {pages}", "Opening sheet", "Gone"]
