"""Independent entry: what each person types, what they may see, and how a difference is shown."""

from __future__ import annotations

import datetime as dt
import html
import re
from collections import Counter
from typing import Any

import pytest

from pollstead.reconcile.observed import observations_of
from pollstead.reconcile.opening.states import ItemState
from pollstead.show.web.capabilities import Role
from pollstead.show.web.day import days_now, issued
from pollstead.show.web.open_folder import OpenFolder
from pollstead.show.web.readings import Asked, Line, closing_lines, opening_lines

pytestmark = pytest.mark.full

DAY = dt.date(2028, 11, 7)
IDA, TOBIN = "person/P001", "person/P002"


def lines_of(app: Any, site: str, *, opening: bool) -> tuple[Line, ...]:
    """The lines of a site's page now."""
    day, election = days_now(app.folder).site(site, DAY), app.folder.election()
    return opening_lines(day, election) if opening else closing_lines(day, election)


def answers(line: Line, *, wrong: bool = False) -> dict[str, str]:
    """What a person types on a line: what is expected, or something that is not."""
    expected = "" if wrong or not line.items else line.items[0].expected
    if line.ask is Asked.SEAL:
        return {f"{line.id}-number": expected or "LM777", f"{line.id}-state": "intact"}
    if line.ask is Asked.CLOCK:
        lead = next(int(r.item.value) for r in line.items if r.item.what == "clock")
        device = f"05:{41 + lead}" if not wrong else "06:41"
        return {f"{line.id}-device": device, f"{line.id}-reference": "541", f"{line.id}-date": "2028-11-07"}
    typed = {
        Asked.SERIAL: expected or "LM-X-9",
        Asked.SEAL_IN_PLACE: "intact",
        Asked.COUNT: expected or "7",
        Asked.REPORT: "printed",
        Asked.PACKED: "in_case",
    }
    return {line.id: typed[line.ask]}


def form(app: Any, site: str, person: str, *, opening: bool, wrong: str = "") -> dict[str, str]:
    """A whole form for what `person` has still to read; the line of field `wrong` differs."""
    typed = {"do": "readings", "day": DAY.isoformat(), "list": issued(app.folder).event_of(site, DAY)}
    for line in lines_of(app, site, opening=opening):
        if line.open_for(person):
            typed.update(answers(line, wrong=line.id == wrong))
    return typed


def enter(app: Any, site: str, person: str, *, opening: bool, wrong: str = "", **more: str) -> Any:
    """Send the form under a person's name."""
    page = "opening" if opening else "closing"
    with app.client(Role.SITE_LEAD, person) as client:
        typed = form(app, site, person, opening=opening, wrong=wrong) | more
        return client.post(f"/site/{site}/{page}", data=typed)


def first(lines: tuple[Line, ...], asked: Asked) -> Line:
    """The first line of a sort."""
    return next(line for line in lines if line.ask is asked and line.second_person)


@pytest.mark.parametrize("site", ["S01", "S02", "S36"])
def test_two_people_who_read_what_is_expected_match_on_every_line(
    issued_app: Any, site: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After both entries each compared line is matched, or unknown where nothing was expected.

    However many entries the page names people of, their names are read once.
    """
    for person in (IDA, TOBIN):
        answer = enter(issued_app, site, person, opening=True)
        assert answer.status_code == 303, re.findall(r'href="#line[^<]*', answer.text)[:3]
    lines = lines_of(issued_app, site, opening=True)
    assert all(line.complete for line in lines)
    states = {result.state for line in lines for result in line.items}
    assert ItemState.MATCH in states
    assert states <= {ItemState.MATCH, ItemState.UNKNOWN}
    asked: list[None] = []
    people = OpenFolder.people
    monkeypatch.setattr(OpenFolder, "people", lambda folder: asked.append(None) or people(folder))
    client = issued_app.client(Role.HELPER, TOBIN)
    page = client.get(f"/site/{site}/opening?day={DAY.isoformat()}").text
    assert page.count("Tobin") > 1 and len(asked) == 1


def test_the_expected_number_shows_only_after_both_have_entered(issued_app: Any) -> None:
    """Between the entries neither person sees the expected number or the other's on any page of theirs."""
    line = first(lines_of(issued_app, "S01", opening=True), Asked.SEAL)
    expected = line.items[0].expected
    assert expected
    assert enter(issued_app, "S01", IDA, opening=True, wrong=line.id).status_code == 303
    pages = (
        "/",
        "/site/S01",
        "/site/S01/opening",
        "/site/S01/expected",
        "/open",
        "/open?site=S01",
        "/day",
        "/ready",
    )
    for person, own in ((IDA, True), (TOBIN, False)):
        with issued_app.client(Role.SITE_LEAD, person) as client:
            for page in pages:
                text = client.get(page).text
                assert expected not in text, page
                assert own or "LM777" not in text, page
    assert enter(issued_app, "S01", TOBIN, opening=True, wrong=line.id).status_code == 303
    with issued_app.client(Role.SITE_LEAD, TOBIN) as client:
        shown = client.get("/site/S01/opening").text
    assert expected in shown and "LM777" in shown and "value differs" in shown


def test_what_a_wrong_number_may_be_shows_after_both_and_names_nothing_still_to_be_read(
    issued_app: Any,
) -> None:
    """The second person is asked to read again whatever the first one typed; then the slip is told, and a
    closure whose number was read in the wrong place only once its own line is done. What is open says the
    same, with the site."""
    lines = [line for line in lines_of(issued_app, "S01", opening=True) if line.ask is Asked.SEAL]
    slipped, swapped, unread = lines[:3]
    right = slipped.items[0].expected
    typed = {
        f"{slipped.id}-number": right[0] + "1" + right[2:],
        f"{swapped.id}-number": unread.items[0].expected,
        f"{unread.id}-number": "",
        f"{unread.id}-state": "",
        "partial": "yes",
    }
    again = "Read each again from the thing itself."
    with issued_app.client(Role.SITE_LEAD, TOBIN) as client:
        assert again not in client.get("/site/S01/opening").text
        assert enter(issued_app, "S01", IDA, opening=True, **typed).status_code == 303
        before = client.get("/site/S01/opening").text
        assert again in before and "Possible explanation" not in before
        assert "Possible explanation" not in client.get("/open?site=S01").text
        assert enter(issued_app, "S01", TOBIN, opening=True, **typed).status_code == 303
        after = re.sub(r"<[^>]+>", "", client.get("/site/S01/opening").text)
    assert "One digit differs at position 2: 0 read as 1." in after
    assert "More is said here once the other lines are entered." in after
    assert "It belongs to" not in after
    with issued_app.client(Role.COORDINATOR) as client:
        office = re.sub(r"<[^>]+>", "", client.get("/site/S01/opening").text)
        slips = client.get("/open?site=S01").text.split('<section class="slip">')
        (slip,) = (one for one in slips if f">{slipped.subject}<" in one)
        decide = client.get(re.search(r'href="(/open/resolve[^"]+)"', slip)[1]).text
    assert f"It belongs to {unread.words}" in office
    for text in (slip, decide):
        assert "One digit differs at position 2: 0 read as 1." in re.sub(r"<[^>]+>", "", text)
        assert "Ansel Civic Hall" in text


def test_a_difference_shows_the_countys_word_and_who_decides(issued_app: Any) -> None:
    """A wrong clock: this device out of service, the others go on, call; and who decides."""
    line = first(lines_of(issued_app, "S01", opening=True), Asked.CLOCK)
    for person in (IDA, TOBIN):
        enter(issued_app, "S01", person, opening=True, wrong=line.id)
    with issued_app.client(Role.SITE_LEAD, IDA) as client:
        text = client.get("/site/S01/opening").text
    assert "is out of service. The others go on. Call the support contact." in re.sub(r"<[^>]+>", "", text)
    assert "Decided by:" in text


def test_nobody_is_asked_for_a_memory_device_behind_a_seal_that_stays_on(issued_app: Any) -> None:
    """The opening sheet of a scanner has no line for it, so the page has none; its id stays expected."""
    lines = lines_of(issued_app, "S01", opening=True)
    results = days_now(issued_app.folder).site("S01", DAY).results
    assert any(r.what == "memory device" for r in results)
    assert not any(item.what == "memory device" for line in lines for item in line.items)


def test_one_person_cannot_be_both(issued_app: Any) -> None:
    """Whoever has entered a line is offered it no more, and a second sending records nothing."""
    before = form(issued_app, "S01", IDA, opening=True)
    with issued_app.client(Role.SITE_LEAD, IDA) as client:
        assert client.post("/site/S01/opening", data=before).status_code == 303
        count = issued_app.folder.store.events.count()
        client.post("/site/S01/opening", data=before)
        assert issued_app.folder.store.events.count() == count
        text = client.get("/site/S01/opening").text
    assert "Still to read" not in text and "waiting for the second person" in text


def test_what_does_not_fit_is_named_and_what_was_typed_is_kept(issued_app: Any) -> None:
    """A summary counts and links the faults, the values stay, and nothing is recorded."""
    lines = lines_of(issued_app, "S01", opening=True)
    count, seal = first(lines, Asked.COUNT), first(lines, Asked.SEAL)
    events = issued_app.folder.store.events.count()
    answer = enter(
        issued_app, "S01", IDA, opening=True, **{count.id: "12a", f"{seal.id}-number": "no number!"}
    )
    assert answer.status_code == 422
    for wanted in (f'href="#{count.id}"', f'href="#{seal.id}-number"', 'value="12a"', 'value="no number!"'):
        assert wanted in answer.text
    assert 'tabindex="-1" autofocus' in answer.text and 'aria-invalid="true"' in answer.text
    assert issued_app.folder.store.events.count() == events


def test_empty_lines_are_asked_about_once(issued_app: Any) -> None:
    """Empty lines are faults until the person says that they stay empty; then the rest is saved."""
    serial = first(lines_of(issued_app, "S01", opening=True), Asked.SERIAL)
    typed = {"do": "readings", "day": DAY.isoformat(), "list": issued(issued_app.folder).event_of("S01", DAY)}
    typed[serial.id] = "LM-X-1"
    with issued_app.client(Role.SITE_LEAD, IDA) as client:
        refused = client.post("/site/S01/opening", data=typed)
        assert refused.status_code == 422 and 'name="partial"' in refused.text
        taken = client.post("/site/S01/opening", data=typed | {"partial": "yes"})
        assert taken.status_code == 303
        nothing = client.post(
            "/site/S01/opening", data={k: v for k, v in typed.items() if k != serial.id} | {"partial": "yes"}
        )
        assert nothing.status_code == 422
    assert [line.id for line in lines_of(issued_app, "S01", opening=True) if line.people] == [serial.id]


def test_a_seal_counts_as_intact_only_when_somebody_says_so(issued_app: Any) -> None:
    """A number without a word on how the seal is does not pass: nothing is done by default."""
    seal = first(lines_of(issued_app, "S01", opening=True), Asked.SEAL)
    answer = enter(issued_app, "S01", IDA, opening=True, **{f"{seal.id}-state": ""})
    assert answer.status_code == 422 and f'href="#{seal.id}-state"' in answer.text


def test_a_list_that_changed_meanwhile_takes_nothing(issued_app: Any) -> None:
    """A form made for another expected list is refused in words, with nothing saved."""
    events = issued_app.folder.store.events.count()
    answer = enter(issued_app, "S01", IDA, opening=True, list="0" * 64)
    assert answer.status_code == 409 and "changed while you were typing" in answer.text
    assert issued_app.folder.store.events.count() == events


def test_a_correction_stands_beside_the_first_entry(issued_app: Any) -> None:
    """A correction with a reason replaces the reading; the first stays in the record, the reason private."""
    line = first(lines_of(issued_app, "S01", opening=True), Asked.SERIAL)
    right = line.items[0].expected
    enter(issued_app, "S01", IDA, opening=True, **{line.id: "LM-WRONG"})
    wrong = next(o for o in observations_of(issued_app.folder.fold()) if o.value == "LM-WRONG")
    with issued_app.client(Role.SITE_LEAD, IDA) as client:
        assert "LM-WRONG" in client.get(f"/entry/{wrong.event}").text
        no_reason = client.post(f"/entry/{wrong.event}", data={"right": right})
        assert no_reason.status_code == 422 and f'value="{right}"' in no_reason.text
        done = client.post(f"/entry/{wrong.event}", data={"right": right, "reason": "Read the cart's tag"})
        assert done.status_code == 303
        assert client.get(f"/entry/{wrong.event}").status_code == 409
    seen = [o for o in observations_of(issued_app.folder.fold()) if o.subject == wrong.subject]
    assert [(o.value, o.stands) for o in seen] == [("LM-WRONG", False), (right, True)]
    assert all(b"cart's tag" not in signed.data for signed in issued_app.folder.store.events.all())


def test_nobody_opens_anothers_entry_before_having_read_the_line(issued_app: Any) -> None:
    """The page that corrects an entry shows it to its author alone until the line is finished."""
    enter(issued_app, "S01", IDA, opening=True)
    line = first(lines_of(issued_app, "S01", opening=True), Asked.SERIAL)
    event, typed = line.standing[0].event, line.standing[0].value
    with issued_app.client(Role.SITE_LEAD, TOBIN) as client:
        refused = client.get(f"/entry/{event}")
        assert refused.status_code == 403 and typed not in refused.text
    with issued_app.client(Role.SITE_LEAD, IDA) as client:
        assert client.get(f"/entry/{event}").status_code == 200
    enter(issued_app, "S01", TOBIN, opening=True)
    with issued_app.client(Role.SITE_LEAD, TOBIN) as client:
        assert client.get(f"/entry/{event}").status_code == 200


def test_an_entry_can_be_withdrawn(issued_app: Any) -> None:
    """Withdrawing leaves the line not seen, and the person may read it again."""
    line = first(lines_of(issued_app, "S01", opening=True), Asked.SEAL)
    enter(issued_app, "S01", IDA, opening=True)
    seen = next(
        line_.standing[0] for line_ in lines_of(issued_app, "S01", opening=True) if line_.id == line.id
    )
    with issued_app.client(Role.SITE_LEAD, IDA) as client:
        answer = client.post(f"/entry/{seen.event}", data={"withdraw": "yes", "reason": "Wrong case"})
    assert answer.status_code == 303
    again = next(line_ for line_ in lines_of(issued_app, "S01", opening=True) if line_.id == line.id)
    assert again.people == () and again.open_for(IDA)


def test_the_minute_of_opening_is_written_down_once_and_corrected(issued_app: Any) -> None:
    """The doors' minute is an entry like others; a text that is no time is refused and kept."""
    with issued_app.client(Role.SITE_LEAD, IDA) as client:
        form_ = {"do": "minute", "day": DAY.isoformat(), "at": "7 o'clock"}
        refused = client.post("/site/S01/opening", data=form_)
        assert refused.status_code == 422 and 'href="#at"' in refused.text
        assert client.post("/site/S01/opening", data=form_ | {"at": "07:03"}).status_code == 303
        assert "07:03" in client.get("/site/S01/opening").text
        seen = days_now(issued_app.folder).site("S01", DAY).opened.observations[0]
        fixed = client.post(f"/entry/{seen.event}", data={"right": "07:01", "reason": "Looked at the log"})
        assert fixed.status_code == 303
    assert days_now(issued_app.folder).site("S01", DAY).opened.values == (421,)


def test_closing_counts_enter_the_balance_after_both(issued_app: Any) -> None:
    """The balance is shown once every count was entered by as many people as must, with its differences."""
    enter(issued_app, "S01", IDA, opening=True)
    enter(issued_app, "S01", TOBIN, opening=True)
    enter(issued_app, "S01", IDA, opening=False)
    with issued_app.client(Role.SITE_LEAD, TOBIN) as client:
        assert "Do the numbers add up?" not in client.get("/site/S01/closing").text
    assert enter(issued_app, "S01", TOBIN, opening=False).status_code == 303
    with issued_app.client(Role.SITE_LEAD, TOBIN) as client:
        text = client.get("/site/S01/closing").text
    assert "Do the numbers add up?" in text and "difference of" in text
    assert all(line.complete for line in lines_of(issued_app, "S01", opening=False))


def test_readings_are_events_by_their_person_on_the_day(issued_app: Any) -> None:
    """Each reading is one event: author, site, day; the seal's number in its private part alone."""
    seal = first(lines_of(issued_app, "S01", opening=True), Asked.SEAL)
    number = seal.items[0].expected
    enter(issued_app, "S01", IDA, opening=True)
    found = [s for s in issued_app.folder.store.events.all() if s.event.kind.startswith(("seen.", "count."))]
    assert len(found) == len(lines_of(issued_app, "S01", opening=True))
    assert {s.event.site for s in found} == {"site/S01"} and {s.event.day for s in found} == {"2028-11-07"}
    assert {s.event.author.person for s in found} == {IDA}
    assert {s.event.author.means.value for s in found} == {"name_only"}
    assert all(number.encode() not in s.data for s in found)


MOST_VIEWS = 12


@pytest.mark.begins_first
def test_every_link_on_every_page_opens(issued_app: Any) -> None:
    """From the first page on, each address that a page names gives a page, and each "#" its place there."""
    wrong = first(lines_of(issued_app, "S01", opening=True), Asked.SEAL).id
    for person in (IDA, TOBIN):
        assert enter(issued_app, "S01", person, opening=True, wrong=wrong).status_code == 303
    todo, seen, views = ["/"], {"/"}, Counter[tuple[str, ...]]()
    pages: dict[str, str] = {}
    with issued_app.client(Role.HELPER) as client:
        while todo:
            address = todo.pop()
            answer = client.get(address)
            assert answer.status_code in (200, 303), address
            if not answer.headers["content-type"].startswith("text/html"):
                continue
            pages[address] = answer.text
            for found in re.findall(r'href="([^"]*)"', answer.text):
                link = html.unescape(found)
                if link.startswith("#"):
                    assert f'id="{link[1:]}"' in answer.text, (address, link)
                    continue
                link = address.partition("?")[0] + link if link.startswith("?") else link
                assert link.startswith("/"), (address, link)
                assert link.count("?") <= 1, (address, link)
                # Every page names itself in the link that changes the name: one of those is enough.
                # What one address shows of many things (reasons, views of the map) is looked at a few times.
                if link not in seen and not (link.startswith("/who?") and "/who?next=/" in seen):
                    seen.add(link)
                    shape = link.partition("?")[0], *re.findall(r"[?&](\w+)=", link)
                    views[shape] += 1
                    if len(shape) == 1 or views[shape] <= MOST_VIEWS:
                        todo.append(link)
    assert "/open?site=S01" in pages["/"]
    assert {"/site/S01/opening?day=2028-11-07", "/site/S36", "/open?site=S01"} <= pages.keys()
