"""Contradictions between the places, people, arrivals and past counts of a county folder.

Each check is a function from what was read to clashes; `CHECKS` is the list of all of them. No
check picks a side: rows that stand against each other are both kept out, and the sites that depend
on them are not planned.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction

from pollstead.election.county import ArrivalShare, PastCount, Person, Precinct, Site
from pollstead.election.notice import Place
from pollstead.election.units import PPM
from pollstead.election.words import N_, message
from pollstead.intake.clashes import Numbered, drops, grouped, row_list
from pollstead.intake.notices import contradicts
from pollstead.intake.records import nearest
from pollstead.intake.taken import EVERY_SITE_NOT_PLANNED, Clash, Drop, Taken


def same_site_id(taken: Taken) -> Iterator[Clash]:
    """Two sites with the same id."""
    for group in grouped(taken.of(Site), lambda s: s.id):
        site = group[0][1].id
        yield Clash(
            notice=contradicts(
                "site-id-twice",
                f"site/{site}",
                Place(file="sites.csv", row=group[1][0], column="id"),
                message(N_("Site {site} stands in rows {rows}"), site=site, rows=row_list(group)),
                found=" / ".join(s.name for _, s in group),
                wanted="each site id once",
                remedy=message(N_("Give one of them an id of its own, or remove the row that is doubled.")),
                depends=tuple(s.name for _, s in group),
            ),
            drops=drops("sites", group),
            sites=(site,),
        )


def unknown_kind_of_site(taken: Taken) -> Iterator[Clash]:
    """A site whose kind, or a kind whose station type, is not described."""
    if not taken.site_kinds:
        return
    kinds = tuple(kind.id for kind in taken.site_kinds)
    for number, site in taken.of(Site):
        if site.kind is not None and site.kind not in kinds:
            yield Clash(
                notice=contradicts(
                    "site-kind-unknown",
                    f"site/{site.id}",
                    Place(file="sites.csv", row=number, column="kind"),
                    message(
                        N_("Site {site} is of kind {kind}, which station_types.toml does not describe"),
                        site=site.id,
                        kind=site.kind,
                    ),
                    found=site.kind,
                    wanted=", ".join(kinds),
                    remedy=message(N_("Correct the kind, or describe it.")),
                ),
                sites=(site.id,),
            )
    types = tuple(kind.id for kind in taken.station_types)
    for kind in taken.site_kinds:
        for use in kind.uses:
            if use.station_type not in types:
                yield Clash(
                    notice=contradicts(
                        "station-type-unknown",
                        f"kind/{kind.id}/{use.station_type}",
                        Place(file="station_types.toml", column=f"site_kind[{kind.id}].use"),
                        message(
                            N_("Kind of site {kind} uses station type {type}, which is not described"),
                            kind=kind.id,
                            type=use.station_type,
                        ),
                        found=use.station_type,
                        wanted=nearest(use.station_type, types) or ", ".join(types),
                        remedy=message(N_("Correct the name, or describe the station type.")),
                    ),
                    sites=tuple(s.id for _, s in taken.of(Site) if s.kind in (None, kind.id)),
                )


def described_twice(taken: Taken) -> Iterator[Clash]:
    """A station type, kind of site or rule that is described twice."""
    for what, file, ids in (
        ("station-type", "station_types.toml", [t.id for t in taken.station_types]),
        ("site-kind", "station_types.toml", [k.id for k in taken.site_kinds]),
        ("rule", "rules.toml", [s.rule for s in taken.settings]),
    ):
        for doubled in sorted({i for i in ids if ids.count(i) > 1}):
            yield Clash(
                notice=contradicts(
                    f"{what}-twice",
                    f"{what}/{doubled}",
                    Place(file=file, column=doubled),
                    message(N_("{name} stands twice in {file}"), name=doubled, file=file),
                    found=doubled,
                    wanted="each once",
                    remedy=message(N_("Remove one of the two.")),
                ),
                sites=EVERY_SITE_NOT_PLANNED,
            )


def precincts(taken: Taken) -> Iterator[Clash]:
    """A precinct at two sites, or at a site that is not listed."""
    sites = tuple(s.id for _, s in taken.of(Site))
    rows = taken.of(Precinct)
    for group in grouped(rows, lambda p: p.id):
        first = group[0][1]
        yield Clash(
            notice=contradicts(
                "precinct-twice",
                f"precinct/{first.id}",
                Place(file="precincts.csv", row=group[1][0], column="id"),
                message(
                    N_("Precinct {precinct} stands in rows {rows}"), precinct=first.id, rows=row_list(group)
                ),
                found=" / ".join(p.site for _, p in group),
                wanted="each precinct once",
                remedy=message(N_("Keep the row that is right.")),
                depends=tuple(p.site for _, p in group),
            ),
            drops=drops("precincts", group),
            sites=tuple(sorted({p.site for _, p in group})),
        )
    if not sites:
        return
    for number, precinct in rows:
        if precinct.site not in sites:
            likely = nearest(precinct.site, sites)
            yield Clash(
                notice=contradicts(
                    "precinct-site-unknown",
                    f"precinct/{precinct.id}",
                    Place(file="precincts.csv", row=number, column="site"),
                    message(
                        N_("Precinct {precinct} votes at site {site}, which sites.csv does not list"),
                        precinct=precinct.id,
                        site=precinct.site,
                    ),
                    found=precinct.site,
                    wanted=likely or "a site id from sites.csv",
                    remedy=message(N_("Correct the site, or add it to sites.csv.")),
                ),
                drops=(Drop(table="precincts", row=number),),
                sites=(likely,) if likely else (),
            )


def people(taken: Taken) -> Iterator[Clash]:
    """A person listed twice, or at a site that is not listed."""
    sites = tuple(s.id for _, s in taken.of(Site))
    rows = taken.of(Person)
    for group in grouped(rows, lambda p: p.id):
        person = group[0][1].id
        yield Clash(
            notice=contradicts(
                "person-twice",
                f"person/{person}",
                Place(file="people.csv", row=group[1][0], column="id"),
                message(N_("Person {person} stands in rows {rows}"), person=person, rows=row_list(group)),
                found=person,
                wanted="each person once",
                remedy=message(N_("Give one of them an id of its own, or remove the row that is doubled.")),
            ),
            drops=drops("people", group),
        )
    for number, human in rows:
        if human.site and sites and human.site not in sites:
            yield Clash(
                notice=contradicts(
                    "person-site-unknown",
                    f"person/{human.id}",
                    Place(file="people.csv", row=number, column="site"),
                    message(
                        N_("Person {person} is at site {site}, which sites.csv does not list"),
                        person=human.id,
                        site=human.site,
                    ),
                    found=human.site,
                    wanted=nearest(human.site, sites) or "a site id from sites.csv",
                    remedy=message(N_("Correct the site.")),
                ),
                drops=(Drop(table="people", row=number),),
            )


def arrivals(taken: Taken) -> Iterator[Clash]:
    """Shares that do not sum to 100 percent beyond rounding; an hour twice; an hour that no clock has."""
    rows = taken.of(ArrivalShare)
    if not rows:
        return
    table_drops = drops("arrivals", rows)
    total = sum(share.share_ppm for _, share in rows)
    if abs(total - PPM) > rounding_ppm([share.share_ppm for _, share in rows]):
        found = f"{float(Fraction(total, 10_000)):g} percent"
        yield Clash(
            notice=contradicts(
                "arrivals-sum",
                "table/arrivals",
                Place(file="arrivals.csv", column="share_percent"),
                message(N_("The shares of arrivals.csv sum to {found}"), found=found),
                found=found,
                wanted="100 percent",
                remedy=message(N_("Correct a share, or add the hour that is missing.")),
                depends=tuple(str(share.share_ppm) for _, share in rows),
            ),
            drops=table_drops,
            sites=EVERY_SITE_NOT_PLANNED,
        )
    for group in grouped(rows, lambda share: share.hour):
        yield _arrival_hour("arrival-hour-twice", group[1], f"rows {row_list(group)}", table_drops)
    for numbered in rows:
        if numbered[1].hour > 47:
            yield _arrival_hour("arrival-hour", numbered, str(numbered[1].hour), table_drops)


def _arrival_hour(
    rule: str, numbered: tuple[int, ArrivalShare], found: str, table_drops: tuple[Drop, ...]
) -> Clash:
    number, share = numbered
    return Clash(
        notice=contradicts(
            rule,
            f"arrivals/{share.hour}",
            Place(file="arrivals.csv", row=number, column="hour"),
            message(
                N_("Row {row} of arrivals.csv: hour {hour} cannot stand here"), row=number, hour=share.hour
            ),
            found=found,
            wanted="each clock hour once, 0 to 47",
            remedy=message(N_("Correct the hour.")),
        ),
        drops=table_drops,
        sites=EVERY_SITE_NOT_PLANNED,
    )


def rounding_ppm(shares: list[int]) -> int:
    """How far rounded shares may be from 100 percent: half of their last written digit for each."""
    step = 10_000
    while step > 1 and any(share % step for share in shares):
        step //= 10
    return len(shares) * step // 2 if step < 10_000 else 0


def past_counts(taken: Taken) -> Iterator[Clash]:
    """More ballots than registered voters; a count twice; a past election that is not past."""
    home = {p.id: p.site for _, p in taken.of(Precinct)} | {s.id: s.id for _, s in taken.of(Site)}
    rows = taken.of(PastCount)
    remedy = message(N_("Compare the row with the list it was copied from."))

    def clash(
        rule: str, group: Numbered[PastCount], text: str, found: str, wanted: str, column: str
    ) -> Clash:
        number, row = group[-1]
        site = home.get(row.unit)
        return Clash(
            notice=contradicts(
                rule,
                f"history/{row.unit}/{row.election}/{row.mode}",
                Place(file="history.csv", row=number, column=column),
                message(text, row=number, unit=row.unit, rows=row_list(group), found=found),
                found=found,
                wanted=wanted,
                remedy=remedy,
                day=row.date.isoformat(),
            ),
            drops=drops("history", group),
            sites=(site,) if site else (),
        )

    for number, row in rows:
        if row.registered is not None and row.ballots > row.registered:
            yield clash(
                "ballots-above-registered",
                [(number, row)],
                N_("Row {row} of history.csv: {found} in {unit}"),
                f"{row.ballots} ballots, {row.registered} registered",
                "no more ballots than registered voters",
                "ballots",
            )
        if taken.election_day is not None and row.date >= taken.election_day:
            yield clash(
                "past-election-not-past",
                [(number, row)],
                N_("Row {row} of history.csv is dated {found}, not before this election"),
                row.date.isoformat(),
                f"before {taken.election_day.isoformat()}",
                "date",
            )
    counted = {(row.election, row.date, row.mode, row.unit) for _, row in rows}
    precinct_ids = {p.id for _, p in taken.of(Precinct)}
    for number, row in rows:
        site = home.get(row.unit, "") if row.unit in precinct_ids else ""
        if site and site != row.unit and (row.election, row.date, row.mode, site) in counted:
            yield clash(
                "ballots-counted-twice",
                [(number, row)],
                N_("Row {row} of history.csv: the ballots of {unit} are in the count of {found} too"),
                site,
                "counts of a site, or of its precincts, not both",
                "unit",
            )
    for group in grouped(rows, lambda r: (r.election, r.date, r.unit, r.mode)):
        yield clash(
            "past-count-twice",
            group,
            N_("The same past count of {unit} stands in rows {rows} of history.csv"),
            " / ".join(str(r.ballots) for _, r in group),
            "each count once",
            "unit",
        )


CHECKS: tuple[Callable[[Taken], Iterator[Clash]], ...] = (
    same_site_id,
    unknown_kind_of_site,
    described_twice,
    precincts,
    people,
    arrivals,
    past_counts,
)
