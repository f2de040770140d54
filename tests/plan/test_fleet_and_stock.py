"""The fleet and the seal stock of a planned county: as reported, as JSON, as sheets of the warehouse."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest

from pollstead.cli.fleet import fleet_object
from pollstead.cli.stock import stock_object
from pollstead.election.county import Election
from pollstead.election.instants import Instant
from pollstead.election.rules import CountyRules, RuleSetting
from pollstead.plan.stations.order import reading_key
from pollstead.plan.terms.version import PlanVersion
from pollstead.show.packet.content import Table
from pollstead.show.packet.warehouse import Printing, cart_sheets, range_sheet
from pollstead.work.fleet import fleet_report
from pollstead.work.stock import stock_report

Planner = Callable[..., PlanVersion]
ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "docs" / "tools"))


def with_rule(county: Election, value: str) -> Election:
    """The county with another answer to what becomes of early-vote devices."""
    rest = tuple(s for s in county.rules.settings if s.rule != "early-devices")
    setting = RuleSetting(rule="early-devices", value=value)
    return msgspec.structs.replace(county, rules=CountyRules(settings=(*rest, setting)))


@pytest.mark.parametrize("rule", ["kept apart", "deployed again", "stays in use"])
def test_no_device_is_at_two_places_on_one_day(county: Election, plan_of: Planner, rule: str) -> None:
    """Whatever the rule, no stays of one device share a day, and only a device deployed again has work."""
    election = with_rule(county, rule)
    report = fleet_report(election, plan_of(election), None)
    assert {line.device.id for line in report.lines} == {d.id for d in county.devices}
    assert [line.clashes for line in report.lines if line.clashes] == []
    work = [work for line in report.lines for work in line.between]
    assert bool(work) == (rule == "deployed again")
    for one in work:
        assert one.available_min > 0 and one.minutes >= one.test_min + one.seal_min > 0
        assert next(m.english() for m in report.lacks(one.device)).startswith("The closing of its last")
    early = [s for line in report.lines for s in line.stays if s.early]
    assert bool(early) == (rule != "stays in use")


def test_what_is_printed_as_json_is_what_the_page_says(county: Election, plan_of: Planner) -> None:
    """Every field of both commands is on docs/formats/json.md, with its type."""
    import json_fields

    election = with_rule(county, "deployed again")
    plan = plan_of(election)
    documented = json_fields.documented()
    fleet = json.loads(json.dumps(fleet_object(fleet_report(election, plan, None))))
    stock = json.loads(json.dumps(stock_object(stock_report(election, plan, None))))
    for name, printed in (("fleet FOLDER", fleet), ("stock FOLDER", stock)):
        told = json_fields.differences(printed, documented[name])
        # What this small county has none of cannot be compared.
        assert [line for line in told if "is not printed" not in line and "(empty)" not in line] == []


def test_the_warehouse_sheets_hold_every_number_and_serial(county: Election, planned: PlanVersion) -> None:
    """Each block of each bag stands once on the range sheet; each cart lists its serials low to high."""
    given = Printing(
        election=county, digest="0" * 64, printed_at=Instant(utc_ms=1_857_724_800_000), language="en-US"
    )
    report = stock_report(county, planned, None)
    words = str(range_sheet(given, report))
    for bag in report.bags.bags:
        for block in bag.blocks:
            assert words.count(f"{block.first} – {block.last}") == 1
    fleet = fleet_report(county, planned, None)
    made = cart_sheets(given, fleet.carts)
    assert len({sheet.serial for sheet in made.sheets}) == len(made.sheets) > 0
    listed: list[str] = []
    for sheet in made.sheets:
        [table] = [block for block in sheet.blocks if isinstance(block, Table)]
        serials = [row[2].words for row in table.rows]
        assert serials == sorted(serials, key=reading_key)
        listed += serials
    assert sorted(listed) == sorted(d.serial for d in county.devices if d.cart)
