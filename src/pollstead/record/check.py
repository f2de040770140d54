"""Check a whole record: name every event that was changed, removed, reordered or doubled.

Pure: the caller brings the rows and the private parts. The check goes on after each trouble, so
that one run names all of them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Any

import msgspec

from pollstead.election.canonical import sha256_hex
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.record.event import Event, Side, Signed, read_event, read_side
from pollstead.record.header import Header
from pollstead.record.keys import Trust
from pollstead.record.kinds.offices import SideRedacted
from pollstead.record.kinds.registry import UnknownKind, Unreadable, body_of
from pollstead.record.problem import Problem, Trouble, trouble
from pollstead.record.tree import FIRST_ARRIVAL, Head, head_of, next_arrival


class Row(Value, frozen=True):
    """One event as stored: its place from 1, the id it is filed under, bytes, signature, arrival link."""

    seq: int
    id: str
    data: bytes
    signature: bytes
    arrival: str


class Report(Value, frozen=True):
    """The outcome of a check.

    `troubles` make a record not check; `remarks` do not: kinds of a later version, and private
    parts that were redacted or are kept elsewhere. `head` is that of the rows as found.
    """

    head: Head
    troubles: tuple[Trouble, ...]
    remarks: tuple[Message, ...]

    @property
    def checks(self) -> bool:
        """Whether nothing was found wrong."""
        return not self.troubles


def check_record(
    header: Header,
    rows: Iterable[Row],
    sides: Mapping[str, Side | None],
    earlier: Iterable[Head] = (),
) -> Report:
    """Check ids, forms, signatures, certificates, chains, order, private parts and earlier heads.

    `sides` maps digests to private parts; None says that it was redacted, absence that it is kept
    elsewhere. `earlier` are heads noted before: a log root must be that of the first `size`
    events, else something before it changed; a head of the same size must have the same root.
    """
    rows = tuple(rows)
    troubles: list[Trouble] = []
    remarks: list[Message] = []
    read = _read_rows(rows, troubles)
    _check_arrivals(rows, troubles)
    trust = Trust(header, (signed for _, signed in read))
    places = {signed.id: seq for seq, signed in read}
    troubles.extend(msgspec.structs.replace(t, seq=places[t.event]) for t in trust.troubles)
    redactions = {
        str(signed.event.body.get("digest")): signed.id
        for _, signed in read
        if signed.event.kind == SideRedacted.kind
    }
    for seq, signed in read:
        found = trust.check(signed, seq)
        if found is not None:
            troubles.append(found)
        _check_body(seq, signed, troubles, remarks)
        _check_side(seq, signed, sides, redactions, troubles, remarks)
    troubles.extend(chain_troubles((signed for _, signed in read), places))
    owned = {signed.event.private for _, signed in read}
    for digest in sorted(set(sides) - owned):
        template = N_("private part {digest} belongs to no event of this record")
        troubles.append(trouble(Problem.PRIVATE, template, digest=digest[:12]))
    ids = [row.id for row in rows]
    troubles.extend(_check_heads(ids, earlier))
    troubles.sort(key=lambda t: (t.seq == 0, t.seq))
    return Report(head=head_of(ids), troubles=tuple(troubles), remarks=tuple(dict.fromkeys(remarks)))


def _read_rows(rows: tuple[Row, ...], troubles: list[Trouble]) -> list[tuple[int, Signed]]:
    """The rows that are events, each id once; troubles for those that are not, or stand twice."""
    read: list[tuple[int, Signed]] = []
    first_seen: dict[str, int] = {}
    for row in rows:
        if row.id in first_seen:
            template = N_("event {event} stands twice: at place {first} and at place {seq}")
            troubles.append(
                trouble(Problem.DOUBLED, template, event=row.id, seq=row.seq, first=first_seen[row.id])
            )
            continue
        first_seen[row.id] = row.seq
        found = sha256_hex(row.data)
        try:
            event = read_event(row.data)
        except ValueError as error:
            template = N_("event {event} at place {seq} was changed: {fault}")
            troubles.append(
                trouble(Problem.NOT_AN_EVENT, template, event=row.id, seq=row.seq, fault=str(error))
            )
            continue
        if found != row.id:
            template = N_(
                "event {event} at place {seq} was changed: its bytes ({device}, {n}) have the id {found}"
            )
            troubles.append(
                trouble(
                    Problem.ID,
                    template,
                    event=row.id,
                    device=event.device,
                    n=event.n,
                    seq=row.seq,
                    found=found[:12],
                )
            )
            continue
        read.append((row.seq, Signed(id=row.id, data=row.data, signature=row.signature, event=event)))
    return read


def _check_arrivals(rows: tuple[Row, ...], troubles: list[Trouble]) -> None:
    """Name each place where the order of arrival is not the one that was written."""
    previous, place = FIRST_ARRIVAL, 0
    for row in rows:
        place += 1
        if row.seq != place:
            template = N_("event {event} stands at place {seq}, where place {place} was expected")
            troubles.append(trouble(Problem.ORDER, template, event=row.id, seq=row.seq, place=place))
            place = row.seq
        try:
            expected = next_arrival(previous, row.id)
        except ValueError:
            expected = ""
        if row.arrival != expected:
            template = N_("event {event} at place {seq} did not arrive after the event before it")
            troubles.append(trouble(Problem.ORDER, template, event=row.id, seq=row.seq))
        previous = row.arrival if len(row.arrival) == 64 else expected


def chain_troubles(events: Iterable[Signed], seqs: Mapping[str, int] | None = None) -> list[Trouble]:
    """Gaps, forks and broken links in the chain of each device; all events concerned are kept.

    A gap: counters missing below the highest. A fork: two events of one device with one counter. A
    broken link: `prev` is not the id of an event with the counter before.
    """
    places = seqs or {}
    chains: dict[str, dict[int, list[Signed]]] = defaultdict(lambda: defaultdict(list))
    for signed in events:
        chains[signed.event.device][signed.event.n].append(signed)
    troubles: list[Trouble] = []
    for device in sorted(chains):
        chain = chains[device]
        expected = 1
        for n in sorted(chain):
            here = sorted(chain[n], key=lambda signed: signed.id)
            where: dict[str, Any] = {"device": device, "n": n}
            if n > expected:
                template = N_("{device}: events {first} to {last} are not here (before event {event})")
                troubles.append(
                    trouble(
                        Problem.GAP,
                        template,
                        event=here[0].id,
                        first=expected,
                        last=n - 1,
                        seq=places.get(here[0].id, 0),
                        **where,
                    )
                )
            if len(here) > 1:
                template = N_("{device}: {count} events have the counter {n}: {ids}")
                ids = ", ".join(signed.id[:12] for signed in here)
                troubles.append(
                    trouble(Problem.FORK, template, event=here[0].id, count=len(here), ids=ids, **where)
                )
            before = {signed.id for signed in chain.get(n - 1, ())}
            for signed in here:
                if n > 1 and before and signed.event.prev not in before:
                    template = N_(
                        "event {event}: {device} says that it follows {prev}, its event {last} is {found}"
                    )
                    troubles.append(
                        trouble(
                            Problem.BROKEN_CHAIN,
                            template,
                            event=signed.id,
                            prev=signed.event.prev[:12],
                            last=n - 1,
                            found=", ".join(sorted(i[:12] for i in before)),
                            seq=places.get(signed.id, 0),
                            **where,
                        )
                    )
            expected = n + 1
    return troubles


def _check_body(seq: int, signed: Signed, troubles: list[Trouble], remarks: list[Message]) -> None:
    body = body_of(signed.event)
    if isinstance(body, UnknownKind):
        remarks.append(
            message(
                N_("kind {kind}, version {v}, is not known to this version: kept, not interpreted"),
                kind=body.kind,
                v=body.v,
            )
        )
    elif isinstance(body, Unreadable):
        template = N_("event {event} of {device}: {fault}")
        troubles.append(trouble(Problem.UNREADABLE, template, seq=seq, fault=body.fault, **_where(signed)))


def _check_side(
    seq: int,
    signed: Signed,
    sides: Mapping[str, Side | None],
    redactions: Mapping[str, str],
    troubles: list[Trouble],
    remarks: list[Message],
) -> None:
    digest = signed.event.private
    if not digest:
        return
    side = sides.get(digest)
    if side is None:
        if digest in redactions:
            template = N_("private part {digest} was redacted, as event {by} says")
            remarks.append(message(template, digest=digest[:12], by=redactions[digest][:12]))
        elif digest in sides:
            remarks.append(
                message(N_("private part {digest} was redacted, and no event says so"), digest=digest[:12])
            )
        else:
            remarks.append(message(N_("private part {digest} is kept elsewhere"), digest=digest[:12]))
        return
    try:
        read_side(side)
    except ValueError as error:
        template = N_("event {event} of {device}: its private part was changed: {fault}")
        troubles.append(trouble(Problem.PRIVATE, template, seq=seq, fault=str(error), **_where(signed)))


def _where(signed: Signed) -> dict[str, Any]:
    event: Event = signed.event
    return {"event": signed.id, "device": event.device, "n": event.n}


def _check_heads(ids: list[str], earlier: Iterable[Head]) -> list[Trouble]:
    """Compare heads noted before with the record as it is."""
    troubles: list[Trouble] = []
    for head in earlier:
        if head.size > len(ids):
            template = N_("the earlier head counts {size} events, only {found} are here")
            troubles.append(trouble(Problem.HEAD, template, size=head.size, found=len(ids)))
            continue
        now = head_of(ids[: head.size])
        if head.log_root and head.log_root != now.log_root:
            template = N_(
                "the first {size} events are not those of the earlier head: log root {wanted}, here {found}"
            )
            troubles.append(
                trouble(
                    Problem.HEAD, template, size=head.size, wanted=head.log_root[:12], found=now.log_root[:12]
                )
            )
        if head.root and head.size == len(ids) and head.root != now.root:
            template = N_(
                "the {size} events are not those of the earlier head: its root is {wanted}, here {found}"
            )
            troubles.append(
                trouble(Problem.HEAD, template, size=head.size, wanted=head.root[:12], found=now.root[:12])
            )
    return troubles
