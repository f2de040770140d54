"""The tables, as SQLAlchemy Core sees them. Migrations make them; a test holds both equal.

What is signed or digested is stored as the bytes it was, never as JSON columns. The columns beside
`bytes` in `events` are copies for look-up; a check compares them with the bytes.
"""

from __future__ import annotations

import sqlalchemy as sa

NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}
metadata = sa.MetaData(naming_convention=NAMING)

events = sa.Table(
    "events",
    metadata,
    sa.Column(
        "seq", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), primary_key=True, autoincrement=False
    ),
    sa.Column("id", sa.Text(), nullable=False),
    sa.Column("bytes", sa.LargeBinary(), nullable=False),
    sa.Column("signature", sa.LargeBinary(), nullable=False),
    sa.Column("arrival", sa.Text(), nullable=False),
    sa.Column("device", sa.Text(), nullable=False),
    sa.Column("n", sa.BigInteger(), nullable=False),
    sa.Column("kind", sa.Text(), nullable=False),
    sa.Column("site", sa.Text(), nullable=False),
    sa.CheckConstraint("length(id) = 64", name="id_is_a_digest"),
    sa.CheckConstraint("seq >= 1 AND n >= 1", name="counters_from_one"),
)
sa.Index("uq_events_id", events.c.id, unique=True)
# Not unique: a fork (two events of one device with one counter) is kept and shown.
sa.Index("ix_events_device_n", events.c.device, events.c.n)
sa.Index("ix_events_site", events.c.site)

side_objects = sa.Table(
    "side_objects",
    metadata,
    sa.Column("digest", sa.Text(), primary_key=True),
    sa.Column("bytes", sa.LargeBinary(), nullable=True),
    sa.Column("redacted_utc_ms", sa.BigInteger(), nullable=True),
    sa.CheckConstraint("(bytes IS NULL) = (redacted_utc_ms IS NOT NULL)", name="bytes_or_redacted"),
)

snapshots = sa.Table(
    "snapshots",
    metadata,
    sa.Column("digest", sa.Text(), primary_key=True),
    sa.Column("label", sa.Text(), nullable=False),
    sa.Column("created_utc_ms", sa.BigInteger(), nullable=False),
    sa.Column("bytes", sa.LargeBinary(), nullable=False),
)

plan_versions = sa.Table(
    "plan_versions",
    metadata,
    sa.Column("digest", sa.Text(), primary_key=True),
    sa.Column("parent", sa.Text(), nullable=False),
    sa.Column("snapshot", sa.Text(), nullable=False),
    sa.Column("label", sa.Text(), nullable=False),
    sa.Column("effort", sa.Text(), nullable=False),
    sa.Column("seed", sa.Text(), nullable=False),
    sa.Column("stopped_early", sa.Integer(), nullable=False),
    sa.Column("created_utc_ms", sa.BigInteger(), nullable=False),
    sa.Column("bytes", sa.LargeBinary(), nullable=False),
    sa.CheckConstraint("stopped_early IN (0, 1)", name="stopped_early_is_0_or_1"),
)

jobs = sa.Table(
    "jobs",
    metadata,
    sa.Column("id", sa.Text(), primary_key=True),
    sa.Column("kind", sa.Text(), nullable=False),
    sa.Column("arguments", sa.LargeBinary(), nullable=False),
    sa.Column("state", sa.Text(), nullable=False),
    sa.Column("progress_done", sa.BigInteger(), nullable=False),
    sa.Column("progress_total", sa.BigInteger(), nullable=False),
    sa.Column("message", sa.Text(), nullable=False),
    sa.Column("requested_by", sa.Text(), nullable=False),
    sa.Column("requested_utc_ms", sa.BigInteger(), nullable=False),
    sa.Column("started_utc_ms", sa.BigInteger(), nullable=True),
    sa.Column("ended_utc_ms", sa.BigInteger(), nullable=True),
    sa.Column("result", sa.LargeBinary(), nullable=True),
    sa.CheckConstraint(
        "state IN ('waiting', 'running', 'cancelling', 'cancelled', 'done', 'failed')", name="known_state"
    ),
)
sa.Index("ix_jobs_state", jobs.c.state)

settings = sa.Table(
    "settings",
    metadata,
    sa.Column("key", sa.Text(), primary_key=True),
    sa.Column("value", sa.LargeBinary(), nullable=False),
)

sheets = sa.Table(
    "sheets",
    metadata,
    sa.Column("serial", sa.Text(), primary_key=True),
    sa.Column("kind", sa.Text(), nullable=False),
    sa.Column("site", sa.Text(), nullable=False),
    sa.Column("day", sa.Text(), nullable=False),
    sa.Column("plan_digest", sa.Text(), nullable=False),
    sa.Column("list_digest", sa.Text(), nullable=False),
    sa.Column("printed_utc_ms", sa.BigInteger(), nullable=False),
    # Since migration 0002; empty for a sheet that was printed before it.
    *(
        sa.Column(name, sa.Text(), nullable=False, server_default="")
        for name in ("key", "language", "content", "replaces")
    ),
)
sa.Index("ix_sheets_site_day", sheets.c.site, sheets.c.day)

# Results that can be made again: only caches, never copied into an answer about what happened.
kept_results = sa.Table(
    "kept_results",
    metadata,
    sa.Column("key", sa.Text(), primary_key=True),
    sa.Column("digest", sa.Text(), nullable=False),
    sa.Column("used_utc_ms", sa.BigInteger(), nullable=False),
    sa.Column("bytes", sa.LargeBinary(), nullable=False),
)
sa.Index("ix_kept_results_used_utc_ms", kept_results.c.used_utc_ms)
