"""0002: what a printed sheet says and which one it replaces."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

COLUMNS = ("key", "language", "content", "replaces")


def upgrade() -> None:
    """Add the columns; they stay empty for sheets that were printed before."""
    for name in COLUMNS:
        # Added in place: a table made anew would lose what hangs on it.
        op.add_column("sheets", sa.Column(name, sa.Text(), nullable=False, server_default=""))
