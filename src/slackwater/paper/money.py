"""Money as papers print it."""

from __future__ import annotations

from decimal import Decimal


def money(amount: Decimal | None, currency: str) -> str:
    """An amount with its currency, two decimals; empty when unknown."""
    return "" if amount is None else f"{amount:,.2f} {currency}".replace(",", "\u202f")
