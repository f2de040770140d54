"""0001: the first schema."""

import sqlalchemy as sa
from alembic import op

from pollstead.store.guards import create_guards

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables, their checks and indexes, and the append-only guards."""
    big = sa.BigInteger()
    op.create_table(
        "events",
        sa.Column(
            "seq", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), autoincrement=False, nullable=False
        ),
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("bytes", sa.LargeBinary(), nullable=False),
        sa.Column("signature", sa.LargeBinary(), nullable=False),
        sa.Column("arrival", sa.Text(), nullable=False),
        sa.Column("device", sa.Text(), nullable=False),
        sa.Column("n", big, nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("site", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_events")),
        sa.CheckConstraint("length(id) = 64", name=op.f("ck_events_id_is_a_digest")),
        sa.CheckConstraint("seq >= 1 AND n >= 1", name=op.f("ck_events_counters_from_one")),
    )
    op.create_index("uq_events_id", "events", ["id"], unique=True)
    op.create_index("ix_events_device_n", "events", ["device", "n"])
    op.create_index("ix_events_site", "events", ["site"])
    op.create_table(
        "side_objects",
        sa.Column("digest", sa.Text(), nullable=False),
        sa.Column("bytes", sa.LargeBinary(), nullable=True),
        sa.Column("redacted_utc_ms", big, nullable=True),
        sa.PrimaryKeyConstraint("digest", name=op.f("pk_side_objects")),
        sa.CheckConstraint(
            "(bytes IS NULL) = (redacted_utc_ms IS NOT NULL)", name=op.f("ck_side_objects_bytes_or_redacted")
        ),
    )
    op.create_table(
        "snapshots",
        sa.Column("digest", sa.Text(), nullable=False),
        sa.Column("label", sa.Text(), nullable=False),
        sa.Column("created_utc_ms", big, nullable=False),
        sa.Column("bytes", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("digest", name=op.f("pk_snapshots")),
    )
    op.create_table(
        "plan_versions",
        sa.Column("digest", sa.Text(), nullable=False),
        sa.Column("parent", sa.Text(), nullable=False),
        sa.Column("snapshot", sa.Text(), nullable=False),
        sa.Column("label", sa.Text(), nullable=False),
        sa.Column("effort", sa.Text(), nullable=False),
        sa.Column("seed", sa.Text(), nullable=False),
        sa.Column("stopped_early", sa.Integer(), nullable=False),
        sa.Column("created_utc_ms", big, nullable=False),
        sa.Column("bytes", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("digest", name=op.f("pk_plan_versions")),
        sa.CheckConstraint("stopped_early IN (0, 1)", name=op.f("ck_plan_versions_stopped_early_is_0_or_1")),
    )
    op.create_table(
        "jobs",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("arguments", sa.LargeBinary(), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("progress_done", big, nullable=False),
        sa.Column("progress_total", big, nullable=False),
        sa.Column("message", sa.Text(), nullable=False),
        sa.Column("requested_by", sa.Text(), nullable=False),
        sa.Column("requested_utc_ms", big, nullable=False),
        sa.Column("started_utc_ms", big, nullable=True),
        sa.Column("ended_utc_ms", big, nullable=True),
        sa.Column("result", sa.LargeBinary(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_jobs")),
        sa.CheckConstraint(
            "state IN ('waiting', 'running', 'cancelling', 'cancelled', 'done', 'failed')",
            name=op.f("ck_jobs_known_state"),
        ),
    )
    op.create_index("ix_jobs_state", "jobs", ["state"])
    op.create_table(
        "settings",
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("value", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_settings")),
    )
    op.create_table(
        "sheets",
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("site", sa.Text(), nullable=False),
        sa.Column("day", sa.Text(), nullable=False),
        sa.Column("plan_digest", sa.Text(), nullable=False),
        sa.Column("list_digest", sa.Text(), nullable=False),
        sa.Column("printed_utc_ms", big, nullable=False),
        sa.PrimaryKeyConstraint("serial", name=op.f("pk_sheets")),
    )
    op.create_index("ix_sheets_site_day", "sheets", ["site", "day"])
    create_guards(op.get_bind())
