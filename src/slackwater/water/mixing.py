"""Linear balances: mixing, dilution by changes and by flow, heat."""

from __future__ import annotations

from collections.abc import Sequence
from math import exp

from slackwater.errors import Contradiction, OutOfRange, check_range


def mixed(parts: Sequence[tuple[float, float]]) -> float:
    """Value of a mixture of conserved quantities, from pairs of (amount, value).

    For concentrations the amounts are volumes; for temperatures masses of water.

    Raises
    ------
    OutOfRange
        If an amount is negative or all are zero.
    """
    if any(amount < 0 for amount, _ in parts) or not sum(amount for amount, _ in parts) > 0:
        raise OutOfRange("the amounts to mix must be 0 or more, and not all 0")
    return sum(amount * value for amount, value in parts) / sum(amount for amount, _ in parts)


def fraction_of_b(*, value_a: float, value_b: float, target: float) -> float:
    """Share of water b in a mixture with a that meets a target.

    Raises
    ------
    Contradiction
        If the target does not lie between the two.
    """
    if not min(value_a, value_b) <= target <= max(value_a, value_b) or value_a == value_b:
        raise Contradiction(f"no mixture of {value_a:g} and {value_b:g} gives {target:g}")
    return (target - value_a) / (value_b - value_a)


def after_changes(*, start: float, new_water: float, fraction: float, changes: int) -> float:
    """Concentration after equal water changes, each of a fraction [0 to 1] of the volume."""
    check_range("fraction", fraction, 0, 1, unit="")
    return new_water + (start - new_water) * (1 - fraction) ** changes


def after_flow_through(*, start: float, new_water: float, flow_l_h: float, time_h: float, volume_l: float) -> float:
    """Concentration after flushing a well mixed volume at constant level."""
    check_range("volume_l", volume_l, 1e-6, 1e9, unit="L")
    return new_water + (start - new_water) * exp(-flow_l_h * time_h / volume_l)
