"""The expected list: what must be found, station by station; a print job of its own."""

from __future__ import annotations

from pollstead.election.words import N_
from pollstead.plan.seals.expected import IN_PLACE
from pollstead.plan.terms.version import CARRIED_OVER, ExpectedItem, ExpectedList, SheetKind
from pollstead.show.cautions import Place
from pollstead.show.packet.common import MOMENTS
from pollstead.show.packet.content import (
    Block,
    Cell,
    Column,
    Heading,
    Pair,
    Signatures,
    Table,
    WhenThen,
    Words,
)
from pollstead.show.packet.draft import Draft, key_for
from pollstead.show.packet.given import SiteGiven

WHAT = {
    "serial": N_("serial"),
    "seal": N_("seal"),
    "counter": N_("counter"),
    "clock": N_("clock"),
    "report": N_("report"),
    "memory device": N_("memory device"),
    "date": N_("date"),
}
_VALUES = {
    IN_PLACE: N_("in place"),
    CARRIED_OVER: N_("as written at the last closing"),
    "zero": N_("zero"),
    "right": N_("right"),
}


def expected_sheet(given: SiteGiven, expected: ExpectedList) -> Draft:
    """The expected list of one site and day, with how it is kept apart from the blank sheets first."""
    say = given.say
    blocks: list[Block] = [
        WhenThen(
            title=say(N_("Keep this list apart")),
            pairs=(
                Pair(
                    when=say(N_("Printing")),
                    do=say(N_("A print job of its own, never on the back of a blank sheet.")),
                ),
                Pair(
                    when=say(N_("Packing")),
                    do=say(N_("Its own sealed envelope, never with the blank sheets that it checks.")),
                ),
                Pair(
                    when=say(N_("At the site")),
                    do=say(N_("Opened only after both readers have written what they read.")),
                ),
            ),
        ),
        say.cautions(Place.EXPECTED),
        Signatures(
            labels=(say(N_("Envelope opened by")), say(N_("In the presence of"))),
            time=say(N_("Time")),
            notes="",
        ),
    ]
    by_station: dict[str, list[ExpectedItem]] = {}
    for item in expected.items:
        by_station.setdefault(item.station, []).append(item)
    stations = {station.id: station for station in given.site_plan.stations}
    for station_id, items in by_station.items():
        station = stations.get(station_id)
        title = given.name(station) if station else say(N_("The whole site"))
        tags = given.tags(station) if station else ""
        blocks += [
            Heading(words=f"{title} · {say(N_('tag {tags}'), tags=tags)}" if tags else title),
            _items(given, items),
        ]
    if not expected.items:
        blocks.append(Words(words=say(N_("Nothing is expected by number at this site."))))
    return Draft(
        kind=SheetKind.EXPECTED,
        key=key_for(SheetKind.EXPECTED, expected.date),
        title=say(N_("Expected list")),
        about=say(N_("Never with the blank sheets")),
        day=given.day_words(expected.date),
        blocks=tuple(blocks),
    )


def _items(given: SiteGiven, items: list[ExpectedItem]) -> Table:
    say = given.say
    rows = tuple(
        (
            Cell(words=say(WHAT.get(item.what, item.what))),
            Cell(words=say(item.words)),
            Cell(words=_value(given, item), strong=True),
            Cell(words=say(MOMENTS[item.moment])),
        )
        for item in items
    )
    columns = (
        Column(title=say(N_("What")), width_mm=32),
        Column(title=say(N_("Where"))),
        Column(title=say(N_("Expected")), width_mm=52),
        Column(title=say(N_("When")), width_mm=32),
    )
    return Table(columns=columns, rows=rows)


def _value(given: SiteGiven, item: ExpectedItem) -> str:
    """The expected value as people read it."""
    say = given.say
    if not item.value:
        return say(N_("not recorded yet: call the office"))
    if item.what == "clock" and item.tolerance:
        return say(N_("{value}, give or take {tolerance}"), value=item.value, tolerance=item.tolerance)
    return say(_VALUES[item.value]) if item.value in _VALUES else item.value
