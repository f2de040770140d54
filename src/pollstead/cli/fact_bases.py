"""The facts that a workbook was made from: kept when it is written, found again when it is read."""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path

import msgspec

from pollstead.election.canonical import canonical_bytes
from pollstead.election.county import Election
from pollstead.election.words import N_, message
from pollstead.show.words import fill


def keep_snapshot(folder: Path) -> None:
    """Keep the facts in the folder's store, if it has one: a later import then knows which side changed."""
    from pollstead.cli.county import DATABASE
    from pollstead.intake.folder import read_folder
    from pollstead.store.opening import open_store

    election = read_folder(folder).election
    if election is None or not (folder / DATABASE).exists():
        return
    now_ms = int(dt.datetime.now(dt.UTC).timestamp() * 1000)
    try:
        with open_store(folder, create=False) as store:
            store.snapshots.save(canonical_bytes(election), label="facts", created_utc_ms=now_ms)
    except (ValueError, OSError) as error:
        print(
            fill(
                message(
                    N_("The store of {folder} cannot be opened: {why}"), folder=str(folder), why=str(error)
                )
            ),
            file=sys.stderr,
        )


def snapshot_of(folder: Path, digest: str) -> Election | None:
    """The snapshot of `digest` from the store or from tables kept before an import, or None."""
    from pollstead.cli.county import DATABASE
    from pollstead.intake.folder import read_folder
    from pollstead.intake.kept_tables import EARLIER, kept
    from pollstead.store.opening import open_store

    if (folder / DATABASE).exists():
        try:
            with open_store(folder, create=False) as store:
                if digest in {line.digest for line in store.snapshots.list()}:
                    return msgspec.json.decode(store.snapshots.load(digest), type=Election)
        except (ValueError, OSError) as error:
            print(
                fill(
                    message(
                        N_("The store of {folder} cannot be opened: {why}"),
                        folder=str(folder),
                        why=str(error),
                    )
                ),
                file=sys.stderr,
            )
    for copy in kept(folder):
        if copy.before == digest:
            intake = read_folder(folder / EARLIER / copy.name)
            if intake.digest == digest:
                return intake.election
    return None
