"""Accounts with their sessions, links for clients, and the trail, to which the database itself only lets rows be added."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

KEPT = "The trail is only added to"


def _text(name: str, default: str | None = None) -> sa.Column[str]:
    return sa.Column(name, sa.Text(), nullable=False, server_default=default)


def _maybe(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text(), nullable=True)


def _key(table: str, column: str = "id") -> sa.PrimaryKeyConstraint:
    return sa.PrimaryKeyConstraint(column, name=f"pk_{table}")


def _to(table: str, column: str, other: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint([column], [f"{other}.id"], name=f"fk_{table}_{column}")


def upgrade() -> None:
    """Make the tables; a book that has no account stays as open as it was on its own machine."""
    op.create_table(
        "account",
        _text("id"),
        _text("person_id"),
        _text("role"),
        sa.Column("revision", sa.Integer(), nullable=False, server_default=sa.text("1")),
        _text("added_at"),
        _text("added_by", ""),
        _maybe("ended_at"),
        _key("account"),
        _to("account", "person_id", "person"),
    )
    op.create_index("ix_account_person_id", "account", ["person_id"])
    op.create_table(
        "credential",
        _text("account_id"),
        _text("password"),
        _text("set_at"),
        _key("credential", "account_id"),
        _to("credential", "account_id", "account"),
    )
    op.create_table(
        "session",
        _text("token_sha256"),
        _text("account_id"),
        _text("began_at"),
        _text("expires_at"),
        _key("session", "token_sha256"),
        _to("session", "account_id", "account"),
    )
    op.create_index("ix_session_account_id", "session", ["account_id"])
    op.create_table(
        "attempt",
        _text("key"),
        sa.Column("failed", sa.Integer(), nullable=False, server_default=sa.text("0")),
        _text("last_at"),
        _key("attempt", "key"),
    )
    op.create_table(
        "link",
        _text("id"),
        _text("job_id"),
        _text("token_sha256"),
        _text("added_at"),
        _text("added_by", ""),
        _text("expires_at"),
        _maybe("ended_at"),
        _key("link"),
        _to("link", "job_id", "job"),
        sa.UniqueConstraint("token_sha256", name="uq_link_token_sha256"),
    )
    op.create_index("ix_link_job_id", "link", ["job_id"])
    op.create_table(
        "trail",
        _text("id"),
        _text("at"),
        _text("deed"),
        _text("by", ""),
        _text("about", ""),
        _text("note", ""),
        _key("trail"),
    )
    _only_added_to()


def _only_added_to() -> None:
    connection = op.get_bind()
    if connection.dialect.name == "sqlite":
        for what in ("UPDATE", "DELETE"):
            connection.exec_driver_sql(
                f"CREATE TRIGGER trail_no_{what.lower()} BEFORE {what} ON trail BEGIN SELECT RAISE(ABORT, '{KEPT}'); END"
            )
        return
    connection.exec_driver_sql(
        f"CREATE OR REPLACE FUNCTION trail_is_kept() RETURNS trigger AS $$ BEGIN RAISE EXCEPTION '{KEPT}'; END $$ LANGUAGE plpgsql"
    )
    connection.exec_driver_sql(
        "CREATE TRIGGER trail_is_kept BEFORE UPDATE OR DELETE OR TRUNCATE ON trail "
        "FOR EACH STATEMENT EXECUTE FUNCTION trail_is_kept()"
    )
