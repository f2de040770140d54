"""Letters in a county's facts that no shipped font has: told before a print has to leave a site out."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from pollstead.election.county import Election
from pollstead.election.notice import Notice, NoticeKind, Place
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.show.fonts import missing, named

RULE = "letters-without-font"


def letters_without_font(election: Election) -> tuple[Notice, ...]:
    """An open item for each site, person, device, station type … with such letters in its words.

    Looks at every word that can stand on a sheet; which sheet a device's tag comes to is the plan's to say.
    """
    found: list[Notice] = []
    for subject, file, value in _values(election):
        words = tuple(_texts(msgspec.to_builtins(value)))
        letters = missing("".join(words))
        if letters:
            found.append(
                Notice(
                    kind=NoticeKind.OPEN_ITEM,
                    rule=RULE,
                    subject=subject,
                    text=message(
                        N_(
                            "Letters that the print fonts lack, in {what}: {letters}. "
                            "A site whose sheets need them is not printed."
                        ),
                        what=subject,
                        letters=named(letters),
                    ),
                    remedy=message(
                        N_("Write those words in letters that can be printed, or add an open font for them.")
                    ),
                    place=Place(file=file),
                    depends=words,
                )
            )
    return tuple(found)


def _values(election: Election) -> Iterator[tuple[str, str, Value | list[str]]]:
    """What stands on sheets: how a notice names it, the file it comes from, the value itself."""
    yield "county", "county.toml", [election.county, election.name]
    for site in election.sites:
        yield f"sites/{site.id}", "sites.csv", site
    for person in election.people:
        yield f"people/{person.id}", "people.csv", person
    for device in election.devices:
        yield f"devices/{device.id}", "devices.csv", device
    for kind in election.station_types:
        yield f"station_types/{kind.id}", "station_types.toml", kind
    for site_kind in election.site_kinds:
        yield f"site_kinds/{site_kind.id}", "station_types.toml", site_kind
    for fixed in election.fixed:
        yield f"{fixed.table}/{fixed.row}/{fixed.field}", "fixed.csv", [fixed.value, fixed.reason]


def _texts(node: object) -> Iterator[str]:
    if isinstance(node, str):
        yield node
    elif isinstance(node, dict):
        for value in node.values():
            yield from _texts(value)
    elif isinstance(node, list | tuple):
        for value in node:
            yield from _texts(value)
