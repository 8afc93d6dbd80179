"""Amounts as people say them: three pieces, five bags of 9 L, 280 ml."""

from __future__ import annotations

from slackwater.reader import Reader
from slackwater.units import digits
from slackwater.wording.render import named, say, say_count, sentences

PLANT_UNIT = "unit"
"""Pots, cups and portions together, which have no one word."""
OF = " of "
"""Between what is counted and its size, as in ``bag of 9 L``."""


def amount_of(amount: float, unit: str, reader: Reader) -> str:
    """So many of a unit in which things are packed and sold."""
    counted, of, size = unit.partition(OF)
    if f"count.{counted}_one" not in sentences() or counted == PLANT_UNIT:
        return digits(amount) if unit == PLANT_UNIT else f"{digits(amount)} {named(unit, reader)}".strip()
    told = say_count(counted, amount, reader)
    return say("order_name.of", {"many": told, "size": size}, reader) if of else told
