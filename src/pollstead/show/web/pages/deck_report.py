"""Compare a device's report over its test decks: two people type what it shows, then see what differs."""

from __future__ import annotations

from typing import Any, ClassVar
from urllib.parse import urlencode

from litestar import Request, Response, get, post

from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.plan.terms.decks import Cell, DeckSet, Line, Total
from pollstead.reconcile.decks.compare import ALWAYS, Comparison
from pollstead.reconcile.decks.runs import DeckRun, DeviceDecks, digest_of_decks
from pollstead.record.kinds.body import Reason
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.deck_words import (
    LINE_WORDS,
    cell_of_id,
    cell_words,
    choice_name,
    contest_words,
    mistake_words,
)
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.pages.decks import devices_now
from pollstead.show.web.pages.entry import TypedValue
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.second import second_person
from pollstead.show.web.typed import DIGITS, Wrong
from pollstead.show.words import fill
from pollstead.work.decks import compared, counter_moves, event_of, observed_in, results_of

HERE = "/decks/report"


class NumberField(Value, frozen=True, kw_only=True):
    """One number to type; `name` is data where it is a choice's, else words of ours."""

    field: str
    name: str
    is_data: bool
    always: bool


class ContestFields(Value, frozen=True, kw_only=True):
    """The numbers of one contest, or of the whole report."""

    title: str
    numbers: tuple[NumberField, ...]


class DifferenceRow(Value, frozen=True, kw_only=True):
    """One number that differs."""

    words: Message
    expected: int
    observed: int


class ComparisonRow(Value, frozen=True, kw_only=True):
    """One comparison of the record, the latest first."""

    utc_ms: int
    matched: bool
    decks: tuple[str, ...]
    ballots: int
    compared: int
    people: tuple[str, ...]
    repeats: bool
    differences: tuple[DifferenceRow, ...]
    explanations: tuple[Message, ...]


class DeckReportPage(Page, frozen=True, kw_only=True):
    """One device: what its report shows, and its comparisons so far."""

    template: ClassVar[str] = "deck_report.html"

    zone: str
    device: str
    site: str
    decks: tuple[str, ...]
    chosen: tuple[str, ...]
    digest: str
    ballots: int
    contests: tuple[ContestFields, ...]
    rows: tuple[ComparisonRow, ...]
    repeats: bool
    reread: bool
    may_enter: bool
    typed: tuple[TypedValue, ...]
    faults: tuple[Wrong, ...]
    done: bool
    cautions: tuple[Caution, ...]


class Table:
    """One device at the table where decks are read."""

    def __init__(self, ask: Ask) -> None:
        self.ask = ask
        self.election, self.all, devices = devices_now(ask)
        wanted = str(ask.query.get("device") or ask.form.text("device"))
        found = next((one for one in devices if one.device == wanted), None)
        if found is None:
            raise Trouble(
                404,
                N_("No counting device of the plan has this id, or no ballot is described for its site."),
                N_("Choose a device from the list."),
                "/decks",
            )
        self.device: DeviceDecks = found
        asked = str(ask.query.get("decks") or ask.form.text("decks"))
        chosen = tuple(key for key in asked.split(",") if key in found.wanted)
        self.decks: DeckSet = self.all.only(chosen or found.wanted)
        self.cells: tuple[Cell, ...] = tuple(total.cell for total in results_of(self.decks).totals)

    @property
    def last(self) -> DeckRun | None:
        """The last comparison of the device."""
        return self.device.last


def report_page(table: Table, faults: tuple[Wrong, ...] = (), *, reread: bool = False) -> DeckReportPage:
    """The page; with `faults` what was typed is kept."""
    ask = table.ask
    fields = [_field(at) for at in range(len(table.cells))]
    typed = (*fields, "before", "after", "second", "reason") if faults else ()
    return DeckReportPage(
        **ask.frame(N_("{serial}: what does its report show?"), serial=table.device.serial),
        zone=table.election.zone_name,
        device=table.device.device,
        site=table.device.site,
        decks=table.device.wanted,
        chosen=table.decks.keys,
        digest=digest_of_decks(table.decks),
        ballots=table.decks.ballots,
        contests=_contests(table),
        rows=tuple(_row(table, run) for run in reversed(table.device.runs)),
        repeats=table.last is not None,
        reread=reread,
        may_enter=ask.may(Capability.STOCK),
        typed=tuple(TypedValue(field=f, value=ask.form.text(f)) for f in typed),
        faults=faults,
        done=bool(ask.query.get("done")) and not faults,
        cautions=for_place(Place.DECKS),
    )


def _field(at: int) -> str:
    return f"n{at}"


def _contests(table: Table) -> tuple[ContestFields, ...]:
    groups: dict[str, list[NumberField]] = {}
    for at, cell in enumerate(table.cells):
        is_data = cell.line is Line.CHOICE
        name = choice_name(table.decks, cell.contest, cell.choice) if is_data else LINE_WORDS[cell.line]
        field = NumberField(field=_field(at), name=name, is_data=is_data, always=cell.line in ALWAYS)
        groups.setdefault(cell.contest, []).append(field)
    return tuple(
        ContestFields(title=contest_words(table.decks, contest) if contest else "", numbers=tuple(numbers))
        for contest, numbers in groups.items()
    )


def _row(table: Table, run: DeckRun) -> ComparisonRow:
    decks = table.all.only(run.decks)
    now = digest_of_decks(decks) == run.digest
    explanations: tuple[Message, ...] = ()
    if now and not run.matched:
        found = compared(decks, observed_in(run, decks))
        explanations = tuple(mistake_words(decks, one) for one in found.explanations)
    differences = tuple(
        DifferenceRow(words=cell_words(decks, cell), expected=expected, observed=observed)
        for name, expected, observed in zip(run.cells, run.expected, run.observed, strict=True)
        if (cell := cell_of_id(name)) is not None
    )
    return ComparisonRow(
        utc_ms=run.utc_ms,
        matched=run.matched,
        decks=run.decks,
        ballots=run.ballots,
        compared=run.compared,
        people=tuple(table.ask.folder.person_name(one) for one in run.people),
        repeats=bool(run.again),
        differences=differences,
        explanations=explanations,
    )


def take_report(table: Table) -> tuple[tuple[Wrong, ...], bool]:
    """Record what was typed; faults, and whether they ask only to read differing numbers again."""
    ask, form = table.ask, table.ask.form
    if form.text("digest") != digest_of_decks(table.decks):
        raise Trouble(
            409,
            N_("The ballots changed since this page was made."),
            N_("Nothing was recorded. Make the deck anew, then type the report."),
            "/decks",
        )
    faults: list[Wrong] = []
    totals: list[Total] = []
    for at, cell in enumerate(table.cells):
        text = form.text(_field(at))
        if DIGITS.fullmatch(text):
            totals.append(Total(cell=cell, count=int(text)))
        elif text or cell.line in ALWAYS:
            words = message(N_("{what}: type the number in digits, 0 too."), what=_name(table, cell))
            faults.append(Wrong(field=_field(at), words=words))
    before, after = (_counter(form.text(name), name, faults) for name in ("before", "after"))
    if (before is None) != (after is None) and not faults:
        words = message(N_("Type the lifetime counter before and after, or leave both blank."))
        faults.append(Wrong(field="before" if before is None else "after", words=words))
    if table.last is not None and not form.text("reason"):
        words = message(N_("Say what was done since the last report of this device."))
        faults.append(Wrong(field="reason", words=words))
    second = second_person(ask)
    if isinstance(second, Wrong):
        faults.append(second)
    if faults or isinstance(second, Wrong):
        return tuple(faults), False
    found = compared(table.decks, tuple(totals), _moved(table, before, after))
    if found.differences and form.text("reread") != "yes":
        return _read_again(table, found), True
    last = table.last
    ask.folder.write(
        event_of(
            table.decks,
            found,
            again=last.event if last is not None else "",
            lifetime_before=before,
            lifetime_after=after,
        ),
        who=ask.person(),
        subject=table.device.device,
        after=(last.event,) if last is not None else (),
        private=Reason(reason=form.text("reason")) if form.text("reason") else None,
        second=second,
    )
    return (), False


def _name(table: Table, cell: Cell) -> str:
    return fill(cell_words(table.decks, cell), table.ask.language)


def _counter(text: str, field: str, faults: list[Wrong]) -> int | None:
    if not text:
        return None
    if DIGITS.fullmatch(text):
        return int(text)
    faults.append(Wrong(field=field, words=message(N_("Type the lifetime counter in digits."))))
    return None


def _moved(table: Table, before: int | None, after: int | None) -> tuple[int, int] | None:
    """By how much the lifetime counter must have moved, and by how much it did."""
    if before is None or after is None:
        return None
    return counter_moves(table.election, table.decks, table.device.station_type), after - before


def _read_again(table: Table, found: Comparison) -> tuple[Wrong, ...]:
    """Each number that differs, without what it should be: most differences are typing errors."""
    places = {cell: _field(at) for at, cell in enumerate(table.cells)}
    return tuple(
        Wrong(
            field=places.get(one.cell, "after"),
            words=message(N_("{what}: read it again on the report."), what=_name(table, one.cell)),
        )
        for one in found.differences
    )


@get(HERE)
@in_thread
def deck_report(request: Request[Any, Any, Any]) -> Response[str]:
    """The report of one device."""
    return answer(*_shown(Table(Ask(request))))


def _shown(table: Table) -> tuple[Ask, DeckReportPage]:
    return table.ask, report_page(table)


@post(HERE)
@in_thread
def take_deck_report(request: Request[Any, Any, Any]) -> Response[Any]:
    """Take what two people read on the report."""
    table = Table(Ask(request))
    faults, reread = take_report(table)
    if faults:
        return answer(table.ask, report_page(table, faults, reread=reread), status=422)
    query = {"device": table.device.device, "decks": ",".join(table.decks.keys), "done": "1"}
    return go(f"{HERE}?{urlencode(query)}#comparisons")
