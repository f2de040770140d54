"""The paper loop: from the pixels of a printed sheet through entry to a record that strangers can check."""

from __future__ import annotations

import datetime as dt
import json
import random
import subprocess
import sys
import tomllib
from collections.abc import Iterable, Iterator
from pathlib import Path

import pypdfium2
import pytest
import zxingcpp
from tests.once import copied

from pollstead.cli.reconcile import facts_then, plan_of
from pollstead.reconcile.day import SiteDay, reconcile_day
from pollstead.reconcile.issued import issued_lists
from pollstead.reconcile.observed import What
from pollstead.reconcile.paper.progress import all_seen
from pollstead.record.event import Means, Part, Person, Signed
from pollstead.record.fold import fold
from pollstead.record.kinds.days import CountRead
from pollstead.record.write import Moment
from pollstead.show.paper_back import asked_lines, printed_sheets, term_key
from pollstead.store.desk import open_desk
from pollstead.store.exchange import export_record
from pollstead.store.opening import Store
from pollstead.store.sheets import Sheet

pytestmark = pytest.mark.full

DOTS_PER_INCH = 150
SMALL = Path(__file__).parents[2] / "small"


@pytest.fixture(scope="module")
def county(demo_played: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the demo county, planned, printed and played, made once for this file."""
    return copied(demo_played, tmp_path_factory.mktemp("whole") / "county")


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


def _sheet_read_from_pixels(county: Path, kind: str = "closing sheet", day: str = "") -> Sheet:
    """The first sheet of a kind in a packet, found by its code alone."""
    desk = open_desk(county)
    try:
        packet = min((county / "packets").glob("*-packet.pdf"))
        for serial in _codes_of_pages(packet):
            sheet = desk.store.sheets.get(serial)
            assert sheet is not None, f"the code {serial} on paper names no printed sheet"
            if sheet.kind == kind and day in ("", sheet.day):
                return sheet
    finally:
        desk.close()
    raise AssertionError(f"no {kind} could be read from the packet's pixels")


@pytest.mark.begins_first
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


@pytest.mark.begins_first
def test_a_day_re_entered_from_paper_says_what_direct_entry_said(county: Path, tmp_path: Path) -> None:
    """Balance terms of a sheet found by its pixels, keyed by two people: the same balance, checked alone.

    The numbers of the played day are keyed from the balance sheet. With the direct entries taken out of the
    set of events, paper alone must give every equation the same outcome; before the second person, none.
    """
    sheet = _sheet_read_from_pixels(county, "balance sheet", "2028-11-07")
    desk = open_desk(county)
    try:
        store, date = desk.store, dt.date.fromisoformat(sheet.day)
        direct = _site_day(store, sheet.site, date, store.events.all())
        (printed,) = [one for one in printed_sheets(store) if one.serial == sheet.serial]
        asked = {term_key(one): one for one in asked_lines(store, store.fold(), printed) if term_key(one)}
        read: dict[str, int] = {}
        for reading in direct.readings:
            read.setdefault(reading.key, reading.value)
        keyed = {key: asked[key] for key in read if key in asked}
        assert direct.balance is not None
        terms = {line.key: line.term for line in direct.balance.lines}
        assert len(keyed) > 10
        last = max(event.event.utc_ms for event in store.events.all())
        written = []
        for who in ("P012", "P014"):
            for key, line in keyed.items():
                last += 4_000
                written.append(
                    desk.recorder.record(
                        CountRead(
                            term=line.item,
                            value=read[key],
                            source=terms[key].source,
                            sheet=f"sheet/{sheet.serial}",
                            line=line.line,
                        ),
                        subject=line.subject,
                        site=f"site/{sheet.site}",
                        day=sheet.day,
                        people=(Person(person=f"person/{who}", means=Means.NAME_ONLY, part=Part.AUTHOR),),
                        moment=Moment(utc_ms=last, offset_min=-300, uncertainty_ms=1000),
                    )
                )
        everything = store.events.all()
        by_hand = {one.id for one in written}
        counts = {reading.event for reading in direct.readings}
        events_of_counts = {o.event for o in all_seen(direct) if o.what is What.COUNT} | counts
        paper_alone = [e for e in everything if e.id in by_hand or e.id not in events_of_counts]
        once = [e for e in paper_alone if e.id not in {one.id for one in written[len(keyed) :]}]
        assert _outcomes(_site_day(store, sheet.site, date, everything)) == _outcomes(direct)
        alone = _site_day(store, sheet.site, date, paper_alone)
        assert len(_outcomes(direct, set(keyed))) > 3
        assert _outcomes(alone, set(keyed)) == _outcomes(direct, set(keyed))
        assert not _site_day(store, sheet.site, date, once).readings
        out = tmp_path / "export"
        export_record(store, out)
    finally:
        desk.close()
    checked = _verify(out, alone=True)
    assert checked.returncode == 0, checked.stdout + checked.stderr
    rows = (out / "events.jsonl").read_text("utf-8").splitlines()
    text = "".join(json.loads(row)["event"] for row in rows)
    for line in keyed.values():
        assert text.count(f'"line":"{line.line}","sheet":"sheet/{sheet.serial}"') == 2


def _site_day(store: Store, site: str, date: dt.date, events: Iterable[Signed]) -> SiteDay:
    """One site's day, reconciled from a set of events of the store."""
    folded = fold(events, store.sides.fields())
    issued = issued_lists(folded)
    plan = plan_of(store, issued)
    return reconcile_day(facts_then(store, plan), plan, issued, folded, date).site(site)


def _outcomes(day: SiteDay, keys: set[str] | None = None) -> list[tuple[object, ...]]:
    """What each equation says; with `keys`, of those that need no other number."""
    return [
        (line.equation, line.subject, line.state, line.difference)
        for line in day.lines
        if keys is None or all(term.key in keys for term in line.terms)
    ]


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
