"""Labels: check characters against published examples, read back by another library, geometry that fits."""

from __future__ import annotations

import io
import subprocess
from pathlib import Path
from typing import Any

import msgspec
import pytest
import zxingcpp
from barcode import Code128
from PIL import Image, ImageFilter

from pollstead.election.county import Election
from pollstead.election.label_stock import COMMON, LabelStock
from pollstead.intake.folder import read_folder
from pollstead.plan.seals.blocks import Bag, Bags
from pollstead.show.commands import Command
from pollstead.show.packet.code128 import check_value, values_of, widths_of
from pollstead.show.packet.labels import Label, LabelJob, drawn, label_job, labels_of, labels_pdf
from pollstead.show.packet.setting import PrintFailed
from pollstead.show.packet.wording import Say

SMALL = Path(__file__).resolve().parents[2] / "small"
SAY = Say("en-US")
BY_NAME = {stock.id: stock for stock in COMMON}


@pytest.fixture(scope="module")
def election() -> Election:
    """The small county."""
    found = read_folder(SMALL).election
    assert found is not None
    return found


def test_check_characters_are_those_of_the_published_examples() -> None:
    """ISO/IEC 15417 modulo 103: `PJJ123C` gives 55 from start B and 54 from start A; `A` gives 34 from B.

    The worked example of start A with its sum 878 is the one that encyclopedias and textbooks of bar codes
    repeat; read there, not in the standard itself.
    """
    assert check_value(values_of("PJJ123C")) == 55 == 879 % 103
    assert check_value((103, *values_of("PJJ123C")[1:])) == 54 == 878 % 103
    assert check_value(values_of("A")) == 34


@pytest.mark.parametrize("text", ["LM-V-0042", "0048", "=UNDO=LAST=SCAN=", "abc~ Z"])
def test_bars_are_those_of_another_library(text: str) -> None:
    """python-barcode draws the same modules, where it chooses the same code set."""
    theirs = Code128(text).build()[0]
    mine = "".join(("1" if n % 2 == 0 else "0") * width for n, width in enumerate(widths_of(text)))
    # It shifts to set C for runs of digits: only texts without such a run are alike module by module.
    if text in ("LM-V-0042",):
        assert len(mine) == 11 * (len(text) + 2) + 13
    else:
        assert mine == theirs


@pytest.mark.full
@pytest.mark.parametrize("what", ["devices", "carts", "doors", "bags"])
def test_labels_are_read_back_from_a_tilted_blurred_print(election: Election, what: str) -> None:
    """At 200 dpi, tilted 3 to 5 degrees either way and blurred, every Code 128 and QR is read.

    Blurred by a pixel up to 3 degrees, by half a pixel at 4 and 5. The smallest sheet of the common ones; a
    larger label has larger codes. Another library reads than the one that wrote.
    """
    few = msgspec.structs.replace(election, devices=election.devices[:4])
    bag = Bag(site="site/S01", seal_kind="pull-tight seal", needed=2, blocks=())
    facts = few if what == "devices" else election
    labels = labels_of(what, facts, None, Bags(bags=(bag,), left=()), SAY)[:4]
    [page] = pages_of(label_job(labels, BY_NAME["3x10"], election=election, say=SAY, start=2))
    page = page.crop((0, 0, page.width, page.height // 3))
    for angle, blur in ((0, 1.0), (3, 1.0), (-3, 1.0), (4, 0.5), (-4, 0.5), (5, 0.5), (-5, 0.5)):
        tilted = page.rotate(angle, expand=True, fillcolor=255, resample=Image.Resampling.BICUBIC)
        found = zxingcpp.read_barcodes(tilted.filter(ImageFilter.GaussianBlur(blur)))
        read = {(one.format.name.casefold().replace("_", ""), one.text) for one in found}
        for label in labels:
            assert ("code128", label.code) in read, (angle, label.code)
            assert ("qrcode", label.code) in read, (angle, label.code)


def test_a_code_that_is_read_holds_the_check_value_of_the_published_example() -> None:
    """PJJ123C from start B: 879 mod 103 = 55 (the worked example of public descriptions of Code 128).

    Drawn by our own bars and read by zxing-cpp, which refuses a Code 128 whose check value is wrong.
    """
    for text, value, change in (("PJJ123C", 55, 0), ("A", 34, 0), ("PJJ123C", 55, 1)):
        assert check_value(values_of(text)) == value
        widths = list(widths_of(text))
        # Six bars and spaces a character, seven for the stop: the check character is the last but one. Any
        # value below 95 is drawn as the first character after the start of the text that has it.
        widths[-13:-7] = widths_of(chr(32 + value + change))[6:12]
        row = [255] * 30
        for number, width in enumerate(widths):
            row += [0 if number % 2 == 0 else 255] * (3 * width)
        row += [255] * 30
        picture = Image.frombytes("L", (len(row), 60), bytes(row) * 60)
        read = [one.text for one in zxingcpp.read_barcodes(picture)]
        assert read == ([text] if change == 0 else []), (text, change)


def pages_of(job: LabelJob) -> list[Image.Image]:
    """The pages of a job at 200 dpi in grey."""
    pdf = labels_pdf(job)
    done = subprocess.run(
        ["pdftoppm", "-r", "200", "-gray", "-png", "-"], input=pdf, capture_output=True, check=True
    )
    parts = done.stdout.split(b"\x89PNG\r\n\x1a\n")[1:]
    return [Image.open(io.BytesIO(b"\x89PNG\r\n\x1a\n" + part)).convert("L") for part in parts]


@pytest.mark.full
def test_the_command_cards_are_read_as_commands(election: Election) -> None:
    """Each card of the sheet gives exactly its command, and the first place is left free where asked."""
    labels = labels_of("commands", election, None, Bags(bags=(), left=()), SAY)
    job = label_job(labels, BY_NAME["2x5"], election=election, say=SAY, start=2)
    assert job.labels[0] is None
    found = {one.text for one in zxingcpp.read_barcodes(pages_of(job)[0])}
    assert found == {command.value for command in Command}


def test_modules_are_never_narrower_than_what_is_read_back() -> None:
    """Code 128 from 0.38 mm, QR from 0.33 mm, quiet zones of 10 and 4 modules; else the label is refused."""
    for stock in COMMON:
        label = drawn(Label(code="LM-V-0042", title="LM-V-0042"), stock)
        first, last = label.bars[0], label.bars[-1]
        module = label.bars[0][1] // 2
        assert module >= 380 and label.qr_module_um >= 330
        assert first[0] >= 10 * module and label.bars_width_um - sum(last) >= 10 * module
    with pytest.raises(PrintFailed, match="Choose a larger label"):
        drawn(Label(code="X" * 40, title="X"), BY_NAME["3x10"])


def test_a_sheet_that_does_not_fit_its_paper_is_refused() -> None:
    """Labels over the edge, or over one another, are told with what they reach."""
    fine = BY_NAME["3x10"]
    fields: dict[str, Any] = {name: getattr(fine, name) for name in fine.__struct_fields__}
    changes: tuple[dict[str, Any], ...] = (
        {"left_um": 20_000},
        {"pitch_x_um": 60_000},
        {"paper": "legal"},
        {"rows": 0},
    )
    for change in changes:
        with pytest.raises(ValueError, match="3x10"):
            LabelStock(**fields | change)


@pytest.mark.full
def test_a_test_page_has_every_outline_and_no_code(election: Election) -> None:
    """Ten rows of three outlines, moved by the shift, with nothing that a scanner reads."""
    job = label_job((), BY_NAME["3x10"], election=election, say=SAY, test=True, shift_um=(2000, 0))
    page = pages_of(job)[0]
    assert zxingcpp.read_barcodes(page) == []
    # The left edge of the first label: 4.775 mm by the stock, 2 mm more by the shift; 200 dpi.
    row = page.crop((0, 200, 120, 201)).tobytes()
    first = next(x for x, value in enumerate(row) if value < 160)
    assert abs(first - (4.775 + 2) / 25.4 * 200) < 2
