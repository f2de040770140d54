"""Large type: the same sheets, lines and serials, words of 18 points or more, nothing cut or overlapping.

18 points or more as large print: American Printing House for the Blind, guidelines for large print documents
(from memory). Which lines only tell where a page belongs is our own choice.
"""

from __future__ import annotations

import functools
import re

import pypdfium2
import pypdfium2.raw
import pytest
import zxingcpp
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from pollstead.plan.terms.version import SheetKind
from pollstead.show.packet.content import Cell, Column, Field, FieldKind, Table
from pollstead.show.packet.packet import packet, texts
from pollstead.show.packet.sheet_lines import lines_by_key

pytestmark = pytest.mark.full

SITES = ("S01", "S02")  # One scanner; seven, of which three stand side by side.
LANGUAGES = ("en-US", "en-XA", "ar-XB")
LOOKED_AT = [*(("S01", language) for language in LANGUAGES), ("S02", "en-US"), ("S02", "en-XA")]
MARGIN_POINTS = 36  # 0.5 in
ACCENT_POINTS = 7  # An accent over a capital letter of 18 points stands so high above the line.


def bare(text):
    """A text without blanks and breaking points, as it is looked for in a page whose lines end elsewhere."""
    return re.sub(r"[\s\u200b]", "", text)


def sizes(page):
    """The letters of a page, each with its size in points and its height over the paper's lower edge."""
    text_page = page.get_textpage()
    for index in range(text_page.count_chars()):
        letter = pypdfium2.raw.FPDFText_GetUnicode(text_page, index)
        if letter > 32:
            matrix = pypdfium2.raw.FS_MATRIX()
            pypdfium2.raw.FPDFText_GetMatrix(text_page, index, matrix)
            size = pypdfium2.raw.FPDFText_GetFontSize(text_page, index) * abs(matrix.d)
            yield chr(letter), size, text_page.get_charbox(index)


def assert_nothing_overlaps(page, where):
    """No two runs of text stand on one another, and no letter is nearer to the paper's edge than 0.5 in."""
    width, height = page.get_size()
    for letter, _, (left, bottom, right, top) in sizes(page):
        assert left >= MARGIN_POINTS - 1 and right <= width - MARGIN_POINTS + 1, (where, letter)
        assert bottom >= MARGIN_POINTS - ACCENT_POINTS, (where, letter)
        assert top <= height - MARGIN_POINTS + ACCENT_POINTS, (where, letter)
    text_page = page.get_textpage()
    boxes = []
    for index in range(text_page.count_rects()):
        left, bottom, right, top = text_page.get_rect(index)
        if right - left > 0.5 and top - bottom > 0.5:
            boxes.append((left, bottom, right, top, text_page.get_text_bounded(left, bottom, right, top)))
    boxes.sort()
    for at, one in enumerate(boxes):
        for other in boxes[at + 1 :]:
            if other[0] >= one[2] - 1:
                break
            high = min(one[3], other[3]) - max(one[1], other[1])
            wide = min(one[2], other[2]) - max(one[0], other[0])
            assert not (high > 4 and wide > 1.5), (where, one, other)


@pytest.mark.parametrize("site", SITES)
def test_a_large_print_has_the_same_sheets_lines_and_serials(pages_of, sample, site):
    """It is a second print of the same sheets: serial, content and line numbers are those of the first."""
    for what in ("packet", "expected"):
        usual, large = pages_of(site, what=what), pages_of(site, what=what, large=True)
        assert large.made.sheets == usual.made.sheets
        assert len(large) > len(usual)
    lines = lines_by_key(sample.given(site))
    large = pages_of(site, large=True)
    for sheet in large.made.sheets:
        mine = " ".join(text for text in large.texts if f" Sheet {sheet.serial} " in text)
        numbers = [asked.line for asked in lines.get(sheet.key, ())]
        assert re.findall(r" (L\d+)(?= )", mine) == numbers, sheet.key


@pytest.mark.parametrize("what", ["packet", "expected"])
@pytest.mark.parametrize(("site", "language"), [("S01", "en-XA"), ("S02", "en-US")])
def test_every_text_of_the_usual_sheet_stands_on_the_large_one(pages_of, site, language, what):
    """No word is lost where a table becomes a list, in English or in a language with much longer words."""
    printed = bare(pages_of(site, language, what, large=True).text)
    for sheet in pages_of(site, language, what).made.sheets:
        for text in (t for t in texts(sheet) if "{" not in t):
            for line in map(bare, text.split("\n")):
                for piece in [line] if len(line) < 50 else [line[:20], line[-20:]]:
                    assert piece in printed, text


@pytest.mark.parametrize("what", ["packet", "expected"])
@pytest.mark.parametrize("site", SITES)
def test_every_word_is_eighteen_points_or_larger(pages_of, site, what):
    """Only one line at the head and one at the foot, which tell where a page belongs, are smaller."""
    for number, page in enumerate(pages_of(site, what=what, large=True).document, start=1):
        _, height = page.get_size()
        for letter, size, (_, bottom, _, top) in sizes(page):
            running = bottom > height - MARGIN_POINTS - 14 or top < MARGIN_POINTS + 14
            assert size >= (10.99 if running else 17.99), (number, letter, size, bottom)


@pytest.mark.parametrize(("site", "language"), LOOKED_AT)
def test_nothing_is_cut_off_or_overlaps(pages_of, site, language):
    """In English, with longer words and from right to left; each page keeps its code in its corner."""
    pages = pages_of(site, language, large=True)
    for number, (page, text) in enumerate(zip(pages.document, pages.texts, strict=True), start=1):
        assert_nothing_overlaps(page, number)
        width, height = page.get_size()
        lowest = MARGIN_POINTS - 4
        for found in page.get_objects(max_depth=20):
            if found.type == pypdfium2.raw.FPDF_PAGEOBJ_PATH:
                left, bottom, right, top = found.get_bounds()
                assert left >= lowest and right <= width - lowest, (number, text[:100])
                assert bottom >= lowest and top <= height - lowest, (number, text[:100])


def test_every_code_of_a_large_print_is_its_sheets_serial(pages_of):
    """An independent reader finds on each page the code that stands on the usual sheet."""
    pages = pages_of("S01", large=True)
    serials = [sheet.serial for sheet in pages.made.sheets]
    for page, text in zip(pages.document, pages.texts, strict=True):
        width, height = page.get_size()
        picture = page.render(scale=150 / 72, grayscale=True, crop=(width / 2, height * 0.75, 0, 0)).to_pil()
        read = [code.text for code in zxingcpp.read_barcodes(picture)]
        assert read == [s for s in serials if f" Sheet {s} " in text]


WORDS = st.text("abcdefghij klmno", min_size=1, max_size=60).map(lambda w: " ".join(w.split()) or "a")
FIELDS = st.builds(
    lambda kind, label, count: Field(kind=kind, label=label, count=count),
    st.sampled_from(list(FieldKind)),
    st.one_of(st.just(""), st.sampled_from(["whole", "if it differs, it reads", "check-in clock"])),
    st.integers(1, 9),
)


@st.composite
def tables(draw):
    """A table of two to six columns, whose rows have words, fields, both or nothing in each cell."""
    count = draw(st.integers(2, 6))
    columns = tuple(Column(title=draw(WORDS), plain=draw(st.booleans())) for _ in range(count))
    rows, line = [], 0
    for _ in range(draw(st.integers(1, 4))):
        cells = []
        for at in range(count):
            fields = tuple(draw(st.lists(FIELDS, max_size=2)))
            line += bool(fields)
            words = draw(WORDS) if at == 0 or draw(st.booleans()) else ""
            cells.append(Cell(words=words, fields=fields, line=f"L{line}" if fields else ""))
        rows.append(tuple(cells))
    return Table(columns=columns, rows=tuple(rows))


ONE_LONG_WORD = Table(
    columns=(Column(title="a"), Column(title="b"), Column(title="a" * 33)),
    rows=((Cell(words="a"), Cell(), Cell(words="c")),),
)
"""A title of one word that is wider than its column."""

LONG_WORD_IN_A_CELL = Table(
    columns=(Column(title="a", plain=False), Column(title="a", plain=False)),
    rows=((Cell(words="a" * 23), Cell()),),
)
"""A word in a cell that goes on in the next line."""


@functools.cache
def packing_in_large_type(sample):
    """A print job of one sheet, in which a table can take the place of the others."""
    return packet(sample.given("S01"), (SheetKind.PACKING,), large=True)


@settings(max_examples=8, deadline=None, suppress_health_check=list(HealthCheck))
@given(table=tables())
@example(table=ONE_LONG_WORD)
@example(table=LONG_WORD_IN_A_CELL)
def test_any_table_keeps_all_its_words_and_the_order_of_its_lines(set_pages, sample, table):
    """Whatever columns a table has, it stands whole and in order on the large sheet and overlaps nowhere."""
    made = packing_in_large_type(sample)
    pages = set_pages(replace(made, sheets=(replace(made.sheets[0], blocks=(table,)),)))
    printed = bare(pages.text)
    for row in table.rows:
        for cell in row:
            assert bare(cell.words) in printed
    numbers = [cell.line for row in table.rows for cell in row if cell.line]
    assert re.findall(r" (L\d+)(?= )", pages.text) == numbers
    for number, page in enumerate(pages.document, start=1):
        assert_nothing_overlaps(page, number)
