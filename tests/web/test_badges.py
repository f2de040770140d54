"""Badges: what stands on one, who is signed in by which order of scans, and what the record says of it."""

from __future__ import annotations

import csv
import io
import re
import subprocess
from pathlib import Path
from typing import Any

import pytest
import zxingcpp
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from playwright.sync_api import Browser, expect
from tests.web.conftest import SMALL
from tests.web.test_stock_browser import AXE, RULES, page_of

from pollstead.election.rules import CountyRules, RuleSetting
from pollstead.intake.folder import read_folder
from pollstead.record.event import Means
from pollstead.show.commands import Command
from pollstead.show.packet.labels import badge_labels
from pollstead.show.packet.wording import Say
from pollstead.show.web.badges import after_badge, is_badge
from pollstead.show.web.capabilities import Role
from pollstead.show.web.who import Who, from_cookie, to_cookie

NAMES = {"whole name": "Caspian Dole", "first name": "Caspian D.", "id alone": "P011"}


def test_a_badge_tells_as_much_of_a_name_as_the_rule_says_and_its_code_the_id_alone() -> None:
    """Those of a site have none unless they are named; no phone and no site stands on any badge."""
    import msgspec

    election = read_folder(SMALL).election
    assert election is not None
    for value, title in NAMES.items():
        rules = CountyRules(settings=(RuleSetting(rule="badge-name", value=value),))
        found = badge_labels(msgspec.structs.replace(election, rules=rules), Say("en-US"))
        assert [one.code for one in found] == ["person/P010", "person/P011", "person/P012"]
        assert found[1].title == title and "warehouse manager" in found[1].lines
        assert not re.search(r"555-|S0\d", str(found))
    assert "person/P001" in {one.code for one in badge_labels(election, Say("en-US"), frozenset({"P001"}))}


@given(st.lists(st.sampled_from("ABC"), min_size=2, max_size=8))
def test_two_different_badges_in_a_row_are_always_a_pair(scans: list[str]) -> None:
    """Whoever scanned last enters unless that scan made the pair; a pair is two people."""
    who = Who(person="person/D", role=Role.WAREHOUSE)
    for badge in scans:
        before = who
        who, did = after_badge(who, f"person/{badge}")
        assert who.means is Means.CODE and who.role is Role.WAREHOUSE and who.person != who.second
        assert did != "badge-pair" or who.second
        if did != "badge-pair":
            assert who.person == f"person/{badge}"
        elif before.second == "":
            assert who.second == f"person/{badge}" and who.person == before.person
    assert from_cookie(to_cookie(who)) == who


def test_no_serial_tag_or_seal_is_a_badge() -> None:
    """The shipped table's serials, tags and seals, and every command, are other codes."""
    with (SMALL / "devices.csv").open(encoding="utf-8", newline="") as stream:
        codes = [row[name] for row in csv.DictReader(stream) for name in ("serial", "tag")]
    assert not any(map(is_badge, [*codes, *Command, "0048001", "P011", "person/"]))
    assert is_badge("person/P011") and is_badge(" PERSON/P011 ")


@pytest.mark.full
def test_what_a_pair_does_names_both_and_says_by_code(app: Any) -> None:
    """The packed device has both, with means code; an unknown badge changes nothing."""
    client = app.client(Role.WAREHOUSE, "person/P010")
    device = next(d for d in app.folder.election().devices if d.cart)
    form = {"do": "scan", "into": device.cart}

    def scan(code: str) -> str:
        return str(client.post("/scan/pack", data=form | {"code": code}).headers["location"])

    assert "badge-none" in scan("person/P999") and "badge-first" in scan("person/P011")
    assert "badge-pair" in scan("PERSON/P012")
    scan(device.serial)
    (fact,) = app.folder.fold().of_subject(device.id)
    (reading,) = fact.current
    told = [(p.person, p.means.value) for p in reading.people]
    assert told == [("person/P011", "code"), ("person/P012", "code")]
    page = re.sub(r"<[^>]+>", "", client.get("/scan/pack").text)
    assert "Caspian Dole + Linnea Thackeray-Voss" in page and "by badge" in page
    assert "badge-turn" in scan("person/P012")


@pytest.mark.full
def test_badges_print_and_are_read_back_by_another_library(app: Any, tmp_path: Path) -> None:
    """Code 128 and QR of each badge at 200 dpi, by zxing-cpp; the warehouse prints, a reader may not."""
    assert app.client(Role.READER).get("/scan/badges").status_code == 403
    answered = app.client(Role.WAREHOUSE).get("/scan/badges")
    assert answered.status_code == 200 and answered.content.startswith(b"%PDF")
    (tmp_path / "b.pdf").write_bytes(answered.content)
    made = subprocess.run(
        ["pdftoppm", "-r", "200", "-png", "-gray", tmp_path / "b.pdf"], capture_output=True, check=True
    ).stdout
    found = [(one.format.name, one.text) for one in zxingcpp.read_barcodes(Image.open(io.BytesIO(made)))]
    assert len(found) == 6 and {text for _, text in found} == {f"person/P01{n}" for n in "012"}


@pytest.mark.browser
def test_two_badges_take_over_by_keys_alone(browser: Browser, serving: str) -> None:
    """The card, two badges, back at the same cart; a badge on a form of seals changes who reads."""
    page = page_of(browser, serving, "person/P010")

    def scan(*codes: str) -> None:
        for code in codes:
            page.keyboard.type(code)
            page.keyboard.press("Enter")

    page.goto("/scan/pack")
    scan(Command.OTHER_PAIR.value)
    page.wait_for_url("**/scan/pair?next=*")
    expect(page.locator("#code")).to_be_focused()
    page.evaluate(AXE)
    result = page.evaluate("(rules) => axe.run({runOnly: rules})", RULES)
    assert [v["id"] for v in result["violations"]] == []
    page.set_viewport_size({"width": 320, "height": 800})
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth + 1")
    scan("person/P011")
    expect(page.locator(".scan-word")).to_contain_text("Now the badge of the second person")
    scan("person/P012")
    page.wait_for_url("**/scan/pack*")
    expect(page.locator(".person")).to_contain_text("Caspian Dole + Linnea Thackeray-Voss")
    page.goto("/tests/spares?device=device/scanner/0007#device")
    expect(page.locator("input[data-check]").first).to_be_focused()
    scan("person/P012")
    expect(page.locator(".person")).to_contain_text("Linnea Thackeray-Voss + Caspian Dole")
    assert page.url.endswith("/tests/spares?device=device/scanner/0007") or "#" in page.url
