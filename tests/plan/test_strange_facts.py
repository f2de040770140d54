"""Facts at and beyond the edge of sense end in a plan or in words, never in a traceback."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from pollstead.intake.folder import read_folder
from pollstead.plan.terms.version import PlanVersion, Told

TYPES = (
    Path(__file__).resolve().parents[2] / "src" / "pollstead" / "intake" / "data" / "station_types_d.toml"
).read_text(encoding="utf-8")
COUNTY = 'county = "Larkmoor"\nname = "Invented"\nelection_day = 2028-11-07\nzone = "America/Chicago"\n'
SITES = "id,name,expected_voters\nP1,Small Hall,80\n"
Planner = Callable[..., PlanVersion]

# What is changed, whether the site is still planned, and a rule that must say something.
CASES = {
    "nobody comes": ({"sites.csv": SITES.replace(",80", ",0")}, True, ""),
    "more than can be": ({"sites.csv": SITES.replace(",80", ",5000000")}, False, "site-not-planned"),
    "nothing about voters": ({"sites.csv": "id,name\nP1,Small Hall\n"}, False, "voters-unknown"),
    "open for two days": ({"hours.csv": "site,date,opens,closes\nP1,2028-11-07,00:00,47:45\n"}, True, ""),
    "open for a minute": (
        {"hours.csv": "site,date,opens,closes\nP1,2028-11-07,07:00,07:01\n"},
        False,
        "hours-too-short",
    ),
    "600 at least": (
        {"station_types.toml": TYPES.replace("minimum = 3", "minimum = 600")},
        False,
        "toml-value",
    ),
    "600 exactly": ({"station_types.toml": TYPES.replace("fixed = 1", "fixed = 600")}, False, "toml-value"),
    "a day to check in": (
        {"station_types.toml": TYPES.replace("mean_s = ", "mean_s = 99")},
        False,
        "toml-value",
    ),
    "always the same time": ({"station_types.toml": TYPES.replace("lognormal", "fixed")}, True, ""),
    "set-up for days": (
        {"station_types.toml": TYPES.replace("minutes = ", "minutes = 9999")},
        False,
        "toml-value",
    ),
    "a step that waits for none": (
        {"station_types.toml": TYPES.replace('after = ["', 'after = ["no-such-')},
        True,
        "",
    ),
    "forty to lift": ({"station_types.toml": TYPES.replace("people = 1", "people = 40")}, True, ""),
    "a type nobody described": (
        {"station_types.toml": TYPES.replace('station_type = "precinct-booth"', 'station_type = "nothing"')},
        False,
        "station-type-unknown",
    ),
    "seals without digits": (
        {"seal_ranges.csv": "seal_kind,series,first,last\nwire seal,A,ABC,ABD\nwire seal,B,9,1\n"},
        True,
        "seal-range",
    ),
    "keys at two in the afternoon": (
        {"sites.csv": "id,name,expected_voters,access_from\nP1,Small Hall,80,14:00\n"},
        True,
        "set-up-time",
    ),
    "no place to vote": (
        {
            "fixed.csv": "table,row,field,value,reason\n"
            + "".join(
                f"stations,P1/{t},count,0,Flooded\n"
                for t in (
                    "check-in-book",
                    "precinct-booth",
                    "precinct-accessible-marker",
                    "central-count-box",
                )
            )
        },
        True,
        "accessible-stations",
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_strange_facts_end_in_a_plan_or_in_words(name: str, tmp_path: Path, plan_of: Planner) -> None:
    """Each case is planned, or its site is left out and a rule says why; nothing is raised."""
    changed, is_planned, rule = CASES[name]
    files = {"county.toml": COUNTY, "sites.csv": SITES, "station_types.toml": TYPES, **changed}
    for file, text in files.items():
        (tmp_path / file).write_text(text, encoding="utf-8")
    intake = read_folder(tmp_path)
    assert intake.election is not None
    plan = plan_of(intake.election, told=Told(notices=intake.notices, leave_out=intake.not_planned))
    assert bool(plan.sites) is is_planned
    rules = {n.rule for n in plan.notices}
    assert not rule or rule in rules
    assert is_planned or rules & {"site-not-planned", "voters-unknown"}
