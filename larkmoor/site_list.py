"""The forty invented sites of invented Larkmoor County, and what is out of the ordinary at each.

Places are on a grid of our own: kilometers east and north of the warehouse. Any likeness to real
places is accidental. `PLANTED` holds, by table, the fields in which a site differs from the ordinary;
each planted trap is such a field and nothing else: no note and no name tells it.
"""

from __future__ import annotations

from typing import NamedTuple


class Row(NamedTuple):
    """One site: grid place in km, minutes of driving, voters expected on election day, stations, crew."""

    id: str
    name: str
    building: str
    area: str
    x_km: int
    y_km: int
    drive_min: int
    voters: int
    check_in: int
    booths: int
    scanners: int
    crew: int
    address: str


# fmt: off
SITES = tuple(
    Row(*row)
    for row in (
        ("S01", "Ansel Civic Hall", "county", "Port Ansel", 1, 2, 12, 1385, 5, 19, 2, 10, "1 Civic Square"),
        ("S02", "Harbor Lane Library", "library", "Port Ansel", 2, 3, 14, 1030, 4, 15, 2, 10, "22 Harbor Lane"),
        ("S03", "Tidewater Street School", "school", "Port Ansel", 3, 1, 13, 1300, 5, 18, 2, 10, "310 Tidewater Street"),
        ("S04", "Ropewalk School", "school", "Port Ansel", -1, 3, 13, 1165, 5, 17, 2, 10, "75 Ropewalk"),
        ("S05", "St. Merrin Parish Hall", "worship", "Port Ansel", 0, 4, 15, 800, 3, 12, 1, 7, "8 Merrin Close"),
        ("S06", "Lantern Street Fire Hall", "fire", "Port Ansel", 4, 2, 16, 725, 3, 11, 1, 7, "141 Lantern Street"),
        ("S07", "Customs Quay Hall", "community", "Port Ansel", 2, 0, 11, 885, 4, 13, 1, 7, "3 Customs Quay"),
        ("S08", "Gannet Park Center", "community", "Port Ansel", 5, 4, 19, 1065, 4, 15, 2, 10, "600 Gannet Park Drive"),
        ("S09", "Ansel State College Union", "college", "Old Tannery", -3, 2, 14, 2030, 7, 27, 3, 15, "1 Union Walk"),
        ("S10", "Old Tannery Library", "library", "Old Tannery", -2, 1, 12, 1240, 5, 18, 2, 10, "50 Tanyard Street"),
        ("S11", "Bark Mill School", "school", "Old Tannery", -4, 1, 15, 1115, 4, 16, 2, 10, "212 Bark Mill Road"),
        ("S12", "Currier Street Chapel", "worship", "Old Tannery", -3, 0, 13, 650, 3, 10, 1, 7, "19 Currier Street"),
        ("S13", "Hollin Ferry Town House", "county", "Hollin Ferry", -6, 24, 50, 1345, 5, 19, 2, 10, "2 Landing Street"),
        ("S14", "Hollin Ferry Fire Hall", "fire", "Hollin Ferry", -7, 25, 52, 880, 4, 13, 1, 7, "7 Station Lane"),
        ("S15", "Weir Road School", "school", "Hollin Ferry", -4, 26, 52, 1150, 5, 16, 2, 10, "480 Weir Road"),
        ("S16", "Ferry Road Fellowship", "worship", "Hollin Ferry", -8, 23, 49, 590, 3, 9, 1, 7, "1350 Ferry Road"),
        ("S17", "Upper Hollin Grange", "community", "Hollin Ferry", -10, 30, 61, 405, 2, 7, 1, 7, "2900 Grange Lane"),
        ("S18", "Greywether Mill Center", "community", "Greywether", -22, 6, 46, 1270, 5, 18, 2, 10, "11 Mill Race"),
        ("S19", "Greywether Library", "library", "Greywether", -23, 7, 49, 975, 4, 14, 1, 7, "40 Fuller Street"),
        ("S20", "Spindle Hill School", "school", "Greywether", -24, 5, 49, 1205, 5, 17, 2, 10, "500 Spindle Hill"),
        ("S21", "Loom Street Fire Hall", "fire", "Greywether", -21, 8, 46, 670, 3, 10, 1, 7, "88 Loom Street"),
        ("S22", "St. Arvin Hall", "worship", "Greywether", -25, 8, 52, 615, 3, 10, 1, 7, "14 Arvin Street"),
        ("S23", "Dyeworks Lane Chapel", "worship", "Greywether", -22, 3, 45, 495, 2, 8, 1, 7, "6 Dyeworks Lane"),
        ("S24", "Cedrow Flats School", "school", "Cedrow Flats", 24, -4, 49, 935, 4, 14, 1, 7, "1700 Flats Road"),
        ("S25", "Cedrow Grange Hall", "community", "Cedrow Flats", 28, -6, 56, 450, 2, 7, 1, 7, "3300 Grange Road"),
        ("S26", "Sugarbeet Road Fire Hall", "fire", "Cedrow Flats", 31, -3, 61, 375, 2, 7, 1, 7, "905 Sugarbeet Road"),
        ("S27", "Plainview Meeting House", "worship", "Cedrow Flats", 26, -10, 55, 430, 2, 7, 1, 7, "70 Plainview Lane"),
        ("S28", "East Cedrow Library", "library", "Cedrow Flats", 22, -2, 45, 545, 3, 9, 1, 7, "15 East Street"),
        ("S29", "Issary Ridge School", "school", "Mount Issary", -16, 22, 54, 755, 3, 11, 1, 7, "1 Ridge Road"),
        ("S30", "Fennel Gap Fire Hall", "fire", "Mount Issary", -19, 26, 62, 325, 2, 6, 1, 7, "4 Gap Road"),
        ("S31", "Upper Issary Hall", "community", "Mount Issary", -21, 29, 68, 280, 2, 6, 1, 7, "260 Upper Issary"),
        ("S32", "Pine Bench Chapel", "worship", "Mount Issary", -14, 19, 48, 415, 2, 7, 1, 7, "33 Pine Bench"),
        ("S33", "Sable Reach Fire Hall", "fire", "Sable Reach", 14, 9, 36, 220, 2, 6, 1, 7, "9 Causeway End"),
        ("S34", "Sable Landing School", "school", "Sable Reach", 13, 8, 34, 355, 2, 6, 1, 7, "120 Landing Lane"),
        ("S35", "Quarry Line School", "school", "Quarry Line", 4, -9, 25, 1775, 6, 24, 3, 15, "2000 Quarry Line"),
        ("S36", "Southgate Library", "library", "Quarry Line", 2, -8, 22, 1330, 5, 19, 2, 10, "400 Southgate Road"),
        ("S37", "Kiln Road School", "school", "Quarry Line", 6, -11, 29, 1490, 6, 21, 2, 10, "1220 Kiln Road"),
        ("S38", "Limestone Fellowship", "worship", "Quarry Line", 1, -12, 28, 1140, 4, 16, 2, 10, "55 Limestone Way"),
        ("S39", "Brickyard Fire Hall", "fire", "Quarry Line", 7, -8, 26, 950, 4, 14, 1, 7, "1180 Kiln Road"),
        ("S40", "Hartsedge Community Barn", "community", "Quarry Line", 8, -14, 35, 1140, 4, 16, 2, 10, "700 Hartsedge Lane"),
    )
)
# fmt: on

EARLY_VOTE = ("S01", "S09", "S13", "S36")
DEVICE_MARKED = ("S02", "S10")
NORTH = "S13 S14 S15 S16 S17 S20 S21 S22 S29 S30 S31 S32".split()

PLANTED: dict[str, dict[str, dict[str, object]]] = {
    "sites": {
        "S02": {"access_from": "06:15"},
        "S12": {"language_assistance": "second-language"},
        "S23": {"language_assistance": "third-language"},
        "S38": {"language_assistance": "second-language"},
    },
    "rooms": {"S06": {"heated_at_night": "no"}},
    "site_access": {
        "S19": {"contact_since": "2028-08-14", "openers_confirmed": "2028-06-02"},
        "S22": {"may_be_needed_for": "a funeral", "backup_site": "S21", "backup_agreed": ""},
        "S26": {"crew_may_be_called_out": "yes", "when_called_out": ""},
        "S28": {"closed_weekdays": "Tuesday", "key_hand_off": ""},
    },
    "site_survey": {
        "S04": {"fire_lane": "45' 0\"", "line_route": ""},
        "S10": {"steps": 7, "dock": "no", "way_in_for_carts": ""},
        "S17": {"mobile_bars": 0, "other_line": ""},
        "S18": {"ramp_rise": "14", "ramp_run": "11' 8\""},
        "S21": {"generator": "yes", "generator_tested": ""},
        "S25": {"heaters_w": 1500},
        "S27": {"soft_ground": "60' 0\"", "matting": ""},
        "S30": {"mobile_bars": 0, "other_line": "satellite phone", "offline_min": 840, "paper_list": "no"},
        "S37": {"entrance_moved": "2028-09-18"},
    },
    "site_routes": {
        "S13": {"returns_by": ""},
        "S14": {"receives": "yes", "receiving_lead": ""},
        "S29": {"road_grade_percent": "11", "snow_plan": ""},
        "S32": {"truck_limit": "24' 0\"", "vehicle": ""},
    },
    "site_voters": {
        "S09": {
            "busy_from": "16:00",
            "busy_to": "20:00",
            "busy_share_percent": "46",
            "busy_plan": "",
            "address_changes_percent": "6",
            "help_tables": 0,
        },
        "S16": {"precincts_kept_apart": "yes", "room_divided_by": ""},
    },
}

# What happens around the sites: site, date, kind, from, to, what, settled.
# fmt: off
TIMES = (
    ("S03", "2028-11-07", "traffic", "14:15", "14:50", "school lets out through the gym lobby", ""),
    ("S04", "2028-11-07", "traffic", "14:30", "15:00", "school lets out", "by the north door, agreed with the principal"),
    ("S08", "2024-11-05", "other use", "18:00", "19:30", "fitness class", ""),
    ("S24", "2028-11-07", "parking", "07:00", "08:15", "bus loop over the van space", ""),
    ("S33", "2028-11-07", "road closed", "06:20", "08:35", "spring tide over the causeway", ""),
    ("S33", "2028-11-07", "road closed", "18:45", "21:05", "spring tide over the causeway", ""),
    ("S34", "2028-11-07", "ferry", "06:00", "06:00", "ferry to the mainland", ""),
    ("S34", "2028-11-07", "ferry", "20:45", "20:45", "last ferry to the mainland", ""),
    ("S40", "2028-11-05", "before", "10:00", "22:00", "festival tents", ""),
    ("S36", "2028-11-04", "other use", "19:00", "20:00", "book circle", "meets in the upper room"),
)
# fmt: on
