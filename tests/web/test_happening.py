"""What goes wrong, what runs out, which orders hold: the pages by way of their forms, and their papers."""

from __future__ import annotations

import html
import itertools
import json
import re
from pathlib import Path
from typing import Any

import pytest

from pollstead.election.station_type import VoterStep
from pollstead.show.cautions import BY_ID
from pollstead.show.web.capabilities import Role

DAY = "2028-11-07"


def seen(client: Any, address: str) -> str:
    """The words of a page."""
    answer = client.get(address if "?" in address or "/site/" in address else f"{address}?day={DAY}")
    assert answer.status_code == 200, answer.text
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", "", answer.text)))


def send(client: Any, address: str, **fields: str) -> str:
    """Post a form and give the address that it leads to."""
    answer = client.post(address, data={"day": DAY, **{k.replace("_", "-"): v for k, v in fields.items()}})
    assert answer.status_code == 303, re.sub(r"<[^>]+>", " ", answer.text)
    return str(answer.headers["location"])


def incident(client: Any, site: str, what: str = "printer_unreadable", at: str = "09:00", **more: str) -> str:
    """Write an incident down."""
    fields = {"i_site": site, "i_what": what, "i_at": at, "i_service": "goes_on", **more}
    return send(client, "/incidents", do="report", **fields)


def scanner_of(app: Any, site: str = "S01") -> Any:
    """A counting device of a site: id and serial."""
    plan = next(p for p in app.folder.current().sites if p.site == site)
    election = app.folder.election()
    for station in plan.stations:
        kind = election.station_type(station.station_type)
        for part in station.parts:
            casts = kind.step in (VoterStep.CAST, VoterStep.MARK_AND_CAST) and kind.counter("public")
            if part.by_serial and part.device and casts:
                return next(d for d in election.devices if d.id == part.device)
    raise AssertionError("no scanner")


def test_three_sites_in_minutes_are_told_and_a_second_call_is_joined(issued_app: Any) -> None:
    """One line writes it down, the same one is offered, a burst stands on top, the end takes a time."""
    with issued_app.client(Role.HELPER) as client:
        incident(client, "S01", i_words="grey lines", i_caller="Ann")
        after = incident(client, "S01", at="09:05")
        page = seen(client, after)
        assert "Number 2 is written down." in page and "Is it the same as number 1?" in page
        send(client, "/incidents", do="join", no=f"incident/{DAY}/2", into=f"incident/{DAY}/1")
        incident(client, "S02", at="09:06")
        incident(client, "S36", at="09:10")
        page = seen(client, "/incidents")
        assert "3 sites in 10 minutes: printer output unreadable" in page and "advice only" in page
        assert "the same as number 1" in page and "3 incidents go on." in page and "Ann: grey lines" in page
        send(client, "/incidents", do="end", no=f"incident/{DAY}/1", at="09:30")
        assert "2 incidents go on." in seen(client, "/day")
    with issued_app.client(Role.READER) as client:
        page = seen(client, "/incidents")
        assert "grey lines" not in page and "Ann:" not in page
        assert client.get("/incidents/paper").status_code == 403


def test_what_was_written_by_mistake_is_undone_and_stays_in_the_record(issued_app: Any) -> None:
    """Undo is a correction event; somebody else needs a reason."""
    with issued_app.client(Role.HELPER) as client:
        address = incident(client, "S01")
        event = address.rpartition("undo=")[2]
        with issued_app.client(Role.CLERK, "person/P011") as other:
            refused = other.post("/incidents", data={"day": DAY, "do": "undo", "event": event})
            assert refused.status_code == 409
        send(client, "/incidents", do="undo", event=event)
        assert "Nothing was told to have gone wrong" in seen(client, "/incidents")
    kinds = [signed.event.kind for signed in issued_app.folder.store.events.all()]
    assert kinds[-2:] == ["incident.reported", "entry.corrected"]


def test_a_form_that_does_not_fit_says_what_is_wanted_and_keeps_what_was_typed(issued_app: Any) -> None:
    """Everything that is wrong at once; nothing is written."""
    before = len(list(issued_app.folder.store.events.all()))
    with issued_app.client(Role.HELPER) as client:
        answer = client.post(
            "/incidents",
            data={"day": DAY, "do": "report", "i-at": "soon", "i-device": "LM-X", "i-words": "abc"},
        )
    assert answer.status_code == 422 and 'value="abc"' in answer.text
    assert "4 things need another look" in re.sub(r"<[^>]+>", "", answer.text)
    assert len(list(issued_app.folder.store.events.all())) == before


def test_from_an_incident_the_swap_is_one_step_and_both_devices_stand_at_closing(issued_app: Any) -> None:
    """The link leads to the act with its device; out of service is told on the day's page."""
    device = scanner_of(issued_app)
    with issued_app.client(Role.COORDINATOR) as client:
        incident(client, "S01", "device_down", i_device=device.serial, i_service="stopped")
        page = client.get(f"/incidents?day={DAY}").text
        (link,) = re.findall(r'href="(/change/swap-device\?old=[^"]+)"', page)
        assert client.get(link).status_code == 200 and device.serial in seen(client, link)
        send(client, "/incidents", do="service", no=f"incident/{DAY}/1", state="out")
        assert f"{device.serial} is back in service" in seen(client, "/incidents")


def test_a_jam_stands_beside_the_count_and_a_coordinator_enters_no_counter(issued_app: Any) -> None:
    """A helper writes the counters down; whoever sees expected numbers does not."""
    device = scanner_of(issued_app)
    fields = {"do": "jam", "j_device": device.serial, "j_at": "14:05", "j_before": "40", "j_after": "41"}
    with issued_app.client(Role.HELPER) as client:
        send(client, "/incidents", **fields, j_went="scanned_again")
        send(
            client, "/incidents", do="bin", b_device=device.tag or device.serial, b_at="14:20", b_ballots="2"
        )
        page = seen(client, "/incidents")
        assert "scanned again" in page and "40 – 41" in page and "ballots put in: 2" in page
        assert "Ballots in the auxiliary bin" in seen(client, f"/site/S01/closing?day={DAY}")
    with issued_app.client(Role.COORDINATOR) as client:
        data = {"day": DAY, **{k.replace("_", "-"): v for k, v in fields.items()}}
        assert client.post("/incidents", data=data).status_code == 403


def test_what_was_left_in_a_room_is_recorded_when_all_are_safe(issued_app: Any) -> None:
    """Known things by serial, others by what people call them; nothing is refused for want of a list."""
    device = scanner_of(issued_app)
    with issued_app.client(Role.HELPER) as client:
        page = seen(client, "/incidents")
        assert BY_ID["evacuation"].words in page
        send(
            client,
            "/incidents",
            do="left",
            r_site="S01",
            r_at="10:12",
            r_state="left_there",
            r_things=f"{device.serial}\nblue bag",
        )
    left = [s.event for s in issued_app.folder.store.events.all() if s.event.kind == "room.left"]
    assert [e.subject.split("/")[-1] for e in left][1] == "S01-blue-bag" and len(left) == 2


def test_an_order_is_read_back_site_by_site_and_stayed(issued_app: Any) -> None:
    """Who has not read it back comes first; closing moves out and back; the class of ballots stays."""
    give = {"do": "give", "by": "court", "source": "Case 28-1107, entry 4"}
    with issued_app.client(Role.CLERK) as client:
        send(
            client, "/orders", **give, does="extend_hours", until="21:00", sites="S01 S02", apart="held_apart"
        )
        page = seen(client, "/orders")
        assert (
            BY_ID["extended-hours"].words in page
            and "2 sites have not read it back" in page
            and "21:00" in page
        )
        order = f"order/{DAY}/1"
        send(client, "/orders", do="read-back", order=order, site="S01", said="same")
        assert "1 site has not read it back" in seen(client, "/orders")
        assert "1 order that holds is not read back everywhere." in seen(client, "/day")
        send(client, "/orders", **give, does="stay", supersedes="1", sites="S01 S02")
        page = seen(client, "/orders")
        assert "holds no longer" in page and "those cast while it held stay apart" in page
        assert "Closing as the orders say" not in page
    with issued_app.client(Role.HELPER) as client:
        assert "Ballots held apart" in seen(client, f"/site/S01/closing?day={DAY}")


@pytest.mark.full
def test_papers_are_one_page_each_with_their_cautions(issued_app: Any, tmp_path: Any) -> None:
    """The list of incidents and the slip of an order; the caution of extended hours stands on the slip."""
    import subprocess

    with issued_app.client(Role.CLERK) as client:
        for site in ("S01", "S02", "S36"):
            incident(client, site, i_words="grey lines", i_service="slower")
        give = {"do": "give", "by": "court", "source": "Case 28-1107, entry 4"}
        send(client, "/orders", **give, does="extend_hours", until="21:00", apart="provisional")
        for address, words in (
            (f"/incidents/paper?day={DAY}", BY_ID["no-voter-names"].words),
            (f"/orders/paper?day={DAY}&order=order/{DAY}/1", BY_ID["extended-hours"].words),
        ):
            answer = client.get(address)
            assert answer.status_code == 200 and answer.content.startswith(b"%PDF")
            path = tmp_path / "paper.pdf"
            path.write_bytes(answer.content)
            text = subprocess.run(
                ["pdftotext", "-layout", path, "-"], capture_output=True, text=True, check=True
            )
            assert text.stdout.count("\f") == 1
            assert words in " ".join(text.stdout.split())


def test_supplies_are_forecast_and_a_packet_is_handed_on(issued_app: Any) -> None:
    """Two tellings give a rate; a packet on its way is named with who has it and received at the site."""
    ticks = itertools.count(issued_app.folder.clock(), 60_000)
    issued_app.folder.clock = lambda: next(ticks)
    with issued_app.client(Role.HELPER) as client:
        tell = {"do": "tell", "t_site": "S01", "t_item": "ballots"}
        send(client, "/supplies", **tell, t_left="100", t_at="07:00", t_first="A-1", t_last="A-100")
        assert "no rate yet" in seen(client, "/supplies")
        send(client, "/supplies", **tell, t_left="10", t_at="09:00")
        page = seen(client, "/supplies")
        assert "1 item needs somebody now." in page and "may run out" in page and "A-1" in page
        pack = {"do": "pack", "p_site": "S01", "p_item": "ballots", "p_amount": "50", "p_carrier": "P011"}
        send(client, "/supplies", **pack)
        assert "on its way" in seen(client, "/supplies")
        send(client, "/supplies", do="received", thing=f"supply/{DAY}/1")
        assert "received" in seen(client, "/supplies")
        assert "Blank ballots brought during the day" in seen(client, f"/site/S01/closing?day={DAY}")
    with issued_app.client(Role.READER) as client:
        assert "A-100" not in seen(client, "/supplies")


def test_the_commands_print_what_the_page_of_json_says_and_nobodys_words(
    issued_app: Any, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Fields and types of docs/formats/json.md, with something in every list; no caller and no words."""
    monkeypatch.syspath_prepend(str(Path(__file__).resolve().parents[2] / "docs" / "tools"))
    import json_fields
    from pollstead.cli.main import run

    device = scanner_of(issued_app).serial
    with issued_app.client(Role.CLERK) as client:
        for site, at in (("S01", "09:00"), ("S02", "09:06"), ("S36", "09:10")):
            incident(client, site, at=at, i_words="grey lines", i_caller="Ann", i_service="stopped")
        incident(client, "S01", "device_down", "10:00", i_device=device, i_service="stopped")
        give = {"do": "give", "by": "court", "source": "Case 28-1107, entry 4"}
        send(client, "/orders", **give, does="extend_hours", until="21:00", sites="S01 S02")
        send(client, "/orders", **give, does="stay", supersedes="1", sites="S02")
    folder = str(issued_app.folder.path)
    for name in ("incidents", "orders"):
        assert run([name, folder, "--as-of", f"{DAY}T14:20", "--json"]) == 0
        printed = capsys.readouterr().out
        assert "grey" not in printed and "Ann" not in printed
        shown = json.loads(printed[: printed.rindex("}") + 1])
        assert json_fields.differences(shown, json_fields.documented()[f"{name} FOLDER"]) == []
        assert run([name, folder, "--as-of", f"{DAY}T14:20"]) == 0
        said = capsys.readouterr().out
        assert ("3 sites in 10 minutes" if name == "incidents" else "Not read back yet: S01") in said
