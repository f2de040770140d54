"""docs/words.md lists every word a user sees, each with a tag, and none of the words we never use."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

import extract_words
import found
import from_code
import from_templates
import never_used
from found import MAKE, CannotExtract

pytestmark = pytest.mark.full

ROOT = Path(__file__).resolve().parents[2]
TO_MEND = f"run: {MAKE} (and give each new word its tag in docs/words.md)"


@pytest.fixture(scope="module")
def listed() -> str:
    """The page as committed."""
    return extract_words.PAGE.read_text(encoding="utf-8")


def documents() -> list[Path]:
    """Every document that a reader of the project meets; the generated lists are checked word by word."""
    generated = {"words.md"}
    docs = [path for path in (ROOT / "docs").rglob("*.md") if path.name not in generated]
    return sorted([*docs, ROOT / "README.md", ROOT / "CONTRIBUTING.md", ROOT / "CHANGELOG.md"])


def test_word_list_is_what_the_code_says(listed: str) -> None:
    """No label, column, command, state or title is missing from the list, and none stands there in vain."""
    assert extract_words.page(listed) == listed, TO_MEND


def test_every_word_has_a_tag(listed: str) -> None:
    """Each word is tagged as of the trade, of a named standard, or ours."""
    rows = extract_words.tags(listed)
    assert len(rows) > 500
    waiting = sorted(words for words, tag in rows.items() if not extract_words.TAG.fullmatch(tag))
    assert not waiting, f"{TO_MEND}: {waiting[:20]}"


def test_tags_survive_a_new_list() -> None:
    """A tag given by hand stays when the list is written again, and a new word waits for one."""
    first = extract_words.page("")
    words = next(w for w, tag in extract_words.tags(first).items() if tag == "?")
    by_hand = first.replace(f"| {words} | ", f"| {words} | ", 1)
    row = next(
        line for line in by_hand.splitlines() if line.startswith(f"| {words} | ") and line.endswith("| ? |")
    )
    by_hand = by_hand.replace(row, row.removesuffix("| ? |") + "| standard (RFC 4180) |")
    again = extract_words.tags(extract_words.page(by_hand))
    assert again[words] == "standard (RFC 4180)"
    assert "?" in again.values()


def test_a_new_label_is_found_wherever_it_stands() -> None:
    """The extractor sees a label in code, in an enumeration, in a page and in a script."""
    code = (
        'from x import N_\nTITLE = N_("Brand-new title")\nprint(message("Another {n}", n=1), text("Third"))\n'
    )
    assert list(from_code.marked(ast.parse(code), "x.py")) == ["Brand-new title", "Another {n}", "Third"]
    states = 'class State(enum.StrEnum):\n    """States."""\n    NEW = "brand-new state"\n'
    assert list(from_code.enum_values(ast.parse(states))) == ["brand-new state"]
    html = '<p title="{{ plain("Tip") }}">{{ _("Seen") }} {{ count(2, "1 new", "{n} new") }}</p>'
    assert list(from_templates.jinja_texts(html)) == ["Tip", "Seen", "1 new", "{n} new"]
    assert list(from_templates.script_texts("box.textContent = words('Sent to the office');")) == [
        "Sent to the office"
    ]


def test_the_quick_walk_meets_what_the_long_one_meets() -> None:
    """Calls and classes of a module are those of ``ast.walk``, in its order."""
    for path in sorted((ROOT / "docs" / "tools").glob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        calls, classes = found.calls_and_classes(tree)
        assert list(calls) == [node for node in ast.walk(tree) if isinstance(node, ast.Call)]
        assert list(classes) == [node for node in ast.walk(tree) if isinstance(node, ast.ClassDef)]


def test_text_that_no_language_reaches_is_refused() -> None:
    """Bare text in a page or sheet, and a text put together at run time, are refused by name."""
    assert from_templates.bare_text("<p>Bare words {{ _('fine') }}</p>") == ("Bare", "words")
    assert from_templates.bare_text('<p class="{{ x }}" lang="en">{{ _("fine") }}</p>') == ()
    assert from_templates.typst_bare_text("#text(size: 9pt)[Opening sheet] // [a comment]") == (
        "Opening sheet",
    )
    assert from_templates.typst_bare_text("#table(columns: 2, [#word], ..rows)") == ()
    with pytest.raises(CannotExtract, match="literal text"):
        list(from_code.marked(ast.parse('N_(f"{n} sites")'), "x.py"))


def test_words_never_used_are_used_nowhere_on_screen_or_paper() -> None:
    """No label, sentence, help text or notice holds a word of the list outside its allowed phrases."""
    found = {
        f"{one.where}: {one.words!r} holds {word!r}; say: {instead}"
        for one in extract_words.found_words()
        for word, instead in never_used.faults(one.words)
    }
    assert not found, "\n".join(sorted(found))


@pytest.mark.parametrize("path", documents(), ids=lambda path: path.relative_to(ROOT).as_posix())
def test_words_never_used_are_used_in_no_document(path: Path) -> None:
    """No document holds a word of the list outside its allowed phrases."""
    text = " ".join(path.read_text(encoding="utf-8").split())
    about_keys = never_used.ABOUT_KEYS.get(path.relative_to(ROOT).as_posix(), ())
    found = [f"{word!r}; say: {instead}" for word, instead in never_used.faults(text, about_keys)]
    assert not found, f"{path.relative_to(ROOT)} holds {'; '.join(found)}"


def test_words_never_used_are_noticed() -> None:
    """The list catches each of its words in a sentence, and lets its allowed phrases through."""
    for said in (
        "All ballots accounted for",
        "The seals are verified",
        "An illegal opening",
        "Real-time waits",
        "Audit",
        "12 missing votes",
        "Official count",
        "This room is safe",
        "An optimal plan",
        "tamper-proof seals",
    ):
        assert list(never_used.faults(said)), said
    for said in (
        "Unofficial, staff use",
        "Ask the election official",
        "best found, within 2 %",
        "matched",
        "second reading",
        "A planning estimate, not a safe limit for any person",
        "out of service",
    ):
        assert not list(never_used.faults(said)), said


def test_texts_and_documents_are_spelled_as_in_the_us() -> None:
    """No label, sentence or document has a word in the spelling of another country."""
    found = {
        f"{one.words!r}: {us}"
        for one in extract_words.found_words()
        for _, us in never_used.foreign_spellings(one.words)
    }
    for path in documents():
        text = re.sub(r"```.*?```|`[^`\n]*`", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
        found |= {
            f"{path.relative_to(ROOT)}: {word!r}, {us}" for word, us in never_used.foreign_spellings(text)
        }
    assert not found, "\n".join(sorted(found))


def test_a_spelling_of_another_country_is_noticed() -> None:
    """British spellings are seen, and words that only look alike are let through."""
    assert [us for _, us in never_used.foreign_spellings("colour, licence and recognise")] == [
        "color",
        "license",
        "-ize",
    ]
    assert not list(
        never_used.foreign_spellings("center, license, four, parameter, promise, analysis, grayscale")
    )
