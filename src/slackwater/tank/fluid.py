"""What water weighs, how it flows and holds heat: fresh water between 0 and 40 C; tank and water both need it."""

from __future__ import annotations

from math import exp

from slackwater.errors import check_range


def density_kg_m3(*, temp_c: float) -> float:
    """Density at 1 atm [kg/m3], temp_c in [0, 40].

    References
    ----------
    Tanaka et al. (2001), Metrologia 38, 301-309, shortened form (from memory); within 0.01 % of IAPWS-95.
    """
    check_range("temp_c", temp_c, 0, 40, unit="°C")
    return 999.97 * (1 - (temp_c - 3.983035) ** 2 * (temp_c + 301.797) / (522528.9 * (temp_c + 69.34881)))


def viscosity_mpa_s(*, temp_c: float) -> float:
    """Dynamic viscosity [mPa s], temp_c in [0, 40].

    References
    ----------
    Form printed in the CRC Handbook of Chemistry and Physics (from memory); within 1 % of IAPWS R12-08.
    """
    check_range("temp_c", temp_c, 0, 40, unit="°C")
    return float(1.002 * 10 ** ((1.1709 * (20 - temp_c) - 0.001827 * (temp_c - 20) ** 2) / (temp_c + 89.93)))


def specific_heat_kj_kg_k(*, temp_c: float) -> float:
    """Heat capacity at 1 atm [kJ/(kg K)], temp_c in [0, 40].

    Notes
    -----
    Quadratic through the IAPWS-95 values at 0, 20 and 40 C (4.2199, 4.1844, 4.1796); within 0.1 % between.
    """
    check_range("temp_c", temp_c, 0, 40, unit="°C")
    return 4.2199 - 2.5425e-3 * temp_c + 3.8375e-5 * temp_c**2


def vapour_pressure_kpa(*, temp_c: float) -> float:
    """Saturation pressure over water [kPa], temp_c in [0, 40].

    References
    ----------
    Magnus form with the constants of Alduchov and Eskridge (1996), J. Appl. Meteorol. 35, 601-609 (from memory);
    without their enhancement for moist air.
    """
    check_range("temp_c", temp_c, 0, 40, unit="°C")
    return 0.61094 * exp(17.625 * temp_c / (temp_c + 243.04))
