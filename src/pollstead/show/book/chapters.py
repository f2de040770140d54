"""Chapters of the office book that read the record: what is open, frozen, decided and changed lately."""

from __future__ import annotations

from pollstead.election.notice import Notice
from pollstead.election.words import N_
from pollstead.plan.calendar.states import Standing, TaskState
from pollstead.reconcile.actions import resolution_of
from pollstead.reconcile.issued import issued_lists
from pollstead.record.event import Signed
from pollstead.show.book.content import Block, Column, Lines, Said
from pollstead.show.book.telling import Telling
from pollstead.show.packet.wording import short_digest
from pollstead.show.web.pages.whats_open import all_notices
from pollstead.work.calendar_view import calendar_view, today_in

NEWEST = 40
MOST_TASKS = 40
MOST_OF_ONE_RULE = 12
"""Open items of one rule for one owner that are written out; the others are counted."""
OFFICE_WORDS = (
    "device",
    "expected",
    "facts",
    "key",
    "mapping",
    "notice",
    "packet",
    "plan",
    "rule",
    "stock",
    "value",
)
KIND_WORDS = {
    "device.out_of_service": N_("Device out of service"),
    "device.swapped": N_("Device swapped"),
    "device.tested": N_("Device tested"),
    "expected.amended": N_("Expected list amended"),
    "expected.anyway": N_("Expected list issued in spite of what was open"),
    "expected.issued": N_("Expected list issued"),
    "facts.changed": N_("Tables changed"),
    "facts.snapshot_taken": N_("Tables read"),
    "key.device_certified": N_("Computer admitted to write"),
    "key.revoked": N_("Key of a computer ended"),
    "mapping.confirmed": N_("Columns of a foreign table confirmed"),
    "notice.resolved": N_("Notice decided"),
    "explanation.saved": N_("Explanation of a difference saved"),
    "packet.printed": N_("Sheets printed"),
    "packet.voided": N_("Sheets made void"),
    "plan.approved": N_("Plan approved"),
    "plan.computed": N_("Plan made"),
    "rule.confirmed": N_("Rule confirmed"),
    "stock.counted": N_("Seal stock counted"),
    "stock.received": N_("Seal stock received"),
    "value.fixed": N_("Value fixed"),
    "value.unfixed": N_("Value no longer fixed"),
}


def open_items(telling: Telling) -> tuple[Block, ...]:
    """Every open notice by owner, dated ones first; numbers a second person has still to read are out."""
    say = telling.say
    notices = [
        n for n in all_notices(telling.folder, see_expected=False) if not resolution_of(n, telling.folded)
    ]
    if not notices:
        return (Said(words=say(N_("Nothing is open."))),)
    by_owner: dict[str, list[Notice]] = {}
    for notice in notices:
        by_owner.setdefault(_owner(telling, notice), []).append(notice)
    columns = (
        Column(title=say(N_("Due")), width_mm=28),
        Column(title=say(N_("Kind")), width_mm=26),
        Column(title=say(N_("What is open, and what to do"))),
    )
    blocks: list[Block] = [Said(words=say(N_("{n} things are open."), n=len(notices)))]
    for owner, found in sorted(by_owner.items()):
        blocks.append(Said(words=f"{owner}: {len(found)}", strong=True))
        blocks.append(Lines(columns=columns, rows=_rows(telling, found), none=""))
    return tuple(blocks)


def _owner(telling: Telling, notice: Notice) -> str:
    if notice.owner:
        return telling.name(notice.owner)
    if notice.who_decides:
        return telling.say(N_("Decided by: {who}"), who=telling.say(notice.who_decides))
    return telling.say(N_("Nobody named yet"))


def _rows(telling: Telling, notices: list[Notice]) -> tuple[tuple[str, ...], ...]:
    say, rows = telling.say, []
    written: dict[str, int] = {}
    for notice in sorted(notices, key=lambda n: (not n.due, n.due, n.kind.value, n.key)):
        written[notice.rule] = written.get(notice.rule, 0) + 1
        if written[notice.rule] > MOST_OF_ONE_RULE:
            continue
        words = say.message(notice.text)
        if notice.remedy is not None:
            words = f"{words}\n{say.message(notice.remedy)}"
        rows.append((notice.due or "-", say(notice.kind.value), words))
    rows += [
        (
            "-",
            "",
            say(
                N_("and {n} more of this sort: {rule}; see the page What is open?"),
                n=n - MOST_OF_ONE_RULE,
                rule=rule,
            ),
        )
        for rule, n in sorted(written.items())
        if n > MOST_OF_ONE_RULE
    ]
    return tuple(rows)


def due_dates(telling: Telling) -> tuple[Block, ...]:
    """Tasks of the calendar that are late, due this week, or should have begun; the rest is counted."""
    say, election = telling.say, telling.election
    if not election.tasks:
        return (Said(words=say(N_("This county has no calendar yet; the page Calendar begins one."))),)
    view = calendar_view(election, telling.folded, today_in(election, telling.folder.clock()))
    now = view.in_state(TaskState.LATE, TaskState.DUE, TaskState.BEGIN)
    done, later = view.in_state(TaskState.DONE), view.in_state(TaskState.LATER)
    columns = (
        Column(title=say(N_("By")), width_mm=28),
        Column(title=say(N_("State")), width_mm=36),
        Column(title=say(N_("Task"))),
        Column(title=say(N_("Sees to it")), width_mm=44),
    )
    rows = [
        (
            one.dates.by.isoformat(),
            say(one.state.value),
            one.task.words,
            _sees_to(telling, one),
        )
        for one in now[:MOST_TASKS]
    ]
    if len(now) > MOST_TASKS:
        rows.append(("-", "", say(N_("and {n} more, on the page Calendar"), n=len(now) - MOST_TASKS), ""))
    told = say(N_("Done: {done}. Later: {later}."), done=len(done), later=len(later))
    return (
        Lines(columns=columns, rows=tuple(rows), none=say(N_("Nothing is late or due this week."))),
        Said(words=told),
    )


def _sees_to(telling: Telling, one: Standing) -> str:
    task = one.task
    if task.owner:
        return telling.name(task.owner if task.owner.startswith("person/") else f"person/{task.owner}")
    return task.owner_role or telling.say(N_("Nobody named yet"))


def frozen(telling: Telling) -> tuple[Block, ...]:
    """The plan approved, the lists issued with their digests, what was printed last; who and when."""
    say = telling.say
    events = {signed.id: signed for signed in telling.events}
    issued = issued_lists(telling.folded)
    lists = []
    for one, event in zip(issued.lists, issued.events, strict=True):
        signed = events.get(event)
        lists.append(
            (
                telling.site_name(one.site),
                say.date(one.date),
                short_digest(str(signed.event.body.get("list_digest", ""))) if signed is not None else "",
                f"{telling.who(signed.event.people)}, {telling.when(signed.event.utc_ms)}" if signed else "",
            )
        )
    printed = telling.folder.store.sheets.of()
    last = max((sheet.printed_utc_ms for sheet in printed), default=0)
    sheets = (
        say(N_("{n} sheets were printed, the last at {when}."), n=len(printed), when=telling.when(last))
        if printed
        else say(N_("No sheet was printed yet."))
    )
    columns = (
        Column(title=say(N_("Site"))),
        Column(title=say(N_("Day")), width_mm=36),
        Column(title=say(N_("List digest")), width_mm=34),
        Column(title=say(N_("Issued by, when")), width_mm=46),
    )
    none = say(N_("No expected list was issued yet: nothing is frozen."))
    return (
        Said(words=telling.plan_words(), strong=True),
        Said(
            words=say(
                N_(
                    "An approved plan stays as it is; another one needs a new version and a new name "
                    "under it."
                )
            )
        ),
        Said(words=sheets),
        Lines(columns=columns, rows=tuple(lists), none=none),
    )


def fixed_values(telling: Telling) -> tuple[Block, ...]:
    """Each value that a person put in place of the computer's, with the reason given."""
    say = telling.say
    fixed = telling.election.fixed if telling.version is None else telling.version.fixed
    rows = [(f"{one.row}, {one.field}", one.value, one.reason) for one in fixed]
    rows += [
        (device.serial, device.fixed, device.reason) for device in telling.election.devices if device.fixed
    ]
    columns = (
        Column(title=say(N_("What")), width_mm=62),
        Column(title=say(N_("Fixed at")), width_mm=30),
        Column(title=say(N_("Reason"))),
    )
    none = say(N_("Nobody has overruled the computer."))
    return (Lines(columns=columns, rows=tuple(rows), none=none),)


def changed_lately(telling: Telling) -> tuple[Block, ...]:
    """The newest events of the office, the newest first; readings of sites are not among them."""
    say = telling.say
    of_office = [s for s in telling.events if s.event.kind.partition(".")[0] in OFFICE_WORDS]
    newest = sorted(of_office, key=lambda s: (s.event.utc_ms, s.event.n), reverse=True)[:NEWEST]
    columns = (
        Column(title=say(N_("When")), width_mm=40),
        Column(title=say(N_("What"))),
        Column(title=say(N_("About")), width_mm=46),
        Column(title=say(N_("By")), width_mm=36),
    )
    rows = tuple(
        (
            telling.when(signed.event.utc_ms),
            say(KIND_WORDS.get(signed.event.kind, signed.event.kind)),
            _about(telling, signed),
            telling.who(signed.event.people),
        )
        for signed in newest
    )
    return (Lines(columns=columns, rows=rows, none=say(N_("Nothing was entered yet."))),)


def _about(telling: Telling, signed: Signed) -> str:
    subject = signed.event.subject
    return telling.site_name(subject) if subject.startswith("site/") else subject
