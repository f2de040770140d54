"""The paper loop: from the pixels of a printed sheet through entry to a record that strangers can check."""

from __future__ import annotations

import json
import random
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pypdfium2
import pytest
import zxingcpp

from pollstead.cli.demo import make
from pollstead.record.event import Means, Part, Person
from pollstead.record.kinds.days import CountRead
from pollstead.record.write import Moment
from pollstead.store.desk import open_desk
from pollstead.store.exchange import export_record
from pollstead.store.sheets import Sheet

pytestmark = pytest.mark.full

DOTS_PER_INCH = 150
SMALL = Path(__file__).parents[2] / "small"


@pytest.fixture(scope="module")
def county(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo county, planned, printed and played, made once for this file."""
    folder = tmp_path_factory.mktemp("whole") / "county"
    make(folder, SMALL)
    return folder


def _codes_of_pages(pdf: Path) -> Iterator[str]:
    document = pypdfium2.PdfDocument(pdf)
    for page in document:
        picture = page.render(scale=DOTS_PER_INCH / 72, grayscale=True).to_pil()
        found = zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormat.QRCode)
        if found:
            yield found[0].text


def _verify(folder: Path, *, alone: bool) -> subprocess.CompletedProcess[str]:
    """Run the exported one-file verifier; `alone` hides every library, so that Python alone checks."""
    return subprocess.run(
        [sys.executable, "-I", *(["-S"] if alone else []), str(folder / "verify.py"), str(folder)],
        capture_output=True,
        text=True,
        check=False,
    )


def _sheet_read_from_pixels(county: Path) -> Sheet:
    """The first closing sheet of a packet, found by its code alone."""
    desk = open_desk(county)
    try:
        packet = min((county / "packets").glob("*-packet.pdf"))
        for serial in _codes_of_pages(packet):
            sheet = desk.store.sheets.get(serial)
            assert sheet is not None, f"the code {serial} on paper names no printed sheet"
            if sheet.kind == "closing sheet":
                return sheet
    finally:
        desk.close()
    raise AssertionError("no closing sheet could be read from the packet's pixels")


def test_from_pixels_to_a_record_that_a_stranger_can_check(county: Path, tmp_path: Path) -> None:
    """A sheet's code is read from the page, its number re-entered, and the export stands on its own."""
    sheet = _sheet_read_from_pixels(county)
    desk = open_desk(county)
    try:
        last = max(event.event.utc_ms for event in desk.store.events.all())
        written = desk.recorder.record(
            CountRead(term="ballots_spoiled", value=3, source="sheet", sheet=f"sheet/{sheet.serial}"),
            subject=f"site/{sheet.site}",
            site=f"site/{sheet.site}",
            day=sheet.day,
            people=(Person(person="person/P012", means=Means.NAME_ONLY, part=Part.AUTHOR),),
            moment=Moment(utc_ms=last + 60_000, offset_min=-300, uncertainty_ms=1000),
        )
        out = tmp_path / "export"
        export_record(desk.store, out)
    finally:
        desk.close()
    checked = _verify(out, alone=True)
    assert checked.returncode == 0, checked.stdout + checked.stderr
    lines = (out / "events.jsonl").read_text("utf-8").splitlines()
    (line,) = [line for line in lines if json.loads(line)["id"] == written.id]
    assert f"sheet/{sheet.serial}" in line


def test_each_flipped_byte_of_the_export_is_named(
    county: Path, tmp_path: Path, fault_random: random.Random
) -> None:
    """One byte changed anywhere among the events: the verifier says no and names the event or its line."""
    out = tmp_path / "export"
    desk = open_desk(county)
    try:
        export_record(desk.store, out)
    finally:
        desk.close()
    path = out / "events.jsonl"
    good = path.read_bytes()
    for _ in range(6):
        place = fault_random.randrange(len(good))
        bad = bytearray(good)
        bad[place] ^= 1 << fault_random.randrange(8)
        path.write_bytes(bytes(bad))
        checked = _verify(out, alone=False)
        line = good[:place].count(b"\n") + 1
        assert checked.returncode == 1, f"byte {place} of line {line} changed unnoticed\n{checked.stdout}"
        event = json.loads(good.splitlines()[line - 1])["id"]
        named = event[:12] in checked.stdout or f"line {line}" in checked.stdout
        assert named, f"byte {place}: neither event {event} nor line {line} is named\n{checked.stdout}"


def test_differences_are_told_in_neutral_words(county: Path) -> None:
    """The demo's differences over the command line: exit 0, each planted rule named, no word of blame."""
    done = subprocess.run(
        [sys.executable, "-m", "pollstead.cli.main", "reconcile", str(county), "--json"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    content = json.loads(done.stdout)
    rules = {
        n["key"].partition("|")[0]
        for day in content["days"]
        for site in day["sites"]
        for n in site["notices"]
    }
    planted = tomllib.loads((SMALL / "day" / "troubles.toml").read_text(encoding="utf-8"))["notice"]
    assert rules == {notice["rule"] for notice in planted}
    said = json.dumps(content)
    for word in ("fraud", "illegal", "tamper", "invalid", "lost votes"):
        assert word not in said.lower()
