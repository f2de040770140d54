"""The expected list of a site: what must be found on a day, issued by an event that freezes it."""

from __future__ import annotations

import datetime as dt
import secrets
from typing import Any, ClassVar

from litestar import Request, Response, get, post
from litestar.params import FromPath

from pollstead.election.station_type import Moment
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.plan.seals.expected import expected_list
from pollstead.plan.terms.version import CARRIED_OVER, ExpectedList
from pollstead.reconcile.custody.after_test import as_tested
from pollstead.reconcile.issued import lines_of
from pollstead.reconcile.opening.labels import station_label
from pollstead.record.facts import Fold
from pollstead.record.kinds.body import Reason
from pollstead.record.kinds.offices import ExpectedAmended, ExpectedIssued
from pollstead.record.kinds.offices import ExpectedList as ExpectedLines
from pollstead.record.kinds.stocks import IssuedAnyway
from pollstead.record.write import list_side
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.day import days_of, issued
from pollstead.show.web.fixing import what_lacks
from pollstead.show.web.open_folder import OpenFolder
from pollstead.show.web.pages.county import site_link
from pollstead.show.web.pages.entry import chosen_day
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.pages.site import SiteInPlan, find_site, has_opened
from pollstead.show.web.typed import Wrong
from pollstead.show.web.who import Who

SALT_BYTES = 32


class ExpectedRow(Value, frozen=True, kw_only=True):
    """One thing expected; `value` is empty where it is hidden from this role."""

    station: str
    words: str
    what: str
    moment: Moment
    value: str
    known: bool
    carried: bool


class ExpectedPage(Page, frozen=True, kw_only=True):
    """What must be found at one site on one day."""

    template: ClassVar[str] = "expected.html"

    site: str
    link: str
    day: dt.date
    days: tuple[dt.date, ...]
    rows: tuple[ExpectedRow, ...]
    hidden: bool
    in_force: bool
    differs: bool
    approved: bool
    may_issue: bool
    plan_digest: str
    list_event: str
    untested: tuple[str, ...]
    unsealed: int
    faults: tuple[Wrong, ...]


def rows_of(found: SiteInPlan, expected: ExpectedList, *, show: bool) -> tuple[ExpectedRow, ...]:
    """The list's items as rows; values only where this role may see them."""
    return tuple(
        ExpectedRow(
            station=station_label(item.station, found.election),
            words=item.words,
            what=item.what,
            moment=item.moment,
            value=item.value if show and item.value != CARRIED_OVER else "",
            known=bool(item.value),
            carried=item.value == CARRIED_OVER,
        )
        for item in expected.items
    )


def expected_page(ask: Ask, key: str, faults: tuple[Wrong, ...] = ()) -> ExpectedPage:
    """The page as this person may see it."""
    found = find_site(ask.folder, key)
    date = chosen_day(ask, found)
    lists = issued(ask.folder)
    in_force = lists.of(found.plan.site, date)
    planned = list_of_plan(found, date, ask.folder.fold())
    show = ask.may(Capability.SEE_EXPECTED) or has_opened(ask.folder, found.site)
    lacks, _, unsealed = what_lacks(ask.folder, found.election, found.plan, date)
    return ExpectedPage(
        **ask.frame(N_("{site}: what must be found?"), site=found.plan.name),
        site=found.plan.name,
        link=site_link(found.site.id),
        day=date,
        days=days_of(found.plan, found.election),
        rows=rows_of(found, in_force or planned, show=show),
        hidden=not show,
        in_force=in_force is not None,
        differs=in_force is not None and in_force.items != planned.items,
        approved=found.digest in ask.folder.approvals(),
        may_issue=ask.may(Capability.ISSUE),
        plan_digest=found.digest,
        list_event=lists.event_of(found.plan.site, date),
        untested=tuple(device.serial for device in lacks if device.lacks is not None),
        unsealed=unsealed,
        faults=faults,
    )


def list_of_plan(found: SiteInPlan, date: dt.date, folded: Fold) -> ExpectedList:
    """The list that the plan version shown gives, with the lifetime counters after the last tests.

    Raises Trouble where it gives none for that day.
    """
    version = as_tested(found.version, folded)
    try:
        return expected_list(found.election, version, found.plan.site, date, plan_digest=found.digest)
    except (KeyError, ValueError) as error:
        raise Trouble(
            409,
            N_("The plan gives no expected list for this site and day."),
            N_("Make a new plan version; the site needs an operating day in it."),
            "/jobs",
        ) from error


def issue(folder: OpenFolder, who: Who, found: SiteInPlan, date: dt.date) -> str:
    """Record the expected list of a site and day, in place of one in force; the id of the event."""
    expected = list_of_plan(found, date, folder.fold())
    lines, salt = lines_of(expected), secrets.token_bytes(SALT_BYTES)
    digest = list_side(lines, salt).digest
    subject, day = f"site/{found.site.id.removeprefix('site/')}", date.isoformat()
    fact = folder.fold().find(subject, "expected", day)
    current = () if fact is None else fact.current
    body: ExpectedIssued | ExpectedAmended = ExpectedIssued(list_digest=digest, plan=found.digest)
    if current:
        replaced = str(current[-1].value["list_digest"])
        body = ExpectedAmended(list_digest=digest, replaces=replaced, plan=found.digest)
    signed = folder.write(
        body,
        who=who,
        subject=subject,
        site=subject,
        day=day,
        after=tuple(sorted(reading.event for reading in current)),
        private=ExpectedLines(lines=lines),
        salt=salt,
    )
    return signed.id


@get("/site/{site:str}/expected")
@in_thread
def expected(request: Request[Any, Any, Any], site: FromPath[str]) -> Response[str]:
    """The expected list of a site."""
    ask = Ask(request)
    return answer(ask, expected_page(ask, site))


@post("/site/{site:str}/expected")
@in_thread
def issue_expected(request: Request[Any, Any, Any], site: FromPath[str]) -> Response[Any]:
    """Issue the list, where it is still the one that the person looked at."""
    ask = Ask(request)
    page = expected_page(ask, site)
    if (ask.form.text("plan"), ask.form.text("list")) != (page.plan_digest, page.list_event):
        raise Trouble(
            409,
            N_("The plan or the list changed since this page was made."),
            N_("Nothing was issued. Look at the list again, then issue it."),
            f"{page.link}/expected?day={page.day.isoformat()}",
        )
    found = find_site(ask.folder, site)
    _, devices, closures = what_lacks(ask.folder, found.election, found.plan, page.day)
    if devices or closures:
        reason = ask.form.text("reason")
        if not reason:
            words = message(N_("Something lacks. Say why the list is issued anyway; it is recorded."))
            fault = Wrong(field="reason", words=words)
            return answer(ask, expected_page(ask, site, (fault,)), status=422)
        subject = f"site/{found.site.id.removeprefix('site/')}"
        ask.folder.write(
            IssuedAnyway(plan=found.digest, devices=devices[:1000], closures=closures),
            who=ask.person(),
            subject=subject,
            site=subject,
            day=page.day.isoformat(),
            private=Reason(reason=reason),
        )
    issue(ask.folder, ask.person(), found, page.day)
    return go(f"{page.link}/expected?day={page.day.isoformat()}")
