"""The typefaces that ship: whole, licensed, and with a glyph for every letter of every catalogue."""

from __future__ import annotations

import functools
import hashlib
from pathlib import Path

import pytest
from PIL import ImageFont

import pollstead
from pollstead.show import cautions, fonts
from pollstead.show.words import languages, text

pytestmark = pytest.mark.full

FOLDER = Path(str(fonts.folder()))


def test_font_files_are_those_of_the_list():
    """Every font and the license have the SHA-256 that the list names; nothing else is there."""
    listed = dict(
        reversed(line.split()) for line in (FOLDER / "SHA256SUMS").read_text(encoding="ascii").splitlines()
    )
    assert set(listed) == {*fonts.FILES, "OFL.txt"}
    for name, digest in listed.items():
        assert hashlib.sha256((FOLDER / name).read_bytes()).hexdigest() == digest
    assert {path.name for path in FOLDER.glob("*.ttf")} == set(fonts.FILES)


def test_license_and_origin_stand_beside_the_fonts():
    """The SIL Open Font License 1.1, name, version and origin of the fonts are in the folder."""
    assert "SIL OPEN FONT LICENSE Version 1.1" in (FOLDER / "OFL.txt").read_text(encoding="utf-8")
    told = (FOLDER / "README.md").read_text(encoding="utf-8")
    assert "Public Sans" in told and "1.008" in told and "3.14.0" in told


@pytest.mark.parametrize("file", fonts.FILES)
def test_covered_characters_agree_with_another_reader(file):
    """Our reading of the character map names the letters that FreeType (through Pillow) can draw."""
    font = ImageFont.truetype(str(FOLDER / file), 40)
    nothing = font.getmask("\uffff").tobytes() if hasattr(font.getmask("\uffff"), "tobytes") else None
    held = fonts.covered(file)
    blank = bytes(font.getmask("\U0010ffff"))
    for character in "AZaz09éñŵß–—“”…−×·½→✓■Ж中א":
        drawn = bytes(font.getmask(character)) != blank
        assert drawn == (ord(character) in held), character
    assert nothing is None or isinstance(nothing, bytes)


@functools.cache
def marked_texts():
    """Every text marked for the catalogue anywhere in the program."""
    import ast

    found = []

    for path in Path(pollstead.__file__).parent.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Name)
                and node.func.id in ("N_", "_")
                and node.args
                and isinstance(node.args[0], ast.Constant)
                and isinstance(node.args[0].value, str)
            ):
                found.append(node.args[0].value)
    return tuple(found)


@pytest.mark.parametrize("language", languages())
def test_every_catalogue_text_has_its_glyphs(language):
    """In every language, each marked text can be printed with the fonts that ship."""
    found = marked_texts()
    assert len(found) > 200
    assert [t for t in found if fonts.missing(text(t, language))] == []
    assert [c.id for c in cautions.CAUTIONS if fonts.missing(text(c.words, language))] == []


def test_named_letters_are_cut_after_a_dozen():
    """A reader gets each letter with its code point; of many, the first dozen and how many more."""
    assert fonts.named(("ق",)) == "ق (U+0642)"
    many = tuple(chr(0x4E00 + n) for n in range(15))
    assert fonts.named(many).count("U+") == 12
    assert fonts.named(many).endswith(" +3")
