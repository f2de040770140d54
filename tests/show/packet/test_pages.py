"""Pages as a printer and a reader see them: codes, numbers, duplex, sizes, nothing cut."""

from __future__ import annotations

import re

import msgspec
import pypdfium2
import pypdfium2.raw
import pytest
import zxingcpp

from pollstead.election.check_characters import is_right
from pollstead.plan.terms.version import SheetKind
from pollstead.show.packet.content import Cell, Column, Field, FieldKind, Table
from pollstead.show.packet.packet import packet, texts
from pollstead.show.packet.typesetting import page_count

pytestmark = pytest.mark.full

POINTS_PER_MM = 72 / 25.4
SITES = ("S01", "S02")
LANGUAGES = ("en-US", "en-XA", "ar-XB")
MARGIN_POINTS = 36  # 0.5 in
ACCENT_POINTS = 4


def is_blank(text):
    """Whether a page is the padded back of a sheet."""
    return "blank on purpose" in text and "Sheet " not in text


def sheet_of(pages, text):
    """The sheet whose serial stands on this page."""
    found = [s for s in pages.made.sheets if f"Sheet {s.serial} Page" in text]
    assert len(found) == 1, text[:200]
    return found[0]


@pytest.mark.parametrize("site", SITES)
@pytest.mark.parametrize("dpi", [150])
def test_every_code_reads_back_as_the_serial_of_its_sheet(pages_of, site, dpi):
    """The code of every page, as pixels, is read by an independent reader and holds the serial alone."""
    pages = pages_of(site)
    for page, text in zip(pages.document, pages.texts, strict=True):
        wide, high = page.get_size()
        corner = (wide / 2, high * 0.75, 0, 0)  # cut away left, bottom, right, top: the top right corner
        picture = page.render(scale=dpi / 72, grayscale=True, crop=corner).to_pil()
        codes = zxingcpp.read_barcodes(picture)
        if is_blank(text):
            assert codes == []
        else:
            assert [code.text for code in codes] == [sheet_of(pages, text).serial]


def test_code_reads_back_from_one_bit_pixels(pages_of):
    """A code survives a black-and-white copier of 200 dots per inch."""
    pages = pages_of("S01")
    page = (
        pages.document[0]
        .render(scale=200 / 72, grayscale=True)
        .to_pil()
        .point(lambda v: 255 * (v > 127), "1")
    )
    assert [c.text for c in zxingcpp.read_barcodes(page.convert("L"))] == [pages.made.sheets[0].serial]


def test_code_modules_and_quiet_zone_are_wide_enough(pages_of):
    """A module is at least 0.33 mm wide and the code at least 10 mm from the paper's edge.

    Four modules of quiet zone: ISO/IEC 18004. The width of 0.33 mm was measured with a reader, by rasters.
    """
    pages = pages_of("S01")
    dpi = 600
    picture = pages.document[0].render(scale=dpi / 72, grayscale=True).to_pil()
    [code] = zxingcpp.read_barcodes(picture)
    corner = code.position
    width_mm = (corner.top_right.x - corner.top_left.x) / dpi * 25.4
    modules = 21  # version 1, ISO/IEC 18004: 21 modules a side
    assert width_mm / modules >= 0.33
    quiet_px = int(4 * width_mm / modules / 25.4 * dpi) - 2
    left, top = corner.top_left.x - quiet_px, corner.top_left.y - quiet_px
    right, bottom = corner.bottom_right.x + quiet_px, corner.bottom_right.y + quiet_px
    for box in (
        (left, top, corner.top_left.x - 3, bottom),
        (left, top, right, corner.top_left.y - 3),
        (corner.bottom_right.x + 3, top, right, bottom),
        (left, corner.bottom_right.y + 3, right, bottom),
    ):
        assert min(picture.crop(box).tobytes()) > 200, "something stands in the quiet zone"
    assert corner.top_left.y / dpi * 25.4 >= 10
    assert (picture.width - corner.top_right.x) / dpi * 25.4 >= 10


@pytest.mark.parametrize("site", SITES)
@pytest.mark.parametrize("what", ["packet", "expected"])
def test_each_sheet_starts_on_a_front_page_and_the_file_ends_on_a_back(pages_of, site, what):
    """In duplex no two sheets share a leaf, and a site's stack has whole leaves."""
    pages = pages_of(site, what=what)
    assert len(pages) % 2 == 0
    starts = [n for n, text in enumerate(pages.texts, start=1) if re.search(r" Page 1 of \d+ ", text)]
    assert len(starts) == len(pages.made.sheets)
    assert all(start % 2 == 1 for start in starts)
    for number, text in enumerate(pages.texts, start=1):
        if is_blank(text):
            assert number % 2 == 0, "only a back is blank"


def set_one(pages_of, set_pages, *blocks):
    """Pages of one sheet with these blocks and nothing else."""
    made = pages_of("S01").made
    sheet = msgspec.structs.replace(made.sheets[0], blocks=blocks, foot=None)
    return set_pages(msgspec.structs.replace(made, sheets=(sheet,)))


def test_a_row_that_heads_others_never_ends_a_page_and_comes_again_where_they_go_on(pages_of, set_pages):
    """Forty devices with two and three closures each: every page begins with a device, none ends with one."""
    rows = []
    for device in range(1, 41):
        rows.append((Cell(words=f"Device {device}", strong=True, span=2),))
        rows += [(Cell(words="closure"), Cell(words="seal"))] * (2 + device % 2)
    table = Table(columns=(Column(title="Closure"), Column(title="Seal end")), rows=tuple(rows))
    written = [text for text in set_one(pages_of, set_pages, table).texts if not is_blank(text)]
    assert len(written) > 1
    for text in written:
        lines = text.partition(" Seal end ")[2].partition(" Printed ")[0]
        assert lines.startswith("Device ") and lines.endswith("seal"), lines


def test_a_tick_that_does_not_fit_beside_another_keeps_its_label_beside_it(pages_of, set_pages):
    """In a narrow column the first of two short ticks stands on the first line, not below the second."""
    ticks = tuple(Field(kind=FieldKind.TICK, label=label, half=True) for label in ("printed", "none"))
    for width_mm, apart in ((24, True), (60, False)):
        columns = (Column(title="Report", width_mm=width_mm), Column(title="Rest"))
        table = Table(columns=columns, rows=((Cell(fields=ticks), Cell()),))
        page = set_one(pages_of, set_pages, table).document[0].get_textpage()
        text = page.get_text_range()
        first, second = (page.get_charbox(text.index(word))[1] for word in ("printed", "none"))
        assert (first > second + 1) if apart else abs(first - second) < ACCENT_POINTS


@pytest.mark.parametrize("site", SITES)
def test_every_page_says_which_sheet_site_plan_and_page_it_is(pages_of, sample, site):
    """Serial, site, page x of y, plan digest and moment of printing stand on every page; pages count up."""
    pages = pages_of(site)
    name = sample.county().site(site).name
    counted: dict[str, list[tuple[int, int]]] = {}
    for number, text in enumerate(pages.texts, start=1):
        if is_blank(text):
            continue
        sheet = sheet_of(pages, text)
        assert f" {site} {name} " in text
        assert " Plan 3f2a 91bc 70d4 " in text
        assert " Printed Nov 2, 2028 14:00 " in text
        assert f" Print job page {number} of {len(pages)} " in text
        found = re.search(r" Page (\d+) of (\d+) ", text)
        counted.setdefault(sheet.serial, []).append((int(found[1]), int(found[2])))
    assert set(counted) == {sheet.serial for sheet in pages.made.sheets}
    for numbers in counted.values():
        assert numbers == [(n, len(numbers)) for n in range(1, len(numbers) + 1)]


def test_serials_of_sheets_carry_a_check_character_and_differ(pages_of):
    """Every serial ends in its ISO/IEC 7064 MOD 37,36 check character and none comes twice."""
    serials = [
        sheet.serial
        for site in SITES
        for what in ("packet", "expected")
        for sheet in pages_of(site, what=what).made.sheets
    ]
    assert len(set(serials)) == len(serials)
    assert all(is_right(serial) for serial in serials)


# Text taken out of a page that runs right to left comes in another order, so that only its place is tested.
@pytest.mark.parametrize("language", LANGUAGES[:2])
@pytest.mark.parametrize("site", SITES)
def test_every_text_of_a_sheet_is_on_paper(pages_of, site, language):
    """No word of a sheet is lost, in English or in a language with much longer words."""
    pages = pages_of(site, language)
    printed = re.sub(r"\s", "", pages.text)
    for text in (t for sheet in pages.made.sheets for t in texts(sheet) if "{" not in t):
        for piece in (piece for line in text.split("\n") for piece in _pieces(line)):
            assert piece in printed, text


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("site", SITES)
def test_every_letter_is_inside_the_margins(pages_of, site, language):
    """No letter comes nearer to the paper's edge than 0.5 in, accents of the topmost line apart."""
    for page in pages_of(site, language).document:
        width, height = page.get_size()
        text_page = page.get_textpage()
        for index in range(text_page.count_chars()):
            left, bottom, right, top = text_page.get_charbox(index)
            if right > left and pypdfium2.raw.FPDFText_GetUnicode(text_page, index) > 32:
                assert left >= MARGIN_POINTS - 1 and right <= width - MARGIN_POINTS + 1, chr(
                    pypdfium2.raw.FPDFText_GetUnicode(text_page, index)
                )
                assert (
                    bottom >= MARGIN_POINTS - ACCENT_POINTS and top <= height - MARGIN_POINTS + ACCENT_POINTS
                )


def _pieces(line):
    """The letters of a line, without blanks; the two ends of a long one, which may pass a page's end."""
    bare = re.sub(r"\s", "", line)
    return [bare] if len(bare) < 60 else [bare[:25], bare[-25:]]


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("site", SITES)
def test_no_text_stands_on_another(pages_of, site, language):
    """No two runs of text overlap: nothing runs out of its cell, whatever the words' length."""
    for number, page in enumerate(pages_of(site, language).document, start=1):
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
                assert not (high > 2.5 and wide > 1.5), f"page {number}: {one} and {other}"


def test_pages_are_as_many_as_expected_in_each_language(pages_of):
    """Longer words make a packet grow by no more than a third, and never lose a sheet."""
    for site in SITES:
        english = pages_of(site)
        for language in LANGUAGES[1:]:
            other = pages_of(site, language)
            assert len(other.made.sheets) == len(english.made.sheets)
            assert len(english) <= len(other) <= len(english) * 4 / 3


@pytest.mark.parametrize("site", SITES)
def test_no_text_is_smaller_than_eleven_points(pages_of, site):
    """Every letter on every page is 11 points or larger."""
    for page in pages_of(site).document:
        text_page = page.get_textpage()
        for index in range(text_page.count_chars()):
            if pypdfium2.raw.FPDFText_GetUnicode(text_page, index) > 32:
                size = pypdfium2.raw.FPDFText_GetFontSize(text_page, index)
                matrix = pypdfium2.raw.FS_MATRIX()
                pypdfium2.raw.FPDFText_GetMatrix(text_page, index, matrix)
                assert size * abs(matrix.d) >= 10.99


def test_same_plan_gives_the_same_bytes(pages_of, set_pages, sample):
    """Two prints of one plan at one moment are equal byte for byte; pages are counted from the file."""
    again = set_pages(packet(sample.given("S01")))
    assert again.data == pages_of("S01").data
    assert page_count(again.data) == len(again)


def test_file_says_that_it_is_tagged_titled_and_in_its_language(pages_of):
    """The PDF is marked as PDF/UA-1 (ISO 14289-1: identifier in the metadata), with title and language."""
    data = pages_of("S01").data
    assert b"<pdfuaid:part>1</pdfuaid:part>" in data
    assert pages_of("S01").document.get_metadata_value("Title") == "Site packet S01"
    assert re.search(rb"/Lang\s*\(en", data)
    assert re.search(rb"/MarkInfo\s*<<\s*/Marked\s+true", data)


def test_practice_and_invented_stand_on_every_page(pages_of):
    """A practice packet says PRACTICE on each page, and an invented county says that it is invented."""
    practice = pages_of("S01", practice=True)
    for text in practice.texts:
        if not is_blank(text):
            assert "PRACTICE" in text and "Invented county" in text
    real = pages_of("S01", invented=False)
    assert "PRACTICE" not in real.text and "Invented" not in real.text
    assert {s.serial for s in practice.made.sheets}.isdisjoint(s.serial for s in real.made.sheets)


def test_nothing_but_black_and_white_is_printed(pages_of):
    """State is told by words and shapes: no page has a colored pixel."""
    for page in pages_of("S01").document:
        pixels = page.render(scale=40 / 72, rev_byteorder=True).to_numpy()[:, :, :3].astype(int)
        assert (pixels.max(axis=2) - pixels.min(axis=2)).max() <= 8


def test_digit_boxes_are_seven_by_nine_millimeters(pages_of):
    """Boxes for digits measure 7 by 9 mm on paper: six of them are a rectangle of 42 by 9 mm."""
    pages = pages_of("S01")
    index = next(n for n, text in enumerate(pages.texts) if "Read the public counter" in text)
    sizes = set()
    for found in pages.document[index].get_objects(max_depth=20):
        if found.type == pypdfium2.raw.FPDF_PAGEOBJ_PATH:
            left, bottom, right, top = found.get_bounds()
            sizes.add((round((right - left) / POINTS_PER_MM, 1), round((top - bottom) / POINTS_PER_MM, 1)))
    # Bounds reach to the outer edge of the frame's line.
    assert any(42 <= w <= 42.7 and 9 <= h <= 9.7 for w, h in sizes), sizes


@pytest.mark.parametrize("language", LANGUAGES)
def test_drawn_lines_stay_inside_the_margins_and_codes_at_the_top_right(pages_of, language):
    """Boxes, frames and codes keep their place in a script that runs right to left, too."""
    for page, text in zip(pages_of("S01", language).document, pages_of("S01", language).texts, strict=True):
        width, height = page.get_size()
        for found in page.get_objects(max_depth=20):
            if found.type == pypdfium2.raw.FPDF_PAGEOBJ_PATH:
                left, _, right, _ = found.get_bounds()
                # The frame of the thickest lines stands half outside.
                assert left >= MARGIN_POINTS - 4 and right <= width - MARGIN_POINTS + 4, text[:100]
        if "blank on purpose" not in text and len(text) > 100:
            crop = (width * 0.8, height * 0.85, 0, 0)
            picture = page.render(scale=150 / 72, grayscale=True, crop=crop).to_pil()
            assert len(zxingcpp.read_barcodes(picture)) == 1


def test_a4_is_a_setting(set_pages, sample):
    """On A4 the sheets are the same and the paper is 210 by 297 mm (ISO 216)."""
    pages = set_pages(packet(sample.given("S01"), (SheetKind.PACKING,), "a4"))
    width, height = pages.document[0].get_size()
    assert (round(width / POINTS_PER_MM), round(height / POINTS_PER_MM)) == (210, 297)
