"""One order for the tables of an election, so that the order of a file's rows changes no digest."""

from __future__ import annotations

from typing import Any, TypeVar

import msgspec

from pollstead.election.canonical import canonical_bytes
from pollstead.election.county import Election
from pollstead.election.values import Value

V = TypeVar("V", bound=Value)


def in_order(election: Election) -> Election:
    """The election with every table in the order of its ids, or of its whole rows where there is no id.

    The order inside a row (uses of a kind of site, lines of a sheet) is the county's and stays.
    """

    def by_id(row: Any) -> str:
        return str(row.id)

    return msgspec.structs.replace(
        election,
        rules=msgspec.structs.replace(
            election.rules, settings=tuple(sorted(election.rules.settings, key=lambda s: s.rule))
        ),
        station_types=tuple(sorted(election.station_types, key=by_id)),
        site_kinds=tuple(sorted(election.site_kinds, key=by_id)),
        sites=tuple(sorted(election.sites, key=by_id)),
        precincts=tuple(sorted(election.precincts, key=by_id)),
        devices=tuple(sorted(election.devices, key=by_id)),
        people=tuple(sorted(election.people, key=by_id)),
        arrivals=tuple(sorted(election.arrivals, key=lambda a: (a.hour, a.share_ppm))),
        history=tuple(
            sorted(election.history, key=lambda h: (h.date, h.election, h.mode, h.unit, h.ballots))
        ),
        fleet_totals=tuple(sorted(election.fleet_totals, key=lambda f: (f.kind, f.count, f.source))),
        seal_ranges=tuple(
            sorted(election.seal_ranges, key=lambda r: (r.seal_kind, r.series, r.first, r.last))
        ),
        closure_seals=tuple(
            sorted(
                election.closure_seals,
                key=lambda s: (s.device, s.closure, s.position, str(s.counts_from or ""), s.number),
            )
        ),
        fixed=tuple(sorted(election.fixed, key=lambda f: (f.table, f.row, f.field, f.value))),
        rooms=_by(election.rooms, "site", "id"),
        room_corners=_by(election.room_corners, "site", "room", "number"),
        doors=_by(election.doors, "site", "room", "id"),
        circuits=_by(election.circuits, "site", "id"),
        outlets=_by(election.outlets, "site", "room", "id"),
        ports=_by(election.ports, "site", "room", "id"),
        site_access=_by(election.site_access, "site"),
        site_survey=_by(election.site_survey, "site"),
        site_routes=_by(election.site_routes, "site"),
        site_voters=_by(election.site_voters, "site"),
        site_times=_by(election.site_times, "site", "date", "from_min", "kind", "to_min", "what", "settled"),
        vehicles=_by(election.vehicles, "id"),
        delivery_stops=_by(election.delivery_stops, "date", "vehicle", "stop", "site"),
        seal_receipts=_by(election.seal_receipts, "seal_kind", "series", "first", "id"),
        label_stock=_by(election.label_stock, "id"),
        seal_voids=_by(election.seal_voids, "seal_kind", "number", "reason"),
        seal_returns=_by(election.seal_returns, "seal_kind", "first", "last", "site"),
        seal_blocks=_by(election.seal_blocks, "site", "seal_kind", "first", "last"),
        early_devices=_by(election.early_devices, "device_kind", "site", "use"),
        carts=_by(election.carts, "id"),
        tasks=_by(election.tasks, "id"),
        holidays=_by(election.holidays, "date", "name"),
        site_contacts=_by(election.site_contacts, "site", "person", "part"),
        ready_weights=_by(election.ready_weights, "question"),
        incident_kinds=_by(election.incident_kinds, "id"),
        reading_errors=_by(election.reading_errors, "kind", "from_", "to"),
        fault_odds=_by(election.fault_odds, "kind"),
        next_acts=_by(election.next_acts, "act"),
        form_lines=_by(election.form_lines, "term", "form", "line"),
        style_sheets=_by(election.style_sheets, "style"),
        contests=_by(election.contests, "id"),
        choices=_by(election.choices, "contest", "order", "id"),
        ballot_contests=_by(election.ballot_contests, "style", "precinct", "order", "contest"),
        assumptions=tuple(sorted(election.assumptions, key=canonical_bytes)),
    )


def _by(rows: tuple[V, ...], *fields: str) -> tuple[V, ...]:
    """The rows in the order of some of their fields."""
    return tuple(sorted(rows, key=lambda row: tuple(getattr(row, field) for field in fields)))
