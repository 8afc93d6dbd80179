"""What a user does with the settings of the firm: see them, change them, hear what an invoice still lacks."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from urllib.parse import urlsplit

from slackwater.actions.entering import LONGEST_TEXT, Entered, Overtaken, Unusable
from slackwater.actions.office import Desk
from slackwater.book import firm as book_firm
from slackwater.book.blobs import content_hash
from slackwater.book.pictures import logo_of
from slackwater.errors import BadInput, Conflict
from slackwater.invoice.account import compact
from slackwater.invoice.codes import Category
from slackwater.invoice.model import Address, Firm, Look, Seller, Tax
from slackwater.invoice.rules import Fault, firm_faults
from slackwater.paper.contrast import COLOUR, bears_text, contrast_on_white
from slackwater.reader import languages
from slackwater.wording.render import say

TAXES = 6
"""So many taxes can be told."""
CATEGORIES = tuple(category.value for category in Category)
PLACE = ("line_one", "line_two", "postcode", "city", "country")
SELLER = ("name", "phone", "mail", "registration", "tax_number", "account_name")


SIZES = frozenset({"a4", "letter"})


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
        "language": firm.look.language,
        "size": firm.look.size,
        "accent": firm.look.accent,
        "address": firm.look.address,
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


def accent_note(firm: Firm) -> str:
    """What becomes of the chosen colour; empty where there is none."""
    colour = firm.look.accent
    if not colour:
        return ""
    told = {"contrast": f"{contrast_on_white(colour):.1f}"}
    return say("records.firm.accent_text" if bears_text(colour) else "records.firm.accent_lines", told)


def accent_faint(firm: Firm) -> bool:
    """Whether the chosen colour cannot be read on white, so that no word is set in it."""
    return bool(firm.look.accent) and not bears_text(firm.look.accent)


def logo(office: Desk) -> bytes | None:
    """The logo as PNG; None where there is none.

    Raises
    ------
    CorruptBook
        If it is lost or damaged.
    """
    found, _ = the_firm(office)
    return book_firm.logo(office.book, found.look.logo) if found.look.logo else None


def save_firm(office: Desk, typed: Mapping[str, str], *, picture: bytes | None = None, by: str = "") -> Firm:
    """Replace the settings; what is missing may be told later, what cannot be is refused.

    Parameters
    ----------
    picture : bytes, optional
        A new logo as it was chosen; None: it stays, unless its removal is asked for.

    Raises
    ------
    Unusable, Overtaken
    """
    entered = Entered(typed)
    before = the_firm(office)[0].look.logo
    new_logo = _logo(entered, picture)
    seller = Seller(
        **{name: entered.text(name) for name in SELLER if name != "mail"},
        mail=entered.mail("mail"),
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
        look=Look(
            language=entered.one_of("language", frozenset(languages())) if entered.text("language") else "",
            size=entered.one_of("size", SIZES) if entered.text("size") else "",
            accent=_colour(entered),
            address=_address(entered),
            logo=content_hash(new_logo) if new_logo else "" if typed.get("without_logo") == "yes" else before,
        ),
    )
    revision = entered.revision()
    faults = {fault.field: told_fault(fault) for fault in firm_faults(firm) if not fault.id.endswith("_missing")}
    # All at once: what cannot be read and what cannot be, each beside its field.
    if faults | entered.faults:
        raise Unusable(faults | entered.faults)
    try:
        book_firm.save(
            office.book,
            firm.model_dump_json(),
            revision=revision,
            at=office.clock(),
            by=by,
            logo=new_logo,
            former_logo=before if before != firm.look.logo else "",
        )
    except Conflict:
        now, at = the_firm(office)
        raise Overtaken(firm_fields(now, at), at) from None
    return firm


def _logo(entered: Entered, picture: bytes | None) -> bytes:
    if picture is None:
        return b""
    try:
        return logo_of(picture)
    except BadInput as error:
        entered.fault("logo", "logo", why=str(error))
        return b""


def _colour(entered: Entered) -> str:
    found = entered.text("accent").lower()
    if found and not COLOUR.fullmatch(found):
        entered.fault("accent", "colour")
        return ""
    return found


def _address(entered: Entered) -> str:
    """Where the office is reached, without a page; empty where nobody has told."""
    found = entered.text("address").rstrip("/")
    if not found:
        return ""
    try:
        parts = urlsplit(found)
        sound = parts.scheme in ("http", "https") and bool(parts.hostname) and parts.port != 0
    except ValueError:
        sound = False
    if not sound or parts.path or parts.query or parts.fragment or "@" in parts.netloc or any(map(str.isspace, found)):
        entered.fault("address", "address")
        return ""
    return found


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
