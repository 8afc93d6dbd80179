"""What lists show of a plan, beside it: a list of jobs must not read whole plans."""

import json

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table, and fill it with the verdicts of the plans that are there."""
    op.create_table(
        "plan_summary",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("job_id", sa.Text(), nullable=False),
        sa.Column("version_n", sa.Integer(), nullable=False),
        sa.Column("summary", sa.Text(), nullable=False),
        sa.Column("computed_at", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_plan_summary"),
        sa.ForeignKeyConstraint(["id"], ["plan.id"], name="fk_plan_summary_id"),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name="fk_plan_summary_job_id"),
    )
    op.create_index("ix_plan_summary_job_id", "plan_summary", ["job_id"])
    plan = sa.table("plan", *map(sa.column, ("id", "job_id", "version_n", "plan_json", "computed_at")))
    summary = sa.table("plan_summary", *map(sa.column, ("id", "job_id", "version_n", "summary", "computed_at")))
    connection = op.get_bind()
    for row in connection.execute(sa.select(plan)).all():
        values = {"id": row.id, "job_id": row.job_id, "version_n": row.version_n, "computed_at": row.computed_at}
        connection.execute(sa.insert(summary).values(**values, summary=_summary(row.plan_json)))


def _summary(plan_json: str) -> str:
    try:
        told = json.loads(plan_json)
    except ValueError:
        return "{}"
    verdict = told.get("verdict") if isinstance(told, dict) else None
    return json.dumps({"verdict": verdict}) if isinstance(verdict, str) else "{}"
