"""Waits by the hour: every site beside the others, one with other numbers, nothing kept of a question."""

from __future__ import annotations

import re
from typing import Any

import pytest

from pollstead.plan.lines.trials import Trials
from pollstead.show.web import lines_view
from pollstead.show.web.capabilities import Role
from pollstead.show.web.lines_view import hour_chart, level, worst_hour


def words(answered: Any) -> str:
    """The text of a page without its marks."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]*>", "", answered.text))


@pytest.fixture
def office(app: Any) -> Any:
    """A coordinator's browser."""
    return app.client(Role.COORDINATOR)


def test_every_site_with_lines_stands_in_the_table_the_longest_wait_first(app: Any, office: Any) -> None:
    """Every site with lines stands in the table the longest wait first."""
    page = office.get("/lines")
    assert page.status_code == 200
    version = app.folder.current()
    sites = [plan.site.removeprefix("site/") for plan in version.sites if plan.waits is not None]
    assert sites
    for key in sites:
        assert f"/site/{key}/lines?day=" in page.text
    digest = app.folder.current_digest()
    kept = app.folder.kept_lines
    day = max(d.date for one in kept.sites(app.folder, digest).values() for d in one.lines.days)
    longest = {}
    for site in kept.sites(app.folder, digest):
        told = kept.by_hour(app.folder, digest, site, day)
        if told is not None:
            longest[site.removeprefix("site/")] = told.hours[worst_hour(told)].p90_longest_ms
    assert len(longest) > 1
    shown = re.findall(r"/site/(\w+)/lines\?day=", page.text)
    assert shown == sorted(longest, key=lambda key: (-longest[key], key))


def test_without_a_question_the_page_tells_the_plans_own_figures(app: Any, office: Any) -> None:
    """Fresh days drawn again from the version's seed are the days that sizing used."""
    version = app.folder.current()
    plan = next(one for one in version.sites if one.waits is not None and len(one.demand) == 1)
    key = plan.site.removeprefix("site/")
    digest = app.folder.current_digest()
    one = app.folder.kept_lines.sites(app.folder, digest)[plan.site]
    from pollstead.plan.lines.what_if import WhatIfAsked, what_if

    told = what_if(
        one.lines, one.lines.days[0], WhatIfAsked(counts=one.counts), version.seed, plan.waits.days_used, 1
    )
    assert told.figures.risk.risk_ppm == plan.waits.risk_ppm
    assert told.figures.p95_longest_ms == plan.waits.p95_longest_wait_ms
    assert told.figures.mean_wait_ms == plan.waits.mean_wait_ms
    assert "The plan" in words(office.get(f"/site/{key}/lines"))


def test_fewer_check_in_stations_lengthen_the_wait_and_nothing_is_kept(app: Any, office: Any) -> None:
    """Fewer check in stations lengthen the wait and nothing is kept."""
    before = app.folder.fold()
    page = office.get("/site/S01/lines", params={"check-in": "1"})
    text = words(page)
    assert page.status_code == 200 and "More days above the limit than planned." in text
    assert "/site/S01/fix?" in page.text and "As tried: 90 of 100" in text
    later = office.get("/site/S01/lines")
    assert "As tried" not in words(later)
    assert app.folder.fold() is before


def test_the_worth_of_a_station_stands_on_both_pages_and_the_plans_figures_are_kept(
    app: Any, office: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One more and one fewer with voter-minutes beside the plan; the plan is not simulated again."""
    waits = next(plan.waits for plan in app.folder.current().sites if plan.site == "S01")
    fewer = next(one for one in waits.what_ifs if one.change == "One fewer check-in station")
    assert fewer.voter_minutes > waits.compared.voter_minutes
    more = f"{fewer.voter_minutes:,} (+{fewer.voter_minutes - waits.compared.voter_minutes:,})"
    for page in ("/site/S01", "/site/S01/lines"):
        text = words(office.get(page))
        assert "The plan itself" in text and more in text and "(+50 %)" in text
    asked = []
    simulate = Trials.rows
    monkeypatch.setattr(Trials, "rows", lambda *given: asked.append(given[1]) or simulate(*given))
    office.get("/site/S01/lines")
    assert asked == []
    office.get("/site/S01/lines", params={"casting": "150"})
    assert len(asked) == 1


def test_a_reader_sees_waits_and_no_way_to_fix_them(app: Any) -> None:
    """A reader sees waits and no way to fix them."""
    reader = app.client(Role.READER)
    assert reader.get("/lines").status_code == 200
    page = reader.get("/site/S01/lines", params={"check-in": "1"})
    assert page.status_code == 200 and "/site/S01/fix?" not in page.text


@pytest.mark.parametrize(
    ("field", "typed"),
    [("check-in", "0"), ("late", "soon"), ("turnout", "9"), ("marking", "-3"), ("casting", "501")],
)
def test_what_cannot_be_computed_is_said_at_its_field_and_the_plan_stays(
    office: Any, field: str, typed: str
) -> None:
    """What cannot be computed is said at its field and the plan stays."""
    page = office.get("/site/S01/lines", params={field: typed})
    assert page.status_code == 422
    assert "Type a whole number from" in page.text and f'id="{field}-said"' in page.text
    assert f'value="{typed}"' in page.text and "As tried" not in words(page)


def test_a_site_that_is_not_in_the_plan_is_said_to_be_so(office: Any) -> None:
    """A site that is not in the plan is said to be so."""
    assert office.get("/site/S99/lines").status_code == 404


def test_a_darker_cell_means_a_longer_wait() -> None:
    """A darker cell means a longer wait."""
    assert [level(m * 60_000) for m in (0, 4, 5, 29, 30, 59, 60, 600)] == [0, 0, 1, 2, 3, 3, 4, 4]


def test_bars_stand_on_the_axis_and_no_higher_than_the_field(app: Any) -> None:
    """Bars stand on the axis and no higher than the field."""
    digest = app.folder.current_digest()
    sites = app.folder.kept_lines.sites(app.folder, digest)
    site, one = next(iter(sites.items()))
    found = app.folder.kept_lines.by_hour(app.folder, digest, site, one.lines.days[-1].date)
    assert found is not None and found.days == lines_view.HOUR_DAYS
    chart = hour_chart(found, one.lines.limit.limit_ms)
    for bar in chart.bars:
        assert chart.top <= bar.y90 <= bar.y50 <= chart.bottom
    assert chart.top <= chart.limit_at <= chart.bottom
    assert len(chart.bars) == len(found.hours) and 2 <= len(chart.minutes) <= 7
