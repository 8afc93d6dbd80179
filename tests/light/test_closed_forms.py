"""Absorption, surfaces and view factors beside the rows of `references`, which `verify` computes: limits and refusals."""

from __future__ import annotations

from math import asin, degrees

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import dblquad

from slackwater.errors import OutOfRange
from slackwater.light import absorption, factors, surfaces


def test_the_bands_lose_together_what_was_asked_for_and_tint_takes_blue_first():
    for asked in (0.5, 2.0, 4.0):
        bands = absorption.attenuation_by_band_per_m(attenuation_per_m=asked)
        assert np.exp(-0.3 * bands).mean() == pytest.approx(np.exp(-0.3 * asked))
    assert (np.diff(bands[:4]) < 0).all()


def test_clear_water_takes_red_first():
    bands = absorption.attenuation_by_band_per_m(attenuation_per_m=0.0)
    # Pope and Fry: least near 420 nm, two orders of magnitude more at 700 nm.
    assert bands.argmax() == 5 and bands[5] / bands[0] > 50


@pytest.mark.parametrize("wavelength", [399.0, 701.0, float("nan")])
def test_absorption_beyond_the_table_is_refused(wavelength):
    with pytest.raises(OutOfRange, match="wavelength_nm"):
        absorption.pure_water_absorption_per_m(wavelength_nm=wavelength)


def test_water_mirrors_all_beyond_its_critical_angle():
    # Snell: asin(1/1.333) = 48.6 degrees, as any textbook prints.
    assert surfaces.critical_deg(n1=1.333, n2=1.0) == pytest.approx(48.6, abs=0.05)
    assert surfaces.surface_reflectance(incidence_deg=48.7, n1=1.333, n2=1.0) == 1
    assert surfaces.surface_reflectance(incidence_deg=48.5, n1=1.333, n2=1.0) < 1
    with pytest.raises(OutOfRange, match="critical"):
        surfaces.refracted_deg(incidence_deg=48.7, n1=1.333, n2=1.0)


def test_nothing_is_mirrored_where_brewster_says_for_one_polarisation():
    # Brewster: tan(angle) = n2/n1; the other polarisation alone is left, half of the light.
    angle = degrees(np.arctan(1.333))
    across = (
        (np.cos(np.radians(angle)) - 1.333 * np.cos(asin(np.sin(np.radians(angle)) / 1.333)))
        / (np.cos(np.radians(angle)) + 1.333 * np.cos(asin(np.sin(np.radians(angle)) / 1.333)))
    ) ** 2
    assert surfaces.surface_reflectance(incidence_deg=angle, n1=1, n2=1.333) == pytest.approx(across / 2)


def test_light_takes_the_same_way_back():
    there = surfaces.refracted_deg(incidence_deg=40, n1=1.0, n2=1.333)
    assert surfaces.refracted_deg(incidence_deg=there, n1=1.333, n2=1.0) == pytest.approx(40)
    mirrored = surfaces.surface_reflectance(incidence_deg=40, n1=1.0, n2=1.333)
    assert surfaces.surface_reflectance(incidence_deg=there, n1=1.333, n2=1.0) == pytest.approx(mirrored)


def test_a_pane_mirrors_at_least_what_its_outer_face_does_and_all_beyond_the_angle_of_water_and_air():
    cosine = np.linspace(0.01, 1, 200)
    pane = surfaces.pane_reflectance_of(cosine)
    assert (pane[cosine < np.cos(np.radians(48.7))] == 1).all()
    # Straight on: water to glass 0.43 %, glass to air 4.26 %, all passes to and fro 4.65 %.
    r1, r2 = (0.187 / 2.853) ** 2, (0.52 / 2.52) ** 2
    assert pane[-1] == pytest.approx(r1 + (1 - r1) ** 2 * r2 / (1 - r1 * r2))


def test_a_pane_of_no_glass_is_the_bare_surface():
    cosine = np.linspace(0.7, 1, 50)
    pane = surfaces.pane_reflectance_of(cosine, pane=surfaces.WATER)
    assert pane == pytest.approx(surfaces.reflectance_of(cosine, n1=surfaces.WATER, n2=surfaces.AIR))


@given(a=st.floats(0.1, 3), b=st.floats(0.1, 3), x=st.floats(-2, 2), y=st.floats(-2, 2), distance=st.floats(0.1, 3))
def test_view_factors_obey_reciprocity_and_lie_between_nothing_and_all(a, b, x, y, distance):
    one, other = (0.0, 0.0, a, b), (x, y, x + 1, y + 0.5)
    there = factors.rectangle_to_rectangle(one, other, distance=distance)
    back = factors.rectangle_to_rectangle(other, one, distance=distance)
    assert there * a * b == pytest.approx(back * 0.5, abs=1e-9)
    assert -1e-9 <= there <= 1


def test_a_point_sees_a_rectangle_as_quadrature_says():
    # Integral of cos^2 / (pi r^2) over the rectangle, by SciPy.
    exact, _ = dblquad(lambda v, u: 0.4**2 / (np.pi * ((u - 0.1) ** 2 + (v + 0.2) ** 2 + 0.4**2) ** 2), 0, 0.9, 0, 0.3)
    found = factors.point_to_rectangle(length=0.9, width=0.3, x=0.1, y=-0.2, distance=0.4)
    assert found == pytest.approx(exact, rel=1e-6)


def test_a_cavity_that_throws_all_back_is_refused():
    with pytest.raises(OutOfRange, match="albedo"):
        factors.even_light_in_cavity(flux=1, area=1, albedo=1.0)
