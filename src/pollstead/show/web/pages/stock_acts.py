"""What the page of the seal stock takes: receipts, void seals, counts, returns, blocks, undoing one."""

from __future__ import annotations

import datetime as dt
from typing import Final

from pollstead.election.check_characters import CheckScheme, fits
from pollstead.election.county import Election
from pollstead.election.identity import is_id
from pollstead.election.seal_checks import SealChecks
from pollstead.election.seal_stock import VoidReason
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.intake.fact_edits import Edit, add_row
from pollstead.plan.seals.applied import applied_in_facts, kinds_of_closures
from pollstead.plan.seals.spans import span_of
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds.days import CorrectionPrivate, EntryCorrected
from pollstead.record.kinds.stocks import StockCounted
from pollstead.show.web.misread import MISREAD, READ_AGAIN
from pollstead.show.web.pages.frame import Ask
from pollstead.show.web.pages.frame import Trouble as PageTrouble
from pollstead.show.web.second import second_person
from pollstead.show.web.typed import Wrong
from pollstead.work.fact_changes import Change, Standing
from pollstead.work.facts import CannotChange, NotTaken, undo_change
from pollstead.work.stock import StockReport, in_store, stock_report
from pollstead.work.stock_acts import ACT, finish_half_done

RECEIVE_FIELDS = (
    "id",
    "seal_kind",
    "series",
    "first",
    "last",
    "check_character",
    "quantity",
    "counted",
    "received",
    "held_at",
)
VOID_FIELDS = ("void_kind", "number", "why", "reason", "void_second")
COUNT_FIELDS = ("count_receipt", "count_number", "count_second")
RETURN_FIELDS = ("return_kind", "return_site", "return_first", "return_last", "return_second")
BLOCK_FIELDS = ("block_kind", "block_site", "block_first", "block_last", "block_reason", "block_second")
UNDO_FIELDS = ("undo_act", "undo_reason")
SHOWN_ACTS: Final = 20


def county_of(ask: Ask) -> Election:
    """The county as its tables are now; raises where they cannot be read."""
    election = ask.folder.tables_election()
    if election is None:
        raise PageTrouble(
            409, N_("The county's tables cannot be read."), N_("The first page names the faults."), "/"
        )
    return election


def report_of(ask: Ask, election: Election) -> StockReport:
    """The stock by tables, plan and record."""
    return stock_report(election, ask.folder.current(), ask.folder.fold())


def take_receipt(ask: Ask) -> tuple[Wrong, ...]:
    """Record a box that came in: one event with two people, then its rows in the tables."""
    form, election = ask.form, county_of(ask)
    faults: list[Wrong] = []
    receipt = form.text("id") or next_receipt(election)
    if not is_id(f"seal/{receipt}"):
        faults.append(_wrong("id", N_("A short name: letters, digits, dot or dash, such as R-7.")))
    elif any(row.id == receipt for row in election.seal_receipts):
        faults.append(_wrong("id", N_("A receipt of this name is there already.")))
    kind, series = form.text("seal_kind"), form.text("series")
    if not kind:
        faults.append(_wrong("seal_kind", N_("Choose the kind of seal.")))
    if not series:
        faults.append(_wrong("series", N_("Type the series or the order the seals belong to.")))
    check = check_typed(election, kind, series, form.text("check_character"))
    for field in ("first", "last"):
        if form.text(field) and not fits(check, form.text(field)):
            faults.append(_wrong(field, MISREAD))
    span = span_of(kind, series, form.text("first"), form.text("last"), "", check)
    if span is None and not faults:
        faults.append(
            _wrong("first", N_("First and last must be of one shape, such as 0048001 and 0048400."))
        )
    counted, quantity = whole(form.text("counted")), whole(form.text("quantity"))
    if counted is None:
        faults.append(_wrong("counted", N_("Type how many the two of you counted.")))
    if quantity is None and form.text("quantity"):
        faults.append(_wrong("quantity", N_("Type a whole number, or leave it blank.")))
    received = day_of(form.text("received"))
    if received is None and form.text("received"):
        faults.append(_wrong("received", N_("Type a date such as 2028-09-01, or leave it blank.")))
    second = second_person(ask)
    if isinstance(second, Wrong):
        faults.append(second)
    if faults or isinstance(second, Wrong) or counted is None:
        return tuple(faults)
    author = ask.person().person
    cells = {
        "id": receipt,
        "seal_kind": kind,
        "series": series,
        "first": form.text("first"),
        "last": form.text("last"),
        "quantity": form.text("quantity"),
        "counted": str(counted),
        "received": received.isoformat() if received else "",
        "counted_by": f"{short(author)} {short(second)}",
        "held_at": form.text("held_at"),
    }
    book = {name: cells[name] for name in ("seal_kind", "series", "first", "last")}
    if check is not CheckScheme.NONE:
        book["check_character"] = check.value
    edits = [add_row("seal_receipts", cells)]
    if not any(
        (r.seal_kind, r.first, r.last) == (kind, cells["first"], cells["last"]) for r in election.seal_ranges
    ):
        edits.append(add_row("seal_ranges", book))
    return done(ask, tuple(edits), f"seals/{receipt}", "Seals received and counted", second, "first")


def take_void(ask: Ask) -> tuple[Wrong, ...]:
    """Record a seal that is void, with two people and why."""
    form, election = ask.form, county_of(ask)
    faults: list[Wrong] = []
    kind, number, why = form.text("void_kind"), form.text("number"), form.text("why")
    if not kind:
        faults.append(_wrong("void_kind", N_("Choose the kind of seal.")))
    if not number:
        faults.append(_wrong("number", N_("Type the number on the seal.")))
    elif form.text(READ_AGAIN) != "yes" and SealChecks.of(election.seal_ranges).misread(kind, number):
        faults.append(_wrong("number", MISREAD))
    if why not in [reason.value for reason in VoidReason]:
        faults.append(_wrong("why", N_("Choose why it is void.")))
    if not form.text("reason"):
        faults.append(_wrong("reason", N_("Say in a few words what happened.")))
    if any((v.seal_kind, v.number) == (kind, number) for v in election.seal_voids):
        faults.append(_wrong("number", N_("This seal is void already.")))
    second = second_person(ask, "void_second")
    if isinstance(second, Wrong):
        return (*faults, second)
    if faults:
        return tuple(faults)
    today = dt.datetime.fromtimestamp(ask.folder.clock() / 1000, tz=dt.UTC).date()
    row = {
        "seal_kind": kind,
        "number": number,
        "reason": why,
        "date": today.isoformat(),
        "people": f"{short(ask.person().person)} {short(second)}",
    }
    subject = closure_of(ask, election, kind, number) or "seals/void"
    return done(ask, (add_row("seal_voids", row),), subject, form.text("reason"), second, "number")


def closure_of(ask: Ask, election: Election, kind: str, number: str) -> str:
    """The closure that a number is on by the tables; empty where it is on none."""
    kinds = kinds_of_closures(election, ask.folder.current())
    return next(
        (
            event.place
            for event in applied_in_facts(election, kinds)
            if (event.seal_kind, event.number) == (kind, number)
        ),
        "",
    )


def take_count(ask: Ask) -> tuple[Wrong, ...]:
    """Record how many seals of a receipt two people counted; what the book has there goes with it."""
    form, election = ask.form, county_of(ask)
    receipt = next((r for r in election.seal_receipts if r.id == form.text("count_receipt")), None)
    counted = whole(form.text("count_number"))
    second = second_person(ask, "count_second")
    faults = []
    if receipt is None:
        faults.append(_wrong("count_receipt", N_("Choose the receipt whose box you counted.")))
    if counted is None:
        faults.append(_wrong("count_number", N_("Type how many lie in the box, in digits.")))
    if isinstance(second, Wrong):
        faults.append(second)
    if faults or receipt is None or counted is None or isinstance(second, Wrong):
        return tuple(faults)
    subject = f"seals/{receipt.id}"
    ask.folder.write(
        StockCounted(
            receipt=receipt.id,
            counted=counted,
            book=in_store(report_of(ask, election).ledger, receipt, SealChecks.of(election.seal_ranges)),
        ),
        who=ask.person(),
        subject=subject,
        after=ask.folder.fold().heads(subject, StockCounted.kind, receipt=receipt.id),
        second=second,
    )
    return ()


def take_numbers(ask: Ask, what: str) -> tuple[Wrong, ...]:
    """Seals that came back unused (``return``), or a block given to a site's bag (``block``), by a row."""
    form, election = ask.form, county_of(ask)
    kind, site = form.text(f"{what}_kind"), form.text(f"{what}_site")
    first, last = form.text(f"{what}_first"), form.text(f"{what}_last")
    faults: list[Wrong] = []
    if not kind:
        faults.append(_wrong(f"{what}_kind", N_("Choose the kind of seal.")))
    if not any(short_site(one.id) == site for one in election.sites):
        faults.append(_wrong(f"{what}_site", N_("Choose the site.")))
    checks = SealChecks.of(election.seal_ranges)
    for field, number in ((f"{what}_first", first), (f"{what}_last", last)):
        if checks.misread(kind, number):
            faults.append(_wrong(field, MISREAD))
    span = span_of(kind, "", first, last or first, "", checks.scheme_of(kind, first))
    if span is None and not faults:
        faults.append(
            _wrong(f"{what}_first", N_("First and last must be of one shape, such as 0048001 and 0048400."))
        )
    second = second_person(ask, f"{what}_second")
    if isinstance(second, Wrong):
        faults.append(second)
    if faults or isinstance(second, Wrong):
        return tuple(faults)
    cells = {"site": site, "seal_kind": kind, "first": first, "last": last or first}
    if what == "return":
        today = dt.datetime.fromtimestamp(ask.folder.clock() / 1000, tz=dt.UTC).date()
        edit, reason = add_row("seal_returns", cells | {"date": today.isoformat()}), "Seals came back unused"
    else:
        reason = form.text("block_reason") or "Put into the bag by two people"
        edit = add_row("seal_blocks", cells | {"reason": reason})
    return done(ask, (edit,), "seals/numbers", reason, second, f"{what}_first")


def take_undo(ask: Ask) -> tuple[Wrong, ...]:
    """Take one act back, with a reason: its rows go, its own entry is withdrawn; the record keeps both."""
    wanted, reason = ask.form.text("undo_act"), ask.form.text("undo_reason")
    if not any(act.id == wanted for act in recent_acts(ask)):
        return (_wrong("undo_act", N_("Choose what to take back.")),)
    if not reason:
        return (_wrong("undo_reason", N_("Say in a few words why.")),)
    fact = next(
        (f for f in ask.folder.fold().named(StockCounted.kind) if wanted in {r.event for r in f.current}),
        None,
    )
    if fact is not None:
        ask.folder.write(
            EntryCorrected(corrects=wanted, of_kind=StockCounted.kind, value=FrozenObject({})),
            who=ask.person(),
            subject=fact.subject,
            private=CorrectionPrivate(reason=reason),
        )
        return ()
    try:
        with ask.folder.at_desk(ask.person()) as (desk, people, moment):
            undo_change(ask.folder.path, wanted, reason=reason, people=people, desk=desk, moment=moment)
            finish_half_done(ask.folder.path, desk, moment)
    except NotTaken as refused:
        return (Wrong(field="undo_act", words=refused.faults[0].text),)
    except CannotChange as refused:
        return (Wrong(field="undo_act", words=refused.said),)
    return ()


class StockAct(Value, frozen=True, kw_only=True):
    """One act of the stock that may be taken back: its event, what was done, to what."""

    id: str
    words: Message


def recent_acts(ask: Ask) -> tuple[StockAct, ...]:
    """The newest acts that still hold, the last first; no number stands in their words."""
    folder = ask.folder
    found = [
        (one.change.utc_ms, StockAct(id=one.change.event, words=_act_words(one.change)))
        for one in folder.changes_of_facts()
        if one.change.act == ACT
        and one.change.known
        and not one.is_open
        and one.standing not in (Standing.UNDONE, Standing.DECIDED)
    ]
    for fact in folder.fold().named(StockCounted.kind):
        for reading in fact.current:
            if not reading.withdrawn:
                words = message(N_("{receipt}: box counted"), receipt=str(fact.key.get("receipt", "")))
                found.append((reading.utc_ms, StockAct(id=reading.event, words=words)))
    # Of acts within one millisecond the later in the record comes first.
    found.reverse()
    newest = sorted(found, key=lambda one: one[0], reverse=True)
    return tuple(act for _, act in newest[:SHOWN_ACTS])


def _act_words(change: Change) -> Message:
    tables = set(change.tables)
    about = change.subject.removeprefix("seals/")
    if "seal_receipts" in tables:
        return message(N_("{receipt}: box received"), receipt=about)
    if "seal_voids" in tables:
        return message(N_("Seal made void: {subject}"), subject=about)
    site = next((c.text for e in change.cells for c in e.cells if c.column == "site"), "")
    if "seal_returns" in tables:
        return message(N_("{site}: seals came back unused"), site=site)
    if "seal_blocks" in tables:
        return message(N_("{site}: block given to the bag"), site=site)
    return message(N_("Range of seals added"))


def done(
    ask: Ask, edits: tuple[Edit, ...], subject: str, reason: str, second: str, field: str
) -> tuple[Wrong, ...]:
    """One act: the tables by one event, then the act's own entry; faults where it cannot be taken."""
    folder = ask.folder
    try:
        folder.change_facts(edits, who=ask.person(), act=ACT, subject=subject, reason=reason, second=second)
    except NotTaken as refused:
        return (Wrong(field=field, words=refused.faults[0].text),)
    except CannotChange as refused:
        return (Wrong(field=field, words=refused.said),)
    with folder.at_desk(ask.person()) as (desk, _, moment):
        finish_half_done(folder.path, desk, moment)
    return ()


def check_typed(election: Election, kind: str, series: str, typed: str) -> CheckScheme:
    """The check character of a box that came in: as typed, else as its series has it."""
    if typed in {scheme.value for scheme in CheckScheme}:
        return CheckScheme(typed)
    for row in election.seal_ranges:
        if (row.seal_kind, row.series) == (kind, series):
            return row.scheme
    return CheckScheme.NONE


def next_receipt(election: Election) -> str:
    """A name for a receipt that is not taken: R-1, R-2 and so on."""
    taken = {row.id for row in election.seal_receipts}
    return next(f"R-{n}" for n in range(1, len(taken) + 2) if f"R-{n}" not in taken)


def whole(text: str) -> int | None:
    """A whole number of at most nine digits; None for anything else."""
    return int(text) if text.isascii() and text.isdecimal() and len(text) <= 9 else None


def day_of(text: str) -> dt.date | None:
    """A date as ISO text; None for anything else."""
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        return None


def short(person: str) -> str:
    """A person's id as people.csv has it."""
    return person.removeprefix("person/")


def short_site(site: str) -> str:
    """A site's id as the tables have it."""
    return site.removeprefix("site/")


def _wrong(field: str, words: str) -> Wrong:
    return Wrong(field=field, words=message(words))
