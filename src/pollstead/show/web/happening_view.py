"""What happens on a day as pages see it: incidents, lost minutes, orders, supplies, as of one moment."""

from __future__ import annotations

import datetime as dt
import functools

from pollstead.election.county import Device, Election
from pollstead.election.incidents import USUAL_KINDS, kinds_of
from pollstead.election.instants import Instant, OperatingDay, parse_hasty_clock
from pollstead.election.words import N_, message
from pollstead.reconcile.custody.legs import legs_of
from pollstead.reconcile.custody.places import held_things
from pollstead.reconcile.day import SiteDay
from pollstead.reconcile.happening.incidents import Incident, incidents_of
from pollstead.reconcile.happening.lost import Lost
from pollstead.reconcile.happening.orders import Order, orders_of
from pollstead.reconcile.happening.site_lost import lost_of_site
from pollstead.reconcile.happening.spread import Spread, calls_begin_min, spreads_of
from pollstead.reconcile.happening.supplies import (
    Packet,
    StubRange,
    SupplyLine,
    packets_of,
    stub_ranges,
    supply_lines,
)
from pollstead.show.web.asked_day import day_asked, planned_days
from pollstead.show.web.day import all_days, county_day
from pollstead.show.web.pages.frame import Ask
from pollstead.show.web.ready_view import present_election
from pollstead.show.web.typed import Wrong

SERVICE_WORDS = (
    ("goes_on", N_("Voters are served")),
    ("slower", N_("Voters are served, more slowly")),
    ("stopped", N_("Voters cannot be served")),
)
STRETCH_WORDS = {
    "late_opening": N_("doors not open"),
    "out_of_service": N_("device out of service"),
}


class Happening:
    """One operating day as it is now. Raises `Trouble` before there is a plan."""

    def __init__(self, ask: Ask) -> None:
        self.days = planned_days(ask)
        self.folded = self.days.folded
        self.election: Election = present_election(ask, self.days)
        self.dates = all_days(self.days.version, self.election)
        asked = day_asked(ask, self.dates)
        self.date: dt.date = asked or county_day(
            self.days, self.days.version, self.election, ask.folder.clock()
        )
        self.sites: tuple[SiteDay, ...] = self.days.report(self.date).sites
        self.now_ms = ask.folder.clock()
        today = OperatingDay(date=self.date, zone_name=self.election.zone_name)
        self.now_min = today.wall_clock_of(Instant(utc_ms=self.now_ms))
        self.speak = ask.speak

    @property
    def day(self) -> str:
        """The day as events name it."""
        return self.date.isoformat()

    @functools.cached_property
    def site_names(self) -> dict[str, str]:
        """Names of the sites of the day by id."""
        return {site.site: site.name for site in self.sites}

    @functools.cached_property
    def kind_words(self) -> dict[str, str]:
        """The county's kinds of incident in the reader's language, in its own order."""
        usual = {kind.id: kind.words for kind in USUAL_KINDS}
        return {
            kind.id: self.speak.plain(kind.words) if usual.get(kind.id) == kind.words else kind.words
            for kind in kinds_of(self.election.incident_kinds)
        }

    def what_words(self, what: str) -> str:
        """A kind of incident or stretch as people say it."""
        if what in STRETCH_WORDS:
            return self.speak.plain(STRETCH_WORDS[what])
        return self.kind_words.get(what, what.replace("_", " "))

    @functools.cached_property
    def serials(self) -> dict[str, str]:
        """Serials by the id of a device."""
        return {device.id: device.serial for device in self.election.devices}

    @functools.cached_property
    def incidents(self) -> tuple[Incident, ...]:
        """The incidents of the day."""
        return incidents_of(self.folded, self.date)

    @functools.cached_property
    def orders(self) -> tuple[Order, ...]:
        """The orders of the day."""
        return orders_of(self.folded, self.date)

    @functools.cached_property
    def begins_min(self) -> int:
        """From when on something may be told: crews inside before the first opening that the county set."""
        first = min((s.opened.set_min for s in self.sites if s.opened.set_min is not None), default=0)
        return calls_begin_min(first, self.election.rules)

    @functools.cached_property
    def spreads(self) -> tuple[Spread, ...]:
        """What came from several sites in a short stretch."""
        return spreads_of(self.incidents, self.election.rules, self.begins_min)

    @functools.cached_property
    def lost(self) -> tuple[Lost, ...]:
        """The lost minutes of each site that has some, most first."""
        found = []
        for site in self.sites:
            opens, closes = site.opened.set_min, site.closed.set_min
            if opens is None or closes is None:
                continue
            found.append(
                lost_of_site(
                    self.folded,
                    self.date,
                    site.site,
                    self.incidents,
                    hours=(opens, closes),
                    told=site.opened.values,
                    now_min=self.now_min,
                )
            )
        some = [one for one in found if one.stretches]
        return tuple(sorted(some, key=lambda one: (-one.site_min, one.site)))

    @functools.cached_property
    def packets(self) -> tuple[Packet, ...]:
        """The packets of supplies of the day."""
        held = held_things(legs_of(self.folded))
        return packets_of(self.folded, held, self.election, self.date, self.now_ms)

    @functools.cached_property
    def supplies(self) -> tuple[SupplyLine, ...]:
        """What is left where, what may run out first at the top."""
        until = {s.site: s.closed.set_min for s in self.sites if s.closed.set_min is not None}
        opened = {s.site: min(s.opened.values) for s in self.sites if s.opened.values}
        return supply_lines(
            self.folded,
            self.election,
            self.date,
            self.packets,
            until=until,
            opened=opened,
            now_min=self.now_min,
        )

    @functools.cached_property
    def stubs(self) -> tuple[StubRange, ...]:
        """Unused numbered ballots as last told."""
        return stub_ranges(self.folded, self.date, self.packets)

    def device(self, typed: str) -> Device | None:
        """The one device that a serial, tag or id names; None where none or several do."""
        wanted = typed.strip().casefold()
        found = [
            d
            for d in self.election.devices
            if wanted in (d.id.casefold(), d.serial.casefold(), d.tag.casefold())
        ]
        return found[0] if wanted and len(found) == 1 else None

    def site_wrong(self, field: str, typed: str) -> Wrong | None:
        """What is wrong with a chosen site, if anything."""
        if typed in self.site_names:
            return None
        return Wrong(field=field, words=message(N_("Choose the site.")))


def typed_minute(typed: str, field: str) -> int | Wrong:
    """A minute of the day as typed; a fault where it is none."""
    try:
        return parse_hasty_clock(typed)
    except ValueError:
        return Wrong(field=field, words=message(N_("Type the time like 14:05; past midnight like 24:40.")))


def typed_count(typed: str, field: str) -> int | Wrong | None:
    """A whole number as typed, None where nothing was; a fault where it is none."""
    if not typed:
        return None
    if typed.isdigit() and typed.isascii() and len(typed) <= 9:
        return int(typed)
    return Wrong(field=field, words=message(N_("Type a whole number, or leave it blank.")))
