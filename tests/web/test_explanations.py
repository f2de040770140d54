"""The office desk explains a difference; sites see nothing of it, and only what somebody saves is kept."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import pytest
from tests.web.conftest import ELECTION_DAY, read_differently

from pollstead.record.kinds.days import CountRead
from pollstead.show.web.capabilities import Role
from pollstead.show.web.who import WHO_COOKIE, Who, to_cookie

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.full

PAGE = f"/site/S01/explanations?day={ELECTION_DAY.isoformat()}"


def plain(html: str) -> str:
    """The text of a page without its tags."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", html))


def chosen(html: str) -> dict[str, str]:
    """A form that takes the first explanation."""
    digest = re.search(r'name="digest" value="([0-9a-f]{64})"', html)
    first = re.search(r'name="explanation" value="([0-9a-f]{16})"', html)
    assert digest is not None and first is not None
    return {"digest": digest[1], "explanation": first[1]}


def test_the_desk_sees_what_fits_and_a_site_sees_nothing_of_it(issued_app: Any) -> None:
    """Sentence, words and next act for clerk and coordinator, without a percentage; refused to others."""
    read_differently(issued_app.folder, "S01")
    for role in (Role.CLERK, Role.COORDINATOR):
        text = plain(issued_app.client(role).get(PAGE).text)
        assert "Difference of 9; two explanations fit." in text
        assert "421 was written, 412 would fit. Two neighboring digits may have changed places." in text
        assert "Read again what is written" in text and "%" not in text
        assert "the canvassing body; your office says what to do tonight (assumed" in text
        assert "only on the order of: the authority that your state" in text
    for role in (Role.SITE_LEAD, Role.HELPER, Role.READER, Role.WAREHOUSE):
        client = issued_app.client(role)
        assert client.get(PAGE).status_code == 403
        assert "explanations" not in client.get("/site/S01/closing").text


def test_one_is_saved_under_a_name_and_holds_until_a_number_changes(issued_app: Any) -> None:
    """Who and when stand beside it; after another reading it is kept, and the difference is open again."""
    device = read_differently(issued_app.folder, "S01")
    client = issued_app.client(Role.CLERK)
    assert issued_app.folder.fold().named("explanation.saved") == ()
    form = chosen(client.get(PAGE).text)
    refused = client.post(PAGE, data=form | {"outcome": "412"})
    assert refused.status_code == 422 and "Say what was looked at again." in refused.text
    assert client.post(PAGE, data={"digest": form["digest"]}).status_code == 422
    act = f"reread_paper report_count_close@{device}"
    saved = client.post(PAGE, data=form | {"act": act, "outcome": "412", "own": "Two of us read it."})
    assert saved.status_code == 303
    text = plain(client.get(PAGE).text)
    assert "holds for the numbers as they are" in text and "Two of us read it." in text
    (fact,) = issued_app.folder.fold().named("explanation.saved")
    assert [p.person for p in fact.current[0].people] == ["person/P010"]
    issued_app.folder.write(
        CountRead(term="lifetime_counter_close", value=9_000, source="screen"),
        who=Who(person="person/P001", role=Role.SITE_LEAD),
        subject=device,
        site="site/S01",
        day=ELECTION_DAY.isoformat(),
    )
    assert client.post(PAGE, data=form).status_code == 409
    text = plain(client.get(PAGE).text)
    assert "the numbers changed since" in text and "Two of us read it." in text


def test_the_page_is_used_by_keyboard_alone(browser: Browser, serving: str) -> None:
    """Choose the first explanation with the space bar, save, and read it back."""
    context = browser.new_context(viewport={"width": 320, "height": 640}, base_url=serving)
    who = to_cookie(Who(person="person/P010", role=Role.CLERK))
    context.add_cookies([{"name": WHO_COOKIE, "value": who, "url": serving}])
    page = context.new_page()
    page.goto("/site/S36/explanations?day=2028-11-07")
    page.focus("#explanation-first")
    page.keyboard.press("Space")
    page.focus("#own")
    page.keyboard.type("Read again by two people")
    page.keyboard.press("Tab")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert page.locator("text=holds for the numbers as they are").count() == 1
    assert page.locator("text=Read again by two people").count() == 1
    context.close()
