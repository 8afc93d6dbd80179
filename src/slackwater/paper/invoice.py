"""An invoice on paper that machines read too: PDF/A-3 with its XML inside, and the payment code."""

from __future__ import annotations

import io
import json
import re
import tempfile
from datetime import date
from decimal import Decimal
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any

from slackwater.errors import CannotRun
from slackwater.invoice.codes import UNITS, Kind
from slackwater.invoice.model import Address, Invoice
from slackwater.invoice.totals import line_net, tax_groups, totals_of
from slackwater.invoice.transfer import NoCode, Transfer, transfer_of
from slackwater.paper.glyphs import showable
from slackwater.paper.invoice_xml import invoice_xml
from slackwater.paper.money import money
from slackwater.paper.sender import Sender, bring_sender
from slackwater.reader import ENGLISH, Reader, Typed, localised, right_to_left
from slackwater.wording.render import say, sentences

XML_NAME = "factur-x.xml"
CONFORMANCE = "EN 16931"
LETTER_COUNTRIES = frozenset({"US", "CA", "MX", "PH", "CL", "CO", "VE"})
"""Where paper is of letter size; from memory."""
LABEL = "invoice.paper."
UNKNOWN = Sender()
LONGEST_RUN = 18
"""Signs that the narrowest column of text holds."""


def invoice_papers(invoice: Invoice, sender: Sender = UNKNOWN, reader: Reader = ENGLISH) -> tuple[bytes, bytes]:
    """The PDF and the XML of an invoice; the same invoice gives the same bytes.

    Parameters
    ----------
    sender : Sender
        Whose logo and colour it bears; name and address are those of the invoice.
    reader : Reader
        In whose language the PDF is. The XML has no language.

    Raises
    ------
    CannotRun
        If the XML does not keep to its schema, or the PDF cannot be set.
    """
    xml = invoice_xml(invoice)
    return with_extension_schema(_typeset(invoice, xml, sender, reader)), xml


def payment_code_svg(transfer: Transfer) -> str:
    """The payment code as a drawing, error correction M (EPC069-12, section 2)."""
    from segno.helpers import make_epc_qr

    code = make_epc_qr(
        name=transfer.name,
        iban=transfer.iban,
        amount=transfer.amount,
        text=transfer.text,
        bic=transfer.bic or None,
        encoding="utf-8",
    )
    out = io.BytesIO()
    code.save(out, kind="svg", border=4, scale=4, xmldecl=False)
    return out.getvalue().decode("utf-8")


def _typeset(invoice: Invoice, xml: bytes, sender: Sender, reader: Reader) -> bytes:
    import typst

    with tempfile.TemporaryDirectory(prefix="invoice-") as room, as_file(files("slackwater.paper")) as here:
        workshop = Path(room)
        transfer = transfer_of(invoice)
        if isinstance(transfer, Transfer):
            (workshop / "pay.svg").write_text(payment_code_svg(transfer), encoding="utf-8", newline="\n")
        (workshop / XML_NAME).write_bytes(xml)
        bring_sender(workshop, sender, (), invoice.number)
        data = showable(json.dumps(_data(invoice, transfer, reader), ensure_ascii=False))
        (workshop / "data.json").write_text(data, encoding="utf-8")
        template = (here / "templates" / "invoice.typ").read_text(encoding="utf-8")
        (workshop / "invoice.typ").write_text(template, encoding="utf-8")
        made = typst.compile(
            str(workshop / "invoice.typ"),
            root=str(workshop),
            font_paths=[str(here / "fonts")],
            ignore_system_fonts=True,
            pdf_standards=["a-3a", "ua-1"],
            timestamp=0,
        )
    if not isinstance(made, bytes):
        raise CannotRun("The invoice could not be set as one file")
    return made


_METADATA = re.compile(rb"(\d+) 0 obj\n<</Length (\d+)/Type/Metadata/Subtype/XML>>\nstream\n")
_END = re.compile(rb"trailer\n(<<.*>>)\nstartxref\n(\d+)\n%%EOF\s*\Z", re.DOTALL)
_SCHEMA = re.compile(r"<rdf:li[^>]*>\s*<pdfaSchema:schema>Factur-X.*?</pdfaSchema:property>\s*</rdf:li>", re.DOTALL)
_VALUES = re.compile(r"<rdf:Description xmlns:fx=.*?</rdf:Description>", re.DOTALL)
_EXTENSIONS = "<pdfaExtension:schemas><rdf:Bag>"


def with_extension_schema(pdf: bytes) -> bytes:
    """A PDF whose metadata say which embedded file is the invoice; everything else in it stays, tags included.

    Raises
    ------
    CannotRun
        If the typesetter writes another form than this was made for.

    Notes
    -----
    The typesetter embeds the file and names its relationship, but writes no metadata of ours. What is put in is the extension schema
    of the standard as `drafthorse` has it, into the one list of such schemas that a file may have. It is appended as an
    incremental update (ISO 32000-1:2008, section 7.5.6): rewriting a long invoice object by object takes seconds.

    References
    ----------
    ZUGFeRD 2.3 / Factur-X 1.0, technical appendix, section 6; ISO 19005-3:2012, section 6.6.2.3.
    """
    found, end = list(_METADATA.finditer(pdf)), _END.search(pdf)
    if not found or end is None or b"/Metadata %s 0 R" % found[-1][1] not in pdf:
        raise CannotRun(_OTHER_FORM)
    number, start = found[-1][1], found[-1].end()
    told = _extended(pdf[start : start + int(found[-1][2])].decode("utf-8")).encode("utf-8")
    at = len(pdf) + 1
    update = b"%s 0 obj\n<</Length %d/Type/Metadata/Subtype/XML>>\nstream\n%s\nendstream\nendobj\n" % (
        number,
        len(told),
        told,
    )
    table = b"xref\n%s 1\n%010d 00000 n\r\n" % (number, at)
    trailer = b"trailer\n%s/Prev %s>>\nstartxref\n%d\n%%%%EOF\n" % (end[1][:-2], end[2], at + len(update))
    return b"".join((pdf, b"\n", update, table, trailer))


_OTHER_FORM = (
    "The metadata of the invoice could not be written: the typesetter's file is not of the form that was expected"
)


def _extended(metadata: str) -> str:
    from drafthorse.xmp_schema import XMP_SCHEMA

    told = XMP_SCHEMA.format(
        urn="urn:factur-x:pdfa:CrossIndustryDocument:invoice:1p0#",
        xml_filename=XML_NAME,
        documenttype="INVOICE",
        version="1.0",
        xmp_level=CONFORMANCE,
        **dict.fromkeys(("title", "author", "subject", "producer", "creator_tool", "timestamp"), ""),
    )
    schema, values = _SCHEMA.search(told), _VALUES.search(told)
    if schema is None or values is None or _EXTENSIONS not in metadata or "</rdf:RDF>" not in metadata:
        raise CannotRun(_OTHER_FORM)
    with_schema = metadata.replace(_EXTENSIONS, _EXTENSIONS + schema[0], 1)
    return with_schema.replace("</rdf:RDF>", f"{values[0]}</rdf:RDF>", 1)


def _data(invoice: Invoice, transfer: Transfer | NoCode, reader: Reader) -> dict[str, Any]:
    """Everything that the template prints, as text."""
    sums = totals_of(invoice.lines, currency=invoice.currency, prepaid=invoice.prepaid)
    credit = invoice.kind is Kind.CREDIT_NOTE

    def told(name: str, **values: str) -> str:
        return localised(say(f"{LABEL}{name}", values, reader), reader)

    def amount_of(amount: Decimal) -> str:
        return localised(money(amount, invoice.currency), reader)

    def day_of(day: date | None) -> str:
        return "" if day is None else localised(f"{day}", reader)

    seller, buyer = invoice.seller, invoice.buyer
    facts = [
        ("number", invoice.number),
        ("issued_on", day_of(invoice.issued_on)),
        ("corrects", f"{invoice.corrects.number}, {day_of(invoice.corrects.issued_on)}" if invoice.corrects else ""),
        ("delivered_on", day_of(invoice.delivered_on)),
        ("due_on", day_of(invoice.due_on)),
        ("reference", buyer.reference),
        ("buyer_vat_id", buyer.vat_id),
    ]
    known = [
        ("vat_id", seller.vat_id),
        ("tax_number", seller.tax_number),
        ("registration", seller.registration),
        ("phone", seller.phone),
        ("mail", seller.mail),
    ]
    rows = [
        (told("lines"), sums.lines, False),
        *((told("tax_on", rate=group.short, basis=money(group.basis, invoice.currency)), group.tax, False) for group in tax_groups(invoice.lines)),
        (told("gross"), sums.gross, True),
    ]  # fmt: skip
    if sums.prepaid:
        rows.append((told("prepaid"), -sums.prepaid, False))
    if sums.rounding:
        rows.append((told("rounding"), sums.rounding, False))
    if sums.due != sums.gross:
        rows.append((told("due"), sums.due, True))
    return {
        "labels": {
            name.removeprefix(LABEL): say(name, {}, reader) for name, text in sentences().items()
            if name.startswith(LABEL) and "{" not in text
        },
        "language": reader.language,
        "direction": "rtl" if right_to_left(reader) else "ltr",
        "title": told("credit_note" if credit else "invoice"),
        "number": invoice.number,
        "paper": "us-letter" if seller.address.country in LETTER_COUNTRIES else "a4",
        "date": [invoice.issued_on.year, invoice.issued_on.month, invoice.issued_on.day],
        "seller": {"name": _breakable(seller.name), "lines": _address_lines(seller.address)},
        "buyer": {"name": _breakable(buyer.name), "lines": _address_lines(buyer.address)},
        "facts": [[told(name), _breakable(text)] for name, text in facts if text],
        "known": [[told(name), _breakable(text)] for name, text in known if text],
        "lines": [
            [
                str(place),
                _breakable(line.text),
                localised(f"{line.quantity.normalize():f}", reader),
                say(f"invoice.unit.{UNITS[line.unit]}", {}, reader),
                localised(f"{line.price:f}", reader),
                localised(line.tax.short, reader),
                localised(f"{line_net(line):f}", reader),
            ]
            for place, line in enumerate(invoice.lines, start=1)
        ],
        "sums": [[name, amount_of(amount), strong] for name, amount, strong in rows],
        "reasons": [_breakable(group.reason) for group in tax_groups(invoice.lines) if group.reason],
        "note": _breakable(invoice.note),
        "terms": _breakable(invoice.terms),
        "pay": None if credit else _payment(invoice, transfer, reader, due=amount_of(sums.due), due_on=day_of(invoice.due_on)),
        "credit": say(f"{LABEL}credit_told", {"number": Typed(invoice.corrects.number)}, reader) if invoice.corrects else "",
    }  # fmt: skip


def _payment(invoice: Invoice, transfer: Transfer | NoCode, reader: Reader, *, due: str, due_on: str) -> dict[str, Any]:
    seller = invoice.seller
    told = [
        ("pay_to", seller.account_name or seller.name),
        ("iban", " ".join(re.findall("..?.?.?", seller.iban))),
        ("bic", seller.bic),
        ("pay_amount", due),
        ("pay_text", invoice.number),
        ("due_on", due_on),
    ]
    has_code = isinstance(transfer, Transfer)
    return {
        "facts": [[say(f"{LABEL}{name}", {}, reader), _breakable(text)] for name, text in told if text],
        "code": has_code,
        "why_not": "" if isinstance(transfer, Transfer) else say(f"invoice.no_code.{transfer.value}", {}, reader),
    }


def _breakable(words: str) -> str:
    """A text that paper can break: a run of signs without a gap gets places where it may be."""
    return re.sub(rf"\S{{{LONGEST_RUN}}}(?=\S)", lambda run: f"{run[0]}\u200b", words)


def _address_lines(address: Address) -> list[str]:
    town = f"{address.postcode} {address.city}".strip()
    return [_breakable(line) for line in (address.line_one, address.line_two, town, address.country) if line]
