"""Which plan version a day is compared with."""

from __future__ import annotations

import datetime as dt
import html
from pathlib import Path
from typing import Any

import pytest

from pollstead.cli.plan import plan_folder
from pollstead.plan.terms.part import NoWatch
from pollstead.record.kinds.offices import PlanApproved
from pollstead.show import assumed
from pollstead.show.web.capabilities import Role
from pollstead.show.web.day import days_now
from pollstead.show.web.who import Who

pytestmark = pytest.mark.full

DAY = dt.date(2028, 11, 7)


def test_a_later_plan_is_not_compared_with_until_its_lists_are_issued(issued_app: Any, county: Path) -> None:
    """A version approved on the evening before changes no comparison: lists of the first are in force."""
    folder = issued_app.folder
    first = folder.current_digest()
    before = days_now(folder).report(DAY)
    with (county / "fixed.csv").open("a", encoding="utf-8") as stream:
        stream.write("stations,S01/ballot-scanner,count,3,one more for the evening\n")
    later = plan_folder(county, watch=NoWatch(), workers=1)
    assert later != first
    folder.write(
        PlanApproved(digest=later), who=Who(person="person/P010", role=Role.COORDINATOR), subject="plan"
    )
    days = days_now(folder)
    assert days.digest == later
    after = days.report(DAY)
    assert after.site("S01") == before.site("S01")


def test_every_assumption_of_the_county_stands_on_the_county_page(issued_app: Any) -> None:
    """Each value that was taken for the whole county is on the first page with what it is about."""
    folder = issued_app.folder
    version, election = folder.current(), folder.election()
    assert len(version.assumptions) > 5
    with issued_app.client(Role.COORDINATOR) as client:
        page = html.unescape(client.get("/").text)
    for item in version.assumptions:
        assert assumed.about(item, election, str) in page
        assert assumed.taken(item) in page
