"""Flow through a hose and the time a tank takes to drain."""

from __future__ import annotations

from math import log10, pi, sqrt

from scipy.integrate import quad
from scipy.optimize import brentq

from slackwater.errors import OutOfRange, check_range
from slackwater.tank.fluid import density_kg_m3, viscosity_mpa_s

GRAVITY_M_S2 = 9.80665
SMOOTH_HOSE_ROUGHNESS_M = 1.5e-6
"""PVC or silicone hose."""
LAMINAR_BELOW = 2040.0


def friction_factor(*, reynolds: float, relative_roughness: float) -> float:
    """Darcy friction factor of a pipe.

    Notes
    -----
    64/Re below 2040, above it Colebrook (1939), solved from the explicit form of Swamee and Jain (1976).
    """
    check_range("reynolds", reynolds, 1e-9, 1e9, unit="")
    if reynolds < LAMINAR_BELOW:
        return 64 / reynolds
    root = 1 / sqrt(0.25 / log10(relative_roughness / 3.7 + 5.74 / reynolds**0.9) ** 2)
    for _ in range(20):
        root = -2 * log10(relative_roughness / 3.7 + 2.51 * root / reynolds)
    return 1 / root**2


def hose_flow_l_min(
    *,
    head_m: float,
    inner_diameter_m: float,
    length_m: float,
    minor_loss: float,
    temp_c: float,
    roughness_m: float = SMOOTH_HOSE_ROUGHNESS_M,
) -> float:
    """Steady flow driven by a head [L/min].

    Parameters
    ----------
    head_m : float
        Water surface above the free outlet, or above the other surface [more than 0].
    inner_diameter_m, length_m : float
        Of the hose.
    minor_loss : float
        Sum of loss coefficients of entrance, strainer, valves and bends; the velocity head at the outlet is added.
    temp_c : float
        Of the water.

    References
    ----------
    Darcy-Weisbach equation.
    """
    if not head_m > 0:
        raise OutOfRange(f"head_m is {head_m:g} m, expected more than 0: the outlet must lie below the water")
    kinematic = viscosity_mpa_s(temp_c=temp_c) / 1000 / density_kg_m3(temp_c=temp_c)

    def missing_head(velocity: float) -> float:
        factor = friction_factor(
            reynolds=velocity * inner_diameter_m / kinematic, relative_roughness=roughness_m / inner_diameter_m
        )
        return velocity**2 / (2 * GRAVITY_M_S2) * (1 + minor_loss + factor * length_m / inner_diameter_m) - head_m

    velocity = float(brentq(missing_head, 1e-7, sqrt(2 * GRAVITY_M_S2 * head_m) + 1e-6))
    return velocity * pi * inner_diameter_m**2 / 4 * 60_000


def drain_minutes(
    *,
    plan_area_m2: float,
    depth_start_m: float,
    depth_end_m: float,
    outlet_below_bottom_m: float,
    inner_diameter_m: float,
    length_m: float,
    minor_loss: float,
    temp_c: float,
    roughness_m: float = SMOOTH_HOSE_ROUGHNESS_M,
) -> float:
    """Minutes to drain an upright tank through a hose, head falling with the level.

    Parameters
    ----------
    plan_area_m2, depth_start_m, depth_end_m : float
        Open area of the tank and water depths; start above end.
    outlet_below_bottom_m : float
        How far the free outlet hangs below the tank's bottom.
    """
    if depth_end_m > depth_start_m:
        raise OutOfRange(f"depth_end_m is {depth_end_m:g} m, expected at most depth_start_m {depth_start_m:g} m")

    def minutes_per_metre(depth_m: float) -> float:
        flow = hose_flow_l_min(
            head_m=depth_m + outlet_below_bottom_m,
            inner_diameter_m=inner_diameter_m,
            length_m=length_m,
            minor_loss=minor_loss,
            temp_c=temp_c,
            roughness_m=roughness_m,
        )
        return plan_area_m2 * 1000 / flow

    return float(quad(minutes_per_metre, depth_end_m, depth_start_m)[0])


HIGHEST_SUMMIT_M = 7.0
"""Above the water, at sea level: beyond it a siphon breaks; science of siphons, from memory."""
KINKED = (0.6, 0.85, 1.0)
"""Flow of a hose with a bend too tight or weed in its strainer, against the clean one; from memory."""


def pumped_l_min(
    *,
    free_flow_l_min: float,
    shut_head_m: float,
    lift_m: float,
    inner_diameter_m: float,
    length_m: float,
    minor_loss: float,
    temp_c: float,
) -> float:
    """Flow of a pump with a known curve through a hose [L/min]; 0 where it does not lift so high.

    Parameters
    ----------
    free_flow_l_min, shut_head_m : float
        Its label: flow without lift, and the lift at which it only holds the water [more than 0].
    lift_m : float
        Outlet, or the water it ends under, above the water it stands in; below 0 the water helps.
    inner_diameter_m, length_m, minor_loss, temp_c : float
        As of ``hose_flow_l_min``.

    Notes
    -----
    Quadratic curve h = h0 (1 - (Q/Qmax)^2) against lift and friction; the only point where both agree.
    """
    if not (free_flow_l_min > 0 and shut_head_m > 0):
        raise OutOfRange("free_flow_l_min and shut_head_m must be more than 0: see the pump's label")
    if lift_m >= shut_head_m:
        return 0.0

    def surplus(flow_l_min: float) -> float:
        head = shut_head_m * (1 - (flow_l_min / free_flow_l_min) ** 2) - lift_m
        if head <= 1e-9:
            return -flow_l_min
        through = hose_flow_l_min(
            head_m=head,
            inner_diameter_m=inner_diameter_m,
            length_m=length_m,
            minor_loss=minor_loss,
            temp_c=temp_c,
        )
        return through - flow_l_min

    most = free_flow_l_min * sqrt(max(0.0, 1 - lift_m / shut_head_m)) if lift_m > 0 else 3 * free_flow_l_min
    return float(brentq(surplus, 1e-6 * free_flow_l_min, most))


def siphon_holds(*, summit_m: float, pressure_atm: float = 1.0) -> bool:
    """Whether a hose that rises so far above the water can siphon at all; it must be filled without air first."""
    return summit_m < HIGHEST_SUMMIT_M * pressure_atm


def with_band(minutes: float) -> tuple[float, float]:
    """Low and high minutes of running water, for a hose as hoses are."""
    low, typical, high = KINKED
    return minutes * typical / high, minutes * typical / low
