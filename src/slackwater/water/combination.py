"""Soil, stone and water together: where soil and limestone take the water, and which animals that suits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import brentq

from slackwater.water.composition import Water, as_given
from slackwater.water.salts import MEQ_L_PER_DKH
from slackwater.water.speciation import speciate_at_co2

SOIL_CAPACITY_MEQ_L = (10.0, 40.0, 120.0)
"""Alkalinity that a litre of fresh active soil takes up before it is spent: low, typical, high; from memory."""
LEAN_SHARE = 0.5
"""Capacity of lean active soil against normal; from memory."""
SOIL_KH_DKH = (0.0, 1.0)
SOIL_PH = (5.8, 6.8)
"""Where fresh active soil holds carbonate hardness and pH; catalog, common practice."""
LIME_DKH_WEEK = (0.1, 0.5, 2.0)
"""Rise by 10 kg of limestone in 100 L with 20 mg/L of carbon dioxide, in a week; from memory."""
UNBALANCED_CO2_MG_L = 3.0
"""Carbon dioxide of a tank without injection; common practice, no source."""


@dataclass(frozen=True)
class Range:
    """An interval; low at most high."""

    low: float
    high: float

    def meets(self, other: Range) -> bool:
        """Whether the two share a point."""
        return self.low <= other.high and other.low <= self.high

    def text(self, unit: str = "") -> str:
        """As written in a sentence."""
        return f"{self.low:.3g} to {self.high:.3g}{' ' if unit else ''}{unit}"


@dataclass(frozen=True)
class Settled:
    """Where a tank goes within weeks: pH, GH, KH."""

    ph: Range
    hardness_dgh: Range
    alkalinity_dkh: Range


@dataclass(frozen=True)
class Ranges:
    """What a species bears; name for the sentence."""

    species: str
    name: str
    ph: Range
    hardness_dgh: Range
    alkalinity_dkh: Range

    def outside(self, settled: Settled) -> list[str]:
        """Each quantity in which the settled water lies wholly outside."""
        found = []
        for what, own, there, unit in (
            ("pH", self.ph, settled.ph, ""),
            ("GH", self.hardness_dgh, settled.hardness_dgh, "dGH"),
            ("KH", self.alkalinity_dkh, settled.alkalinity_dkh, "dKH"),
        ):
            if not own.meets(there):
                found.append(f"{what} {there.text(unit)} against {own.text(unit)}")
        return found


def changes_until_spent(*, soil_l: float, lean: bool, water_l: float, alkalinity_dkh: float) -> Range:
    """Whole refills of that alkalinity until the soil takes up no more: low and high of the capacity.

    Notes
    -----
    Capacity over the milliequivalents that one refill brings; from 1 dKH down, where the soil hardly pulls.
    """
    low, _, high = SOIL_CAPACITY_MEQ_L
    share = LEAN_SHARE if lean else 1.0
    brought = water_l * max(alkalinity_dkh - SOIL_KH_DKH[1], 0.0) * MEQ_L_PER_DKH
    if brought <= 0:
        return Range(np.inf, np.inf)
    return Range(soil_l * low * share / brought, soil_l * high * share / brought)


def saturated_alkalinity_dkh(water: Water, *, co2_mg_l: float) -> float:
    """Carbonate hardness at which limestone stops dissolving, at a given carbon dioxide [dKH].

    Notes
    -----
    Each meq/L of alkalinity comes with half a mmol/L of calcium; solved for a calcite saturation index of 0. A water
    that is saturated already is returned as it is.
    """

    def index(added_meq_l: float) -> float:
        made = replace(
            water,
            calcium_mmol_l=water.calcium_mmol_l + added_meq_l / 2,
            alkalinity_meq_l=water.alkalinity_meq_l + added_meq_l,
        )
        return float(np.asarray(speciate_at_co2(made, co2_mg_l=co2_mg_l).si_calcite))

    start = float(np.asarray(water.alkalinity_meq_l))
    # A trace, so that there is something to take the logarithm of.
    if index(1e-6) >= 0:
        return start / MEQ_L_PER_DKH
    return float(start + brentq(index, 1e-6, 30.0, xtol=1e-4)) / MEQ_L_PER_DKH


def lime_rise_dkh_week(*, limestone_kg: float, water_l: float, co2_mg_l: float) -> tuple[float, float, float]:
    """Rise of carbonate hardness by limestone in a week: low, typical, high; general hardness rises as much [dKH].

    Notes
    -----
    In proportion to stone per litre and to carbon dioxide, from the figure in ``LIME_DKH_WEEK``; an order of size, to
    be replaced by the first weeks' readings.
    """
    scale = (limestone_kg / 10) * (100 / water_l) * (co2_mg_l / 20)
    low, typical, high = (rate * scale for rate in LIME_DKH_WEEK)
    return low, typical, high


def settle(
    refill: Water, *, active_soil: bool, limestone_kg: float, water_l: float, co2_mg_l: float, weeks: float
) -> Settled:
    """Where soil and stone bring the water within some weeks of usual care.

    Notes
    -----
    Active soil holds KH and pH in its own range as long as it is not spent. Limestone adds to both hardnesses, up to
    saturation; over active soil what it adds to KH is taken up, and only the calcium stays.
    """
    gh, kh = float(np.asarray(refill.hardness_dgh)), float(np.asarray(refill.alkalinity_dkh))
    low, _, high = lime_rise_dkh_week(limestone_kg=limestone_kg, water_l=water_l, co2_mg_l=co2_mg_l)
    room = max(0.0, saturated_alkalinity_dkh(refill, co2_mg_l=co2_mg_l) - kh)
    rise = Range(min(low * weeks, room), min(high * weeks, room))
    hardness = Range(gh + rise.low, gh + rise.high)
    if active_soil:
        return Settled(Range(*SOIL_PH), hardness, Range(SOIL_KH_DKH[0], min(SOIL_KH_DKH[1], max(kh, 0.1))))
    alkalinity = Range(kh + rise.low, kh + rise.high)
    ends = np.array([alkalinity.low, alkalinity.high]) * MEQ_L_PER_DKH
    water = replace(refill, alkalinity_meq_l=as_given(ends))
    ph = np.asarray(speciate_at_co2(water, co2_mg_l=co2_mg_l).ph)
    return Settled(Range(float(ph[0]) - 0.2, float(ph[1]) + 0.2), hardness, alkalinity)


@dataclass(frozen=True)
class Triple:
    """One choice of soil, stone and water, and whom it does not suit."""

    soil: str
    """active or inert."""
    stone: str
    """lime or neutral."""
    settled: Settled
    against: Mapping[str, tuple[str, ...]]
    """Species, by id, and in what they lie outside."""

    @property
    def allowed(self) -> bool:
        """Whether every species can live in it."""
        return not self.against


def triples(
    refill: Water,
    stock: Sequence[Ranges],
    *,
    limestone_kg: float,
    water_l: float,
    co2_mg_l: float,
    weeks: float = 6.0,
) -> tuple[Triple, ...]:
    """Active or inert soil with and without the limestone, all with the same refill."""
    found = []
    for soil in ("active", "inert"):
        for stone, mass in (("lime", limestone_kg), ("neutral", 0.0)):
            if stone == "lime" and limestone_kg <= 0:
                continue
            settled = settle(
                refill,
                active_soil=soil == "active",
                limestone_kg=mass,
                water_l=water_l,
                co2_mg_l=co2_mg_l,
                weeks=weeks,
            )
            against = {ranges.species: tuple(outside) for ranges in stock if (outside := ranges.outside(settled))}
            found.append(Triple(soil=soil, stone=stone, settled=settled, against=against))
    return tuple(found)
