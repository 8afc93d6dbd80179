"""The papers of an invoice: XML by the rules of EN 16931, PDF/A-3 with that XML inside, payment code, bookkeeping."""

from __future__ import annotations

import csv
import io
from decimal import Decimal
from functools import cache

import pytest
import segno
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from lxml import etree
from pypdf import PdfReader

from slackwater.errors import CannotRun
from slackwater.invoice.codes import Category
from slackwater.invoice.model import Tax
from slackwater.invoice.transfer import transfer_of
from slackwater.paper.bookkeeping import COLUMNS, bookkeeping_csv
from slackwater.paper.invoice import invoice_papers, payment_code_svg, with_extension_schema
from slackwater.paper.invoice_xml import invoice_xml
from tests.invoice.by_rule import SPACES, Read, broken
from tests.invoice.made import BUYER, DAY, FIRM, LESS, SELLER, TAXES, USUAL, credit_note, invoice, line

MARKUP = '#strong[x] $a$ \\ <b>&amp; "q" // é ]]>'
EXAMPLE = [line("20", "9.90", text="Trennblätter"), line("50", "5.50", LESS, text="Joghurt")]


def test_the_published_example_keeps_every_rule():
    # As in tests/invoice/test_invoice.py: 473.00 before tax, 529.87 with it.
    xml = invoice_xml(invoice(*EXAMPLE))
    assert broken(xml) == set()
    read = Read(xml)
    assert read.text("//ram:GrandTotalAmount") == "529.87"
    assert read.all("//ram:TaxTotalAmount/@currencyID") == ["EUR"]
    assert (
        read.text("//ram:IBANID") == SELLER.iban
        and read.text("//ram:SpecifiedTradeSettlementPaymentMeans/ram:TypeCode") == "58"
    )
    assert read.text("//ram:DueDateDateTime/udt:DateTimeString") == "20270226"


@pytest.mark.parametrize(
    ("old", "new", "rule"),
    [
        (b">473.00<", b">473.01<", "BR-CO-10"),
        (b">529.87<", b">529.88<", "BR-CO-15"),
        (b">37.62<", b">37.63<", "BR-CO-17"),
        (b"BasisAmount>198.00<", b"BasisAmount>198.01<", "BR-S-08"),
        (b">19<", b">0<", "BR-S-05"),
        (b">9.9<", b">-9.9<", "BR-27"),
        (b">DE<", b"><", "BR-9"),
    ],
)
def test_the_reader_that_judges_the_rules_notices_what_is_wrong(old, new, rule):
    xml = invoice_xml(invoice(*EXAMPLE))
    assert old in xml
    assert rule in broken(xml.replace(old, new))


@pytest.mark.parametrize("category", ["S", "Z", "E", "K", "G", "O", "AE"])
def test_each_tax_category_keeps_its_rules(category):
    buyer = BUYER.model_copy(update={"vat_id": "FR12345678901"})
    xml = invoice_xml(invoice(line(tax=TAXES[category]), line("2", "0.333", tax=TAXES[category]), buyer=buyer))
    assert broken(xml) == set()


def test_a_credit_note_names_its_invoice_and_asks_for_no_payment():
    read = Read(invoice_xml(credit_note(line())))
    assert broken(etree.tostring(read.root)) == set()
    assert read.text("//ram:InvoiceReferencedDocument/ram:IssuerAssignedID") == "2027-0001"
    assert not read.all("//ram:SpecifiedTradeSettlementPaymentMeans")


taxes = st.sampled_from([USUAL, LESS, TAXES["Z"], TAXES["E"], Tax(label="odd", category=Category.STANDARD, rate_percent=Decimal("8.1"))])  # fmt: skip
lines = st.builds(
    lambda quantity, price, tax, text: line(str(quantity), str(price), tax, text or "x"),
    st.decimals(-100, 100, places=3).filter(bool),
    st.decimals(0, 10**5, places=4),
    taxes,
    st.text(max_size=40).map(lambda text: f"x{text}"),
)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(lines, min_size=1, max_size=5), st.decimals(0, 10, places=2), st.sampled_from(["EUR", "CHF", "JPY"]))
def test_whatever_the_lines_the_xml_keeps_schema_and_rules(made, prepaid, currency):
    assert broken(invoice_xml(invoice(*made, prepaid=prepaid, currency=currency))) == set()


@cache
def papers():
    firm = FIRM.model_copy(
        update={"terms": "2 % off within 7 days " + MARKUP, "seller": SELLER.model_copy(update={"name": MARKUP})}
    )
    buyer = BUYER.model_copy(update={"name": "N" * 300})
    made = invoice(
        line(text=MARKUP), line("1.5", "49.99", LESS), firm=firm, buyer=buyer, note=MARKUP, prepaid=Decimal(10)
    )
    return made, *invoice_papers(made)


def test_the_pdf_carries_the_same_xml_as_alternative_under_its_name():
    _, pdf, xml = papers()
    root = PdfReader(io.BytesIO(pdf)).trailer["/Root"]
    (name, spec) = root["/Names"]["/EmbeddedFiles"]["/Names"]
    spec = spec.get_object()
    assert name == spec["/F"] == spec["/UF"] == "factur-x.xml"
    assert spec["/AFRelationship"] == "/Alternative"
    assert spec["/EF"]["/F"].get_object()["/Subtype"] == "/text/xml"
    assert spec["/EF"]["/F"].get_object().get_data() == xml
    assert [entry.get_object() for entry in root["/AF"]] == [spec]


def test_the_pdf_says_that_it_is_an_archive_and_which_file_is_the_invoice():
    pdf = papers()[1]
    root = PdfReader(io.BytesIO(pdf)).trailer["/Root"]
    told = etree.fromstring(root["/Metadata"].get_object().get_data().split(b"?>", 1)[1].rpartition(b"<?")[0])
    spaces = {
        "fx": "urn:factur-x:pdfa:CrossIndustryDocument:invoice:1p0#",
        "pdfaid": "http://www.aiim.org/pdfa/ns/id/",
        "pdfuaid": "http://www.aiim.org/pdfua/ns/id/",
        "schema": "http://www.aiim.org/pdfa/ns/schema#",
        "extension": "http://www.aiim.org/pdfa/ns/extension/",
        "property": "http://www.aiim.org/pdfa/ns/property#",
    }
    said = {
        name: told.findtext(f".//{name}", namespaces=spaces)
        for name in (
            "fx:DocumentFileName",
            "fx:DocumentType",
            "fx:Version",
            "fx:ConformanceLevel",
            "pdfaid:part",
            "pdfuaid:part",
        )
    }
    assert list(said.values()) == ["factur-x.xml", "INVOICE", "1.0", "EN 16931", "3", "1"]
    assert len(told.findall(".//extension:schemas", spaces)) == 1
    ours = [entry for entry in told.iterfind(".//schema:schema", spaces) if "Factur-X" in (entry.text or "")]
    assert len(ours) == 1
    names = {entry.text for entry in ours[0].getparent().iterfind(".//property:name", spaces)}
    assert names == {"DocumentFileName", "DocumentType", "Version", "ConformanceLevel"}
    assert (
        root["/MarkInfo"]["/Marked"]
        and root["/Lang"] == "en"
        and "/StructTreeRoot" in root
        and "/OutputIntents" in root
    )


def test_the_page_shows_what_was_typed_as_it_was_typed_and_the_sums():
    made, pdf, _ = papers()
    pages = PdfReader(io.BytesIO(pdf)).pages
    text = " ".join(page.extract_text() for page in pages)
    flat = "".join(text.split()).replace("\u200b", "")
    assert "".join(MARKUP.split()) in flat
    assert flat.count("N" * 300) == 1
    # 100 at 19 % and 74.985, so 74.99, at 7 %: 19.00 and 5.25; 199.24, less 10.
    for words in (
        "174.99 EUR",
        "19.00 EUR",
        "5.25 EUR",
        "199.24 EUR",
        "-10.00 EUR",
        "189.24 EUR",
        "DE89 3704 0044 0532",
    ):
        assert words in text, words
    for page in pages:
        across = []
        page.extract_text(
            visitor_text=lambda words, cm, tm, font, size, into=across: into.append(tm[4] + 0 * len(words))
        )
        assert max(across) < float(page.mediabox.width)
    assert made.number in text


def test_the_same_invoice_gives_the_same_bytes():
    made, pdf, xml = papers()
    assert invoice_papers(made) == (pdf, xml)


def test_a_firm_where_paper_is_of_letter_size_gets_that_and_another_currency_no_code():
    seller = SELLER.model_copy(update={"address": SELLER.address.model_copy(update={"country": "US"})})
    pdf, _ = invoice_papers(invoice(line(), firm=FIRM.model_copy(update={"seller": seller}), currency="USD"))
    page = PdfReader(io.BytesIO(pdf)).pages[0]
    assert (float(page.mediabox.width), float(page.mediabox.height)) == (612, 792)
    assert "no payment code: it exists for amounts in euro only" in " ".join(page.extract_text().split())


def test_signs_that_the_font_lacks_are_marked_on_paper_and_stand_in_the_data():
    pdf, xml = invoice_papers(invoice(line(text="水 pump 🐟 מים ماء"), note="水"))
    text = PdfReader(io.BytesIO(pdf)).pages[0].extract_text()
    assert "pump" in text and "\ufffd" in text and "水" not in text
    assert "水 pump 🐟 מים ماء".encode() in xml


def test_a_thousand_lines_go_on_pages_with_their_head_repeated():
    pdf, xml = invoice_papers(invoice(*[line("1", "1", text=f"item {n}") for n in range(1000)]))
    pages = [page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages]
    assert broken(xml) == set() and "1 190.00 EUR" in pages[-1].replace("\u202f", " ")
    assert all("Price of one" in page for page in pages[:-1])


def test_the_payment_code_says_what_the_guideline_asks_for():
    # EPC069-12, section 2.2, field by field; the amount without noughts that say nothing.
    transfer = transfer_of(invoice(line("1", "100.50", TAXES["Z"])))
    payload = "BCD\n002\n1\nSCT\nCOBADEFFXXX\nStill Water Ltd\nDE89370400440532013000\nEUR100.5\n\n\n2027-0001"
    code = segno.make_qr(payload.encode(), error="m", boost_error=False)
    out = io.BytesIO()
    code.save(out, kind="svg", border=4, scale=4, xmldecl=False)
    assert payment_code_svg(transfer) == out.getvalue().decode()
    assert code.version <= 13


def test_a_pdf_of_another_form_is_not_given_out():
    with pytest.raises(CannotRun, match="not of the form that was expected"):
        with_extension_schema(b"%PDF-1.7\n")


def test_bookkeeping_has_a_row_for_each_line_and_credit_notes_count_less():
    first = invoice(line("2", "10.50", text='=HYPERLINK("x");"y"\nz'), line("-1", "3", LESS))
    table = bookkeeping_csv([first, credit_note(line("2", "10.50"))], decimal_comma=False)
    rows = list(csv.DictReader(io.StringIO(table, newline="")))
    assert tuple(rows[0]) == COLUMNS
    assert [(row["net"], row["quantity"], row["tax_rate_percent"]) for row in rows] == [
        ("21.00", "2", "19"),
        ("-3.00", "-1", "7"),
        ("-21.00", "-2", "19"),
    ]
    assert rows[0]["text"] == '\'=HYPERLINK("x");"y"\nz'
    assert (rows[2]["kind"], rows[2]["corrects"], rows[0]["issued_on"]) == ("381", "2027-0001", DAY.isoformat())
    comma = list(csv.DictReader(io.StringIO(bookkeeping_csv([first], decimal_comma=True), newline=""), delimiter=";"))
    assert (comma[0]["net"], comma[0]["unit_price"], comma[0]["text"]) == ("21,00", "10,50", rows[0]["text"])


def test_spaces_of_the_reader_are_those_of_the_file():
    assert set(SPACES.values()) <= set(etree.fromstring(invoice_xml(invoice(line()))).nsmap.values())


def test_a_mail_address_can_be_copied_from_the_page_without_a_sign_more():
    mail = "accounts.and.more@some-long-name.example.com"
    seller = FIRM.seller.model_copy(update={"mail": mail})
    pdf, _ = invoice_papers(invoice(line(), firm=FIRM.model_copy(update={"seller": seller})))
    text = "".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)
    assert "\u200b" not in text and mail in text.replace("\n", "")
