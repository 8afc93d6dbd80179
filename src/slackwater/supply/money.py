"""Money is rounded once, to the cent."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

CENT = Decimal("0.01")


def rounded(amount: Decimal) -> Decimal:
    """Money to the cent, half up."""
    return amount.quantize(CENT, ROUND_HALF_UP)
