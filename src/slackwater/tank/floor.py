"""What stands on a floor and how hard it presses; compared with a stated figure, never judged."""

from __future__ import annotations

from collections.abc import Mapping

from slackwater.errors import check_range

GRAVITY_M_S2 = 9.80665

IMPOSED_LOAD_KN_M2: Mapping[str, float] = {"A": 2.0, "B": 3.0, "C1": 3.0, "C2": 4.0, "C3": 5.0, "C5": 5.0, "D1": 4.0}
"""Recommended imposed loads by category of use; national annexes differ, and heavy equipment is outside them.

EN 1991-1-1:2002, table 6.2 (from memory).
"""


def pressure_kn_m2(*, mass_kg: float, area_m2: float) -> float:
    """Pressure of a mass on the patch it stands on [kN/m2]."""
    check_range("area_m2", area_m2, 1e-4, 1e4, unit="m2")
    return mass_kg * GRAVITY_M_S2 / area_m2 / 1000


def tank_mass_kg(
    *, water_l: float, density_kg_m3: float, glass_and_stand_kg: float, substrate_kg: float, hardscape_kg: float
) -> float:
    """Mass of a filled tank with its stand; substrate and hardscape dry, the water being what is left beside them.

    Parameters
    ----------
    water_l : float
        All the water, pores included [L].
    """
    return water_l * density_kg_m3 / 1000 + glass_and_stand_kg + substrate_kg + hardscape_kg


def gas_share_of_room(*, gas_kg: float, room_m3: float) -> float:
    """Share of a room's air when a cylinder of carbon dioxide leaks empty without ventilation, by volume.

    Parameters
    ----------
    gas_kg : float
        Filling of the cylinder [kg].
    room_m3 : float
        Volume of the room or cabinet [m3].

    Returns
    -------
    float
        Share [0 to 1]; the gas is added to the air, which is pushed out.

    Notes
    -----
    Density at 20 C and 1 atm 1.83 kg/m3 (molar mass 44.01 over 24.06 L/mol).
    """
    check_range("room_m3", room_m3, 1e-3, 1e7, unit="m3")
    volume = gas_kg / 1.829
    return volume / room_m3 if volume < room_m3 else 1.0
