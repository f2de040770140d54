"""The report for the canvassing body: a worksheet of counts compared, never a return. Set as PDF/UA-1.

The body's name and the report's title are the county's own, from its rules.
"""

from __future__ import annotations

from collections.abc import Callable

import msgspec

from pollstead.election.county import Election
from pollstead.election.instants import Instant
from pollstead.election.rules import RuleLevel
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.reconcile.counts.canvass_version import CanvassVersion, RowState, VersionRow
from pollstead.reconcile.counts.uploads import UploadState
from pollstead.show.canvass_words import (
    machine_cells,
    mode_words,
    plain_number,
    quantity_words,
    serials_of,
    signed,
)
from pollstead.show.cautions import Place, for_place
from pollstead.show.one_paper import Template, paper_or_refusal
from pollstead.show.paper_head import PaperHead
from pollstead.show.words import fill, is_right_to_left, text
from pollstead.work.canvass import Frozen

TEMPLATE = Template("packet", "canvass.typ", "paper")


class PaperTable(Value, frozen=True, kw_only=True):
    """One table of the report: title, a line before it, heads, shares of widths, which columns hold numbers.

    `empty` stands there where it has no row.
    """

    title: str
    lead: str
    heads: tuple[str, ...]
    widths: tuple[int, ...]
    numbers: tuple[int, ...]
    rows: tuple[tuple[str, ...], ...]
    empty: str


class CanvassPaper(PaperHead, frozen=True, kw_only=True):
    """The report; every word in the reader's language."""

    lead: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    tables: tuple[PaperTable, ...]
    cautions: tuple[str, ...]
    sign: tuple[str, ...]


def canvass_paper(
    version: CanvassVersion,
    election: Election,
    *,
    now_ms: int,
    frozen: Frozen | None,
    language: str,
    name_of: Callable[[str], str],
    explained: dict[str, tuple[str, str]],
    paper: str = "letter",
) -> CanvassPaper:
    """The report of a version; `frozen` is None where it was not kept. `explained` are words by event."""

    def say(english: str) -> str:
        return text(english, language)

    def told(template: str, **params: int | str) -> str:
        return fill(message(template, **params), language)

    rules = election.rules
    body, title = (_own(election, rule, say) for rule in ("canvassing-body", "canvass-report-title"))
    at = Instant(utc_ms=now_ms).local(election.zone_name).strftime("%Y-%m-%d %H:%M")
    differ = [
        row for row in version.by_difference() if row.state in (RowState.DIFFERENCE, RowState.TWO_VALUES)
    ]
    missing = sum(row.state is RowState.NOT_READ for row in version.rows)
    kept = (
        told(
            N_("Version {number}, kept {moment} by {person}"),
            number=frozen.number,
            moment=Instant(utc_ms=frozen.utc_ms).local(election.zone_name).strftime("%Y-%m-%d %H:%M"),
            person=name_of(frozen.person),
        )
        if frozen is not None
        else say(N_("As it stands now; not kept as a version"))
    )
    once = sum(one.state is UploadState.ONCE for one in version.machines)
    facts = (
        (say(N_("For")), body),
        (say(N_("Version")), kept),
        (say(N_("Digest")), version.digest),
        (say(N_("Rows that differ")), told(N_("{n} of {all}"), n=len(differ), all=len(version.rows))),
        (say(N_("Rows that miss a number")), str(missing)),
        (say(N_("Machines taken once")), told(N_("{n} of {all}"), n=once, all=len(version.machines))),
    )
    return CanvassPaper(
        title=title,
        county=f"{election.county}, {election.name}",
        as_of=f"{say(N_('As of'))} {at}",
        page=say(N_("page {page} of {pages}")),
        unofficial=say(N_("Unofficial, staff use")),
        practice=say(N_("PRACTICE")) if election.practice else "",
        invented=say(N_("Invented data, for practice and show.")) if election.invented else "",
        language=language,
        right_to_left=is_right_to_left(language),
        paper=paper,
        timestamp=now_ms // 1000,
        lead=(
            told(
                N_("A worksheet of staff counts, no return of any kind. {body} decides."), body=_first(body)
            ),
        ),
        facts=facts,
        tables=(
            _totals(version, say),
            _differences(version, tuple(differ), say, name_of),
            _machines(version, election, say),
            _explanations(version, election, say, name_of, explained),
            _all_rows(version, say),
        ),
        cautions=tuple(say(caution.words) for caution in for_place(Place.CANVASS)),
        sign=(say(N_("Prepared by")), say(N_("Looked at by")), say(N_("Date")))
        if rules.setting("canvassing-body").level is not RuleLevel.ASSUMED
        else (say(N_("Prepared by")), say(N_("Date"))),
    )


def canvass_pdf(paper: CanvassPaper) -> bytes:
    """The PDF, the same bytes for the same paper; raises `PrintFailed` as `paper_or_refusal` does."""
    return paper_or_refusal(TEMPLATE, msgspec.to_builtins(paper))


def _own(election: Election, rule: str, say: Callable[[str], str]) -> str:
    """The county's own words where it set them; else ours, in the reader's language."""
    setting = election.rules.setting(rule)
    return say(str(setting.value)) if setting.level is RuleLevel.ASSUMED else str(setting.value)


def _first(words: str) -> str:
    return words[:1].upper() + words[1:]


def _of(row: VersionRow) -> str:
    return " ".join(filter(None, (row.site, row.name)))


def _numbers(row: VersionRow) -> tuple[str, ...]:
    return (
        plain_number(row.own),
        plain_number(row.received),
        plain_number(row.canvass),
        signed(row.received_difference),
        signed(row.canvass_difference),
    )


_HEADS = (
    N_("Counted"),
    N_("Received"),
    N_("Canvass"),
    N_("less received"),
    N_("less canvass"),
)


def _what(row: VersionRow, say: Callable[[str], str]) -> str:
    return ", ".join(filter(None, (quantity_words(row.quantity, say), mode_words(row.mode, say), row.style)))


def _totals(version: CanvassVersion, say: Callable[[str], str]) -> PaperTable:
    return PaperTable(
        title=say(N_("The county: sum of the sites, received, canvass")),
        lead="",
        heads=(say(N_("Quantity")), *(say(head) for head in _HEADS)),
        widths=(4, 2, 2, 2, 2, 2),
        numbers=(1, 2, 3, 4, 5),
        rows=tuple((_what(row, say), *_numbers(row)) for row in version.totals),
        empty=say(N_("No quantity is counted at any site yet.")),
    )


def _differences(
    version: CanvassVersion,
    rows: tuple[VersionRow, ...],
    say: Callable[[str], str],
    name_of: Callable[[str], str],
) -> PaperTable:
    def state(row: VersionRow) -> str:
        work = version.work_on(row)
        who = name_of(work.who) if work is not None and work.who else ""
        # A row without a difference says why it is here.
        why = "" if row.size else say(row.state.value)
        how_far = ": ".join(filter(None, (say(version.state_of(row).value), who)))
        return "; ".join(filter(None, (why, how_far)))

    return PaperTable(
        title=say(N_("Rows that differ, the largest first")),
        lead=say(
            N_("A difference is the site's number less the other. It says where to read again, no more.")
        ),
        heads=(say(N_("Site")), say(N_("Quantity")), *(say(head) for head in _HEADS), say(N_("How far"))),
        widths=(4, 4, 2, 2, 2, 2, 2, 3),
        numbers=(2, 3, 4, 5, 6),
        rows=tuple((_of(row), _what(row, say), *_numbers(row), state(row)) for row in rows),
        empty=say(N_("No row differs among the numbers that are there.")),
    )


def _machines(version: CanvassVersion, election: Election, say: Callable[[str], str]) -> PaperTable:
    serials = serials_of(election)
    odd = [one for one in version.machines if one.state is not UploadState.ONCE or one.difference]
    rows = []
    for one in odd:
        site, machine, _, memory, state, own, taken, difference = machine_cells(one, say, serials)
        # Each memory device on a line of its own, so that no id is broken at its hyphens.
        shown = (str(site), str(machine), _lines(memory), str(state))
        rows.append((*shown, plain_number(_int(own)), _lines(taken) or "–", signed(_int(difference))))
    rows += [
        ("", "", memory, say(N_("of no list")), "–", str(count), "–") for memory, count in version.strangers
    ]
    return PaperTable(
        title=say(N_("Memory devices not taken once, or with another count")),
        lead="",
        heads=tuple(
            say(head)
            for head in (
                N_("Site"),
                N_("Machine"),
                N_("Memory devices"),
                N_("State"),
                N_("Counted"),
                N_("Taken"),
                N_("Difference"),
            )
        ),
        widths=(1, 3, 3, 3, 2, 3, 2),
        numbers=(4, 6),
        rows=tuple(rows),
        empty=say(N_("Each memory device was taken once, with its machine's count."))
        if version.machines
        else say(N_("No memory device is on any list.")),
    )


def _lines(cell: str | int | None) -> str:
    return str(cell or "").replace(", ", "\n")


def _int(cell: str | int | None) -> int | None:
    return cell if isinstance(cell, int) else None


def _explanations(
    version: CanvassVersion,
    election: Election,
    say: Callable[[str], str],
    name_of: Callable[[str], str],
    explained: dict[str, tuple[str, str]],
) -> PaperTable:
    rows = []
    for one in version.explanations:
        words = ". ".join(filter(None, explained.get(one.event, ("", ""))))
        at = Instant(utc_ms=one.utc_ms).local(election.zone_name).strftime("%Y-%m-%d %H:%M")
        state = say(N_("stands")) if one.stands else say(N_("replaced"))
        rows.append((one.site, words or say(N_("words not kept here")), name_of(one.person), at, state))
    return PaperTable(
        title=say(N_("Explanations that people saved")),
        lead=say(N_("Possible explanations, kept as working notes by the person named.")) if rows else "",
        heads=tuple(say(h) for h in (N_("Site"), N_("Explanation"), N_("Saved by"), N_("When"), N_("State"))),
        widths=(1, 8, 3, 3, 2),
        numbers=(),
        rows=tuple(rows),
        empty=say(N_("Nobody saved an explanation yet.")),
    )


def _all_rows(version: CanvassVersion, say: Callable[[str], str]) -> PaperTable:
    return PaperTable(
        title=say(N_("Every row, by site")),
        lead="",
        heads=(say(N_("Site")), say(N_("Quantity")), *(say(head) for head in _HEADS), say(N_("State"))),
        widths=(4, 4, 2, 2, 2, 2, 2, 3),
        numbers=(2, 3, 4, 5, 6),
        rows=tuple((_of(row), _what(row, say), *_numbers(row), say(row.state.value)) for row in version.rows),
        empty=say(N_("No site has counted anything yet.")),
    )
