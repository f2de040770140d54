"""``pollstead reconcile``: differences between what was expected and what was observed. Thin: read, print."""

from __future__ import annotations

import datetime as dt
import json
import sys
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Annotated, Any, NamedTuple

import cyclopts
import msgspec

from pollstead.cli.county import Refused, digest_named, digests, refuse, store_of, tell, version_of
from pollstead.cli.hours import hours_objects
from pollstead.cli.options import AsJson
from pollstead.election.words import N_, Message, message
from pollstead.reconcile.opening.pace import advice_on_readings
from pollstead.show.words import fill, text

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.election.notice import Notice
    from pollstead.plan.terms.version import PlanVersion
    from pollstead.reconcile.counts.balance import TermValue
    from pollstead.reconcile.counts.jams import Explained
    from pollstead.reconcile.day import DayReport, SiteDay
    from pollstead.reconcile.diagnosis.diagnose import Diagnosis
    from pollstead.reconcile.issued import Issued
    from pollstead.reconcile.opening.states import ItemResult
    from pollstead.record.facts import Fold
    from pollstead.store.opening import Store

FORMAT = "pollstead reconcile 1"
CAUTION = N_("Unofficial staff counts, to find copying errors; the canvassing body decides what they mean.")

app = cyclopts.App(
    name="reconcile", help=text(N_("Show differences between what was expected and what was observed."))
)


@app.default
def reconcile(
    folder: Path,
    /,
    *,
    site: Annotated[str, cyclopts.Parameter(help=text(N_("Only this site, by id.")))] = "",
    day: Annotated[
        str, cyclopts.Parameter(help=text(N_("Only this operating day, as 2028-11-07; else all days.")))
    ] = "",
    as_json: AsJson = False,
) -> int:
    """Compare the expected lists with the record, site by site and day by day.

    Returns 0 whatever the differences are; 1 where the folder has no plan version or record to read.
    """
    try:
        date = None if not day else dt.date.fromisoformat(day)
    except ValueError:
        print(fill(message(N_("A day looks like 2028-11-07, got {day}"), day=day)), file=sys.stderr)
        return 2
    try:
        with store_of(folder) as store:
            read = read_days(store, date)
            reports = read.reports
    except Refused as refused:
        return tell(refused)
    try:
        chosen = [(report, _sites(report, site)) for report in reports]
        if site and not any(sites for _, sites in chosen):
            refuse(N_("No site {site} is open on these days. Look at: pollstead plan FOLDER"), site=site)
    except Refused as refused:
        return tell(refused)
    if as_json:
        content = {
            "format": FORMAT,
            "unofficial": True,
            "days": [
                day_object(report, sites, explanations_of(read, report, sites)) for report, sites in chosen
            ],
            "custody": [_notice_object(notice, None) for notice in _custody(read)],
        }
        json.dump(content, sys.stdout, ensure_ascii=False, indent=2)
        print()
    else:
        for report, sites in chosen:
            print_day(report, sites, sentences_of(read, report, sites))
            print_strays(read, report, {one.site for one in sites})
            print_hours(report, {one.site for one in sites})
        for notice in () if site else _custody(read):
            print(f"- {fill(notice.text)}")
        print(text(CAUTION))
    return 0


def _custody(read: ReadDays) -> tuple[Notice, ...]:
    """Things at two places at once and hand-offs without a person, whatever the day."""
    from pollstead.reconcile.custody.legs import legs_of
    from pollstead.reconcile.custody.one_place import custody_notices
    from pollstead.reconcile.custody.places import held_things

    return custody_notices(held_things(legs_of(read.folded)), read.election.rules)


def print_hours(report: DayReport, sites: set[str]) -> None:
    """Print what differs of the hours of the people at some sites."""
    from pollstead.reconcile.worked import hours_notices

    for notice in hours_notices(tuple(one for one in report.hours if one.site in sites)):
        print(f"- {fill(notice.text)}")


class ReadDays(NamedTuple):
    """The reports of some days with what they were made of."""

    reports: tuple[DayReport, ...]
    election: Election
    issued: Issued
    folded: Fold


def reports_of(store: Store, date: dt.date | None) -> tuple[DayReport, ...]:
    """The report of one day, or of every day for which a list is in force or something was seen."""
    return read_days(store, date).reports


def print_strays(read: ReadDays, report: DayReport, sites: set[str]) -> None:
    """Print what stands at another site than the lists say, with the leads of both."""
    from pollstead.reconcile.custody.legs import legs_of
    from pollstead.reconcile.custody.misplaced import misplaced
    from pollstead.reconcile.custody.places import held_things

    lists = tuple(one for one in read.issued.lists if one.date == report.date)
    names = {site.id.removeprefix("site/"): site.name for site in read.election.sites}
    for one in misplaced(read.election, report.sites, lists, held_things(legs_of(read.folded))):
        if not {one.site, one.owner} & sites:
            continue
        print("- " + fill(one.words(names)))
        here, there = (
            ", ".join(lead.removeprefix("person/") for lead in leads) or "-"
            for leads in (one.leads_here, one.leads_there)
        )
        print("  " + fill(message(N_("Leads here: {here}. Leads there: {there}."), here=here, there=there)))
        if one.near is not None:
            print("  " + fill(message(N_("Easily taken for one another: {why}."), why=text(one.near))))


def read_days(store: Store, date: dt.date | None) -> ReadDays:
    """One day, or every day for which a list is in force or something was seen; may refuse."""
    return read_dates(store, None if date is None else (date,))


def read_canvass_days(store: Store) -> ReadDays:
    """Every day that the canvass is about, those without a list in force as well; may refuse."""
    from pollstead.reconcile.canvass import days_of_canvass
    from pollstead.reconcile.issued import issued_lists
    from pollstead.reconcile.observed import observations_of

    _refuse_empty(store)
    folded = store.fold(private=True)
    plan = plan_of(store, issued_lists(folded))
    return read_dates(store, days_of_canvass(plan, observations_of(folded)))


def _refuse_empty(store: Store) -> None:
    if store.header() is None:
        refuse(N_("Nothing has been recorded in this folder yet, so there is nothing to compare."))


def read_dates(store: Store, asked: tuple[dt.date, ...] | None) -> ReadDays:
    """Some days; for None every day for which a list is in force or something was seen. May refuse."""
    from pollstead.reconcile.day import reconcile_day
    from pollstead.reconcile.issued import issued_lists
    from pollstead.reconcile.observed import observations_of

    _refuse_empty(store)
    folded = store.fold(private=True)
    issued = issued_lists(folded)
    plan = plan_of(store, issued)
    election = facts_then(store, plan)
    observations = observations_of(folded)
    seen = {o.day for o in observations if o.day}
    dates = {one.date for one in issued.lists} | {dt.date.fromisoformat(d) for d in seen}
    wanted = sorted(dates) if asked is None else asked
    reports = tuple(
        reconcile_day(election, plan, issued, folded, one, observations=observations) for one in wanted
    )
    return ReadDays(reports, election, issued, folded)


def plan_of(store: Store, issued: Issued) -> PlanVersion:
    """The newest plan version that a list in force names; the newest of all while no list is in force."""
    return version_of(store, issued.plan_among(digests(store)) or digest_named(store, ""))


def facts_then(store: Store, plan: PlanVersion) -> Election:
    """The facts as they were when the plan version was made."""
    from pollstead.election.county import Election

    return msgspec.json.decode(store.snapshots.load(plan.snapshot), type=Election)


def _sites(report: DayReport, site: str) -> tuple[SiteDay, ...]:
    wanted = site.removeprefix("site/")
    return tuple(one for one in report.sites if not wanted or one.site == wanted)


def explanations_of(
    read: ReadDays, report: DayReport, sites: tuple[SiteDay, ...]
) -> dict[str, dict[str, Any]]:
    """What explains the differences of each site, as JSON: working notes of the office desk."""
    from pollstead.cli.explained import explained_sites, explanations_object

    found = explained_sites(read.election, read.folded, report, sites)
    return {
        one.site: explanations_object(found.get(one.site), read.election, read.folded, one) for one in sites
    }


def sentences_of(read: ReadDays, report: DayReport, sites: tuple[SiteDay, ...]) -> dict[str, str]:
    """The one sentence about each site that has a difference."""
    from pollstead.cli.explained import explained_sites
    from pollstead.reconcile.explain.words import sentence

    found = explained_sites(read.election, read.folded, report, sites)
    said = {site: sentence(one.explained) for site, one in found.items()}
    return {site: fill(words) for site, words in said.items() if words is not None}


def print_day(
    report: DayReport, sites: tuple[SiteDay, ...], sentences: Mapping[str, str] = MappingProxyType({})
) -> None:
    """Print one day: for each site what was compared, then each difference with what to do.

    `sentences` say of a site how many explanations fit its differences.
    """
    for one in sites:
        print(f"{report.date}  {one.site} {one.name}")
        print("  " + _summary(one))
        if one.site in sentences:
            print("  " + sentences[one.site])
        for notice in one.notices:
            _print_notice(notice, one)
        if not one.notices:
            print("  " + text(N_("No difference among what was read.")))
        if corrected := len(one.corrections()):
            words = N_("Corrected or taken back: {n}. The first entries are kept; pollstead why tells both.")
            print("  " + fill(message(words, n=corrected)))
        for advice in advice_on_readings(one.seen()):
            print("  " + fill(advice))
        print()


def _summary(site: SiteDay) -> str:
    states: dict[str, int] = {}
    for result in site.results:
        states[result.state.value] = states.get(result.state.value, 0) + 1
    lines: dict[str, int] = {}
    for line in site.lines:
        lines[line.state.value] = lines.get(line.state.value, 0) + 1
    compared = ", ".join(f"{count} {text(state)}" for state, count in states.items())
    balance = ", ".join(f"{count} {text(state)}" for state, count in lines.items())
    return fill(
        message(
            N_("Expected list: {compared}. Balance: {balance}."),
            compared=compared or "0",
            balance=balance or "0",
        )
    )


def _print_notice(notice: Notice, site: SiteDay) -> None:
    result = next((r for r in site.results if r.notice is notice), None)
    print(f"  - {notice.subject}: {fill(_words_of(notice, result))}")
    if result is not None and result.explanation is not None and not _is_unread_secret(result):
        print(f"    {text(N_('Possible explanation'))}: {fill(result.explanation)}")
    if result is not None:
        print_likely(result)
    if notice.remedy is not None:
        print(f"    {fill(notice.remedy)}")
    if notice.who_decides:
        print("    " + fill(message(N_("Decides: {who}."), who=text(notice.who_decides))))


def _words_of(notice: Notice, result: ItemResult | None) -> Message:
    """The notice's sentence; without the expected number while somebody has still to read it."""
    if result is None or not _is_unread_secret(result) or not result.expected or not result.values:
        return notice.text
    return message(
        N_("{words}: one person read {found}, which differs. A second one reads it first, apart."),
        words=result.words,
        found=notice.found,
    )


def print_likely(result: ItemResult) -> None:
    """Print what each value that differs most likely is; nothing while somebody has still to read it."""
    from pollstead.reconcile.diagnosis.diagnose import Fits

    for told in () if _is_unread_secret(result) else result.diagnoses:
        tied = len(told.likeliest) > 1
        lead = N_("Possible explanation, as likely as another") if tied else N_("Possible explanation")
        for one in told.likeliest if not told.matches else ():
            said = "" if one.fits is Fits.UNKNOWN else f"{text(lead)}: "
            print(f"    {told.entered}: {said}{' '.join(map(fill, one.words))}")
        for one in told.possible:
            print(f"    {told.entered}: {text(N_('Less likely'))}: {' '.join(map(fill, one.words))}")
        for note in told.notes:
            print(f"    {told.entered}: {fill(note)}")


def day_object(
    report: DayReport,
    sites: tuple[SiteDay, ...],
    explanations: Mapping[str, dict[str, Any]] = MappingProxyType({}),
) -> dict[str, Any]:
    """The stable JSON form of one day, with the `explanations` of its sites where they are given."""
    return {
        "date": report.date.isoformat(),
        "sites": [
            _site_object(site) | ({"explanations": explanations[site.site]} if explanations else {})
            for site in sites
        ],
        "elsewhere": [o.event for o in report.elsewhere],
        "hours": hours_objects(report.hours, {site.site for site in sites}),
    }


def _site_object(site: SiteDay) -> dict[str, Any]:
    secrets = {r.notice.key: r for r in site.results if r.notice is not None and _is_unread_secret(r)}
    return {
        "site": site.site,
        "list_issued": site.list_issued,
        "opened_min": list(site.opened.values),
        "opened_late_min": site.opened.late_min,
        "closed_min": list(site.closed.values),
        "items": [
            {
                "subject": r.subject,
                "what": r.what,
                "moment": r.moment.value,
                "state": r.state.value,
                "expected": "" if _is_unread_secret(r) else r.expected,
                "values": list(r.values),
                "people": list(r.people),
                "events": [o.event for o in r.observations],
                "resolution": r.resolution,
                "likeliest": [] if _is_unread_secret(r) else [_likely_object(d) for d in r.diagnoses],
            }
            for r in site.results
        ],
        "devices": [
            {"device": d.device, "state": d.state.value, "recorded": d.recorded} for d in site.devices
        ],
        "balance": [
            {
                "equation": line.equation,
                "subject": line.subject,
                "state": line.state.value,
                "unit": line.unit.value,
                "difference": line.difference,
                "divisible_by_9": line.divisible_by_9,
                "possible": list(line.possible),
                "missing": list(line.missing),
                "terms": [term_object(term) for term in line.terms],
            }
            for line in site.lines
        ],
        "explained_by_jams": [_explained_object(one) for one in site.explained],
        "cross_checks": [
            {
                "at_min": check.at_min,
                "state": check.state.value,
                "counted_apart": check.line.difference,
                "inside": check.inside,
                "left_open_low": check.low,
                "left_open_high": check.high,
                "missing": list(check.line.missing),
            }
            for check in site.checks.checks
        ],
        "difference_arose_min": list(site.checks.arose or ()),
        "memory_devices": [
            {"id": line.id, "device": line.device, "state": line.state.value}
            for machine in site.memory
            for line in machine.lines
        ],
        "records": [o.event for o in site.recorded],
        "corrections": [{"event": o.event, "corrects": o.corrects} for o in site.corrections()],
        "advice": [advice.english() for advice in advice_on_readings(site.seen())],
        "keyed_not_counting": [o.event for o in site.keyed],
        "notices": [_notice_object(notice, secrets.get(notice.key)) for notice in site.notices],
    }


def _explained_object(one: Explained) -> dict[str, Any]:
    return {
        "equation": one.equation,
        "subject": one.subject,
        "difference": one.difference,
        "possible": one.possible,
        "left_open_low": one.low,
        "left_open_high": one.high,
        "jams": [{"event": jam.event, "device": jam.device, "at_min": jam.at_min} for jam in one.jams],
    }


def term_object(term: TermValue) -> dict[str, Any]:
    """The stable JSON form of one number of a sum: its values, each with where it was read, by whom, when."""
    return {
        "coefficient": term.coefficient,
        "key": term.key,
        "values": list(term.values),
        "readings": [
            {
                "value": reading.value,
                "times_counted": reading.times,
                "read": [
                    {
                        "event": origin.event,
                        "from": origin.source,
                        "people": list(origin.people),
                        "utc_ms": origin.utc_ms,
                        "sheet": origin.sheet,
                        "line": origin.line,
                        "by_phone": origin.by_phone,
                    }
                    for origin in reading.origins
                ],
            }
            for reading in term.readings
        ],
    }


def _likely_object(told: Diagnosis) -> dict[str, Any]:
    return {
        "entered": told.entered,
        "tied": told.tied,
        "explanations": [
            {
                "fits": one.fits.value,
                "thing": one.thing,
                "words": [said.english() for said in one.words],
                "cost_millinats": one.cost,
                "to_next_millinats": one.to_next,
            }
            for one in told.hypotheses
        ],
        "notes": [note.english() for note in told.notes],
    }


def _is_unread_secret(result: ItemResult) -> bool:
    """Whether somebody has still to read this item and its expected value must not be seen before."""
    if result.item is None or not result.item.private:
        return False
    wanted = 2 if result.item.second_person else 1
    return len(result.people) < wanted


def _notice_object(notice: Notice, secret: ItemResult | None) -> dict[str, Any]:
    return {
        "key": notice.key,
        "kind": notice.kind.value,
        "text": _words_of(notice, secret).english(),
        "found": notice.found,
        "wanted": "" if secret is not None else notice.wanted,
        "remedy": notice.remedy.english() if notice.remedy else "",
        "who_decides": notice.who_decides,
    }
