"""The first form of the book: clients, sites, tanks, jobs with versions, plans, events, tests, pictures, conditions, tasks."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def _text(name: str, default: str | None = None) -> sa.Column[str]:
    return sa.Column(name, sa.Text(), nullable=False, server_default=default)


def _maybe(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text(), nullable=True)


def _count(name: str, default: int) -> sa.Column[int]:
    return sa.Column(name, sa.Integer(), nullable=False, server_default=sa.text(str(default)))


def _key(table: str, *columns: str) -> sa.PrimaryKeyConstraint:
    return sa.PrimaryKeyConstraint(*columns, name=f"pk_{table}")


def _link(table: str, column: str, to: str, to_column: str = "id") -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint([column], [f"{to}.{to_column}"], name=f"fk_{table}_{column}")


def _indexed(table: str, *columns: str) -> None:
    for column in columns:
        op.create_index(f"ix_{table}_{column}", table, [column])


def upgrade() -> None:
    """Make the tables."""
    op.create_table("fact", _text("name"), _text("value"), _key("fact", "name"))
    op.create_table(
        "person",
        _text("id"),
        _text("sealed_with", ""),
        sa.Column("sealed", sa.LargeBinary(), nullable=True),
        _count("revision", 1),
        _text("added_at"),
        _maybe("erased_at"),
        _key("person", "id"),
    )
    op.create_table("client", _text("id"), _text("added_at"), _key("client", "id"))
    op.create_table(
        "client_person",
        _text("client_id"),
        _text("person_id"),
        _text("role"),
        _text("added_at"),
        _key("client_person", "client_id", "person_id"),
        _link("client_person", "client_id", "client"),
        _link("client_person", "person_id", "person"),
    )
    op.create_table(
        "site",
        _text("id"),
        _text("client_id"),
        _maybe("person_id"),
        _text("name"),
        _count("revision", 1),
        _text("added_at"),
        _key("site", "id"),
        _link("site", "client_id", "client"),
        _link("site", "person_id", "person"),
    )
    _indexed("site", "client_id", "person_id")
    op.create_table(
        "tank",
        _text("id"),
        _text("site_id"),
        _text("name"),
        _count("revision", 1),
        _text("added_at"),
        _key("tank", "id"),
        _link("tank", "site_id", "site"),
    )
    _indexed("tank", "site_id")
    op.create_table(
        "job",
        _text("id"),
        _maybe("site_id"),
        _maybe("tank_id"),
        _maybe("copied_from"),
        _count("newest_n", 0),
        _count("events_n", 0),
        _count("revision", 1),
        _text("added_at"),
        _text("added_by", ""),
        _key("job", "id"),
        _link("job", "site_id", "site"),
        _link("job", "tank_id", "tank"),
        _link("job", "copied_from", "job"),
    )
    _indexed("job", "site_id", "tank_id", "copied_from")
    op.create_table(
        "version",
        _text("job_id"),
        sa.Column("n", sa.Integer(), nullable=False, autoincrement=False),
        sa.Column("parent", sa.Integer(), nullable=False),
        _text("text"),
        _text("sha256"),
        _text("saved_at"),
        _text("saved_by", ""),
        _key("version", "job_id", "n"),
        _link("version", "job_id", "job"),
    )
    op.create_table(
        "plan",
        _text("id"),
        _text("job_id"),
        sa.Column("version_n", sa.Integer(), nullable=False),
        _text("inputs_hash"),
        _text("plan_json"),
        _text("computed_at"),
        _key("plan", "id"),
        sa.ForeignKeyConstraint(
            ["job_id", "version_n"], ["version.job_id", "version.n"], name="fk_plan_job_id_version_n"
        ),
        sa.UniqueConstraint("job_id", "version_n", "inputs_hash", name="uq_plan_job_id_version_n_inputs_hash"),
    )
    op.create_table(
        "event",
        _text("id"),
        _text("job_id"),
        sa.Column("n", sa.Integer(), nullable=False),
        _text("kind"),
        _text("subject", ""),
        _text("at"),
        _text("received_at"),
        _text("job_reference", ""),
        _text("actor", ""),
        _text("device", ""),
        sa.Column("seq", sa.BigInteger(), nullable=False, server_default=sa.text("0")),
        _text("body"),
        _text("sha256"),
        _key("event", "id"),
        _link("event", "job_id", "job"),
        sa.UniqueConstraint("job_id", "n", name="uq_event_job_id_n"),
    )
    op.create_index(
        "uq_event_device_seq",
        "event",
        ["device", "seq"],
        unique=True,
        sqlite_where=sa.text("device != ''"),
        postgresql_where=sa.text("device != ''"),
    )
    op.create_table(
        "water_test",
        _text("id"),
        _maybe("job_id"),
        _maybe("tank_id"),
        _maybe("corrects"),
        _text("at"),
        _text("readings"),
        _text("note", ""),
        _text("added_by", ""),
        _text("received_at"),
        _key("water_test", "id"),
        _link("water_test", "job_id", "job"),
        _link("water_test", "tank_id", "tank"),
        _link("water_test", "corrects", "water_test"),
    )
    _indexed("water_test", "job_id", "tank_id", "corrects")
    op.create_table(
        "blob",
        _text("sha256"),
        sa.Column("size", sa.BigInteger(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=True),
        _key("blob", "sha256"),
    )
    op.create_table(
        "photo",
        _text("id"),
        _maybe("job_id"),
        _maybe("tank_id"),
        _maybe("sha256"),
        _text("media_type"),
        sa.Column("width_px", sa.Integer(), nullable=False),
        sa.Column("height_px", sa.Integer(), nullable=False),
        sa.Column("has_place", sa.Boolean(), nullable=False),
        sa.Column("thumbnail", sa.LargeBinary(), nullable=True),
        _text("caption", ""),
        _text("added_at"),
        _text("added_by", ""),
        _maybe("erased_at"),
        _key("photo", "id"),
        _link("photo", "job_id", "job"),
        _link("photo", "tank_id", "tank"),
        _link("photo", "sha256", "blob", "sha256"),
    )
    _indexed("photo", "job_id", "tank_id", "sha256")
    op.create_table(
        "document",
        _text("id"),
        _text("job_id"),
        _maybe("sha256"),
        _text("media_type"),
        _text("title"),
        _text("added_at"),
        _text("added_by", ""),
        _maybe("erased_at"),
        _key("document", "id"),
        _link("document", "job_id", "job"),
        _link("document", "sha256", "blob", "sha256"),
    )
    _indexed("document", "job_id", "sha256")
    op.create_table(
        "condition",
        _text("id"),
        _text("job_id"),
        _text("part"),
        _text("place", ""),
        _text("seen"),
        _text("at"),
        _text("added_by", ""),
        _text("received_at"),
        _key("condition", "id"),
        _link("condition", "job_id", "job"),
    )
    _indexed("condition", "job_id")
    op.create_table(
        "condition_photo",
        _text("condition_id"),
        _text("photo_id"),
        _key("condition_photo", "condition_id", "photo_id"),
        _link("condition_photo", "condition_id", "condition"),
        _link("condition_photo", "photo_id", "photo"),
    )
    op.create_table(
        "task",
        _text("id"),
        _maybe("job_id"),
        _text("kind"),
        _text("arguments", "{}"),
        _text("state"),
        _text("doing", ""),
        sa.Column("share", sa.Float(), nullable=True),
        sa.Column("cancel_asked", sa.Boolean(), nullable=False, server_default=sa.text("false")),
        _maybe("restarts"),
        _maybe("result"),
        _maybe("fault"),
        _text("added_at"),
        _text("added_by", ""),
        _maybe("started_at"),
        _maybe("ended_at"),
        _key("task", "id"),
        _link("task", "job_id", "job"),
        _link("task", "restarts", "task"),
    )
    _indexed("task", "job_id", "state")
