"""Numbers of stations per site and type: what sizing found, what a person fixed, what that costs."""

from __future__ import annotations

from pollstead.election.county import FixedValue
from pollstead.election.identity import make_id
from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.station_type import MOST_STATIONS, SiteKind, StationType
from pollstead.election.words import N_, message
from pollstead.plan.stations.path import VoterPath
from pollstead.plan.terms.lines import (
    SIZED,
    SizingAnswer,
)
from pollstead.plan.terms.overruled import fits_no_row
from pollstead.plan.terms.part import Figure, Reason, plain
from pollstead.plan.terms.version import StageCount

TABLE = "stations"
FIELD = "count"


class FixedCounts:
    """The numbers of stations that people fixed: table `stations`, row ``SITE/TYPE``, field ``count``."""

    def __init__(self, fixed: tuple[FixedValue, ...], known: dict[str, tuple[str, ...]]) -> None:
        """`known` are the station types of each site's kind; a row that names another is not used."""
        self._rows: dict[tuple[str, str], tuple[int, str]] = {}
        self.unused: list[FixedValue] = []
        for value in fixed:
            site, _, station_type = value.row.rpartition("/")
            number = int(value.value) if value.value.isascii() and value.value.isdecimal() else -1
            fits = value.table == TABLE and value.field == FIELD and 0 <= number <= MOST_STATIONS
            if fits and station_type in known.get(site, ()):
                self._rows[site, station_type] = (number, value.reason)
            else:
                self.unused.append(value)

    def of(self, site: str) -> dict[str, int]:
        """The fixed numbers of one site by station type."""
        return {t: number for (s, t), (number, _) in self._rows.items() if s == site}

    def reason(self, site: str, station_type: str) -> str:
        """The person's reason, empty where nothing is fixed."""
        return self._rows.get((site, station_type), (0, ""))[1]

    def notices(self) -> list[Notice]:
        """An open item for each fixed value that fits no row of the plan."""
        wanted = N_("table stations, row SITE/TYPE, field count, a whole number from 0 to 500")
        return [fits_no_row(value, wanted) for value in self.unused]


def site_counts(
    site: str,
    kind: SiteKind,
    path: VoterPath,
    fixed: FixedCounts,
    answer: SizingAnswer,
    free: SizingAnswer | None,
) -> tuple[StageCount, ...]:
    """The numbers of one site in the order in which a voter meets the types.

    `free` is what sizing finds without the person's numbers; `computed` is kept from it.
    """
    found = _by_type(path, answer)
    without = _by_type(path, free) if free is not None else {}
    set_numbers = dict(path.set)
    mine = fixed.of(site)
    counts = []
    for use in kind.uses:
        by_person = use.station_type in mine
        counts.append(
            StageCount(
                station_type=use.station_type,
                step=next((s.stage.value for s in path.sized if s.station_type == use.station_type), ""),
                count=found.get(use.station_type, set_numbers.get(use.station_type, 0)),
                fixed=by_person,
                reason=fixed.reason(site, use.station_type),
                computed=_computed(use.station_type, without, use.minimum, use.fixed) if by_person else None,
            )
        )
    return tuple(counts)


def _computed(station_type: str, without: dict[str, int], minimum: int, by_kind: int | None) -> int:
    return without.get(station_type, minimum if by_kind is None else by_kind)


def _by_type(path: VoterPath, answer: SizingAnswer) -> dict[str, int]:
    numbers = dict(zip(SIZED, answer.counts.by_stage(), strict=True))
    return {staged.station_type: numbers[staged.stage] for staged in path.sized}


def fixed_reasons(
    site: str,
    counts: tuple[StageCount, ...],
    types: dict[str, StationType],
    answer: SizingAnswer,
    free: SizingAnswer | None,
) -> tuple[Reason, ...]:
    """What each number that a person fixed costs against the computed one: days over the limit, money."""
    fixed = [count for count in counts if count.fixed]
    if not fixed or free is None:
        return ()
    cost = sum(count.count * types[count.station_type].cost for count in counts)
    free_cost = sum(
        (count.count if count.computed is None else count.computed) * types[count.station_type].cost
        for count in counts
    )
    return tuple(
        Reason(
            subject=make_id("site", site),
            field=f"{TABLE} {count.station_type}",
            text=message(
                N_("A person fixed {count} ({reason}); without it {computed} would be planned."),
                count=count.count,
                reason=count.reason,
                computed=count.computed or 0,
            ),
            figures=(
                Figure(name=N_("Fixed"), value=plain(count.count), source=N_("a person's decision")),
                Figure(name=N_("Computed"), value=plain(count.computed or 0), source=N_("lines")),
                *_risks(answer, free),
                Figure(name=N_("Cost of all stations of the site"), value=plain(cost)),
                Figure(name=N_("The same without fixed numbers"), value=plain(free_cost)),
            ),
        )
        for count in fixed
    )


def _risks(answer: SizingAnswer, free: SizingAnswer) -> tuple[Figure, Figure]:
    names = (N_("Days over the limit with fixed numbers"), N_("Days over the limit without"))
    return (
        Figure(name=names[0], value=_days(answer), source=N_("simulated")),
        Figure(name=names[1], value=_days(free), source=N_("simulated")),
    )


def _days(answer: SizingAnswer) -> str:
    return f"{answer.figures.risk.over} / {answer.figures.risk.days}"


def accessible_notices(
    site: str, counts: tuple[StageCount, ...], types: dict[str, StationType], wanted: int
) -> list[Notice]:
    """A rule not met where a site has fewer accessible voting stations than the county's rule asks for."""
    found = sum(count.count for count in counts if types[count.station_type].accessible)
    if found >= wanted:
        return []
    return [
        Notice(
            kind=NoticeKind.RULE_NOT_MET,
            rule="accessible-stations",
            subject=make_id("site", site),
            text=message(
                N_("{found} accessible voting stations are planned; the county's rule asks for {wanted}."),
                found=found,
                wanted=wanted,
            ),
            found=plain(found),
            wanted=plain(wanted),
            who_decides="counsel",
            depends=(str(found), str(wanted)),
        )
    ]


def minimum_notices(
    site: str, kind: SiteKind, counts: tuple[StageCount, ...], types: dict[str, StationType]
) -> list[Notice]:
    """A rule not met where a person's number is below what this kind of site has at the least."""
    least = {use.station_type: use.minimum for use in kind.uses}
    return [
        Notice(
            kind=NoticeKind.RULE_NOT_MET,
            rule="stations-minimum",
            subject=f"{make_id('site', site)}/{count.station_type}",
            text=message(
                N_("{found} of {type} are fixed; a site of this kind has at least {wanted}."),
                found=count.count,
                type=types[count.station_type].name,
                wanted=least[count.station_type],
            ),
            found=plain(count.count),
            wanted=plain(least[count.station_type]),
            remedy=message(N_("Give another number, or another kind of site that does without.")),
            owner="coordinator",
            who_decides="election official",
            depends=(str(count.count), str(least[count.station_type])),
        )
        for count in counts
        if count.fixed and count.count < least[count.station_type]
    ]
