"""What a reading that differs most likely is, from a record: planted faults, one day, two sites."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import pytest

from pollstead.cli.reconcile import day_object, print_day
from pollstead.election.county import Device, Election, SealRange
from pollstead.election.reading_errors import ReadingError
from pollstead.election.seal_stock import SealVoid
from pollstead.election.station_type import Moment
from pollstead.intake.folder import read_folder
from pollstead.plan.terms.version import ExpectedItem
from pollstead.reconcile.day import DayReport, reconcile_day
from pollstead.reconcile.diagnosis.diagnose import Fits
from pollstead.reconcile.issued import Issued
from pollstead.reconcile.opening.states import ItemResult, ItemState
from pollstead.record.kinds import stocks

DAY = dt.date(2028, 11, 7)
LID = "closure/scanner/S01-1/lid"
DOOR = "closure/scanner/S01-1/memory-door"
THERE = "closure/scanner/S02-1/lid"
SMALL = Path(__file__).resolve().parents[2] / "small"


class Story:
    """A county with stock, its lists, a record, and what the report of the day says."""

    def __init__(self, county: Any, record: Any) -> None:
        self.record = record
        self.plan = county.plan({"ballot-scanner": 2})
        self.election: Election = msgspec.structs.replace(
            county.election(),
            seal_ranges=(SealRange(seal_kind="wire", series="LM-W", first="0310001", last="0310120"),),
            seal_voids=(SealVoid(seal_kind="wire", number="0310044", reason="misprinted"),),
            devices=(Device(id="device/scanner/0099", serial="LM-V-0099", kind="scanner", tag="LM-TAG-99"),),
        )
        self.issued: Issued = county.lists(self.election, self.plan)

    def expected(self, subject: str) -> str:
        return next(
            i.value
            for one in self.issued.lists
            for i in one.items
            if i.subject == subject and i.moment is Moment.OPENING
        )

    def report(self) -> DayReport:
        return reconcile_day(self.election, self.plan, self.issued, self.record.fold(), DAY)

    def item(self, subject: str = LID, site: str = "S01") -> ItemResult:
        results = self.report().site(site).results
        return next(r for r in results if r.subject == subject and r.moment is Moment.OPENING)

    def amend(self, subject: str, value: str) -> None:
        """Another expected value of one thing in the lists."""

        def changed(item: ExpectedItem) -> ExpectedItem:
            return msgspec.structs.replace(item, value=value) if item.subject == subject else item

        lists = tuple(
            msgspec.structs.replace(one, items=tuple(map(changed, one.items))) for one in self.issued.lists
        )
        self.issued = msgspec.structs.replace(self.issued, lists=lists)


def slip(number: str) -> str:
    """The number with another last digit."""
    return number[:-1] + ("7" if number[-1] != "7" else "9")


@pytest.fixture
def story(county: Any, record: Any) -> Story:
    """Nothing read yet."""
    return Story(county, record)


@pytest.mark.parametrize(
    ("fault", "entered", "fits", "thing"),
    [
        ("typo", lambda s: slip(s.expected(LID)), Fits.TYPO, LID),
        ("neighboring closure", lambda s: s.expected(DOOR), Fits.CLOSURE, DOOR),
        (
            "another device here",
            lambda s: s.expected("closure/scanner/S01-2/lid"),
            Fits.DEVICE,
            "closure/scanner/S01-2/lid",
        ),
        ("another site's cart", lambda s: s.expected(THERE), Fits.SITE, THERE),
        ("spare", lambda _: "0310077", Fits.SPARE, "seal/LM-W/0310077"),
        ("void by the table", lambda _: "0310044", Fits.VOIDED, "seal/LM-W/0310044"),
        ("unknown", lambda _: "7777777", Fits.UNKNOWN, ""),
    ],
)
def test_a_planted_fault_is_told(
    story: Story, fault: str, entered: Callable[[Story], str], fits: Fits, thing: str
) -> None:
    """Two people read the planted number on the lid: the first explanation is what was planted."""
    story.record.seal(LID, entered(story), "P001", "P002")
    item = story.item()
    assert item.state is ItemState.VALUE_DIFFERS
    (told,) = item.diagnoses
    assert (told.hypotheses[0].fits, told.hypotheses[0].thing) == (fits, thing), fault


def test_a_seal_that_the_record_has_as_void_is_told(story: Story) -> None:
    """Voided at a site during the day; no table has it."""
    void = stocks.VoidSeal(number="0310090", reason="Cut by mistake.")
    story.record.write(stocks.SealVoided(why="cut"), "seals/wire", private=void)
    story.record.seal(LID, "0310090", "P001", "P002")
    best = story.item().diagnoses[0].hypotheses[0]
    assert best.fits is Fits.VOIDED and "as cut" in best.words[0].english()


def test_the_tag_in_place_of_the_serial_and_a_spare_device(story: Story) -> None:
    """A device on no list by its serial; its tag names it as well."""
    part = "station/S01/ballot-scanner/1/scanner"
    story.record.serial(part, "LM-TAG-99", "P001", "P002")
    best = story.item(part).diagnoses[0].hypotheses[0]
    assert best.fits is Fits.SPARE
    assert best.words[0].english() == (
        "It belongs to tag of scanner LM-V-0099, which no list has on this day."
    )


def test_the_same_number_from_two_orders_is_recorded_twice_and_told_at_both(story: Story) -> None:
    """Both closures match, both readings stay, and each names the other."""
    number = story.expected(LID)
    story.amend(THERE, number)
    story.record.seal(LID, number, "P001", "P002")
    story.record.seal(THERE, number, "P003", "P004", site="S02")
    here, there = story.item(), story.item(THERE, "S02")
    assert {here.state, there.state} == {ItemState.MATCH}
    assert [t.subject for t in here.diagnoses[0].twice] == [THERE]
    assert [t.subject for t in there.diagnoses[0].twice] == [LID]
    assert "Record both and tell the office." in here.diagnoses[0].notes[0].english()


def test_two_who_differ_have_one_explanation_for_the_one_that_differs(story: Story) -> None:
    """The other one read the expected number, so a slip comes first."""
    wanted = story.expected(LID)
    story.record.seal(LID, wanted, "P001")
    story.record.seal(LID, wanted[:2] + wanted[3:], "P002")
    (told,) = story.item().diagnoses
    assert told.hypotheses[0].fits is Fits.TYPO and told.entered == wanted[:2] + wanted[3:]


def test_a_countys_own_costs_count(story: Story) -> None:
    """A county where carts are never mixed up, so that another site comes after a slip."""
    story.record.seal(LID, story.expected(THERE), "P001", "P002")
    assert story.item().diagnoses[0].hypotheses[0].fits is Fits.SITE
    dear = tuple(
        ReadingError(kind=kind, cost_millinats=90_000)
        for kind in ("another site", "unknown", "spare", "another device", "another closure")
    )
    story.election = msgspec.structs.replace(story.election, reading_errors=dear)
    assert story.item().diagnoses[0].hypotheses[0].fits is Fits.TYPO


def test_the_command_says_it_once_both_have_entered(story: Story, capsys: pytest.CaptureFixture[str]) -> None:
    """JSON and text: nothing while the second person has still to read, then the words and the costs."""
    read = slip(story.expected(LID))

    def told() -> tuple[list[Any], str]:
        report = story.report()
        content = day_object(report, report.sites)
        item = next(
            i
            for site in content["sites"]
            for i in site["items"]
            if i["subject"] == LID and i["moment"] == "opening"
        )
        print_day(report, report.sites)
        return item["likeliest"], capsys.readouterr().out

    story.record.seal(LID, read, "P001")
    early, text = told()
    assert early == [] and "digit differs" not in text
    assert f"one person read {read}, which differs" in text
    early_json = json.dumps(day_object(story.report(), story.report().sites))
    assert story.expected(LID) not in text + early_json, "the second person has still to read it"
    story.record.seal(LID, read, "P002")
    (found,), text = told()
    assert (found["entered"], found["tied"]) == (read, 1)
    first = found["explanations"][0]
    assert first["fits"] == "misread or mistyped" and first["thing"] == LID
    assert first["cost_millinats"] > 0 and first["to_next_millinats"] > 0
    assert f"{read}: Possible explanation: One digit differs at position 7" in text
    assert "cause" not in text


def test_a_table_of_costs_is_read_and_what_is_wrong_in_it_is_named(tmp_path: Path) -> None:
    """Each fault by row and column, all at once; a right line counts."""
    for file in SMALL.glob("*.[ct]*"):
        (tmp_path / file.name).write_bytes(file.read_bytes())
    table = tmp_path / "reading_errors.csv"
    table.write_text("kind,from,to,cost\nlook-alike,,,7500\nsubstitution,3,b,7800\n", encoding="utf-8")
    read = read_folder(tmp_path)
    assert read.election is not None and not read.faults
    assert [(e.kind, e.from_, e.to, e.cost_millinats) for e in read.election.reading_errors] == [
        ("look-alike", "", "", 7500),
        ("substitution", "3", "b", 7800),
    ]
    table.write_text("kind,from,to,cost\ndropped,,,x7\ntypo,,,50\nsubstitution,11,7,9\n", encoding="utf-8")
    faults = [f for f in read_folder(tmp_path).faults if f.place and f.place.file == table.name]
    assert [(f.place.row, f.place.column) for f in faults if f.place] == [(2, "cost"), (3, None), (4, None)]
    assert "kind must be one of substitution" in faults[1].text.english()
    assert "a pair is one character and another one" in faults[2].text.english()
