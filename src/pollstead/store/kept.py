"""Results of long computations under the digest of what went in: caches, which anybody may throw away."""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Mapping

import sqlalchemy as sa

from pollstead.election.canonical import sha256_hex
from pollstead.store.database import Database
from pollstead.store.schema import kept_results

MOST_KEPT = 20_000
"""Results that stay; beyond, those not used for longest go. About 1 kB each."""

AT_ONCE = 400
"""Keys asked for in one query: databases bound the number."""


class KeptResults:
    """Results by key. Each is kept compressed, with its own digest: one that was changed counts as absent."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def get(self, key: str) -> bytes | None:
        """What is kept under `key`; None where nothing is, or where it is not what was put there."""
        with self._database.reading() as connection:
            row = connection.execute(
                sa.select(kept_results.c.bytes, kept_results.c.digest).where(kept_results.c.key == key)
            ).first()
        return None if row is None else _unpacked(bytes(row[0]), row[1])

    def save(self, results: Mapping[str, bytes], used: Iterable[str], *, utc_ms: int) -> None:
        """Keep `results` (a key that is there already gets the new bytes) and note which were `used`."""
        with self._database.writing() as connection:
            keys = sorted({*used, *results})
            for at in range(0, len(keys), AT_ONCE):
                some = keys[at : at + AT_ONCE]
                renewed = [key for key in some if key in results]
                connection.execute(sa.delete(kept_results).where(kept_results.c.key.in_(renewed)))
                connection.execute(
                    sa.update(kept_results).where(kept_results.c.key.in_(some)).values(used_utc_ms=utc_ms)
                )
            if results:
                connection.execute(
                    sa.insert(kept_results),
                    [
                        {
                            "key": key,
                            "digest": sha256_hex(data),
                            "used_utc_ms": utc_ms,
                            "bytes": zlib.compress(data),
                        }
                        for key, data in sorted(results.items())
                    ],
                )

    def forget_unused(self, most: int = MOST_KEPT) -> int:
        """Throw away all but the `most` results used last; how many went."""
        newest = sa.select(kept_results.c.key).order_by(kept_results.c.used_utc_ms.desc(), kept_results.c.key)
        with self._database.writing() as connection:
            return connection.execute(
                sa.delete(kept_results).where(kept_results.c.key.not_in(newest.limit(most)))
            ).rowcount

    def count(self) -> int:
        """How many results are kept."""
        with self._database.reading() as connection:
            return connection.execute(sa.select(sa.func.count()).select_from(kept_results)).scalar_one()


def _unpacked(data: bytes, digest: str) -> bytes | None:
    try:
        found = zlib.decompress(data)
    except zlib.error:
        # Damaged on the disk: the same as not being there, since it is computed anew.
        return None
    return found if sha256_hex(found) == digest else None
