"""Which office does a piece of work, so that another one on the same book leaves it alone."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column; what ran before has nobody who does it."""
    op.add_column("task", sa.Column("owner", sa.Text(), nullable=True))
