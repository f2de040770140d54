"""Printing many sites in child processes: whole files or none, progress, stopping."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pypdfium2
import pytest
from msgspec.structs import replace

from pollstead.cli.main import run
from pollstead.plan.terms.part import Cancelled
from pollstead.plan.terms.version import SheetKind
from pollstead.show.packet.packet import packet
from pollstead.show.packet.printing import print_packets
from pollstead.show.packet.setting import PrintFailed, SettingProcess

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
    assert [s.site for s in packet_file.sheets] == ["S01"] * 10 + ["S02"] * (len(packet_file.sheets) - 10)
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


def packing_of(sample, site):
    """The shortest print job of a sample site."""
    made = packet(sample.given(site), (SheetKind.PACKING,))
    assert made is not None
    return made


def child_of(process):
    """The process id of the child that sets pages now."""
    return process._process.pid


def test_a_child_that_sets_pages_leaves_interrupts_to_its_parent(sample, tmp_path):
    """SIGINT does not end it, and it is in a process group of its own, which Ctrl-C does not reach."""
    process, made = SettingProcess(), packing_of(sample, "S01")
    process.set(tmp_path / "one.pdf", made)
    child = child_of(process)
    assert os.getpgid(child) != os.getpgid(0)
    os.kill(child, signal.SIGINT)
    assert process.set(tmp_path / "two.pdf", made).pages == 2
    assert child_of(process) == child
    process.end()


def test_a_file_that_the_disk_does_not_take_is_told_in_words(sample, tmp_path):
    """The system's own words for it, what to do, no traceback, no half file, and the child goes on."""
    resource = pytest.importorskip("resource")
    if not hasattr(resource, "prlimit"):
        pytest.skip("only Linux sets the limits of another process")
    process, made = SettingProcess(), packing_of(sample, "S01")
    process.set(tmp_path / "one.pdf", made)
    before = resource.prlimit(child_of(process), resource.RLIMIT_FSIZE, (1_000, resource.RLIM_INFINITY))
    with pytest.raises(PrintFailed, match=r"two\.pdf cannot be written: File too large\. Look at the path"):
        process.set(tmp_path / "two.pdf", made)
    resource.prlimit(child_of(process), resource.RLIMIT_FSIZE, before)
    assert process.set(tmp_path / "three.pdf", made).pages == 2
    process.end()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["one.pdf", "three.pdf"]


def test_a_stopped_child_leaves_no_half_file(sample, tmp_path):
    """What is being written when all is stopped is removed, and whoever waits for it is told."""
    process, made = SettingProcess(), packing_of(sample, "S01")
    (tmp_path / "one.pdf.part").write_bytes(b"half")
    process.stop()
    with pytest.raises(PrintFailed, match="without an answer"):
        process.set(tmp_path / "one.pdf", made)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("together", [False, True])
def test_a_site_whose_letters_no_font_has_is_left_out_alone(sample, tmp_path, together):
    """The others are printed; the report names the site and its letters."""
    county = sample.county()
    changed = replace(county, sites=(replace(county.sites[0], name="قاعة"), *county.sites[1:]))
    first = changed.sites[0].id
    other = next(site for site in ("S01", "S02") if site != first)
    givens_of = (sample.given(site, election=changed) for site in ("S01", "S02"))
    report = print_packets(
        givens_of, tmp_path, count=2, kinds=(SheetKind.PACKING,), workers=1, together=together
    )
    assert [left.site for left in report.not_printed] == [first]
    assert set(report.not_printed[0].letters) == set("قاعة")
    assert {sheet.site for file in report.files for sheet in file.sheets} == {other}


# A shell that runs the tests in the background makes its children deaf to Ctrl-C.
HEARS_CTRL_C = (
    "import signal; signal.signal(signal.SIGINT, signal.default_int_handler); "
    "from pollstead.cli.main import main; main()"
)


def test_ctrl_c_ends_the_command_with_one_word(tmp_path):
    """Code 130 and "Stopped." alone; no traceback of any process, and only whole files."""
    root = Path(__file__).resolve().parents[3]
    county = tmp_path / "county"
    shutil.copytree(root / "small", county)
    assert run(["plan", str(county)]) == 0
    process = subprocess.Popen(
        [sys.executable, "-c", HEARS_CTRL_C, "print", str(county), "--workers", "1"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(root / "src")},
        start_new_session=True,
    )
    packets = county / "packets"
    while process.poll() is None and not (packets.is_dir() and any(packets.glob("*.pdf"))):
        time.sleep(0.02)
    os.killpg(process.pid, signal.SIGINT)
    _, said = process.communicate(timeout=60)
    assert process.returncode == 130, said
    assert said == "Stopped.\n"
    assert {path.suffix for path in packets.iterdir()} == {".pdf"}
