"""The catalogue of texts to translate is current, and every translation keeps what must be kept."""

from __future__ import annotations

import importlib.resources
from pathlib import Path

import pytest
from babel.messages.pofile import read_po

import make_catalogue
from found import MAKE
from pollstead.show.words import fields, languages

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


def test_translations_keep_the_fields() -> None:
    """A translated text has the very fields of its original, and no text that the original lacks."""
    originals = {str(m.id) for m in make_catalogue.catalogue() if m.id}
    for path in sorted(LOCALE.glob("*.po")):
        with path.open("rb") as stream:
            translated = read_po(stream)
        for message in translated:
            if not message.id or not message.string:
                continue
            words, said = str(message.id), str(message.string)
            assert words in originals, f"{path.name}: {words!r} is not in the catalogue any more"
            assert sorted(fields(said)) == sorted(fields(words)), f"{path.name}: {words!r}"
        assert path.stem in languages()


def test_a_translation_that_loses_a_field_is_noticed(tmp_path: Path) -> None:
    """The check of fields sees one that is left out."""
    assert sorted(fields("Sitio")) != sorted(fields("Site {site}"))
    with pytest.raises(ValueError, match="expected '}'"):
        fields("Site {site")
