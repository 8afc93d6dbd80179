"""Sums of an invoice, each by the rule of EN 16931 that it must keep."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal

from slackwater.frozen import Frozen
from slackwater.invoice.codes import WHOLE_CURRENCIES, Category
from slackwater.invoice.model import Line, rate_told

CENT = Decimal("0.01")


class TaxGroup(Frozen):
    """What is taxed alike (BG-23): sum before tax, and the tax on it."""

    category: Category
    rate_percent: Decimal
    reason: str
    basis: Decimal
    tax: Decimal

    @property
    def short(self) -> str:
        """Rate and category, such as "19 % S"."""
        return rate_told(self.category, self.rate_percent)


class Totals(Frozen):
    """Sums of the whole (BG-22).

    Attributes
    ----------
    lines : Decimal
        BT-106
    basis : Decimal
        Before tax, BT-109.
    tax : Decimal
        BT-110
    gross : Decimal
        With tax, BT-112.
    prepaid : Decimal
        BT-113
    rounding : Decimal
        BT-114; not 0 only in a currency without a smaller unit.
    due : Decimal
        BT-115
    """

    lines: Decimal
    basis: Decimal
    tax: Decimal
    gross: Decimal
    prepaid: Decimal
    rounding: Decimal
    due: Decimal


def rounded(amount: Decimal) -> Decimal:
    """Money to two decimals (BR-DEC), half away from zero."""
    return amount.quantize(CENT, ROUND_HALF_UP)


def line_net(line: Line) -> Decimal:
    """What a line costs before tax (BT-131)."""
    return rounded(line.quantity * line.price)


def tax_groups(lines: Sequence[Line]) -> tuple[TaxGroup, ...]:
    """Taxes by category and rate, in the order in which they first stand in the lines.

    Notes
    -----
    The basis of a group is the sum of its lines (BR-S-08 and its like for the other categories); its tax is reckoned from that
    sum and rounded once (BR-CO-17). Without a tax the rate is nought (BR-Z-09 and its like).

    References
    ----------
    EN 16931-1:2017+A1:2019, section 6.4; rules by number as in the published validation artefacts.
    """
    found: dict[tuple[Category, Decimal], list[Line]] = {}
    for line in lines:
        found.setdefault((line.tax.category, line.tax.rate_percent.normalize()), []).append(line)
    groups = []
    for (category, rate), those in found.items():
        basis = sum(map(line_net, those), Decimal("0.00"))
        reasons = dict.fromkeys(line.tax.reason for line in those if line.tax.reason)
        groups.append(
            TaxGroup(
                category=category,
                rate_percent=rate,
                reason="; ".join(reasons),
                basis=basis,
                tax=rounded(basis * rate / 100),
            )
        )
    return tuple(groups)


def totals_of(lines: Sequence[Line], *, currency: str, prepaid: Decimal) -> Totals:
    """Sums of an invoice.

    Notes
    -----
    BR-CO-10: sum of lines. BR-CO-13: before tax, the same while there are no discounts on the whole. BR-CO-14: tax, the sum of the
    groups. BR-CO-15: with tax, the sum of both. BR-CO-16: due, less what was paid before, and the rounding.

    References
    ----------
    EN 16931-1:2017+A1:2019, section 6.4.
    """
    net = sum(map(line_net, lines), Decimal("0.00"))
    tax = sum((group.tax for group in tax_groups(lines)), Decimal("0.00"))
    gross, paid = net + tax, rounded(prepaid)
    left = gross - paid
    due = left.quantize(Decimal(1), ROUND_HALF_UP).quantize(CENT) if currency in WHOLE_CURRENCIES else left
    return Totals(lines=net, basis=net, tax=tax, gross=gross, prepaid=paid, rounding=due - left, due=due)
