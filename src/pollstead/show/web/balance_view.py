"""The balance as a page shows it: each sum, and every number in it with where it was read, by whom, when."""

from __future__ import annotations

from typing import Final

from pollstead.election.county import Election
from pollstead.election.instants import Instant
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.reconcile.counts.balance import BalanceLine, TermValue
from pollstead.reconcile.counts.terms import BY_ID, split_key, style_of
from pollstead.reconcile.opening.labels import device_label
from pollstead.show.web.open_folder import OpenFolder

SOURCES: Final = {
    "screen": N_("from the screen"),
    "report": N_("from the printed report"),
    "memory_device": N_("from the memory device"),
    "hand": N_("counted by hand"),
    "sheet": N_("from a sheet"),
    "file": N_("from a file"),
    "upload": N_("taken in at the central place"),
}
"""From what a number was read, in words; a source of another word is told by that word."""


class OriginShown(Value, frozen=True, kw_only=True):
    """One entry of a number: its value, from what, by whom, at which clock time, on which line of paper."""

    value: int
    source: str
    own_words: bool
    names: tuple[str, ...]
    at: str
    sheet: str
    line: str
    phoned: bool
    event: str


class TermShown(Value, frozen=True, kw_only=True):
    """One number of a sum: whether it is added or taken away, how many times, what it is, who read it."""

    plus: bool
    times: int
    day: str
    words: str
    style: str
    device: str
    origins: tuple[OriginShown, ...]


class BalanceRow(Value, frozen=True, kw_only=True):
    """One sum as evaluated, with its numbers."""

    line: BalanceLine
    terms: tuple[TermShown, ...]


def balance_rows(
    folder: OpenFolder, election: Election, lines: tuple[BalanceLine, ...], *, names: bool
) -> tuple[BalanceRow, ...]:
    """The sums in their order; `names`: whether whoever asks may see who read a number."""
    return tuple(
        BalanceRow(line=line, terms=tuple(_term(folder, election, term, names=names) for term in line.terms))
        for line in lines
    )


def _term(folder: OpenFolder, election: Election, term: TermValue, *, names: bool) -> TermShown:
    day, _, rest = term.key.partition("/") if term.key[:4].isdigit() else ("", "", term.key)
    name, device = split_key(rest)
    return TermShown(
        plus=term.coefficient > 0,
        times=abs(term.coefficient),
        day=day,
        words=BY_ID[name].words if name in BY_ID else name,
        style=style_of(rest),
        device=device_label(device, election) if device else "",
        origins=tuple(
            OriginShown(
                value=reading.value,
                source=SOURCES.get(origin.source, origin.source),
                own_words=origin.source in SOURCES,
                names=tuple(folder.person_name(who) for who in origin.people) if names else (),
                at=Instant(utc_ms=origin.utc_ms).local(election.zone_name).strftime("%H:%M"),
                sheet=origin.sheet,
                line=origin.line,
                phoned=bool(origin.by_phone),
                event=origin.event,
            )
            for reading in term.readings
            for origin in reading.origins
        ),
    )
