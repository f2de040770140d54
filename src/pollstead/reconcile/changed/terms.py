"""What passes in and out of the consequence of a change: states, sheets, calls, and the whole answer."""

from __future__ import annotations

import datetime as dt
import enum

from pollstead.election.county import Election
from pollstead.election.notice import Notice
from pollstead.election.station_type import Moment
from pollstead.election.values import Value
from pollstead.election.words import Message
from pollstead.plan.terms.version import ExpectedList, PlanVersion, SheetKind


class Act(enum.StrEnum):
    """The acts by which a county changes at any time up to and on the day."""

    SWAP_DEVICE = "swap_device"
    RESEAL = "reseal"
    MOVE_SITE = "move_site"
    REPLACE_PERSON = "replace_person"
    ADD_STOCK = "add_stock"
    UNDO = "undo"


class PlannedSheet(Value, frozen=True, kw_only=True):
    """One sheet as a plan version gives it: `content` is the digest of all that stands on it.

    `key` tells it apart within its site; `day` is ISO 8601 or ""; `stations` are those whose numbers are
    written on it. Serial, plan digest and moment of printing are no part of the content.
    """

    site: str
    key: str
    kind: SheetKind
    day: str
    title: str
    about: str
    language: str
    content: str
    stations: tuple[str, ...] = ()

    @property
    def place(self) -> tuple[str, str, str]:
        """Site, key and language: a later sheet of the same place takes an earlier one's."""
        return (self.site, self.key, self.language)


class SheetInHand(Value, frozen=True, kw_only=True):
    """A sheet that was printed under `serial` and is not void yet; `list_digest` is its list, if known."""

    serial: str
    sheet: PlannedSheet
    list_digest: str = ""


class State(Value, frozen=True, kw_only=True):
    """Facts and plan at one time, with the expected lists and the sheets that follow from them."""

    election: Election
    plan: PlanVersion
    digest: str
    lists: tuple[ExpectedList, ...]
    sheets: tuple[PlannedSheet, ...]

    def list_of(self, site: str, date: dt.date) -> ExpectedList | None:
        """The list that this plan gives a site and day; None where it gives none."""
        return next((one for one in self.lists if one.site == site and one.date == date), None)


class Change(Value, frozen=True, kw_only=True):
    """What is being changed: the act, the sites, people and devices that it names, in old-new order.

    `at_min` is the minute of the operating day at which a device was swapped while people voted, None before
    that. `words` say it for the office, `site_words` for paper that lies beside blank sheets: without any
    number that is read independently.
    """

    act: Act
    sites: tuple[str, ...] = ()
    old_person: str = ""
    new_person: str = ""
    old_device: str = ""
    new_device: str = ""
    at_min: int | None = None
    words: Message
    site_words: Message

    @property
    def names_people(self) -> bool:
        """Whether its words name people."""
        return bool(self.old_person or self.new_person)


class ItemChange(Value, frozen=True, kw_only=True):
    """One expected thing that changes; None where there was none before, or is none any more."""

    station: str
    what: str
    words: str
    moment: Moment
    subject_before: str
    subject_after: str
    before: str | None
    after: str | None


class SiteDayChange(Value, frozen=True, kw_only=True):
    """The expected list of one site and day: what of it changes, and whether one is in force to amend."""

    site: str
    date: dt.date
    in_force: bool
    kept: int
    items: tuple[ItemChange, ...]


class VoidSheet(Value, frozen=True, kw_only=True):
    """A printed sheet that no longer fits: why, and the sheet that takes its place.

    Where none does, `successor` is None and `without` says why.
    """

    serial: str
    sheet: PlannedSheet
    why: Message
    successor: PlannedSheet | None = None
    without: Message | None = None


class NewSheet(Value, frozen=True, kw_only=True):
    """A sheet to print, and the serials of those that it replaces, the last printed first."""

    sheet: PlannedSheet
    replaces: tuple[str, ...] = ()


class Call(Value, frozen=True, kw_only=True):
    """A person to call: as what, about which site, why. `phone` is empty where the facts tell none.

    `person` is empty where the facts do not say who it is; `name` then stands for the role.
    """

    person: str
    name: str
    phone: str
    site: str
    roles: tuple[Message, ...]
    why: tuple[Message, ...]


class Consequence(Value, frozen=True, kw_only=True):
    """All that a change brings with it. `good` are the printed sheets of its sites that stay as they are."""

    change: Change
    sites: tuple[str, ...]
    site_days: tuple[SiteDayChange, ...]
    void: tuple[VoidSheet, ...]
    good: tuple[SheetInHand, ...]
    prints: tuple[NewSheet, ...]
    calls: tuple[Call, ...]
    notices: tuple[Notice, ...] = ()
