"""From an offered price to the lines that a client sees: what the firm reckons with stays with the firm."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import ROUND_FLOOR, Decimal

from slackwater.invoice.totals import CENT

GROUPS: Mapping[str, str] = {
    "labour": "work",
    "office": "work",
    "later_planting": "work",
    "materials": "goods",
    "permeate": "goods",
    "travel": "travel",
    "visits": "visits",
    "visit_water": "visits",
    "waste": "waste",
}
"""What the lines of a price calculation belong to; overhead, margin and what the price carries of the risk are spread over all of them."""
WHOLE = "work"


def offered_parts(price: Decimal, costs: Mapping[str, Decimal]) -> dict[str, Decimal]:
    """An offered price by what it is for; the parts add up to it to the cent.

    Parameters
    ----------
    price : Decimal
        Before tax, at least 0.
    costs : mapping of str to Decimal
        Lines of the calculation by id, such as ``labour:ana``.

    Returns
    -------
    dict of str to Decimal
        By group; parts of nothing are left out. One part where the calculation does not say how to share.

    Notes
    -----
    Each group bears overhead and margin by its share of the direct cost; cents that are left go to those that rounding down took
    most from (largest remainders), so that no cent is made or lost.
    """
    sums: dict[str, Decimal] = {}
    for name, amount in costs.items():
        group = GROUPS.get(name.partition(":")[0])
        if group is not None:
            sums[group] = sums.get(group, Decimal(0)) + amount
    direct = sum(sums.values(), Decimal(0))
    if direct <= 0 or min(sums.values()) < 0:
        return {WHOLE: price}
    exact = {group: price * amount / direct for group, amount in sums.items()}
    parts = {group: amount.quantize(CENT, ROUND_FLOOR) for group, amount in exact.items()}
    left = int((price - sum(parts.values(), Decimal(0))) / CENT)
    by_loss = sorted(parts, key=lambda group: (parts[group] - exact[group], group))
    for group in by_loss[:left]:
        parts[group] += CENT
    return {group: amount for group, amount in parts.items() if amount}
