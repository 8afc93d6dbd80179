"""Quantities as people write them, read and shown."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.errors import BadInput
from slackwater.units import convert, digits, read_quantity, show, show_about, spoken


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        # The inch is 25.4 mm and the pound 0.45359237 kg exactly (international yard and pound agreement, 1959).
        ("42 cm", "length_m", 0.42),
        ("16 1/2 in", "length_m", 0.4191),
        ("4 ft 2 in", "length_m", 1.27),
        ('16"', "length_m", 0.4064),
        ("42,5 cm", "length_m", 0.425),
        ("0,125 m", "length_m", 0.125),
        ("1200,125 mm", "length_m", 1.200125),
        ("10 lb", "mass_kg", 4.5359237),
        # The US gallon is 231 cubic inches exactly (NIST Handbook 44, Appendix C).
        ("1 gal", "volume_l", 3.785411784),
        ("76 F", "temp_c", 24.444444444444),
        ("-3 °C", "temp_c", -3.0),
        ("2.6 bar", "pressure_bar", 2.6),
        ("12 dGH", "hardness_dgh", 12.0),
        # DIN 38409-6: one degree is 10 mg/L CaO, so 17.848 mg/L CaCO3.
        ("178.48 mg/L CaCO3", "hardness_dgh", 10.0),
        ("560 µS/cm", "conductivity_us_cm", 560.0),
        ("4 weeks", "days", 28.0),
        ("1 h 30 min", "minutes", 90.0),
        ("5 kN/m²", "load_kn_m2", 5.0),
    ],
)
def test_reads_what_people_write(text, kind, value):
    assert read_quantity(text, kind) == pytest.approx(value, rel=2e-5, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "kind", "says"),
    [
        ("42", "length_m", "with its unit"),
        (42, "length_m", "in quotes"),
        ("42 kg", "length_m", "does not measure a length"),
        ("42 blobs", "length_m", "not a unit known here"),
        ("1,500 L", "volume_l", "1500 or 1.500"),
        ("nan cm", "length_m", "with its unit"),
        ("1e400 cm", "length_m", "finite"),
        ("1/0 in", "length_m", "not a number"),
        ("", "length_m", "with its unit"),
        ("5 bar 3 bar", "pressure_bar", "one number"),
        (True, "length_m", "with its unit"),
    ],
)
def test_refuses_what_cannot_be_meant_and_gives_an_example(text, kind, says):
    with pytest.raises(BadInput, match=says):
        read_quantity(text, kind)


@given(
    st.floats(min_value=0.01, max_value=1e4),
    st.sampled_from([("L", "gal"), ("cm", "in"), ("kg", "lb"), ("bar", "psi")]),
)
def test_a_conversion_and_back_gives_the_same_number(value, units):
    metric, us = units
    assert convert(convert(value, metric, us), us, metric) == pytest.approx(value, rel=1e-12)


@given(st.floats(min_value=1e-6, max_value=1e6))
def test_shown_digits_are_within_half_of_the_last_one(value):
    shown = float(digits(value))
    step = 10 ** (math.floor(math.log10(value)) - 2)
    assert abs(shown - value) <= max(0.5 * step, 0.5 if value >= 100 else 0) * (1 + 1e-9)


def test_shows_us_units_only_where_there_are_any():
    assert show(118.0, "cm", "us") == "46.5 in"
    assert show(24.5, "°C", "us") == "76.1 °F"
    assert show(2.0, "K", "us") == "3.6 °F"
    assert show(12.0, "dGH", "us") == "12 dGH"


@pytest.mark.parametrize(
    ("value", "unit", "metric", "us"),
    [
        (40.9, "min", "40 min", "40 min"),
        (13.2, "min", "10 min", "10 min"),
        (9.9, "min", "9 min", "9 min"),
        (128.8, "min", "2 h 5 min", "2 h 5 min"),
        (22 / 3, "h", "7 h 20 min", "7 h 20 min"),
        # 1 gal is 3.785 L, 1 fl oz 29.57 mL, 1 lb 0.4536 kg.
        (0.197, "L", "200 mL", "6.7 fl oz (200 mL)"),
        (7.11, "L", "7 L", "1.9 gal"),
        (12.5, "L", "12 L", "3.3 gal"),
        (346.0, "L", "350 L", "91 gal"),
        (1.5, "kg", "1.5 kg", "3.3 lb"),
        (0.188, "mg/L", "0.19 mg/L", "0.19 mg/L"),
    ],
)
def test_reckoned_figures_are_told_without_false_digits(value, unit, metric, us):
    assert (show_about(value, unit), show_about(value, unit, "us")) == (metric, us)


@given(st.floats(0, 5000))
def test_spans_are_never_told_longer_than_they_are(minutes):
    told = [int(part) for part in spoken(minutes).replace(" min", "").replace(" h", "").split()]
    hours, rest = (told[0], told[1]) if len(told) == 2 else (told[0], 0) if "h" in spoken(minutes) else (0, told[0])
    assert minutes - 5 < 60 * hours + rest <= minutes + 1e-4
