"""The tables of the book as they stand today; how they came about is told by the numbered steps in `migrations`.

Moments are UTC text (`moments`), dates are ISO text, money is whole minor units with a currency code, JSON is text: so
the two databases hold, sort and compare the same values.
"""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Float,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
    text,
)

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def _id() -> Column[str]:
    return Column("id", Text, primary_key=True)


def _text(name: str, *, default: str | None = None) -> Column[str]:
    return Column(name, Text, nullable=False, server_default=default)


def _link(name: str, to: str) -> Column[str]:
    return Column(name, Text, ForeignKey(f"{to}.id"), nullable=False, index=True)


def _maybe_link(name: str, to: str) -> Column[str]:
    return Column(name, Text, ForeignKey(f"{to}.id"), nullable=True, index=True)


def _count(name: str, default: int) -> Column[int]:
    return Column(name, Integer, nullable=False, server_default=text(str(default)))


fact = Table("fact", metadata, Column("name", Text, primary_key=True), _text("value"))

person = Table(
    "person",
    metadata,
    _id(),
    _text("sealed_with", default=""),
    Column("sealed", LargeBinary, nullable=True),
    _count("revision", 1),
    _text("added_at"),
    Column("erased_at", Text, nullable=True),
)

client = Table("client", metadata, _id(), _text("added_at"))

client_person = Table(
    "client_person",
    metadata,
    Column("client_id", Text, ForeignKey("client.id"), primary_key=True),
    Column("person_id", Text, ForeignKey("person.id"), primary_key=True),
    _text("role"),
    _text("added_at"),
)

site = Table(
    "site",
    metadata,
    _id(),
    _link("client_id", "client"),
    _maybe_link("person_id", "person"),
    _text("name"),
    _count("revision", 1),
    _text("added_at"),
)

tank = Table("tank", metadata, _id(), _link("site_id", "site"), _text("name"), _count("revision", 1), _text("added_at"))

job = Table(
    "job",
    metadata,
    _id(),
    _maybe_link("site_id", "site"),
    _maybe_link("tank_id", "tank"),
    _maybe_link("copied_from", "job"),
    _count("newest_n", 0),
    _count("events_n", 0),
    _count("revision", 1),
    _text("added_at"),
    _text("added_by", default=""),
    _text("name", default=""),
    _text("reference", default=""),
    Column("day", Text, nullable=True, index=True),
)

version = Table(
    "version",
    metadata,
    Column("job_id", Text, ForeignKey("job.id"), primary_key=True),
    Column("n", Integer, primary_key=True, autoincrement=False),
    Column("parent", Integer, nullable=False),
    _text("text"),
    _text("sha256"),
    _text("saved_at"),
    _text("saved_by", default=""),
)

plan = Table(
    "plan",
    metadata,
    _id(),
    Column("job_id", Text, nullable=False),
    Column("version_n", Integer, nullable=False),
    _text("inputs_hash"),
    _text("plan_json"),
    _text("computed_at"),
    ForeignKeyConstraint(["job_id", "version_n"], ["version.job_id", "version.n"]),
    UniqueConstraint("job_id", "version_n", "inputs_hash"),
)

plan_summary = Table(
    "plan_summary",
    metadata,
    Column("id", Text, ForeignKey("plan.id"), primary_key=True),
    _link("job_id", "job"),
    Column("version_n", Integer, nullable=False),
    _text("summary"),
    _text("computed_at"),
)

event = Table(
    "event",
    metadata,
    _id(),
    Column("job_id", Text, ForeignKey("job.id"), nullable=False),
    Column("n", Integer, nullable=False),
    _text("kind"),
    _text("subject", default=""),
    _text("at"),
    _text("received_at"),
    _text("job_reference", default=""),
    _text("actor", default=""),
    _text("device", default=""),
    Column("seq", BigInteger, nullable=False, server_default=text("0")),
    _text("body"),
    _text("sha256"),
    UniqueConstraint("job_id", "n"),
)
Index(
    "uq_event_device_seq",
    event.c.device,
    event.c.seq,
    unique=True,
    sqlite_where=event.c.device != "",
    postgresql_where=event.c.device != "",
)

water_test = Table(
    "water_test",
    metadata,
    _id(),
    _maybe_link("job_id", "job"),
    _maybe_link("tank_id", "tank"),
    _maybe_link("corrects", "water_test"),
    _text("at"),
    _text("readings"),
    _text("note", default=""),
    _text("added_by", default=""),
    _text("received_at"),
)

blob = Table(
    "blob",
    metadata,
    Column("sha256", Text, primary_key=True),
    Column("size", BigInteger, nullable=False),
    Column("content", LargeBinary, nullable=True),
)

photo = Table(
    "photo",
    metadata,
    _id(),
    _maybe_link("job_id", "job"),
    _maybe_link("tank_id", "tank"),
    Column("sha256", Text, ForeignKey("blob.sha256"), nullable=True, index=True),
    _text("media_type"),
    Column("width_px", Integer, nullable=False),
    Column("height_px", Integer, nullable=False),
    Column("has_place", Boolean, nullable=False),
    Column("thumbnail", LargeBinary, nullable=True),
    _text("caption", default=""),
    _text("added_at"),
    _text("added_by", default=""),
    Column("erased_at", Text, nullable=True),
)

document = Table(
    "document",
    metadata,
    _id(),
    _link("job_id", "job"),
    Column("sha256", Text, ForeignKey("blob.sha256"), nullable=True, index=True),
    _text("media_type"),
    _text("title"),
    _text("added_at"),
    _text("added_by", default=""),
    Column("erased_at", Text, nullable=True),
)

layout_draft = Table(
    "layout_draft",
    metadata,
    Column("id", Text, ForeignKey("job.id"), primary_key=True),
    _count("revision", 1),
    Column("based_on", Integer, nullable=False),
    _text("body"),
    _text("changed_at"),
    _text("changed_by", default=""),
)

condition = Table(
    "condition",
    metadata,
    _id(),
    _link("job_id", "job"),
    _text("part"),
    _text("place", default=""),
    _text("seen"),
    _text("at"),
    _text("added_by", default=""),
    _text("received_at"),
)

condition_photo = Table(
    "condition_photo",
    metadata,
    Column("condition_id", Text, ForeignKey("condition.id"), primary_key=True),
    Column("photo_id", Text, ForeignKey("photo.id"), primary_key=True),
)

task = Table(
    "task",
    metadata,
    _id(),
    _maybe_link("job_id", "job"),
    _text("kind"),
    _text("arguments", default="{}"),
    _text("state"),
    _text("doing", default=""),
    Column("share", Float, nullable=True),
    Column("cancel_asked", Boolean, nullable=False, server_default=text("false")),
    Column("restarts", Text, ForeignKey("task.id"), nullable=True),
    Column("owner", Text, nullable=True),
    Column("program", Text, nullable=True),
    Column("tries", Integer, nullable=False, server_default=text("0")),
    _text("handed", default="{}"),
    Column("result", Text, nullable=True),
    Column("fault", Text, nullable=True),
    _text("added_at"),
    _text("added_by", default=""),
    Column("started_at", Text, nullable=True),
    Column("ended_at", Text, nullable=True),
    Index("ix_task_state", "state"),
)

parcel = Table(
    "parcel",
    metadata,
    Column("mark", Text, primary_key=True),
    Column("content", LargeBinary, nullable=False),
    _text("sha256"),
    _text("laid_at"),
    Index("ix_parcel_laid_at", "laid_at"),
)

price = Table(
    "price",
    metadata,
    _id(),
    _text("item"),
    Column("amount_minor", BigInteger, nullable=False),
    _text("currency"),
    _text("unit"),
    _text("supplier", default=""),
    _text("valid_from"),
    _text("note", default=""),
    _text("added_at"),
    _text("added_by", default=""),
    Index("ix_price_item_valid_from", "item", "valid_from"),
)

firm = Table("firm", metadata, _id(), _text("facts"), _count("revision", 1), _text("changed_at"), _text("changed_by"))

invoice = Table(
    "invoice",
    metadata,
    _id(),
    _link("job_id", "job"),
    _maybe_link("corrects", "invoice"),
    _text("kind"),
    Column("year", Integer, nullable=True),
    Column("n", Integer, nullable=True),
    _text("number", default=""),
    Column("issued_on", Text, nullable=True),
    _text("currency", default=""),
    _text("total", default=""),
    _text("sealed_with", default=""),
    Column("sealed", LargeBinary, nullable=True),
    _text("sha256", default=""),
    _count("revision", 1),
    _text("added_at"),
    _text("added_by", default=""),
    UniqueConstraint("year", "n"),
)

invoice_paper = Table(
    "invoice_paper",
    metadata,
    Column("id", Text, ForeignKey("invoice.id"), primary_key=True),
    _text("sealed_with", default=""),
    Column("sealed", LargeBinary, nullable=True),
    _text("sha256"),
)

receipt = Table(
    "receipt",
    metadata,
    _id(),
    _link("job_id", "job"),
    _text("line"),
    Column("ordered", Float, nullable=True),
    Column("received", Float, nullable=False),
    _text("unit"),
    _text("note", default=""),
    _text("at"),
    _text("added_by", default=""),
    _text("received_at"),
)

left_out = Table(
    "left_out",
    metadata,
    _id(),
    _link("job_id", "job"),
    Column("n", Integer, nullable=False),
    Column("is_out", Boolean, nullable=False),
    _text("reason", default=""),
    _text("added_at"),
    _text("added_by", default=""),
    UniqueConstraint("job_id", "n"),
)

erasure = Table(
    "erasure",
    metadata,
    _id(),
    _text("kind"),
    _text("target"),
    Column("becomes", Text, nullable=True),
    _text("at"),
    _text("by", default=""),
)

account = Table(
    "account",
    metadata,
    _id(),
    _link("person_id", "person"),
    _text("role"),
    _count("revision", 1),
    _text("added_at"),
    _text("added_by", default=""),
    Column("ended_at", Text, nullable=True),
)

credential = Table(
    "credential",
    metadata,
    Column("account_id", Text, ForeignKey("account.id"), primary_key=True),
    _text("password"),
    _text("set_at"),
)

session = Table(
    "session",
    metadata,
    Column("token_sha256", Text, primary_key=True),
    _link("account_id", "account"),
    _text("began_at"),
    _text("expires_at"),
)

attempt = Table("attempt", metadata, Column("key", Text, primary_key=True), _count("failed", 0), _text("last_at"))

link = Table(
    "link",
    metadata,
    _id(),
    _link("job_id", "job"),
    Column("token_sha256", Text, nullable=False, unique=True),
    _text("added_at"),
    _text("added_by", default=""),
    _text("expires_at"),
    Column("ended_at", Text, nullable=True),
)

trail = Table(
    "trail",
    metadata,
    _id(),
    _text("at"),
    _text("deed"),
    _text("by", default=""),
    _text("about", default=""),
    _text("note", default=""),
)
