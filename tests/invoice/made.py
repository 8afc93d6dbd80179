"""Invoices for tests."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from slackwater.invoice.codes import Category, Kind
from slackwater.invoice.issuing import issued
from slackwater.invoice.model import Address, Buyer, Corrected, Draft, Firm, Invoice, Line, Seller, Tax

DAY = date(2027, 2, 12)
USUAL = Tax(label="usual", category=Category.STANDARD, rate_percent=Decimal(19))
LESS = Tax(label="less", category=Category.STANDARD, rate_percent=Decimal(7))
REASONS = {"E": "Small firm", "AE": "Reverse charge", "K": "Intra-community supply", "G": "Export", "O": "Not taxed"}
TAXES = {
    **{name: Tax(label=name, category=Category(name), reason=reason) for name, reason in REASONS.items()},
    "S": USUAL,
    "Z": Tax(label="nought", category=Category.ZERO),
}
SELLER = Seller(
    name="Still Water Ltd",
    address=Address(line_one="Quay 1", postcode="20457", city="Hamburg", country="DE"),
    vat_id="DE123456789",
    tax_number="12/345/67890",
    iban="DE89370400440532013000",
    bic="COBADEFFXXX",
)
FIRM = Firm(seller=SELLER, currency="EUR", taxes=(USUAL, LESS), payment_days=14)
BUYER = Buyer(name="Hotel Example", address=Address(line_one="Lake Road 5", city="Berlin", country="DE"))


def line(quantity: str = "1", price: str = "100", tax: Tax = USUAL, text: str = "Work", unit: str = "C62") -> Line:
    return Line(text=text, quantity=Decimal(quantity), unit=unit, price=Decimal(price), tax=tax)


def draft(*lines: Line, **values: object) -> Draft:
    return Draft(**{"buyer": BUYER, "lines": lines, "currency": "EUR", "delivered_on": date(2027, 2, 10), **values})


def invoice(*lines: Line, firm: Firm = FIRM, number: str = "2027-0001", **values: object) -> Invoice:
    return issued(draft(*lines, **values), firm, number=number, on=DAY)


def credit_note(*lines: Line, **values: object) -> Invoice:
    first = Corrected(number="2027-0001", issued_on=DAY)
    return invoice(*lines, number="2027-0002", kind=Kind.CREDIT_NOTE, corrects=first, **values)
