"""Invoices as a table for bookkeeping: one row a line, in UTF-8 with the names of the columns."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from decimal import Decimal

from slackwater.invoice.codes import Kind
from slackwater.invoice.model import Invoice
from slackwater.invoice.totals import line_net

COLUMNS = (
    *("number", "kind", "corrects", "issued_on", "due_on", "delivered_on", "buyer", "buyer_vat_id", "line", "text"),
    *("quantity", "unit", "unit_price", "net", "tax_category", "tax_rate_percent", "currency"),
)
STARTS_A_FORMULA = ("=", "+", "-", "@", "\t")


def bookkeeping_csv(invoices: Iterable[Invoice], *, decimal_comma: bool) -> str:
    """The table of some invoices.

    Parameters
    ----------
    decimal_comma : bool
        Numbers with a decimal comma and fields parted by semicolons, as spreadsheets of such countries read them.

    Notes
    -----
    What a credit note gives back counts less than nothing, so that columns can be added up. A text that a spreadsheet would take for
    a formula gets an apostrophe in front. The tax is a matter of the whole invoice, which rounds it once for each rate.

    References
    ----------
    RFC 4180; OWASP, "CSV Injection".
    """

    def number(value: Decimal) -> str:
        return f"{value:f}".replace(".", ",") if decimal_comma else f"{value:f}"

    out = io.StringIO()
    table = csv.writer(out, delimiter=";" if decimal_comma else ",", lineterminator="\r\n")
    table.writerow(COLUMNS)
    for invoice in invoices:
        sign = -1 if invoice.kind is Kind.CREDIT_NOTE else 1
        for place, line in enumerate(invoice.lines, start=1):
            table.writerow(
                [
                    _text(invoice.number),
                    invoice.kind.value,
                    _text(invoice.corrects.number if invoice.corrects else ""),
                    invoice.issued_on.isoformat(),
                    invoice.due_on.isoformat() if invoice.due_on else "",
                    invoice.delivered_on.isoformat() if invoice.delivered_on else "",
                    _text(invoice.buyer.name),
                    _text(invoice.buyer.vat_id),
                    place,
                    _text(line.text),
                    number(sign * line.quantity),
                    line.unit,
                    number(line.price),
                    number(sign * line_net(line)),
                    line.tax.category.value,
                    number(line.tax.rate_percent),
                    invoice.currency,
                ]
            )
    return out.getvalue()


def _text(words: str) -> str:
    return f"'{words}" if words.startswith(STARTS_A_FORMULA) else words
