"""The operating day that a page is about, and the plan that it stands on."""

from __future__ import annotations

import datetime as dt

from pollstead.election.county import Election
from pollstead.election.words import N_
from pollstead.show.web.day import Days, days_now
from pollstead.show.web.pages.frame import Ask, Trouble


def planned_days(ask: Ask) -> Days:
    """The days of the folder as they are now; raises `Trouble` before there is a plan."""
    if not ask.folder.current_digest():
        raise Trouble(
            409,
            N_("There is no plan yet, so no day can be shown."),
            N_("Make a plan on the page Jobs."),
            "/jobs",
        )
    return days_now(ask.folder)


def moment_asked(ask: Ask, election: Election, back: str) -> tuple[str, int]:
    """The moment of the address as typed and in UTC, else "" and now; raises `Trouble` where it is none."""
    typed = ask.query.get("at", "")
    if not typed:
        return "", ask.folder.clock()
    try:
        local = dt.datetime.fromisoformat(typed)
        if local.tzinfo is not None:
            raise ValueError(typed)
    except ValueError as error:
        raise Trouble(
            400,
            N_("This is no moment of the county's clock: {text}"),
            N_("Write it like 2028-11-07T06:20, or leave it out."),
            back,
            text=typed[:40],
        ) from error
    operating = election.operating_day(local.date())
    return typed, operating.at_wall_clock(local.hour * 60 + local.minute).utc_ms


def day_asked(ask: Ask, dates: tuple[dt.date, ...]) -> dt.date | None:
    """The day of the address, else of the form, where a site is open on it; None where it names none."""
    typed = ask.query.get("day") or ask.form.text("day")
    return next((one for one in dates if one.isoformat() == typed), None)
