"""Letters that cannot be printed are told by check and plan, before a print leaves a site out."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from pollstead.cli.main import run
from pollstead.show.letters import RULE

COUNTY = 'county = "Larkmoor"\nname = "Invented"\nelection_day = 2028-11-07\nzone = "EST5EDT"\n'


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Three sites: plain letters, accents that the font has, and a note in a script that it lacks."""
    (tmp_path / "county.toml").write_text(COUNTY, encoding="utf-8")
    (tmp_path / "sites.csv").write_text(
        "id,name,notes\nP1,Mill Hall,\nP2,Šárka’s Hall,\nP3,Ford Hall,قاعة\n", encoding="utf-8"
    )
    return tmp_path


def test_check_names_the_site_and_its_letters(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One open item, for the site whose words cannot be set; the code stays 0, since it blocks nothing."""
    assert run(["check", str(folder), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    [notice] = [notice for notice in told["notices"] if notice["rule"] == RULE]
    assert notice["subject"] == "sites/P3"
    assert notice["kind"] == "open item"
    assert "ق (U+0642)" in notice["text"]
    assert told["counts"]["open_item"] == sum(n["kind"] == "open item" for n in told["notices"])
