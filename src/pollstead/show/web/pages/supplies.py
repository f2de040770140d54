"""What runs out before voting ends: what sites tell, packets on their way, unused ballots by number."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from typing import Any, ClassVar, Final
from urllib.parse import urlencode

from litestar import Request, Response, get, post

from pollstead.election.instants import OperatingDay, format_clock
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.reconcile.happening.supplies import Packet, StubRange, SupplyLine
from pollstead.record.event import Means, Part
from pollstead.record.event import Person as Someone
from pollstead.record.kinds.body import Body
from pollstead.record.kinds.custody import ThingSent
from pollstead.record.kinds.days import ThingReceived
from pollstead.record.kinds.supplies import SupplyPacked, SupplyTold
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.happening_view import Happening, typed_count, typed_minute
from pollstead.show.web.pages.entry import TypedValue
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.pages.not_back import second_person_any
from pollstead.show.web.pages.taking_back import take_back
from pollstead.show.web.typed import Wrong

ITEM_WORDS: Final = (
    ("ballots", N_("ballots")),
    ("ballot_paper", N_("ballot paper")),
    ("toner", N_("toner, in per cent")),
    ("envelopes", N_("provisional envelopes")),
    ("seals", N_("seals")),
    ("pens", N_("pens")),
    ("stickers", N_("stickers")),
    ("other", N_("something else")),
)
FIELDS: Final = (
    *("t-site", "t-item", "t-style", "t-left", "t-at", "t-first", "t-last"),
    *("p-site", "p-item", "p-style", "p-amount", "p-first", "p-last", "p-carrier", "p-by"),
)
SHORT = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,39}")
STYLE = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ._/-]{0,39}")


class LineRow(Value, frozen=True, kw_only=True):
    """One item of a site: words, and how it goes on."""

    item: SupplyLine
    name: str
    words: str


class PacketRow(Value, frozen=True, kw_only=True):
    """One packet: words, who has it, where it was last."""

    item: Packet
    name: str
    words: str
    who: str


class SuppliesPage(Page, frozen=True, kw_only=True):
    """What runs out."""

    template: ClassVar[str] = "supplies.html"

    day: dt.date
    days: tuple[dt.date, ...]
    now_ms: int
    zone: str
    rows: tuple[LineRow, ...]
    urgent: int
    packets: tuple[PacketRow, ...]
    stubs: tuple[StubRange, ...]
    sites: tuple[tuple[str, str], ...]
    items: tuple[tuple[str, str], ...]
    may_tell: bool
    sees_stubs: bool
    undo: str
    typed: tuple[TypedValue, ...]
    faults: tuple[Wrong, ...]
    done: str
    cautions: tuple[Caution, ...]


def supplies_page(ask: Ask, happening: Happening, faults: tuple[Wrong, ...] = ()) -> SuppliesPage:
    """The page; with `faults` what was typed is kept."""
    words = {key: ask.speak.plain(english) for key, english in ITEM_WORDS}
    names = ask.may(Capability.SEE_PEOPLE)

    def person(one: str) -> str:
        return ask.folder.person_name(one) if names else one.removeprefix("person/")

    rows = tuple(
        LineRow(
            item=one,
            name=happening.site_names.get(one.site, ""),
            words=" ".join(filter(None, (words.get(one.item, one.item.replace("_", " ")), one.style))),
        )
        for one in happening.supplies
    )
    typed = tuple(TypedValue(field=f, value=ask.form.text(f)) for f in FIELDS) if faults else ()
    return SuppliesPage(
        **ask.frame(N_("What runs out before voting ends?")),
        day=happening.date,
        days=happening.dates,
        now_ms=happening.now_ms,
        zone=happening.election.zone_name,
        rows=rows,
        urgent=sum(row.item.soon or row.item.not_here for row in rows),
        packets=tuple(
            PacketRow(
                item=one,
                name=happening.site_names.get(one.site, ""),
                words=" ".join(filter(None, (words.get(one.item, one.item), one.style))),
                who=", ".join(person(p) for p in one.last_people),
            )
            for one in happening.packets
        ),
        stubs=happening.stubs if names else (),
        sites=tuple((site, f"{site} {name}") for site, name in happening.site_names.items()),
        items=tuple(words.items()),
        may_tell=ask.may(Capability.TELL),
        sees_stubs=names,
        undo=ask.query.get("undo", "") if not faults else "",
        typed=typed or (TypedValue(field="t-at", value=format_clock(happening.now_min)),),
        faults=faults,
        done=ask.query.get("done", "") if not faults else "",
        cautions=for_place(Place.SUPPLIES),
    )


def _common(ask: Ask, happening: Happening, p: str, count: str) -> tuple[list[Wrong], int | None]:
    """What is wrong with the fields that both forms have, and the number."""
    form, faults = ask.form, []
    wrong = happening.site_wrong(f"{p}-site", form.text(f"{p}-site"))
    if wrong is not None:
        faults.append(wrong)
    if form.text(f"{p}-item") not in dict(ITEM_WORDS):
        faults.append(Wrong(field=f"{p}-item", words=message(N_("Choose the item."))))
    number = typed_count(form.text(f"{p}-{count}"), f"{p}-{count}")
    if isinstance(number, Wrong) or number is None:
        faults.append(
            Wrong(field=f"{p}-{count}", words=message(N_("Type a whole number, 0 where none is left.")))
        )
    if form.text(f"{p}-style") and not STYLE.fullmatch(form.text(f"{p}-style")):
        faults.append(Wrong(field=f"{p}-style", words=message(N_("Type the style's short name."))))
    for end in ("first", "last"):
        typed = form.text(f"{p}-{end}")
        if typed and not SHORT.fullmatch(typed):
            words = message(N_("Type the number on the stub, letters and digits."))
            faults.append(Wrong(field=f"{p}-{end}", words=words))
    return faults, number if isinstance(number, int) else None


def take_telling(ask: Ask, happening: Happening) -> tuple[Wrong, ...] | str:
    """A site tells how much is left."""
    form = ask.form
    faults, left = _common(ask, happening, "t", "left")
    minute = typed_minute(form.text("t-at"), "t-at")
    if isinstance(minute, Wrong):
        faults.append(minute)
    if faults or left is None or isinstance(minute, Wrong):
        return tuple(faults)
    body = SupplyTold(
        item=form.text("t-item"),
        style=form.text("t-style"),
        left=left,
        at_min=minute,
        stub_first=form.text("t-first"),
        stub_last=form.text("t-last"),
    )
    site = f"site/{form.text('t-site')}"
    return _write(ask, happening, body, site, site)


def take_packet(ask: Ask, happening: Happening) -> tuple[Wrong, ...] | str:
    """A packet goes to a site: what is in it, and who carries it."""
    form = ask.form
    faults, amount = _common(ask, happening, "p", "amount")
    carrier = second_person_any(ask, "p-carrier")
    if isinstance(carrier, Wrong):
        faults.append(carrier)
    typed = form.text("p-by")
    by = typed_minute(typed, "p-by") if typed else None
    if isinstance(by, Wrong):
        faults.append(by)
    if faults or amount is None or isinstance(carrier, Wrong) or isinstance(by, Wrong):
        return tuple(faults)
    given = (one.thing.rpartition("/")[2] for one in happening.packets)
    number = 1 + max((int(text) for text in given if text.isdigit()), default=0)
    thing, site = f"supply/{happening.day}/{number}", f"site/{form.text('p-site')}"
    packed = SupplyPacked(
        to_site=site,
        item=form.text("p-item"),
        amount=amount,
        style=form.text("p-style"),
        stub_first=form.text("p-first"),
        stub_last=form.text("p-last"),
    )
    event = _write(ask, happening, packed, thing, site)
    day = OperatingDay(date=happening.date, zone_name=happening.election.zone_name)
    sent = ThingSent(
        from_place="place/office",
        to_place=site,
        expected_utc_ms=None if by is None else day.at_wall_clock(by).utc_ms,
    )
    _write(
        ask,
        happening,
        sent,
        thing,
        site,
        (Someone(person=carrier, means=Means.NAME_ONLY, part=Part.RECEIVER),),
    )
    return event


def take_received(ask: Ask, happening: Happening) -> str:
    """A packet is at its site."""
    thing = ask.form.text("thing")
    packet = next((one for one in happening.packets if one.thing == thing and one.state != "received"), None)
    if packet is None:
        raise Trouble(409, N_("This packet is there already."), N_("Look at the list again."), "/supplies")
    site = f"site/{packet.site}"
    givers = tuple(Someone(person=p, means=Means.NAME_ONLY, part=Part.GIVER) for p in packet.last_people[:1])
    return _write(ask, happening, ThingReceived(place=site, state="received"), thing, site, givers)


def take_undo(ask: Ask, happening: Happening) -> str:
    """Take what was written back by a correction."""
    return take_back(ask, happening.folded, ("supply.told", "supply.packed", "thing.received"), "/supplies")


def _write(
    ask: Ask, happening: Happening, body: Body, subject: str, site: str, hands: tuple[Someone, ...] = ()
) -> str:
    return ask.folder.write(
        body, who=ask.person(), subject=subject, site=site, day=happening.day, hands=hands
    ).id


ACTS: Final[dict[str, Callable[[Ask, Happening], tuple[Wrong, ...] | str]]] = {
    "tell": take_telling,
    "pack": take_packet,
    "received": take_received,
    "undo": take_undo,
}


@get("/supplies")
@in_thread
def supplies(request: Request[Any, Any, Any]) -> Response[str]:
    """What runs out."""
    ask = Ask(request)
    return answer(ask, supplies_page(ask, Happening(ask)))


@post("/supplies")
@in_thread
def take_supplies(request: Request[Any, Any, Any]) -> Response[Any]:
    """Take what was told of supplies."""
    ask = Ask(request)
    act = ACTS.get(ask.form.text("do"))
    if act is None:
        raise Trouble(400, N_("This form is not known here."), N_("Open the page again."), "/supplies")
    happening = Happening(ask)
    done = act(ask, happening)
    if isinstance(done, tuple):
        return answer(ask, supplies_page(ask, happening, done), status=422)
    do = ask.form.text("do")
    query = {"day": happening.day, "done": do, "undo": "" if do == "undo" else done}
    return go(f"/supplies?{urlencode({k: v for k, v in query.items() if v})}")
