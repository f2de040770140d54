"""Receiving tables: what has come to this table, what is missing of the site, who says so; in one screen."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar
from urllib.parse import urlencode

import msgspec
from litestar import Request, Response, get, post

from pollstead.election.values import Value
from pollstead.election.words import N_, Message
from pollstead.plan.receiving.queue import Evening as Drawn
from pollstead.plan.receiving.queue import TablesWait, waits_by_tables
from pollstead.reconcile.custody.near_sites import NearSite, near_to
from pollstead.reconcile.custody.receiving import Sort, ThingLine
from pollstead.reconcile.diagnosis.costs import USUAL_COSTS, Costs, costs_of
from pollstead.reconcile.diagnosis.scanned import diagnose_pair
from pollstead.record.facts import Fold
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.custody_view import Evening
from pollstead.show.web.likely import Likely
from pollstead.show.web.likely_code import likely_code
from pollstead.show.web.misread import MISREAD
from pollstead.show.web.pages.entry import TypedValue
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.pages.receiving_acts import (
    SOURCES,
    Answer,
    Table,
    table_of,
    take_other,
    take_scan,
    take_seals,
    take_word,
    undo_last,
    undone_words,
    witness_wanted,
)
from pollstead.show.web.typed import Wrong

QUEUE_SEED = 2028
MOST_STEPS = 2
"""Two numbers further apart than this are two numbers, not one misread."""
QUEUE_EVENINGS = 100


class Row(Value, frozen=True, kw_only=True):
    """One thing of the site as a row: the line, its machine's serial, who said it and when."""

    line: ThingLine
    machine: str
    by: str
    utc_ms: int | None
    other_tables: tuple[str, ...]


class SiteRow(Value, frozen=True, kw_only=True):
    """One site of the evening: how many of its things are here."""

    site: str
    name: str
    here: int
    wanted: int


class SealsRead(Value, frozen=True, kw_only=True):
    """The seals of the case by each source, and whether they are the same; None until both were read."""

    case: tuple[tuple[str, ...], ...]
    statement: tuple[tuple[str, ...], ...]
    same: bool | None
    steps: tuple[Message, ...] = ()


class ReceivingPage(Page, frozen=True, kw_only=True):
    """A receiving table."""

    template: ClassVar[str] = "receiving.html"

    day: dt.date
    days: tuple[dt.date, ...]
    table: Table
    site: SiteRow | None
    rows: tuple[Row, ...]
    near: tuple[NearSite, ...]
    seals: SealsRead | None
    sites: tuple[SiteRow, ...]
    waits: tuple[TablesWait, ...]
    zone: str
    may_receive: bool
    witness_wanted: bool
    carry: str
    said: Message | None
    shape: str
    event: str
    unknown: str
    said_likely: tuple[Likely, ...]
    typed: tuple[TypedValue, ...]
    faults: tuple[Wrong, ...]
    misread_offered: bool
    cautions: tuple[Caution, ...]


def receiving_page(
    ask: Ask, evening: Evening, table: Table, said: Answer | None = None, faults: tuple[Wrong, ...] = ()
) -> ReceivingPage:
    """The page of one table; with `faults` what was typed is kept."""
    day = evening.site(table.site) if table.site else None
    lines = evening.lines.get(day.site, ()) if day is not None else ()
    names = ask.may(Capability.SEE_PEOPLE)
    unknown = ask.form.text("code") if any(f.field == "code" for f in faults) else ""
    fields = ("code", "second", "giver", "witness", *(f"seals-{one}" for one in SOURCES))
    return ReceivingPage(
        **ask.frame(N_("What has come to this table?")),
        day=evening.date,
        days=evening.dates,
        table=table,
        site=None if day is None else _site_row(evening, day.site, day.name),
        rows=tuple(_row(evening, line, table, names=names) for line in lines),
        near=near_to(evening.election, day.site) if day is not None else (),
        seals=seals_read(evening.days.folded, lines, costs_of(evening.election.reading_errors)),
        sites=tuple(_site_row(evening, one.site, one.name) for one in evening.sites),
        waits=waits_by_tables(Drawn(sites=len(evening.sites)), seed=QUEUE_SEED, evenings=QUEUE_EVENINGS)
        if not table.name
        else (),
        zone=evening.election.zone_name,
        may_receive=ask.may(Capability.RECEIVE),
        witness_wanted=witness_wanted(evening),
        carry=carry(table, site="", giver=""),
        said=said.words if said is not None else None,
        shape=said.shape if said is not None else "ring",
        event=said.event if said is not None else "",
        unknown=unknown,
        said_likely=likely_code(ask, unknown, evening.like(unknown), evening.codes) if unknown else (),
        typed=tuple(TypedValue(field=f, value=ask.form.text(f)) for f in fields)
        if faults
        else tuple(TypedValue(field=f, value=getattr(table, f)) for f in ("second", "giver", "witness")),
        faults=faults,
        misread_offered=any(fault.words.template == MISREAD for fault in faults),
        cautions=for_place(Place.RECEIVING),
    )


def carry(table: Table, **changed: str) -> str:
    """Table, day and people as the query of an address."""
    kept = {"table": table.name, "site": table.site, "day": table.day, "second": table.second}
    kept |= {"giver": table.giver, "witness": table.witness, **changed}
    return urlencode({name: value for name, value in kept.items() if value})


def _site_row(evening: Evening, site: str, name: str) -> SiteRow:
    lines = evening.lines[site]
    return SiteRow(site=site, name=name, here=sum(line.here for line in lines), wanted=len(lines))


def _row(evening: Evening, line: ThingLine, table: Table, *, names: bool) -> Row:
    word = line.word
    people = () if word is None else word.entered_by
    return Row(
        line=line,
        machine=evening.serials.get(line.device, ""),
        by=", ".join(evening.name(person, shown=names) for person in people),
        utc_ms=None if word is None else word.utc_ms,
        other_tables=tuple(evening.place_words(one) for one in line.tables if one != table.place),
    )


def seals_read(folded: Fold, lines: tuple[ThingLine, ...], costs: Costs = USUAL_COSTS) -> SealsRead | None:
    """The case's seals as read on the case and on the statement; None where the site brings no case."""
    case = next((line for line in lines if line.sort is Sort.CASE), None)
    if case is None:
        return None
    read: dict[str, list[tuple[str, ...]]] = {source: [] for source in SOURCES}
    for fact in folded.of_subject(case.thing):
        if fact.name == "case_seals.read":
            for reading in fact.current:
                numbers = () if reading.private is None else reading.private.get("numbers", ())
                read[str(fact.key["source"])].append(tuple(sorted(map(str, numbers))))
    both = {frozenset(one) for one in (*read["case"], *read["statement"])}
    return SealsRead(
        case=tuple(dict.fromkeys(read["case"])),
        statement=tuple(dict.fromkeys(read["statement"])),
        same=len(both) == 1 if read["case"] and read["statement"] else None,
        steps=_steps(read["case"], read["statement"], costs),
    )


def _steps(
    case: list[tuple[str, ...]], statement: list[tuple[str, ...]], costs: Costs
) -> tuple[Message, ...]:
    """How the one number that differs was read on the case, from what the statement says; else nothing."""
    here, there = ({number for one in read for number in one} for read in (case, statement))
    if len(here - there) != 1 or len(there - here) != 1:
        return ()
    steps = diagnose_pair(min(here - there), min(there - here), costs)
    return steps if len(steps) <= MOST_STEPS else ()


ACTS = {"scan": take_scan, "other": take_other, "word": take_word, "seals": take_seals, "undo": undo_last}


@get("/receiving")
@in_thread
def receiving(request: Request[Any, Any, Any]) -> Response[str]:
    """A receiving table."""
    ask = Ask(request)
    undone, table = ask.query.get("undone", ""), table_of(ask)
    said = undone_words(undone, table) if undone else None
    return answer(ask, receiving_page(ask, Evening(ask), table, said=said))


@post("/receiving")
@in_thread
def take_receiving(request: Request[Any, Any, Any]) -> Response[Any]:
    """Take what one of the forms of a table says; the answer is the page, ready for the next scan."""
    ask = Ask(request)
    act = ACTS.get("other" if ask.form.text("other") else ask.form.text("do"))
    table = table_of(ask)
    if act is None or not table.name:
        raise Trouble(400, N_("This form is not known here."), N_("Open the page again."), "/receiving")
    taken = act(ask, Evening(ask), table)
    if isinstance(taken, tuple):
        return answer(ask, receiving_page(ask, Evening(ask), table, faults=taken), status=422)
    if taken.stop:
        return go("/receiving")
    if taken.undone:
        # Sent on, so that a reload takes nothing else back.
        return go(f"/receiving?{carry(table)}&undone={taken.undone}")
    # The page itself answers, so that what was said stands beside the list; the same scan again is told so.
    # Who brought one site's things does not bring the next one's.
    giver = "" if table.site and taken.site != table.site else table.giver
    after = msgspec.structs.replace(table, site=taken.site, giver=giver)
    return answer(ask, receiving_page(ask, Evening(ask), after, said=taken))
