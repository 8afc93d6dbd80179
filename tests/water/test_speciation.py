"""Speciation: two known facts give the others back, charge and mass balance, two rules of the trade, edges."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.errors import Contradiction, OutOfRange
from slackwater.water.composition import CONSERVED, Water, draws_of, mix, with_acid, with_salt
from slackwater.water.salts import totals_per_mol
from slackwater.water.speciation import (
    alkalinity_from_co2,
    alkalinity_from_ph,
    alkalinity_from_ph_and_co2,
    conductivity_25c_us_cm,
    speciate,
    speciate_at_co2,
    speciate_at_pco2,
    speciate_at_ph,
)
from tests.water.waters import random_waters

amounts = st.floats(0, 3)


@st.composite
def waters(draw):
    """Possible waters, soft to hard, charge balanced by sodium or chloride, open to some carbon dioxide."""
    alkalinity = draw(st.one_of(st.floats(0, 0.1), st.floats(0, 8)))
    totals = {
        name: draw(amounts) for name in ("calcium_mmol_l", "magnesium_mmol_l", "potassium_mmol_l", "sulfate_mmol_l")
    }
    water = Water(
        **totals,
        sodium_mmol_l=0.1,
        chloride_mmol_l=0.1,
        ammonia_mmol_l=draw(st.floats(0, 0.35)),
        phosphate_mmol_l=draw(st.floats(0, 0.05)),
        alkalinity_meq_l=alkalinity,
        temp_c=draw(st.floats(5, 35)),
    )
    gap = water.charge_gap_meq_l
    water = replace(water, sodium_mmol_l=0.1 + max(0.0, -gap), chloride_mmol_l=0.1 + max(0.0, gap))
    return speciate_at_pco2(water, pco2_atm=10 ** draw(st.floats(-4, -1.5)))


@given(waters())
def test_any_two_facts_give_the_others_back(known):
    blank = replace(known.water, carbon_mmol_l=0.0)
    ways = [
        speciate(known.water),
        speciate_at_co2(blank, co2_mg_l=known.co2_mg_l),
        speciate_at_pco2(blank, pco2_atm=known.pco2_atm),
        alkalinity_from_ph(known.water, ph=known.ph),
        alkalinity_from_ph_and_co2(blank, ph=known.ph, co2_mg_l=known.co2_mg_l),
        alkalinity_from_co2(known.water, co2_mg_l=known.co2_mg_l),
    ]
    if known.water.alkalinity_meq_l > 0.3:
        ways.append(speciate_at_ph(blank, ph=known.ph))
    for found in ways:
        assert found.ph == pytest.approx(known.ph, abs=2e-5)
        assert found.co2_mmol_l == pytest.approx(known.co2_mmol_l, rel=1e-4)
        assert found.water.alkalinity_meq_l == pytest.approx(known.water.alkalinity_meq_l, abs=1e-6, rel=1e-4)
        assert found.water.carbon_mmol_l == pytest.approx(known.water.carbon_mmol_l, rel=1e-4)


@given(waters(), waters(), waters(), st.floats(0.01, 1), st.floats(0.01, 1), st.floats(0.01, 1))
def test_mixing_is_free_of_order_and_grouping_and_keeps_every_total(a, b, c, x, y, z):
    parts = [(x, a.water), (y, b.water), (z, c.water)]
    one = mix(parts)
    other = mix(parts[::-1])
    grouped = mix([(x + y, mix(parts[:2])), parts[2]])
    for name in CONSERVED:
        total = sum(amount * getattr(water, name) for amount, water in parts)
        assert getattr(one, name) * (x + y + z) == pytest.approx(total, rel=1e-12, abs=1e-15)
        assert getattr(other, name) == pytest.approx(getattr(one, name), rel=1e-12, abs=1e-15)
        assert getattr(grouped, name) == pytest.approx(getattr(one, name), rel=1e-9, abs=1e-15)
    assert one.charge_gap_meq_l == pytest.approx(0, abs=1e-5)


@given(waters(), st.floats(0.1, 10))
def test_a_mixture_of_a_water_with_itself_is_that_water(known, amount):
    found = speciate(mix([(amount, known.water), (1.0, known.water)]))
    assert found.ph == pytest.approx(speciate(known.water).ph, abs=1e-9)


@given(waters())
def test_the_forms_add_up_to_the_totals(known):
    # Free forms never exceed what there is, and carbon is at least what is free.
    free = known.co2_mmol_l + known.bicarbonate_mmol_l + known.carbonate_mmol_l
    assert 0 < free <= known.water.carbon_mmol_l * (1 + 1e-4)
    assert 0 <= known.ammonia_mmol_l <= known.water.ammonia_mmol_l


@given(waters(), st.floats(0.01, 2))
def test_acid_lowers_ph_and_base_undoes_it(known, acid):
    soured = with_acid(known.water, acid_meq_l=acid)
    assert speciate(soured).ph < known.ph
    back = with_acid(soured, acid_meq_l=-acid)
    assert back.alkalinity_meq_l == pytest.approx(known.water.alkalinity_meq_l, abs=1e-12)
    assert speciate(back).ph == pytest.approx(known.ph, abs=0.02)  # twice the salt is in it


# The two rules of the trade; activities shift them by a few hundredths, as in any real water.
@pytest.mark.parametrize("alkalinity", [0.5, 1.0, 2.0])
def test_ph_moves_0_30_per_doubling_of_kh_at_fixed_co2(alkalinity):
    def ph(meq):
        return speciate_at_co2(Water(sodium_mmol_l=meq, alkalinity_meq_l=meq), co2_mg_l=10).ph

    assert ph(2 * alkalinity) - ph(alkalinity) == pytest.approx(0.30, abs=0.015)


@pytest.mark.parametrize("co2", [2.5, 10.0, 40.0])
def test_ph_moves_0_30_per_halving_of_co2_at_fixed_kh(co2):
    water = Water(sodium_mmol_l=1.5, alkalinity_meq_l=1.5)
    lower, higher = speciate_at_co2(water, co2_mg_l=co2).ph, speciate_at_co2(water, co2_mg_l=co2 / 2).ph
    assert higher - lower == pytest.approx(0.301, abs=0.004)


def test_pure_water_in_room_air_has_the_ph_of_rain():
    # Textbook value for 420 ppm at 25 C: pH 5.6 (Stumm and Morgan, Aquatic Chemistry, from memory).
    assert speciate_at_pco2(Water(), pco2_atm=420e-6).ph == pytest.approx(5.6, abs=0.03)


def test_pure_water_without_carbon_is_neutral():
    # pKw 13.995 at 25 C.
    assert speciate(Water()).ph == pytest.approx(6.9975, abs=0.005)


# Molar conductivities of dilute salts, CRC Handbook of Chemistry and Physics (0.001 mol/L, 25 C, from memory): KCl
# 146.9 S cm2/mol; 0.01 mol/L KCl is the calibration standard of 1412 or 1413 uS/cm (Standard Methods 2510).
@pytest.mark.parametrize(("mmol_l", "us_cm"), [(1.0, 146.9), (10.0, 1412.0)])
def test_conductivity_of_potassium_chloride_standards(mmol_l, us_cm):
    water = speciate_at_pco2(Water(potassium_mmol_l=mmol_l, chloride_mmol_l=mmol_l), pco2_atm=1e-6).water
    assert conductivity_25c_us_cm(water) == pytest.approx(us_cm, rel=0.01)


def test_many_waters_are_solved_like_each_alone():
    sample = random_waters(np.random.default_rng(3), 40)
    together = speciate_at_pco2(sample.water, pco2_atm=sample.pco2_atm)
    for row in (0, 7, 25, 39):
        alone = speciate_at_pco2(draws_of(sample.water, row), pco2_atm=float(sample.pco2_atm[row]))
        assert alone.ph == pytest.approx(float(together.ph[row]), abs=1e-6)
        assert isinstance(alone.ph, float)


def test_very_soft_water_without_kh_works():
    found = speciate_at_pco2(Water(alkalinity_meq_l=0.0), pco2_atm=7e-4)
    assert 5.3 < found.ph < 5.6
    acid = speciate_at_pco2(Water(alkalinity_meq_l=-0.05, chloride_mmol_l=0.05), pco2_atm=7e-4)
    assert 4.2 < acid.ph < 4.5


def test_what_cannot_be_is_refused():
    with pytest.raises(OutOfRange, match="calcium_mmol_l"):
        speciate(Water(calcium_mmol_l=-1))
    with pytest.raises(OutOfRange, match="temp_c"):
        speciate(Water(temp_c=70))
    with pytest.raises(OutOfRange, match="fresh water"):
        speciate(Water(sodium_mmol_l=500, chloride_mmol_l=500))
    with pytest.raises(OutOfRange, match="carbon_mmol_l"):
        speciate(Water(carbon_mmol_l=float("nan")))
    with pytest.raises(Contradiction, match="measure KH and pH again"):
        speciate_at_ph(Water(alkalinity_meq_l=0.01), ph=10)
    with pytest.raises(OutOfRange, match="not all 0"):
        mix([(0.0, Water()), (0.0, Water())])
    with pytest.raises(OutOfRange, match="co2_mg_l"):
        speciate_at_co2(Water(), co2_mg_l=-1)


# Moles in a mole of salt, by its formula.
@pytest.mark.parametrize(
    ("formula", "expected"),
    [
        ("CaSO4.2H2O", {"Ca": 1, "SO4": 1}),
        ("MgCl2.6H2O", {"Mg": 1, "Cl": 2}),
        ("K2CO3", {"K": 2, "C": 1, "alkalinity": 2}),
        ("NaHCO3", {"Na": 1, "C": 1, "alkalinity": 1}),
        ("KH2PO4", {"K": 1, "PO4": 1}),
        ("K2HPO4", {"K": 2, "PO4": 1, "alkalinity": 1}),
        ("NH4Cl", {"TAN": 1, "Cl": 1}),
        ("KNO3", {"K": 1, "NO3": 1}),
    ],
)
def test_a_salt_gives_its_ions(formula, expected):
    assert {name: count for name, count in totals_per_mol(formula).items() if count} == expected
    salted = with_salt(Water(), formula=formula, mmol_l=0.5)
    assert salted.charge_gap_meq_l == pytest.approx(0)
