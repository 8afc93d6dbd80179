"""What the payment code of an invoice says, or why there is none."""

from __future__ import annotations

from decimal import Decimal
from enum import StrEnum

from slackwater.frozen import Frozen
from slackwater.invoice.account import is_iban
from slackwater.invoice.codes import Kind
from slackwater.invoice.model import Invoice
from slackwater.invoice.totals import totals_of

LOWEST, HIGHEST = Decimal("0.01"), Decimal("999999999.99")
LONGEST_NAME = 70
MOST_NAME_BYTES = 180
"""Of a name in UTF-8: with the other fields at their longest the whole stays below the 331 bytes of the guideline."""


class NoCode(StrEnum):
    """Why an invoice has no payment code; its sentence is ``invoice.no_code.<reason>``."""

    CREDIT = "credit"
    CURRENCY = "currency"
    ACCOUNT = "account"
    AMOUNT = "amount"


class Transfer(Frozen):
    """A credit transfer as the code asks for it, in euro."""

    name: str
    iban: str
    bic: str
    amount: Decimal
    text: str


def transfer_of(invoice: Invoice) -> Transfer | NoCode:
    """The transfer that pays an invoice.

    References
    ----------
    European Payments Council, EPC069-12 v2.1 (2012), "Quick Response Code: Guidelines to Enable Data Capture for the
    Initiation of a SEPA Credit Transfer", table 1: euro only, 0.01 to 999999999.99, name of 70 signs, 331 bytes.
    """
    if invoice.kind is Kind.CREDIT_NOTE:
        return NoCode.CREDIT
    if invoice.currency != "EUR":
        return NoCode.CURRENCY
    if not is_iban(invoice.seller.iban):
        return NoCode.ACCOUNT
    due = totals_of(invoice.lines, currency=invoice.currency, prepaid=invoice.prepaid).due
    if not LOWEST <= due <= HIGHEST:
        return NoCode.AMOUNT
    # A line break would begin the next field of the code.
    name = " ".join((invoice.seller.account_name or invoice.seller.name).split())[:LONGEST_NAME]
    while len(name.encode("utf-8")) > MOST_NAME_BYTES:
        name = name[:-1]
    return Transfer(
        name=name, iban=invoice.seller.iban, bic=invoice.seller.bic, amount=due, text=" ".join(invoice.number.split())
    )
