"""Jobs that are left out of what is learned, each with its reason; taking one back is a row of its own."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "left_out",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("job_id", sa.Text(), nullable=False),
        sa.Column("n", sa.Integer(), nullable=False),
        sa.Column("is_out", sa.Boolean(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False, server_default=""),
        sa.Column("added_at", sa.Text(), nullable=False),
        sa.Column("added_by", sa.Text(), nullable=False, server_default=""),
        sa.PrimaryKeyConstraint("id", name="pk_left_out"),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name="fk_left_out_job_id"),
        sa.UniqueConstraint("job_id", "n", name="uq_left_out_job_id_n"),
    )
    op.create_index("ix_left_out_job_id", "left_out", ["job_id"])
