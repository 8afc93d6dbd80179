"""An invoice as structured data: Cross Industry Invoice in the profile EN 16931, held to the library's schema."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from slackwater.errors import CannotRun
from slackwater.invoice.codes import Category, Kind
from slackwater.invoice.model import Address, Buyer, Invoice, Seller
from slackwater.invoice.totals import TaxGroup, Totals, line_net, tax_groups, totals_of
from slackwater.invoice.transfer import Transfer, transfer_of

PROFILE = "urn:cen.eu:en16931:2017"
SCHEMA = "FACTUR-X_EN16931"
SEPA_TRANSFER, TRANSFER = "58", "30"
"""UNTDID 4461: credit transfer, within SEPA or elsewhere."""


def invoice_xml(invoice: Invoice) -> bytes:
    """The XML of an invoice.

    Raises
    ------
    CannotRun
        If it does not keep to the schema: a defect, for the rules were held before.

    References
    ----------
    EN 16931-1:2017+A1:2019, sections 6.3 and 6.4; business terms (BT) as bound to the Cross Industry Invoice by CEN/TS 16931-3-3.
    """
    # The libraries take a third of a second to load, and most calls of the program need neither.
    from drafthorse.models.document import Document
    from lxml.etree import XMLSyntaxError

    document: Any = Document()
    document.context.guideline_parameter.id = PROFILE
    document.header.id = invoice.number
    document.header.type_code = invoice.kind.value
    document.header.issue_date_time = invoice.issued_on
    if invoice.note:
        _add_note(document, invoice.note)
    outside = any(line.tax.category is Category.OUTSIDE for line in invoice.lines)
    _put_seller(document.trade.agreement.seller, invoice.seller, shows_vat=not outside)
    _put_buyer(document.trade.agreement.buyer, invoice.buyer, shows_vat=not outside)
    if invoice.buyer.reference:
        document.trade.agreement.buyer_reference = invoice.buyer.reference
    _put_lines(document, invoice)
    _put_delivery(document.trade.delivery, invoice)
    _put_settlement(document.trade.settlement, invoice)
    try:
        made: bytes = document.serialize(schema=SCHEMA)
    except XMLSyntaxError as error:
        raise CannotRun(f"The invoice does not keep to the form of EN 16931: {error.msg}. It was not issued") from error
    return made


def _add_note(document: Any, text: str) -> None:
    from drafthorse.models.note import IncludedNote

    note: Any = IncludedNote()
    note.content = text
    document.header.notes.add(note)


def _put_seller(party: Any, seller: Seller, *, shows_vat: bool) -> None:
    if not (seller.registration or (seller.vat_id and shows_vat)):
        # BR-CO-26 wants one number by which the buyer's machine knows the seller.
        party.id = seller.tax_number
    party.name = seller.name
    if seller.registration:
        party.legal_organization.id = seller.registration
    if seller.phone or seller.mail:
        party.contact.person_name = seller.name
    if seller.phone:
        party.contact.telephone.number = seller.phone
    if seller.mail:
        party.contact.email.address = seller.mail
    _put_address(party.address, seller.address)
    if seller.mail:
        party.electronic_address.uri_ID = ("EM", seller.mail)
    if seller.vat_id and shows_vat:
        _add_registration(party, "VA", seller.vat_id)
    if seller.tax_number:
        _add_registration(party, "FC", seller.tax_number)


def _put_buyer(party: Any, buyer: Buyer, *, shows_vat: bool) -> None:
    party.name = buyer.name
    _put_address(party.address, buyer.address)
    if buyer.mail:
        party.electronic_address.uri_ID = ("EM", buyer.mail)
    if buyer.vat_id and shows_vat:
        _add_registration(party, "VA", buyer.vat_id)


def _add_registration(party: Any, scheme: str, number: str) -> None:
    from drafthorse.models.party import TaxRegistration

    registration: Any = TaxRegistration()
    registration.id = (scheme, number)
    party.tax_registrations.add(registration)


def _put_address(place: Any, address: Address) -> None:
    for name in ("postcode", "line_one", "line_two"):
        if text := getattr(address, name):
            setattr(place, name, text)
    place.city_name = address.city
    place.country_id = address.country


def _put_lines(document: Any, invoice: Invoice) -> None:
    from drafthorse.models.tradelines import LineItem

    for number, line in enumerate(invoice.lines, start=1):
        item: Any = LineItem()
        item.document.line_id = str(number)
        item.product.name = line.text
        item.agreement.net.amount = _plain(line.price)
        item.delivery.billed_quantity = (_plain(line.quantity), line.unit)
        tax = item.settlement.trade_tax
        tax.type_code = "VAT"
        tax.category_code = line.tax.category.value
        if line.tax.category is not Category.OUTSIDE:
            tax.rate_applicable_percent = _plain(line.tax.rate_percent)
        item.settlement.monetary_summation.total_amount = line_net(line)
        document.trade.items.add(item)


def _put_delivery(delivery: Any, invoice: Invoice) -> None:
    if any(line.tax.category is Category.WITHIN_EU for line in invoice.lines):
        # BR-IC-12 wants the country that the goods go to.
        delivery.ship_to.name = invoice.buyer.name
        _put_address(delivery.ship_to.address, invoice.buyer.address)
    if invoice.delivered_on is not None:
        delivery.event.occurrence = invoice.delivered_on


def _put_settlement(settlement: Any, invoice: Invoice) -> None:
    settlement.currency_code = invoice.currency
    if invoice.kind is Kind.INVOICE:
        settlement.payment_reference = invoice.number
        _add_payment(settlement, invoice)
    _put_taxes(settlement, tax_groups(invoice.lines))
    _put_terms(settlement, invoice)
    sums = totals_of(invoice.lines, currency=invoice.currency, prepaid=invoice.prepaid)
    _put_sums(settlement.monetary_summation, sums, invoice.currency)
    if invoice.corrects is not None:
        settlement.invoice_referenced_document.issuer_assigned_id = invoice.corrects.number
        settlement.invoice_referenced_document.issue_date_time = invoice.corrects.issued_on


def _add_payment(settlement: Any, invoice: Invoice) -> None:
    from drafthorse.models.payment import PaymentMeans

    means: Any = PaymentMeans()
    means.type_code = SEPA_TRANSFER if isinstance(transfer_of(invoice), Transfer) else TRANSFER
    means.payee_account.iban = invoice.seller.iban
    means.payee_account.account_name = invoice.seller.account_name or invoice.seller.name
    if invoice.seller.bic:
        means.payee_institution.bic = invoice.seller.bic
    settlement.payment_means.add(means)


def _put_taxes(settlement: Any, groups: Sequence[TaxGroup]) -> None:
    from drafthorse.models.accounting import ApplicableTradeTax

    for group in groups:
        tax: Any = ApplicableTradeTax()
        tax.calculated_amount = group.tax
        tax.type_code = "VAT"
        if group.reason:
            tax.exemption_reason = group.reason
        tax.basis_amount = group.basis
        tax.category_code = group.category.value
        if group.category is not Category.OUTSIDE:
            tax.rate_applicable_percent = _plain(group.rate_percent)
        settlement.trade_tax.add(tax)


def _put_terms(settlement: Any, invoice: Invoice) -> None:
    from drafthorse.models.payment import PaymentTerms

    if invoice.due_on is None:
        return
    terms: Any = PaymentTerms()
    if invoice.terms:
        terms.description = invoice.terms
    terms.due = invoice.due_on
    settlement.terms.add(terms)


def _put_sums(summation: Any, sums: Totals, currency: str) -> None:
    summation.line_total = sums.lines
    summation.tax_basis_total = sums.basis
    summation.tax_total = (sums.tax, currency)
    if sums.rounding:
        summation.rounding_amount = sums.rounding
    summation.grand_total = sums.gross
    if sums.prepaid:
        summation.prepaid_total = sums.prepaid
    summation.due_amount = sums.due


def _plain(number: Decimal) -> Decimal:
    """A number without an exponent and without noughts that say nothing."""
    short = number.normalize()
    return short.quantize(Decimal(1)) if short == short.to_integral_value() else short
