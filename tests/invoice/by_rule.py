"""An independent reader of the XML: reckons in fractions, and names each rule of EN 16931 that an invoice breaks.

The rules are those of EN 16931-1:2017+A1:2019, section 6.4, by number, as told in the published validation artefacts; from memory.
"""

from __future__ import annotations

from fractions import Fraction

from lxml import etree

SPACES = {
    "rsm": "urn:un:unece:uncefact:data:standard:CrossIndustryInvoice:100",
    "ram": "urn:un:unece:uncefact:data:standard:ReusableAggregateBusinessInformationEntity:100",
    "udt": "urn:un:unece:uncefact:data:standard:UnqualifiedDataType:100",
}
REASON = {"E": "BR-E-10", "AE": "BR-AE-10", "K": "BR-IC-10", "G": "BR-G-10", "O": "BR-O-10"}


def cents(amount: Fraction) -> Fraction:
    """To two decimals, half away from zero."""
    sign = -1 if amount < 0 else 1
    return sign * Fraction(int(abs(amount) * 100 + Fraction(1, 2)), 100)


class Read:
    """An invoice as its XML tells it."""

    def __init__(self, xml: bytes) -> None:
        self.root = etree.fromstring(xml)

    def all(self, path: str, at=None) -> list:
        return (self.root if at is None else at).xpath(path, namespaces=SPACES)

    def text(self, path: str, at=None) -> str:
        found = self.all(path, at)
        return (found[0].text or "") if found else ""

    def money(self, name: str) -> Fraction:
        whole = "//ram:SpecifiedTradeSettlementHeaderMonetarySummation"
        return Fraction(self.text(f"{whole}/ram:{name}") or "0")


def broken(xml: bytes) -> set[str]:
    """Rules that an invoice breaks."""
    read, found = Read(xml), set()

    def rule(name: str, holds: object) -> None:
        if not holds:
            found.add(name)

    context = "//ram:GuidelineSpecifiedDocumentContextParameter/ram:ID"
    rule("BR-1", read.text(context) == "urn:cen.eu:en16931:2017")
    rule("BR-2", read.text("//rsm:ExchangedDocument/ram:ID"))
    rule("BR-3", read.text("//rsm:ExchangedDocument/ram:IssueDateTime/udt:DateTimeString"))
    kind = read.text("//rsm:ExchangedDocument/ram:TypeCode")
    rule("BR-4", kind in ("380", "381"))
    currency = read.text("//ram:InvoiceCurrencyCode")
    rule("BR-5", len(currency) == 3)
    rule("BR-6", read.text("//ram:SellerTradeParty/ram:Name"))
    rule("BR-7", read.text("//ram:BuyerTradeParty/ram:Name"))
    rule("BR-9", len(read.text("//ram:SellerTradeParty/ram:PostalTradeAddress/ram:CountryID")) == 2)
    rule("BR-11", len(read.text("//ram:BuyerTradeParty/ram:PostalTradeAddress/ram:CountryID")) == 2)
    lines = read.all("//ram:IncludedSupplyChainTradeLineItem")
    rule("BR-16", lines)
    sums: dict[tuple[str, Fraction], Fraction] = {}
    net = Fraction(0)
    for line in lines:
        quantity = Fraction(read.text(".//ram:BilledQuantity", line))
        price = Fraction(read.text(".//ram:NetPriceProductTradePrice/ram:ChargeAmount", line))
        told = read.text(".//ram:LineTotalAmount", line)
        rule("BR-25", read.text(".//ram:SpecifiedTradeProduct/ram:Name", line))
        rule("BR-27", price >= 0)
        rule("BR-DEC-23", len(told.partition(".")[2]) <= 2)
        rule("BR-24", Fraction(told) == cents(quantity * price))
        category = read.text(".//ram:ApplicableTradeTax/ram:CategoryCode", line)
        rate = read.text(".//ram:ApplicableTradeTax/ram:RateApplicablePercent", line)
        rule("BR-CO-4", category)
        rule("BR-S-05", category != "S" or Fraction(rate) > 0)
        rule("BR-Z-05", category not in ("Z", "E", "AE", "K", "G") or Fraction(rate) == 0)
        rule("BR-O-05", category != "O" or not rate)
        key = (category, Fraction(rate or "0"))
        sums[key] = sums.get(key, Fraction(0)) + Fraction(told)
        net += Fraction(told)
    taxes, total_tax = {}, Fraction(0)
    for group in read.all("//ram:ApplicableHeaderTradeSettlement/ram:ApplicableTradeTax"):
        category = read.text("ram:CategoryCode", group)
        rate = Fraction(read.text("ram:RateApplicablePercent", group) or "0")
        basis, tax = (Fraction(read.text(f"ram:{name}", group)) for name in ("BasisAmount", "CalculatedAmount"))
        taxes[category, rate] = basis
        total_tax += tax
        rule("BR-CO-17", tax == cents(basis * rate / 100))
        if category in REASON:
            rule(REASON[category], read.text("ram:ExemptionReason", group))
        else:
            rule("BR-S-10", not read.text("ram:ExemptionReason", group))
    rule("BR-CO-18", taxes)
    rule("BR-S-08", taxes == sums)
    rule("BR-CO-10", read.money("LineTotalAmount") == net)
    rule("BR-CO-13", read.money("TaxBasisTotalAmount") == net)
    rule("BR-CO-14", read.money("TaxTotalAmount") == total_tax)
    gross, due = read.money("GrandTotalAmount"), read.money("DuePayableAmount")
    rule("BR-CO-15", gross == net + total_tax)
    rule("BR-CO-16", due == gross - read.money("TotalPrepaidAmount") + read.money("RoundingAmount"))
    terms = "//ram:SpecifiedTradePaymentTerms"
    dated = read.all(f"{terms}/ram:DueDateDateTime") or read.all(f"{terms}/ram:Description")
    rule("BR-CO-25", kind == "381" or due <= 0 or dated)
    rule("BR-50", kind == "381" or read.text("//ram:PayeePartyCreditorFinancialAccount/ram:IBANID"))
    used = {category for category, _ in taxes}
    vat = {
        side: read.all(f"//ram:{side}TradeParty/ram:SpecifiedTaxRegistration/ram:ID[@schemeID='VA']")
        for side in ("Seller", "Buyer")
    }
    other = read.text("//ram:SellerTradeParty/ram:ID") or read.text(
        "//ram:SellerTradeParty//ram:SpecifiedLegalOrganization/ram:ID"
    )
    rule("BR-CO-26", other or vat["Seller"])
    rule("BR-AE-02", not used & {"AE", "K"} or (vat["Seller"] and vat["Buyer"]))
    rule("BR-O-02", "O" not in used or not (vat["Seller"] or vat["Buyer"]))
    rule("BR-O-11", "O" not in used or len(used) == 1)
    rule("BR-IC-11", "K" not in used or read.text("//ram:ActualDeliverySupplyChainEvent//udt:DateTimeString"))
    rule("BR-IC-12", "K" not in used or read.text("//ram:ShipToTradeParty//ram:CountryID"))
    rule("BR-55", kind != "381" or read.text("//ram:InvoiceReferencedDocument/ram:IssuerAssignedID"))
    return found
