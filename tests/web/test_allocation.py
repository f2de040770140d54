"""The page of the split: asked for as a job, shown with its bound, accepted by a name, taken back."""

from __future__ import annotations

import html
import os
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec
import pytest
from tests.once import copied
from tests.split_county import make_three_sites
from tests.web.in_this_process import ADDRESS, answered_here
from tests.web.test_browser import UNTRANSLATED
from tests.web.test_happening_browser import AXE, FAULTS, STICKING_OUT

from pollstead.plan.lines.spares import poisson_at_most
from pollstead.plan.terms.split import Goal
from pollstead.show.web.capabilities import Role
from pollstead.show.web.who import LANGUAGE_COOKIE
from pollstead.show.words import ENGLISH, PSEUDO
from pollstead.store.jobs import JobState
from pollstead.work.child import run_line
from pollstead.work.kinds import SplitArguments
from pollstead.work.overruling import decisions_standing
from pollstead.work.split_kept import kept_split
from pollstead.work.splitting import new_numbers

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.full

ASK = {"goal": "total", "within": "10", "stay": "5", "share": "", "risk": ""}


def words(answered: Any) -> str:
    """The text of a page without its marks."""
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]*>", "", answered.text)))


@pytest.fixture
def split_app(three_sites: Path, tmp_path: Path, app_of: Callable[[Path], Any]) -> Any:
    """The app around a copy of three sites whose fleet is short."""
    return app_of(copied(three_sites, tmp_path / "county"))


@pytest.fixture
def office(split_app: Any) -> Iterator[Any]:
    """A coordinator's browser."""
    with split_app.client(Role.COORDINATOR, "person/P001") as client:
        yield client


def made(app: Any, client: Any, **asked: str) -> str:
    """Ask for a split and let the worker make it; gives the job's id."""
    sent = client.post("/allocation", data=ASK | asked)
    assert sent.status_code == 303, words(sent)
    run_line(app.folder.path)
    return str(sent.headers["location"].partition("job=")[2])


def test_a_split_is_asked_for_shown_accepted_and_taken_back(split_app: Any, office: Any) -> None:
    """Nothing is fixed before somebody says why; afterwards every number is, and all go back in one act."""
    assert "Nobody has split the fleet yet." in words(office.get("/allocation"))
    sent = office.post("/allocation", data=ASK | {"goal": "blend"})
    waiting = office.get(sent.headers["location"])
    assert "waiting in line" in words(waiting) and "every 2s" in waiting.text
    run_line(split_app.folder.path)
    job = sent.headers["location"].partition("job=")[2]
    assert "The split is made." in words(office.get(f"/allocation?part=job&job={job}"))
    page = office.get("/allocation")
    text = words(page)
    split = kept_split(split_app.folder.store, split_app.folder.store.jobs.get(job))
    assert split.asked == SplitArguments(goal=Goal.BLEND)
    report = split.report
    assert report is not None and report.answer is not None and report.fresh is not None
    numbers = new_numbers(report)
    assert (
        "No other split of these machines, of all numbers tried, that holds every site" in text
        and "The plan takes more machines" in text
    )
    (spares,) = report.spares
    mean = spares.expected_ppm / 1_000_000
    assert spares.run_out_ppm == pytest.approx((1 - poisson_at_most(spares.held, mean)) * 1_000_000, abs=1)
    for one in report.answer.sites:
        named = f'href="/site/{one.site}/lines"'
        assert (named in page.text) is one.changed
    for caution in ("licensed electrician", "fire official", "election official decides what the law asks"):
        assert caution in text
    refused = office.post("/allocation/accept", data={"job": job, "reason": " "})
    assert refused.status_code == 422 and "Say in a few words why." in words(refused)
    assert decisions_standing(split_app.folder.fold()) == ()
    accepted = office.post("/allocation/accept", data={"job": job, "reason": "as counted"})
    assert accepted.headers["location"].startswith("/fixed?job=")
    assert len(decisions_standing(split_app.folder.fold())) == len(numbers)
    again = office.post("/allocation/accept", data={"job": job, "reason": "as counted"})
    assert again.status_code == 409
    text = words(office.get("/allocation"))
    assert "All of its numbers are fixed." in text and "as counted" in text and "Ada Fenwick" in text
    (act,) = re.findall(r'name="act" value="([^"]+)"', office.get("/allocation").text)
    assert office.post("/allocation/back", data={"act": act, "reason": ""}).status_code == 422
    back = office.post("/allocation/back", data={"act": act, "reason": "counted anew"})
    assert back.headers["location"].startswith("/fixed?job=")
    assert decisions_standing(split_app.folder.fold()) == ()
    assert office.post("/allocation/back", data={"act": act, "reason": "x"}).status_code == 409


def test_what_moved_since_another_split_is_told_with_its_reason(split_app: Any, office: Any) -> None:
    """With other spares there are more machines for the sites; with the same, nothing moves."""
    first = made(split_app, office)
    second = made(split_app, office, share="0", risk="90")
    text = words(office.get(f"/allocation?job={second}&since={first}"))
    assert "Sites that moved" in text and "of electronic voting unit for the sites; before there were" in text
    third = made(split_app, office)
    assert "No site's numbers moved" in words(office.get(f"/allocation?job={third}&since={first}"))
    shown = office.get(f"/allocation?job={second}").text
    assert 'name="share" size="6" value="0"' in shown and 'name="risk" size="6" value="90"' in shown


def test_who_may_not_change_facts_asks_and_accepts_nothing(split_app: Any, office: Any) -> None:
    """A helper lets a split be computed; a reader reads it; neither fixes a number."""
    with split_app.client(Role.HELPER, "person/P001") as helper:
        job = made(split_app, helper)
        page = helper.get("/allocation")
        assert 'action="/allocation"' in page.text and "/fix?" not in page.text
        assert helper.post("/allocation/accept", data={"job": job, "reason": "x"}).status_code == 403
    with split_app.client(Role.READER, "person/P001") as reader:
        page = reader.get("/allocation?sites=all")
        assert (
            "What holds each number?" in words(page) and '<form method="post" action="/alloc' not in page.text
        )
        assert reader.post("/allocation", data=ASK).status_code == 403
    assert "/site/P1/fix?table=stations" in office.get("/allocation?sites=all").text


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("goal", "", "Choose what is made least."),
        ("within", "-1", "Type a whole number from 0 to 1,000."),
        ("stay", "99999", "Type a whole number from 0 to 10,000."),
        ("share", "101", "Type a percentage up to 100"),
        ("risk", "0", "Type a percentage up to 100"),
    ],
)
def test_what_cannot_be_asked_for_is_said_at_its_field(
    split_app: Any, office: Any, field: str, typed: str, said: str
) -> None:
    """What was typed is kept; no job is in line."""
    sent = office.post("/allocation", data=ASK | {field: typed})
    assert sent.status_code == 422 and said in words(sent)
    assert not typed or f'value="{typed}"' in sent.text
    assert split_app.folder.store.jobs.list() == ()


def test_a_split_of_an_older_plan_is_not_accepted(split_app: Any, office: Any) -> None:
    """The page says so, and offers no button."""
    job = made(split_app, office)
    (split_app.folder.path / "sites.csv").write_text(
        (split_app.folder.path / "sites.csv").read_text(encoding="utf-8").replace("700", "600"),
        encoding="utf-8",
    )
    office.post("/jobs", data={"kind": "plan", "effort": "quick"})
    run_line(split_app.folder.path)
    assert len(split_app.folder.versions()) == 2
    page = office.get("/allocation")
    assert "There is a newer plan version" in words(page) and 'action="/allocation/accept"' not in page.text
    assert office.post("/allocation/accept", data={"job": job, "reason": "x"}).status_code == 409
    assert decisions_standing(split_app.folder.fold()) == ()


def test_without_a_plan_or_a_counted_fleet_the_page_says_what_comes_next(
    tmp_path: Path, app_of: Callable[[Path], Any], split_app: Any, office: Any
) -> None:
    """No plan: make one. No fleet: which list to fill in. A split thrown away: ask again."""
    none = make_three_sites(tmp_path / "none", fleet="")
    app = app_of(none)
    with app.client(Role.COORDINATOR, "person/P001") as client:
        made(app, client)
        text = words(client.get("/allocation"))
        assert "Nobody has counted the fleet" in text and "fleet_totals.csv" in text
    for file in none.glob("pollstead.db*"):
        file.unlink()
    app = app_of(none)
    with app.client(Role.COORDINATOR, "person/P001") as client:
        assert "There is no plan yet, so there is nothing to split." in words(client.get("/allocation"))
        assert client.post("/allocation", data=ASK).status_code == 409
    job = made(split_app, office)
    split_app.folder.store.kept.forget_unused(0)
    assert "This split is not kept any more." in words(office.get(f"/allocation?job={job}"))
    assert office.post("/allocation/accept", data={"job": job, "reason": "x"}).status_code == 404
    assert split_app.folder.store.jobs.get(job).state is JobState.DONE
    assert msgspec.json.decode(split_app.folder.store.jobs.get(job).result).startswith("split/")


@pytest.mark.browser
def test_a_split_is_asked_for_and_accepted_by_keyboard(split_app: Any, office: Any, browser: Browser) -> None:
    """No access rule broken on a full page, nothing sticks out at 320 px; goal, reason and Enter by keys."""
    page = browser.new_page(viewport={"width": 320, "height": 640})
    answered_here(page, office)
    page.goto(f"{ADDRESS}/allocation")
    page.locator("#goal-total").focus()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    page.get_by_text("waiting in line").wait_for()
    assert page.evaluate(STICKING_OUT) == []
    run_line(split_app.folder.path)
    page.goto(f"{ADDRESS}/allocation?sites=all")
    page.get_by_text("the worst site as good as can be").first.wait_for()
    page.evaluate(AXE)
    assert (page.evaluate(STICKING_OUT), page.evaluate(FAULTS)) == ([], [])
    if os.environ.get("POLLSTEAD_LOOK"):
        page.screenshot(path=f"{os.environ['POLLSTEAD_LOOK']}/allocation-320.png", full_page=True)
    office.cookies.set(LANGUAGE_COOKIE, PSEUDO)
    page.goto(f"{ADDRESS}/allocation?sites=all")
    assert (page.evaluate(UNTRANSLATED), page.evaluate(STICKING_OUT)) == ([], [])
    office.cookies.set(LANGUAGE_COOKIE, ENGLISH)
    page.goto(f"{ADDRESS}/allocation")
    page.locator("#reason").focus()
    page.keyboard.type("fleet as counted in May")
    page.keyboard.press("Enter")
    page.get_by_text("What did people fix?").wait_for()
    assert {d.reason for d in decisions_standing(split_app.folder.fold())} == {"fleet as counted in May"}
    page.close()
