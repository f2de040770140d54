"""Words of the catalogue: what pseudo-languages and translations may change and what they keep."""

from __future__ import annotations

import importlib.resources
import io
import re
from pathlib import Path

import pytest
from babel.messages.pofile import read_po
from hypothesis import given
from hypothesis import strategies as st

from pollstead.election.words import N_, message
from pollstead.show.plural_words import TWINS
from pollstead.show.words import (
    ENGLISH,
    PSEUDO,
    PSEUDO_RTL,
    fields,
    fill,
    is_right_to_left,
    languages,
    pseudo,
    text,
)

NAMES = st.from_regex(r"[a-z_][a-z0-9_]{0,8}", fullmatch=True)
PIECES = st.one_of(
    st.text(alphabet="abcdefghijklmnopqrstuvwxyz ,.;:%ABC-", min_size=1, max_size=12),
    NAMES.map(lambda name: f"{{{name}}}"),
    st.sampled_from(["<b>", "</b>", '<bdi translate="no">', "&amp;", "{{", "}}", "%(count)s"]),
)
TEMPLATES = st.lists(PIECES, min_size=1, max_size=6).map("".join)
# Lengths by which English may grow in translation: W3C, "Text size in translation", table from IBM
# (read there as 200-300 % up to 10 characters, 180-200 % up to 20, 160-180 % up to 30, 130 % above 70).
W3C_LEAST_GROWTH = ((10, 2.0), (20, 1.8), (30, 1.6), (50, 1.4), (70, 1.3), (10_000, 1.3))


def catalogue_texts() -> list[str]:
    """Every text of the catalogue."""
    file = importlib.resources.files("pollstead.show").joinpath("locale", "pollstead.pot")
    with file.open("rb") as stream:
        return [str(m.id) for m in read_po(stream) if m.id]


@given(TEMPLATES)
def test_pseudo_language_keeps_fields_tags_and_braces(template: str) -> None:
    """What is between letters (fields, tags, entities, doubled braces) is the same, in the same order."""
    made = pseudo(template)
    assert fields(made) == fields(template)
    for kept in ("<b>", "</b>", '<bdi translate="no">', "&amp;", "{{", "}}", "%(count)s"):
        assert made.count(kept) == template.count(kept)


@given(TEMPLATES)
def test_pseudo_language_can_be_filled_in(template: str) -> None:
    """Whatever fills the original fills its pseudo twin, and each value stands in it."""
    values = {name: f"«{place}»" for place, name in enumerate(dict.fromkeys(fields(template)))}
    filled = pseudo(template).format_map(values)
    assert all(value in filled for value in values.values())


def test_pseudo_language_marks_every_text_of_the_catalogue() -> None:
    """Each text of the catalogue comes out between brackets, so that a forgotten one is seen on a page."""
    for words in catalogue_texts():
        made = text(words, PSEUDO)
        assert made.startswith("[") and made.endswith("]"), words
        assert made != words


@pytest.mark.full
def test_pseudo_language_is_as_long_as_translations_get() -> None:
    """Texts without fields grow at least as much as the least of W3C's table for their length."""
    for words in catalogue_texts():
        if fields(words) or "<" in words or "&" in words or len(words) < 3:
            continue
        growth = next(least for longest, least in W3C_LEAST_GROWTH if len(words) <= longest)
        assert len(text(words, PSEUDO)) >= growth * len(words) - 3, words


def test_both_pseudo_languages_are_offered_and_one_runs_right_to_left() -> None:
    """English comes first; the two pseudo-languages come last; only one of them runs right to left."""
    assert languages()[0] == ENGLISH
    assert languages()[-2:] == (PSEUDO, PSEUDO_RTL)
    assert [is_right_to_left(tag) for tag in (ENGLISH, PSEUDO, PSEUDO_RTL)] == [False, False, True]


def test_what_has_no_translation_stays_english() -> None:
    """English is returned as it is, and an empty text stays empty in every language."""
    assert text("Opening sheet") == "Opening sheet"
    assert all(text("", language) == "" for language in languages())


def test_message_is_filled_in_every_language() -> None:
    """A message takes its parameters whatever the language, and its English form is the default."""
    said = message(N_("{count} sites of {county}"), count=3, county="Larkmoor County")
    assert fill(said) == said.english() == "3 sites of Larkmoor County"
    for language in languages():
        assert "3" in fill(said, language) and "Larkmoor County" in fill(said, language)


def test_a_sentence_about_one_thing_takes_its_twin() -> None:
    """One seal lacks, two seals lack; a text that only looks like a number is no number."""
    template = N_("{count} seals lack for this bag.")
    assert fill(message(template, count=1), ENGLISH) == "1 seal lacks for this bag."
    assert fill(message(template, count=2), ENGLISH) == "2 seals lack for this bag."
    assert fill(message(template, count=0), ENGLISH) == "0 seals lack for this bag."
    assert fill(message(template, count="1"), ENGLISH) == "1 seals lack for this bag."


def test_each_twin_keeps_the_fields_and_its_sentence_is_used() -> None:
    """No twin loses a field, decides by a field that is not there, or stands for a sentence that is gone."""
    package = Path(str(importlib.resources.files("pollstead")))
    files = [*package.rglob("*.py"), *package.rglob("*.html")]
    spoken = "".join(f.read_text(encoding="utf-8") for f in files if f.name != "plural_words.py")
    joined = re.sub(r'"\s*\n\s*"', "", spoken)
    for many, twin in TWINS.items():
        assert sorted(fields(many)) == sorted(fields(twin.one)), many
        assert twin.decides in fields(many), many
        assert twin.one != many
        assert f'"{many}"' in joined, many


def test_a_catalogue_decides_by_its_own_plural_rule(monkeypatch: pytest.MonkeyPatch) -> None:
    """French says one of 0 too, Chinese has one form for every number.

    Plural rules: GNU gettext manual, "Plural forms" (families of languages); from memory.
    """
    from pollstead.show import words

    for rule, ones in (("nplurals=2; plural=(n > 1);", {0, 1}), ("nplurals=1; plural=0;", set())):
        po = f'msgid ""\nmsgstr ""\n"Content-Type: text/plain; charset=utf-8\\n"\n"Plural-Forms: {rule}\\n"\n'
        monkeypatch.setattr(words, "_po", lambda language, po=po: io.BytesIO(po.encode()))
        words._form.cache_clear()
        assert {n for n in range(5) if words.takes_one(n, "xx")} == ones
    words._form.cache_clear()
