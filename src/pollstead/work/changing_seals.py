"""Re-seal a closure and add seals to the stock, as edits of the tables. Nothing is written here."""

from __future__ import annotations

import datetime as dt
from typing import Final

from pollstead.election.check_characters import CheckScheme, fits
from pollstead.election.seal_checks import SealChecks
from pollstead.election.station_type import Closure
from pollstead.election.words import N_, Message, message
from pollstead.intake.fact_edits import Edit, add_row
from pollstead.plan.seals.spans import shape_of, span_of
from pollstead.plan.terms.version import ExpectedSeal
from pollstead.reconcile.changed.terms import Act, Change
from pollstead.work.changing_cells import cell_edit, plan_of, real_edits, shown
from pollstead.work.changing_terms import Asked, Drafted, Ground
from pollstead.work.county_folder import refuse

NAMED_BY: Final = 2
LONGEST_NUMBER: Final = 9


def reseal(ground: Ground, asked: Asked) -> Drafted:
    """The closure `old` gets the seal number `new`; the number before becomes void, with the reason."""
    seal, device, site, closure = closure_named(ground, asked.old)
    number = asked.new.strip()
    if not number:
        refuse(N_("Give the number that stands on the new seal."))
    if number == seal.number:
        refuse(N_("{number} is the number that is on record for this closure already."), number=number)
    holder = next((s for s in ground.election.closure_seals if s.number == number), None)
    if holder is not None:
        refuse(
            N_("{number} is on record for {closure} of {device}: read the new seal again."),
            number=number,
            closure=holder.closure,
            device=holder.device,
        )
    edits: list[Edit | None] = []
    mine = ground.named("closure_seals", device, closure.id, str(seal.position))
    # A device that was sealed anew after early voting has two rows: the one that is expected here changes.
    rows = [row for row in mine if row.endswith(f" | {seal.number}")] if len(mine) > 1 else list(mine)
    if mine and len(rows) != 1:
        refuse(
            N_("{closure} has {count} rows in closure_seals.csv: enter the new number on the page of tests."),
            closure=closure.name,
            count=len(mine),
        )
    if rows:
        edits.append(cell_edit(ground, "closure_seals", rows[0], "number", number))
    else:
        edits.append(
            add_row(
                "closure_seals",
                {"device": device, "closure": closure.id, "position": str(seal.position), "number": number},
            )
        )
    if seal.number:
        void = {"seal_kind": seal.seal_kind, "number": seal.number, "reason": asked.text("void") or "cut"}
        void |= {"date": ground.today.isoformat(), "people": asked.text("people")}
        edits.append(add_row("seal_voids", void))
    name = _name_of(ground, device)
    where = {"site": ground.election.site(site).name} if site else {}
    words = (
        N_("{site}: {closure} of {device} is sealed anew.")
        if site
        else N_("{closure} of {device} is sealed anew.")
    )
    said = message(words, **where, closure=closure.name, device=name)
    rule = ground.election.rules.choice("second-person-at-opening") == "yes"
    return Drafted(
        change=Change(
            act=Act.RESEAL,
            sites=(site,) if site else (),
            words=said,
            site_words=message(words, **where, closure=closure.name, device=_station_words(ground, device)),
        ),
        edits=real_edits(edits),
        subject=seal.closure,
        warnings=_stock_warnings(ground, seal, number),
        second_person=rule,
    )


def add_stock(ground: Ground, asked: Asked) -> Drafted:
    """A box or roll comes into the stock: its range, and a receipt with who counted, when, which order."""
    kind, series, first, last = (asked.text(name) for name in ("seal_kind", "series", "first", "last"))
    kinds = {c.seal_kind for t in ground.election.station_types for c in t.closures} - {""}
    if kind not in kinds:
        refuse(
            N_("{kind} is no kind of seal that a station type uses. Its kinds: {known}."),
            kind=kind or "?",
            known=", ".join(sorted(kinds)),
        )
    check = _check_asked(ground, kind, series, asked.text("check_character"))
    count = _count(first, last, check)
    span = {"seal_kind": kind, "series": series, "first": first, "last": last}
    book = span if check is CheckScheme.NONE else span | {"check_character": check.value}
    edits = [add_row("seal_ranges", book), add_row("seal_receipts", span | _receipt(ground, asked))]
    said = message(
        N_("Stock of {kind}, series {series}: {count} seals come in."), kind=kind, series=series, count=count
    )
    return Drafted(
        change=Change(act=Act.ADD_STOCK, words=said, site_words=said),
        edits=tuple(edits),
        subject="facts",
        warnings=_receipt_warnings(asked, count),
    )


def _check_asked(ground: Ground, kind: str, series: str, asked: str) -> CheckScheme:
    """The check character of what comes in: as asked, else as its series has it."""
    if asked:
        known = [scheme.value for scheme in CheckScheme]
        if asked not in known:
            refuse(
                N_("A check character is blank or one of {known}: {typed}."),
                known=", ".join(known),
                typed=asked,
            )
        return CheckScheme(asked)
    return next(
        (r.scheme for r in ground.election.seal_ranges if (r.seal_kind, r.series) == (kind, series)),
        CheckScheme.NONE,
    )


def _receipt(ground: Ground, asked: Asked) -> dict[str, str]:
    """What a receipt tells beside its range: a free name, when it was ordered and came, who counted."""
    taken = {row[0] for row in ground.rows_of("seal_receipts")}
    name = next(f"R-{n}" for n in range(1, len(taken) + 2) if f"R-{n}" not in taken)
    ordered, received = (_date(asked.text(field)) for field in ("ordered", "received"))
    return {
        "id": name,
        "quantity": _number(asked.text("quantity")),
        "counted": _number(asked.text("counted")),
        "ordered": ordered,
        "received": received or ground.today.isoformat(),
        "counted_by": asked.text("people"),
        "held_at": asked.text("held_at"),
    }


def _receipt_warnings(asked: Asked, count: int) -> tuple[Message, ...]:
    """What the paper, the range and the people who counted do not say alike; told and never blocked."""
    found = []
    if len(asked.text("people").split()) < NAMED_BY:
        found.append(message(N_("Two people count what comes in: name them, or count again with two.")))
    counted = asked.text("counted")
    if not counted:
        found.append(message(N_("Nobody has counted these seals yet: count the box, then say how many.")))
    elif counted != str(count):
        found.append(
            message(
                N_("The range holds {count} seals and {counted} were counted: look again."),
                count=count,
                counted=counted,
            )
        )
    return tuple(found)


def _number(typed: str) -> str:
    if typed and not (typed.isascii() and typed.isdecimal() and len(typed) <= LONGEST_NUMBER):
        refuse(N_("A number of seals is a whole number, or blank: {typed}."), typed=typed)
    return typed


def _date(typed: str) -> str:
    try:
        return dt.date.fromisoformat(typed).isoformat() if typed else ""
    except ValueError:
        refuse(N_("{typed} is no date. Give it like 2028-09-01."), typed=typed)


def closure_named(ground: Ground, name: str) -> tuple[ExpectedSeal, str, str, Closure]:
    """The seal position that a closure's id names, its device, its site ("" for a spare), its closure."""
    plan = plan_of(ground)
    wanted, _, position = name.partition("#")
    places = [
        (s, station.station_type, station, site.site)
        for site in plan.sites
        for station in site.stations
        for s in station.seals
    ]
    for seal, type_id, station, site in places:
        if seal.closure == wanted and str(seal.position) == (position or "1"):
            closure_id = wanted.rpartition("/")[2]
            closure = next(c for c in ground.election.station_type(type_id).closures if c.id == closure_id)
            owner = next((p.device for p in station.parts if p.part == closure.part and p.device), station.id)
            return seal, owner, site, closure
    for spare in plan.spares:
        for seal in spare.seals:
            if seal.closure == wanted and str(seal.position) == (position or "1"):
                closure_id = wanted.rpartition("/")[2]
                closure = next(
                    c for t in ground.election.station_types for c in t.closures if c.id == closure_id
                )
                return seal, spare.device, "", closure
    refuse(N_("The plan has no closure {name}. Find it by its seal number or by the device."), name=name)


def next_numbers(ground: Ground, seal_kind: str, count: int = 3) -> tuple[str, ...]:
    """The first numbers of a kind of seal in stock that are on no closure and not void."""
    used = {s.number for s in ground.election.closure_seals}
    used |= {row[1] for row in ground.rows_of("seal_voids")}
    found: list[str] = []
    for block in ground.election.seal_ranges:
        span = span_of(seal_kind, block.series, block.first, block.last, "", block.scheme)
        if block.seal_kind != seal_kind or span is None:
            continue
        for number in range(span.low, span.high + 1):
            text = span.shape.text(number)
            if text not in used:
                found.append(text)
                if len(found) == count:
                    return tuple(found)
    return tuple(found)


def _stock_warnings(ground: Ground, seal: ExpectedSeal, number: str) -> tuple[Message, ...]:
    """A number whose check character does not fit, or that lies in no range; a person may know better."""
    if SealChecks.of(ground.election.seal_ranges).misread(seal.seal_kind, number):
        return (message(N_("{number}: its check character does not fit; read it again."), number=number),)
    for block in ground.election.seal_ranges:
        span = span_of(block.seal_kind, block.series, block.first, block.last, "", block.scheme)
        found = shape_of(seal.seal_kind, number, block.scheme)
        if span and found and found[0] == span.shape and span.low <= found[1] <= span.high:
            return ()
    return (
        message(
            N_("{number} lies in no range of {kind} in stock: read it again, or add the range."),
            number=number,
            kind=seal.seal_kind,
        ),
    )


def _count(first: str, last: str, check: CheckScheme) -> int:
    """How many seals lie from `first` to `last`; refuses what is no range of numbers."""
    for number in (first, last):
        if number and not fits(check, number):
            refuse(N_("{number}: its check character does not fit; read it again."), number=number)
    if check is not CheckScheme.NONE:
        span = span_of("", "", first, last, "", check)
        if span is not None:
            return span.count
    if not (first.isdecimal() and last.isdecimal() and len(first) == len(last) and first <= last):
        refuse(
            N_(
                "First and last must be numbers of one length, the first not above the last: {first}, {last}."
            ),
            first=first or "?",
            last=last or "?",
        )
    return int(last) - int(first) + 1


def _name_of(ground: Ground, device: str) -> str:
    found = next((d for d in ground.election.devices if d.id == device), None)
    return device if found is None else shown(found)


def _station_words(ground: Ground, device: str) -> str:
    """A device as paper beside blank sheets may name it: by its kind and tag."""
    found = next((d for d in ground.election.devices if d.id == device), None)
    return device if found is None else " ".join(filter(None, (found.kind, found.tag)))
