"""How each box is brought back: its water at the end of the holding against the refilled tank."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from slackwater.job.catalog import Catalog
from slackwater.water.composition import Water, ion_mg_l
from slackwater.water.gas import CO2_TO_OXYGEN, ROOM_CO2_ATM, SURFACES, co2_at_balance_mg_l, transfer_per_h
from slackwater.water.notes import Notes
from slackwater.water.result import BoxReturn, BoxUse
from slackwater.water.step import (
    AMMONIA_PER_OXYGEN_MG_MG,
    SENSITIVE_FROM,
    acclimatise,
    box_after,
    step_between,
)

HELD_H = 6.0
"""Hours in the box until the return, before a day is planned; common practice, no source."""
STEP_MIN = 15
"""Minutes of one step of bringing over, as the day plans them (catalog, E27)."""
LEAST_STEPS = 2


@dataclass(frozen=True)
class HeldBox:
    """What a box has become by the time its animals are brought over."""

    hours: float
    tan_gained_mg_l: float
    temp_c: float


def returns(
    boxes: tuple[BoxUse, ...], catalog: Catalog, *, old: Water, refill: Water, held: Mapping[str, HeldBox]
) -> tuple[BoxReturn, ...]:
    """Minutes for each box, and what decides them.

    Parameters
    ----------
    old, refill : Water
        What the boxes were filled with, and the refilled tank, with their carbon.
    held : mapping of str to HeldBox
        What is known of a box by its label; the others are reckoned for ``HELD_H`` hours at the tank's temperature.
    """
    found = []
    for box in boxes:
        species = [catalog.species[name] for name in box.species if name in catalog.species]
        soft = any(item.group != "fish" or item.sensitivity_1_5 >= SENSITIVE_FROM for item in species)
        use_mg_l_h = box.oxygen_mg_h / box.water_l
        rate = AMMONIA_PER_OXYGEN_MG_MG * use_mg_l_h
        stood = held.get(box.label) or HeldBox(HELD_H, rate * HELD_H, float(np.asarray(old.temp_c)))
        temp_c = stood.temp_c
        transfer = transfer_per_h(at_20_c_per_h=SURFACES["airstone"].typical_per_h, temp_c=temp_c)
        water = box_after(
            warmed(old, temp_c),
            tan_gained_mg_l=stood.tan_gained_mg_l,
            oxygen_mg_l_h=use_mg_l_h,
            co2_transfer_per_h=CO2_TO_OXYGEN * transfer,
            co2_air_mg_l=float(np.asarray(co2_at_balance_mg_l(temp_c=temp_c, pco2_atm=ROOM_CO2_ATM))),
        )
        chosen = acclimatise(water, refill, soft=soft, tan_mg_l_h=rate)
        step = step_between(water, refill)
        taken = next(item for item in chosen.choices if item.minutes == chosen.minutes)
        found.append(
            BoxReturn(
                label=box.label,
                soft=soft,
                minutes=chosen.minutes,
                reason=chosen.reason,
                temp_step_c=step.temp_c,
                ph_step=step.ph,
                hardness_step_dgh=step.hardness_dgh,
                conductivity_step_share=step.conductivity_share,
                hours_held=round(stood.hours, 1),
                tan_mg_l=float(np.asarray(ion_mg_l(water, "ammonia_mmol_l"))),
                highest_uia_mg_l=taken.highest_uia_mg_l,
            )
        )
    return tuple(found)


def note_slowest(found: tuple[BoxReturn, ...], notes: Notes) -> None:
    """Say what the longest bringing over rests on."""
    if found:
        slowest = max(found, key=lambda item: item.minutes)
        notes.figure(
            "acclimatise_min",
            float(slowest.minutes),
            "min",
            "the largest step over what the animals bear in half an hour, unless ammonia in the box is worse",
            "limits table, common practice; respiration: Clarke and Johnston 1999, Liu et al. 2010; ammonia: Emerson et al. 1975",
            box=slowest.label,
            decides=slowest.reason,
            hours_held_h=slowest.hours_held,
        )


def steps_of(found: tuple[BoxReturn, ...]) -> int | None:
    """Steps of bringing over, as the day counts them."""
    if not found:
        return None
    return max(LEAST_STEPS, round(max(item.minutes for item in found) / STEP_MIN))


def warmed(water: Water, temp_c: float | None) -> Water:
    """The same water at another temperature, closed to the air."""
    return water if temp_c is None else replace(water, temp_c=temp_c)
