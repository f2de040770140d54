"""Read a copied database without writing to it or beside it: is it whole, and is it what was copied?"""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from pollstead.election.canonical import sha256_hex
from pollstead.election.words import N_, Message, message
from pollstead.record.tree import FIRST_ARRIVAL, Head, head_of, next_arrival


def database_troubles(path: Path, head: Head) -> tuple[Message, ...]:
    """What is wrong with a copied database: its own integrity, and the head of the events in it.

    The file is opened so that nothing is written to it or beside it.
    """
    try:
        with _read_only(path) as connection:
            said = [str(row[0]) for row in connection.execute("PRAGMA integrity_check(5)")]
            ids = [str(row[0]) for row in connection.execute("SELECT id FROM events ORDER BY seq")]
            found = head_of(ids)
    except (sqlite3.DatabaseError, ValueError) as error:
        return (message(N_("{file} cannot be read: {why}"), file=path.name, why=str(error)),)
    troubles = [
        message(N_("{file} is damaged inside: {why}"), file=path.name, why=why) for why in said if why != "ok"
    ]
    if found != head:
        troubles.append(
            message(
                N_(
                    "{file} holds {found} events with root {root}; "
                    "its head in {facts} is {size} events, root {wanted}"
                ),
                file=path.name,
                found=found.size,
                root=found.root[:12],
                facts="copy.json",
                size=head.size,
                wanted=head.root[:12],
            )
        )
    return tuple(troubles)


@contextlib.contextmanager
def _read_only(path: Path) -> Iterator[sqlite3.Connection]:
    connection = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro&immutable=1", uri=True)
    try:
        yield connection
    finally:
        connection.close()


def content_troubles(path: Path) -> tuple[Message, ...]:
    """Each event, private part and snapshot whose bytes do not fit the digest that they are kept under.

    Signatures are not asked, so that it stays cheap; ``record verify`` asks all.
    """
    troubles = []
    previous = FIRST_ARRIVAL
    with _read_only(path) as connection:
        for seq, event, data, arrival in connection.execute(
            "SELECT seq, id, CAST(bytes AS BLOB), arrival FROM events ORDER BY seq"
        ):
            previous = next_arrival(previous, event)
            if sha256_hex(data) != event or arrival != previous:
                troubles.append(
                    message(N_("event {event} at place {seq} was changed"), event=event[:12], seq=seq)
                )
                previous = arrival
        for digest, data in connection.execute(
            "SELECT digest, CAST(bytes AS BLOB) FROM side_objects WHERE bytes IS NOT NULL ORDER BY digest"
        ):
            if sha256_hex(data) != digest:
                troubles.append(message(N_("private part {digest} was changed"), digest=digest[:12]))
        for digest, data in connection.execute(
            "SELECT digest, CAST(bytes AS BLOB) FROM snapshots ORDER BY digest"
        ):
            if sha256_hex(data) != digest:
                troubles.append(message(N_("snapshot {digest} was changed"), digest=digest[:12]))
    return tuple(troubles)
