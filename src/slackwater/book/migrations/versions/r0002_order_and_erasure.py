"""Prices, goods received and erasures; a job's line tells its name, reference and day, as its newest version says them."""

import tomllib
from datetime import date
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def _text(name: str, default: str | None = None) -> sa.Column[str]:
    return sa.Column(name, sa.Text(), nullable=False, server_default=default)


def _key(table: str) -> sa.PrimaryKeyConstraint:
    return sa.PrimaryKeyConstraint("id", name=f"pk_{table}")


def upgrade() -> None:
    """Make the tables, and fill the lines of the jobs that are there."""
    op.create_table(
        "price",
        _text("id"),
        _text("item"),
        sa.Column("amount_minor", sa.BigInteger(), nullable=False),
        _text("currency"),
        _text("unit"),
        _text("supplier", ""),
        _text("valid_from"),
        _text("note", ""),
        _text("added_at"),
        _text("added_by", ""),
        _key("price"),
    )
    op.create_index("ix_price_item_valid_from", "price", ["item", "valid_from"])
    op.create_table(
        "receipt",
        _text("id"),
        _text("job_id"),
        _text("line"),
        sa.Column("ordered", sa.Float(), nullable=True),
        sa.Column("received", sa.Float(), nullable=False),
        _text("unit"),
        _text("note", ""),
        _text("at"),
        _text("added_by", ""),
        _text("received_at"),
        _key("receipt"),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name="fk_receipt_job_id"),
    )
    op.create_index("ix_receipt_job_id", "receipt", ["job_id"])
    op.create_table(
        "erasure",
        _text("id"),
        _text("kind"),
        _text("target"),
        sa.Column("becomes", sa.Text(), nullable=True),
        _text("at"),
        _text("by", ""),
        _key("erasure"),
    )
    with op.batch_alter_table("job") as job:
        job.add_column(_text("name", ""))
        job.add_column(_text("reference", ""))
        job.add_column(sa.Column("day", sa.Text(), nullable=True))
        job.create_index("ix_job_day", ["day"])
    _fill()


def _fill() -> None:
    job = sa.table("job", *map(sa.column, ("id", "newest_n", "name", "reference", "day")))
    version = sa.table("version", *map(sa.column, ("job_id", "n", "text")))
    connection = op.get_bind()
    newest = sa.select(job.c.id, version.c.text).join(
        version, (version.c.job_id == job.c.id) & (version.c.n == job.c.newest_n)
    )
    for job_id, text in connection.execute(newest).all():
        connection.execute(sa.update(job).where(job.c.id == job_id).values(**_line(text)))


def _line(text: str) -> dict[str, Any]:
    # A copy of what `faces` did when this step was made: a step must do the same for ever.
    try:
        told = tomllib.loads(text)
    except (ValueError, RecursionError):
        return {"name": "", "reference": "", "day": None}
    site = told.get("site")
    windows = site.get("windows") if isinstance(site, dict) else None
    starts = [
        str(window.get("start"))[:10]
        for window in (windows if isinstance(windows, list) else [])
        if isinstance(window, dict) and window.get("kind") == "day"
    ]
    name, reference = told.get("name"), told.get("reference")
    return {
        "name": name[:200] if isinstance(name, str) else "",
        "reference": reference[:200] if isinstance(reference, str) else "",
        "day": min(filter(_is_date, starts), default=None),
    }


def _is_date(text: str) -> bool:
    try:
        return date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False
