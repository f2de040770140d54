"""Put what was read together into one election, without the rows that contradict one another."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from typing import Any

import msgspec

from pollstead.election.county import Assumption, Device, Election, Hours, Site
from pollstead.election.rules import CountyRules
from pollstead.election.values import Value
from pollstead.intake.files import only
from pollstead.intake.order import in_order
from pollstead.intake.tables import (
    BY_NAME,
    EVERY_SITE,
    TABLES,
    CountyRow,
    HoursRow,
)
from pollstead.intake.taken import EVERY_SITE_NOT_PLANNED, Clash, Taken


def snapshot(
    taken: Taken, county: CountyRow, clashes: tuple[Clash, ...], assumptions: tuple[Assumption, ...]
) -> Election:
    """The snapshot without the rows that contradict one another, in an order that no file's order changes."""
    left_out = {(drop.table, drop.row) for clash in clashes for drop in clash.drops}
    by_type: dict[type[Value], list[Value]] = defaultdict(list)
    table_of = {table.row_type: table.name for table in TABLES}
    for record in taken.records:
        row_type = type(record.value)
        if (table_of[row_type], record.row) not in left_out:
            by_type[row_type].append(record.value)
    sites = only(Site, by_type[Site])
    hours = only(HoursRow, by_type[HoursRow])
    known = {site.id for site in sites}
    devices = tuple(
        # A device keeps its place in the fleet when its decided site is not taken in.
        msgspec.structs.replace(device, fixed="", reason="") if device.fixed not in {"", *known} else device
        for device in only(Device, by_type[Device])
    )
    types = {t.id: t for t in taken.station_types}
    kinds = {k.id: k for k in taken.site_kinds}
    settings = {s.rule: s for s in taken.settings}
    rest = {
        table.name: tuple(by_type[table.row_type])
        for name, table in BY_NAME.items()
        if name not in ("sites", "hours", "devices", "precincts")
    }
    fields: dict[str, Any] = {
        **rest,
        "sites": tuple(msgspec.structs.replace(site, hours=_hours_of(site.id, hours)) for site in sites),
        "precincts": tuple(
            p for p in by_type[BY_NAME["precincts"].row_type] if getattr(p, "site", "") in known
        ),
        "devices": devices,
    }
    return in_order(
        Election(
            county=county.county,
            name=county.name,
            election_day=county.election_day,
            zone_name=county.zone,
            practice=county.practice,
            invented=county.invented,
            rules=CountyRules(settings=tuple(settings.values())),
            station_types=tuple(types.values()),
            site_kinds=tuple(kinds.values()),
            assumptions=assumptions,
            **fields,
        )
    )


def _hours_of(site: str, rows: tuple[HoursRow, ...]) -> tuple[Hours, ...]:
    """The hours of one site: its own row of a date, else the row for every site."""
    by_date: dict[dt.date, HoursRow] = {}
    for row in rows:
        if row.site == site or (row.site == EVERY_SITE and row.date not in by_date):
            by_date[row.date] = row
    return tuple(
        Hours(date=date, opens_min=row.opens_min, closes_min=row.closes_min)
        for date, row in sorted(by_date.items())
    )


def sites_not_planned(listed: tuple[str, ...], clashes: tuple[Clash, ...]) -> tuple[str, ...]:
    named = {site for clash in clashes for site in clash.sites}
    if set(EVERY_SITE_NOT_PLANNED) & named:
        return tuple(sorted(listed))
    return tuple(sorted(named & set(listed)))
