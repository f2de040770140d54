"""``pollstead hours``: hours assigned, sworn and paid at sites, and when two parties were there. Thin."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import cyclopts

from pollstead.cli.county import Refused, facts_of, store_of, tell
from pollstead.cli.fact_options import By
from pollstead.cli.options import Day
from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pollstead.reconcile.worked import SiteHours, Stretch

LISTS = ("assigned", "sworn", "paid")

app = cyclopts.App(
    name="hours",
    help=text(N_("Compare hours assigned, sworn and paid; say when two parties were there.")),
)


@app.default
def hours(folder: Path, /, *, day: Day = "") -> int:
    """Print what differs of each site's hours on a day. People are named by id; no party is printed."""
    import datetime as dt

    from pollstead.reconcile.worked import hours_notices, site_hours

    try:
        election, _ = facts_of(folder)
        date = dt.date.fromisoformat(day) if day else election.election_day
        with store_of(folder) as store:
            found = site_hours(election, store.fold(), date)
    except Refused as refused:
        return tell(refused)
    except ValueError as error:
        print(str(error), file=sys.stderr)
        return 2
    people = sum(len(site.people) for site in found)
    print(
        fill(
            message(
                N_("{day}: hours of {n} people at {sites} sites."), day=str(date), n=people, sites=len(found)
            )
        )
    )
    for notice in hours_notices(found):
        print(f"- {fill(notice.text)}")
        if notice.remedy is not None:
            print(f"    {fill(notice.remedy)}")
    for site in found:
        for one in site.people:
            if one.untold:
                lists = ", ".join(one.untold)
                print(
                    fill(
                        message(
                            N_("{person} at {site}: not told: {lists}"),
                            person=one.person,
                            site=site.site,
                            lists=lists,
                        )
                    )
                )
    return 0


@app.command
def told(
    folder: Path,
    person: Annotated[str, cyclopts.Parameter(help=text(N_("The person by id, such as P013.")))],
    which: Annotated[str, cyclopts.Parameter(help=text(N_("The list: assigned, sworn or paid.")))],
    spans: Annotated[
        tuple[str, ...],
        cyclopts.Parameter(help=text(N_("Stretches: 06:00-13:30; past midnight 24:40."))),
    ],
    /,
    *,
    site: Annotated[str, cyclopts.Parameter(help=text(N_("The site, such as S01.")))],
    by: By,
    day: Day = "",
    post: Annotated[str, cyclopts.Parameter(help=text(N_("The post there, one word.")))] = "",
) -> int:
    """Write down one person's hours of one list at a site."""
    from pollstead.cli.fact_desk import desk_for, moment_now
    from pollstead.cli.fact_desk import person as author
    from pollstead.election.instants import parse_clock
    from pollstead.record.kinds.canvass import HoursTold, Span

    try:
        election, _ = facts_of(folder)
        own = site.removeprefix("site/")
        known = {one.id for one in election.people}
        who = person.removeprefix("person/")
        if which not in LISTS or own not in {one.id for one in election.sites} or who not in known:
            words = N_("Say a person and a site of the county's tables, and one list of: {known}.")
            print(fill(message(words, known=", ".join(LISTS))), file=sys.stderr)
            return 2
        pairs = [one.partition("-") for one in spans]
        body = HoursTold(
            which=which,  # type: ignore[arg-type]
            post=post,
            spans=tuple(Span(from_min=parse_clock(a), until_min=parse_clock(b)) for a, _, b in pairs),
        )
        with desk_for(folder, author(by), None) as desk:
            said = desk.recorder.record(
                body,
                subject=f"person/{who}",
                site=f"site/{own}",
                day=day or election.election_day.isoformat(),
                people=author(by),
                moment=moment_now(),
            )
    except Refused as refused:
        return tell(refused)
    except ValueError as error:
        print(str(error), file=sys.stderr)
        return 2
    print(f"{said.id[:12]}  {who} {own} {which} {', '.join(spans)}")
    return 0


def hours_objects(sites: Sequence[SiteHours], chosen: set[str]) -> list[dict[str, Any]]:
    """The stable JSON form: people by id, no party."""
    return [
        {
            "site": site.site,
            "two_parties_wanted": _pairs(site.wanted),
            "two_parties_not_told": _pairs(site.alone),
            "without_party": len(site.no_party),
            "people": [
                {
                    "person": one.person,
                    "assigned": _pairs(one.assigned),
                    "sworn": _pairs(one.sworn),
                    "paid": _pairs(one.paid),
                    "sworn_unassigned": _pairs(one.sworn_unassigned),
                    "paid_unsworn": _pairs(one.paid_unsworn),
                    "not_told": list(one.untold),
                    "told_differently": list(one.differing),
                }
                for one in site.people
            ],
        }
        for site in sites
        if site.site in chosen
    ]


def _pairs(stretches: tuple[Stretch, ...]) -> list[list[int]]:
    return [[one.from_min, one.until_min] for one in stretches]
