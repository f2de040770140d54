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


def closure_label(closure: str, election: Election) -> str:
    """A closure as people call it: its name and the device's serial; else the id itself.

    ``closure/scanner/0005/lid`` is "lid, LM-S-0005"; a further seal of one closure has its number behind it.
    """
    parts = closure.split("/")
    if len(parts) not in (4, 5) or parts[0] != "closure":
        return closure
    device = "/".join(("device", *parts[1:3]))
    known = next((one for one in election.devices if device in (one.id, f"device/{one.id}")), None)
    if known is None:
        return closure
    names = (
        one.name
        for kind in election.station_types
        if known.kind in {part.device_kind for part in kind.parts}
        for one in kind.closures
        if one.id == parts[3]
    )
    name = next(names, "")
    return ", ".join((name, known.serial, *parts[4:])) if name else closure
