"""Snapshots and plan versions in the store: bytes under their digest, never changed."""

from __future__ import annotations

import sqlalchemy as sa

from pollstead.election.canonical import sha256_hex
from pollstead.election.values import Value, require
from pollstead.election.words import N_
from pollstead.store.database import Database, State
from pollstead.store.schema import plan_versions, snapshots
from pollstead.store.trouble import unchanged


class SnapshotLine(Value, frozen=True):
    """A snapshot without its bytes, for a list."""

    digest: str
    label: str
    created_utc_ms: int


class Snapshots:
    """The facts as they were read, each under the SHA-256 of its bytes."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def save(self, data: bytes, *, label: str, created_utc_ms: int) -> str:
        """Keep `data` and return its digest; keeping it again changes nothing."""
        digest = sha256_hex(data)
        with self._database.writing() as connection:
            if (
                connection.execute(sa.select(snapshots.c.digest).where(snapshots.c.digest == digest)).first()
                is None
            ):
                connection.execute(
                    sa.insert(snapshots).values(
                        digest=digest, label=label, created_utc_ms=created_utc_ms, bytes=data
                    )
                )
        return digest

    def load(self, digest: str) -> bytes:
        """The bytes of a snapshot; raises ValueError when it is not here, ChangedInStore (one too) when its
        bytes do not fit its digest.
        """
        with self._database.reading() as connection:
            found = connection.execute(
                sa.select(snapshots.c.bytes).where(snapshots.c.digest == digest)
            ).scalar()
        require(found is not None, f"a snapshot must be one that is kept, {digest!r} is not")
        return unchanged(N_("The snapshot"), digest, found)

    def list(self) -> tuple[SnapshotLine, ...]:
        """Every snapshot, the newest first."""
        columns = [snapshots.c[name] for name in SnapshotLine.__struct_fields__]
        query = sa.select(*columns).order_by(snapshots.c.created_utc_ms.desc(), snapshots.c.digest)
        with self._database.reading() as connection:
            return tuple(SnapshotLine(**row) for row in connection.execute(query).mappings())


class PlanVersion(Value, frozen=True):
    """A plan version without its bytes: digest, parent, snapshot and how it was computed.

    `digest` is the plan's own (over its contents), `seed` decimal text. `parent` is empty for the
    first. `stopped_early`: stopped by wall time, so not repeatable.
    """

    digest: str
    parent: str
    snapshot: str
    label: str
    effort: str
    seed: str
    stopped_early: bool
    created_utc_ms: int


class Plans:
    """Plan versions by digest."""

    def __init__(self, database: Database) -> None:
        self._database = database
        self._listed: tuple[State, tuple[PlanVersion, ...]] | None = None

    def save(self, version: PlanVersion, data: bytes) -> bool:
        """Keep a version with its bytes; False when it is already here. Raises ValueError when other
        bytes are kept under its digest.
        """
        with self._database.writing() as connection:
            found = connection.execute(
                sa.select(plan_versions.c.bytes).where(plan_versions.c.digest == version.digest)
            ).scalar()
            if found is not None:
                require(
                    bytes(found) == data,
                    f"plan version {version.digest} is kept with other bytes; equal inputs give equal plans",
                )
                return False
            columns = {name: getattr(version, name) for name in version.__struct_fields__}
            columns["stopped_early"] = int(version.stopped_early)
            connection.execute(sa.insert(plan_versions).values(**columns, bytes=data))
        return True

    def load(self, digest: str) -> bytes:
        """The bytes of a version; raises ValueError when it is not here, ChangedInStore (one too) when its
        bytes do not fit its digest.
        """
        with self._database.reading() as connection:
            found = connection.execute(
                sa.select(plan_versions.c.bytes).where(plan_versions.c.digest == digest)
            ).scalar()
        require(found is not None, f"a plan version must be one that is kept, {digest!r} is not")
        return unchanged(N_("Plan version"), digest, found)

    def list(self) -> tuple[PlanVersion, ...]:
        """Every version, the newest first; the same tuple as before where nothing was committed since."""
        state, listed = self._database.state(), self._listed
        if state is not None and listed is not None and listed[0] == state:
            return listed[1]
        columns = [plan_versions.c[name] for name in PlanVersion.__struct_fields__]
        query = sa.select(*columns).order_by(plan_versions.c.created_utc_ms.desc(), plan_versions.c.digest)
        with self._database.reading() as connection:
            versions = tuple(
                PlanVersion(**{**row, "stopped_early": bool(row["stopped_early"])})
                for row in connection.execute(query).mappings()
            )
        self._listed = None if state is None else (state, versions)
        return versions

    def relabel(self, digest: str, label: str) -> bool:
        """Give a version another label; False when it is not here."""
        with self._database.writing() as connection:
            return bool(
                connection.execute(
                    sa.update(plan_versions).where(plan_versions.c.digest == digest).values(label=label)
                ).rowcount
            )
