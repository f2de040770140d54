"""The packing list: things to pack and how many, with tags to look for."""

from __future__ import annotations

from pollstead.election.words import N_
from pollstead.plan.terms.version import SheetKind
from pollstead.reconcile.custody.near_sites import near_to
from pollstead.show.cautions import Place
from pollstead.show.packet.common import kept, tick
from pollstead.show.packet.content import (
    Block,
    Cell,
    Column,
    Signatures,
    Table,
    Words,
)
from pollstead.show.packet.draft import Draft, key_for
from pollstead.show.packet.given import SiteGiven


def packing(given: SiteGiven) -> Draft:
    """Things to pack and how many, with tags to look for; no serial and no seal number."""
    say = given.say
    rows: list[tuple[Cell, ...]] = []
    group = None
    for thing in given.site_plan.packing:
        if thing.group != group:
            group = thing.group
            rows.append((Cell(words=say(group), strong=True, span=5),))
        tags = ", ".join(given.safe_tags(thing.tags))
        words = kept(given, thing.item)
        if thing.unit != "each":
            words = f"{words} ({thing.unit})"
        rows.append(
            (
                Cell(fields=(tick(),)),
                Cell(words=f"{thing.quantity:,}", strong=True),
                Cell(words=words),
                Cell(words=tags, whole=True),
                Cell(fields=(tick(),)),
            )
        )
    columns = (
        Column(title=say(N_("Packed")), width_mm=19),
        Column(title=say(N_("How many")), width_mm=22),
        Column(title=say(N_("Thing"))),
        Column(title=say(N_("Tags")), width_mm=60),
        Column(title=say(N_("Arrived")), width_mm=20),
    )
    blocks: list[Block] = [say.cautions(Place.PACKING)]
    for near in near_to(given.election, given.site.id):
        words = say(
            N_(
                "Easily taken for another site ({why}): {site} {name}. Read the site on every cart and at "
                "the door."
            ),
            why=say(near.why),
            site=near.site,
            name=near.name,
        )
        blocks.append(Words(words=words, strong=True))
    if rows:
        blocks.append(Table(columns=columns, rows=tuple(rows)))
    else:
        blocks.append(Words(words=say(N_("The plan packs nothing for this site."))))
    blocks.append(
        Signatures(
            labels=(say(N_("Packed by")), say(N_("Received by"))),
            time=say(N_("Time")),
            notes=say(N_("Notes")),
        )
    )
    return Draft(
        kind=SheetKind.PACKING,
        key=key_for(SheetKind.PACKING),
        title=say(N_("Packing list")),
        about="",
        day="",
        blocks=tuple(blocks),
    )
