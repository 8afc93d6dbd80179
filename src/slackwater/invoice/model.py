"""What an invoice is made of: the firm, the buyer, lines with their tax, and the whole as it was issued."""

from __future__ import annotations

import unicodedata
from datetime import date
from decimal import Decimal
from typing import Annotated

from pydantic import AfterValidator

from slackwater.frozen import Frozen
from slackwater.invoice.codes import Category, Kind


def plain(text: str) -> str:
    """A text as XML and paper can bear it: signs that neither can show are left out.

    References
    ----------
    Extensible Markup Language (XML) 1.0, 5th edition, section 2.2: characters.
    """
    bad = {"Cc", "Cs", "Cn"}
    return "".join(sign for sign in text if sign in "\n\t" or unicodedata.category(sign) not in bad).strip()


Words = Annotated[str, AfterValidator(plain)]


def rate_told(category: Category, rate_percent: Decimal) -> str:
    """A rate with its category, such as "19 % S"; outside of the tax there is none."""
    return category.value if category is Category.OUTSIDE else f"{rate_percent.normalize():f} % {category.value}"


class Tax(Frozen):
    """One of the firm's taxes.

    Attributes
    ----------
    label : str
        What the firm calls it.
    category : Category
    rate_percent : Decimal
        [0..100]
    reason : str
        Why no tax is charged, as the invoice must say it.
    """

    label: Words
    category: Category
    rate_percent: Decimal = Decimal(0)
    reason: Words = ""

    @property
    def short(self) -> str:
        """Rate and category, such as "19 % S"."""
        return rate_told(self.category, self.rate_percent)


class Address(Frozen):
    """Where somebody is; `country` is an ISO 3166-1 code."""

    line_one: Words = ""
    line_two: Words = ""
    postcode: Words = ""
    city: Words = ""
    country: Words = ""


class Seller(Frozen):
    """The firm as an invoice names it.

    Attributes
    ----------
    vat_id, tax_number, registration : str
        VAT number; number at the tax office; number in a register of companies.
    iban, bic, account_name : str
        Where to pay; the name of the account where it is another than that of the firm.
    """

    name: Words = ""
    address: Address = Address()
    vat_id: Words = ""
    tax_number: Words = ""
    registration: Words = ""
    phone: Words = ""
    mail: Words = ""
    iban: Words = ""
    bic: Words = ""
    account_name: Words = ""


class Look(Frozen):
    """How the firm's papers look, and what new jobs begin with.

    Attributes
    ----------
    language : str
        Tag of a language that has a catalog; empty: none chosen.
    size : str
        a4 or letter; empty: none chosen.
    accent : str
        "#rrggbb" or empty.
    logo : str
        SHA-256 of the logo among the originals, or empty.
    address : str
        Of the office, as a phone on site reaches it: "https://192.168.1.20:8443"; empty: nobody can.
    """

    language: str = ""
    size: str = ""
    accent: str = ""
    logo: str = ""
    address: str = ""


class Firm(Frozen):
    """Settings of the firm.

    Attributes
    ----------
    payment_days : int
        Days until an invoice is due.
    terms : str
        Further terms of payment.
    number_prefix : str
        Before year and running number.
    first_number : int
        The first of a year in which there is none yet: for a firm that begins with this program in the middle of one.
    decimal_comma : bool
        How the file for bookkeeping writes numbers.
    """

    seller: Seller = Seller()
    currency: str = ""
    taxes: tuple[Tax, ...] = ()
    payment_days: int = 14
    terms: Words = ""
    number_prefix: str = ""
    first_number: int = 1
    decimal_comma: bool = False
    look: Look = Look()


class Buyer(Frozen):
    """Who is asked to pay; `reference` is what the buyer wants to find it by (BT-10)."""

    name: Words = ""
    address: Address = Address()
    vat_id: Words = ""
    reference: Words = ""
    mail: Words = ""


class Line(Frozen):
    """One line.

    Attributes
    ----------
    quantity : Decimal
        Less than nothing for what is taken off: the price of one must not be (BR-27).
    unit : str
        UN/ECE code.
    price : Decimal
        Of one, before tax.
    source : str
        Where it comes from, so that nothing is charged twice: an event, goods, a part of the offer; empty if typed.
    """

    text: Words
    quantity: Decimal
    unit: str
    price: Decimal
    tax: Tax
    source: str = ""


class Corrected(Frozen):
    """The invoice that a credit note corrects."""

    number: str
    issued_on: date


class Draft(Frozen):
    """An invoice in the making.

    Attributes
    ----------
    delivered_on : date or None
        When the work was done.
    prepaid : Decimal
        Paid before, with tax.
    note : str
    refused : tuple of str
        Sources of lines that were offered and not wanted.
    offered_in : str
        Currency of the offer it was begun from, as the job writes it; empty without an offer.
    """

    kind: Kind = Kind.INVOICE
    buyer: Buyer = Buyer()
    lines: tuple[Line, ...] = ()
    currency: str = ""
    delivered_on: date | None = None
    prepaid: Decimal = Decimal(0)
    note: Words = ""
    refused: tuple[str, ...] = ()
    offered_in: str = ""
    corrects: Corrected | None = None


class Invoice(Frozen):
    """An invoice as it was issued: everything that its papers are made from."""

    kind: Kind
    number: str
    issued_on: date
    due_on: date | None
    seller: Seller
    buyer: Buyer
    lines: tuple[Line, ...]
    currency: str
    delivered_on: date | None
    prepaid: Decimal
    terms: Words
    note: Words
    corrects: Corrected | None
