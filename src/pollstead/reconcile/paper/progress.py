"""How far the paper of each site is: sheets back, values keyed once, twice, differing, still missing."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable

from pollstead.election.notice import Notice
from pollstead.election.values import Value
from pollstead.plan.terms.version import SheetKind
from pollstead.reconcile.counts.readings import key_of_count
from pollstead.reconcile.day import SiteDay
from pollstead.reconcile.observed import Observation, What
from pollstead.reconcile.paper.differences import AgainstPaper, against_paper, sheet_notices
from pollstead.reconcile.paper.keyed import Keyed, KeyedLine, keyed_lines
from pollstead.reconcile.paper.sheets import (
    Held,
    PrintedSheet,
    SheetBack,
    SheetState,
    sheets_back,
    waited_for,
)
from pollstead.reconcile.paper.wanted import MOST_VALUES, MarkedLine, Wanted, WantedValue, wanted_values


class LineMeaning(Value, frozen=True, kw_only=True):
    """What a line of a printed sheet asks: its term of the balance, and whether there is a value to key.

    `key` is "" for a line that is no term.
    """

    sheet: str
    line: str
    key: str = ""
    has_value: bool = True


class ValueState(Value, frozen=True, kw_only=True):
    """One value to key with how far it is; `lines` are the lines of paper that it was keyed from."""

    value: WantedValue
    state: Keyed
    lines: tuple[KeyedLine, ...]


class SitePaper(Value, frozen=True, kw_only=True):
    """The paper of one site and day.

    `not_back` are the sheets that are still to come, `not_on_paper` terms that no sheet asks for. `lines`
    is all that was keyed. `against` are the lines of paper that another entry contradicts; `marked_only` the
    marked lines that hold no value.
    """

    site: str
    name: str
    date: dt.date
    sheets: tuple[SheetBack, ...]
    not_back: tuple[SheetBack, ...]
    values: tuple[ValueState, ...]
    left_out: tuple[WantedValue, ...]
    not_on_paper: tuple[str, ...]
    lines: tuple[KeyedLine, ...]
    against: tuple[AgainstPaper, ...]
    marked_only: tuple[MarkedLine, ...]
    notices: tuple[Notice, ...]

    def count(self, *states: Keyed) -> int:
        """How many values are in one of these states."""
        return sum(1 for value in self.values if value.state in states)

    @property
    def wanted(self) -> Wanted:
        """The values to key."""
        return Wanted(values=tuple(v.value for v in self.values), left_out=self.left_out)

    @property
    def back(self) -> int:
        """How many sheets lie in boxes, void ones too."""
        return sum(1 for sheet in self.sheets if sheet.here)

    @property
    def done(self) -> bool:
        """Whether every sheet is back and every value was keyed the same by two people."""
        return not self.not_back and self.count(Keyed.AGREED) == len(self.values)


class PaperReport(Value, frozen=True, kw_only=True):
    """The paper of all sites of one day. `strangers` are sheets in boxes that nobody printed here."""

    date: dt.date
    sites: tuple[SitePaper, ...]
    strangers: tuple[Held, ...]

    @property
    def done(self) -> int:
        """How many sites are done."""
        return sum(1 for site in self.sites if site.done)

    def of(self, site: str) -> SitePaper | None:
        """The paper of one site; None where it is not open on the day."""
        return next((one for one in self.sites if one.site == site), None)


def paper_report(
    date: dt.date,
    days: Iterable[SiteDay],
    sheets: tuple[PrintedSheet, ...],
    void: dict[str, str],
    held: dict[str, tuple[Held, ...]],
    meanings: tuple[LineMeaning, ...] = (),
) -> PaperReport:
    """The paper of the sites that are open on `date`.

    `sheets` are all that were ever printed; `meanings` those of the lines of sheets with marked lines and of
    balance sheets that are back. Without them each marked line counts as a value of its own.
    """
    of_site: dict[str, list[SheetBack]] = defaultdict(list)
    for one in sheets_back((s for s in sheets if s.day in ("", date.isoformat())), void, held):
        of_site[one.sheet.site].append(one)
    known = {sheet.serial for sheet in sheets}
    by_line = {(m.sheet, m.line): m for m in meanings}
    return PaperReport(
        date=date,
        sites=tuple(site_paper(day, tuple(of_site[day.site]), by_line) for day in days),
        strangers=tuple(one for words in held.values() for one in words if one.serial not in known),
    )


def site_paper(
    day: SiteDay,
    sheets: tuple[SheetBack, ...],
    meanings: dict[tuple[str, str], LineMeaning],
    most: int = MOST_VALUES,
) -> SitePaper:
    """The paper of one site and day."""
    seen = all_seen(day)
    lines = keyed_lines(seen)
    aside = {o.event for o in day.keyed}
    marked, without = _marked(sheets, meanings)
    wanted = wanted_values(day.balance, marked, most, _on_paper(sheets, meanings))
    devices = (
        frozenset(line.device for line in day.balance.lines if line.device) if day.balance else frozenset()
    )
    return SitePaper(
        site=day.site,
        name=day.name,
        date=day.date,
        sheets=sheets,
        not_back=waited_for(sheets),
        values=tuple(_state(value, lines, devices) for value in wanted.values),
        left_out=wanted.left_out,
        not_on_paper=wanted.not_on_paper,
        lines=lines,
        against=against_paper(lines, (o for o in seen if o.event not in aside)),
        marked_only=without,
        notices=sheet_notices(sheets),
    )


def all_seen(day: SiteDay) -> tuple[Observation, ...]:
    """Everything of a site and day, what does not count yet too, each once."""
    found = {o.event: o for result in day.results for o in result.observations}
    found |= {o.event: o for o in (*day.recorded, *day.keyed)}
    return tuple(sorted(found.values(), key=lambda o: (o.utc_ms, o.event)))


def waiting_keyings(day: SiteDay) -> tuple[Observation, ...]:
    """What was keyed from lines that a second person has still to key: nobody else may see it yet."""
    if not day.keyed:
        return ()
    return tuple(
        seen
        for line in keyed_lines(all_seen(day))
        if line.state is Keyed.ONCE
        for seen in (*line.keyings, *line.again, *line.former)
    )


def _marked(
    sheets: tuple[SheetBack, ...], meanings: dict[tuple[str, str], LineMeaning]
) -> tuple[tuple[MarkedLine, ...], tuple[MarkedLine, ...]]:
    """The marked lines that hold a value, and those that hold none."""
    values: list[MarkedLine] = []
    without: list[MarkedLine] = []
    for one in sheets:
        if one.state is not SheetState.BACK:
            continue  # Nothing is keyed from a void sheet.
        for line in one.different:
            meaning = meanings.get((one.sheet.serial, line))
            marked = MarkedLine(sheet=one.sheet.serial, line=line, key=meaning.key if meaning else "")
            (values if meaning is None or meaning.has_value else without).append(marked)
    return tuple(values), tuple(without)


def _on_paper(
    sheets: tuple[SheetBack, ...], meanings: dict[tuple[str, str], LineMeaning]
) -> frozenset[str] | None:
    """The terms that the balance sheets here ask for; None while none is here or its lines are not known."""
    here = {
        one.sheet.serial
        for one in sheets
        if one.sheet.kind is SheetKind.BALANCE and one.state is SheetState.BACK
    }
    found = frozenset(m.key for m in meanings.values() if m.sheet in here and m.key)
    return found or None


def _state(value: WantedValue, lines: tuple[KeyedLine, ...], devices: frozenset[str]) -> ValueState:
    mine = tuple(line for line in lines if _is_of(value, line, devices))
    states = {line.state for line in mine}
    state = next(
        (s for s in (Keyed.DIFFERS, Keyed.AGREED, Keyed.ONCE) if s in states),
        Keyed.NOT_YET,
    )
    return ValueState(value=value, state=state, lines=mine)


def _is_of(value: WantedValue, line: KeyedLine, devices: frozenset[str]) -> bool:
    if value.sheet == line.sheet and value.line == line.line:
        return True
    seen = next(iter((*line.keyings, *line.former)), None)
    return (
        bool(value.key)
        and seen is not None
        and seen.what is What.COUNT
        and key_of_count(seen, devices) == value.key
    )
