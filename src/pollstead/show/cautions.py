"""Caution sentences where work can hurt someone or where law decides: one home for page and paper.

The tool informs; local codes, licensed trades, counsel and the election official decide. A place (a
sheet, a page) names the cautions that stand on it in `PLACES`; a test fails where one is lacking.
"""

from __future__ import annotations

import enum

from pollstead.election.values import Value
from pollstead.election.words import N_


class Caution(Value, frozen=True, kw_only=True):
    """One caution: its id, and its sentence as an English template for the catalogue."""

    id: str
    words: str


class Place(enum.StrEnum):
    """A sheet, page or drawing on which cautions stand."""

    COVER = "cover page"
    PACKING = "packing list"
    RUN = "set-up run sheet"
    OPENING = "opening sheet"
    CLOSING = "closing sheet"
    SEALS = "seal sheet"
    BALANCE = "balance sheet"
    EXPECTED = "expected list"
    CHANGE = "change notice"
    OPENING_PAGE = "opening page"
    CLOSING_PAGE = "closing page"
    READY_PAGE = "ready to open page"
    CHANGE_PAGE = "change page"
    POWER = "power page"
    OUTLET_CARD = "outlet card"
    BREAKER_CARD = "breaker card"
    DRAWING = "floor drawing"
    LOADING = "loading card"
    RAMP = "ramp card"
    SIGNS = "signs card"
    CURBSIDE = "curbside card"
    ROUTE = "route sheet"
    EVACUATION = "evacuation card"
    CALENDAR = "calendar"
    EXTENDED_HOURS = "extended hours"
    SURVEY = "survey"
    WORKERS = "workers"
    ROSTER = "duty roster"
    TALLY = "tally"
    PHOTOS = "photos"
    PUBLIC_WAITS = "public waits"
    OFFICE_BOOK = "office book"
    RECEIVING = "receiving tables"
    RECEIPT = "receipt"
    NOT_BACK = "not back yet"
    PAPER_BACK = "signed paper that comes back"
    INCIDENTS = "incidents"
    SUPPLIES = "supplies"
    HEARD = "not heard from"
    PHONE = "phone-in"
    WAITS = "waits now"
    WAITS_COUNT = "counted lines"
    COUNT_FILES = "counts from a file"
    EXPLANATIONS = "explanations of a difference"
    CANVASS = "canvass"
    DECKS = "test decks"
    ALLOCATION = "split of the fleet"
    TIMINGS = "timings"


CAUTIONS: tuple[Caution, ...] = (
    Caution(
        id="power",
        words=N_(
            "Loads are what was typed in; a licensed electrician or the building's engineer confirms "
            "circuits before anything is plugged in."
        ),
    ),
    Caution(
        id="breaker",
        words=N_(
            "Unplug first, let the building's contact reset it once; if it trips again, leave it off and "
            "call."
        ),
    ),
    Caution(
        id="cords",
        words=N_(
            "Never plug a cord or strip into another, or run one through a door or under a rug; take hot or "
            "damaged cords out of use."
        ),
    ),
    Caution(
        id="generator",
        words=N_(
            "Generators run outdoors only, connected by a qualified person; no heater on a circuit that "
            "feeds equipment."
        ),
    ),
    Caution(
        id="lifting",
        words=N_(
            "A planning estimate, not a safe limit for any person; stop and get help when it is heavy, "
            "awkward or on stairs."
        ),
    ),
    Caution(
        id="cart",
        words=N_("Nobody stands downhill of a cart; only trained crew work a lift gate or tie down a load."),
    ),
    Caution(
        id="ramp",
        words=N_(
            "Staff measured this slope; the ADA coordinator decides, and a ramp that moves is not used."
        ),
    ),
    Caution(
        id="exits",
        # Nothing in an exit path: 29 CFR 1910.37(a)(3), read in secondary copies.
        words=N_(
            "This drawing approves no exit and sets no occupancy; the fire official does. Nothing stands "
            "in an exit path, even for a minute."
        ),
    ),
    Caution(
        id="exit-path",
        words=N_("Nothing stands in an exit path, even for a minute; the fire official decides on exits."),
    ),
    Caution(
        id="batteries",
        words=N_(
            "A swollen, hot, wet or damaged battery goes out of use, away from exits; if it smokes, get "
            "everyone out and call the emergency number."
        ),
    ),
    Caution(
        id="ladders",
        words=N_(
            "Only if asked and trained: level floor, face the ladder, someone holding it; never a chair, "
            "table or cart."
        ),
    ),
    Caution(
        id="curbside",
        words=N_(
            "Bright vest, face traffic, never between cars; police or public works decide anything in the "
            "road."
        ),
    ),
    Caution(
        id="night-routes",
        words=N_("Times are estimates; stop if tired, turn back at water, call instead of hurrying."),
    ),
    Caution(
        id="evacuation",
        words=N_(
            "People first; leave ballots and equipment if staying is dangerous, and record what was left "
            "when all are safe."
        ),
    ),
    Caution(
        id="containers",
        words=N_(
            "This page is no order to open, move or re-seal a container; only the authority named in your "
            "county's rules may give one, with two people present."
        ),
    ),
    Caution(
        id="counts",
        words=N_(
            "Unofficial staff counts, to find copying errors; the canvassing body decides what they mean."
        ),
    ),
    Caution(
        id="seals",
        words=N_("A match shows that the number matches; look at the seal and the closure too."),
    ),
    Caution(
        id="calendar",
        words=N_(
            "Computed from rules your office typed in; counsel confirms each date before anyone relies on it."
        ),
    ),
    Caution(
        id="extended-hours",
        words=N_("The order's words govern, not this summary; ballots under it are held apart."),
    ),
    Caution(
        id="survey",
        words=N_("Passing these checks is not ADA compliance; the ADA coordinator decides."),
    ),
    Caution(
        id="personal-data",
        words=N_("Address, phone, health and party: only for the task and role that need them."),
    ),
    Caution(
        id="labor",
        words=N_("Breaks, pay and minors' hours follow labor law and HR."),
    ),
    Caution(
        id="no-voter-names",
        words=N_("Write no voter's name or number here."),
    ),
    Caution(
        id="photos",
        words=N_("Check local law first; never a voter or a marked ballot."),
    ),
    Caution(
        id="public-waits",
        words=N_("From reports at {time}; may be wrong; go elsewhere only where the law lets you vote."),
    ),
    Caution(
        id="waits",
        words=N_(
            "Estimates for the office from counts that people made; they may be wrong, and they tell no "
            "voter where to go. The election official decides what is done."
        ),
    ),
    Caution(
        id="room",
        words=N_("Floor space is what was typed in; the fire official sets how many people a room may hold."),
    ),
    Caution(
        id="least-numbers",
        words=N_(
            "Least numbers are the county's rules as they were typed in; the election official decides what "
            "the law asks of a site."
        ),
    ),
    Caution(
        id="timings",
        words=N_(
            "Only counts and times come in: delete whatever tells who voted from a copy of the file before "
            "you send it. The election official decides which values the plan uses."
        ),
    ),
    Caution(
        id="test-decks",
        words=N_(
            "Totals of test ballots, never results of an election. This tool reads no ballot and is "
            "connected to no device; the election official decides whether a device is used."
        ),
    ),
    Caution(
        id="equipment-manual",
        words=N_(
            "Your equipment's manual and your state's directions win over this sheet; tell the office "
            "where they differ."
        ),
    ),
)

BY_ID = {caution.id: caution for caution in CAUTIONS}

PLACES: tuple[tuple[Place, tuple[str, ...]], ...] = (
    (Place.COVER, ("personal-data", "evacuation", "no-voter-names")),
    (Place.PACKING, ("lifting", "cart", "containers")),
    (Place.RUN, ("power", "cords", "lifting", "cart", "exit-path", "ladders", "equipment-manual")),
    (Place.OPENING, ("seals", "equipment-manual", "no-voter-names")),
    (Place.CLOSING, ("containers", "counts", "seals", "equipment-manual", "no-voter-names")),
    (Place.SEALS, ("seals", "containers", "no-voter-names")),
    (Place.BALANCE, ("counts", "containers", "no-voter-names")),
    (Place.EXPECTED, ("seals",)),
    (Place.CHANGE, ("containers", "seals", "personal-data")),
    (Place.CHANGE_PAGE, ("containers", "seals", "personal-data")),
    (Place.OPENING_PAGE, ("seals", "equipment-manual", "no-voter-names")),
    (Place.CLOSING_PAGE, ("containers", "counts", "seals", "equipment-manual", "no-voter-names")),
    (Place.READY_PAGE, ("seals",)),
    (Place.POWER, ("power", "cords", "generator")),
    (Place.OUTLET_CARD, ("power", "cords")),
    (Place.BREAKER_CARD, ("breaker",)),
    (Place.DRAWING, ("power", "exits")),
    (Place.LOADING, ("lifting", "cart", "batteries")),
    (Place.RAMP, ("ramp",)),
    (Place.SIGNS, ("ladders",)),
    (Place.CURBSIDE, ("curbside",)),
    (Place.ROUTE, ("night-routes", "cart")),
    (Place.EVACUATION, ("evacuation",)),
    (Place.CALENDAR, ("calendar",)),
    (Place.EXTENDED_HOURS, ("extended-hours",)),
    (Place.SURVEY, ("survey",)),
    (Place.WORKERS, ("personal-data",)),
    (Place.ROSTER, ("labor", "personal-data")),
    (Place.TALLY, ("no-voter-names", "counts")),
    (Place.PHOTOS, ("photos",)),
    (Place.OFFICE_BOOK, ("personal-data", "containers", "calendar", "equipment-manual", "no-voter-names")),
    (Place.PUBLIC_WAITS, ("public-waits",)),
    (Place.RECEIVING, ("containers", "seals", "no-voter-names")),
    (Place.RECEIPT, ("containers", "counts", "seals", "no-voter-names")),
    (Place.NOT_BACK, ("containers", "personal-data", "night-routes")),
    (Place.PAPER_BACK, ("containers", "counts", "no-voter-names")),
    (Place.INCIDENTS, ("no-voter-names", "counts", "equipment-manual", "containers")),
    (Place.SUPPLIES, ("counts", "containers", "no-voter-names")),
    (Place.HEARD, ("personal-data",)),
    (Place.CANVASS, ("counts", "containers", "no-voter-names")),
    (Place.COUNT_FILES, ("counts", "no-voter-names")),
    (Place.EXPLANATIONS, ("counts", "containers")),
    (Place.DECKS, ("test-decks", "equipment-manual", "no-voter-names")),
    (Place.ALLOCATION, ("power", "room", "least-numbers")),
    (Place.TIMINGS, ("timings", "no-voter-names")),
    (Place.WAITS, ("waits",)),
    (Place.WAITS_COUNT, ("waits", "no-voter-names")),
    (Place.PHONE, ("counts", "equipment-manual", "no-voter-names")),
)


def for_place(place: Place) -> tuple[Caution, ...]:
    """The cautions that stand at `place`, in the order in which they are shown."""
    for known, ids in PLACES:
        if known is place:
            return tuple(BY_ID[caution_id] for caution_id in ids)
    raise KeyError(f"no cautions are listed for {place!r}")
