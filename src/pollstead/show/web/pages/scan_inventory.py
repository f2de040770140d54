"""Inventory by scanner: one field, an answer in large words after each scan, stop and go on, the result."""

from __future__ import annotations

import asyncio
from typing import Any, ClassVar, Final
from urllib.parse import urlencode

import msgspec
from litestar import Request, Response, get, post

from pollstead.election.county import Election
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.intake.serial_list import CannotReadList, read_serials
from pollstead.plan.stations.carts import cart_lists
from pollstead.reconcile.custody.inventory import Book, Found, Inventory, ScanAnswer, answer_scan, tidy
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds.days import CorrectionPrivate, EntryCorrected
from pollstead.record.kinds.warehouse import InventoryBegun, InventoryCounted, ThingScanned, ThirdList
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.commands import Command, command_of
from pollstead.show.web.badges import DID as BADGE_DID
from pollstead.show.web.badges import badge_answer
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.likely import Likely
from pollstead.show.web.likely_code import likely_code
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.pages.scan_pair import pair_link
from pollstead.show.web.pages.stock_acts import county_of
from pollstead.show.web.sent_files import read_sent
from pollstead.show.web.typed import SERIAL, Wrong
from pollstead.show.web.uploads import LARGEST_REQUEST_BYTES
from pollstead.work.inventory import SUBJECT, CountOfWarehouse, count_named, counts_of_warehouse, result_of

HERE: Final = "/scan/inventory"
LAST_SHOWN: Final = 8

FOUND: Final = {
    Found.PRESENT: ("square", N_("Here, as in the book")),
    Found.AGAIN: ("half", N_("Counted already")),
    Found.WRONG_PLACE: ("diamond", N_("Belongs in another cart")),
    Found.LOOKS_LIKE: ("diamond", N_("Read it again: not in the book")),
    Found.UNKNOWN: ("cross", N_("Not in the book")),
}
DID: Final = {
    "undo": ("half", N_("Taken back")),
    "nothing": ("ring", N_("Nothing to take back")),
    "place": ("square", N_("Now counting in this cart")),
    "anywhere": ("square", N_("Now counting anywhere")),
    "stop": ("square", N_("Stopped. Everything is kept.")),
    "no-use": ("ring", N_("This card does nothing here")),
    "bad": ("cross", N_("No serial can look like this: scan again")),
    "open": ("square", N_("Ready: scan the first label")),
    "list": ("square", N_("The list is taken in")),
} | BADGE_DID


class LastScan(Value, frozen=True, kw_only=True):
    """What stands in large words: shape, words, the code, the thing it names, what may be meant."""

    shape: str
    words: str
    code: str = ""
    serial: str = ""
    tag: str = ""
    belongs: str = ""
    meant: tuple[str, ...] = ()
    likely: tuple[Likely, ...] = ()


class CountLine(Value, frozen=True, kw_only=True):
    """One count of the list: name, scans, whether it is over."""

    name: str
    scans: int
    over: bool


class InventoryPage(Page, frozen=True, kw_only=True):
    """The list of counts, or one count."""

    template: ClassVar[str] = "scan_inventory.html"

    counts: tuple[CountLine, ...]
    count_name: str
    over: bool
    place: str
    place_words: str
    last: LastScan | None
    recent: tuple[tuple[str, str], ...]
    result: Inventory | None
    third: int
    devices: int
    stopped: bool
    may_change: bool
    cautions: tuple[Caution, ...]
    faults: tuple[Wrong, ...]


def inventory_page(ask: Ask, faults: tuple[Wrong, ...] = ()) -> InventoryPage:
    """The page for the count that the address names, or the list of counts."""
    election, folded = county_of(ask), ask.folder.fold()
    name = str(ask.query.get("count") or ask.form.text("count"))
    count = _count(ask, name) if name else None
    place = str(ask.query.get("place") or ask.form.text("place"))
    did = str(ask.query.get("did") or "")
    return InventoryPage(
        **ask.frame(N_("What is here?")),
        cautions=for_place(Place.LOADING),
        counts=tuple(
            CountLine(name=one.name, scans=len(one.scans), over=one.over)
            for one in counts_of_warehouse(folded)
        ),
        count_name=name,
        over=count is not None and count.over,
        place=place,
        place_words=_cart_words(election, place),
        last=_last(ask, election, count, did) if count is not None else None,
        recent=_recent(election, count) if count is not None else (),
        result=result_of(count, election) if count is not None else None,
        third=len(count.third or ()) if count is not None else 0,
        devices=len(election.devices),
        stopped=did == "stop",
        may_change=ask.may(Capability.STOCK),
        faults=faults,
    )


def _count(ask: Ask, name: str) -> CountOfWarehouse:
    count = count_named(ask.folder.fold(), name)
    if count is None:
        raise Trouble(
            404, N_("There is no count {name}."), N_("This page lists every count."), HERE, name=name
        )
    return count


def _last(ask: Ask, election: Election, count: CountOfWarehouse, did: str) -> LastScan | None:
    """The answer to what was done last: to a card by its own words, to a scan by what the scan is."""
    if did in DID:
        shape, words = DID[did]
        return LastScan(shape=shape, words=words)
    if not count.scans:
        return LastScan(shape=DID["open"][0], words=DID["open"][1])
    scan = count.scans[-1]
    told = answer_scan(Book(election.devices), count.scans[:-1], scan.code, scan.place)
    said = _words(election, told)
    if told.device:
        return said
    likely = likely_code(ask, told.code, told.meant, len(election.devices))
    return msgspec.structs.replace(said, likely=likely)


def _words(election: Election, told: ScanAnswer) -> LastScan:
    shape, words = FOUND[told.found]
    device = next((d for d in election.devices if d.id == told.device), None)
    return LastScan(
        shape=shape,
        words=words,
        code=told.code,
        serial=told.serial,
        tag=device.tag if device is not None else "",
        belongs=_cart_words(election, told.belongs),
        meant=told.meant,
    )


def _recent(election: Election, count: CountOfWarehouse) -> tuple[tuple[str, str], ...]:
    """The last scans, the newest first, each with what it is."""
    book, found = Book(election.devices), []
    start = max(0, len(count.scans) - LAST_SHOWN)
    for number in range(len(count.scans) - 1, start - 1, -1):
        scan = count.scans[number]
        told = answer_scan(book, count.scans[:number], scan.code, scan.place)
        found.append((scan.code, FOUND[told.found][1]))
    return tuple(found)


def _cart_words(election: Election, cart: str) -> str:
    carts = cart_lists(election.devices, election.carts, {}) if cart else ()
    found = next((one for one in carts if one.cart == cart), None)
    if found is None:
        return cart
    site = next((s.name for s in election.sites if s.id == found.site), "")
    return " · ".join(filter(None, (found.tag or found.cart, site)))


def _at(count: str, place: str = "", did: str = "") -> str:
    told = {"count": count, "place": place, "did": did}
    return f"{HERE}?{urlencode({key: value for key, value in told.items() if value})}"


def begin(ask: Ask) -> str:
    """Begin a count; where to go."""
    taken = {count.name for count in counts_of_warehouse(ask.folder.fold())}
    name = next(f"I-{n}" for n in range(1, len(taken) + 2) if f"I-{n}" not in taken)
    ask.folder.write(InventoryBegun(), who=ask.person(), subject=f"{SUBJECT}{name}")
    return _at(name, did="open")


def take_scan(ask: Ask, count: CountOfWarehouse) -> str:
    """One scan: a command card, a cart's label, or a thing; where to go."""
    election, place, code = county_of(ask), ask.form.text("place"), ask.form.text("code").strip()
    command = command_of(code)
    if command is not None:
        return take_command(ask, count, command, place)
    wanted = tidy(code)
    carts = cart_lists(election.devices, election.carts, {})
    cart = next((c for c in carts if wanted and wanted in {tidy(c.cart), tidy(c.tag)}), None)
    if cart is not None:
        return _at(count.name, cart.cart, "place")
    if SERIAL.fullmatch(code) is None:
        return _at(count.name, place, "bad")
    told = answer_scan(Book(election.devices), count.scans, code, place)
    ask.folder.write(
        ThingScanned(code=code, thing=told.device, place=place),
        who=ask.person(),
        subject=f"{SUBJECT}{count.name}",
    )
    return _at(count.name, place)


def take_command(ask: Ask, count: CountOfWarehouse, command: Command, place: str) -> str:
    """What a card does in a count."""
    if command is Command.UNDO:
        return take_back(ask, count, place)
    if command is Command.NEXT:
        return _at(count.name, "", "anywhere")
    if command is Command.STOP:
        return _at(count.name, place, "stop")
    if command is Command.OTHER_PAIR:
        return pair_link(_at(count.name, place))
    return _at(count.name, place, "no-use")


def take_back(ask: Ask, count: CountOfWarehouse, place: str) -> str:
    """Withdraw the newest scan that stands; the record keeps both."""
    if not count.scans:
        return _at(count.name, place, "nothing")
    ask.folder.write(
        EntryCorrected(corrects=count.scans[-1].event, of_kind=ThingScanned.kind, value=FrozenObject({})),
        who=ask.person(),
        subject=f"{SUBJECT}{count.name}",
        private=CorrectionPrivate(reason="Taken back at the scan station"),
    )
    return _at(count.name, place, "undo")


def end(ask: Ask, count: CountOfWarehouse, *, over: bool) -> str:
    """End a count, or open it again."""
    from pollstead.intake.fact_writing import folder_facts

    result = result_of(count, county_of(ask))
    subject = f"{SUBJECT}{count.name}"
    ask.folder.write(
        InventoryCounted(
            over=over,
            present=len(result.present),
            missing=len(result.missing),
            unknown=len(result.unknown),
            doubled=len(result.doubled),
            wrong_place=len(result.wrong_place),
            facts=folder_facts(ask.folder.path).digest,
        ),
        who=ask.person(),
        subject=subject,
        after=ask.folder.fold().heads(subject, InventoryCounted.kind),
    )
    return _at(count.name, did="" if over else "open")


def take_list(ask: Ask, name: str, data: bytes) -> Wrong | str:
    """Take in the list from elsewhere; where to go, or what is wrong with the file."""
    count = _count(ask, name)
    try:
        serials = read_serials(data)
    except CannotReadList as refused:
        return Wrong(field="file", words=refused.said)
    subject = f"{SUBJECT}{count.name}"
    ask.folder.write(
        InventoryBegun(third=len(serials)),
        who=ask.person(),
        subject=subject,
        after=ask.folder.fold().heads(subject, InventoryBegun.kind),
        private=ThirdList(serials=serials),
    )
    return _at(count.name, did="list")


@get(HERE)
@in_thread
def inventory(request: Request[Any, Any, Any]) -> Response[str]:
    """The counts, or one of them."""
    ask = Ask(request)
    return answer(ask, inventory_page(ask))


@post(HERE)
@in_thread
def take_inventory(request: Request[Any, Any, Any]) -> Response[Any]:
    """Begin a count, take a scan, take one back, end the count or open it again."""
    ask = Ask(request)
    what = ask.form.text("do")
    if what == "begin":
        return go(begin(ask))
    count = _count(ask, ask.form.text("count"))
    if what in ("end", "reopen"):
        return go(end(ask, count, over=what == "end"))
    if count.over:
        raise Trouble(409, N_("This count is over."), N_("Open it again first."), _at(count.name))
    if what == "undo":
        return go(take_back(ask, count, ask.form.text("place")))
    place = ask.form.text("place")
    badge = badge_answer(ask, ask.form.text("code"), lambda did, _: _at(count.name, place, did))
    return badge or go(take_scan(ask, count))


@post(f"{HERE}/list", request_max_body_size=LARGEST_REQUEST_BYTES)
async def send_list(request: Request[Any, Any, Any]) -> Response[Any]:
    """Take in a list of serials from elsewhere, to hold the count against it."""
    ask = Ask(request)
    sent = await read_sent(request)
    taken = await asyncio.to_thread(take_list, ask, sent.text("count"), sent.file.data)
    if isinstance(taken, Wrong):
        return await asyncio.to_thread(_refused, ask, taken)
    return go(taken)


def _refused(ask: Ask, fault: Wrong) -> Response[str]:
    return answer(ask, inventory_page(ask, (fault,)), 422)
