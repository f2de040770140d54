"""The codes that stand on paper, from the libraries that write and read them, against published values."""

from __future__ import annotations

import io

import segno.consts
import segno.encoder
import zxingcpp
from barcode.charsets import code128 as charsets
from barcode.codex import Code128
from PIL import Image
from stdnum import luhn
from stdnum.iso7064 import mod_11_2

from pollstead.show.packet.codes import qr_svg


def test_error_correction_of_the_worked_qr_example() -> None:
    """ISO/IEC 18004 Annex I, 01234567 at 1-M: ten codewords A5 24 D4 ... (read in secondary copies)."""
    data = bytes.fromhex("10200C566180EC11EC11EC11EC11EC11")
    buffer = segno.encoder.Buffer()
    buffer.extend(bit for byte in data for bit in ((byte >> i) & 1 for i in reversed(range(8))))
    level = segno.consts.ERROR_LEVEL_M
    _, correction = segno.encoder.make_blocks(segno.consts.ECC[1][level], buffer)
    assert [bytes(block).hex().upper() for block in correction] == ["A524D4C1ED36C7872C55"]


def test_code_128_check_value_depends_on_the_start_set() -> None:
    """PJJ123C: 878 mod 103 = 54 from start A, 879 mod 103 = 55 from start B (public worked examples)."""
    sums = {}
    for name, start in (("A", 103), ("B", 104)):
        table = getattr(charsets, name)
        sums[name] = (start + sum(place * table[c] for place, c in enumerate("PJJ123C", start=1))) % 103
    assert sums == {"A": 54, "B": 55}
    code = Code128("PJJ123C")
    code.build()
    assert code._calculate_checksum(code.encoded) in (54, 55)


def test_code_128_b_of_one_letter() -> None:
    """A in set B: 104 + 33 = 137, mod 103 = 34 (public worked example)."""
    assert (104 + charsets.B["A"]) % 103 == 34


def test_check_digits_of_other_schemes() -> None:
    """MOD 11-2 of 079 is X and Luhn of 7894 is 9 (documentation of python-stdnum)."""
    assert mod_11_2.calc_check_digit("079") == "X"
    assert luhn.calc_check_digit("7894") == "9"


def test_a_sheet_code_is_read_back_by_another_library() -> None:
    """segno writes the serial, zxing-cpp reads it: quiet zone of four modules (ISO/IEC 18004) included."""
    serial = "F6Y7-MY6N-MHRY"
    assert "<svg" in qr_svg(serial)
    picture = io.BytesIO()
    segno.make(serial, error="q", micro=False, boost_error=False).save(picture, kind="png", border=4, scale=4)
    picture.seek(0)
    found = zxingcpp.read_barcodes(Image.open(picture))
    assert [code.text for code in found] == [serial]
