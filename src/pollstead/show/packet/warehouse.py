"""Sheets of the warehouse: the seal range sheet with the blocks for each bag, and a list for each cart.

Both hold numbers that must not lie beside blank sheets: each is a file of its own and goes into no packet.
"""

from __future__ import annotations

from typing import NamedTuple

from pollstead.election.county import Election
from pollstead.election.instants import Instant
from pollstead.election.words import N_
from pollstead.plan.seals.ledger import At, Ledger, Stretch
from pollstead.plan.stations.carts import CartList
from pollstead.plan.terms.version import SheetKind
from pollstead.show.cautions import Place
from pollstead.show.packet.common import line, tick
from pollstead.show.packet.content import (
    Block,
    Cell,
    Column,
    Heading,
    Print,
    Sheet,
    Signatures,
    Table,
    Words,
)
from pollstead.show.packet.page_words import page_marks, page_words
from pollstead.show.packet.wording import Say, sheet_serial
from pollstead.work.stock import StockReport

WAREHOUSE = "warehouse"
LONG_STRETCH = 10
"""Fewer seals in a row than this are left-overs and share one row."""


class Printing(NamedTuple):
    """What stands on every page: county, plan version, moment, language, paper."""

    election: Election
    digest: str
    printed_at: Instant
    language: str
    paper: str = "letter"


def range_sheet(given: Printing, report: StockReport) -> Print:
    """Every stretch of seals in the store, then each site's bag: what goes out, what comes back."""
    say = Say(given.language)
    blocks: list[Block] = [say.cautions(Place.SEALS), Heading(words=say(N_("In the store")))]
    blocks.append(_stretches(say, report.ledger))
    blocks.append(Heading(words=say(N_("Bags of the sites; each row is one label"))))
    rows: list[tuple[Cell, ...]] = []
    for bag in report.bags.bags:
        for block in bag.blocks:
            rows.append(
                (
                    Cell(words=block.site, strong=True),
                    Cell(words=block.seal_kind),
                    Cell(words=f"{block.first} – {block.last}", whole=True),
                    Cell(words=f"{block.count:,}"),
                    Cell(fields=(line(),)),
                    Cell(fields=(line(),)),
                    Cell(fields=(line(),)),
                )
            )
        if bag.short:
            rows.append(
                (
                    Cell(words=bag.site, strong=True),
                    Cell(words=bag.seal_kind),
                    Cell(words=say(N_("{count} seals lack for this bag."), count=bag.short), span=5),
                )
            )
    columns = (
        Column(title=say(N_("Site")), width_mm=18),
        Column(title=say(N_("Kind of seal"))),
        Column(title=say(N_("From, to")), width_mm=46),
        Column(title=say(N_("How many")), width_mm=18),
        Column(title=say(N_("Put in")), width_mm=22),
        Column(title=say(N_("Came back")), width_mm=24),
        Column(title=say(N_("Initials of two")), width_mm=22),
    )
    blocks.append(
        Table(columns=columns, rows=tuple(rows)) if rows else Words(words=say(N_("No bag needs a seal.")))
    )
    blocks.append(_signed(say))
    title = say(N_("Seal range sheet"))
    return warehouse_print(given, say, title, [(SheetKind.SEALS, "RANGES", title, "", tuple(blocks))])


def cart_sheets(given: Printing, carts: tuple[CartList, ...]) -> Print:
    """One list for each cart that holds a device: its serials in order, with tags and a box to tick."""
    say = Say(given.language)
    sheets = []
    for cart in carts:
        if not cart.devices:
            continue
        rows = tuple(
            (
                Cell(fields=(tick(),)),
                Cell(words=str(place)),
                Cell(words=device.serial, strong=True, whole=True),
                Cell(words=device.tag, whole=True),
                Cell(words=device.kind),
                Cell(
                    words=say(N_("goes to another site")) if device.id in cart.away else "",
                    fields=(tick(),),
                ),
            )
            for place, device in enumerate(cart.devices, start=1)
        )
        columns = (
            Column(title=say(N_("Loaded")), width_mm=19),
            Column(title=say(N_("Place")), width_mm=14),
            Column(title=say(N_("Serial")), width_mm=42),
            Column(title=say(N_("Tag")), width_mm=36),
            Column(title=say(N_("Kind of device"))),
            Column(title=say(N_("Arrived")), width_mm=34),
        )
        blocks: tuple[Block, ...] = (
            say.cautions(Place.PACKING),
            Table(columns=columns, rows=rows),
            _signed(say),
        )
        about = say(N_("Cart {cart}"), cart=f"{cart.cart} {cart.tag}".strip())
        if cart.site:
            about = f"{about} · {say(N_('Site {site}'), site=cart.site)}"
        sheets.append((SheetKind.PACKING, f"CART/{cart.cart}", say(N_("Cart list")), about, blocks))
    return warehouse_print(given, say, say(N_("Cart lists")), sheets)


def _stretches(say: Say, ledger: Ledger) -> Block:
    """Long stretches in rows of their own; what is left over here and there stands in one row a kind."""
    free = [stretch for stretch in ledger.stretches if stretch.at is At.STORE]
    if not free:
        return Words(words=say(N_("Nothing lies in the store.")))
    rows: list[tuple[Cell, ...]] = []
    for kind in dict.fromkeys(stretch.shape.seal_kind for stretch in free):
        mine = [stretch for stretch in free if stretch.shape.seal_kind == kind]
        for stretch in mine:
            if stretch.high - stretch.low + 1 >= LONG_STRETCH:
                rows.append(_store_row(kind, f"{stretch.first} – {stretch.last}", [stretch], whole=True))
        few = [stretch for stretch in mine if stretch.high - stretch.low + 1 < LONG_STRETCH]
        if few:
            words = ", ".join(s.first if s.low == s.high else f"{s.first} – {s.last}" for s in few)
            rows.append(_store_row(kind, words, few, whole=False))
    columns = (
        Column(title=say(N_("Kind of seal")), width_mm=34),
        Column(title=say(N_("From, to"))),
        Column(title=say(N_("How many")), width_mm=20),
        Column(title=say(N_("Counted")), width_mm=26),
    )
    return Table(columns=columns, rows=tuple(rows))


def _store_row(kind: str, words: str, stretches: list[Stretch], *, whole: bool) -> tuple[Cell, ...]:
    count = sum(stretch.high - stretch.low + 1 for stretch in stretches)
    return (
        Cell(words=kind),
        Cell(words=words, whole=whole),
        Cell(words=f"{count:,}"),
        Cell(fields=(line(),)),
    )


def _signed(say: Say) -> Signatures:
    return Signatures(
        labels=(say(N_("First person")), say(N_("Second person"))),
        time=say(N_("Finished at")),
        notes=say(N_("Notes")),
    )


def warehouse_print(
    given: Printing,
    say: Say,
    title: str,
    drafts: list[tuple[SheetKind, str, str, str, tuple[Block, ...]]],
) -> Print:
    """Sheets of the warehouse as one file; each draft is kind, key, title, what it is about, blocks."""
    election = given.election
    sheets = tuple(
        Sheet(
            kind=kind,
            key=key,
            serial=sheet_serial(given.digest, WAREHOUSE, key, say.language, election.practice),
            site=say(N_("Warehouse")),
            title=name,
            about=about,
            tags="",
            day="",
            blocks=blocks,
        )
        for kind, key, name, about, blocks in drafts
    )
    return Print(
        title=title,
        language=say.language,
        right_to_left=say.right_to_left,
        paper=given.paper,
        timestamp=election.operating_day(election.election_day).start().utc_ms // 1000,
        words=page_words(election, say, given.digest, given.printed_at),
        marks=page_marks(election, say),
        sheets=sheets,
    )
