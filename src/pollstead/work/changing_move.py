"""Move a site: another building or room, other hours; what was measured in the old building is let go."""

from __future__ import annotations

import re

from pollstead.election.words import N_, Message, message
from pollstead.intake.fact_edits import Edit, add_row, remove_row, set_cell
from pollstead.reconcile.changed.terms import Act, Change
from pollstead.work.changing_terms import Asked, Drafted, Ground
from pollstead.work.county_folder import refuse

FIELDS = ("name", "address", "contact", "openers", "access_from")
"""What may be said of the new place, by column of the table sites."""

_OF_THE_BUILDING = ("door_clear", "room_width", "room_depth", "outlets", "access_from")
_ROWS_OF_THE_BUILDING = (
    "rooms",
    "room_corners",
    "doors",
    "circuits",
    "outlets",
    "ports",
    "site_access",
    "site_survey",
    "site_times",
)
_OF_THE_ROUTE = ("x_m", "y_m", "drive_min", "truck_limit", "road_grade_percent", "snow_plan")
_CLOCK = re.compile(r"[0-4][0-9]:[0-5][0-9]")

LAW_DECIDES = N_(
    "Whether a site may move so late, and what notice voters must get, is decided by law and the election "
    "official, not here."
)
NOT_MEASURED = N_("Nothing is known of the new building until somebody has been there: rooms, doors, power.")


def move_site(ground: Ground, asked: Asked) -> Drafted:
    """The site `old` moves: each thing said takes the place of what the tables hold."""
    site = next((s for s in ground.election.sites if s.id == asked.old), None)
    if site is None:
        refuse(N_("There is no site {site} in the table sites."), site=asked.old or "?")
    edits: list[Edit] = []
    for column in FIELDS:
        text = asked.text(column).strip()
        if text and text != ground.cell("sites", site.id, column):
            before = ground.cell("sites", site.id, column)
            edits.append(set_cell("sites", site.id, column, text, before=before))
    edits += _hours(ground, site.id, asked)
    if not edits:
        refuse(N_("Say what changes: a name, an address, a contact, openers or hours."))
    warnings: list[Message] = [message(LAW_DECIDES)]
    if asked.text("building") == "another":
        edits += _forget_building(ground, site.id, {edit.column for edit in edits})
        warnings.append(message(NOT_MEASURED))
    where = ", ".join(filter(None, (asked.text("name"), asked.text("address"))))
    hours = asked.text("opens") or asked.text("closes")
    said = message(N_("{site} moves to {where}."), site=site.name, where=where)
    if not where:
        said = message(N_("{site} has other hours."), site=site.name)
        if not hours:
            said = message(N_("{site}: the people of the building change."), site=site.name)
    return Drafted(
        change=Change(act=Act.MOVE_SITE, sites=(site.id,), words=said, site_words=said),
        edits=tuple(edits),
        subject=f"site/{site.id}",
        warnings=tuple(warnings),
    )


def _hours(ground: Ground, site: str, asked: Asked) -> list[Edit]:
    """Other hours on one date, or on every date that the site has rows for."""
    opens, closes = asked.text("opens"), asked.text("closes")
    if not (opens or closes):
        return []
    for text in filter(None, (opens, closes)):
        if not _CLOCK.fullmatch(text):
            refuse(N_("Type a time like 07:00, past midnight like 24:40; found {text}."), text=text)
    found = next(s for s in ground.election.sites if s.id == site)
    wanted = asked.text("date")
    dates = [wanted] if wanted else [hours.date.isoformat() for hours in found.hours]
    if not dates:
        dates = [ground.election.election_day.isoformat()]
    edits: list[Edit] = []
    for date in dates:
        row = f"{site} | {date}"
        every = f"* | {date}"
        now = {
            name: ground.cell("hours", row, name) or ground.cell("hours", every, name)
            for name in ("opens", "closes")
        }
        new = {"opens": opens or now["opens"], "closes": closes or now["closes"]}
        if ground.named("hours", site, date):
            edits += [
                set_cell("hours", row, name, text, before=now[name])
                for name, text in new.items()
                if text != now[name]
            ]
        elif new != now:
            edits.append(add_row("hours", {"site": site, "date": date, **new}))
    return edits


def _forget_building(ground: Ground, site: str, said: set[str]) -> list[Edit]:
    """What was measured in the old building no longer holds; a later undo brings all of it back."""
    edits = [
        set_cell("sites", site, column, "", before=ground.cell("sites", site, column))
        for column in _OF_THE_BUILDING
        if column not in said and ground.cell("sites", site, column)
    ]
    for table in _ROWS_OF_THE_BUILDING:
        edits += [remove_row(table, row) for row in ground.named(table, site)]
    edits += [
        set_cell("site_routes", site, column, "", before=ground.cell("site_routes", site, column))
        for column in _OF_THE_ROUTE
        if ground.cell("site_routes", site, column)
    ]
    return edits
