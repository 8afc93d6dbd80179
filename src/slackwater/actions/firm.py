"""What a user does with the settings of the firm: see them, change them, hear what an invoice still lacks."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from slackwater.actions.entering import LONGEST_TEXT, Entered, Overtaken, Unusable
from slackwater.actions.office import Desk
from slackwater.book import firm as book_firm
from slackwater.errors import Conflict
from slackwater.invoice.account import compact
from slackwater.invoice.codes import Category
from slackwater.invoice.model import Address, Firm, Seller, Tax
from slackwater.invoice.rules import Fault, firm_faults
from slackwater.wording.render import say

TAXES = 6
"""So many taxes can be told."""
CATEGORIES = tuple(category.value for category in Category)
PLACE = ("line_one", "line_two", "postcode", "city", "country")
SELLER = ("name", "phone", "mail", "registration", "tax_number", "account_name")


def the_firm(office: Desk) -> tuple[Firm, int]:
    """The settings, and the revision from which they may be changed."""
    row = book_firm.get(office.book)
    return Firm.model_validate_json(row.facts), row.revision


def told_fault(fault: Fault) -> str:
    """What hinders an invoice, in a sentence."""
    return say(f"invoice.fault.{fault.id}", fault.values)


def lacks(firm: Firm) -> tuple[str, ...]:
    """What the settings still lack for any invoice, each in a sentence."""
    return tuple(dict.fromkeys(map(told_fault, firm_faults(firm))))


def firm_fields(firm: Firm, revision: int) -> dict[str, str]:
    """The settings as a form shows them."""
    seller = firm.seller
    fields = {name: getattr(seller, name) for name in (*SELLER, "vat_id", "iban", "bic")}
    fields |= {name: getattr(seller.address, name) for name in PLACE}
    fields |= {
        "currency": firm.currency,
        "payment_days": str(firm.payment_days),
        "terms": firm.terms,
        "number_prefix": firm.number_prefix,
        "first_number": str(firm.first_number),
        "decimal": "comma" if firm.decimal_comma else "point",
        "revision": str(revision),
    }
    for number, tax in enumerate(firm.taxes, start=1):
        fields |= {
            f"tax-{number}-label": tax.label,
            f"tax-{number}-category": tax.category.value,
            f"tax-{number}-rate": f"{tax.rate_percent.normalize():f}",
            f"tax-{number}-reason": tax.reason,
        }
    return fields


def save_firm(office: Desk, typed: Mapping[str, str], *, by: str = "") -> Firm:
    """Replace the settings; what is missing may be told later, what cannot be is refused.

    Raises
    ------
    Unusable, Overtaken
    """
    entered = Entered(typed)
    seller = Seller(
        **{name: entered.text(name) for name in SELLER},
        address=Address(
            **{name: entered.text(name) for name in PLACE if name != "country"}, country=entered.text("country").upper()
        ),
        vat_id=compact(entered.text("vat_id")),
        iban=compact(entered.text("iban")),
        bic=compact(entered.text("bic")),
    )
    firm = Firm(
        seller=seller,
        currency=entered.text("currency").upper(),
        taxes=tuple(tax for number in range(1, TAXES + 1) if (tax := _tax(entered, number)) is not None),
        payment_days=_whole(entered, "payment_days", 0, 365),
        terms=entered.text("terms", most=LONGEST_TEXT),
        number_prefix=entered.text("number_prefix", most=20),
        first_number=_whole(entered, "first_number", 1, 999_999),
        decimal_comma=entered.one_of("decimal", frozenset({"comma", "point"})) == "comma",
    )
    revision = entered.revision()
    entered.done()
    faults = {fault.field: told_fault(fault) for fault in firm_faults(firm) if not fault.id.endswith("_missing")}
    if faults:
        raise Unusable(faults)
    try:
        book_firm.save(office.book, firm.model_dump_json(), revision=revision, at=office.clock(), by=by)
    except Conflict:
        now, at = the_firm(office)
        raise Overtaken(firm_fields(now, at), at) from None
    return firm


def _tax(entered: Entered, number: int) -> Tax | None:
    """One tax; None where its row was left empty. Rows that close up keep their order."""
    name = f"tax-{number}-"
    if not any(entered.typed.get(f"{name}{field}", "").strip() for field in ("label", "rate", "reason")):
        return None
    category = entered.one_of(f"{name}category", frozenset(CATEGORIES))
    rate = Decimal(0)
    if entered.typed.get(f"{name}rate", "").strip():
        rate = entered.decimal(f"{name}rate", Decimal(0), Decimal(100))
    return Tax(
        label=entered.needed(f"{name}label", most=60),
        category=Category(category) if category in CATEGORIES else Category.STANDARD,
        rate_percent=rate,
        reason=entered.text(f"{name}reason"),
    )


def _whole(entered: Entered, name: str, low: int, high: int) -> int:
    value = entered.decimal(name, Decimal(low), Decimal(high))
    if value != value.to_integral_value():
        entered.fault(name, "whole")
    return int(value)
