"""Work that other machines do: whose workers a task waits for, how often it was begun, and what it needs and makes."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add columns and a table; what was there before is an office's own."""
    op.add_column("task", sa.Column("program", sa.Text(), nullable=True))
    op.add_column("task", sa.Column("tries", sa.Integer(), nullable=False, server_default=sa.text("0")))
    op.add_column("task", sa.Column("handed", sa.Text(), nullable=False, server_default="{}"))
    op.create_table(
        "parcel",
        sa.Column("mark", sa.Text(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("laid_at", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("mark", name="pk_parcel"),
    )
    op.create_index("ix_parcel_laid_at", "parcel", ["laid_at"])
