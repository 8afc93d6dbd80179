"""Invoices: drafts that change, and issued ones that never do; numbers of a year without a gap.

What an invoice says names people, so it is sealed as they are. Kind, number, day and sum stand open beside it: the row of numbers
can be read through without the key.
"""

from __future__ import annotations

import base64
import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, Row, delete, func, select

from slackwater.book import moments
from slackwater.book.blobs import content_hash
from slackwater.book.firm import THE_FIRM
from slackwater.book.handle import Book
from slackwater.book.ids import checked_id, new_id
from slackwater.book.rows import add as add_row
from slackwater.book.rows import change as change_row
from slackwater.book.rows import found, storable
from slackwater.book.sealing import sealed
from slackwater.book.tables import firm, invoice, invoice_paper, job
from slackwater.errors import Conflict, NotFound


@dataclass(frozen=True, slots=True)
class InvoiceLine:
    """An invoice in a list; `number` is empty and `issued_on` None while it is a draft.

    Attributes
    ----------
    corrects : str or None
        Id of the invoice that a credit note corrects.
    total : str
        What is to be paid, in `currency`; empty for a draft.
    """

    id: str
    job_id: str
    kind: str
    number: str
    issued_on: date | None
    currency: str
    total: str
    corrects: str | None
    revision: int
    added_at: datetime


@dataclass(frozen=True, slots=True)
class InvoiceRow:
    """An invoice with what it says, as JSON."""

    line: InvoiceLine
    content: str


@dataclass(frozen=True, slots=True)
class Papers:
    """The papers of an issued invoice, as they were then."""

    pdf: bytes
    xml: bytes


@dataclass(frozen=True, slots=True)
class Made:
    """What becomes of a draft under its number."""

    number: str
    content: str
    currency: str
    total: str
    papers: Papers


def canonical(text: str) -> str:
    """A content in the one form in which it is kept and hashed.

    Raises
    ------
    BadInput
        If it cannot be kept.
    """
    form = json.dumps(json.loads(text), ensure_ascii=False, sort_keys=True)
    storable("invoice", form)
    return form


def add_draft(
    book: Book,
    job_id: str,
    content: str,
    *,
    kind: str,
    at: datetime,
    by: str,
    corrects: str | None = None,
    invoice_id: str | None = None,
) -> InvoiceRow:
    """Begin an invoice or a credit note.

    Raises
    ------
    NotFound, Conflict
        If there is no such job; if the id is taken, or what is corrected was never issued.
    """
    new = new_id(at) if invoice_id is None else checked_id(invoice_id)
    with book.writing() as connection:
        found(connection, job, job_id)
        if corrects is not None and found(connection, invoice, corrects).n is None:
            raise Conflict("Only an invoice that was issued can be corrected; change the draft instead")
        add_row(
            connection,
            invoice,
            id=new,
            job_id=job_id,
            corrects=corrects,
            kind=kind,
            added_at=moments.stored(at),
            added_by=by,
            **_kept(book, canonical(content)),
        )
    return get(book, new)


def change_draft(book: Book, invoice_id: str, content: str, *, revision: int) -> InvoiceRow:
    """Let a draft read otherwise.

    Raises
    ------
    NotFound, Conflict
        If it is not there; if it was issued, or somebody else has changed it since `revision` was read.
    """
    with book.writing() as connection:
        _draft(connection, invoice_id)
        change_row(connection, invoice, invoice_id, revision=revision, **_kept(book, canonical(content)))
    return get(book, invoice_id)


def drop_draft(book: Book, invoice_id: str) -> None:
    """Throw a draft away.

    Raises
    ------
    NotFound, Conflict
        If it is not there; if it was issued.
    """
    with book.writing() as connection:
        _draft(connection, invoice_id)
        connection.execute(delete(invoice).where(invoice.c.id == invoice_id))


def issue(
    book: Book, invoice_id: str, *, revision: int, on: date, first_n: int, make: Callable[[int], Made]
) -> InvoiceRow:
    """Give a draft the next number of its year and keep its papers, all in one transaction or not at all.

    Parameters
    ----------
    revision : int
        Of the draft as it was looked through.
    on : date
        Today.
    first_n : int
        The first number of a year that has none yet.
    make : callable
        From the number to what the invoice says and its papers. What it raises leaves draft and numbers as they were.

    Raises
    ------
    NotFound, Conflict
        If there is no such draft or the firm's settings are missing; if it was issued or changed meanwhile, or the day lies before
        that of the last invoice.
    """
    with book.writing() as connection:
        # Who holds the firm's row takes the next number; who waits for it sees that number taken.
        found(connection, firm, THE_FIRM, locked=True)
        _draft(connection, invoice_id)
        last = connection.execute(
            select(func.max(invoice.c.n), func.max(invoice.c.issued_on)).where(invoice.c.year == on.year)
        ).one()
        if last[1] is not None and last[1] > on.isoformat():
            raise Conflict(
                f"The last invoice of this year is of {last[1]}, and today is {on.isoformat()}: numbers follow the days. "
                "Set the clock of this machine right"
            )
        n = first_n if last[0] is None else last[0] + 1
        made = make(n)
        change_row(
            connection,
            invoice,
            invoice_id,
            revision=revision,
            year=on.year,
            n=n,
            number=made.number,
            issued_on=on.isoformat(),
            currency=made.currency,
            total=made.total,
            **_kept(book, canonical(made.content)),
        )
        papers = json.dumps(
            {"pdf": base64.b64encode(made.papers.pdf).decode("ascii"), "xml": made.papers.xml.decode("utf-8")},
            ensure_ascii=False,
            sort_keys=True,
        )
        add_row(connection, invoice_paper, id=invoice_id, **_kept(book, papers))
    return get(book, invoice_id)


def get(book: Book, invoice_id: str) -> InvoiceRow:
    """An invoice or a draft.

    Raises
    ------
    NotFound
    """
    with book.reading() as connection:
        row = found(connection, invoice, invoice_id)
    return InvoiceRow(_line(row), book.safe.open(row.sealed, sealed_with=row.sealed_with))


def papers(book: Book, invoice_id: str) -> Papers:
    """The papers of an issued invoice.

    Raises
    ------
    NotFound
        If it was not issued.
    """
    with book.reading() as connection:
        row = connection.execute(select(invoice_paper).where(invoice_paper.c.id == invoice_id)).one_or_none()
    if row is None:
        raise NotFound("This invoice was not issued, so it has no papers")
    told = json.loads(book.safe.open(row.sealed, sealed_with=row.sealed_with))
    return Papers(base64.b64decode(told["pdf"]), told["xml"].encode("utf-8"))


def of_job(book: Book, job_id: str) -> list[InvoiceLine]:
    """Invoices and drafts of a job, in the order in which they were begun."""
    return _listed(book, invoice.c.job_id == job_id)


def of_year(book: Book, year: int) -> list[InvoiceLine]:
    """What was issued in a year, by number."""
    return _listed(book, invoice.c.year == year, invoice.c.n)


def corrections(book: Book, invoice_id: str) -> list[InvoiceLine]:
    """Credit notes to an invoice, drafts included."""
    return _listed(book, invoice.c.corrects == invoice_id)


def years(book: Book) -> list[int]:
    """Years in which something was issued, the last first."""
    asked = select(invoice.c.year).where(invoice.c.year.is_not(None)).distinct().order_by(invoice.c.year.desc())
    with book.reading() as connection:
        return [int(year) for year in connection.scalars(asked)]


def drop_drafts_of(connection: Connection, job_ids: Any) -> None:
    """Remove drafts of jobs, within a transaction that erases whom they name."""
    connection.execute(delete(invoice).where(invoice.c.n.is_(None), invoice.c.job_id.in_(job_ids)))


def _listed(book: Book, condition: Any, order: Any = invoice.c.id) -> list[InvoiceLine]:
    columns = [column for column in invoice.c if column.name not in ("sealed", "sealed_with")]
    asked = select(*columns).where(condition).order_by(order)
    with book.reading() as connection:
        return [_line(row) for row in connection.execute(asked)]


def _draft(connection: Connection, invoice_id: str) -> None:
    if found(connection, invoice, invoice_id, locked=True).n is not None:
        raise Conflict("This invoice was issued and never changes; write a credit note to correct it")


def _kept(book: Book, text: str) -> dict[str, Any]:
    return {"sha256": content_hash(text.encode("utf-8")), **sealed(book, text)}


def _line(row: Row[Any]) -> InvoiceLine:
    return InvoiceLine(
        id=row.id,
        job_id=row.job_id,
        kind=row.kind,
        number=row.number,
        issued_on=None if row.issued_on is None else date.fromisoformat(row.issued_on),
        currency=row.currency,
        total=row.total,
        corrects=row.corrects,
        revision=row.revision,
        added_at=moments.read(row.added_at),
    )
