"""What the county table has to say: differences, counts taken twice or not yet, totals that nobody can place.

Neutral words, two numbers and who decides; what may stand behind a difference is told elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterator

from pollstead.election.county import Election
from pollstead.election.instants import Instant
from pollstead.election.notice import Notice, NoticeKind, by_key
from pollstead.election.words import N_, message
from pollstead.reconcile.counts.balance import BalanceLine, LineState
from pollstead.reconcile.counts.county_shapes import CountyRow, CountyTable
from pollstead.reconcile.counts.differences import who_decides
from pollstead.reconcile.counts.quantities import BY_QUANTITY, CAST, MODE_WORDS
from pollstead.reconcile.counts.totals import Ledger
from pollstead.reconcile.counts.uploads import MachineUploads, Upload, UploadState
from pollstead.reconcile.opening.labels import device_label

_LOOK_THERE = N_(
    "Read both again where they stand; write a correction with its reason. Nothing is opened for this."
)
_LOOK_AT_UPLOADS = N_("Look at what the central place has of it; whoever may take a count out there decides.")


WHO_DECIDES = N_("the canvassing body")
LEDGER_WORDS = {Ledger.RECEIVING: N_("receiving table"), Ledger.CANVASS: N_("canvass")}


def county_notices(table: CountyTable, election: Election) -> tuple[Notice, ...]:
    """The notices of the county table, each once, in the order of their keys."""
    return by_key(
        (
            *(n for row in table.rows for n in _row_notices(row, election)),
            *(n for row in table.totals for n in _row_notices(row, election, county=True)),
            *_upload_notices(table, election),
            *(_stranger(upload, election) for upload in table.strangers),
            *(
                Notice(
                    kind=NoticeKind.OPEN_ITEM,
                    rule="total-unplaced",
                    subject=f"{one.ledger.value}/{one.site or 'county'}/{one.mode}/{one.quantity}",
                    day=one.day,
                    text=message(
                        N_("A total of {ledger} that no site of the table has: {site}, {mode}, {quantity}."),
                        ledger=one.ledger.value,
                        site=one.site or "county",
                        mode=one.mode,
                        quantity=one.quantity,
                    ),
                    found="" if one.total is None else str(one.total),
                    remedy=message(N_("Correct the site, mode or quantity, or take the entry back.")),
                    owner="office",
                    depends=(one.origin.event,),
                )
                for one in table.unplaced
            ),
        )
    )


def row_subject(row: CountyRow) -> str:
    """The subject of a row's notices: site, mode, quantity and style."""
    place = f"site/{row.site}" if row.site else "county"
    style = f"/style/{row.style}" if row.style else ""
    return f"{place}/{row.mode}/{row.quantity}{style}"


def _row_notices(row: CountyRow, election: Election, *, county: bool = False) -> Iterator[Notice]:
    for ledger, line in ((Ledger.RECEIVING, row.received), (Ledger.CANVASS, row.canvass)):
        if line is None or line.state not in (LineState.DIFFERENCE, LineState.TWO_VALUES):
            continue
        from_uploads = any(term.key.startswith("uploaded/") for term in line.terms)
        own_total = any(f"/county/{row.mode}/" in term.key for term in line.terms)
        if from_uploads or (county and not own_total):
            continue  # The machines, or the sites, say the same one by one.
        told = row.value_of(ledger)
        yield Notice(
            kind=NoticeKind.DIFFERENCE,
            rule=f"balance.{line.equation}",
            subject=row_subject(row),
            text=message(
                N_("{place}, {mode}, {quantity}: difference of {size} between the site and the {ledger}.")
                if not county
                else N_(
                    "{place}, {mode}, {quantity}: difference of {size} between the sites and the {ledger}."
                ),
                place=row.name or row.site or "county",
                mode=MODE_WORDS.get(row.mode, row.mode),
                quantity=BY_QUANTITY[row.quantity].words + (f", style {row.style}" if row.style else ""),
                size=_size(line),
                ledger=LEDGER_WORDS[ledger],
            ),
            found="" if told is None else str(told),
            wanted="" if row.own.difference is None else str(row.own.difference),
            remedy=message(_LOOK_THERE),
            who_decides=who_decides(election.rules, WHO_DECIDES),
            depends=tuple(f"{t.key}={','.join(map(str, t.values))}" for t in line.terms),
        )


def _size(line: BalanceLine) -> str:
    if line.difference is not None:
        return str(abs(line.difference))
    return " / ".join(str(abs(value)) for value in line.possible)


def _upload_notices(table: CountyTable, election: Election) -> Iterator[Notice]:
    begun = {one.machine.site for one in table.machines if one.taken} | {
        row.site for row in table.rows if row.quantity == CAST and row.value_of(Ledger.CANVASS) is not None
    }
    for one, line in zip(table.machines, table.uploaded, strict=True):
        if one.state is UploadState.TWICE:
            yield _twice(one, election)
        elif one.state is UploadState.ONCE and line.state is LineState.DIFFERENCE:
            yield _differs(one, line, election)
        elif one.state is UploadState.NOT_YET and one.machine.site in begun:
            yield Notice(
                kind=NoticeKind.OPEN_ITEM,
                rule="upload-missing",
                subject=one.machine.device,
                text=message(
                    N_("{machine} of {site}: nothing was read of its memory device yet."),
                    machine=device_label(one.machine.device, election),
                    site=one.machine.site,
                ),
                found="; ".join(f"{upload.memory}: {upload.state}" for upload in one.refused),
                wanted=", ".join(one.machine.memory),
                remedy=message(N_("Look for the memory device, or for what the central place has of it.")),
                owner="office",
                who_decides=who_decides(election.rules, WHO_DECIDES),
                depends=(one.machine.day, *one.machine.memory),
            )


def _twice(one: MachineUploads, election: Election) -> Notice:
    first, *again = one.taken
    return Notice(
        kind=NoticeKind.DIFFERENCE,
        rule="upload-twice",
        subject=one.machine.device,
        text=message(
            N_("{machine} of {site} was taken {times} times. First: {first}. Again: {again}."),
            machine=device_label(one.machine.device, election),
            site=one.machine.site,
            times=len(one.taken),
            first=_told(first, election),
            again="; ".join(_told(upload, election) for upload in again),
        ),
        found=str(one.count),
        wanted=str(first.count),
        remedy=message(_LOOK_AT_UPLOADS),
        who_decides=who_decides(election.rules, WHO_DECIDES),
        depends=tuple(upload.event for upload in one.taken),
    )


def _told(upload: Upload, election: Election) -> str:
    at = Instant(utc_ms=upload.origin.utc_ms).local(election.zone_name).strftime("%Y-%m-%d %H:%M")
    return f"{upload.memory}, {upload.count}, {at}, {upload.event[:12]}"


def _differs(one: MachineUploads, line: BalanceLine, election: Election) -> Notice:
    own = next(term for term in line.terms if term.coefficient > 0)
    return Notice(
        kind=NoticeKind.DIFFERENCE,
        rule="balance.I13-uploaded",
        subject=one.machine.device,
        text=message(
            N_("{machine} of {site}: difference of {size} between its counter and what the center read."),
            machine=device_label(one.machine.device, election),
            site=one.machine.site,
            size=abs(line.difference or 0),
        ),
        found=str(one.count),
        wanted=", ".join(map(str, own.values)),
        remedy=message(_LOOK_THERE),
        who_decides=who_decides(election.rules, WHO_DECIDES),
        depends=tuple(f"{t.key}={','.join(map(str, t.values))}" for t in line.terms),
    )


def _stranger(upload: Upload, election: Election) -> Notice:
    return Notice(
        kind=NoticeKind.DIFFERENCE,
        rule="upload-unknown",
        subject=f"memory/{upload.memory}",
        text=message(
            N_("A memory device that went out with no machine of any list was read: {told}."),
            told=_told(upload, election),
        ),
        found=str(upload.count),
        remedy=message(N_("Look at its plate again; correct the entry, or find out where it was.")),
        who_decides=who_decides(election.rules, WHO_DECIDES),
        depends=(upload.event,),
    )
