"""What the fleet cannot do: what is short, where, and by how much; and sites that wait long all the same."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.words import N_, message
from pollstead.plan.lines.split_tables import Range, uses, within_bounds
from pollstead.plan.lines.words import percent
from pollstead.plan.terms.lines import WHOLE_PPM
from pollstead.plan.terms.part import plain

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pollstead.plan.terms.split import FleetKind, Response, SplitSite

NAMED = 12
"""Sites that a notice names before it counts the others."""


def bare(site: str) -> str:
    """A site's id without its kind."""
    return site.removeprefix("site/")


def listed(names: Sequence[str]) -> str:
    """Names apart by commas, the first ones and how many more."""
    more = len(names) - NAMED
    return ", ".join(names[:NAMED]) + (f" (+ {more})" if more > 0 else "")


def short_notices(
    sites: Sequence[SplitSite], allowed: Sequence[Range], fleet: Sequence[FleetKind]
) -> tuple[Notice, ...]:
    """Why no split exists; empty where each site's least numbers fit its bounds and the fleet."""
    notices = [
        _does_not_fit(site, least)
        for site, least in zip(sites, allowed, strict=True)
        if not within_bounds(site, least.low)
    ]
    for n, kind in enumerate(fleet):
        needs = [(uses(site, least.low)[n], site) for site, least in zip(sites, allowed, strict=True)]
        needed = sum(need for need, _ in needs)
        if needed > kind.available:
            most = sorted(((need, site) for need, site in needs if need), key=lambda x: (-x[0], x[1].key))
            notices.append(_too_few(kind, needed, [(bare(site.id), need) for need, site in most]))
    return tuple(notices)


def _too_few(kind: FleetKind, needed: int, needs: Sequence[tuple[str, int]]) -> Notice:
    return Notice(
        kind=NoticeKind.OPEN_ITEM,
        rule="split-short",
        subject=f"device/{kind.id}",
        text=message(
            N_(
                "The fleet cannot be split: {kind} short by {short}. The least numbers of the sites take "
                "{needed}; of {owned} in service {held} are held back and {elsewhere} stand at stations "
                "with a set number. Least numbers by site: {sites}."
            ),
            kind=kind.id,
            short=needed - kind.available,
            needed=needed,
            owned=kind.owned,
            held=kind.held_back,
            elsewhere=kind.elsewhere,
            sites=listed([f"{site} {need}" for site, need in needs]),
        ),
        found=plain(kind.available),
        wanted=plain(needed),
        remedy=message(
            N_("Hold fewer back, rent or repair devices, or take back a number that a person fixed.")
        ),
        depends=(str(needed), str(kind.available)),
    )


def _does_not_fit(site: SplitSite, least: Range) -> Notice:
    over = next(b for b in site.bounds if sum(a * c for a, c in zip(b.each, least.low, strict=True)) > b.most)
    needed = sum(a * c for a, c in zip(over.each, least.low, strict=True))
    return Notice(
        kind=NoticeKind.OPEN_ITEM,
        rule="split-no-room",
        subject=site.id,
        text=message(
            N_("The least numbers of this site take {needed} {unit} of {what}; there are {most}."),
            needed=needed,
            unit=over.unit,
            what=over.name,
            most=over.most,
        ),
        found=plain(over.most),
        wanted=plain(needed),
        remedy=message(N_("Look at what was typed in, fix a smaller number, or use another room.")),
        depends=(over.name, str(needed), str(over.most)),
    )


def over_limit_notices(sites: Sequence[SplitSite], rows: Sequence[Response], days: int) -> tuple[Notice, ...]:
    """One open item that names the sites whose longest wait passes the limit more often than accepted."""
    found = [
        f"{bare(site.id)} {percent(row.over_days * WHOLE_PPM // days)}"
        for site, row in zip(sites, rows, strict=True)
        if row.over_days * WHOLE_PPM > site.lines.limit.risk_ppm * days
    ]
    if not found:
        return ()
    return (
        Notice(
            kind=NoticeKind.OPEN_ITEM,
            rule="split-over-limit",
            subject="day/split",
            text=message(
                N_(
                    "With this fleet the longest wait passes the limit more often than accepted at {count} "
                    "sites: "
                    "{sites}."
                ),
                count=len(found),
                sites=listed(found),
            ),
            remedy=message(N_("The worth of one more of each kind says what would help most.")),
            depends=tuple(found),
        ),
    )
