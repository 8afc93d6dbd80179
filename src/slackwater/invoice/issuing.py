"""From a draft to the invoice as it is issued: number, dates, terms."""

from __future__ import annotations

from datetime import date, timedelta

from slackwater.invoice.codes import Kind
from slackwater.invoice.model import Draft, Firm, Invoice


def number_of(firm: Firm, *, year: int, n: int) -> str:
    """The number of the n-th invoice of a year, such as "2027-0001" behind the firm's prefix."""
    return f"{firm.number_prefix}{year}-{n:04d}"


def issued(draft: Draft, firm: Firm, *, number: str, on: date) -> Invoice:
    """The invoice that a draft becomes.

    Notes
    -----
    BR-CO-25: what is to be paid has a date by which, or terms; a credit note is not asked to be paid.
    """
    asks = draft.kind is Kind.INVOICE
    return Invoice(
        kind=draft.kind,
        number=number,
        issued_on=on,
        due_on=on + timedelta(days=firm.payment_days) if asks else None,
        seller=firm.seller,
        buyer=draft.buyer,
        lines=draft.lines,
        currency=draft.currency,
        delivered_on=draft.delivered_on,
        prepaid=draft.prepaid,
        terms=firm.terms,
        note=draft.note,
        corrects=draft.corrects,
    )
