"""The drives at one moment with everything that a code may mean, and who stands on which side."""

from __future__ import annotations

import enum
import functools
from typing import Final
from urllib.parse import urlencode

from pollstead.election.door_words import door_words, tidy_word
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.reconcile.custody.inventory import tidy
from pollstead.reconcile.custody.legs import legs_of
from pollstead.reconcile.custody.loads import Drive, LoadThing, Stop, drives, site_key
from pollstead.reconcile.custody.places import Held, held_things
from pollstead.show.web.pages.frame import Ask
from pollstead.show.web.pages.stock_acts import county_of
from pollstead.show.web.second import named
from pollstead.show.web.typed import Wrong
from pollstead.work.loading import carts_of

HERE: Final = "/scan/load"
FIELDS: Final = ("drive", "mode", "first", "second", "other", "witness", "into")


class Mode(enum.StrEnum):
    """What the two are doing; the value stands in addresses."""

    LOAD = "load"
    DOOR = "door"
    FETCH = "fetch"
    HOME = "home"


class Crew(Value, frozen=True, kw_only=True):
    """The two of the vehicle, who stands on the other side ("" for nobody), the witness ("" for none)."""

    pair: tuple[str, str]
    other: str = ""
    witness: str = ""


class Yard:
    """The drives at one moment, with everything that a code may mean."""

    def __init__(self, ask: Ask) -> None:
        self.ask = ask
        self.election = county_of(ask)
        self.now_ms = ask.folder.clock()
        self.held: dict[str, Held] = held_things(legs_of(ask.folder.fold()))
        self.drives: tuple[Drive, ...] = drives(
            self.election, carts_of(self.election), self.held, self.now_ms
        )
        self.drive = next((one for one in self.drives if one.id == self.text("drive")), None)
        modes = [mode for mode in Mode if mode.value == self.text("mode")]
        self.mode = modes[0] if modes else Mode.LOAD
        self.into = self.text("into")
        self.words = door_words(site_key(site.id) for site in self.election.sites)

    def text(self, name: str) -> str:
        """A field of the form, else of the address."""
        return self.ask.form.text(name) or str(self.ask.query.get(name) or "").strip()

    @property
    def witness_wanted(self) -> bool:
        """Whether the county's rule asks for a witness where a thing changes hands."""
        return self.election.rules.choice("hand-off-witness") == "yes"

    @property
    def stop(self) -> Stop | None:
        """The stop that was chosen at a door."""
        return self.drive.stop_of(self.into) if self.drive is not None and self.into else None

    @functools.cached_property
    def codes(self) -> dict[str, tuple[Drive, LoadThing]]:
        """Every thing of every drive by each of its codes; this drive's things first."""
        found: dict[str, tuple[Drive, LoadThing]] = {}
        for drive in sorted(self.drives, key=lambda one: one is not self.drive):
            for thing in drive.things:
                for code in thing.codes:
                    found.setdefault(tidy(code), (drive, thing))
        return found

    def site_of_word(self, typed: str) -> str:
        """The site whose door card has this word; empty where none has."""
        word = tidy_word(typed)
        return next((site for site, one in self.words.items() if one == word), "")

    def site_name(self, site: str) -> str:
        """A site's id and name."""
        found = next((one.name for one in self.election.sites if site_key(one.id) == site), "")
        return f"{site} {found}".strip()

    def crew(self) -> Crew | tuple[Wrong, ...]:
        """The people as typed or scanned; or what needs another look."""
        faults: list[Wrong] = []
        people: dict[str, str] = {}
        for field in ("first", "second", "other", "witness"):
            typed = self.text(field)
            if typed:
                found = named(self.ask, typed, field)
                if isinstance(found, Wrong):
                    faults.append(found)
                else:
                    people[field] = found
            elif field in ("first", "second"):
                words = N_("Two people drive: name both.")
                faults.append(Wrong(field=field, words=message(words)))
        if not faults and people["first"] == people["second"]:
            words = N_("The two of the vehicle must be two people.")
            faults.append(Wrong(field="second", words=message(words)))
        pair = {people.get("first"), people.get("second")} - {None}
        if people.get("other") in pair:
            words = N_("The other side must be somebody else than the two of the vehicle.")
            faults.append(Wrong(field="other", words=message(words)))
        witness = people.get("witness", "")
        if self.witness_wanted and not self.text("witness"):
            words = N_("Your county's rule asks for a witness: name one.")
            faults.append(Wrong(field="witness", words=message(words)))
        elif witness and witness in pair | {people.get("other")}:
            words = N_("The witness must be somebody else than the others.")
            faults.append(Wrong(field="witness", words=message(words)))
        if faults:
            return tuple(faults)
        return Crew(pair=(people["first"], people["second"]), other=people.get("other", ""), witness=witness)

    def at(self, did: str = "", code: str = "", **changed: str) -> str:
        """The address of the page after something was done."""
        told = {name: self.text(name) for name in FIELDS} | {"did": did, "code": code} | changed
        return f"{HERE}?{urlencode({key: value for key, value in told.items() if value})}"
