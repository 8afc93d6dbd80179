"""Whether an invoice may be issued: what is missing or cannot be, each told by itself with the rule it breaks."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from decimal import Decimal

from slackwater.frozen import Frozen
from slackwater.invoice.account import is_bic, is_iban
from slackwater.invoice.codes import COUNTRIES, UNITS, VAT_PREFIXES, Category, Kind
from slackwater.invoice.model import Address, Draft, Firm, Tax
from slackwater.invoice.totals import totals_of
from slackwater.reader import currencies

MOST_LINES = 1000
NEEDS_REASON = frozenset({Category.EXEMPT, Category.REVERSE, Category.WITHIN_EU, Category.EXPORT, Category.OUTSIDE})
NEEDS_VAT_ID = frozenset({Category.REVERSE, Category.WITHIN_EU, Category.EXPORT})
NEEDS_BUYERS_VAT_ID = frozenset({Category.REVERSE, Category.WITHIN_EU})
PREFIX = re.compile(r"[A-Za-z0-9/._-]{0,20}")
VAT_ID = re.compile(r"[A-Z]{2}[A-Z0-9+*]{2,18}")


class Fault(Frozen):
    """Something for which an invoice cannot be issued.

    Attributes
    ----------
    id : str
        Its sentence is ``invoice.fault.<id>``.
    about : str
        "firm", "head" (buyer, dates, sums) or "lines": where it is put right.
    field : str
        Name of the field, where there is one.
    values : mapping of str to str
    """

    id: str
    about: str
    field: str = ""
    values: Mapping[str, str] = {}


def tax_faults(tax: Tax) -> Iterator[tuple[str, str]]:
    """What is wrong with one of the firm's taxes: field and id of the fault.

    Notes
    -----
    BR-S-05: a rate above nought. BR-Z-05, BR-E-05, BR-AE-05, BR-IC-05, BR-G-05: a rate of nought; BR-O-05: none. BR-E-10, BR-AE-10,
    BR-IC-10, BR-G-10, BR-O-10: a reason. BR-S-10, BR-Z-10: no reason.
    """
    if tax.category is Category.STANDARD and not 0 < tax.rate_percent <= 100:
        yield "rate", "rate_needed"
    if tax.category is not Category.STANDARD and tax.rate_percent != 0:
        yield "rate", "rate_nought"
    if tax.category in NEEDS_REASON and not tax.reason:
        yield "reason", "reason_needed"
    if tax.category not in NEEDS_REASON and tax.reason:
        yield "reason", "reason_unwanted"


def vat_id_fits(vat_id: str) -> bool:
    """Whether a VAT number begins with its country (BR-CO-9)."""
    return VAT_ID.fullmatch(vat_id) is not None and vat_id[:2] in VAT_PREFIXES


def firm_faults(firm: Firm) -> tuple[Fault, ...]:
    """What the firm's settings lack for any invoice.

    Notes
    -----
    BR-6: name. BR-8, BR-9: address with its country. BR-CO-26 and BR-S-02: a number by which the firm is known. BR-CO-9: a VAT number
    with its country. BR-50, BR-61: an account to pay to. BR-5: currency. BR-CO-4: at least one tax to choose.
    """
    seller = firm.seller
    found = []
    if not seller.name:
        found.append(("name_missing", "name"))
    found += [(fault, name) for fault, name in _address(seller.address)]
    if not (seller.vat_id or seller.tax_number):
        found.append(("tax_id_missing", "vat_id"))
    if seller.vat_id and not vat_id_fits(seller.vat_id):
        found.append(("vat_id", "vat_id"))
    if not seller.iban:
        found.append(("iban_missing", "iban"))
    elif not is_iban(seller.iban):
        found.append(("iban", "iban"))
    if seller.bic and not is_bic(seller.bic):
        found.append(("bic", "bic"))
    if not firm.currency:
        found.append(("currency_missing", "currency"))
    elif firm.currency not in currencies():
        found.append(("currency", "currency"))
    if not firm.taxes:
        found.append(("tax_missing", "tax-1-label"))
    if not PREFIX.fullmatch(firm.number_prefix):
        found.append(("prefix", "number_prefix"))
    faults = [
        Fault(id=f"firm_{fault}", about="firm", field=name, values={"currency": firm.currency}) for fault, name in found
    ]
    for number, tax in enumerate(firm.taxes, start=1):
        faults += [
            Fault(id=f"firm_{fault}", about="firm", field=f"tax-{number}-{name}", values={"tax": tax.label})
            for name, fault in tax_faults(tax)
        ]
    return tuple(faults)


def _address(address: Address) -> Iterator[tuple[str, str]]:
    if not (address.line_one and address.city):
        yield "address_missing", "line_one" if not address.line_one else "city"
    if not address.country:
        yield "country_missing", "country"
    elif address.country not in COUNTRIES:
        yield "country", "country"


def faults_of(draft: Draft, firm: Firm) -> tuple[Fault, ...]:
    """Everything for which this draft cannot be issued by this firm; empty where it can.

    Notes
    -----
    BR-7: the buyer's name. BR-10, BR-11: the buyer's address with its country. BR-16: at least one line. BR-24 to BR-27: each line with
    quantity, name and a price that is not less than nothing. BR-AE-02 to BR-AE-04, BR-IC-02, BR-G-02: VAT numbers of both
    sides. BR-IC-11: the date of delivery. BR-O-11 to BR-O-14: what is outside the tax stands on an invoice of its own.
    BR-55: a credit note names its invoice. That work or goods need a date of delivery is wanted here in every case.
    """
    return (*firm_faults(firm), *_head(draft), *_lines(draft, firm))


def _head(draft: Draft) -> Iterator[Fault]:
    def fault(name: str, field: str, **values: str) -> Fault:
        return Fault(id=f"head_{name}", about="head", field=field, values=values)

    buyer = draft.buyer
    if not buyer.name:
        yield fault("name_missing", "name")
    for name, field in _address(buyer.address):
        yield fault(name, field, country=buyer.address.country)
    if buyer.vat_id and not vat_id_fits(buyer.vat_id):
        yield fault("vat_id", "vat_id", vat_id=buyer.vat_id)
    if draft.currency not in currencies():
        yield fault("currency", "currency", currency=draft.currency)
    if draft.delivered_on is None and draft.kind is Kind.INVOICE:
        yield fault("delivered_missing", "delivered_on")
    if draft.kind is Kind.CREDIT_NOTE and draft.corrects is None:
        yield fault("corrects_missing", "")
    sums = totals_of(draft.lines, currency=draft.currency, prepaid=draft.prepaid)
    if sums.gross < 0:
        yield fault("less_than_nothing", "", total=f"{sums.gross:f}")
    elif not 0 <= sums.prepaid <= sums.gross:
        yield fault("prepaid", "prepaid", total=f"{sums.gross:f}", prepaid=f"{sums.prepaid:f}")


def _lines(draft: Draft, firm: Firm) -> Iterator[Fault]:
    def fault(name: str, **values: str) -> Fault:
        return Fault(id=f"lines_{name}", about="lines", values=values)

    if not draft.lines:
        yield fault("none")
    if len(draft.lines) > MOST_LINES:
        yield fault("too_many", count=str(len(draft.lines)), most=str(MOST_LINES))
    for number, line in enumerate(draft.lines, start=1):
        told = {"line": str(number), "text": line.text[:60]}
        if not line.text:
            yield fault("text", **told)
        if line.quantity == 0:
            yield fault("quantity", **told)
        if line.price < 0:
            yield fault("price", price=f"{line.price:f}", **told)
        if line.unit not in UNITS:
            yield fault("unit", **told)
        for _, name in tax_faults(line.tax):
            yield fault(f"tax_{name}", tax=line.tax.label, **told)
    used = {line.tax.category for line in draft.lines}
    seller = firm.seller
    if used & NEEDS_VAT_ID and not seller.vat_id:
        yield Fault(id="firm_vat_id_needed", about="firm", field="vat_id")
    if used & NEEDS_BUYERS_VAT_ID and not draft.buyer.vat_id:
        yield Fault(id="head_vat_id_needed", about="head", field="vat_id")
    if Category.OUTSIDE in used and len(used) > 1:
        yield fault("outside_mixed")
    if Category.OUTSIDE in used and not (seller.tax_number or seller.registration):
        yield Fault(id="firm_tax_number_needed", about="firm", field="tax_number")


def over_credited(draft: Draft, *, invoiced: Decimal, credited: Decimal) -> Fault | None:
    """What a credit note gives back beyond what its invoice has left.

    Parameters
    ----------
    invoiced, credited : Decimal
        Sum with tax of the invoice, and of the credit notes that were issued to it.
    """
    gross = totals_of(draft.lines, currency=draft.currency, prepaid=Decimal(0)).gross
    if gross <= invoiced - credited:
        return None
    left = f"{invoiced - credited:f}"
    return Fault(id="lines_over_credited", about="lines", values={"total": f"{gross:f}", "left": left})
