"""The firm's settings; invoices, sealed like the people they name, with a number that no other bears, and their papers."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def _text(name: str, default: str | None = None) -> sa.Column[str]:
    return sa.Column(name, sa.Text(), nullable=False, server_default=default)


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "firm",
        _text("id"),
        _text("facts"),
        sa.Column("revision", sa.Integer(), nullable=False, server_default=sa.text("1")),
        _text("changed_at"),
        _text("changed_by"),
        sa.PrimaryKeyConstraint("id", name="pk_firm"),
    )
    op.create_table(
        "invoice",
        _text("id"),
        _text("job_id"),
        sa.Column("corrects", sa.Text(), nullable=True),
        _text("kind"),
        sa.Column("year", sa.Integer(), nullable=True),
        sa.Column("n", sa.Integer(), nullable=True),
        _text("number", ""),
        sa.Column("issued_on", sa.Text(), nullable=True),
        _text("currency", ""),
        _text("total", ""),
        _text("sealed_with", ""),
        sa.Column("sealed", sa.LargeBinary(), nullable=True),
        _text("sha256", ""),
        sa.Column("revision", sa.Integer(), nullable=False, server_default=sa.text("1")),
        _text("added_at"),
        _text("added_by", ""),
        sa.PrimaryKeyConstraint("id", name="pk_invoice"),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name="fk_invoice_job_id"),
        sa.ForeignKeyConstraint(["corrects"], ["invoice.id"], name="fk_invoice_corrects"),
        sa.UniqueConstraint("year", "n", name="uq_invoice_year_n"),
    )
    op.create_index("ix_invoice_job_id", "invoice", ["job_id"])
    op.create_index("ix_invoice_corrects", "invoice", ["corrects"])
    op.create_table(
        "invoice_paper",
        _text("id"),
        _text("sealed_with", ""),
        sa.Column("sealed", sa.LargeBinary(), nullable=True),
        _text("sha256"),
        sa.PrimaryKeyConstraint("id", name="pk_invoice_paper"),
        sa.ForeignKeyConstraint(["id"], ["invoice.id"], name="fk_invoice_paper_id"),
    )
