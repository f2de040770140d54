"""Buildings as measured: rooms, corners, doors, circuits, outlets, data ports, keys and the survey.

Each value is one row of a table of the county folder. An optional field that is None has not been
told yet; no rule reads a guess from it.
"""

from __future__ import annotations

import datetime as dt

from pollstead.election.identity import require_part
from pollstead.election.values import Value, require


class Room(Value, frozen=True, kw_only=True):
    """A room of a site. `use` is a word such as gym; `voting` says whether people vote in it.

    `marked` says whether a sign on the room names it as the one for the delivery.
    """

    site: str
    id: str
    name: str = ""
    use: str = ""
    voting: bool = False
    marked: bool | None = None
    heated_at_night: bool | None = None

    def __post_init__(self) -> None:
        require_part(self.id, "a room's id")


class RoomCorner(Value, frozen=True, kw_only=True):
    """One corner of a room's outline, counted around it; x and y from the room's own zero corner."""

    site: str
    room: str
    number: int
    x_um: int
    y_um: int


class Door(Value, frozen=True, kw_only=True):
    """A door of a room: where its middle stands, its clear width, who uses it.

    `public` is a way in for voters from outside; `sign` says whether an entrance sign is planned there.
    """

    site: str
    room: str
    id: str
    name: str = ""
    x_um: int | None = None
    y_um: int | None = None
    clear_um: int | None = None
    public: bool = False
    sign: bool | None = None

    def __post_init__(self) -> None:
        require_part(self.id, "a door's id")


class Circuit(Value, frozen=True, kw_only=True):
    """A branch circuit of the building: breaker in amperes, volts, and what else hangs on it."""

    site: str
    id: str
    amps: int
    volts: int = 120
    shared_with: str = ""

    def __post_init__(self) -> None:
        require_part(self.id, "a circuit's id")
        require(self.amps > 0, f"amps of circuit {self.id} must be above 0, got {self.amps}")
        require(self.volts > 0, f"volts of circuit {self.id} must be above 0, got {self.volts}")


class Outlet(Value, frozen=True, kw_only=True):
    """A wall outlet of a room, the circuit it hangs on, and where it is."""

    site: str
    room: str
    id: str
    circuit: str = ""
    x_um: int | None = None
    y_um: int | None = None

    def __post_init__(self) -> None:
        require_part(self.id, "an outlet's id")


class Port(Value, frozen=True, kw_only=True):
    """A wired data port and the length of cable from it to the check-in tables."""

    site: str
    room: str
    id: str
    cable_um: int | None = None

    def __post_init__(self) -> None:
        require_part(self.id, "a port's id")


class SiteAccess(Value, frozen=True, kw_only=True):
    """Keys and agreements with the building: who opens, since when, when it is closed, what if it is lost."""

    site: str
    contact_since: dt.date | None = None
    openers_confirmed: dt.date | None = None
    evening_from_min: int | None = None
    closed_weekdays: tuple[str, ...] = ()
    key_hand_off: dt.date | None = None
    may_be_needed_for: str = ""
    backup_site: str = ""
    backup_agreed: dt.date | None = None
    crew_may_be_called_out: bool | None = None
    when_called_out: str = ""


class SiteSurvey(Value, frozen=True, kw_only=True):
    """What somebody measured or saw at a site, on a date."""

    site: str
    surveyed: dt.date | None = None
    entrance_moved: dt.date | None = None
    steps: int | None = None
    dock: bool | None = None
    way_in_for_carts: str = ""
    ramp_rise_um: int | None = None
    ramp_run_um: int | None = None
    soft_ground_um: int | None = None
    matting_um: int | None = None
    fire_lane_um: int | None = None
    line_route: str = ""
    mobile_bars: int | None = None
    other_line: str = ""
    offline_min: int | None = None
    paper_list: bool | None = None
    heaters_w: int | None = None
    generator: bool | None = None
    generator_tested: dt.date | None = None
