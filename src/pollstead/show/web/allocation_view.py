"""A split of the fleet as its page shows it: what changes, every number with what holds it, who waits."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.plan.lines.split_compare import what_moved
from pollstead.plan.lines.split_holds import Hold, NumberHeld
from pollstead.plan.lines.words import minutes, percent
from pollstead.plan.stations.counts import FIELD, TABLE
from pollstead.plan.terms.part import plain

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.plan.terms.fresh import EquityRow
    from pollstead.plan.terms.split import Response
    from pollstead.work.splitting import SplitReport

_HOLDS = {
    Hold.FIXED: N_("fixed by a person"),
    Hold.NO_DEVICE: N_("takes no counted machine: as planned"),
    Hold.ONE: N_("one is the least"),
    Hold.LAW_LEAST: N_("least number of law or accessibility"),
    Hold.LEAST: N_("least number of the kind of site"),
    Hold.MOST: N_("most of the kind of site"),
}
_BOUNDS = {"floor": N_("the room: {most} {unit}"), "power": N_("the circuits: {most} {unit}")}


def _more(stations: int) -> str:
    return f"{'+' if stations > 0 else '−'}{abs(stations)}"


class SiteRow(Value, frozen=True, kw_only=True):
    """One site: its changes in words, its waits on fresh days as planned and with the split.

    Waits in minutes as text; `saved_ms` is what all its voters together wait less on a day.
    """

    key: str
    name: str
    changes: tuple[Message, ...]
    mean: tuple[str, str]
    longest: tuple[str, str]
    over: tuple[str, str]
    saved_ms: int


class NumberRow(Value, frozen=True, kw_only=True):
    """One number of one site with what holds it; `row` is its place in the table of stations, "" for none."""

    key: str
    name: str
    first: bool
    row: str
    station_type: str
    has: int
    would: int
    held: tuple[Message, ...]

    @property
    def change(self) -> str:
        """Stations more or fewer, with a sign; "" for none."""
        return _more(self.would - self.has) if self.would != self.has else ""


class GroupRow(Value, frozen=True, kw_only=True):
    """A group of sites: mean wait of a voter in minutes and voters over the limit, before and after."""

    group: str
    sites: int
    now: str
    split: str
    than_county: str
    over: tuple[str, str]


class SpareRow(Value, frozen=True, kw_only=True):
    """The spares of one kind: how many, by which of the two numbers, the chance that they run out.

    `apart`: how many a store in each area would take in all; None where there is one area. `places`: where
    those held would stand.
    """

    kind: str
    owned: int
    held: int
    by_share: int
    by_risk: int
    run_out: str
    hours_between: int
    own: bool
    apart: int | None
    places: tuple[tuple[str, int], ...]


class MoveRow(Value, frozen=True, kw_only=True):
    """One site whose numbers moved since another split."""

    key: str
    name: str
    before: str
    after: str
    words: Message


def site_rows(report: SplitReport, election: Election) -> tuple[SiteRow, ...]:
    """The sites that change, the one that saves most waiting first and the one that waits most more last."""
    if report.answer is None or report.fresh is None:
        return ()
    names = {site.id: site.name for site in election.sites}
    type_names = {t.id: t.name for t in election.station_types}
    types = {one.site: one.types for one in report.staged}
    fresh = {one.site: one for one in report.fresh.sites}
    days = report.fresh.days
    rows = []
    for one in report.answer.sites:
        if not one.changed:
            continue
        on = fresh[one.site]
        rows.append(
            SiteRow(
                key=one.site.removeprefix("site/"),
                name=names.get(one.site, one.site),
                changes=tuple(
                    message(N_("{change} {type}"), change=_more(would - has), type=type_names.get(t, t))
                    for t, has, would in zip(types[one.site], one.has, one.counts, strict=True)
                    if would != has
                ),
                mean=(_mean(on.now, on.voters), _mean(on.split, on.voters)),
                longest=(minutes(on.now.longest_ms // days), minutes(on.split.longest_ms // days)),
                over=(_share(on.now.over_days, days), _share(on.split.over_days, days)),
                saved_ms=(on.now.wait_ms - on.split.wait_ms) // days,
            )
        )
    return tuple(sorted(rows, key=lambda row: (-row.saved_ms, row.key)))


def _mean(response: Response, voters: int) -> str:
    return minutes(response.wait_ms // max(1, voters))


def _share(part: int, whole: int) -> str:
    return percent(part * 1_000_000 // max(1, whole))


def number_rows(report: SplitReport, election: Election, *, every: bool) -> tuple[NumberRow, ...]:
    """Each number that changes, or `every` number of all sites, by id."""
    if report.answer is None:
        return ()
    names = {site.id: site.name for site in election.sites}
    type_names = {t.id: t.name for t in election.station_types}
    types = {one.site: one.types for one in report.staged}
    held: dict[tuple[str, int], list[NumberHeld]] = {}
    for one_held in report.held:
        held.setdefault((one_held.site, one_held.stage), []).append(one_held)
    rows: list[NumberRow] = []
    for one in sorted(report.answer.sites, key=lambda one: one.site):
        if not (every or one.changed):
            continue
        first = True
        for k, (station_type, has, would) in enumerate(
            zip(types[one.site], one.has, one.counts, strict=True)
        ):
            if not station_type or not (has or would) or not (every or has != would):
                continue
            rows.append(
                NumberRow(
                    key=one.site.removeprefix("site/"),
                    name=names.get(one.site, one.site),
                    first=first,
                    row=f"{one.site}/{station_type}",
                    station_type=type_names.get(station_type, station_type),
                    has=has,
                    would=would,
                    held=tuple(held_words(found) for found in held.get((one.site, k), ())),
                )
            )
            first = False
    return tuple(rows)


def fix_address(row: NumberRow) -> str:
    """Where a person sets this number."""
    from urllib.parse import urlencode

    query = urlencode({"table": TABLE, "row": row.row, "field": FIELD})
    return f"/site/{row.key}/fix?{query}"


def held_words(held: NumberHeld) -> Message:
    """What holds a number, in words."""
    if held.hold is Hold.DEVICES:
        return message(N_("no {kind} is left"), kind=held.kind)
    if held.hold is Hold.BOUND:
        return message(_BOUNDS[held.bound], most=plain(held.most), unit=held.unit)
    return message(_HOLDS[held.hold])


def group_rows(rows: tuple[EquityRow, ...]) -> tuple[GroupRow, ...]:
    """Groups of sites, the longest mean wait with the split first."""
    return tuple(
        GroupRow(
            group=row.group,
            sites=row.sites,
            now=minutes(row.now_ms),
            split=minutes(row.split_ms),
            than_county=_signed(row.more_ms),
            over=(percent(row.now_over_ppm), percent(row.split_over_ppm)),
        )
        for row in sorted(rows, key=lambda row: (-row.split_ms, row.group))
    )


def _signed(ms: int) -> str:
    told = minutes(abs(ms))
    return told if told == minutes(0) else f"{'+' if ms > 0 else '−'}{told}"


def spare_rows(report: SplitReport) -> tuple[SpareRow, ...]:
    """The spares of each kind of device; where there are areas, how many go where."""
    return tuple(
        SpareRow(
            kind=one.kind,
            owned=one.owned,
            held=one.held,
            by_share=one.by_share,
            by_risk=one.by_risk,
            run_out=percent(one.run_out_ppm),
            hours_between=one.failures.hours_between,
            own=one.failures.own,
            apart=one.by_zone if len(one.zones) > 1 else None,
            places=tuple((zone.zone, zone.placed) for zone in one.zones if zone.placed)
            if len(one.zones) > 1
            else (),
        )
        for one in report.spares
    )


def move_rows(report: SplitReport, earlier: SplitReport, election: Election) -> tuple[MoveRow, ...]:
    """The sites whose numbers moved since an earlier split, each with the reason; by id."""
    if report.answer is None or earlier.answer is None:
        return ()
    names = {site.id: site.name for site in election.sites}
    moves = what_moved(report.facts, report.answer, earlier.facts, earlier.answer)
    rows = [
        MoveRow(
            key=move.site.removeprefix("site/"),
            name=names.get(move.site, move.site),
            before=_counts(move.before),
            after=_counts(move.after),
            words=move.words,
        )
        for move in moves
    ]
    return tuple(sorted(rows, key=lambda row: row.key))


def _counts(counts: tuple[int, int, int, int]) -> str:
    return " · ".join(str(count) for count in counts if count)
