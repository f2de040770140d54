"""Events and their private parts in the store: append, read, redact."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Final

import sqlalchemy as sa

from pollstead.election.values import require
from pollstead.record.check import Row
from pollstead.record.event import Side, Signed, read_side, read_signed
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.tree import FIRST_ARRIVAL, Head, head_of, next_arrival
from pollstead.record.write import Made
from pollstead.store.database import Database, State
from pollstead.store.kept_record import KeptRecord, Stored, many_made
from pollstead.store.schema import events, side_objects

_BOUND_VALUES: Final = 500
"""Values bound in one statement: below every engine's limit."""


class Events:
    """The events of a store. Each method is one transaction; a write returns after its commit.

    What was read once stays in `kept`: see there.
    """

    def __init__(self, database: Database, kept: KeptRecord) -> None:
        self._database = database
        self._kept = kept
        self._state: State | None = None
        """The database as it was before the last look; what was read then is in `_stored` or after it."""
        self._stored: list[Stored] | None = None

    def append_run(self, device: str, make: Callable[[int, str], Made]) -> tuple[Signed, ...]:
        """Write the next events of `device`, all or none; see `pollstead.record.write.Journal`.

        Counter and last id are read and the events are written under one write lock, so that two
        processes of one device never give the same counter.
        """
        with self._database.writing() as connection:
            last = connection.execute(
                sa.select(events.c.n, events.c.id)
                .where(events.c.device == device)
                .order_by(events.c.n.desc(), events.c.id)
                .limit(1)
            ).first()
            made = make(1, "") if last is None else make(last.n + 1, last.id)
            signed = tuple(one for one, _ in made)
            for one in signed:
                require(one.event.device == device, f"device must be {device}, got {one.event.device}")
            _insert(connection, signed, tuple(side for _, side in made if side is not None))
        return signed

    def append(self, signed: Signed, side: Side | None = None) -> bool:
        """Add one event made elsewhere; False when it is already here."""
        return self.add((signed,), (side,) if side is not None else ()) == 1

    def add(self, signed: Iterable[Signed], sides: Iterable[Side] = ()) -> int:
        """Add events made elsewhere with what private parts came along; the number that were new.

        A set union in the order given: events already here are passed over, so that a record read
        into an empty store keeps its log root. Signatures are not checked here;
        `pollstead.record.check` does, on everything.
        """
        with self._database.writing() as connection:
            return _insert(connection, tuple(signed), tuple(sides))

    def all(self) -> tuple[Signed, ...]:
        """Every event in the order of arrival; raises ValueError where bytes are not an event."""
        return tuple(stored.signed for stored in self.since(0))

    def since(self, seq: int) -> tuple[Stored, ...]:
        """The events that arrived after place `seq`; 0 for all. Each is read and checked once."""
        with self._kept.lock:
            self.read_new()
            return self._kept.since(seq)

    def read_new(self) -> None:
        """Read what arrived since the last look; everything, where the store begins otherwise than before."""
        kept = self._kept
        with kept.lock:
            state = self._database.state()
            if state is not None and state == self._state and kept.stored is self._stored:
                return
            place = sa.select(events.c.arrival).where(events.c.seq == kept.last)
            with self._database.reading() as connection:
                if kept.last and connection.execute(place).scalar() != kept.arrival:
                    kept.forget()
                query = sa.select(events.c.seq, events.c.bytes, events.c.signature, events.c.arrival)
                rows = connection.execute(query.where(events.c.seq > kept.last).order_by(events.c.seq)).all()
            if rows:
                with many_made():
                    new = [
                        Stored(seq=row.seq, signed=read_signed(bytes(row.bytes), bytes(row.signature)))
                        for row in rows
                    ]
                kept.take(new, rows[-1].arrival)
            self._state, self._stored = state, kept.stored

    def of_site(self, site: str) -> tuple[Signed, ...]:
        """The events of one site, in the order of arrival."""
        return self._where(events.c.site == site)

    def of_kinds(self, *kinds: str) -> tuple[Signed, ...]:
        """The events of some kinds, in the order of arrival."""
        return self._where(events.c.kind.in_(kinds))

    def _where(self, condition: sa.ColumnElement[bool]) -> tuple[Signed, ...]:
        query = sa.select(events.c.bytes, events.c.signature).where(condition).order_by(events.c.seq)
        with self._database.reading() as connection:
            return tuple(
                read_signed(bytes(row.bytes), bytes(row.signature)) for row in connection.execute(query)
            )

    def count(self) -> int:
        """How many events there are."""
        with self._database.reading() as connection:
            return int(connection.execute(sa.select(sa.func.count()).select_from(events)).scalar_one())

    def head(self) -> Head:
        """The head of the record as stored."""
        with self._database.reading() as connection:
            return head_of(list(connection.execute(sa.select(events.c.id).order_by(events.c.seq)).scalars()))

    def rows(self, since: int = 0) -> tuple[Row, ...]:
        """The events as stored, unread, for a check or an export."""
        query = sa.select(events).where(events.c.seq > since).order_by(events.c.seq)
        with self._database.reading() as connection:
            return tuple(
                Row(
                    seq=row.seq,
                    id=row.id,
                    data=bytes(row.bytes),
                    signature=bytes(row.signature),
                    arrival=row.arrival,
                )
                for row in connection.execute(query)
            )


class Sides:
    """The private parts of events. What was read once stays in `kept`, until it is redacted."""

    def __init__(self, database: Database, kept: KeptRecord) -> None:
        self._database = database
        self._kept = kept
        self._state: State | None = None
        """The database as it was before the last look, which found `_fields`."""
        self._fields: Mapping[str, FrozenObject] | None = None

    def all(self) -> dict[str, Side | None]:
        """Every private part by its digest; None where it was redacted."""
        with self._database.reading() as connection:
            return {
                row.digest: None if row.bytes is None else Side(digest=row.digest, data=bytes(row.bytes))
                for row in connection.execute(sa.select(side_objects).order_by(side_objects.c.digest))
            }

    def fields(self) -> Mapping[str, FrozenObject]:
        """The fields of every private part that is here, by digest, for a fold that may show them.

        The same object as before where no part came or was redacted since.
        """
        column = side_objects.c
        how_many = sa.select(sa.func.count(), sa.func.count(column.redacted_utc_ms)).select_from(side_objects)
        kept = self._kept
        with kept.lock:
            state = self._database.state()
            if state is not None and state == self._state and kept.fields is self._fields:
                return kept.fields
            with self._database.reading() as connection:
                counted, redacted = connection.execute(how_many).one()
                # Parts only ever come, and are redacted once: equal counts are the same parts.
                if (counted, redacted) == kept.sides_counted:
                    self._state, self._fields = state, kept.fields
                    return kept.fields
                query = sa.select(column.digest).where(column.bytes.is_not(None)).order_by(column.digest)
                here = connection.execute(query).scalars().all()
                # A digest names one content for ever: what was read under it need not be read again.
                new = _read_sides(connection, [digest for digest in here if digest not in kept.fields])
            known = {**kept.fields, **new}
            kept.take_sides({digest: known[digest] for digest in here}, (counted, redacted))
            self._state, self._fields = state, kept.fields
            return kept.fields

    def count(self) -> int:
        """How many private parts there are, redacted ones among them."""
        with self._database.reading() as connection:
            query = sa.select(sa.func.count()).select_from(side_objects)
            return int(connection.execute(query).scalar_one())

    def fields_of(self, digests: Iterable[str]) -> dict[str, FrozenObject]:
        """The fields of some private parts by digest; those that are not here are left out."""
        with self._database.reading() as connection:
            return _read_sides(connection, sorted(set(digests)))

    def redact(self, digest: str, utc_ms: int) -> bool:
        """Delete a private part, salt included; False when it is not here or already redacted.

        The event keeps its digest, so every signature, chain and head still checks. The bytes are
        overwritten in the database file; copies made before are beyond reach. Record a
        ``side.redacted`` event with the reason beside this.
        """
        with self._database.writing() as connection:
            done = connection.execute(
                sa.update(side_objects)
                .where(side_objects.c.digest == digest, side_objects.c.bytes.is_not(None))
                .values(bytes=None, redacted_utc_ms=utc_ms)
            ).rowcount
        if done and self._database.is_sqlite:
            # The write-ahead log still holds the old page until it is emptied.
            self._database.empty_write_ahead_log()
        return bool(done)


def _insert(connection: sa.Connection, signed: tuple[Signed, ...], sides: tuple[Side, ...]) -> int:
    """Insert what is new, under the write lock of the caller's transaction."""
    last = connection.execute(
        sa.select(events.c.seq, events.c.arrival).order_by(events.c.seq.desc()).limit(1)
    ).first()
    seq, arrival = (0, FIRST_ARRIVAL) if last is None else (last.seq, last.arrival)
    here = _present(connection, events.c.id, [one.id for one in signed])
    new = []
    for one in signed:
        if one.id in here:
            continue
        here.add(one.id)
        seq, arrival = seq + 1, next_arrival(arrival, one.id)
        event = one.event
        new.append(
            {
                "seq": seq,
                "id": one.id,
                "bytes": one.data,
                "signature": one.signature,
                "arrival": arrival,
                "device": event.device,
                "n": event.n,
                "kind": event.kind,
                "site": event.site,
            }
        )
    if new:
        connection.execute(sa.insert(events), new)
    held = _present(connection, side_objects.c.digest, [side.digest for side in sides])
    fresh = {side.digest: side.data for side in sides if side.digest not in held}
    if fresh:
        connection.execute(
            sa.insert(side_objects),
            [{"digest": d, "bytes": data, "redacted_utc_ms": None} for d, data in fresh.items()],
        )
    return len(new)


def _read_sides(connection: sa.Connection, wanted: list[str]) -> dict[str, FrozenObject]:
    found: dict[str, FrozenObject] = {}
    for start in range(0, len(wanted), _BOUND_VALUES):
        part = wanted[start : start + _BOUND_VALUES]
        query = sa.select(side_objects).where(side_objects.c.digest.in_(part))
        for row in connection.execute(query):
            if row.bytes is not None:
                found[row.digest] = read_side(Side(digest=row.digest, data=bytes(row.bytes)))
    return found


def _present(connection: sa.Connection, column: sa.Column[str], values: list[str]) -> set[str]:
    found: set[str] = set()
    for start in range(0, len(values), _BOUND_VALUES):
        part = values[start : start + _BOUND_VALUES]
        found.update(connection.execute(sa.select(column).where(column.in_(part))).scalars())
    return found
