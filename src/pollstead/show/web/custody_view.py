"""Receiving and *Not back yet* as pages see them: the day, its things, labels, names, what a code means."""

from __future__ import annotations

import datetime as dt
import functools

from pollstead.election.county import Election
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.plan.terms.version import PlanVersion
from pollstead.reconcile.custody.inventory import tidy
from pollstead.reconcile.custody.legs import legs_of, thing_key
from pollstead.reconcile.custody.loads import BOX, WAREHOUSE
from pollstead.reconcile.custody.not_back import NotBackList, not_back
from pollstead.reconcile.custody.places import Held, held_things
from pollstead.reconcile.custody.receiving import OLD_TABLE, TABLE_PREFIX, Sort, ThingLine, site_lines
from pollstead.reconcile.day import SiteDay
from pollstead.show.web.asked_day import day_asked, planned_days
from pollstead.show.web.day import all_days, county_day
from pollstead.show.web.pages.frame import Ask
from pollstead.show.web.ready_view import names_of, present_election


class Meant(Value, frozen=True, kw_only=True):
    """What a scanned code means: a thing of a site's list, another known thing, or a site alone."""

    thing: str = ""
    site: str = ""
    code: str = ""
    line: ThingLine | None = None


class Evening:
    """One operating day with what its sites bring and where everything is, as of one moment.

    Raises `Trouble` before there is a plan.
    """

    def __init__(self, ask: Ask) -> None:
        self.days = planned_days(ask)
        self.election: Election = present_election(ask, self.days)
        self.version: PlanVersion = self.days.version
        self.dates = all_days(self.version, self.election)
        self.date = self._date(ask)
        self.sites: tuple[SiteDay, ...] = self.days.report(self.date).sites
        self.held: dict[str, Held] = held_things(legs_of(self.days.folded))
        self.now_ms = ask.folder.clock()
        self.names = names_of(ask, self.election)
        self.speak = ask.speak
        self._folder = ask.folder

    def _date(self, ask: Ask) -> dt.date:
        # After the last closing the night goes on; before, it is the day that is running.
        return day_asked(ask, self.dates) or county_day(
            self.days, self.version, self.election, ask.folder.clock()
        )

    @functools.cached_property
    def lines(self) -> dict[str, tuple[ThingLine, ...]]:
        """The things of each site by the site's id."""
        return {day.site: site_lines(day, self.held) for day in self.sites}

    @functools.cached_property
    def serials(self) -> dict[str, str]:
        """Serials by the id of a device."""
        return {device.id: device.serial for device in self.election.devices}

    def site(self, key: str) -> SiteDay | None:
        """A site of the day by its id, whatever the capitals; None where it is not open."""
        wanted = tidy(key).removeprefix("SITE/")
        return next((day for day in self.sites if tidy(day.site) == wanted), None)

    def not_back(self) -> NotBackList:
        """What is not back now."""
        return not_back(self.election, self.sites, self.held, self.date, self.now_ms)

    def name(self, person: str, *, shown: bool = True) -> str:
        """A person's name, or the id where no name is known or may be shown."""
        short = person.removeprefix("person/")
        return self.names.get(short, short) if shown else short

    def place_words(self, place: str) -> str:
        """A place or a machine as people say it."""
        if place in self.serials:
            return self.serials[place]
        if place == WAREHOUSE:
            return self.speak.plain(N_("the warehouse"))
        if place == OLD_TABLE:
            return self.speak.plain(N_("a receiving table"))
        if place.startswith(TABLE_PREFIX):
            return self.speak.plain(N_("receiving table {name}"), name=place.removeprefix(TABLE_PREFIX))
        if place.startswith("site/"):
            found = self.site(place)
            return f"{found.site} {found.name}" if found is not None else place.removeprefix("site/")
        return place.replace("/", " ")

    @functools.cached_property
    def _codes(self) -> dict[str, Meant]:
        found: dict[str, Meant] = {}
        for device in self.election.devices:
            found |= self._of_device(device.id, (device.serial, device.tag, device.id))
            for memory in device.memory_devices:
                site = self._stands_at.get(device.id, "")
                found[tidy(memory)] = Meant(thing=thing_key(f"memory/{memory}"), site=site, code=memory)
        for cart in self.election.carts:
            site = cart.site.removeprefix("site/")
            for code in filter(None, (cart.id, cart.tag)):
                found[tidy(code)] = Meant(thing=f"cart/{cart.id}", site=site, code=code)
        for day in self.sites:
            box = f"{BOX}-{day.site}"
            found[tidy(box)] = Meant(thing=f"box/{day.site}", site=day.site, code=box)
            found[tidy(day.site)] = Meant(site=day.site, code=day.site)
            for line in self.lines[day.site]:
                if line.sort is Sort.CASE:
                    # The label of the case says MDC; people type CASE.
                    label = f"MDC-{day.site}"
                    found[tidy(label)] = Meant(thing=line.thing, site=day.site, code=label, line=line)
                found[tidy(line.code)] = Meant(thing=line.thing, site=day.site, code=line.code, line=line)
        return found

    def _of_device(self, device: str, codes: tuple[str, ...]) -> dict[str, Meant]:
        site = self._stands_at.get(device, "")
        return {tidy(code): Meant(thing=device, site=site, code=code) for code in codes if code}

    @functools.cached_property
    def _stands_at(self) -> dict[str, str]:
        return {
            part.device: plan.site
            for plan in self.version.sites
            for station in plan.stations_on(self.date)
            for part in station.parts
            if part.device
        }

    def meant(self, code: str) -> Meant | None:
        """What a code means on this day; None where nothing has it. A sheet means the forms of its site."""
        found = self._codes.get(tidy(code))
        if found is not None:
            return found
        sheet = self._folder.store.sheets.get(tidy(code))
        if sheet is None:
            return None
        site = sheet.site.removeprefix("site/")
        forms = next((x for x in self.lines.get(site, ()) if x.thing.startswith("forms/")), None)
        return Meant(thing=forms.thing if forms else "", site=site, code=code, line=forms)

    @property
    def codes(self) -> int:
        """How many codes mean something on this day."""
        return len(self._codes)

    def like(self, code: str, most: int = 3) -> tuple[str, ...]:
        """Codes of the day that are one edit away from what was read."""
        from rapidfuzz.distance import OSA

        wanted = tidy(code)
        near = (one for one in self._codes if OSA.distance(one, wanted, score_cutoff=1) == 1)
        return tuple(sorted(near))[:most]
