"""Phone-in and Not heard from as pages: nothing before the read-back, who said it, sites alike, roles."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest
from tests.once import copied
from tests.web.conftest import App, issue_all

from pollstead.election.instants import parse_hasty_clock
from pollstead.election.rules import CountyRules, RuleSetting
from pollstead.intake.folder import read_folder
from pollstead.record.kinds.days import SerialSeen
from pollstead.show.web.capabilities import Role
from pollstead.show.web.phone_call import count_lines, step_choices
from pollstead.show.web.phone_sites import site_meant
from pollstead.show.web.who import Who

DAY = "2028-11-07"
EARLY_MS = 1_857_207_600_000 + 20 * 60_000  # 06:20 on election day in New York


@pytest.fixture(scope="module")
def morning(planned: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[App]:
    """The small county at 06:20 on election day, lists issued; each test has a site of its own."""
    app = App(copied(planned, tmp_path_factory.mktemp("morning") / "county"))
    issue_all(app.folder)
    app.folder.clock = lambda: EARLY_MS
    yield app
    app.folder.close()


def call(client: Any, do: str, **fields: str) -> Any:
    """One form of a call."""
    return client.post("/phone", data={"day": DAY, "do": do, **fields})


def readings(app: App, kind: str, site: str) -> list[Any]:
    """The standing readings of a kind at a site."""
    return [
        reading
        for fact in app.folder.fold().named(kind)
        for reading in fact.current
        if reading.site == f"site/{site}"
    ]


def plain(page: str) -> str:
    """A page's words."""
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())


def test_nothing_is_written_before_they_said_yes_and_then_once(morning: App) -> None:
    """Read back, gone back with everything kept, said yes; the same form again writes nothing."""
    client = morning.client(Role.HELPER, "person/P012")
    form = {"site": "S01", "step": "opened", "caller": "ida", "at": "702", "count-1": "0", "count-2": "3"}
    before = morning.folder.store.events.count()
    back = call(client, "read", **form)
    words = plain(back.text)
    assert "Read this back:" in words and "S01 Ansel Civic Hall" in words and "07:02" in words
    assert "From Ida Fenwright" in words and "This time is later than now" in words
    kept = call(client, "otherwise", **form)
    assert 'value="702"' in kept.text and 'value="ida"' in kept.text and 'value="3"' in kept.text
    assert morning.folder.store.events.count() == before
    assert call(client, "yes", **form).status_code == 303
    assert call(client, "yes", **form).status_code == 303
    assert morning.folder.store.events.count() == before + 3
    (opened,) = readings(morning, "site.opened", "S01")
    assert [(p.person, p.part.value) for p in opened.people] == [
        ("person/P012", "author"),
        ("person/P001", "giver"),
    ]
    assert opened.by_phone == "read_back" and opened.value["at_min"] == 422
    assert sorted(r.value["value"] for r in readings(morning, "count.read", "S01")) == [0, 3]
    for address in (f"/day?day={DAY}", f"/site/S01/opening?day={DAY}", f"/entry/{opened.event}"):
        assert "by phone from Ida Fenwright" in plain(client.get(address).text), address
    assert "by phone from" not in plain(morning.client(Role.READER).get(f"/day?day={DAY}").text)


def test_no_expected_number_shows_on_the_page_of_calls(morning: App) -> None:
    """Neither the form nor the read-back holds a seal, a lifetime counter or the word expected."""
    client = morning.client(Role.HELPER, "person/P012")
    page = client.get("/phone?site=S02&step=opened").text
    lists = morning.folder.kept_reports.issued_in(morning.folder.fold()).lists
    numbers = {i.value for one in lists for i in one.items if i.what == "seal" and len(i.value) > 4}
    assert numbers and not any(number in page for number in numbers)
    assert "Expected" not in plain(page)


def test_every_fault_is_named_at_once_and_what_was_typed_stays(morning: App) -> None:
    """An unknown caller, no time, letters for a number: each at its field; blank counters only when said."""
    client = morning.client(Role.HELPER, "person/P012")
    form = {"site": "S01", "step": "opened", "caller": "Nobody Known", "at": "soon", "count-1": "x"}
    answer = call(client, "read", **form)
    assert answer.status_code == 422
    assert set(re.findall(r'href="#([a-z0-9-]+)"', answer.text)) >= {"caller", "at", "count-1", "count-2"}
    assert 'value="Nobody Known"' in answer.text and 'name="new_caller"' in answer.text
    good = call(
        client, "read", site="S01", step="opened", caller="Nobody Known", new_caller="yes", at="0702",
        partial="yes",
    )  # fmt: skip
    assert good.status_code == 200 and "No counter was told." in plain(good.text)
    assert "somebody else than you" in plain(
        call(client, "read", site="S01", step="crew_inside", caller="P012", at="0540").text
    )


def test_a_new_name_becomes_a_person_without_standing_in_a_signed_field(morning: App) -> None:
    """The caller of no table gets an id; the name is in the private part of an event."""
    client = morning.client(Role.HELPER, "person/P012")
    form = {"site": "S02", "step": "crew_inside", "caller": "Orla Fenn", "new_caller": "yes", "at": "0610"}
    assert call(client, "yes", **form).status_code == 303
    (told,) = readings(morning, "site.heard", "S02")
    assert told.people[1].person.startswith("person/desk-")
    assert all(b"Orla" not in signed.event.to_bytes() for signed in morning.folder.store.events.all())
    assert "by phone from Orla Fenn" in plain(client.get("/heard").text)


def test_a_phoned_step_is_corrected_by_the_page_of_corrections(morning: App) -> None:
    """Crew inside told wrong: the right minute stands, both are kept."""
    client = morning.client(Role.HELPER, "person/P012")
    call(client, "yes", site="S02", step="ready_to_open", caller="wren", at="0640")
    (told,) = readings(morning, "site.heard", "S02")[-1:]
    form = {"right": "06:35", "reason": "heard wrong"}
    told = next(r for r in readings(morning, "site.heard", "S02") if r.value["at_min"] == 400)
    assert client.post(f"/entry/{told.event}", data=form).status_code == 303
    assert 395 in {r.value["at_min"] for r in readings(morning, "site.heard", "S02")}


def test_a_call_without_answer_is_written_moves_on_to_the_next_and_is_taken_back(morning: App) -> None:
    """S36 is silent: lead tried, the deputy is next; taken back, the lead is again."""
    client = morning.client(Role.HELPER, "person/P012")

    def first() -> str:
        page = client.get("/heard").text
        row = page[page.index('id="silent-S36"') :]
        return re.search(r'<option value="([^"]+)"', row)[1]  # type: ignore[index]

    assert first() == "P005"
    form = {"day": DAY, "site": "S36", "person": "P005", "result": "no_answer"}
    where = client.post("/heard", data=form).headers["location"]
    page = client.get(where).text
    assert "The call is written down." in page and "nobody answered" in page
    assert first() == "P006"
    event = re.search(r'name="events" value="([^"]+)"', page)[1]  # type: ignore[index]
    assert "undone=1" in client.post("/heard", data={"do": "undo", "events": event}).headers["location"]
    assert first() == "P005"
    assert client.post("/heard", data={**form, "person": "P001"}).status_code == 409


def test_a_step_that_is_not_asked_for_is_never_taken_for_another(morning: App) -> None:
    """A form of a count that the rules do not ask for any more writes nothing."""
    client = morning.client(Role.HELPER, "person/P012")
    before = morning.folder.store.events.count()
    answer = call(client, "yes", site="S01", step="count-1500", caller="ida", at="0702")
    assert answer.status_code == 409 and morning.folder.store.events.count() == before


def test_names_and_phones_are_shown_by_need(morning: App) -> None:
    """A reader sees neither, a site lead names alone, a helper both; only a helper may phone in."""
    pages = {role: morning.client(role).get("/heard").text for role in Role}
    assert "Sunniva Hale" in pages[Role.HELPER] and "555-0114" in pages[Role.HELPER]
    assert "Sunniva Hale" in pages[Role.SITE_LEAD] and "555-0114" not in pages[Role.SITE_LEAD]
    assert "Sunniva Hale" not in pages[Role.READER] and "555-0114" not in pages[Role.READER]
    assert "second opener" not in pages[Role.CLERK] and "second opener" in pages[Role.HELPER]
    assert morning.client(Role.COORDINATOR).get("/phone").status_code == 403
    assert morning.client(Role.READER).post("/heard", data={}).status_code == 403


def test_the_list_of_an_earlier_moment_is_shown_and_takes_nothing(morning: App) -> None:
    """At 06:10 nothing is overdue; at 07:25 minutes run since the due opening; no button at either."""
    client = morning.client(Role.HELPER, "person/P012")
    assert "No expected call is overdue." in plain(client.get("/heard?at=2028-11-07T06:10").text)
    late = client.get("/heard?at=2028-11-07T07:25&area=Quarry+Line").text
    assert "25 minutes since the due opening" in plain(late) and "S01" not in plain(late)
    assert 'name="result"' not in late and "hx-get" not in late
    assert client.get("/heard?at=soon").status_code == 400


@pytest.mark.parametrize(
    ("typed", "site", "others"),
    [
        ("s01", "S01", ()),
        ("1", "S01", ()),
        ("ansel", "S01", ()),
        ("Ansel Civc Hal", "S01", ()),
        ("library", None, ("S02", "S36")),
        ("99", None, ()),
    ],
)
def test_a_site_is_meant_by_id_number_name_or_a_slip_of_it(
    morning: App, typed: str, site: str | None, others: tuple[str, ...]
) -> None:
    """What fits several sites is never taken for one."""
    election = morning.folder.election()
    assert election is not None
    meant = site_meant(election, (s.id for s in election.sites), typed)
    assert (meant.site.id if meant.site else None) == site
    assert tuple(one.id for one in meant.others) == others


def test_sites_that_sound_alike_are_warned_of(morning: App) -> None:
    """Mill Road Hall and School: by number the warning stands, by a part of the name both are offered."""
    election = morning.folder.election()
    assert election is not None
    names = {"S01": "Mill Road Hall", "S02": "Mill Road School"}
    sites = tuple(msgspec.structs.replace(s, name=names.get(s.id, s.name)) for s in election.sites)
    county = msgspec.structs.replace(election, sites=sites)
    by_number = site_meant(county, names, "1")
    assert by_number.site is not None and [s.id for s in by_number.others] == ["S02"]
    by_name = site_meant(county, names, "mill road")
    assert by_name.site is None and [s.id for s in by_name.others] == ["S01", "S02"]


def test_counters_are_asked_for_as_the_countys_rule_says(planned: Path) -> None:
    """Each device, one total, or none; a count of the hour asks for a number in any case."""
    election = read_folder(planned).election
    assert election is not None
    from pollstead.cli.standing import standing_of

    version = standing_of(planned)[0]
    assert version is not None
    plan = version.site("S01")
    hours = next(h for h in election.site("S01").hours if h.date.isoformat() == DAY)

    def asked(how: str, key: str) -> list[tuple[str, str]]:
        settings = (
            RuleSetting(rule="heard-counters", value=how),
            RuleSetting(rule="heard-counts", value="noon"),
        )
        county = msgspec.structs.replace(election, rules=CountyRules(settings=settings))
        from pollstead.reconcile.heard.steps import expected_calls

        choices = step_choices(expected_calls(hours, county.rules))
        choice = next(one for one in choices if one.key == key)
        return [(line.subject, line.detail) for line in count_lines(choice, plan, None, county)]

    assert [term for _, term in asked("each device", "opened")] == ["public_counter_open"] * 2
    assert asked("one total", "closed") == [("site/S01", "public_counters_close")]
    assert asked("none", "opened") == [] and asked("each device", "crew_inside") == []
    assert asked("none", "count-1200") == [("site/S01", "public_counters_at_1200")]


def test_a_noon_count_is_phoned_in_and_heard(morning: App, monkeypatch: pytest.MonkeyPatch) -> None:
    """Noon counts as one total: no time is asked, the number is a reading of 12:00."""
    from pollstead.show.web import heard_view

    def with_rules(ask: Any, days: Any) -> Any:
        settings = (
            RuleSetting(rule="heard-counts", value="noon"),
            RuleSetting(rule="heard-counters", value="one total"),
        )
        return msgspec.structs.replace(days.election, rules=CountyRules(settings=settings))

    monkeypatch.setattr(heard_view, "present_election", with_rules)
    client = morning.client(Role.HELPER, "person/P012")
    assert 'id="at"' not in client.get("/phone?site=S36&step=count-1200").text
    form = {"site": "S36", "step": "count-1200", "caller": "sunniva", "count-1": "417"}
    assert "417" in plain(call(client, "read", **form).text)
    assert call(client, "yes", **form).status_code == 303
    (told,) = readings(morning, "count.read", "S36")
    assert told.value["value"] == 417 and told.by_phone == "read_back"
    assert "count of the hour 12:00" in plain(client.get("/heard?at=2028-11-07T12:40").text)


@pytest.mark.parametrize(("typed", "minute"), [("702", 422), ("0702", 422), ("07:02", 422), ("2440", 1480)])
def test_a_time_is_typed_with_or_without_its_colon(typed: str, minute: int) -> None:
    """Three or four digits; past midnight counts on."""
    assert parse_hasty_clock(typed) == minute


@pytest.mark.parametrize("typed", ["", "7", "07:2", "0762", "4900", "soon"])
def test_what_is_no_time_is_refused(typed: str) -> None:
    """Never guessed at."""
    with pytest.raises(ValueError, match="time"):
        parse_hasty_clock(typed)


def test_the_command_prints_ids_as_documented_and_no_name_or_phone(
    morning: App, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Fields and types of docs/formats/json.md; the words name whom to call by id."""
    monkeypatch.syspath_prepend(str(Path(__file__).resolve().parents[2] / "docs" / "tools"))
    import json_fields
    from pollstead.cli.main import run

    folder = str(morning.folder.path)
    client = morning.client(Role.HELPER, "person/P012")
    client.post("/heard", data={"day": DAY, "site": "S02", "person": "P003", "result": "no_answer"})
    assert run(["heard", folder, "--at", f"{DAY}T07:30", "--json"]) == 0
    printed = capsys.readouterr().out
    assert "Sunniva" not in printed and "555-" not in printed
    shown = json.loads(printed[: printed.rindex("}") + 1])
    assert json_fields.differences(shown, json_fields.documented()["heard FOLDER"]) == []
    assert run(["heard", folder, "--at", f"{DAY}T07:30"]) == 0
    said = capsys.readouterr().out
    assert "P004 (deputy lead)" in said and "Minutes since the due opening: 30" in said


def test_whoever_entered_many_numbers_is_named_once_as_inside(morning: App) -> None:
    """Each number entered at a site says that somebody is inside; once said is enough."""
    folder, site = morning.folder, "S36"
    for device in ("device/scanner/0005", "device/scanner/0006"):
        for value in ("LM-S-0005", "LM-S-0006"):
            who = Who(person="person/P006", role=Role.SITE_LEAD)
            folder.write(SerialSeen(serial=value), who=who, subject=device, site=f"site/{site}", day=DAY)
    words = plain(morning.client(Role.HELPER, "person/P012").get(f"/phone?site={site}&day={DAY}").text)
    assert words.count("crew inside entered by Jory Quillfeather") == 1
