"""Printing many sites in child processes: whole files or none, progress, stopping."""

from __future__ import annotations

import pypdfium2
import pytest

from pollstead.plan.terms.part import Cancelled
from pollstead.plan.terms.version import SheetKind
from pollstead.show.packet.printing import PrintFailed, print_packets

pytestmark = pytest.mark.full


def givens(sample):
    """Both sample sites, made when asked for."""
    return (sample.given(site) for site in ("S01", "S02"))


def test_two_files_a_site_with_expected_lists_apart(sample, pages_of, tmp_path):
    """Each site gets a packet and an expected list; files are those of one process, byte for byte."""
    heard = []
    report = print_packets(
        givens(sample), tmp_path, count=2, workers=2, progress=lambda done, total: heard.append((done, total))
    )
    names = sorted(path.name for path in tmp_path.iterdir())
    assert names == ["S01-expected.pdf", "S01-packet.pdf", "S02-expected.pdf", "S02-packet.pdf"]
    assert heard == [(1, 4), (2, 4), (3, 4), (4, 4)]
    assert (tmp_path / "S01-packet.pdf").read_bytes() == pages_of("S01").data
    assert report.pages == sum(len(pypdfium2.PdfDocument(path)) for path in tmp_path.iterdir())
    kinds = {file.path.rsplit("-", 1)[1]: {s.kind for s in file.sheets} for file in report.files}
    assert kinds["expected.pdf"] == {SheetKind.EXPECTED}
    assert SheetKind.EXPECTED not in kinds["packet.pdf"]


def test_sites_together_keep_expected_lists_apart_and_leaves_whole(sample, tmp_path):
    """One file for many sites has each site's sheets in order, and never an expected list among blanks."""
    report = print_packets(givens(sample), tmp_path, count=2, workers=1, together=True)
    assert [file.path.rsplit("/", 1)[-1] for file in report.files] == [
        "county-expected-01.pdf",
        "county-packet-01.pdf",
    ]
    expected_file, packet_file = report.files
    assert {s.kind for s in expected_file.sheets} == {SheetKind.EXPECTED}
    assert [s.site for s in packet_file.sheets] == ["S01"] * 13 + ["S02"] * (len(packet_file.sheets) - 13)
    assert packet_file.pages % 2 == 0
    document = pypdfium2.PdfDocument(packet_file.path)
    first_of_s02 = next(
        n for n, page in enumerate(document, start=1) if "S02" in page.get_textpage().get_text_range()[:80]
    )
    assert first_of_s02 % 2 == 1


def test_stopping_leaves_no_half_file(sample, tmp_path):
    """When the caller stops, the error comes out and every file there is whole."""

    def stop(done: int, total: int) -> None:
        raise Cancelled

    with pytest.raises(Cancelled):
        print_packets(givens(sample), tmp_path, count=2, workers=1, progress=stop)
    for path in tmp_path.iterdir():
        assert path.suffix == ".pdf"
        assert len(pypdfium2.PdfDocument(path)) % 2 == 0


def test_an_output_that_cannot_be_written_is_told(sample, tmp_path):
    """A folder in the way of a file ends the print with the file's name, not with silence."""
    (tmp_path / "S01-packet.pdf").mkdir()
    with pytest.raises(PrintFailed, match=r"S01-packet\.pdf"):
        print_packets(givens(sample), tmp_path, count=2, workers=1)
