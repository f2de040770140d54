"""A small invented county whose fleet is too small for its plan, for tests of the split."""

from __future__ import annotations

from pathlib import Path

from pollstead.plan.terms.part import NoWatch
from pollstead.work.planning import plan_folder

TYPES = Path(__file__).parents[1] / "src" / "pollstead" / "intake" / "data" / "station_types_e.toml"
SHORT_FLEET = "electronic voting unit,14\n"


def make_three_sites(place: Path, fleet: str = SHORT_FLEET, rules: str = "") -> Path:
    """Three sites in two areas, planned; `fleet` are rows of fleet_totals.csv, none where it is blank."""
    place.mkdir(parents=True, exist_ok=True)
    (place / "station_types.toml").write_text(TYPES.read_text(encoding="utf-8"), encoding="utf-8")
    (place / "county.toml").write_text(
        'county = "Larkmoor"\nname = "Invented"\nelection_day = 2028-11-07\nzone = "America/Chicago"\n',
        encoding="utf-8",
    )
    (place / "sites.csv").write_text(
        "id,name,expected_voters,area,language_assistance\n"
        "P1,Fen Hall,700,north,es\nP2,Weir School,350,north,\nP3,Moor Barn,150,south,\n",
        encoding="utf-8",
    )
    (place / "people.csv").write_text("id,name\nP001,Ada Fenwick\n", encoding="utf-8")
    if rules:
        (place / "rules.toml").write_text(rules, encoding="utf-8")
    if fleet:
        (place / "fleet_totals.csv").write_text("kind,count\n" + fleet, encoding="utf-8")
    plan_folder(place, watch=NoWatch())
    return place
