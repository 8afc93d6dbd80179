"""What changed between two offers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from slackwater.paper.money import money


def offer_changes(before: Mapping[str, Any], after: Mapping[str, Any]) -> dict[str, Any]:
    """What changed between two offers, each as `slackwater.paper.offer_page.offer_facts` lays it out.

    Returns
    -------
    mapping
        `amounts`: rows of name, before, after, difference, for amounts that moved or stand in one only; where the two
        are in different currencies no difference is made up. `counts`: the same for goods. `gone` and `new`: sentences
        that only one of them has.
    """
    same = before["currency"] == after["currency"]
    return {
        "amounts": [
            [
                name,
                money(one, before["currency"]),
                money(two, after["currency"]),
                f"{two - one:+,.2f}".replace(",", "\u202f") if same and one is not None and two is not None else "",
            ]
            for name, one, two in _pairs(_decimals(before["amounts"]), _decimals(after["amounts"]), same=same)
        ],
        "counts": [
            [name, f"{one or 0}", f"{two or 0}", f"{(two or 0) - (one or 0):+d}"]
            for name, one, two in _pairs(dict(before["counts"]), dict(after["counts"]), same=True)
        ],
        "gone": [text for text in before["texts"] if text not in after["texts"]],
        "new": [text for text in after["texts"] if text not in before["texts"]],
    }


def _decimals(rows: Sequence[Sequence[str]]) -> dict[str, Decimal]:
    return {name: Decimal(amount) for name, amount in rows}


def _pairs(before: Mapping[str, Any], after: Mapping[str, Any], *, same: bool) -> list[tuple[str, Any, Any]]:
    """Names of both in the order of the newer, with their values, where these differ."""
    names = {**after, **before}
    pairs = [(name, before.get(name), after.get(name)) for name in names]
    return [(name, one, two) for name, one, two in pairs if one != two or not same]
