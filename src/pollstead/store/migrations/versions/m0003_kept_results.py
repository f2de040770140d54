"""0003: results of long computations, kept so that the next plan takes seconds."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table; it fills by itself."""
    op.create_table(
        "kept_results",
        sa.Column("key", sa.Text(), primary_key=True),
        sa.Column("digest", sa.Text(), nullable=False),
        sa.Column("used_utc_ms", sa.BigInteger(), nullable=False),
        sa.Column("bytes", sa.LargeBinary(), nullable=False),
    )
    op.create_index("ix_kept_results_used_utc_ms", "kept_results", ["used_utc_ms"])
