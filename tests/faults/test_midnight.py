"""Past midnight, and on days when the clocks change: all belongs to the operating day, and is shown so."""

from __future__ import annotations

import datetime as dt
import json
import zoneinfo
from collections.abc import Callable
from typing import Any

import msgspec
import pytest
from tests.reconcile.conftest import DAY
from tests.web.conftest import ELECTION_DAY

from pollstead.cli.reconcile import day_object
from pollstead.election.county import Hours
from pollstead.election.instants import OperatingDay
from pollstead.reconcile.custody.not_back import due_ms
from pollstead.reconcile.opening.states import ItemState
from pollstead.record.kinds import days
from pollstead.show.web.capabilities import Role

ZONE = "America/New_York"
SCANNER = "device/scanner/S01-1"
NEXT = DAY + dt.timedelta(days=1)


def after_midnight(case: Any) -> None:
    """The last voter at 24:40, a count at 24:55: both written on the next date, for the operating day."""
    case.record.clock = OperatingDay(date=DAY, zone_name=ZONE).at_wall_clock(1480).utc_ms
    case.record.write(days.SiteClosed(at_min=1480), "site/S01", "P001")
    case.record.clock += 15 * 60_000
    case.record.number(SCANNER, "public_counter_close", 412, "P001")


def test_closing_at_24_40_belongs_to_the_operating_day(case: Any) -> None:
    """The minute, the count and the notices stand on election day; the next date holds nothing."""
    after_midnight(case)
    day = case.site()
    assert day.closed.values == (1480,)
    assert [o.number for o in day.seen() if o.detail == "public_counter_close"] == [412]
    later = case.day(NEXT)
    assert not [o for site in later.sites for o in site.seen()]
    assert later.elsewhere == ()


def test_the_export_says_the_minute_of_the_operating_day(case: Any) -> None:
    """JSON of the day: closed at minute 1480 of election day, in whole minutes."""
    after_midnight(case)
    told = json.loads(json.dumps(day_object(case.day(), case.day().sites)))
    assert (told["date"], told["sites"][0]["closed_min"]) == ("2028-11-07", [1480])


def test_pages_and_the_kept_event_say_24_40_of_the_operating_day(
    shared_app: Any, said_by: Callable[..., str]
) -> None:
    """Typed as 24:40 past midnight: the page of the day shows it so, and the event has the operating day."""
    client = shared_app.client(Role.SITE_LEAD, "person/P001")
    form = {"do": "minute", "day": ELECTION_DAY.isoformat(), "at": "24:40"}
    assert client.post("/site/S36/closing", data=form).status_code == 303
    for path in ("/day", "/site/S36/closing"):
        assert "24:40" in client.get(path, params={"day": ELECTION_DAY.isoformat()}).text
    [event] = shared_app.folder.store.events.of_kinds("site.closed")
    assert (event.event.day, event.event.body["at_min"]) == ("2028-11-07", 1480)
    told = json.loads(said_by("reconcile", shared_app.folder.path, "--json"))
    closed = {
        day["date"]: site["closed_min"]
        for day in told["days"]
        for site in day["sites"]
        if site["site"] == "S36"
    }
    assert closed["2028-11-07"] == [1480]
    assert not any(values for date, values in closed.items() if date != "2028-11-07")


@pytest.mark.parametrize("shown", [DAY, NEXT])
def test_a_device_that_shows_24_40_or_the_next_date_is_right(case: Any, shown: dt.date) -> None:
    """Read after midnight: 00:40 of the next date, or 24:40 of the day, is no difference of the date."""
    from pollstead.reconcile.opening.clock import check_clock

    found = check_clock(OperatingDay(date=DAY, zone_name=ZONE), shown, 1480, 1480, 0, 2)
    assert found.time_right and found.date_right
    assert not check_clock(OperatingDay(date=DAY, zone_name=ZONE), DAY, 40, 1480, 0, 2).date_right


# Dates of the change by the United States' rule since 2007; the zone database is read beside ours.
CHANGES = (dt.date(2028, 3, 12), dt.date(2028, 11, 5), dt.date(2032, 11, 7))


@pytest.mark.parametrize("date", CHANGES)
@pytest.mark.parametrize("minute", [1200, 1480, 1620])
def test_on_a_day_with_a_clock_change_the_evening_is_due_by_the_wall_clock(
    case: Any, date: dt.date, minute: int
) -> None:
    """A day of 23 or 25 hours: things are due so many minutes after the wall clock's closing, no hour off."""
    wall = dt.datetime.combine(date, dt.time()) + dt.timedelta(minutes=minute)
    closing = wall.replace(tzinfo=zoneinfo.ZoneInfo(ZONE)).astimezone(dt.UTC)
    case.record.write(days.SiteClosed(at_min=minute), "site/S01", day=date)
    hours = (Hours(date=date, opens_min=420, closes_min=1200),)
    election = msgspec.structs.replace(
        case.election, sites=tuple(msgspec.structs.replace(s, hours=hours) for s in case.election.sites)
    )
    site = case.day(date).site("S01")
    rule_ms = election.rules.whole("receiving-due") * 60_000
    assert due_ms(election, site) == round(closing.timestamp() * 1000) + rule_ms


def test_a_reading_at_the_hour_that_comes_twice_keeps_its_order(case: Any) -> None:
    """Two readings at 01:30, before and after the clocks go back: an hour apart, in order, both kept."""
    date = dt.date(2028, 11, 5)
    first = OperatingDay(date=date, zone_name=ZONE).at_wall_clock(90).utc_ms
    for step, value in enumerate((10, 20)):
        case.record.clock = first + step * 3_600_000
        case.record.number(SCANNER, "public_counter_open", value, f"P00{step + 1}", day=date)
    seen = [o for o in case.day(date).site("S01").seen() if o.detail == "public_counter_open"]
    assert [o.number for o in seen] == [10, 20]
    assert seen[1].utc_ms - seen[0].utc_ms == 3_600_000


def test_a_device_that_did_not_follow_the_change_is_told_so(case: Any) -> None:
    """Two days after the clocks went back a device is an hour ahead: the change is named as a possibility."""
    case.record.clock_seen(SCANNER, 420, 360, "P001", "P002")
    item = case.item(f"{SCANNER}/clock")
    assert item.state is ItemState.VALUE_DIFFERS
    assert item.explanation is not None
    assert item.explanation.english() == "The time differs by an hour; the clocks change at this date."
