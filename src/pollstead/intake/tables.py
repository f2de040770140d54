"""What each table of the county folder holds: columns from the value types, and words about them.

A column is a field of the value type whose rows the table holds. The field's name says its unit,
and so the column's name and what a cell looks like: ``door_clear_um`` is the column ``door_clear``
(also ``door_clear_in``, ``door_clear_mm``), ``share_ppm`` is ``share_percent``, ``opens_min`` is
``opens``. A tab of a workbook is the same table.
"""

from __future__ import annotations

import datetime as dt

from pollstead.election.county import (
    ArrivalShare,
    ClosureSeal,
    Device,
    FixedValue,
    FleetTotal,
    PastCount,
    Person,
    Precinct,
    SealRange,
    Site,
)
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.intake.columns import (
    Column,
    Heading,
    Table,
    cell_kind,
    headings_of,
    table_of,
    type_hints,
    without_none,
)
from pollstead.intake.tables_around import TABLES_AROUND
from pollstead.intake.tables_ballots import TABLES_OF_BALLOTS
from pollstead.intake.tables_calendar import TABLES_OF_CALENDAR
from pollstead.intake.tables_contacts import TABLES_OF_CONTACTS
from pollstead.intake.tables_day import TABLES_OF_DAY
from pollstead.intake.tables_forms import TABLES_OF_FORMS
from pollstead.intake.tables_labels import TABLES_OF_LABELS
from pollstead.intake.tables_seals import TABLES_OF_STOCK
from pollstead.intake.tables_styles import TABLES_OF_STYLES

__all__ = ["Column", "Heading", "Table", "cell_kind", "headings_of", "type_hints", "without_none"]
# What follows from a value type stands in `columns`; those who read tables find it here too.

EVERY_SITE = "*"
"""In ``hours.csv``, stands for every site that has no row of its own on that date."""


class HoursRow(Value, frozen=True, kw_only=True):
    """One row of ``hours.csv``; order and overlap are checked later, so that both are told."""

    site: str
    date: dt.date
    opens_min: int
    closes_min: int


class CountyRow(Value, frozen=True, kw_only=True):
    """What stands in ``county.toml``."""

    county: str
    name: str
    election_day: dt.date
    zone: str
    practice: bool = False
    invented: bool = False


EQUIPMENT = N_("equipment manager")
SITES = N_("site coordinator")
PEOPLE = N_("poll worker coordinator")
OFFICIAL = N_("election official")

TABLES: tuple[Table, ...] = (
    table_of(
        "sites",
        Site,
        N_("One row for each place where people vote."),
        {
            "id": N_("Short name of the site, never used again for another; kept as text"),
            "name": N_("Name of the building"),
            "address": N_("Street address"),
            "area": N_("Part of the county, for sorting"),
            "kind": N_("Kind of site, an id from station_types.toml"),
            "registered": N_("Registered voters who vote here"),
            "expected_voters": N_("In-person voters you expect; replaces the forecast"),
            "door_clear_um": N_("Clear width of the narrowest door on the way in"),
            "room_width_um": N_("Width of the voting room"),
            "room_depth_um": N_("Depth of the voting room"),
            "outlets": N_("Working outlets in the voting room"),
            "access_from_min": N_("Earliest time the building can be entered on election day"),
            "openers": N_("People who can each open the building, ids from people.csv"),
            "contact": N_("Building contact, an id from people.csv"),
            "language_assistance": N_("Languages with assistance at this site"),
            "seed_key": N_("Keeps the site's random draws when its id changes; else blank"),
            "notes": N_("Anything a reader should know"),
        },
        ids=("id", "kind"),
        required=True,
        owner=SITES,
        due_days=90,
        leave_out=("hours",),
    ),
    table_of(
        "hours",
        HoursRow,
        N_("One row for each site and date, or * for every site without a row of its own that date."),
        {
            "site": N_("Site id, or * for every site without a row of its own on that date"),
            "date": N_("Date of voting"),
            "opens_min": N_("Opening time on the wall clock"),
            "closes_min": N_("Closing time; 24:40 is past midnight"),
        },
        adds=N_("opening and closing times, in place of assumed hours"),
        owner=OFFICIAL,
        due_days=90,
    ),
    table_of(
        "precincts",
        Precinct,
        N_("One row for each precinct and the site it votes at."),
        {
            "id": N_("Precinct id; kept as text, zeros in front too"),
            "site": N_("Site id"),
            "registered": N_("Registered voters now"),
            "styles": N_("Ballot styles used in the precinct"),
            "style_told_by": N_("How check-in tells a voter's style where there is more than one"),
        },
        ids=("id", "site"),
        adds=N_("registration and past ballots by precinct, and which ballot styles each site needs"),
        owner=OFFICIAL,
        due_days=60,
    ),
    table_of(
        "history",
        PastCount,
        N_("In-person ballots of past elections, one row for each precinct or site."),
        {
            "election": N_("Short name of the past election"),
            "date": N_("Date of voting"),
            "unit": N_("Precinct id or site id"),
            "mode": N_("How these ballots were cast: election day, early"),
            "ballots": N_("Ballots cast in person"),
            "registered": N_("Registered voters then"),
        },
        ids=("unit",),
        adds=N_("a forecast of voters for each site with a range, in place of a guess from registration"),
        owner=OFFICIAL,
        due_days=120,
    ),
    table_of(
        "arrivals",
        ArrivalShare,
        N_("How the day's voters spread over the hours; the shares sum to 100 percent."),
        {
            "hour": N_("Clock hour, 7 means 07:00 to 08:00"),
            "share_ppm": N_("Share of the day's voters who arrive in that hour"),
        },
        adds=N_("your own busy hours, in place of an assumed curve"),
        owner=OFFICIAL,
        due_days=120,
    ),
    table_of(
        "devices",
        Device,
        N_("One row for each device with a serial."),
        {
            "id": N_("Id of the device, never used again; kept as text"),
            "serial": N_("Serial on the plate; kept as text"),
            "kind": N_("Kind of device, as station_types.toml names it"),
            "tag": N_("Property tag"),
            "home": N_("Site it usually goes to, or blank"),
            "state": N_("in service, or why it is not; blank means in service"),
            "memory_devices": N_("Ids of its memory devices"),
            "lifetime_counter": N_("Lifetime counter as last recorded"),
            "cart": N_("Cart or case it travels in"),
            "fixed": N_("Site where it must go, decided by a person"),
            "reason": N_("Reason for the decision"),
        },
        ids=("id",),
        adds=N_("serials and tags on every sheet, and which machine goes where"),
        owner=EQUIPMENT,
        due_days=60,
    ),
    table_of(
        "fleet_totals",
        FleetTotal,
        N_("How many devices of a kind the county owns, where serials are not listed."),
        {
            "kind": N_("Kind of device, as station_types.toml names it"),
            "count": N_("How many the county owns"),
            "source": N_("Where the number is from"),
        },
        adds=N_("a limit on what may be planned, and what would be short"),
        owner=EQUIPMENT,
        due_days=90,
    ),
    table_of(
        "people",
        Person,
        N_("People by id; names and phones show only where a task needs them."),
        {
            "id": N_("Id of the person, never used again"),
            "name": N_("Name"),
            "role": N_("Role in this election"),
            "site": N_("Site id, or blank"),
            "phone": N_("Phone for election work"),
            "party": N_("Party, only where the law asks for two at a task"),
            "languages": N_("Languages this person helps voters in"),
        },
        ids=("id",),
        adds=N_("whom to call and who can open each building"),
        owner=PEOPLE,
        due_days=30,
    ),
    table_of(
        "seal_ranges",
        SealRange,
        N_("Blocks of seals in stock, from and to inclusive."),
        {
            "seal_kind": N_("Kind of seal, as station_types.toml names it"),
            "series": N_("Series or order the seals belong to"),
            "first": N_("First number; kept as text"),
            "last": N_("Last number; kept as text"),
            "check_character": N_(
                "How the last character of each number is made: none, damm, luhn, iso 37-36; blank means none"
            ),
        },
        adds=N_("whether the seals in stock are enough, and notice of numbers outside your stock"),
        owner=EQUIPMENT,
        due_days=45,
    ),
    table_of(
        "closure_seals",
        ClosureSeal,
        N_("The number on each sealed closure of a device after its test."),
        {
            "device": N_("Device id"),
            "closure": N_("Closure, an id from station_types.toml"),
            "position": N_("1 for the first seal on this closure, 2 for the second"),
            "counts_from": N_("First voting day that this number counts for; blank where there is one test"),
            "number": N_("Number on the seal; kept as text"),
        },
        ids=("device", "closure"),
        adds=N_("the list of expected seals for each site"),
        owner=EQUIPMENT,
        due_days=14,
    ),
    table_of(
        "fixed",
        FixedValue,
        N_("Values of the plan that a person has decided, each with a reason."),
        {
            "table": N_("Table of the plan, such as stations"),
            "row": N_("Row of that table, such as a site id, a slash, and a station type id"),
            "field": N_("Field, such as count"),
            "value": N_("Value decided"),
            "reason": N_("Why"),
        },
        owner=OFFICIAL,
    ),
    *TABLES_AROUND,
    *TABLES_OF_STOCK,
    *TABLES_OF_LABELS,
    *TABLES_OF_CALENDAR,
    *TABLES_OF_CONTACTS,
    *TABLES_OF_DAY,
    *TABLES_OF_FORMS,
    *TABLES_OF_STYLES,
    *TABLES_OF_BALLOTS,
)

BY_NAME = {table.name: table for table in TABLES}

RULES_FILE = "rules.toml"
STATION_TYPES_FILE = "station_types.toml"
COUNTY_FILE = "county.toml"
ASSUMPTIONS_FILE = "assumptions.toml"
MAPPING_FILE = "mapping.toml"
COUNT_MAPPINGS_FILE = "count_mappings.toml"
TOML_FILES = (COUNTY_FILE, STATION_TYPES_FILE, RULES_FILE, ASSUMPTIONS_FILE, MAPPING_FILE)
NOT_FACTS = (COUNT_MAPPINGS_FILE,)
"""Files beside the tables that hold no facts: going back to earlier tables leaves them as they are."""

STATION_TYPES_ADD = N_("kinds of stations; without them no station, sheet or seal can be planned")
RULES_ADD = N_("your county's limits and who confirmed them, in place of defaults marked as assumed")
