"""Names that people read for stations and devices, made from ids and the station types."""

from __future__ import annotations

from pollstead.election.county import Election


def station_label(station: str, election: Election) -> str:
    """A station as people call it: the station type's name and its number; else the id itself."""
    parts = station.split("/")
    names = {t.id: t.name for t in election.station_types}
    named = [names[part] for part in parts if part in names]
    early, number = parts[-1].startswith("early-"), parts[-1].removeprefix("early-")
    if named and number.isdigit():
        return f"{named[0]} {number} (early)" if early else f"{named[0]} {number}"
    return station


def device_label(device: str, election: Election) -> str:
    """A device as people call it: kind, serial and tag where the facts have them; else the id itself."""
    for known in election.devices:
        if device in (known.id, f"device/{known.id}"):
            tag = f", {known.tag}" if known.tag else ""
            return f"{known.kind} {known.serial}{tag}"
    return device
