"""``pollstead paper``: which signed paper is back, and what is still to be keyed from it. Thin."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import cyclopts

from pollstead.cli.county import Refused, facts_of, refuse, store_of, tell
from pollstead.cli.day_standing import date_asked, operating_dates, usual_date
from pollstead.cli.options import AsJson
from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.reconcile.observed import Observation
    from pollstead.reconcile.paper.progress import PaperReport, SitePaper
    from pollstead.reconcile.paper.wanted import WantedValue

FORMAT = "pollstead paper 1"

app = cyclopts.App(
    name="paper", help=text(N_("Say which signed paper is back, and what is still to be keyed from it."))
)


@app.default
def paper(
    folder: Path,
    /,
    *,
    day: Annotated[
        str,
        cyclopts.Parameter(help=text(N_("Operating day, such as 2028-11-07; blank is election day."))),
    ] = "",
    site: Annotated[str, cyclopts.Parameter(help=text(N_("One site only, such as S01.")))] = "",
    as_json: AsJson = False,
) -> int:
    """Print sheets and values of each site. People are named by id; nothing is written."""
    try:
        election, report = report_at(folder, day)
        sites = tuple(one for one in report.sites if not site or one.site == site.removeprefix("site/"))
        if not sites:
            refuse(N_("No site {site} is open on {day}."), site=site, day=report.date.isoformat())
    except Refused as refused:
        return tell(refused)
    if as_json:
        json.dump(paper_object(report, sites), sys.stdout, ensure_ascii=False, indent=2)
        print()
        return 0
    done = sum(1 for one in sites if one.done)
    print(
        fill(
            message(
                N_("{county}, {day}: sites whose paper is done: {done}; not done: {open}."),
                county=election.county,
                day=report.date.isoformat(),
                done=done,
                open=len(sites) - done,
            )
        )
    )
    for one in sites:
        print_site(one)
    return 0


def print_site(one: SitePaper) -> None:
    """Print one site: counts on a line, then what needs a person."""
    from pollstead.reconcile.paper.keyed import Keyed

    print(
        f"{one.site} {one.name}: "
        + fill(
            message(
                N_(
                    "{back} sheets in boxes, {missing} not back; values keyed by two people {agreed}, "
                    "by one {once}, differing {differs}, not yet {left}"
                ),
                back=one.back,
                missing=len(one.not_back),
                agreed=one.count(Keyed.AGREED),
                once=one.count(Keyed.ONCE),
                differs=one.count(Keyed.DIFFERS),
                left=one.count(Keyed.NOT_YET),
            )
        )
    )
    for notice in one.notices:
        print(f"  - {fill(notice.text)}")
    for against in one.against:
        said = message(
            N_("Sheet {sheet}, line {line} differs from an entry that came before or another way."),
            sheet=against.line.sheet,
            line=against.line.line,
        )
        print(f"  - {fill(said)}")
    for sheet in one.not_back:
        print(
            f"  {text(N_('not back'))}: {sheet.sheet.serial} {text(sheet.sheet.kind.value)} {sheet.sheet.key}"
        )


def report_at(folder: Path, day: str) -> tuple[Election, PaperReport]:
    """The paper of one day of a folder; raises Refused naming what is not there."""
    from pollstead.cli.reconcile import facts_then, plan_of
    from pollstead.reconcile.day import reconcile_day
    from pollstead.reconcile.issued import issued_lists
    from pollstead.show.paper_back import paper_of

    facts_of(folder)
    with store_of(folder) as store:
        if store.header() is None:
            refuse(N_("Nothing has been recorded in this folder yet, so no paper can be back."))
        folded = store.fold(private=True)
        issued = issued_lists(folded)
        plan = plan_of(store, issued)
        election = facts_then(store, plan)
        dates = operating_dates(plan, election)
        date = date_asked(day, dates, usual_date(election, dates))
        return election, paper_of(store, folded, reconcile_day(election, plan, issued, folded, date))


def paper_object(report: PaperReport, sites: tuple[SitePaper, ...]) -> dict[str, Any]:
    """The stable JSON form: people by id. What one person alone keyed has no number here."""
    return {
        "format": FORMAT,
        "day": report.date.isoformat(),
        "unofficial": True,
        "sites_done": sum(1 for one in sites if one.done),
        "sites": [_site(one) for one in sites],
        "strangers": [{"serial": one.serial, "box": one.box} for one in report.strangers],
    }


def _site(one: SitePaper) -> dict[str, Any]:
    return {
        "site": one.site,
        "done": one.done,
        "sheets": [
            {
                "serial": back.sheet.serial,
                "kind": back.sheet.kind.value,
                "state": back.state.value,
                "boxes": list(back.boxes),
                "different": list(back.different),
                "replaced_by": back.replaced_by,
                "twice": back.twice or back.two_boxes or bool(back.prints),
            }
            for back in one.sheets
        ],
        "not_back": [back.sheet.serial for back in one.not_back],
        "values": [{**_value(v.value), "state": v.state.value} for v in one.values],
        "left_out": [_value(value) for value in one.left_out],
        "not_on_paper": list(one.not_on_paper),
        "lines": [
            {
                "sheet": line.sheet,
                "line": line.line,
                "state": line.state.value,
                "people": list(line.people),
                "keyings": [_keying(seen, told=len(line.people) > 1) for seen in line.keyings],
                "again": len(line.again),
            }
            for line in one.lines
        ],
        "against": [
            {
                "sheet": against.line.sheet,
                "line": against.line.line,
                "paper": _keying(against.line.keyings[0], told=True),
                "other": [_keying(seen, told=True) for seen in against.other],
            }
            for against in one.against
        ],
        "notices": [notice.key for notice in one.notices],
    }


def _value(value: WantedValue) -> dict[str, str]:
    return {"key": value.key, "sheet": value.sheet, "line": value.line, "why": value.why.value}


def _keying(seen: Observation, *, told: bool) -> dict[str, Any]:
    from pollstead.reconcile.paper.differences import shown

    return {"event": seen.event, "people": list(seen.entered_by), "value": shown(seen) if told else ""}
